"""Heights above the foot of the stem from slopes and distances.

Slopes are tangents of the angle above (+) or below (-) the eye, so foot and point may lie on
either side of it, or both on one side, and the same difference holds. A result may be negative:
a point seen below the foot is for the checks to judge.
"""

import numpy as np
from numpy.typing import ArrayLike

from xlhelpers.measure.arrays import Array, Numbers, arrays, result

__all__ = [
    "height",
    "height_above_mark",
    "height_from_bark",
    "height_on_straight",
    "height_with_eye",
    "implied_eye_height",
]


@np.errstate(all="ignore")
def height(distance: ArrayLike, point_slope: ArrayLike, foot_slope: ArrayLike) -> Numbers:
    """Height of a point above the foot by the tangent method.

    D (t_point - t_foot). Assumes that the point stands over the centre of the stem, at the
    level distance. Known bias: too high where the tip leans, or a near branch is taken for the
    tip, toward the observer, too low where it leans away; on spreading hardwoods often 2 %, in
    hard cases 8 to 42 %.

    Parameters
    ----------
    distance : array_like
        Level distance to the centre of the stem [any length unit, > 0].
    point_slope, foot_slope : array_like
        Slopes to the point and to the foot [fraction], any sign.

    Returns
    -------
    float or ndarray
        Height [unit of ``distance``], negative where the point lies below the foot; NaN where
        an input is missing or the distance is not positive.

    References
    ----------
    AwfWikiUndated, trigonometric principle
    BrackWood1998, page HEIGHT2
    Bragg2007, size of the bias
    """
    level, point, foot = arrays(distance, point_slope, foot_slope)
    return result(level * (point - foot), level > 0)


@np.errstate(all="ignore")
def height_from_bark(
    distance_to_bark: ArrayLike, point_slope: ArrayLike, foot_slope: ArrayLike, diameter: ArrayLike
) -> Numbers:
    """Height of a point above the foot where the distance ends at the bark.

    (L + d / 2) t_point - L t_foot. The point stands over the centre of the stem, half a diameter
    behind the bark; the foot is aimed at on the bark itself. With the distance to the centre for
    both, heights are too large by half the diameter times the eye's height above the foot over
    the distance: 0.18 m for a stem of 2.5 m, 11 m away, on level ground, and more downhill.
    Assumes a round stem. Bias as for ``height``.

    Parameters
    ----------
    distance_to_bark : array_like
        Level distance to the bark [any length unit, > 0].
    point_slope, foot_slope : array_like
        Slopes to the point and to the foot [fraction], any sign.
    diameter : array_like
        Diameter of the stem [unit of the distance, >= 0].

    Returns
    -------
    float or ndarray
        Height [unit of the distance]; NaN where an input is missing or impossible.

    References
    ----------
    Definition: the difference of two heights over the eye, as in BrackWood1998, page HEIGHT2
    """
    level, point, foot, width = arrays(distance_to_bark, point_slope, foot_slope, diameter)
    height_over_eye = (level + width / 2) * point
    return result(height_over_eye - level * foot, (level > 0) & (width >= 0))


@np.errstate(all="ignore")
def height_above_mark(
    distance: ArrayLike, point_slope: ArrayLike, mark_slope: ArrayLike, mark_height: ArrayLike
) -> Numbers:
    """Height of a point above a hidden foot, over a mark at a known height.

    D (t_point - t_mark) + k. Assumes a mark on the stem, its height above the foot measured
    with a pole or tape. Bias as for ``height``.

    Parameters
    ----------
    distance : array_like
        Level distance to the centre of the stem [any length unit, > 0].
    point_slope, mark_slope : array_like
        Slopes to the point and to the mark [fraction], any sign.
    mark_height : array_like
        Height of the mark above the foot [unit of ``distance``, >= 0].

    Returns
    -------
    float or ndarray
        Height above the foot [unit of ``distance``]; NaN where an input is missing or
        impossible.

    References
    ----------
    BrackWood1998, page HEIGHT2 (the difference of slopes); the known mark is common practice
    """
    level, point, mark, known = arrays(distance, point_slope, mark_slope, mark_height)
    return result(level * (point - mark) + known, (level > 0) & (known >= 0))


@np.errstate(all="ignore")
def height_with_eye(distance: ArrayLike, point_slope: ArrayLike, eye_height: ArrayLike) -> Numbers:
    """Height of a point on level ground, with the observer's eye height for the foot reading.

    D t_point + eye. Assumes that the observer stands level with the foot. Known bias: whatever
    the ground differs goes into the height in full, 0.5 m at 25 m on a slope of 2 %; a foot
    reading is better wherever the foot can be seen.

    Parameters
    ----------
    distance : array_like
        Level distance to the centre of the stem [any length unit, > 0].
    point_slope : array_like
        Slope to the point [fraction], any sign.
    eye_height : array_like
        Height of the observer's eye above the ground [unit of ``distance``, > 0].

    Returns
    -------
    float or ndarray
        Height [unit of ``distance``]; NaN where an input is missing or impossible.

    References
    ----------
    ClinometerLeafletUndated, level ground
    """
    level, point, eye = arrays(distance, point_slope, eye_height)
    return result(level * point + eye, (level > 0) & (eye > 0))


@np.errstate(all="ignore")
def height_on_straight(
    distance_to_point: ArrayLike,
    point_slope: ArrayLike,
    distance_to_foot: ArrayLike,
    foot_slope: ArrayLike,
) -> Numbers:
    """Height of a point above the foot by the sine method.

    L_point sin a_point - L_foot sin a_foot. Assumes a straight distance to the point itself and
    another to the foot. A lean does no harm. Known bias: too low where the beam meets a twig
    below the true tip.

    Parameters
    ----------
    distance_to_point, distance_to_foot : array_like
        Straight distances from the instrument [any length unit, the same for both, > 0].
    point_slope, foot_slope : array_like
        Slopes to the point and to the foot [fraction], any sign.

    Returns
    -------
    float or ndarray
        Height [unit of the distances]; NaN where an input is missing or a distance is not
        positive.

    References
    ----------
    LeverettUndated, sine method
    Edi1559Undated, height from two distances
    LarjavaaraMullerLandau2013, direction of the bias
    """
    to_point, point, to_foot, foot = arrays(
        distance_to_point, point_slope, distance_to_foot, foot_slope
    )
    rise = to_point * _sine(point) - to_foot * _sine(foot)
    return result(rise, (to_point > 0) & (to_foot > 0))


@np.errstate(all="ignore")
def implied_eye_height(distance: ArrayLike, foot_slope: ArrayLike) -> Numbers:
    """Height of the eye above the foot that a foot reading implies.

    -D t_foot. On near-level ground it must be close to the observer's usual eye height, which
    makes it the best check of a foot reading, its sign and its scale.

    Parameters
    ----------
    distance : array_like
        Level distance to the foot as it was aimed at: to the bark where the distance ends there,
        to the centre of the stem where it does not [any length unit, > 0].
    foot_slope : array_like
        Slope to the foot [fraction], any sign.

    Returns
    -------
    float or ndarray
        Eye above (+) or below (-) the foot [unit of ``distance``]; NaN where an input is
        missing or the distance is not positive.

    References
    ----------
    Definition: the part of a height that lies below the eye, as in BrackWood1998, page HEIGHT2
    """
    level, foot = arrays(distance, foot_slope)
    return result(0.0 - level * foot, level > 0)


def _sine(slope: Array) -> Array:
    return slope / np.sqrt(1 + slope**2)
