"""Agreement of two measurements of the same trees: bias, spread, limits of agreement.

The method is that of Bland and Altman (1986): differences of pairs, their mean and standard
deviation, limits of agreement, and confidence limits of all three.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from xlhelpers.survey.quality.intervals import CONFIDENCE, t_quantile

# 95 of 100 differences of a normal distribution lie within so many standard deviations
MULTIPLIER = 1.96
Limits = tuple[float, float]


@dataclass(frozen=True)
class Agreement:
    """What the differences of pairs say, in their unit; NaN where there are too few.

    `bias` is the mean difference, `sd` their standard deviation (n - 1), `rmse` the root of their
    mean square; `lower` and `upper` are the limits of agreement; each `..._limits` are 95 %
    confidence limits.
    """

    n: int
    bias: float
    sd: float
    rmse: float
    lower: float
    upper: float
    bias_limits: Limits
    lower_limits: Limits
    upper_limits: Limits


def agreement(differences: ArrayLike, multiplier: float = MULTIPLIER) -> Agreement:
    """Return the agreement of pairs.

    Parameters
    ----------
    differences : array
        First minus second measurement of each pair; NaN where a pair is not complete.
    multiplier : float
        Standard deviations from the bias to the limits of agreement; 1.96 (Bland and Altman's
        own example takes 2).

    Returns
    -------
    Agreement
        From one pair on a bias, from two on the rest.

    References
    ----------
    BlandAltman1986
    """
    values = np.asarray(differences, dtype=float)
    values = values[np.isfinite(values)]
    n = len(values)
    nothing = (math.nan, math.nan)
    if n == 0:
        return Agreement(0, *(math.nan,) * 5, nothing, nothing, nothing)
    bias, rmse = float(values.mean()), float(np.sqrt(np.mean(values**2)))
    if n == 1:
        return Agreement(1, bias, math.nan, rmse, math.nan, math.nan, nothing, nothing, nothing)
    sd = float(values.std(ddof=1))
    t = t_quantile(0.5 + CONFIDENCE / 2, n - 1)
    of_bias, of_limit = t * sd / math.sqrt(n), t * sd * math.sqrt(3 / n)
    lower, upper = bias - multiplier * sd, bias + multiplier * sd
    return Agreement(
        n, bias, sd, rmse, lower, upper,
        (bias - of_bias, bias + of_bias),
        (lower - of_limit, lower + of_limit),
        (upper - of_limit, upper + of_limit),
    )  # fmt: skip
