"""The functions for a spreadsheet's cells, in plain Python with numpy alone.

Each takes single cells or ranges of one shape (lists of rows), in any mixture, and answers in that
shape: a number, "" where an argument is blank, or a short message that names the argument. A text
counts as a number only if it is a number and nothing else. No function raises.

Lengths are in any one unit, the same for all lengths of a call, unless the argument says otherwise.
The arithmetic, its assumptions and its sources are those of the room ``measure``. The functions for
crowns and stems are in their own module and are listed here too.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from xlhelpers.doors.excel.cells import (
    Cells,
    answer,
    blank_as_zero,
    by_name,
    names,
    numbers,
    only_where,
)
from xlhelpers.doors.excel.crowns_and_stems import (
    basal_area,
    combined_diameter,
    crown_area,
    crown_depth,
    crown_mean_width,
    crown_ratio,
    crown_volume,
)
from xlhelpers.measure import distances, heights, sightings, slopes, units
from xlhelpers.measure.arrays import Array, Numbers
from xlhelpers.measure.uncertainty import height_from_angles

__all__ = [
    "basal_area",
    "combined_diameter",
    "convert_unit",
    "crown_area",
    "crown_depth",
    "crown_mean_width",
    "crown_ratio",
    "crown_volume",
    "height_above_foot",
    "height_from_straight_distances",
    "height_uncertainty",
    "level_distance",
    "standing_distance",
]
QUANTITIES = (units.LENGTHS, units.AREAS, units.VOLUMES)
UNIT_NAMES = tuple(unit for quantity in QUANTITIES for unit in quantity)
FIXED = "fixed distance"
STEEP = "a reading in degrees must be between -90 and 90"


def height_above_foot(
    point_reading: Cells,
    foot_reading: Cells,
    distance: Cells,
    reading_scale: Cells,
    scale_distance: Cells = None,
    bark_diameter: Cells = None,
) -> Cells:
    """Height of a point (tip, crown top, crown base) above the foot of the tree.

    Parameters
    ----------
    point_reading, foot_reading : cell or range
        Readings to the point and to the foot [unit of the scale], + above the eye, - below.
    distance : cell or range
        Level distance to the centre of the stem, or to the bark where `bark_diameter` is given
        [any length unit, > 0].
    reading_scale : cell or range
        Names of scales [percent, degrees, topographic, fixed distance].
    scale_distance : cell or range, optional
        Distance that a "fixed distance" scale is made for [unit of its readings, > 0]; not used
        for other scales.
    bark_diameter : cell or range, optional
        Diameter of the stem [unit of ``distance``, >= 0], where the distance ends at its bark.

    Returns
    -------
    number, text or list of rows
        Height [unit of ``distance``], negative for a point below the foot.

    References
    ----------
    AwfWikiUndated, trigonometric principle
    """
    scale = names("reading_scale", reading_scale, slopes.SCALES)
    arguments = (
        numbers("point_reading", point_reading),
        numbers("foot_reading", foot_reading),
        numbers("distance", distance, above=0),
        scale,
        only_where(numbers("scale_distance", scale_distance, above=0), scale, FIXED),
        blank_as_zero(numbers("bark_diameter", bark_diameter, at_least=0)),
    )

    def compute(
        point: Array, foot: Array, level: Array, scale: Any, base: Array, stem: Array
    ) -> Numbers:
        point_slope = by_name(scale, lambda name: slopes.slope(point, name, base))
        foot_slope = by_name(scale, lambda name: slopes.slope(foot, name, base))
        from_bark = sightings.height_from_bark(level, point_slope, foot_slope, stem)
        return np.where(stem > 0, from_bark, sightings.height(level, point_slope, foot_slope))

    return answer(arguments, compute, STEEP)


def level_distance(
    slope_distance: Cells, slope_reading: Cells, reading_scale: Cells, scale_distance: Cells = None
) -> Cells:
    """Level distance from a distance along the slope, or straight to the point aimed at.

    Parameters
    ----------
    slope_distance : cell or range
        Distance along the line that was read [any length unit, > 0].
    slope_reading : cell or range
        Reading along that line [unit of the scale], any sign.
    reading_scale, scale_distance : cell or range
        As for ``height_above_foot``.

    Returns
    -------
    number, text or list of rows
        Level distance [unit of ``slope_distance``].

    References
    ----------
    ClinometerLeafletUndated, slope correction
    """
    scale = names("reading_scale", reading_scale, slopes.SCALES)
    arguments = (
        numbers("slope_distance", slope_distance, above=0),
        numbers("slope_reading", slope_reading),
        scale,
        only_where(numbers("scale_distance", scale_distance, above=0), scale, FIXED),
    )

    def compute(length: Array, reading: Array, scale: Any, base: Array) -> Numbers:
        slope = by_name(scale, lambda name: slopes.slope(reading, name, base))
        return distances.level_from_slope(length, slope)

    return answer(arguments, compute, STEEP)


def height_from_straight_distances(
    point_distance: Cells, point_angle: Cells, foot_distance: Cells, foot_angle: Cells
) -> Cells:
    """Height of a point above the foot from two straight distances and their angles (sine method).

    Parameters
    ----------
    point_distance, foot_distance : cell or range
        Straight distances to the point and to the foot [any length unit, > 0].
    point_angle, foot_angle : cell or range
        Angles to the point and to the foot [degrees], + above the eye, between -90 and 90.

    Returns
    -------
    number, text or list of rows
        Height [unit of the distances].

    References
    ----------
    LeverettUndated, sine method
    """
    arguments = (
        numbers("point_distance", point_distance, above=0),
        numbers("point_angle", point_angle, above=-90, below=90),
        numbers("foot_distance", foot_distance, above=0),
        numbers("foot_angle", foot_angle, above=-90, below=90),
    )
    return answer(arguments, heights.from_slant_distances, "these numbers give no height")


def height_uncertainty(
    distance: Cells,
    point_angle: Cells,
    foot_angle: Cells,
    distance_uncertainty: Cells,
    angle_uncertainty: Cells,
) -> Cells:
    """Standard uncertainty of a height from two angles at a level distance, instrument's part.

    Parameters
    ----------
    distance : cell or range
        Level distance to the centre of the stem [any length unit, > 0].
    point_angle, foot_angle : cell or range
        Angles to the point and to the foot [degrees], between -90 and 90.
    distance_uncertainty : cell or range
        Standard uncertainty of the distance [unit of ``distance``, >= 0].
    angle_uncertainty : cell or range
        Standard uncertainty of each angle [degrees, >= 0].

    Returns
    -------
    number, text or list of rows
        Standard uncertainty of the height [unit of ``distance``].

    References
    ----------
    JCGM2008, section 5.1.2
    """
    arguments = (
        numbers("distance", distance, above=0),
        numbers("point_angle", point_angle, above=-90, below=90),
        numbers("foot_angle", foot_angle, above=-90, below=90),
        numbers("distance_uncertainty", distance_uncertainty, at_least=0),
        numbers("angle_uncertainty", angle_uncertainty, at_least=0),
    )
    return answer(arguments, height_from_angles, "these numbers give no uncertainty")


def standing_distance(
    expected_height: Cells, eye_above_foot: Cells, greatest_angle: Cells
) -> Cells:
    """Smallest level distance from which the tip is seen at no more than the greatest angle.

    Parameters
    ----------
    expected_height : cell or range
        Height that the tree may have [any length unit, > 0].
    eye_above_foot : cell or range
        Eye above (+) or below (-) the foot of the tree [same unit].
    greatest_angle : cell or range
        Steepest upward aim wanted [degrees, between 0 and 90].

    Returns
    -------
    number, text or list of rows
        Level distance [same unit]; 0 where the tip is not above the eye.

    References
    ----------
    AschenbachUndated, limits of the three-point routine
    """
    arguments = (
        numbers("expected_height", expected_height, above=0),
        numbers("eye_above_foot", eye_above_foot),
        numbers("greatest_angle", greatest_angle, above=0, below=90),
    )
    impossible = "these numbers give no distance"
    return answer(arguments, distances.smallest_standing_distance, impossible)


def convert_unit(measured_value: Cells, from_unit: Cells, to_unit: Cells) -> Cells:
    """Turn a length, an area or a volume into another unit.

    Parameters
    ----------
    measured_value : cell or range
        Numbers [``from_unit``], any sign.
    from_unit, to_unit : cell or range
        Units of one quantity [m, cm, mm, ft, in; m2, ha, ft2, acre; m3, ft3].

    Returns
    -------
    number, text or list of rows
        The same quantities [``to_unit``].

    References
    ----------
    NIST2008, appendix B (the foot, the inch and the acre)
    """
    arguments = (
        numbers("measured_value", measured_value),
        names("from_unit", from_unit, UNIT_NAMES),
        names("to_unit", to_unit, UNIT_NAMES),
    )
    return answer(arguments, _convert, "from_unit and to_unit do not measure the same quantity")


def _convert(values: Array, old: NDArray[np.str_], new: NDArray[np.str_]) -> Array:
    values, old, new = np.broadcast_arrays(values, old, new)
    out = np.full(values.shape, np.nan)
    for pair in set(zip(old.ravel().tolist(), new.ravel().tolist(), strict=True)):
        if any(pair[0] in quantity and pair[1] in quantity for quantity in QUANTITIES):
            here = (old == pair[0]) & (new == pair[1])
            out[here] = units.convert(values[here], *pair)
    return out
