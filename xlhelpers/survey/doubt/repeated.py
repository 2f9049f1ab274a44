"""What trees measured from several places show about the instruments.

An instrument that reads an angle e too high adds D (sec2 a - sec2 b) e to a height, so the set-ups
of one tree come out apart as their distances do; the angle is what all of them share. A display
that is out of calibration, or a scale or tape that is not what it is taken for, makes the heights
by one instrument a factor of those by another on the same trees.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import product

import numpy as np
import pandas as pd

from xlhelpers.survey.checks.record import Hits
from xlhelpers.survey.doubt.patterns import SURE, is_zero_error, zero_hits
from xlhelpers.survey.doubt.robust import FREEDOM, STEPS, TO_STANDARD_DEVIATION, Numbers
from xlhelpers.survey.doubt.weigh import Usual
from xlhelpers.survey.instrument_history import tip_changes
from xlhelpers.survey.typed.folding import Flags, Positions, codes_of

# set-ups of a tree are never known to agree better than this share of the height
LEAST_SCATTER = 0.01
# so far from right an instrument may be at all, degrees: holds what the trees say nothing of
WIDEST = 2.0
FEWEST_TREES = 8
# instruments that differ by less than this share are not worth a word
LEAST_FACTOR = 0.03
# the median of normal values is a quarter less sure than their mean
MEDIAN_LESS_SURE = 1.25


def find_by_repeats(usual: Usual) -> tuple[tuple[str, Hits], ...]:
    """Return what the repeats show: the id of each check, with its hits."""
    return (
        ("instrument-zero-by-repeats", zero_by_repeats(usual)),
        ("instruments-differ", instruments_differ(usual)),
    )


def _with_repeats(usual: Usual) -> Flags:
    """Return the lines of trees that have a height from two set-ups at the least."""
    tree = usual.setups["tree_position"].to_numpy(dtype=np.int64)
    known = (usual.seen.total > 0) & (tree >= 0)
    number = np.bincount(tree[known], minlength=len(usual.trees))
    return np.asarray(known & (number[tree] > 1))


def compute_zeros(usual: Usual) -> tuple[Positions, Numbers, Numbers, Numbers]:
    """Return the zero error of each instrument that the repeats tell of.

    Returns
    -------
    (ndarray of int, ndarray, ndarray, ndarray)
        The instruments (positions), their zero errors and standard uncertainties [degrees], and
        how many trees each was read on.
    """
    change = tip_changes(usual.survey, usual.setups, 1.0)
    position = usual.setups["instrument_position"].to_numpy(dtype=np.int64)
    lines = np.flatnonzero(_with_repeats(usual) & np.isfinite(change) & (position >= 0))
    tree = usual.setups["tree_position"].to_numpy(dtype=np.int64)[lines]
    lines = lines[np.bincount(tree)[tree] > 1] if len(lines) else lines
    own = np.unique(position[lines])
    if len(lines) < 2 * FEWEST_TREES:
        return own[:0], np.empty(0), np.empty(0), np.empty(0)
    tree = codes_of(usual.setups["tree_position"].to_numpy(dtype=np.int64)[lines])
    count = np.bincount(tree)
    mean = np.bincount(tree, usual.seen.total[lines]) / count

    def within(column: Numbers) -> Numbers:
        share = column / mean[tree]
        return np.asarray(share - (np.bincount(tree, share) / count)[tree])

    apart = within(usual.seen.total[lines])
    levers, trees = _build_levers(
        tree, np.searchsorted(own, position[lines]), change[lines] / mean[tree]
    )
    zero, u = _solve_zeros(apart, levers, len(lines) / (len(lines) - len(count)))
    return own, zero, u, trees.astype(np.float64)


@dataclass(frozen=True)
class Levers:
    """What an error of each of `count` instruments adds to each line; 0 but for a few.

    One row a line and one column a place among the instruments of its tree: which instrument, and
    how much it adds beyond what it adds to the tree on average.
    """

    instrument: Positions
    adds: Numbers
    count: int

    def add_up(self, zero: Numbers) -> Numbers:
        """Return what errors of the instruments add to the lines."""
        return np.asarray((self.adds * zero[self.instrument]).sum(axis=1))

    def of_instruments(self, values: Numbers) -> Numbers:
        """Return the sum over the lines for each instrument."""
        products = (self.adds * values[:, None]).ravel()
        return np.asarray(np.bincount(self.instrument.ravel(), products, self.count), dtype=float)

    def square(self, weight: Numbers) -> Numbers:
        """Return the weighted sums of products, instrument by instrument."""
        total = np.zeros(self.count**2)
        for one, other in product(range(self.adds.shape[1]), repeat=2):
            cell = self.instrument[:, one] * self.count + self.instrument[:, other]
            both = weight * self.adds[:, one] * self.adds[:, other]
            total += np.bincount(cell, both, self.count**2)
        return total.reshape(self.count, self.count)


def _build_levers(
    tree: Positions, instrument: Positions, change: Numbers
) -> tuple[Levers, Positions]:
    """Return the levers of lines, and how many trees each instrument was read on."""
    count = int(instrument.max()) + 1
    pairs, pair = np.unique(tree * count + instrument, return_inverse=True)
    of_tree, own = pairs // count, pairs % count
    number = np.bincount(tree)
    mean = np.bincount(pair, change) / number[of_tree]
    # the place of each instrument of a tree among those of the tree
    first = np.searchsorted(of_tree, np.arange(len(number)))
    place = np.arange(len(pairs)) - first[of_tree]
    shape = (len(number), int(place.max()) + 1)
    instruments, means = np.zeros(shape, dtype=np.int64), np.zeros(shape)
    instruments[of_tree, place], means[of_tree, place] = own, mean
    adds = -means[tree]
    adds[np.arange(len(tree)), place[pair]] += change
    return Levers(instruments[tree], adds, count), np.bincount(own, minlength=count)


def _solve_zeros(apart: Numbers, levers: Levers, freed: float) -> tuple[Numbers, Numbers]:
    """Return the errors that explain what is apart, and their uncertainty."""
    # `freed` makes up for the mean that each tree was given.
    zero = np.zeros(levers.count)
    for _ in range(STEPS):
        left = apart - levers.add_up(zero)
        scatter = TO_STANDARD_DEVIATION * float(np.median(np.abs(left))) * np.sqrt(freed)
        scatter = max(scatter, LEAST_SCATTER)
        weight = (FREEDOM + 1) / (FREEDOM + (left / scatter) ** 2)
        square = levers.square(weight) + np.eye(len(zero)) * (scatter / WIDEST) ** 2
        zero = np.linalg.solve(square, levers.of_instruments(weight * apart))
    return zero, scatter * np.sqrt(np.diag(np.linalg.inv(square)))


def zero_by_repeats(usual: Usual) -> Hits:
    """Instruments on whose repeats a zero error shows that is more than usual for them."""
    own, zero, u, trees = compute_zeros(usual)
    usually = usual.ways.instruments.accuracy["u_zero"][own]
    at = np.flatnonzero(is_zero_error(zero, u, usually) & (trees >= FEWEST_TREES))
    evidence = [f"zero {zero[i]:.2f} from {trees[i]:.0f} trees" for i in at]
    return zero_hits(own[at], zero[at], u[at], trees[at], evidence)


def instruments_differ(usual: Usual) -> Hits:
    """Pairs of instruments whose heights of the same trees differ by more than chance."""
    names = usual.survey.instruments["instrument"].to_numpy(dtype=object)
    differences = []
    for pair, apart in _compare_on_same_trees(usual):
        middle = float(np.median(apart))
        scatter = TO_STANDARD_DEVIATION * float(np.median(np.abs(apart - middle)))
        u = MEDIAN_LESS_SURE * max(scatter, LEAST_SCATTER) / float(np.sqrt(len(apart)))
        if abs(middle) > SURE * u and abs(middle) > LEAST_FACTOR:
            share = f"{100 * np.expm1(abs(middle)):.0f} %"
            differences.append((pair if middle > 0 else pair[::-1], len(apart), share, u))
    return Hits(
        np.array([high for (high, _), *_ in differences], dtype=np.int64),
        {
            "one": [str(names[high]) for (high, _), *_ in differences],
            "other": [str(names[low]) for (_, low), *_ in differences],
            "count": [count for _, count, *_ in differences],
            "share": [share for *_, share, _ in differences],
            "u": [f"{100 * u:.1f} %" for *_, u in differences],
        },
        subjects=[
            (("instruments", " and ".join(str(names[own]) for own in sorted(pair))),)
            for pair, *_ in differences
        ],
        evidence=[(f"{share} on {count} trees",) for _, count, share, _ in differences],
    )


def _compare_on_same_trees(usual: Usual) -> Iterator[tuple[tuple[int, int], Numbers]]:
    """Go through the pairs of instruments with enough trees in common."""
    # Each comes with the logarithms of the first one's mean height over the other's, a tree each.
    position = usual.setups["instrument_position"].to_numpy(dtype=np.int64)
    lines = np.flatnonzero(_with_repeats(usual) & (position >= 0))
    heights = pd.Series(usual.seen.total[lines])
    tree = usual.setups["tree_position"].to_numpy(dtype=np.int64)[lines]
    mean = heights.groupby([tree, position[lines]]).mean()
    trees, own = mean.index.get_level_values(0), mean.index.get_level_values(1)
    one = pd.DataFrame({"tree": trees, "one": own, "height": mean.to_numpy()})
    other = pd.DataFrame({"tree": trees, "other": own, "beside": mean.to_numpy()})
    pairs = one.merge(other, on="tree")
    pairs = pairs[pairs["one"] < pairs["other"]]
    for _, group in pairs.groupby(["one", "other"]):
        if len(group) >= FEWEST_TREES:
            apart = np.log(group["height"].to_numpy(float) / group["beside"].to_numpy(float))
            yield (int(group["one"].iloc[0]), int(group["other"].iloc[0])), apart
