"""Readings on any scale to slopes and angles, and back.

A slope is the tangent of the angle above (+) or below (-) the level line through the eye. All
scales but degrees are ratios: units of height per base of distance. A reading's sign is kept.
"""

import numpy as np
from numpy.typing import ArrayLike

from xlhelpers.measure.arrays import Array, Numbers, arrays, fit_together, name_column, result

__all__ = [
    "SCALES",
    "angle",
    "reading_from_slope",
    "slope",
    "slope_from_degrees",
    "slope_from_percent",
    "slope_from_scale",
    "slope_from_topographic",
    "slope_per_unit",
]
PERCENT_BASE = 100.0
TOPOGRAPHIC_BASE = 66.0
"""The topographic scale shows feet of height per chain of 66 feet."""
SCALES = ("percent", "degrees", "topographic", "fixed distance")
"""Names of the scales; "fixed distance" needs the distance that the scale was made for."""


@np.errstate(all="ignore")
def slope_from_percent(reading: ArrayLike) -> Numbers:
    """Slope from a reading in percent.

    Exact by definition; no bias.

    Parameters
    ----------
    reading : array_like
        Reading [%], any sign and size.

    Returns
    -------
    float or ndarray
        Slope [fraction]; NaN where the reading is missing.

    References
    ----------
    AwfWikiUndated, trigonometric principle
    """
    return slope_from_scale(reading, PERCENT_BASE)


@np.errstate(all="ignore")
def slope_from_degrees(reading: ArrayLike) -> Numbers:
    """Slope from a reading in degrees.

    Exact by definition; no bias. An error of one degree changes the slope by 1.7 % of a unit at
    level and by 3.5 % at 45 degrees: the steeper the aim, the more it matters.

    Parameters
    ----------
    reading : array_like
        Reading [degrees], between -90 and 90, both excluded.

    Returns
    -------
    float or ndarray
        Slope [fraction]; NaN where the reading is missing or out of range.

    References
    ----------
    AwfWikiUndated, trigonometric principle
    """
    (degrees,) = arrays(reading)
    return result(_tangent(degrees))


@np.errstate(all="ignore")
def slope_from_topographic(reading: ArrayLike) -> Numbers:
    """Slope from a reading on the topographic scale, feet of height per 66 feet.

    Exact by definition; no bias. Used at any distance, in any unit of length.

    Parameters
    ----------
    reading : array_like
        Reading [units per 66 units of distance], any sign and size.

    Returns
    -------
    float or ndarray
        Slope [fraction]; NaN where the reading is missing.

    References
    ----------
    DeYoungUndated, sections 2.4 and 2.7
    """
    return slope_from_scale(reading, TOPOGRAPHIC_BASE)


@np.errstate(all="ignore")
def slope_from_scale(reading: ArrayLike, base: ArrayLike) -> Numbers:
    """Slope from a scale that shows heights for one fixed distance.

    Exact by definition; no bias. The scale may be used at any distance.

    Parameters
    ----------
    reading : array_like
        Reading [unit of ``base``], any sign and size.
    base : array_like
        Distance that the scale was made for [any length unit, > 0].

    Returns
    -------
    float or ndarray
        Slope [fraction]; NaN where an input is missing or the base is not positive.

    References
    ----------
    IdahoUndated, fixed-base scale
    """
    value, distance = arrays(reading, base)
    return result(value / distance, distance > 0)


@np.errstate(all="ignore")
def slope(reading: ArrayLike, scale: ArrayLike, scale_distance: ArrayLike = np.nan) -> Numbers:
    """Slope from readings on named scales, each line with its own scale.

    Exact by definition; no bias.

    Parameters
    ----------
    reading : array_like
        Readings [unit of the scale]; degrees between -90 and 90, both excluded.
    scale : str or array_like of str
        Names of scales [one of ``SCALES``, or blank].
    scale_distance : array_like
        Distance that a "fixed distance" scale was made for [unit of its reading, > 0];
        not looked at for other scales.

    Returns
    -------
    float or ndarray
        Slope [fraction]; NaN where the reading, the scale or a needed distance is missing or
        out of range.

    Raises
    ------
    ReadingError
        If a scale's name is unknown, or the shapes do not fit together.

    References
    ----------
    AwfWikiUndated, trigonometric principle
    DeYoungUndated, sections 2.3, 2.4 and 2.7
    IdahoUndated, fixed-base scale
    """
    value, base, in_degrees = _to_scale(reading, scale, scale_distance)
    return result(np.where(in_degrees, _tangent(value), value / base))


