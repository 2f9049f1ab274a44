"""Heights by similar triangles: a stick or ruler held out at arm's length."""

import numpy as np
from numpy.typing import ArrayLike

from xlhelpers.measure.arrays import Numbers, arrays, result

__all__ = [
    "height_by_stick",
]


@np.errstate(all="ignore")
def height_by_stick(stick_length: ArrayLike, arm_length: ArrayLike, distance: ArrayLike) -> Numbers:
    """Height of a tree that fills a length of a stick held upright.

    distance × stick / arm. Assumes level ground, an upright stick and a tree whose foot and tip
    are seen at the two ends of the length. Known bias: a stick tilted toward the eye overstates
    the height; on a slope along the ground the distance must run from the eye to the foot.

    Parameters
    ----------
    stick_length : array_like
        Length of stick that the tree fills [any length unit, > 0].
    arm_length : array_like
        Eye to stick [unit of ``stick_length``, > 0].
    distance : array_like
        Eye to tree [any length unit, > 0].

    Returns
    -------
    float or ndarray
        Height [unit of ``distance``]; NaN where an input is missing or not positive.

    References
    ----------
    IowaUndated, ruler at 25 inches
    WoodlandStewardshipUndated, chapter 2
    NewJerseyUndated, stick as long as the arm
    """
    stick, arm, away = arrays(stick_length, arm_length, distance)
    return result(away * stick / arm, (stick > 0) & (arm > 0) & (away > 0))
