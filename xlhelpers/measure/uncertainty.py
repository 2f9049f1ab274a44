"""Standard uncertainties of heights and crown depths, by propagation, one function a way.

All follow the law of propagation for independent inputs (JCGM 100:2008, 5.1.2): first order, good
while each uncertainty is small against its quantity. Angles enter in radians: a slope t moves by
(1 + t²) for each radian. Each function gives the instrument's part; what different people see in
the same tree is ``observer_part``, shown beside it and never mixed in. Leaning stems have a module
of their own, ``lean_uncertainty``.
"""

import numpy as np
from numpy.typing import ArrayLike

from xlhelpers.measure.accuracy import (
    Accuracy,
    Parts,
    Sight,
    aim_radians,
    combine,
    sight_fields,
    sum_parts,
    with_common_part,
    zero_and_distance,
)
from xlhelpers.measure.arrays import Numbers, arrays, result
from xlhelpers.measure.distances import level_from_slope
from xlhelpers.measure.slopes import slope_from_degrees

__all__ = [
    "OBSERVER_SHARE",
    "combine",
    "height_from_angles",
    "observer_part",
    "of_direct_height",
    "of_eye_height",
    "of_sighting",
    "of_straight_distance",
    "of_two_straight_distances",
    "with_common_part",
]
OBSERVER_SHARE = 0.029
"""Standard deviation between observers as a share of the height; 0.5 m over that study's trees."""


@np.errstate(all="ignore")
def height_from_angles(
    distance: ArrayLike,
    top_angle: ArrayLike,
    foot_angle: ArrayLike,
    u_distance: ArrayLike,
    u_angle: ArrayLike,
) -> Numbers:
    """Standard uncertainty of a height from two angles at a level distance, instrument's part.

    u² = (tan a - tan b)² u_D² + (D sec² a)² u_a² + (D sec² b)² u_b². Assumes independent errors
    of the distance and the two angles.

    Parameters
    ----------
    distance : array_like
        Level distance to the centre of the stem [any length unit, > 0].
    top_angle, foot_angle : array_like
        Angles to the point and to the foot [degrees], between -90 and 90.
    u_distance : array_like
        Standard uncertainty of the distance [unit of ``distance``, >= 0].
    u_angle : array_like
        Standard uncertainty of each angle [degrees, >= 0].

    Returns
    -------
    float or ndarray
        Standard uncertainty of the height [unit of ``distance``]; NaN where an input is missing
        or impossible.

    Raises
    ------
    ReadingError
        If the shapes do not fit together.

    References
    ----------
    JCGM2008, section 5.1.2

    Examples
    --------
    >>> round(height_from_angles(25, 40, -4, 0.1, 0.25), 3)
    0.234
    """
    level, by_distance, by_angle = arrays(distance, u_distance, u_angle)
    sight = Sight(level, slope_from_degrees(top_angle), slope_from_degrees(foot_angle))
    accuracy = Accuracy(u_reading=by_angle, u_distance_fixed=by_distance)
    return of_sighting(sight, accuracy).reading


@np.errstate(all="ignore")
def of_sighting(sight: Sight, accuracy: Accuracy) -> Parts:
    """Parts for a point sighted against the foot, the distance level or along the ground.

    Also for a crown depth: give the slope to the crown base as the foot's, since the foot itself
    cancels out of D (t_top - t_base). A distance along the ground adds the aim that read its slope;
    a crown depth over a straight distance to the foot takes the foot's slope as the line's.

    Parameters
    ----------
    sight : Sight
        Distance and slopes [see there]; ``offset`` is not looked at.
    accuracy : Accuracy
        How well they were read [see there].

    Returns
    -------
    Parts
        Common and reading part [unit of the distance]; NaN where an input is missing or
        impossible.

    Raises
    ------
    ReadingError
        If a scale's name is unknown, or the shapes do not fit together.

    References
    ----------
    JCGM2008, section 5.1.2
    """
    level, point, foot, line, _ = sight_fields(sight)
    zero, relative, fixed = zero_and_distance(accuracy)
    rise = point - foot
    common = (relative * level * rise, zero * level * rise * (point + foot - line))
    reading = (
        fixed * rise / np.sqrt(1 + line**2),
        aim_radians(point, accuracy) * level * (1 + point**2),
        aim_radians(foot, accuracy) * level * (1 + foot**2),
        aim_radians(line, accuracy) * level * line * rise,
    )
    return sum_parts(common, reading, level > 0)


@np.errstate(all="ignore")
def of_straight_distance(sight: Sight, accuracy: Accuracy) -> Parts:
    """Parts for a point sighted with the straight distance to the foot, or to a mark.

    The reading at the foot serves twice, for the level distance L cos b and for the height, and
    its error enters once through both: D (1 + t_foot t_point).

    Parameters
    ----------
    sight : Sight
        The level distance that came out, and slopes [see there]; ``line_slope`` and ``offset``
        are not looked at.
    accuracy : Accuracy
        How well they were read [see there].

    Returns
    -------
    Parts
        Common and reading part [unit of the distance]; NaN where an input is missing or
        impossible.

    Raises
    ------
    ReadingError
        If a scale's name is unknown, or the shapes do not fit together.

    References
    ----------
    JCGM2008, section 5.1.2
    """
    level, point, foot, _, _ = sight_fields(sight)
    zero, relative, fixed = zero_and_distance(accuracy)
    rise = point - foot
    common = (relative * level * rise, zero * level * rise * point)
    reading = (
        fixed * rise / np.sqrt(1 + foot**2),
        aim_radians(point, accuracy) * level * (1 + point**2),
        aim_radians(foot, accuracy) * level * (1 + foot * point),
    )
    return sum_parts(common, reading, level > 0)


