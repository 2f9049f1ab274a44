"""How many plots a margin needs, and how they are divided among the strata.

A margin is half the width of the confidence interval of a total, as a fraction of that total; the
report shows the same. It is that of simple random or stratified random plots. Student's t depends
on the number of plots that is looked for, so the smallest number is taken that keeps its own
promise. The margin that a survey will have depends on its plots: the number expected to keep a
margin keeps it in about half of such surveys (Kupper & Hafner 1989). Where few plots hold many of
the trees, the variation found in a sample varies more than that of normal values does; the number
for nine in ten surveys allows for that.
"""

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

from xlhelpers.estimates.limits import half_width

Numbers = NDArray[np.float64]
Counts = NDArray[np.int64]
Way = Literal["proportional", "optimal", "costs"]
WAYS: tuple[Way, ...] = get_args(Way)
WAY_WORDS: dict[Way, str] = {
    "proportional": "by area alone",
    "optimal": "by area and variation",
    "costs": "by area, variation and cost",
}
# with fewer plots in a stratum its variation, and so any margin, stays unknown
LEAST = 2
_STEPS = 200


def shares(way: Way, sizes: ArrayLike, deviations: ArrayLike, costs: ArrayLike = 1.0) -> Numbers:
    """Return the share of the plots that each stratum gets.

    Parameters
    ----------
    way : {"proportional", "optimal", "costs"}
        By size; by size times standard deviation (the least margin for a number of plots); by
        that over the root of the cost of one plot (the least margin for a sum of costs).
    sizes : array
        Areas or numbers of plots possible, all of one kind, above 0.
    deviations : array
        Standard deviations of plot values, 0 or more.
    costs : array
        Cost of one plot, in any unit, above 0; used by "costs" alone.

    Returns
    -------
    ndarray
        Fractions that add up to 1; where no stratum varies, by size.

    References
    ----------
    Cochran1977, TimberCruisingUndated
    """
    size = np.asarray(sizes, dtype=float)
    weight = size * np.asarray(deviations, dtype=float)
    if way == "costs":
        weight = weight / np.sqrt(np.broadcast_to(np.asarray(costs, dtype=float), size.shape))
    if way == "proportional" or not weight.sum() > 0:
        weight = size
    return np.asarray(weight / weight.sum())


def whole_plots(
    total: int, parts: ArrayLike, possible: ArrayLike = np.inf, least: ArrayLike = LEAST
) -> Counts:
    """Return whole numbers of plots by stratum that add up to a total.

    Parameters
    ----------
    total : int
        All plots; raised to what `least` asks for, lowered to what is possible.
    parts : array
        Shares of the strata, as `shares` gives them.
    possible : array
        Plots that each stratum could hold; infinite where unknown.
    least : int or array
        Fewest plots of a stratum, as far as it can hold them.

    Returns
    -------
    ndarray of int
        Bounded shares of the total; what is left after rounding down goes to the largest rests.
    """
    part = np.maximum(np.asarray(parts, dtype=float), 1e-9)
    upper = np.floor(np.broadcast_to(np.asarray(possible, dtype=float), part.shape))
    lower = np.minimum(np.broadcast_to(np.asarray(least, dtype=float), part.shape), upper)
    total = int(min(max(total, lower.sum()), upper.sum()))
    low, high = 0.0, total / float(part.min()) + 1.0
    for _ in range(_STEPS):  # the scale at which the bounded shares add up to the total
        middle = (low + high) / 2
        if np.clip(middle * part, lower, upper).sum() < total:
            low = middle
        else:
            high = middle
    exact = np.clip(high * part, lower, upper)
    whole = np.floor(exact + 1e-6)
    rest = np.where(whole < upper, exact - whole, -1.0)
    missing = max(total - int(whole.sum()), 0)
    whole[np.argsort(-rest, kind="stable")[:missing]] += 1
    return np.asarray(whole, dtype=np.int64)


MOST_PLOTS = 1_000_000


@dataclass(frozen=True)
class StrataFigures:
    """What is known of the strata before more plots are measured; one entry a stratum.

    `sizes` are areas or numbers of plots possible, all of one kind; `means` and `deviations`
    those of plot values per unit of area, in one unit; `possible` the plots that a stratum could
    hold, infinite where unknown; `costs` those of one plot; `with_trees` the share of the plots
    that have any trees. Without strata there is one entry.
    """

    names: tuple[str, ...]
    sizes: Numbers
    means: Numbers
    deviations: Numbers
    possible: Numbers
    costs: Numbers
    with_trees: ArrayLike = 1.0

    @property
    def weights(self) -> Numbers:
        """Return the share of each stratum in the whole."""
        return np.asarray(self.sizes / self.sizes.sum())

    @property
    def mean(self) -> float:
        """Return the mean of the whole."""
        return float(self.weights @ self.means)

    def shares(self, way: Way) -> Numbers:
        """Return the share of the plots of each stratum."""
        return shares(way, self.sizes, self.deviations, self.costs)

    def whole_plots(self, total: int, way: Way) -> Counts:
        """Return whole numbers of plots by stratum."""
        return whole_plots(total, self.shares(way), self.possible)


