"""Confidence limits, Student's t, and how often intervals called 95 % hold the truth.

Wilson's limits are those of Wilson (1927), the exact ones those of Clopper and Pearson (1934).

Student's t supposes sums by plot that spread evenly about their mean. Trees do not: few plots
hold many. The shares here were measured with `python -m tests.simulation.town_intervals`.

References
----------
Wilson1927, ClopperPearson1934; tested against Newcombe1998
"""

import math
from collections.abc import Callable
from functools import lru_cache
from statistics import NormalDist
from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from xlhelpers.survey.setups.instruments import Values

CONFIDENCE = 0.95
_STEPS = 60


def wilson(count: int, of: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Return Wilson's confidence limits of a share.

    Parameters
    ----------
    count : int
        How many of them, 0 to `of`.
    of : int
        How many there are.
    confidence : float
        Two-sided, above 0 and below 1.

    Returns
    -------
    tuple of float
        Lower and upper limit; NaN where `of` is 0.
    """
    if of <= 0:
        return math.nan, math.nan
    z = NormalDist().inv_cdf(0.5 + confidence / 2)
    share = count / of
    middle = (share + z * z / (2 * of)) / (1 + z * z / of)
    half = z * math.sqrt(share * (1 - share) / of + z * z / (4 * of * of)) / (1 + z * z / of)
    return (0.0 if count == 0 else middle - half), (1.0 if count == of else middle + half)


def clopper_pearson(count: int, of: int, confidence: float = CONFIDENCE) -> tuple[float, float]:
    """Return the exact confidence limits of a share; arguments as for `wilson`."""
    if of <= 0:
        return math.nan, math.nan
    tail = (1 - confidence) / 2
    lower = 0.0 if count == 0 else exact_limit(count, of, tail, is_lower=True)
    upper = 1.0 if count == of else exact_limit(count, of, tail, is_lower=False)
    return lower, upper


def exact_limit(count: int, of: int, tail: float, *, is_lower: bool) -> float:
    """Return the share at which so many or more (for the upper limit: or fewer) have chance `tail`.

    Parameters
    ----------
    count, of : int
        So many of so many, `of` at least 1.
    tail : float
        Chance beyond the limit, on this side alone.
    is_lower : bool
        Whether the lower limit is wanted.
    """
    if is_lower:
        if count == 0:
            return 0.0
        return _bisect(lambda share: 1 - binomial_cdf(count - 1, of, share) < tail)
    if count == of:
        return 1.0
    return _bisect(lambda share: binomial_cdf(count, of, share) > tail)


def binomial_cdf(count: int, of: int, share: float) -> float:
    """Return the chance of at most `count` of `of` when each has the chance `share`."""
    if count >= of or share <= 0:
        return 1.0
    if count < 0 or share >= 1:
        return 0.0
    if count > of // 2 + 1:  # the other tail has fewer terms
        return max(0.0, 1 - binomial_cdf(of - count - 1, of, 1 - share))
    log_p, log_q = math.log(share), math.log1p(-share)
    head = math.lgamma(of + 1)
    return min(
        1.0,
        math.fsum(
            math.exp(
                head - math.lgamma(k + 1) - math.lgamma(of - k + 1) + k * log_p + (of - k) * log_q
            )
            for k in range(count + 1)
        ),
    )


def t_quantile(chance: float, freedom: int) -> float:
    """Return the quantile of Student's t.

    Parameters
    ----------
    chance : float
        Above 0 and below 1.
    freedom : int
        Degrees of freedom, at least 1.
    """
    if chance < 0.5:
        return -t_quantile(1 - chance, freedom)
    high = 2.0
    while t_cdf(high, freedom) < chance:
        high *= 2
    return high * _bisect(lambda part: t_cdf(part * high, freedom) < chance)


def t_cdf(value: float, freedom: int) -> float:
    """Return the distribution function of Student's t for whole degrees of freedom.

    The finite sums over powers of the cosine of arctan(t / sqrt(freedom)).
    """
    angle = math.atan(value / math.sqrt(freedom))
    cosine, term, total = math.cos(angle), 1.0, 0.0
    if freedom % 2:
        power = cosine
        for k in range(1, freedom - 1, 2):
            total += term * power
            term, power = term * (k + 1) / (k + 2), power * cosine * cosine
        inside = 2 / math.pi * (angle + math.sin(angle) * total)
    else:
        power = 1.0
        for k in range(0, freedom - 1, 2):
            total += term * power
            term, power = term * (k + 1) / (k + 2), power * cosine * cosine
        inside = math.sin(angle) * total
    return 0.5 + inside / 2


def _bisect(is_below: Callable[[float], bool]) -> float:
    """Return where, from 0 to 1, a condition that holds below ends."""
    low, high = 0.0, 1.0
    for _ in range(_STEPS):
        middle = (low + high) / 2
        if is_below(middle):
            low = middle
        else:
            high = middle
    return (low + high) / 2


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
    factors = np.array([_one(int(n), confidence) for n in different.tolist()], dtype=float)
    multipliers = np.full(whole.shape, np.nan)
    multipliers[known] = factors[place]
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


class Cover(NamedTuple):
    """What intervals did in trials: the shares with the truth in them, above it, and below it.

    Each is the worst of several quantities and towns, so the three need not add up to 1.
    """

    inside: float
    above: float
    below: float


# plots: what limits called 95 % of totals, means and shares did in 20,000 surveys of each of three
# towns
MEASURED: dict[int, tuple[Cover, Cover, Cover]] = {
    5: (Cover(0.95, 0.03, 0.03), Cover(0.95, 0.01, 0.05), Cover(0.89, 0.11, 0.02)),
    8: (Cover(0.93, 0.03, 0.04), Cover(0.93, 0.01, 0.06), Cover(0.92, 0.08, 0.03)),
    10: (Cover(0.92, 0.03, 0.05), Cover(0.93, 0.01, 0.07), Cover(0.92, 0.08, 0.03)),
    15: (Cover(0.90, 0.04, 0.06), Cover(0.92, 0.01, 0.08), Cover(0.94, 0.06, 0.05)),
    20: (Cover(0.89, 0.04, 0.07), Cover(0.92, 0.02, 0.08), Cover(0.92, 0.04, 0.06)),
    30: (Cover(0.90, 0.04, 0.07), Cover(0.92, 0.02, 0.08), Cover(0.93, 0.03, 0.05)),
    60: (Cover(0.91, 0.03, 0.06), Cover(0.93, 0.02, 0.06), Cover(0.93, 0.03, 0.05)),
    120: (Cover(0.92, 0.03, 0.05), Cover(0.94, 0.02, 0.05), Cover(0.93, 0.03, 0.05)),
}
OF = ("total", "mean", "share")
STATED_CONFIDENCE = 0.95
# what is found on fewer plots is an order of magnitude: the worst of totals and shares
FEW_PLOTS, BY_FEW = 5, Cover(0.73, 0.20, 0.27)
# from this share on limits are said to hold what they are called
AS_GOOD_AS = 0.93


def interval_cover(plots: int, confidence: float, of: str) -> Cover:
    """Return what intervals did in trials, between the numbers of plots that were tried.

    Parameters
    ----------
    plots : int
        Number of plots behind the interval.
    confidence : float
        The stated confidence; only 0.95 was tried.
    of : str
        One of OF: a total or a value by area, a mean, a share.

    Returns
    -------
    Cover
        NaN for fewer plots than were tried, and at another confidence. For more plots than were
        tried, the shares of the largest number tried.
    """
    tried = sorted(MEASURED)
    if confidence != STATED_CONFIDENCE or plots < tried[0]:
        return Cover(math.nan, math.nan, math.nan)
    each = zip(*(MEASURED[n][OF.index(of)] for n in tried), strict=True)
    return Cover(*(float(np.interp(plots, tried, shares)) for shares in each))
