"""Diameters that are on the lines of other trees: one column was sorted or pasted by itself.

Heights and crown widths are compared with what is usual for the diameters, as they are and
shuffled many times. Diameters of the trees themselves fit far better than shuffled ones; those of
other trees do not. There is no finding where the trees are too few, or too alike in diameter, for
their own diameters to show: what these would show is tried on heights and widths made up from the
same curves.
"""

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd

from xlhelpers.survey.checks.record import Hits
from xlhelpers.survey.doubt.expected import HEIGHT, WIDTH
from xlhelpers.survey.doubt.reference import Curves, curves_for
from xlhelpers.survey.doubt.robust import Numbers
from xlhelpers.survey.doubt.weigh import Usual
from xlhelpers.survey.typed.folding import Flags, Positions, codes_of

# shuffles are enough for their mean and spread; trees beyond so many of a sheet add nothing
SHUFFLES, MADE_UP, MOST_TREES = 60, 4, 1500
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

    `moved` is 1 where the diameters fit the trees one line above, -1 one below, 0 neither.
    """

    sheet: str
    lines: Positions
    trees: int
    moved: int


@dataclass(frozen=True)
class _Sizes:
    """Trees in the order of their lines: diameters (cm), and ln height and ln width."""

    curves: Curves
    diameter: Numbers
    logs: Mapping[str, Numbers]

    def misfit(self, diameter: Numbers) -> float:
        """Return how far the trees are from what is usual for some diameters, squared and cut."""
        total = 0.0
        for quantity, seen in self.logs.items():
            away = (seen - self._usual(quantity, diameter)) / self.curves.of[f"{quantity}_spread"]
            away = away[np.isfinite(away)]
            if len(away):
                total += float((np.clip(away - np.median(away), -MOST_AWAY, MOST_AWAY) ** 2).sum())
        return total

    def make_up(self, random: np.random.Generator) -> "_Sizes":
        """Return heights and widths as they would be if each diameter were the tree's own."""
        logs = {}
        for quantity, seen in self.logs.items():
            chance = random.normal(size=len(seen))
            usual = self._usual(quantity, self.diameter)
            usual = usual + self.curves.of[f"{quantity}_spread"] * chance
            logs[quantity] = np.where(np.isfinite(seen), usual, np.nan)
        return replace(self, logs=logs)

    def _usual(self, quantity: str, diameter: Numbers) -> Numbers:
        x = self.curves.position(diameter)
        a, b, c = (self.curves.of[f"{quantity}_{part}"] for part in "abc")
        return np.asarray(a + b * x + c * x * x)


def find_mismatched_diameters(usual: Usual, limits: Mapping[str, float]) -> tuple[Mismatch, ...]:
    """Return the sheets on which the diameters are on the lines of other trees.

    Parameters
    ----------
    usual : Usual
        All lines as entered.
    limits : mapping
        Used are `strangers_fit` and `strangers_wanted`.
    """
    sheets = usual.survey.lines["_sheet"].to_numpy(dtype=object)
    tree = usual.setups["tree_position"].to_numpy(dtype=np.int64)
    code = codes_of(sheets)
    first = np.unique(tree, return_index=True)[1]
    mismatches = []
    for at in range(int(code.max()) + 1 if len(code) else 0):
        own = first[code[first] == at]
        sizes = _take_sizes(usual.trees.iloc[tree[np.sort(own)]], usual.table)
        moved = _find_move(sizes, limits)
        if moved is not None:
            lines = np.flatnonzero(code == at)
            mismatches.append(Mismatch(str(sheets[lines[0]]), lines, len(sizes.diameter), moved))
    return tuple(mismatches)


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


def _compare_fit(sizes: _Sizes, shuffled: list[Numbers], diameter: Numbers) -> float:
    """Return by how many standard deviations of shuffled diameters some others fit better."""
    misfits = np.array([sizes.misfit(each) for each in shuffled])
    spread = float(misfits.std())
    return float((misfits.mean() - sizes.misfit(diameter)) / spread) if spread > 0 else 0.0


def _find_move(sizes: _Sizes, limits: Mapping[str, float]) -> int | None:
    """Return the move of `Mismatch`; None where the diameters are the trees' own."""
    random = np.random.default_rng(len(sizes.diameter))
    shuffled = [sizes.diameter[random.permutation(len(sizes.diameter))] for _ in range(SHUFFLES)]
    fit = _compare_fit(sizes, shuffled, sizes.diameter)
    if fit >= max(limits["strangers_fit"], SURELY_OWN):
        return None
    made_up = [sizes.make_up(random) for _ in range(MADE_UP)]
    wanted = float(np.mean([_compare_fit(each, shuffled, sizes.diameter) for each in made_up]))
    most = max(limits["strangers_fit"], SHARE_BY_CHANCE * wanted)
    if wanted < limits["strangers_wanted"] or fit >= most:
        return None
    fits = {move: _compare_fit(sizes, shuffled, np.roll(sizes.diameter, -move)) for move in (1, -1)}
    moved = max(fits, key=lambda move: fits[move])
    return moved if fits[moved] >= SHARE_OF_WANTED * wanted else 0


def mismatch_hits(usual: Usual, mismatches: tuple[Mismatch, ...]) -> Hits:
    """Return the hits of the check on diameters of other trees, one a sheet."""
    diameter = usual.survey.lines["diameter"].to_numpy(dtype=float).astype("<f4")
    digests = [hashlib.sha256(diameter[one.lines].tobytes()).hexdigest() for one in mismatches]
    return Hits(
        np.arange(len(mismatches)),
        {
            "sheet": [one.sheet for one in mismatches],
            "count": [one.trees for one in mismatches],
            "moved": [_MOVED[one.moved] for one in mismatches],
        },
        lines=[tuple(one.lines.tolist()) for one in mismatches],
        subjects=[(("sheet", one.sheet),) for one in mismatches],
        evidence=[(f"diameters {digest[:16]}",) for digest in digests],
    )


_MOVED = {
    0: "",
    1: " They fit if each is moved one line up.",
    -1: " They fit if each is moved one line down.",
}


def mark_mismatched_lines(mismatches: tuple[Mismatch, ...], count: int) -> Flags:
    """Return which of so many lines are on such a sheet."""
    mask = np.zeros(count, dtype=bool)
    for one in mismatches:
        mask[one.lines] = True
    return mask
