"""The public list of ways to a height; adds no arithmetic of its own.

Results are in the unit of the distance. Numbers give numbers and columns give columns; a missing
or impossible value gives NaN.
"""

from numpy.typing import ArrayLike

from xlhelpers.measure import distances, sightings, slopes, stick, two_stations
from xlhelpers.measure.arrays import Numbers

__all__ = [
    "from_degrees",
    "from_fixed_distance_scale",
    "from_percent",
    "from_slant_distances",
    "from_stick",
    "from_topographic",
    "from_two_stations",
    "level_distance",
]


def from_percent(top: ArrayLike, foot: ArrayLike, distance: ArrayLike) -> Numbers:
    """Height from percent readings to a point and to the foot.

    Assumptions and bias: ``sightings.height``.

    Parameters
    ----------
    top, foot : array_like
        Readings to the point and to the foot [%], + above the eye and - below.
    distance : array_like
        Level distance to the centre of the stem [any length unit, > 0].

    Returns
    -------
    float or ndarray
        Height [unit of ``distance``]; NaN where an input is missing or impossible.

    Raises
    ------
    ReadingError
        If the shapes do not fit together.

    References
    ----------
    DeYoungUndated, section 2.3, example 1

    Examples
    --------
    >>> from_percent(124, -16, 50)
    70.0
    """
    return sightings.height(
        distance, slopes.slope_from_percent(top), slopes.slope_from_percent(foot)
    )


def from_degrees(top: ArrayLike, foot: ArrayLike, distance: ArrayLike) -> Numbers:
    """Height from degree readings to a point and to the foot.

    Assumptions and bias: ``sightings.height``.

    Parameters
    ----------
    top, foot : array_like
        Readings to the point and to the foot [degrees], + above the eye and - below, between
        -90 and 90.
    distance : array_like
        Level distance to the centre of the stem [any length unit, > 0].

    Returns
    -------
    float or ndarray
        Height [unit of ``distance``]; NaN where an input is missing or impossible.

    Raises
    ------
    ReadingError
        If the shapes do not fit together.

    References
    ----------
    AwfWikiUndated, trigonometric principle

    Examples
    --------
    >>> round(from_degrees(38, -4, 30), 3)
    25.536
    """
    return sightings.height(
        distance, slopes.slope_from_degrees(top), slopes.slope_from_degrees(foot)
    )


def from_topographic(top: ArrayLike, foot: ArrayLike, distance: ArrayLike) -> Numbers:
    """Height from readings on the topographic scale (per 66 units), at any distance.

    Assumptions and bias: ``sightings.height``.

    Parameters
    ----------
    top, foot : array_like
        Readings to the point and to the foot [units per 66], + above the eye and - below.
    distance : array_like
        Level distance to the centre of the stem [any length unit, > 0].

    Returns
    -------
    float or ndarray
        Height [unit of ``distance``]; NaN where an input is missing or impossible.

    Raises
    ------
    ReadingError
        If the shapes do not fit together.

    References
    ----------
    DeYoungUndated, section 2.4

    Examples
    --------
    >>> round(from_topographic(41, -9, 66), 6)
    50.0
    """
    return sightings.height(
        distance, slopes.slope_from_topographic(top), slopes.slope_from_topographic(foot)
    )


def from_fixed_distance_scale(
    top: ArrayLike, foot: ArrayLike, distance: ArrayLike, scale_distance: ArrayLike
) -> Numbers:
    """Height from a scale made for one distance, used at that or another one.

    Assumptions and bias: ``sightings.height``.

    Parameters
    ----------
    top, foot : array_like
        Readings to the point and to the foot [unit of ``scale_distance``], + above the eye.
    distance : array_like
        Level distance to the centre of the stem [any length unit, > 0].
    scale_distance : array_like
        Distance that the scale was made for, such as 15, 20 or 66 [unit of the readings, > 0].

    Returns
    -------
    float or ndarray
        Height [unit of ``distance``]; NaN where an input is missing or impossible.

    Raises
    ------
    ReadingError
        If the shapes do not fit together.

    References
    ----------
    IdahoUndated, fixed-base scale

    Examples
    --------
    >>> from_fixed_distance_scale(17.5, -1.5, 25, 20)
    23.75
    """
    return sightings.height(
        distance,
        slopes.slope_from_scale(top, scale_distance),
        slopes.slope_from_scale(foot, scale_distance),
    )


