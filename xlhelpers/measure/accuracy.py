"""How well a sighting was read: the records that the uncertainties start from.

Two parts are kept apart all the way. The common part comes from what all readings of an
instrument share (the bias of its distances, the error of its zero) and does not shrink when a
tree is measured again. The reading part comes from what is new at each reading (graduation, aim,
the random part of a distance) and shrinks with the root of the number of set-ups.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from xlhelpers.measure.arrays import Array, Numbers, arrays, fit_together, result
from xlhelpers.measure.slopes import reading_from_slope, slope_per_unit

__all__ = [
    "Accuracy",
    "Parts",
    "Sight",
    "aim_uncertainty",
    "combine",
    "with_common_part",
]


@dataclass(frozen=True)
class Accuracy:
    """Standard uncertainties of an instrument's readings and distances; numbers or columns.

    Parameters
    ----------
    u_reading : array_like
        Random part of one aim, hand and eye, without the graduation [degrees, >= 0].
    u_zero : array_like
        Error of the instrument's zero, common to all its readings [degrees, >= 0].
    u_distance_relative : array_like
        Bias of its distances, common to all of them [fraction, >= 0].
    u_distance_fixed : array_like
        Random part of one distance, or of one direct height [unit of the distance, >= 0].
    graduation : array_like
        Step that readings are rounded to [unit of the scale, >= 0]; 0 for none.
    scale : str or array_like of str
        Name of the scale [one of ``slopes.SCALES``, or blank if the graduation is 0].
    scale_distance : array_like
        Distance that a "fixed distance" scale was made for [unit of its reading].
    """

    u_reading: ArrayLike = 0.0
    u_zero: ArrayLike = 0.0
    u_distance_relative: ArrayLike = 0.0
    u_distance_fixed: ArrayLike = 0.0
    graduation: ArrayLike = 0.0
    scale: ArrayLike = ""
    scale_distance: ArrayLike = np.nan


@dataclass(frozen=True)
class Sight:
    """Where an instrument stood and what it read; numbers or columns.

    Parameters
    ----------
    distance : array_like
        Level distance to the foot's centre [any length unit, > 0].
    point_slope : array_like
        Slope to the point [fraction].
    foot_slope : array_like
        Slope to the foot, or to the mark or point that takes its place [fraction].
    line_slope : array_like
        Slope on the line of a distance measured along the ground [fraction]; 0 for a distance
        that was measured level.
    offset : array_like
        Plumb point of a leaning tip [unit of ``distance``], + toward the observer.
    """

    distance: ArrayLike
    point_slope: ArrayLike
    foot_slope: ArrayLike = 0.0
    line_slope: ArrayLike = 0.0
    offset: ArrayLike = 0.0


@dataclass(frozen=True)
class Parts:
    """The two parts of a standard uncertainty.

    Parameters
    ----------
    common : float or ndarray
        Part that repeats do not shrink [unit of the height].
    reading : float or ndarray
        Part of one set-up that repeats shrink [unit of the height].
    """

    common: Numbers
    reading: Numbers


@np.errstate(all="ignore")
def aim_uncertainty(slope: ArrayLike, accuracy: Accuracy) -> Numbers:
    """Random part of one aim as an angle, graduation included.

    The graduation g adds g / sqrt(12) in the unit of the scale, turned into an angle at the slope
    that was read. Assumes readings rounded to the nearest mark.

    Parameters
    ----------
    slope : array_like
        Slope that was read [fraction].
    accuracy : Accuracy
        How well the instrument reads [see there].

    Returns
    -------
    float or ndarray
        Standard uncertainty [degrees]; NaN where an input is missing or negative.

    Raises
    ------
    ReadingError
        If a scale's name is unknown, or the shapes do not fit together.

    References
    ----------
    JCGM2008, section 4.3.7 (rectangular distribution)
    """
    tangent, aim, graduation = arrays(slope, accuracy.u_reading, accuracy.graduation)
    reading = reading_from_slope(tangent, accuracy.scale, accuracy.scale_distance)
    per_unit = slope_per_unit(reading, accuracy.scale, accuracy.scale_distance)
    fit_together(tangent, aim, graduation, np.asarray(per_unit))
    step = np.degrees(graduation * per_unit / (1 + tangent**2))
    step = np.where(graduation == 0, 0.0, step)
    total = np.sqrt(aim**2 + step**2 / 12)
    return result(total, np.isfinite(tangent) & (aim >= 0) & (graduation >= 0))


@np.errstate(all="ignore")
def combine(u_common: ArrayLike, u_reading: ArrayLike, n: ArrayLike) -> Numbers:
    """Standard uncertainty of a mean over set-ups.

    sqrt(u_common² + u_reading² / n). Assumes set-ups with the same instrument, read anew.

    Parameters
    ----------
    u_common, u_reading : array_like
        The two parts for one set-up [any unit, >= 0].
    n : array_like
        Number of set-ups behind the mean [count, >= 1].

    Returns
    -------
    float or ndarray
        Standard uncertainty [same unit]; NaN where an input is missing or out of range.

    Raises
    ------
    ReadingError
        If the shapes do not fit together.

    References
    ----------
    JCGM2008, sections 4.2.3 and 5.1.2
    """
    common, reading, count = arrays(u_common, u_reading, n)
    possible = (common >= 0) & (reading >= 0) & (count >= 1)
    return result(np.sqrt(common**2 + reading**2 / count), possible)


@np.errstate(all="ignore")
def with_common_part(parts: Parts, u_common: ArrayLike) -> Parts:
    """Add one more independent common part, such as that of a mark's height.

    Parameters
    ----------
    parts : Parts
        The parts so far [unit of the height].
    u_common : array_like
        Standard uncertainty to be added [same unit, >= 0].

    Returns
    -------
    Parts
        The parts with it [same unit]; NaN where an input is missing or negative.

    Raises
    ------
    ReadingError
        If the shapes do not fit together.

    References
    ----------
    JCGM2008, section 5.1.2
    """
    so_far, more = arrays(parts.common, u_common)
    return Parts(result(np.hypot(so_far, more), more >= 0), parts.reading)


def aim_radians(slope: ArrayLike, accuracy: Accuracy) -> Array:
    """``aim_uncertainty`` in radians, as an array, for the propagation."""
    degrees: Array = np.asarray(aim_uncertainty(slope, accuracy))
    return np.asarray(np.radians(degrees))


def zero_and_distance(accuracy: Accuracy) -> tuple[Array, Array, Array]:
    """Zero (radians), relative and fixed part of a distance; NaN where negative."""
    given = arrays(accuracy.u_zero, accuracy.u_distance_relative, accuracy.u_distance_fixed)
    zero, relative, fixed = (np.where(each >= 0, each, np.nan) for each in given)
    return np.radians(zero), relative, fixed


def sight_fields(sight: Sight) -> list[Array]:
    """Distance, slopes to the point, the foot and on the line, and the offset, as arrays."""
    return arrays(
        sight.distance, sight.point_slope, sight.foot_slope, sight.line_slope, sight.offset
    )


def sum_parts(
    common: tuple[Array, ...], reading: tuple[Array, ...], possible: NDArray[np.bool_]
) -> Parts:
    """Root of the sum of squares of each group of terms, one shape for both."""
    fit_together(*common, *reading, possible)
    shape = np.broadcast_shapes(*(np.shape(term) for term in (*common, *reading, possible)))
    both = [
        np.broadcast_to(np.sqrt(sum(np.square(term) for term in terms)), shape)
        for terms in (common, reading)
    ]
    known = possible & np.isfinite(both[0]) & np.isfinite(both[1])
    return Parts(result(both[0], known), result(both[1], known))
