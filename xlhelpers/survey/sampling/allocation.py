"""How many of the plots go to each stratum: by size, by what varies, by what a plot costs."""

from typing import Literal, get_args

import numpy as np
from numpy.typing import ArrayLike, NDArray

Numbers = NDArray[np.float64]
Counts = NDArray[np.int64]
Way = Literal["proportional", "optimal", "costs"]
WAYS: tuple[Way, ...] = get_args(Way)
WAY_WORDS: dict[Way, str] = {
    "proportional": "in proportion to the size of the strata",
    "optimal": "in proportion to size times standard deviation",
    "costs": "in proportion to size times standard deviation, over the root of a plot's cost",
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
