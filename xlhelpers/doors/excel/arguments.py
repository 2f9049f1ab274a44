"""What each argument and each function says of itself in the spreadsheet.

The texts of arguments that are columns of the field sheet are those of the columns. The classic
route cuts every text at 255 characters, so none is longer.
"""

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.record import Field
from xlhelpers.measure.slopes import SCALES
from xlhelpers.measure.solids import SOLIDS

__all__ = [
    "ARGUMENTS",
    "LONGEST",
]
LONGEST = 255
ONE_UNIT = " Any unit of length, the same in the whole call."
DEGREES = "In degrees, + above eye level and - below, between -90 and 90."


def _column(name: str, more: str = "") -> str:
    record: Field = FIELD_SHEET[name]
    return record.help + more


ARGUMENTS: dict[str, str] = {
    "point_reading": "Reading to the point whose height is wanted: tip, crown top or crown base. "
    "Above eye level +, below eye level -.",
    "foot_reading": _column("foot_reading"),
    "distance": "Level distance from the instrument to the centre of the stem; above 0. "
    "The height comes in its unit.",
    "reading_scale": f"The scale that was read: {', '.join(SCALES)}.",
    "scale_distance": "Only for the scale “fixed distance”: the distance that it was made for, "
    "such as 15, 20 or 66, in the unit of its readings.",
    "slope_distance": "Distance along the line that was read; above 0. "
    "The level distance comes in its unit.",
    "slope_reading": _column("slope_reading"),
    "point_distance": "Straight distance from the instrument to the point whose height is wanted; "
    "above 0." + ONE_UNIT,
    "point_angle": "Angle to the point whose height is wanted. " + DEGREES,
    "foot_distance": "Straight distance from the instrument to the foot of the stem; above 0."
    + ONE_UNIT,
    "foot_angle": "Angle to the foot of the stem. " + DEGREES,
    "crown_top": "Height of the highest living shoot above the foot." + ONE_UNIT,
    "crown_base": "Height of the lowest living foliage of the connected crown above the foot."
    + ONE_UNIT,
    "total_height": "Height of the tip above the foot, living or dead." + ONE_UNIT,
    "width_widest": _column("width_widest", ONE_UNIT),
    "width_across": _column("width_across", ONE_UNIT),
    "crown_outline": f"The solid that the crown is taken for: {', '.join(SOLIDS)}.",
    "depth_of_crown": "Crown top minus crown base; above 0." + ONE_UNIT,
    "stem_diameters": "Diameters of all stems, one tree a row; a blank cell counts as no stem."
    + ONE_UNIT,
    "stem_diameter": "Stem diameter at breast height; above 0.",
    "diameter_unit": "Unit of the diameter: cm gives square metres, in gives square feet.",
    "distance_uncertainty": "Standard uncertainty of the distance, in its unit; 0 or more.",
    "angle_uncertainty": "Standard uncertainty of each angle, in degrees; 0 or more.",
    "expected_height": "Height that the tree may have; above 0." + ONE_UNIT,
    "eye_above_foot": "How far the eye is above (+) or below (-) the foot of the tree." + ONE_UNIT,
    "greatest_angle": "Steepest upward aim wanted, in degrees between 0 and 90; commonly 45.",
    "measured_value": "Length, area or volume.",
    "from_unit": "Unit of the value: m, cm, mm, ft, in; m2, ha, ft2, acre; m3, ft3.",
    "to_unit": "Unit wanted, of the same quantity: m, cm, mm, ft, in; m2, ha, ft2, acre; m3, ft3.",
}
"""Text of each argument, by its name."""
