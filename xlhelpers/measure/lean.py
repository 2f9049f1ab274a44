"""Heights on leaning stems, and what the near edge of a broad crown can do.

The offset is the level distance of the plumb point under the tip from the foot, along the line of
sight, + toward the observer. A stem is taken as straight: its offset grows in proportion to
height and is nothing at the foot.
"""

import numpy as np
from numpy.typing import ArrayLike

from xlhelpers.measure.arrays import Numbers, arrays, result

__all__ = [
    "height_on_lean",
    "near_edge_bound",
    "tip_height",
]
"""A sideways offset of this share of the distance makes the distance 1.0 % too short."""


@np.errstate(all="ignore")
def tip_height(
    distance: ArrayLike, tip_slope: ArrayLike, foot_slope: ArrayLike, offset: ArrayLike
) -> Numbers:
    """Vertical height of a leaning tip above the foot.

    (D - o) t_tip - D t_foot. Assumes that the plumb point under the tip was found. Without it a
    stem of 20 m that leans 10 degrees, seen from 20 m, is 21 % too high leaning toward the
    observer and 15 % too low leaning away.

    Parameters
    ----------
    distance : array_like
        Level distance to the foot's centre [any length unit, > 0].
    tip_slope, foot_slope : array_like
        Slopes to the tip and to the foot [fraction], any sign.
    offset : array_like
        Plumb point of the tip from the foot [unit of ``distance``], + toward the observer,
        less than the distance.

    Returns
    -------
    float or ndarray
        Height [unit of ``distance``]; NaN where an input is missing or impossible.

    References
    ----------
    BrackWood1998, page HEIGHT3 (direction of the error, plumb point)
    """
    level, tip, foot, toward = arrays(distance, tip_slope, foot_slope, offset)
    # the same as (D - o) t_tip - D t_foot, written so that no offset gives the plain height exactly
    return result(level * (tip - foot) - toward * tip, (level > 0) & (toward < level))


@np.errstate(all="ignore")
def height_on_lean(
    distance: ArrayLike,
    point_slope: ArrayLike,
    foot_slope: ArrayLike,
    offset: ArrayLike,
    tip_height: ArrayLike,
) -> Numbers:
    """Vertical height of another point of a leaning stem, such as the crown base.

    D (t - t_foot) / (1 + (o / H) t). Assumes a straight stem, so that the point's offset is to
    the tip's as its height is to the tip's height. A curved stem leans more near the foot or
    near the tip, and the point is then off by a part of its own offset times the slope.

    Parameters
    ----------
    distance : array_like
        Level distance to the foot's centre [any length unit, > 0].
    point_slope, foot_slope : array_like
        Slopes to the point and to the foot [fraction], any sign.
    offset : array_like
        Plumb point of the tip from the foot [unit of ``distance``], + toward the observer,
        less than the distance.
    tip_height : array_like
        Height of the tip, as ``tip_height`` gives it [unit of ``distance``, > 0].

    Returns
    -------
    float or ndarray
        Height of the point [unit of ``distance``]; NaN where an input is missing or impossible.

    References
    ----------
    Definition: a straight stem, and BrackWood1998, page HEIGHT3 for the tip
    """
    level, point, foot, toward, top = arrays(distance, point_slope, foot_slope, offset, tip_height)
    shrinking = 1 + toward / top * point
    possible = (level > 0) & (toward < level) & (top > 0) & (shrinking > 0)
    return result(level * (point - foot) / shrinking, possible)


@np.errstate(all="ignore")
def near_edge_bound(widest_width: ArrayLike, top_slope: ArrayLike) -> Numbers:
    """Most that the near edge of a broad crown, taken for the top, can add to a height.

    r t, with r half the larger width. Assumes a crown centred over the stem. It is a one-sided
    bound and no correction: the error lies between 0 and this value, and is 0 where the true
    top was sighted. Sighting the stem instead of a branch avoids it at the crown base.

    Parameters
    ----------
    widest_width : array_like
        The larger crown width [any length unit, > 0].
    top_slope : array_like
        Slope to the sighted point [fraction], any sign.

    Returns
    -------
    float or ndarray
        Largest error of the height [unit of the width], negative (too low) where the point was
        seen below the eye; NaN where an input is missing or the width is not positive.

    References
    ----------
    Definition: the sight line at the crown's edge; Bragg2007 for its cases
    """
    width, slope = arrays(widest_width, top_slope)
    return result(width / 2 * slope, width > 0)
