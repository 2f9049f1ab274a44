"""Heights where the distance to the tree cannot be measured: two stations on one line."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike

from xlhelpers.measure.accuracy import (
    Accuracy,
    Parts,
    aim_radians,
    sum_parts,
    zero_and_distance,
)
from xlhelpers.measure.arrays import Numbers, arrays, result

__all__ = [
    "SMALLEST_DIFFERENCE",
    "Stations",
    "distance_from_first",
    "height_above_eye",
    "of_two_stations",
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


@dataclass(frozen=True)
class Stations:
    """Slopes read from two stations in line with a tree, and the step; numbers or columns.

    Parameters
    ----------
    first_tip, second_tip : array_like
        Slopes to the tip [fraction].
    first_foot, second_foot : array_like
        Slopes to the foot [fraction]; 0 and 0 where both eyes are on one level.
    step : array_like
        Level distance between the stations [any length unit, > 0].
    """

    first_tip: ArrayLike
    second_tip: ArrayLike
    first_foot: ArrayLike
    second_foot: ArrayLike
    step: ArrayLike


@np.errstate(all="ignore")
def distance_from_first(
    first_tip: ArrayLike,
    second_tip: ArrayLike,
    first_foot: ArrayLike,
    second_foot: ArrayLike,
    step: ArrayLike,
) -> Numbers:
    """Level distance to the tree from the first of two stations in line with it.

    Both stations see the same height: D a = (D ± d) b with a and b the slopes to the tip less
    those to the foot, so D = d b / |a - b|. Either station may be the nearer one. With feet of 0
    and 0 it is the distance behind `height_above_eye`: both eyes on one level.

    Parameters
    ----------
    first_tip, second_tip : array_like
        Slopes to the tip [fraction]; their angles differ by 8 degrees or more.
    first_foot, second_foot : array_like
        Slopes to the foot [fraction].
    step : array_like
        Level distance between the stations [any length unit, > 0].

    Returns
    -------
    float or ndarray
        Distance [unit of ``step``]; NaN where an input is missing or impossible, or the angles
        to the tip differ by less than 8 degrees.

    Raises
    ------
    ReadingError
        If the shapes do not fit together.

    References
    ----------
    NativeTreeSocietyUndated, measuring problems, number 10

    Examples
    --------
    >>> round(distance_from_first(1.0, 0.5, 0.0, 0.0, 10), 6)
    10.0
    """
    tip, other, foot, other_foot, apart = arrays(
        first_tip, second_tip, first_foot, second_foot, step
    )
    one, two = tip - foot, other - other_foot
    turned = np.abs(np.degrees(np.arctan(tip) - np.arctan(other)))
    possible = (one * two > 0) & (one != two) & (apart > 0)
    possible = possible & (turned >= SMALLEST_DIFFERENCE)
    return result(apart * np.abs(two) / np.abs(one - two), possible)


@np.errstate(all="ignore")
def of_two_stations(
    stations: Stations,
    point_slope: ArrayLike,
    foot_slope: ArrayLike,
    is_tip: ArrayLike,
    accuracy: Accuracy,
) -> Parts:
    """Parts of the uncertainty of a point that the first station sees, its distance as above.

    h = D (t_point - t_foot). Each slope enters through D and, at the first station, through the
    height as well; the step is the only length that is measured.

    Parameters
    ----------
    stations : Stations
        What gives the distance [see there].
    point_slope, foot_slope : array_like
        Slopes from the first station to the point and to the foot [fraction].
    is_tip : array_like of bool
        Whether the point is the tip, whose reading is then the one in ``stations`` [yes
        or no].
    accuracy : Accuracy
        How well slopes and step were read [see there].

    Returns
    -------
    Parts
        Common and reading part [unit of the step]; NaN where there is no distance.

    Raises
    ------
    ReadingError
        If a scale's name is unknown, or the shapes do not fit together.

    References
    ----------
    JCGM2008, section 5.1.2
    """
    tip, other, foot, other_foot, apart = arrays(
        stations.first_tip,
        stations.second_tip,
        stations.first_foot,
        stations.second_foot,
        stations.step,
    )
    point, low = arrays(point_slope, foot_slope)
    level = np.asarray(distance_from_first(tip, other, foot, other_foot, apart))
    zero, relative, fixed = zero_and_distance(accuracy)
    one, two, rise = tip - foot, other - other_foot, point - low
    has_feet = (foot != 0) | (other_foot != 0)
    # what one unit of each slope adds to the height
    through_first, through_second = (
        -level / (one - two) * rise,
        level * one / two / (one - two) * rise,
    )
    shares = {
        "tip": through_first + np.where(is_tip, level, 0.0),
        "point": np.where(is_tip, 0.0, level),
        "foot": -level - np.where(has_feet, through_first, 0.0),
        "second tip": through_second,
        "second foot": np.where(has_feet, -through_second, 0.0),
    }
    slopes = {
        "tip": tip,
        "point": point,
        "foot": low,
        "second tip": other,
        "second foot": other_foot,
    }
    by_angle = {name: share * (1 + slopes[name] ** 2) for name, share in shares.items()}
    height = level * rise
    common = (relative * height, zero * sum(by_angle.values()))
    reading = (
        fixed * height / apart,
        *(aim_radians(slopes[name], accuracy) * share for name, share in by_angle.items()),
    )
    return sum_parts(common, reading, level > 0)
