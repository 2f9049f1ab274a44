# mypy: allow-untyped-defs, allow-untyped-decorators, allow-untyped-calls
"""The functions as the spreadsheet sees them: names and help of the arguments.

They serve both the add-in on Windows and the runtime inside the spreadsheet. There are no type
hints, because both would read them as converters.
"""

from xlwings import arg, func

from xlhelpers.doors.excel import functions
from xlhelpers.doors.excel.arguments import ARGUMENTS

CATEGORY = "Tree measures"


def _cells(name):
    """Pass a cell or a range as rows, with errors as texts so that none looks blank."""
    return arg(name, ndim=2, err_to_str=True, doc=ARGUMENTS[name])


@func(category=CATEGORY)
@_cells("point_reading")
@_cells("foot_reading")
@_cells("distance")
@_cells("reading_scale")
@_cells("scale_distance")
@_cells("bark_diameter")
def height_above_foot(
    point_reading, foot_reading, distance, reading_scale, scale_distance=None, bark_diameter=None
):
    """Height of a point above the foot, from two readings on any scale and the distance."""
    return functions.height_above_foot(
        point_reading, foot_reading, distance, reading_scale, scale_distance, bark_diameter
    )


@func(category=CATEGORY)
@_cells("slope_distance")
@_cells("slope_reading")
@_cells("reading_scale")
@_cells("scale_distance")
def level_distance(slope_distance, slope_reading, reading_scale, scale_distance=None):
    """Level distance from a distance along a slope, or a straight one, and the reading along it."""
    return functions.level_distance(slope_distance, slope_reading, reading_scale, scale_distance)


@func(category=CATEGORY)
@_cells("point_distance")
@_cells("point_angle")
@_cells("foot_distance")
@_cells("foot_angle")
def height_from_straight_distances(point_distance, point_angle, foot_distance, foot_angle):
    """Height of a point above the foot from straight distances and angles to both (sine method)."""
    return functions.height_from_straight_distances(
        point_distance, point_angle, foot_distance, foot_angle
    )


@func(category=CATEGORY)
@_cells("distance")
@_cells("point_angle")
@_cells("foot_angle")
@_cells("distance_uncertainty")
@_cells("angle_uncertainty")
def height_uncertainty(distance, point_angle, foot_angle, distance_uncertainty, angle_uncertainty):
    """Standard uncertainty of a height from two angles, for the instrument alone."""
    return functions.height_uncertainty(
        distance, point_angle, foot_angle, distance_uncertainty, angle_uncertainty
    )


@func(category=CATEGORY)
@_cells("expected_height")
@_cells("eye_above_foot")
@_cells("greatest_angle")
def standing_distance(expected_height, eye_above_foot, greatest_angle):
    """Smallest level distance from which the tip is seen at no more than the greatest angle."""
    return functions.standing_distance(expected_height, eye_above_foot, greatest_angle)


@func(category=CATEGORY)
@_cells("measured_value")
@_cells("from_unit")
@_cells("to_unit")
def convert_unit(measured_value, from_unit, to_unit):
    """A length, an area or a volume in another unit."""
    return functions.convert_unit(measured_value, from_unit, to_unit)


@func(category=CATEGORY)
@_cells("crown_top")
@_cells("crown_base")
def crown_depth(crown_top, crown_base):
    """Depth of the living crown: crown top minus crown base."""
    return functions.crown_depth(crown_top, crown_base)


@func(category=CATEGORY)
@_cells("crown_top")
@_cells("crown_base")
@_cells("total_height")
def crown_ratio(crown_top, crown_base, total_height):
    """Live crown ratio: crown depth over total height, as a fraction."""
    return functions.crown_ratio(crown_top, crown_base, total_height)


@func(category=CATEGORY)
@_cells("width_widest")
@_cells("width_across")
def crown_mean_width(width_widest, width_across):
    """Mean of the two crown widths."""
    return functions.crown_mean_width(width_widest, width_across)


@func(category=CATEGORY)
@_cells("width_widest")
@_cells("width_across")
def crown_area(width_widest, width_across):
    """Ground area under the crown, as an ellipse on its two widths."""
    return functions.crown_area(width_widest, width_across)


@func(category=CATEGORY)
@_cells("crown_outline")
@_cells("width_widest")
@_cells("width_across")
@_cells("depth_of_crown")
def crown_volume(crown_outline, width_widest, width_across, depth_of_crown):
    """Volume of the crown, as a solid on the ellipse of its two widths."""
    return functions.crown_volume(crown_outline, width_widest, width_across, depth_of_crown)


@func(category=CATEGORY)
@_cells("stem_diameters")
def combined_diameter(stem_diameters):
    """One diameter for all stems of a tree, from their basal areas; one tree in each row."""
    return functions.combined_diameter(stem_diameters)


@func(category=CATEGORY)
@_cells("stem_diameter")
@_cells("diameter_unit")
def basal_area(stem_diameter, diameter_unit):
    """Cross-section of the stem at the height of its diameter."""
    return functions.basal_area(stem_diameter, diameter_unit)
