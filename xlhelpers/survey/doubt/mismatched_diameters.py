"""Diameters that stand on the lines of other trees: one column was sorted or pasted by itself.

Heights and crown widths are compared with what is usual for the diameters, as they stand and dealt
out anew many times. Diameters of the trees themselves fit far better than dealt ones; those of
other trees do not. Nothing is said where the trees are too few, or too alike in diameter, for
their own diameters to show: what these would show is tried on heights and widths made up from the
same curves.
"""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from xlhelpers.survey.checks.record import NO_HITS, Hits
from xlhelpers.survey.doubt.expected import HEIGHT, WIDTH
from xlhelpers.survey.doubt.reference import Curves, curves_for
from xlhelpers.survey.doubt.robust import Numbers
from xlhelpers.survey.doubt.weigh import Usual
from xlhelpers.survey.typed.folding import Flags, Positions, codes_of

# deals are enough for their mean and spread; trees beyond so many of a sheet add nothing
DEALS, MADE_UP, MOST_TREES = 60, 4, 1500
# no deviation counts for more spreads than this, so that mistakes do not decide
MOST_AWAY = 3.0
# a sorted column keeps a little of the order of the lines, so many trees may fit a little; what
# fits by so many spreads is never other trees'
SHARE_BY_CHANCE, SURELY_OWN = 0.2, 8.0
# a column moved by one line fits as well as at least this share of what is wanted
SHARE_OF_WANTED = 0.5


@dataclass(frozen=True)
class Mismatch:
    """A sheet whose diameters go with other trees.

    `fit` and `wanted` are in standard deviations of dealt diameters: how much better the diameters
    fit than dealt ones, and how much better a tree's own would. `moved` is 1 where the diameters
    fit the trees one line above, -1 one below, 0 neither.
    """

    sheet: str
    lines: Positions
    trees: int
    fit: float
    wanted: float
    moved: int


@dataclass(frozen=True)
class _Sizes:
    """Trees in the order of their lines: diameters (cm), and ln height and ln width."""

    curves: Curves
    diameter: Numbers
    logs: dict[str, Numbers]

    def badness(self, diameter: Numbers, logs: Mapping[str, Numbers]) -> float:
        """Return how far the trees are from what is usual for some diameters, squared and cut."""
        x, of, total = self.curves.position(diameter), self.curves.of, 0.0
        for quantity, seen in logs.items():
            a, b, c = (of[f"{quantity}_{part}"] for part in "abc")
            away = (seen - a - b * x - c * x * x) / of[f"{quantity}_spread"]
            away = away[np.isfinite(away)]
            if len(away):
                total += float((np.clip(away - np.median(away), -MOST_AWAY, MOST_AWAY) ** 2).sum())
        return total

    def made_up(self, random: np.random.Generator) -> dict[str, Numbers]:
        """Return heights and widths as they would be if each diameter were the tree's own."""
        x, of, found = self.curves.position(self.diameter), self.curves.of, {}
        for quantity, seen in self.logs.items():
            a, b, c = (of[f"{quantity}_{part}"] for part in "abc")
            usual = a + b * x + c * x * x + of[f"{quantity}_spread"] * random.normal(size=len(x))
            found[quantity] = np.where(np.isfinite(seen), usual, np.nan)
        return found


def find_mismatched_diameters(usual: Usual, limits: Mapping[str, float]) -> tuple[Mismatch, ...]:
    """Return the sheets on which the diameters stand on the lines of other trees.

    Parameters
    ----------
    usual : Usual
        All lines as keyed.
    limits : mapping
        Looked at are `strangers_fit` and `strangers_wanted`.
    """
    sheets = usual.survey.lines["_sheet"].to_numpy(dtype=object)
    tree = usual.setups["tree_position"].to_numpy(dtype=np.int64)
    code = codes_of(sheets)
    first = np.unique(tree, return_index=True)[1]
    found = []
    for at in range(int(code.max()) + 1 if len(code) else 0):
        own = first[code[first] == at]
        here = _take_sizes(usual.trees.iloc[tree[np.sort(own)]], usual.table)
        told = _fits(here, limits)
        if told is not None:
            lines = np.flatnonzero(code == at)
            found.append(Mismatch(str(sheets[lines[0]]), lines, len(here.diameter), *told))
    return tuple(found)


