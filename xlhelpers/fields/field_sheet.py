"""The columns of the field sheet: the main run, the folded block, and the result columns.

Columns 1 to 13 are the main run, in the order of the paper sheet; the first warning stands beside
it. The block "needed" is folded away until a line asks for it; "recorded" holds what a sheet
carries from elsewhere, with tag and position; "radii" are the crown radii of surveys that measure
these; "live" is computed on every line, with the help of the folded block "helper"; "tree" is
filled on the line of set-up 1 only.
"""

from typing import Any

from xlhelpers.fields.places import NOTE_HELP
from xlhelpers.fields.record import Field, Sheet

_SIGN = "Above eye level +, below eye level −. 0 is a reading; leave blank what was not read."
_NOT_USED = "compared with the computed one, not used."
# what a formula says of a height that only fill computes is to fit into the cell
_WITH_FILL = 12.0


def _length(name: str, label: str, help_text: str, low: float, high: float, **more: Any) -> Field:
    return Field(name, label, "number", help_text, quantity="length", low=low, high=high, **more)


def _reading(name: str, label: str, help_text: str, *synonyms: str, **more: Any) -> Field:
    return Field(
        name,
        label,
        "number",
        f"{help_text} {_SIGN}",
        quantity="reading",
        low=-600.0,
        high=600.0,
        synonyms=synonyms,
        **more,
    )


def _result(
    name: str, label: str, help_text: str, quantity: str | None, block: str, width: float = 9.0
) -> Field:
    return Field(
        name,
        label,
        "computed",
        help_text,
        quantity=quantity,
        filled_by="program",
        block=block,
        width=width,
    )


def _headings(*words: str) -> tuple[str, ...]:
    """Return the headings that name a crown width by its direction."""
    return tuple(
        heading.format(word)
        for word in words
        for heading in ("{}", "crown width {}", "crown width, {}", "crown {}", "width {}")
    )


def _radius(name: str, direction: str, help_text: str) -> Field:
    label = f"Crown radius, {direction}"
    letter = direction[0]
    return _length(
        name,
        label,
        help_text,
        0.0,
        50.0,
        block="radii",
        synonyms=(
            f"crown radius {direction}",
            f"radius {direction}",
            f"{direction} radius",
            f"crown radius {letter}",
            f"radius {letter}",
        ),
    )


