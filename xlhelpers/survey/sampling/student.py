"""Quantiles of Student's t for many degrees of freedom at once, without further packages."""

import math
from functools import lru_cache
from statistics import NormalDist

import numpy as np
from numpy.typing import ArrayLike

from xlhelpers.survey.quality.intervals import t_quantile
from xlhelpers.survey.setup_instruments import Values

# a whole number that sums of fractions left a little short is not cut to the one below
_ROUNDING = 1e-6
# from here on the series in 1 / degrees of freedom is good to 1e-10 and much quicker
_SERIES_FROM = 300


def t_multiplier(freedom: ArrayLike, confidence: float) -> Values:
    """Return how many standard errors a two-sided interval reaches to each side.

    Parameters
    ----------
    freedom : array_like
        Degrees of freedom; a fraction is cut off, which widens the interval.
    confidence : float
        Two-sided, above 0 and below 1.

    Returns
    -------
    ndarray
        Quantiles of Student's t; NaN where the degrees of freedom are missing or under 1.
    """
    whole = np.floor(np.atleast_1d(np.asarray(freedom, dtype=float)) + _ROUNDING)
    known = np.isfinite(whole) & (whole >= 1)
    different, place = np.unique(whole[known], return_inverse=True)
    found = np.array([_one(int(n), confidence) for n in different.tolist()], dtype=float)
    multipliers = np.full(whole.shape, np.nan)
    multipliers[known] = found[place]
    return multipliers


@lru_cache(maxsize=4096)
def _one(freedom: int, confidence: float) -> float:
    chance = 0.5 + confidence / 2
    if freedom < _SERIES_FROM:
        return t_quantile(chance, freedom)
    return _series(NormalDist().inv_cdf(chance), freedom)


def _series(z: float, freedom: int) -> float:
    """Expand the quantile about the normal one in powers of 1 / freedom (Fisher & Cornish)."""
    terms = (
        (z**3 + z) / 4,
        (5 * z**5 + 16 * z**3 + 3 * z) / 96,
        (3 * z**7 + 19 * z**5 + 17 * z**3 - 15 * z) / 384,
        (79 * z**9 + 776 * z**7 + 1482 * z**5 - 1920 * z**3 - 945 * z) / 92160,
    )
    return z + math.fsum(term / freedom ** (k + 1) for k, term in enumerate(terms))
