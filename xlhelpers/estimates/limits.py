"""Confidence limits of an estimate from its standard error, by what is estimated.

A mean has limits at equal distances. Totals and shares have not: a total is never below 0, a
share never below 0 or above 1, and few plots hold many of the trees. Such limits are worked out on
another scale and taken back, so their two ends lie at unequal distances.

Totals are worked out as logarithms, as is usual for the numbers of animals (Buckland et al. 2001).
There the standard error of the logarithm is the root of ln(1 + cv2); here it is the coefficient of
variation cv itself, which is a little larger. That alone still left most of the misses above the
upper end in simulated towns. Sums of trees vary about as a gamma distribution does, whose skewness
is twice its coefficient of variation. At two standard errors the first term of the correction of t
for skewness (Johnson 1978) then asks, beyond what the logarithm does, for one more standard error
of the logarithm, squared: the middle of the limits is moved up by that. `tests/simulation` shows
what comes of it.

Shares are worked out as logits (Lumley, undated, method xlogit).
"""

from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from xlhelpers.estimates.intervals import t_multiplier
from xlhelpers.survey.setups.instruments import Values

# log: totals of what is never negative; logit: shares; cover: 1 - exp(-c) of a total c
Scale = Literal["plain", "log", "logit", "cover"]


def limits(
    value: ArrayLike,
    error: ArrayLike,
    freedom: ArrayLike,
    confidence: float,
    scale: Scale = "plain",
) -> tuple[Values, Values]:
    """Return the lower and the upper confidence limit of estimates.

    Parameters
    ----------
    value : array_like
        Estimates; above 0 on the scale "log", above 0 and below 1 on "logit" and "cover".
    error : array_like
        Their standard errors, in the same unit.
    freedom : array_like
        Their degrees of freedom.
    confidence : float
        Two-sided, above 0 and below 1.
    scale : {"plain", "log", "logit", "cover"}
        On which the limits are at equal distances.

    Returns
    -------
    tuple of ndarray
        NaN where the error or the degrees of freedom are missing. Where the error is 0, both are
        the value.

    References
    ----------
    BucklandOthers2001, Johnson1978, LumleyUndated
    """
    middle, spread = np.asarray(value, dtype=float), np.asarray(error, dtype=float)
    t = t_multiplier(freedom, confidence)
    with np.errstate(all="ignore"):
        if scale == "log":
            low, high = _of_total(middle, spread, t)
        elif scale == "cover":
            open_ground = 1 - middle
            ends = _of_total(-np.log(open_ground), spread / open_ground, t)
            low, high = (-np.expm1(-end) for end in ends)
        elif scale == "logit":
            odds, reach = np.log(middle / (1 - middle)), t * spread / (middle * (1 - middle))
            low, high = (1 / (1 + np.exp(-end)) for end in (odds - reach, odds + reach))
        else:
            low, high = middle - t * spread, middle + t * spread
    exact = spread == 0
    return np.where(exact, middle, low), np.where(exact, middle, high)


def _of_total(value: Values, error: Values, t: Values) -> tuple[Values, Values]:
    share = error / value
    # an error so large that the lower end would pass the value comes from no sample of plots
    down = np.minimum(share**2 - t * share, 0.0)
    return value * np.exp(down), value * np.exp(share**2 + t * share)


def half_width(error: ArrayLike, freedom: ArrayLike, confidence: float) -> Values:
    """Return half the distance between the limits of totals, as a fraction of the total.

    Parameters
    ----------
    error : array_like
        Standard errors as fractions of the totals.
    freedom, confidence
        As for `limits`.

    Returns
    -------
    ndarray
        0 without an error, infinite where it is beyond all numbers.
    """
    low, high = limits(np.ones_like(np.atleast_1d(error)), error, freedom, confidence, "log")
    return np.asarray((high - low) / 2)