def from_slant_distances(
    top_distance: ArrayLike, top_angle: ArrayLike, foot_distance: ArrayLike, foot_angle: ArrayLike
) -> Numbers:
    """Height from straight distances and angles to a point and to the foot (sine method).

    Assumptions and bias: ``sightings.height_on_straight``.

    Parameters
    ----------
    top_distance, foot_distance : array_like
        Straight distances to the point and to the foot [any length unit, > 0].
    top_angle, foot_angle : array_like
        Angles to the point and to the foot [degrees], + above the eye, between -90 and 90.

    Returns
    -------
    float or ndarray
        Height [unit of the distances]; NaN where an input is missing or impossible.

    Raises
    ------
    ReadingError
        If the shapes do not fit together.

    References
    ----------
    LeverettUndated, sine method

    Examples
    --------
    >>> round(from_slant_distances(40, 35, 30, -6), 3)
    26.079
    """
    return sightings.height_on_straight(
        top_distance,
        slopes.slope_from_degrees(top_angle),
        foot_distance,
        slopes.slope_from_degrees(foot_angle),
    )


def from_stick(stick_length: ArrayLike, arm_length: ArrayLike, distance: ArrayLike) -> Numbers:
    """Height by similar triangles, a stick held upright at arm's length.

    Assumptions and bias: ``stick.height_by_stick``.

    Parameters
    ----------
    stick_length, arm_length : array_like
        Length of stick that the tree fills, and eye to stick [one length unit, > 0].
    distance : array_like
        Eye to tree [any length unit, > 0].

    Returns
    -------
    float or ndarray
        Height [unit of ``distance``]; NaN where an input is missing or not positive.

    Raises
    ------
    ReadingError
        If the shapes do not fit together.

    References
    ----------
    IowaUndated, ruler at 25 inches

    Examples
    --------
    >>> from_stick(1, 25, 100)
    4.0
    """
    return stick.height_by_stick(stick_length, arm_length, distance)


def from_two_stations(near_angle: ArrayLike, far_angle: ArrayLike, spacing: ArrayLike) -> Numbers:
    """Height above the eye from two stations in line with the tree.

    The part from the foot to the eye must be added. Assumptions and bias:
    ``two_stations.height_above_eye``.

    Parameters
    ----------
    near_angle, far_angle : array_like
        Angles from the nearer and the farther station [degrees], at least 8 degrees apart.
    spacing : array_like
        Level distance between the stations [any length unit, > 0].

    Returns
    -------
    float or ndarray
        Height above the eye [unit of ``spacing``]; NaN where an input is missing or impossible,
        or the angles differ by less than 8 degrees.

    Raises
    ------
    ReadingError
        If the shapes do not fit together.

    References
    ----------
    NativeTreeSocietyUndated, measuring problems, number 10

    Examples
    --------
    >>> round(from_two_stations(40, 30, 10), 3)
    18.508
    """
    return two_stations.height_above_eye(near_angle, far_angle, spacing)


def level_distance(slope_distance: ArrayLike, angle: ArrayLike) -> Numbers:
    """Level distance from a distance along a slope and its angle.

    Assumptions and bias: ``distances.level_from_slope``.

    Parameters
    ----------
    slope_distance : array_like
        Distance along the slope [any length unit, > 0].
    angle : array_like
        Angle of that line [degrees], any sign, between -90 and 90.

    Returns
    -------
    float or ndarray
        Level distance [unit of ``slope_distance``]; NaN where an input is missing or impossible.

    Raises
    ------
    ReadingError
        If the shapes do not fit together.

    References
    ----------
    ClinometerLeafletUndated, slope correction

    Examples
    --------
    >>> round(level_distance(25, 9), 3)
    24.692
    """
    return distances.level_from_slope(slope_distance, slopes.slope_from_degrees(angle))