def _take_sizes(trees: pd.DataFrame, table: pd.DataFrame) -> _Sizes:
    stem = trees["largest_stem"].to_numpy(dtype=float)
    sizes = {
        quantity: trees[column].to_numpy(dtype=float)
        for quantity, column in ((HEIGHT, "total_height"), (WIDTH, "mean_width"))
    }
    known = (stem > 0) & ((sizes[HEIGHT] > 0) | (sizes[WIDTH] > 0))
    at = np.flatnonzero(known)[:MOST_TREES]
    with np.errstate(all="ignore"):
        logs = {q: np.log(np.where(size > 0, size, np.nan))[at] for q, size in sizes.items()}
    return _Sizes(curves_for(trees.iloc[at], table), stem[at], logs)


@dataclass(frozen=True)
class _Dealt:
    """How bad diameters dealt out by chance are: mean and spread."""

    mean: float
    spread: float

    def better(self, badness: float) -> float:
        """Return by how many spreads something fits better."""
        return (self.mean - badness) / self.spread if self.spread > 0 else 0.0


def _deal(seen: _Sizes, logs: Mapping[str, Numbers], orders: list[Positions]) -> _Dealt:
    found = np.array([seen.badness(seen.diameter[order], logs) for order in orders])
    return _Dealt(float(found.mean()), float(found.std()))


def _fits(seen: _Sizes, limits: Mapping[str, float]) -> tuple[float, float, int] | None:
    """Return fit, what is wanted, and the move of `Mismatch`; None where all is well."""
    count = len(seen.diameter)
    random = np.random.default_rng(count)
    orders = [random.permutation(count) for _ in range(DEALS)]
    dealt = _deal(seen, seen.logs, orders)
    fit = dealt.better(seen.badness(seen.diameter, seen.logs))
    if not dealt.spread > 0 or fit >= max(limits["strangers_fit"], SURELY_OWN):
        return None
    made_up = [seen.made_up(random) for _ in range(MADE_UP)]
    shown = [
        _deal(seen, logs, orders).better(seen.badness(seen.diameter, logs)) for logs in made_up
    ]
    wanted = float(np.mean(shown))
    most = max(limits["strangers_fit"], SHARE_BY_CHANCE * wanted)
    if wanted < limits["strangers_wanted"] or fit >= most:
        return None
    fits = {
        move: dealt.better(seen.badness(np.roll(seen.diameter, -move), seen.logs))
        for move in (1, -1)
    }
    moved = max(fits, key=lambda move: fits[move])
    return fit, wanted, moved if fits[moved] >= SHARE_OF_WANTED * wanted else 0


def mismatch_hits(usual: Usual, found: tuple[Mismatch, ...]) -> Hits:
    """Return the hits of the check on diameters of other trees, one a sheet."""
    if not found:
        return NO_HITS
    diameter = usual.survey.lines["diameter"].to_numpy(dtype=float)
    held = [hashlib.sha256(diameter[one.lines].astype("<f4").tobytes()) for one in found]
    return Hits(
        np.arange(len(found)),
        {
            "sheet": [one.sheet for one in found],
            "count": [one.trees for one in found],
            "moved": [_MOVED[one.moved] for one in found],
        },
        lines=[tuple(one.lines.tolist()) for one in found],
        subjects=[(("sheet", one.sheet),) for one in found],
        evidence=[(f"diameters {digest.hexdigest()[:16]}",) for digest in held],
    )


_MOVED = {
    0: "",
    1: " They fit if each is moved one line up.",
    -1: " They fit if each is moved one line down.",
}


def mark_mismatched_lines(found: tuple[Mismatch, ...], count: int) -> Flags:
    """Return which of so many lines stand on such a sheet."""
    mask = np.zeros(count, dtype=bool)
    for one in found:
        mask[one.lines] = True
    return mask