def whole_town(variation: float, possible: float = math.inf) -> StrataFigures:
    """Return the figures of a town without strata, where only the variation is known.

    Parameters
    ----------
    variation : float
        Coefficient of variation of plot values, a fraction.
    possible : float
        Plots that the town could hold.
    """
    one = np.ones(1)
    return StrataFigures(("whole town",), one, one, one * variation, one * possible, one)


def margin_of(
    figures: StrataFigures, counts: Counts, confidence: float = 0.95, chance: float | None = None
) -> float:
    """Return the margin that so many plots give, as a fraction of the total.

    Parameters
    ----------
    figures : StrataFigures
        The strata.
    counts : array of int
        Plots by stratum.
    confidence : float
        Above 0 and below 1.
    chance : float, optional
        Share of such surveys that have this margin or a smaller one, above 0 and below 1. Without
        it, the margin with the variation expected.

    Returns
    -------
    float
        Half the width of the interval, with Satterthwaite's degrees of freedom, and at most the
        plots with trees less one; 0 where all plots possible are measured; NaN where a stratum
        that is not measured whole has fewer than two plots, or the mean is not above 0; infinite
        where it is beyond all numbers.
    """
    few = (counts < LEAST) & (counts < np.floor(figures.possible))
    left = np.clip(1 - counts / figures.possible, 0.0, 1.0)
    if few.any() or not figures.mean > 0:
        return math.nan
    parts = (figures.weights * figures.deviations) ** 2 * left / np.maximum(counts, 1)
    variance = float(parts.sum())
    if variance == 0:
        return 0.0
    freedom = variance**2 / float((parts**2 / np.maximum(counts - 1, 1)).sum())
    # a whole number that rounding left a little short is not cut to the one below
    with_trees = float((counts * np.asarray(figures.with_trees)).sum()) - 1
    freedom = max(min(freedom, with_trees) + 1e-9, 1.0)
    error = math.sqrt(variance) / figures.mean
    if chance is not None:
        known = max(freedom / (1 + _squared_variation(figures, parts)), 1.0)
        error *= math.sqrt(_chi_square(chance, known) / known)
    return float(half_width(error, freedom, confidence)[0])


def _squared_variation(figures: StrataFigures, parts: Numbers) -> float:
    """Return the squared variation of plot values, of strata by their part in the variance.

    Of normal values the standard deviation is known to 1 / (2 n), as a relative variance. Sums of
    trees are skewed. Where they spread as a gamma distribution does, with a variation v, standard
    deviation over mean is known to (1 + v2) / (2 n): by the delta method from its moments, with a
    skewness of 2 v and an excess of 6 v2.
    """
    with np.errstate(all="ignore"):
        squares = np.where(figures.means > 0, (figures.deviations / figures.means) ** 2, 0.0)
    return float(parts @ squares / parts.sum())


def _chi_square(chance: float, freedom: float) -> float:
    """Return a quantile of chi-square, after Wilson & Hilferty (1931)."""
    part = 2 / (9 * freedom)
    root = 1 - part + NormalDist().inv_cdf(chance) * math.sqrt(part)
    return freedom * max(root, 0.0) ** 3


def plots_needed(
    figures: StrataFigures,
    margin: float,
    confidence: float = 0.95,
    way: Way = "proportional",
    chance: float | None = None,
) -> Counts | None:
    """Return the fewest plots, by stratum, whose margin is the wanted one or smaller.

    Parameters
    ----------
    figures : StrataFigures
        The strata.
    margin : float
        Wanted margin, a fraction of the mean, above 0.
    confidence : float
        Above 0 and below 1.
    way : str
        How plots are allocated to strata.
    chance : float, optional
        Share of such surveys that are to keep the margin, as for `margin_of`.

    Returns
    -------
    ndarray of int or None
        At least two a stratum; None where the mean is not above 0, or where a million plots are
        not enough and the plots possible are unknown.
    """
    lowest = len(figures.names) * LEAST
    highest = int(min(np.floor(figures.possible).sum(), MOST_PLOTS))

    def keeps(total: int) -> bool:
        return margin_of(figures, figures.whole_plots(total, way), confidence, chance) <= margin

    if not keeps(highest):
        return None
    low, high = min(lowest, highest), highest
    while low < high:
        middle = (low + high) // 2
        if keeps(middle):
            high = middle
        else:
            low = middle + 1
    # whole plots do not fall evenly: a little below, one number may keep the promise too
    for total in range(max(lowest, low - len(figures.names) - 1), low):
        if keeps(total):
            return figures.whole_plots(total, way)
    return figures.whole_plots(low, way)
