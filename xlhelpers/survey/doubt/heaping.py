"""Final digits of readings: do they crowd on 0 and 5, as rounded numbers do.

References
----------
WhippleUndated
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Counts = NDArray[np.int64]


def final_digits(values: ArrayLike, step: float) -> Counts:
    """Return how often each final digit 0 to 9 stands at the end of values.

    Parameters
    ----------
    values : array_like
        Values as typed, NaN where missing; signs do not matter.
    step : float
        Worth of the final digit in the unit of the values, such as 1 or 0.1.
    """
    size = np.abs(np.asarray(values, dtype=float))
    whole = np.round(size[np.isfinite(size)] / step).astype(np.int64)
    return np.bincount(whole % 10, minlength=10).astype(np.int64)


def whipple_index(counts: ArrayLike) -> float:
    """Return the index of digits 0 and 5: 100 where they are a fifth, 500 where they are all.

    Parameters
    ----------
    counts : array_like
        Counts of the digits 0 to 9.

    Returns
    -------
    float
        NaN without any.
    """
    count = np.asarray(counts, dtype=float)
    total = count.sum()
    return float(500 * (count[0] + count[5]) / total) if total else float("nan")


def half_sum_of_deviations(counts: ArrayLike) -> float:
    """Return half the sum of the digits' deviations from a tenth each, in percent of the values.

    Of blended counts it is the Myers index: 0 for none, 90 for all values on one digit.
    """
    count = np.asarray(counts, dtype=float)
    total = count.sum()
    return float(50 * np.abs(count / total - 0.1).sum()) if total else float("nan")


def blended_counts(values: ArrayLike, lowest: int, tens: int) -> NDArray[np.float64]:
    """Return Myers's blended counts of whole numbers, which no slope of the numbers upsets.

    Parameters
    ----------
    values : array_like of int
        Whole numbers.
    lowest : int
        First number that is counted, a multiple of ten.
    tens : int
        How many tens are counted; those from the second ten on end one ten later.

    Returns
    -------
    ndarray
        One figure a final digit: (digit + 1) times the numbers from its first ten on and
        (9 - digit) times those from its second ten on.
    """
    whole = np.asarray(values, dtype=np.int64)
    above = whole - lowest
    first, second = (
        np.bincount(above[(above >= start) & (above < start + 10 * tens)] % 10, minlength=10)
        for start in (0, 10)
    )
    digit = np.arange(10)
    return np.asarray((digit + 1) * first + (9 - digit) * second, dtype=float)


def digit_chi_square(counts: ArrayLike) -> float:
    """Return chi-square of the digits against a tenth each, nine degrees of freedom."""
    count = np.asarray(counts, dtype=float)
    usual = count.sum() / 10
    return float(((count - usual) ** 2).sum() / usual) if usual else float("nan")
