"""The survey rules, and among them the limits of the doubt, each with its basis."""

from xlhelpers.fields.record import Field, Sheet

BLOCK = "doubt"
TRIED = "Set on open tree data of six cities with simulated mistakes (McPherson et al. 2016)."
PRACTICE = "Common practice, no source."
DIGITS = "Usage of the United Nations for Whipple's index."
BASES = (TRIED, PRACTICE, DIGITS)


def _doubt_limit(
    name: str, label: str, words: str, default: float, quantity: str, low: float
) -> Field:
    return Field(
        name,
        label,
        "number",
        words,
        quantity=quantity,
        default=default,
        filled_by="office",
        block=BLOCK,
        low=low,
    )


DOUBT: tuple[Field, ...] = (
    _doubt_limit(
        "doubt_odds", "Ask about a line from odds of",
        f"Odds that a mistake was made; lower asks about more lines. {TRIED}",
        0.15, "number", 0.001,
    ),
    _doubt_limit(
        "doubt_named", "Name a cause from a share of",
        f"A cause is named if it holds this share of the explanation. {TRIED}",
        0.08, "percent", 0.001,
    ),
    _doubt_limit(
        "doubt_beats_unknown", "A cause explains better by",
        f"So many times better than a mistake of which nothing is known. {TRIED}",
        5.0, "number", 0.1,
    ),
    _doubt_limit(
        "doubt_settled", "Only state one limit below odds of",
        f"If all else fits, a single exceeded limit is a note and no warning. {TRIED}",
        0.1, "number", 0.0001,
    ),
    _doubt_limit(
        "doubt_batch_odds", "Ask about a whole plot from odds of",
        f"Odds that a plot, a day or an instrument was read on another scale. {TRIED}",
        1000.0, "number", 1.0,
    ),
    _doubt_limit(
        "doubt_batch_lines", "Fewest lines of such a group",
        f"With fewer lines each is asked about alone. {PRACTICE}",
        5.0, "count", 2.0,
    ),
    _doubt_limit(
        "strangers_wanted", "Ask if diameters are the trees' own from",
        f"So many spreads own ones would fit better than dealt ones, or too little shows. {TRIED}",
        6.0, "number", 3.0,
    ),
    _doubt_limit(
        "strangers_fit", "Diameters are other trees' below",
        f"So many spreads better than dealt ones; those of other trees fit by about 0. {TRIED}",
        2.5, "number", 0.0,
    ),
    _doubt_limit(
        "reference_weight", "Open tree data count as",
        f"So many trees of the survey's own; more of these outweigh them. {TRIED}",
        20.0, "count", 1.0,
    ),
    _doubt_limit(
        "habit_weight", "Habits of all count as",
        f"So many lines of a person's own; more of these outweigh them. {TRIED}",
        10.0, "count", 1.0,
    ),
    _doubt_limit(
        "heaping_readings", "Look at last digits from",
        f"Fewest readings of one person before their last digits are counted. {PRACTICE}",
        100.0, "count", 10.0,
    ),
    _doubt_limit(
        "heaping_index", "Last digits 0 and 5 from index",
        f"100 where they are as frequent as all others, 500 where there are no others. {DIGITS}",
        175.0, "count", 100.0,
    ),
    _doubt_limit(
        "same_distance_lines", "One distance for all from",
        f"So many lines of a plot with one distance are asked about. {PRACTICE}",
        8.0, "count", 3.0,
    ),
    _doubt_limit(
        "check_days", "Instrument checks last",
        f"Days after which a check of an instrument is not recent. {PRACTICE}",
        366.0, "count", 1.0,
    ),
)  # fmt: skip


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
    _limit(
        "limit_height",
        "Greatest height",
        "A taller tree is asked about. Common practice, no source.",
        60.0,
        "length",
    ),
    _limit(
        "limit_diameter",
        "Greatest diameter",
        "A thicker tree is asked about. Common practice, no source.",
        250.0,
        "diameter",
    ),
    _limit(
        "limit_width",
        "Greatest crown width",
        "A wider crown is asked about. Common practice, no source.",
        40.0,
        "length",
    ),
    _limit(
        "limit_angle",
        "Greatest angle",
        "A steeper reading asks for more distance. Aschenbach (undated).",
        60.0,
        "angle",
    ),
    _limit(
        "limit_distance_share",
        "Least distance as share of the height",
        "Standing nearer than this is asked about. After a guideline of New South Wales.",
        0.5,
        "percent",
    ),
    _limit(
        "limit_dead_top",
        "Dead top from",
        "A shorter dead tip is not a dead top. Common practice, no source.",
        1.0,
        "length",
    ),
    _limit(
        "limit_eye",
        "Eye height may differ by",
        "Implied height of the eye against the person's own. Common practice, no source.",
        0.45,
        "length",
    ),
    _limit(
        "limit_level",
        "Level ground up to",
        "A plot up to this slope counts as near level. Common practice, no source.",
        0.10,
        "percent",
    ),
    _limit(
        "limit_repeat",
        "Set-ups may differ by",
        "Two set-ups of a tree; or 2.5 % of the height where that is more. Brack & Wood (1998).",
        0.5,
        "length",
    ),
    _limit(
        "limit_recorded",
        "Recorded values may differ by",
        "A recorded depth or width against the computed one. Common practice, no source.",
        0.05,
        "length",
    ),
    _limit(
        "limit_steps",
        "Steps in a row",
        "So many equal steps in a column look dragged. Common practice, no source.",
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
