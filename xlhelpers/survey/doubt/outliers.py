"""Outliers and agreement in short lists of values, by the usual statistics.

References
----------
IglewiczHoaglin1993, BlandAltman1986
"""

from dataclasses import dataclass
from math import exp, lgamma, pi, sqrt

import numpy as np
from numpy.typing import ArrayLike, NDArray

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
    square = student_quantile(1 - level / (sides * count), count - 2) ** 2
    return (count - 1) / sqrt(count) * sqrt(square / (count - 2 + square))


def dixon_q(values: ArrayLike) -> float:
    """Return the gap beside the more remote end over the range of all values."""
    x = np.sort(np.asarray(values, dtype=float))
    return float(max(x[1] - x[0], x[-1] - x[-2]) / (x[-1] - x[0]))


@dataclass(frozen=True)
class Agreement:
    """Mean and standard deviation of the differences of pairs, and the limits of agreement."""

    mean: float
    deviation: float
    low: float
    high: float


def agreement(first: ArrayLike, second: ArrayLike, deviations: float = 1.96) -> Agreement:
    """Return how two measurements of the same things agree."""
    apart = np.asarray(first, dtype=float) - np.asarray(second, dtype=float)
    mean, spread = float(apart.mean()), float(apart.std(ddof=1))
    return Agreement(mean, spread, mean - deviations * spread, mean + deviations * spread)


def student_quantile(probability: float, freedom: int) -> float:
    """Return the quantile of Student's t above the median, by bisection of its integral."""
    low, high = 0.0, 1.0
    while _student_above_median(high, freedom) < probability - 0.5:
        low, high = high, 2 * high
    for _ in range(80):
        middle = (low + high) / 2
        below = _student_above_median(middle, freedom) < probability - 0.5
        low, high = (middle, high) if below else (low, middle)
    return (low + high) / 2


_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(200)


def _student_above_median(value: float, freedom: int) -> float:
    """Integrate the density from 0 to a value, over the angle whose tangent is t / sqrt(n)."""
    constant = exp(lgamma((freedom + 1) / 2) - lgamma(freedom / 2)) / sqrt(pi)
    end = np.arctan(value / sqrt(freedom))
    angle = (_NODES + 1) / 2 * end
    return float(constant * end / 2 * (_WEIGHTS * np.cos(angle) ** (freedom - 1)).sum())
