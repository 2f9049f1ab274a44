"""Robust straight lines and spreads of many groups at once.

Every observation gets the weight of a Student t likelihood (three degrees of freedom), so that
the mistakes among them hardly pull the line. Spreads are median deviations.
"""

import numpy as np
from numpy.typing import NDArray

from xlhelpers.survey.typed.folding import Positions

Numbers = NDArray[np.float64]
FREEDOM = 3.0
STEPS = 5
# makes a median deviation the standard deviation of normal errors
TO_STANDARD_DEVIATION = 1 / 0.6745
# a spread that is smaller would call the rounding of a reading a mistake
LEAST_SPREAD = 0.01


def group_medians(values: Numbers, group: Positions, count: int) -> Numbers:
    """Return the median of each group, NaN for an empty one."""
    known = ~np.isnan(values)
    values, group = values[known], group[known]
    if count == 1 and len(values):
        return np.array([np.median(values)])
    order = np.argsort(values)
    # small numbers are sorted by their digits, in a third of the time
    small = group[order].astype(np.uint16 if count <= 2**16 else np.int64)
    in_order = values[order[np.argsort(small, kind="stable")]]
    sizes = np.bincount(group, minlength=count)
    filled = np.flatnonzero(sizes)
    first, size = (np.cumsum(sizes) - sizes)[filled], sizes[filled]
    medians = np.full(count, np.nan)
    medians[filled] = (in_order[first + (size - 1) // 2] + in_order[first + size // 2]) / 2
    return medians


def group_lines(
    x: Numbers, y: Numbers, group: Positions, count: int, hold: float = np.inf
) -> tuple[Numbers, Numbers]:
    """Fit y = level + rise x in every group.

    Parameters
    ----------
    x, y : ndarray
        Observations, all finite.
    group : ndarray of int
        Group of each, 0 to count - 1.
    count : int
        Number of groups.
    hold : float
        How many observations of unit spread in x hold the rise at nothing; infinite: none is
        fitted.

    Returns
    -------
    (ndarray, ndarray)
        Level at x = 0 and rise of each group; 0 where a group is empty.
    """
    level, rise, _ = _fit_groups(x, y, group, count, hold)
    empty = np.bincount(group, minlength=count) == 0
    return np.where(empty, 0.0, level), np.where(empty, 0.0, rise)


def _fit_groups(
    x: Numbers, y: Numbers, group: Positions, count: int, hold: float
) -> tuple[Numbers, Numbers, Numbers]:
    """Return level and rise of each group and the weight of each observation."""
    level = np.nan_to_num(group_medians(y, group, count))
    rise, weight = np.zeros(count), np.ones(len(x))
    for _ in range(STEPS):
        left = y - level[group] - rise[group] * x
        spread = np.maximum(group_medians(np.abs(left), group, count), LEAST_SPREAD)
        scaled = left / (TO_STANDARD_DEVIATION * spread[group])
        weight = 1 / (1 + scaled**2 / FREEDOM)
        total = np.maximum(np.bincount(group, weight, count), 1e-9)
        mean_x = np.bincount(group, weight * x, count) / total
        mean_y = np.bincount(group, weight * y, count) / total
        if np.isfinite(hold):
            away = x - mean_x[group]
            rise = np.bincount(group, weight * away * y, count) / (
                np.bincount(group, weight * away**2, count) + hold
            )
        level = mean_y - rise * mean_x
    return level, rise, weight


def lines_of_others(
    x: Numbers, y: Numbers, group: Positions, count: int, hold: float = np.inf
) -> tuple[Numbers, Numbers]:
    """Fit y = level + rise x for every observation to the others of its group.

    Parameters
    ----------
    x, y, group, count, hold : as in `group_lines`
        The observations.

    Returns
    -------
    (ndarray, ndarray)
        Level at x = 0 and rise for each observation; 0 where there is no other.
    """
    # what an observation adds is taken out of the last step's sums; the others keep their weights
    weight = _fit_groups(x, y, group, count, hold)[2]

    def of_others(part: Numbers) -> Numbers:
        return np.asarray(np.bincount(group, part, count)[group] - part)

    total = of_others(weight)
    alone = np.bincount(group, minlength=count)[group] < 2
    total = np.where(alone, 1.0, np.maximum(total, 1e-9))
    mean_x, mean_y = of_others(weight * x) / total, of_others(weight * y) / total
    rise = np.zeros(len(x))
    if np.isfinite(hold):
        square = np.maximum(of_others(weight * x * x) - total * mean_x**2, 0.0)
        both = of_others(weight * x * y) - total * mean_x * mean_y
        rise = both / (square + hold)
    level = mean_y - rise * mean_x
    return np.where(alone, 0.0, level), np.where(alone, 0.0, rise)


def group_spreads(left: Numbers, group: Positions, count: int) -> Numbers:
    """Return the robust standard deviation about nothing of each group, NaN for an empty one."""
    return TO_STANDARD_DEVIATION * group_medians(np.abs(left), group, count)