MAIN = (
    Field("plot", "Plot", "identifier", "Number of the plot, on every line.",
          required="always", width=7, synonyms=("plot no", "plot number", "street")),
    Field("tree", "Tree", "identifier", "Number of the tree within its plot.",
          required="always", width=7, synonyms=("tree no", "tree number", "tree id")),
    Field("setup", "Set-up", "number",
          "Blank for the first place (station). 2, 3 … when the tree was measured from another "
          "place as well.",
          quantity="count", required="when it applies", low=1, high=20, width=7,
          synonyms=("setup", "set up", "station")),
    Field("species", "Species", "text",
          "Botanical or common name from the sheet Species. A name that is not listed is kept.",
          required="always", width=24, synonyms=("tree species", "name of the tree")),
    Field("condition", "Condition", "choice",
          "Blank: living. T: living with a dead top. C: living, cut back (topped, pollarded, "
          "under wires). D: dead, standing.",
          choices="condition", required="when it applies", width=9),
    Field("diameter", "Diameter", "number",
          "Stem diameter at breast height (DBH). Of several stems the thickest; the rest go into "
          "Other stems.",
          quantity="diameter", required="always", low=0.1, high=1000.0, width=12.5,
          headed="Diameter, DBH",
          synonyms=("dbh", "diameter dbh", "diameter at breast height", "stem diameter")),
    _length("width_widest", "Crown width, widest",
            "Widest width of the living crown. In fixed directions (see Survey rules): the width "
            "north-south, or along the street.", 0.0, 80.0,
            required="always",
            synonyms=("crown width widest", "widest crown width", "crown width 1",
                      *_headings("north-south", "north south", "n-s", "ns"),
                      *_headings("along the street", "along street", "parallel to the street"))),
    _length("width_across", "Crown width, across",
            "Width of the crown at right angles to the first one. In fixed directions: east-west, "
            "or across the street.", 0.0, 80.0,
            required="always",
            synonyms=("crown width across", "crown width 2",
                      *_headings("east-west", "east west", "e-w", "ew"),
                      *_headings("across the street", "across street"))),
    _length("distance", "Distance",
            "From the instrument to the stem. Level (horizontal), unless the plot's kind of "
            "distance says otherwise.", 0.5, 300.0,
            required="always",
            synonyms=("distance to tree", "level distance to tree", "horizontal distance",
                      "horiz distance", "horizontal distance to tree")),
    _reading("foot_reading", "Foot reading",
             "To the foot: the highest ground at the stem (base of the tree, ground line).",
             "reading to the foot", "foot", "tree base reading", "ground line reading",
             "reading to the ground line", required="always"),
    _reading("base_reading", "Crown base reading",
             "To the lowest living foliage of the main crown, level with the stem.",
             "reading to the crown base", "live crown base reading",
             "reading to the live crown base", required="always"),
    _reading("top_reading", "Crown top reading",
             "Only for a dead top (T): to the highest living shoot.",
             "reading to the crown top", "live crown top reading", "reading to the live crown top",
             required="when it applies"),
    _reading("tip_reading", "Tip reading",
             "To the tip: the highest point of the tree, living or dead (tree top).",
             "reading to the tip", "tip", "tree top", "tree top reading", "reading to the tree top",
             required="always"),
)  # fmt: skip
NEEDED = (
    Field("other_stems", "Other stems", "stems",
          "Diameters of the other stems with spaces between, such as 24 18 9. The thickest comes "
          "first.",
          quantity="diameter", low=0.1, high=1000.0, block="needed", width=12),
    _length("diameter_at", "Diameter measured at",
            "Height above the foot, if not at breast height. The diameter is not corrected for it.",
            0.0, 5.0, block="needed"),
    Field("foot_above_eye", "Foot above eye", "tick",
          "Mark with x when the foot of the tree is above your eye. The foot reading is then +.",
          block="needed", width=7),
    _length("mark_above_foot", "Mark above foot",
            "When the foot is hidden: height above the foot of the mark that was aimed at instead.",
            0.01, 20.0, block="needed"),
    Field("instrument", "Instrument", "identifier", "Only if it is not the plot's instrument.",
          block="needed", width=12),
    Field("scale", "Scale read", "choice", "Only if it is not the plot's scale.",
          choices="scale", block="needed", width=11, synonyms=("scale",)),
    Field("distance_kind", "Distance kind", "choice",
          "Only if it is not the plot's kind of distance.",
          choices="distance kind", block="needed", width=13),
    Field("slope_reading", "Slope reading", "number",
          "For a distance along the slope: reading to a mark on the stem at the height of the eye.",
          quantity="reading", low=-300.0, high=300.0, block="needed"),
    _length("base_by_pole", "Crown base by pole or tape",
            "Height of the crown base above the foot (height to live crown base), measured "
            "directly.",
            0.0, 60.0, block="needed", width=10,
            synonyms=("height to live crown base", "height to crown base")),
    _length("tip_offset", "Tip offset",
            "For a leaning tree: level distance from the foot to the point below the tip. + toward "
            "you.", -40.0, 40.0, block="needed"),
    _length("base_straight", "Straight distance to crown base",
            "From the instrument to the crown base along the line of sight.",
            0.5, 300.0, block="needed", width=10,
            synonyms=("slant distance to crown base", "line of sight to crown base")),
    _length("top_straight", "Straight distance to crown top",
            "From the instrument to the crown top along the line of sight.",
            0.5, 300.0, block="needed", width=10,
            synonyms=("slant distance to crown top", "line of sight to crown top")),
    _length("tip_straight", "Straight distance to tip",
            "From the instrument to the tip along the line of sight.",
            0.5, 300.0, block="needed", width=10,
            synonyms=("slant distance to tip", "line of sight to tip", "slant distance to tree top",
                      "line of sight to tree top")),
    _length("station_step", "Step to station 2",
            "When the distance cannot be measured: level distance between two stations in line "
            "with the tree. Leave Distance blank. The other readings are from the first station.",
            0.5, 100.0, block="needed", width=10),
    _reading("second_tip_reading", "Tip reading 2",
             "To the same tip from the second station.", block="needed", width=10),
    _reading("second_foot_reading", "Foot reading 2",
             "To the same foot from the second station. Blank if both stations are on one level.",
             block="needed", width=10),
    _length("height_by_eye", "Height by eye",
            "Total height as estimated. Kept apart from measured heights (see Survey rules).",
            0.1, 130.0, block="needed", width=10, synonyms=("estimated height", "height estimate")),
    Field("bearing", "Bearing", "number", "From the plot centre to the tree, from north.",
          quantity="bearing", low=0.0, high=360.0, block="needed"),
    _length("centre_distance", "Distance from plot centre",
            "Level (horizontal) distance from the plot centre to the stem.",
            0.0, 300.0, block="needed", width=10),
    Field("group", "Group", "text",
          "A word of your own to sort the trees by, for example who owns them.",
          block="needed", width=12),
    Field("missing_because", "Reason for a blank", "text",
          "NOT SAFE, NO ACCESS, NOT SEEN, NOT ASKED, UNREADABLE or ?. On level ground without a "
          "foot reading, type EYE HEIGHT. The first crew member's eye height is then used.",
          block="needed", width=16, former="Left out or missing because"),
    Field("note", "Note", "text", NOTE_HELP, block="needed", width=24),
)  # fmt: skip
RECORDED = (
    _length("recorded_depth", "Recorded crown depth",
            f"Crown depth (live crown length) from another source: {_NOT_USED}",
            0.0, 130.0, block="recorded", width=10,
            synonyms=("live crown length", "crown length", "crown depth on the sheet")),
    _length("recorded_width", "Recorded mean width",
            f"Mean crown width from another source: {_NOT_USED}",
            0.0, 80.0, block="recorded", width=10),
    _length("recorded_height", "Recorded height",
            f"Total height from another source: {_NOT_USED}",
            0.0, 130.0, block="recorded", width=10,
            synonyms=("total height on the sheet", "height on the sheet")),
    Field("tag", "Tag", "identifier", "Number or letters on the tag of the tree.",
          block="recorded", width=10, synonyms=("tag number", "tag no", "tree tag")),
    Field("latitude", "Latitude", "number",
          "Of the tree, in decimal degrees (WGS 84). South is −.",
          quantity="position", low=-90.0, high=90.0, block="recorded", width=11,
          synonyms=("lat", "latitude wgs 84")),
    Field("longitude", "Longitude", "number",
          "Of the tree, in decimal degrees (WGS 84). West is −.",
          quantity="position", low=-180.0, high=180.0, block="recorded", width=11,
          synonyms=("lon", "long", "lng", "longitude wgs 84")),
)  # fmt: skip
_RADIUS = "From the centre of the stem to the edge of the living crown, level."
RADII = (
    _radius("radius_north", "north", f"{_RADIUS} Only if the survey rules say four radii."),
    _radius("radius_east", "east", _RADIUS),
    _radius("radius_south", "south", _RADIUS),
    _radius("radius_west", "west", _RADIUS),
)
_THIS_LINE = "From this line. What only fill can compute is on the tab Trees."
LIVE = (
    _result("live_distance", "Level distance", "Horizontal distance, from this line.",
            "length", "live"),
    _result("live_base", "Crown base", f"Height above the foot. {_THIS_LINE}",
            "length", "live", _WITH_FILL),
    _result("live_top", "Crown top", f"Height above the foot. {_THIS_LINE}",
            "length", "live", _WITH_FILL),
    _result("live_total", "Total height", f"Height of the tip above the foot. {_THIS_LINE}",
            "length", "live", _WITH_FILL),
    _result("live_depth", "Crown depth", f"Crown top minus crown base. {_THIS_LINE}",
            "length", "live", _WITH_FILL),
)  # fmt: skip
WARNING = Field(
    "live_warning", "First warning", "computed", "The first thing on this line to check.",
    filled_by="program", block="live", width=38, former="Look at",
)  # fmt: skip
_MEAN = "Mean of the tree's set-ups."
TREE = (
    _result("tree_total", "Total height (tree)", _MEAN, "length", "tree"),
    _result("tree_top", "Crown top (tree)", _MEAN, "length", "tree"),
    _result("tree_base", "Crown base (tree)", _MEAN, "length", "tree"),
    _result("tree_depth", "Crown depth (tree)", "Mean crown top minus mean crown base.",
            "length", "tree"),
    _result("tree_ratio", "Live crown ratio (tree)", "Crown depth as % of total height.",
            "percent", "tree"),
    _result("tree_setups", "Set-ups (tree)", "Number of set-ups that gave the total height.",
            "count", "tree"),
    _result("tree_u_total", "± total height (tree)",
            "Standard uncertainty of the total height, the instrument's part.", "length", "tree"),
    _result("tree_u_depth", "± crown depth (tree)",
            "Standard uncertainty of the crown depth, the instrument's part.", "length", "tree"),
    _result("tree_findings", "Findings (tree)", "What to check on this tree, in plain words.",
            None, "tree", 60),
)  # fmt: skip