@np.errstate(all="ignore")
def of_eye_height(sight: Sight, u_eye_height: ArrayLike, accuracy: Accuracy) -> Parts:
    """Parts for a point sighted on level ground with the eye height in place of the foot.

    The zero's error is not offset by a second reading: D (1 + t²). What the ground differs from
    level belongs to the eye height's uncertainty, taken as common to the set-ups.

    Parameters
    ----------
    sight : Sight
        Distance and the point's slope [see there]; the rest is not looked at.
    u_eye_height : array_like
        Standard uncertainty of eye above foot [unit of the distance, >= 0].
    accuracy : Accuracy
        How well they were read [see there].

    Returns
    -------
    Parts
        Common and reading part [unit of the distance]; NaN where an input is missing or
        impossible.

    Raises
    ------
    ReadingError
        If a scale's name is unknown, or the shapes do not fit together.

    References
    ----------
    JCGM2008, section 5.1.2
    """
    level, point, _, _, _ = sight_fields(sight)
    zero, relative, fixed = zero_and_distance(accuracy)
    steep = level * (1 + point**2)
    common = (relative * level * point, zero * steep)
    reading = (fixed * point, aim_radians(point, accuracy) * steep)
    return with_common_part(sum_parts(common, reading, level > 0), u_eye_height)


@np.errstate(all="ignore")
def of_two_straight_distances(
    distance_to_point: ArrayLike,
    point_slope: ArrayLike,
    distance_to_foot: ArrayLike,
    foot_slope: ArrayLike,
    accuracy: Accuracy,
) -> Parts:
    """Parts for a height by the sine method; with the crown base as foot, for a crown depth.

    Parameters
    ----------
    distance_to_point, distance_to_foot : array_like
        Straight distances [any length unit, > 0].
    point_slope, foot_slope : array_like
        Slopes to the point and to the foot [fraction].
    accuracy : Accuracy
        How well they were read [see there]; each distance has its own fixed part.

    Returns
    -------
    Parts
        Common and reading part [unit of the distances]; NaN where an input is missing or
        impossible.

    Raises
    ------
    ReadingError
        If a scale's name is unknown, or the shapes do not fit together.

    References
    ----------
    JCGM2008, section 5.1.2
    """
    to_point, point, to_foot, foot = arrays(
        distance_to_point, point_slope, distance_to_foot, foot_slope
    )
    zero, relative, fixed = zero_and_distance(accuracy)
    point_sine, foot_sine = point / np.sqrt(1 + point**2), foot / np.sqrt(1 + foot**2)
    point_level = np.asarray(level_from_slope(to_point, point))
    foot_level = np.asarray(level_from_slope(to_foot, foot))
    common = (
        relative * (to_point * point_sine - to_foot * foot_sine),
        zero * (point_level - foot_level),
    )
    reading = (
        fixed * point_sine,
        fixed * foot_sine,
        aim_radians(point, accuracy) * point_level,
        aim_radians(foot, accuracy) * foot_level,
    )
    return sum_parts(common, reading, (to_point > 0) & (to_foot > 0))


@np.errstate(all="ignore")
def of_direct_height(height: ArrayLike, accuracy: Accuracy) -> Parts:
    """Parts for a height read from a display, a pole or a tape.

    The relative part of a distance is that of the height here; angles are not looked at. The
    graduation is a length and adds g / sqrt(12).

    Parameters
    ----------
    height : array_like
        Height [any length unit], negative for a crown base below the foot.
    accuracy : Accuracy
        How well it was read [see there].

    Returns
    -------
    Parts
        Common and reading part [unit of the height]; NaN where an input is missing or negative
        in the accuracy.

    Raises
    ------
    ReadingError
        If the shapes do not fit together.

    References
    ----------
    JCGM2008, sections 4.3.7 and 5.1.2
    """
    tall, graduation = arrays(height, accuracy.graduation)
    _, relative, fixed = zero_and_distance(accuracy)
    step = np.where(graduation >= 0, graduation, np.nan) / np.sqrt(12)
    return sum_parts((relative * tall,), (fixed, step), np.isfinite(tall))


@np.errstate(all="ignore")
def observer_part(height: ArrayLike) -> Numbers:
    """Standard deviation of a height between observers, as published; not the instrument's part.

    2.9 % of the height. The study also gives 0.5 m, the same figure at the mean height of its 319
    forest trees, four observers each; the share is used because the spread grows with height.
    Broad crowns of street trees may well differ more.

    Parameters
    ----------
    height : array_like
        Height [any length unit, >= 0].

    Returns
    -------
    float or ndarray
        Standard deviation [same unit]; NaN where the height is missing or negative.

    Raises
    ------
    ReadingError
        If the rows of a table have different lengths.

    References
    ----------
    LuomaEtAl2017, abstract
    """
    (tall,) = arrays(height)
    return result(OBSERVER_SHARE * tall, tall >= 0)
