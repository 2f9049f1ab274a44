"""Heights where the distance to the tree cannot be measured: two stations on one line."""

import numpy as np
from numpy.typing import ArrayLike

from xlhelpers.measure.arrays import Numbers, arrays, result

__all__ = [
    "SMALLEST_DIFFERENCE",
    "height_above_eye",
]
SMALLEST_DIFFERENCE = 8.0
"""Degrees between the two angles below which no height is given: common practice, no source."""


@np.errstate(all="ignore")
def height_above_eye(near_angle: ArrayLike, far_angle: ArrayLike, spacing: ArrayLike) -> Numbers:
    """Height of a point above the eye from two angles at stations in line with the tree.

    d tan a tan b / (tan a - tan b). Assumes the eye at one level at both stations and stations
    and stem on one line. The height from the foot to the eye must be added. The error grows
    fast as the angles draw together, hence the limit of 8 degrees; a spacing of 6 to 9 m
    (20 to 30 ft) or more is advised.

    Parameters
    ----------
    near_angle, far_angle : array_like
        Angles to the same point from the nearer and the farther station [degrees], of one sign,
        between -90 and 90, the nearer one at least 8 degrees the steeper.
    spacing : array_like
        Level distance between the stations [any length unit, > 0].

    Returns
    -------
    float or ndarray
        Point above (+) or below (-) the eye [unit of ``spacing``]; NaN where an input is
        missing or impossible, or the angles differ by less than 8 degrees.

    References
    ----------
    NativeTreeSocietyUndated, measuring problems, number 10
    """
    near, far, apart = arrays(near_angle, far_angle, spacing)
    steep, flat = np.tan(np.radians(near)), np.tan(np.radians(far))
    possible = (
        (np.abs(near) < 90)
        & (near * far > 0)
        & (np.abs(near) - np.abs(far) >= SMALLEST_DIFFERENCE)
        & (apart > 0)
    )
    return result(apart * steep * flat / (steep - flat), possible)