def _helper(name: str, label: str, help_text: str, width: float = 9.0) -> Field:
    return _result(name, label, help_text, None, "helper", width)


# Folded away: what the formulas of the live columns read, so that each stays short
HELPER = (
    _helper("helper_plot", "Row of the plot", "Row of this plot on the sheet Plots."),
    _helper("helper_instrument", "Row of the instrument", "Row on the sheet Instruments."),
    _helper("helper_scale", "Scale used", "The line's, or if blank the plot's.", 12),
    _helper("helper_kind", "Kind of distance used", "The line's, or if blank the plot's.", 12),
    _helper("helper_typed", "Numbers typed as text", "In plain signs, each in its place.", 18),
    _helper("helper_shape", "Shapes of the texts", "The same texts, each number as one 0.", 18),
    _helper("helper_digits", "Digits of the texts", "The same texts without units and signs.", 18),
    *(
        _helper(f"number_{field.name}", f"{field.label}, as a number", "Also if typed as text.")
        for field in MAIN
        if field.kind == "number" and field.name != "setup"
    ),
    _helper("helper_condition", "Condition used", "The line's, or what its readings imply."),
    _helper("helper_divisor", "Base of the scale", "Reading divided by base is the slope."),
    _helper("helper_measured", "Tree measured here", "Plot and tree of a line with a diameter."),
    _helper("helper_found", "Line of the tree near by", "Position of the line with its diameter."),
    _helper("helper_stem", "Diameter to the bark", "Of the tree, where distances end at the bark."),
    _helper("helper_eye", "Eye above the foot", "From the foot reading, or as declared."),
    _helper("helper_unread", "Texts not understood", "Entries that no formula reads.", 18),
    _helper("helper_fill", "Read by fill", "An entry that only fill can read.", 18),
    _helper("helper_odd", "Odd cells", "An entry that is not a number.", 18),
    _helper("helper_missing", "Missing", "What is missing for the height or the crown.", 18),
    _helper(
        "helper_count", "Counted on Plots", "The line, its warning and its tree, in one number."
    ),
)
# the formulas of earlier workbooks, each in a column of its own
RETIRED = (
    _helper("helper_foot", "Slope to the foot", "Tangent of the angle."),
    _helper("helper_base", "Slope to the crown base", "Tangent of the angle."),
    _helper("helper_top", "Slope to the crown top", "Tangent of the angle."),
    _helper("helper_tip", "Slope to the tip", "Tangent of the angle."),
    _helper("helper_along", "Slope of the distance", "Tangent of the angle."),
    _helper("helper_half", "From bark to centre", "Half the stem where distances end at the bark."),
)
FIELD_SHEET = Sheet(
    "line",
    "Field sheet",
    "Field sheet",
    "One line for each set-up, in the order of the paper sheet.",
    (*MAIN, WARNING, *NEEDED, *RECORDED, *RADII, *LIVE, *TREE, *HELPER),
    row_word="line",
    prepared_rows=400,
    retired=RETIRED,
)
MAIN_READINGS = ("foot_reading", "base_reading", "top_reading", "tip_reading")
