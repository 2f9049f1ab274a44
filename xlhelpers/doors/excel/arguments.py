"""Help texts of the arguments in the spreadsheet.

Arguments that are columns of the field sheet have the help of the column. The add-in cuts every
text at 255 characters, so none is longer.
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
ONE_UNIT = " Any unit of length, the same for all arguments."
DEGREES = "In degrees, + above eye level and - below, between -90 and 90."


def _column(name: str, more: str = "") -> str:
    record: Field = FIELD_SHEET[name]
    return record.help + more


ARGUMENTS: dict[str, str] = {
    "point_reading": "Reading to the point whose height you want: tip, crown top or crown base. "
    "Above eye level +, below eye level -.",
    "foot_reading": _column("foot_reading"),
    "distance": "Level distance from the instrument to the centre of the stem, above 0. "
    "The height has the same unit.",
    "reading_scale": f"Scale of the readings: {', '.join(SCALES)}.",
    "scale_distance": "Only for the scale “fixed distance”: the distance that it is made for, "
    "such as 15, 20 or 66, in the unit of its readings.",
    "bark_diameter": "Only if the distance ends at the bark, as with a laser: the diameter of the "
    "stem, in the unit of the distance.",
    "slope_distance": "Distance along the line of the reading, above 0. "
    "The level distance has the same unit.",
    "slope_reading": _column("slope_reading"),
    "point_distance": "Straight distance from the instrument to the point whose height you want, "
    "above 0." + ONE_UNIT,
    "point_angle": "Angle to the point whose height you want. " + DEGREES,
    "foot_distance": "Straight distance from the instrument to the foot of the stem, above 0."
    + ONE_UNIT,
    "foot_angle": "Angle to the foot of the stem. " + DEGREES,
    "crown_top": "Height of the highest living shoot above the foot." + ONE_UNIT,
    "crown_base": "Height of the lowest living foliage of the main crown above the foot."
    + ONE_UNIT,
    "total_height": "Height of the tip above the foot, living or dead." + ONE_UNIT,
    "width_widest": _column("width_widest", ONE_UNIT),
    "width_across": _column("width_across", ONE_UNIT),
    "crown_outline": f"Shape of the crown: {', '.join(SOLIDS)}.",
    "depth_of_crown": "Crown top minus crown base, above 0." + ONE_UNIT,
    "stem_diameters": "Diameters of all stems, one tree in each row. A blank cell means no stem."
    + ONE_UNIT,
    "stem_diameter": "Stem diameter at breast height, above 0.",
    "diameter_unit": "Unit of the diameter: cm gives m2, in gives ft2.",
    "distance_uncertainty": "Standard uncertainty of the distance, in its unit, 0 or more.",
    "angle_uncertainty": "Standard uncertainty of each angle, in degrees, 0 or more.",
    "expected_height": "Height that the tree probably has, above 0." + ONE_UNIT,
    "eye_above_foot": "How far the eye is above (+) or below (-) the foot of the tree." + ONE_UNIT,
    "greatest_angle": "Steepest upward aim that you want, in degrees between 0 and 90. Often 45.",
    "measured_value": "Length, area or volume.",
    "from_unit": "Unit of the value: m, cm, mm, ft, in; m2, ha, ft2, acre; m3, ft3.",
    "to_unit": "New unit, of the same quantity: m, cm, mm, ft, in; m2, ha, ft2, acre; m3, ft3.",
}
"""Text of each argument, by its name."""
