"""Leaf area of open-grown broadleaved crowns, by one published regression.

The five coefficients, the term for the logarithm's bias and the ranges were taken from second-hand
reproductions that agree with each other; the paper itself was not read. Of the terms in use, the
+0.1159 that is reproduced most widely is taken here. Half of it, as the theory of the lognormal
would ask for if 0.1159 is the mean square error, gives areas 5.6 % smaller, no term 10.9 %.
"""

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from xlhelpers.measure.arrays import Numbers, arrays, result

__all__ = [
    "COEFFICIENTS",
    "VALID_RANGES",
    "leaf_area",
]
COEFFICIENTS: Mapping[str, float] = MappingProxyType(
    {
        "intercept": -4.3309,
        "depth": 0.2942,
        "width": 0.7312,
        "shading": 5.7217,
        "surface": -0.0148,
        "logarithm": 0.1159,
    }
)
"""ln(leaf area) = intercept + depth H + width D + shading S + surface C + logarithm,
with C = pi D (H + D) / 2."""
VALID_RANGES: Mapping[str, tuple[float, float]] = MappingProxyType(
    {
        "depth": (1.0, 12.0),
        "width": (1.0, 14.0),
        "depth over width": (0.5, 2.0),
        "shading": (0.67, 0.88),
    }
)
"""Smallest and largest crown depth (m), width (m), their ratio, and shading factor."""


@np.errstate(all="ignore")
def leaf_area(depth: ArrayLike, width: ArrayLike, shading: ArrayLike) -> Numbers:
    """Leaf area, one side, of an open-grown broadleaved crown.

    Fitted on 10 to 14 open-grown trees of each of five species, and of doubtful worth for others,
    for street trees that were pruned, and for single trees; sums inherit its bias. The logarithm's
    bias is met by the term +0.1159 (see the module).

    Parameters
    ----------
    depth : array_like
        Crown depth [m, 1 to 12].
    width : array_like
        Crown width [m, 1 to 14]; depth over width 0.5 to 2.
    shading : array_like
        Shading factor, the share of light that the crown stops [fraction, 0.67 to 0.88].

    Returns
    -------
    float or ndarray
        Leaf area [m2]; NaN where an input is missing or outside the range of the regression.

    Raises
    ------
    ReadingError
        If the shapes do not fit together.

    References
    ----------
    Nowak1996, as reproduced second-hand

    Examples
    --------
    >>> round(leaf_area(5, 5, 0.83), 2)
    89.89
    """
    high, wide, shade = arrays(depth, width, shading)
    by = COEFFICIENTS
    surface = np.pi * wide * (high + wide) / 2
    logarithm = (
        by["intercept"]
        + by["depth"] * high
        + by["width"] * wide
        + by["shading"] * shade
        + by["surface"] * surface
        + by["logarithm"]
    )
    possible: np.bool_ | np.ndarray = np.bool_(True)
    looked_at = (high, wide, high / wide, shade)
    for values, (least, most) in zip(looked_at, VALID_RANGES.values(), strict=True):
        possible = possible & (values >= least) & (values <= most)
    return result(np.exp(logarithm), possible)
