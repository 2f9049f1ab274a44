"""Outliers in short lists of values, by the usual statistics.

References
----------
IglewiczHoaglin1993, NistSematechUndated, DixonDean1951
"""

from math import sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

from xlhelpers.survey.quality.intervals import t_quantile

Numbers = NDArray[np.float64]

# a median deviation of so much is one standard deviation of normal values
MEDIAN_DEVIATION = 0.6745


def modified_z(values: ArrayLike) -> Numbers:
    """Return 0.6745 times the deviation from the median over the median deviation.

    Above 3.5 in size a value is usually called an outlier.
    """
    x = np.asarray(values, dtype=float)
    away = x - np.median(x)
    with np.errstate(all="ignore"):
        return np.asarray(MEDIAN_DEVIATION * away / np.median(np.abs(away)))


def grubbs(values: ArrayLike) -> float:
    """Return the largest deviation from the mean in standard deviations (n - 1)."""
    x = np.asarray(values, dtype=float)
    return float(np.max(np.abs(x - x.mean())) / x.std(ddof=1))


def grubbs_critical(count: int, level: float = 0.05, sides: int = 2) -> float:
    """Return what `grubbs` exceeds by chance with the probability `level`.

    Parameters
    ----------
    count : int
        Number of values, three at least.
    level : float
        Probability, 0 to 1.
    sides : int
        1 if only high (or only low) values are looked for, otherwise 2.
    """
    square = t_quantile(1 - level / (sides * count), count - 2) ** 2
    return (count - 1) / sqrt(count) * sqrt(square / (count - 2 + square))


def dixon_q(values: ArrayLike) -> float:
    """Return the gap beside the more remote end over the range of all values."""
    x = np.sort(np.asarray(values, dtype=float))
    return float(max(x[1] - x[0], x[-1] - x[-2]) / (x[-1] - x[0]))