@np.errstate(all="ignore")
def angle(slope: ArrayLike) -> Numbers:
    """Angle of a slope above the level.

    Exact by definition; no bias.

    Parameters
    ----------
    slope : array_like
        Slope [fraction], any sign and size.

    Returns
    -------
    float or ndarray
        Angle [degrees] between -90 and 90; NaN where the slope is missing.

    References
    ----------
    AwfWikiUndated, trigonometric principle
    """
    (tangent,) = arrays(slope)
    return result(np.degrees(np.arctan(tangent)), np.isfinite(tangent))


@np.errstate(all="ignore")
def reading_from_slope(
    slope: ArrayLike, scale: ArrayLike, scale_distance: ArrayLike = np.nan
) -> Numbers:
    """Reading that a scale would show for a slope; undoes ``slope``.

    Exact by definition; no bias. The reading is not rounded to the graduation.

    Parameters
    ----------
    slope : array_like
        Slope [fraction], any sign and size.
    scale : str or array_like of str
        Names of scales [one of ``SCALES``, or blank].
    scale_distance : array_like
        Distance that a "fixed distance" scale was made for [any length unit, > 0].

    Returns
    -------
    float or ndarray
        Reading [unit of the scale]; NaN where an input is missing or out of range.

    Raises
    ------
    ReadingError
        If a scale's name is unknown, or the shapes do not fit together.

    References
    ----------
    AwfWikiUndated, trigonometric principle
    """
    tangent, base, in_degrees = _to_scale(slope, scale, scale_distance)
    reading = np.where(in_degrees, np.degrees(np.arctan(tangent)), tangent * base)
    return result(reading, np.isfinite(tangent))


@np.errstate(all="ignore")
def slope_per_unit(
    reading: ArrayLike, scale: ArrayLike, scale_distance: ArrayLike = np.nan
) -> Numbers:
    """How much the slope grows for one more unit of the reading.

    It turns a graduation into a slope, and divided by (1 + slope²) into an angle in radians.
    Holds for small steps; exact for all scales but degrees.

    Parameters
    ----------
    reading : array_like
        Readings [unit of the scale]; degrees between -90 and 90, both excluded.
    scale : str or array_like of str
        Names of scales [one of ``SCALES``, or blank].
    scale_distance : array_like
        Distance that a "fixed distance" scale was made for [unit of its reading, > 0].

    Returns
    -------
    float or ndarray
        Derivative [fraction per unit of the scale]; NaN as for ``slope``.

    Raises
    ------
    ReadingError
        If a scale's name is unknown, or the shapes do not fit together.

    References
    ----------
    Definition: the derivative of the slope with respect to the reading
    """
    value, base, in_degrees = _to_scale(reading, scale, scale_distance)
    steepness = np.radians(1.0) * (1 + _tangent(value) ** 2)
    return result(np.where(in_degrees, steepness, 1 / base), np.isfinite(value))


def _tangent(degrees: Array) -> Array:
    return np.where(np.abs(degrees) < 90, np.tan(np.radians(degrees)), np.nan)


def _to_scale(
    value: ArrayLike, scale: ArrayLike, scale_distance: ArrayLike
) -> tuple[Array, Array, Array]:
    """Values, base of each line's scale (NaN for degrees and blanks), and where it is degrees."""
    values, distance = arrays(value, scale_distance)
    names = name_column(scale, SCALES, "scale")
    fit_together(values, distance, names)
    base = np.where((names == "fixed distance") & (distance > 0), distance, np.nan)
    base = np.where(names == "percent", PERCENT_BASE, base)
    base = np.where(names == "topographic", TOPOGRAPHIC_BASE, base)
    return values, base, names == "degrees"
