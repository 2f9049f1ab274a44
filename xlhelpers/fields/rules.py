"""The survey rules: what was agreed before the crews went out, and the limits of the checks."""

from xlhelpers.fields.doubt_rules import DOUBT
from xlhelpers.fields.record import Field, Sheet


def _limit(name: str, label: str, help_text: str, default: float, quantity: str) -> Field:
    return Field(
        name,
        label,
        "number",
        help_text,
        quantity=quantity,
        default=default,
        filled_by="office",
        block="limits",
        low=0.0,
    )


_SURVEY = (
    Field("survey_name", "Name of the survey", "text", "Shown on every tab.", filled_by="office"),
    Field(
        "units",
        "Units",
        "choice",
        "metric: m and cm. us: ft and in. For the whole workbook.",
        choices="units",
        required="always",
        filled_by="office",
        default="metric",
    ),
    Field(
        "survey_kind",
        "Kind of survey",
        "choice",
        "Sample plots, or every tree of a street.",
        choices="survey kind",
        filled_by="office",
        default="sample plots",
    ),
    Field(
        "breast_height",
        "Breast height",
        "number",
        "Above the foot of the tree.",
        quantity="length",
        filled_by="office",
        low=1.0,
        high=1.6,
        default=1.3,
    ),
    Field(
        "smallest_diameter",
        "Smallest diameter",
        "number",
        "Stems below this diameter are not trees of the survey.",
        quantity="diameter",
        filled_by="office",
        low=0.0,
        high=50.0,
        default=5.0,
    ),
    Field(
        "diameter_typed_as",
        "Diameter typed as",
        "choice",
        "What the Diameter column holds: the diameter, or the girth of the stem.",
        choices="diameter typed as",
        filled_by="office",
        default="diameter",
    ),
    Field(
        "crown_base_rule",
        "Crown base rule",
        "choice",
        "Which foliage bounds the crown below.",
        choices="crown base rule",
        filled_by="office",
        default="lowest living foliage",
    ),
    Field(
        "crown_base_gap",
        "Crown base gap",
        "number",
        "A branch this far below the rest of the crown does not count.",
        quantity="length",
        filled_by="office",
        low=0.0,
        high=10.0,
        default=1.5,
    ),
    Field(
        "heights_on",
        "Heights on",
        "choice",
        "Which trees get heights. With 'some trees', a tree without readings is no finding.",
        choices="heights on",
        filled_by="office",
        default="every tree",
    ),
    Field(
        "repeats_wanted",
        "Trees measured twice",
        "number",
        "Share of the trees that are to be measured from a second place.",
        quantity="percent",
        filled_by="office",
        low=0.0,
        high=1.0,
        default=0.05,
    ),
    Field(
        "tape_reads_in",
        "Tape reads in",
        "choice",
        "How distances are written on paper.",
        choices="tape reads in",
        filled_by="office",
        default="metres",
    ),
    Field(
        "shading",
        "Leaf shading factor",
        "number",
        "Share of light that a crown in leaf holds back; used for leaf area only.",
        quantity="number",
        filled_by="office",
        low=0.6,
        high=0.95,
        default=0.83,
    ),
)

_LIMITS = (
    _limit("limit_height", "Greatest height", "A taller tree is asked about.", 60.0, "length"),
    _limit(
        "limit_diameter", "Greatest diameter", "A thicker tree is asked about.", 250.0, "diameter"
    ),
    _limit("limit_width", "Greatest crown width", "A wider crown is asked about.", 40.0, "length"),
    _limit(
        "limit_angle", "Greatest angle", "A steeper reading asks for more distance.", 60.0, "angle"
    ),
    _limit(
        "limit_distance_share",
        "Least distance as share of the height",
        "Standing nearer than this share of the tree's height is asked about.",
        0.5,
        "percent",
    ),
    _limit(
        "limit_dead_top", "Dead top from", "A shorter dead tip is not a dead top.", 1.0, "length"
    ),
    _limit(
        "limit_eye",
        "Eye height may differ by",
        "Implied height of the eye above the foot against the person's own eye height.",
        0.45,
        "length",
    ),
    _limit(
        "limit_level",
        "Level ground up to",
        "A plot up to this slope counts as near level.",
        0.10,
        "percent",
    ),
    _limit(
        "limit_repeat",
        "Set-ups may differ by",
        "Two set-ups of a tree; or 2.5 % of the height where that is more.",
        0.5,
        "length",
    ),
    _limit(
        "limit_recorded",
        "Recorded values may differ by",
        "A recorded crown depth or mean width against the computed one.",
        0.05,
        "length",
    ),
    _limit(
        "limit_steps",
        "Steps in a row",
        "So many equal steps in a column look dragged.",
        4.0,
        "count",
    ),
)

RULES = Sheet(
    "rule",
    "Survey rules",
    "Survey rules",
    "Agreed before the crews go out. One line each; the grey column says what it means.",
    _SURVEY + _LIMITS + DOUBT,
    row_word="rule",
    prepared_rows=0,
)

# Round figures of a us survey, where the metric default converted would not be one (inner unit).
US_DEFAULTS: dict[str, float | str] = {
    "units": "us",
    "breast_height": 4.5 * 0.3048,
    "smallest_diameter": 2.0 * 2.54,
    "crown_base_gap": 5.0 * 0.3048,
    "tape_reads_in": "tenths of feet",
    "limit_height": 200.0 * 0.3048,
    "limit_diameter": 100.0 * 2.54,
    "limit_width": 130.0 * 0.3048,
    "limit_dead_top": 3.0 * 0.3048,
    "limit_eye": 1.5 * 0.3048,
    "limit_repeat": 1.6 * 0.3048,
    "limit_recorded": 0.2 * 0.3048,
}
