"""The survey rules: what was agreed, the limits of the checks, and the advanced limits of doubt.

The doubt's limits are odds and weights that were set by trials; the sheet folds them away. Those
that a clerk can judge are among the limits of the checks.
"""

from typing import Any

from xlhelpers.fields.record import Field, Kind, Sheet

ADVANCED = "advanced"
TRIED = "Set on open tree data of six cities with simulated mistakes (McPherson et al. 2016)."
PRACTICE = "Common practice, no source."
DIGITS = "Usage of the United Nations for Whipple's index."
OWN = "This project's own rule."
SOURCES = (TRIED, PRACTICE, DIGITS, OWN)


def _rule(name: str, label: str, kind: Kind, help_text: str, **more: Any) -> Field:
    return Field(name, label, kind, help_text, filled_by="office", **more)


def _limit(
    name: str, former: str, label: str, help_text: str, default: float, quantity: str, source: str
) -> Field:
    return _rule(
        name, label, "number", help_text,
        quantity=quantity, default=default, block="limits", low=0.0, former=former, source=source,
    )  # fmt: skip


def _doubt(
    name: str, former: str, label: str, help_text: str, default: float, quantity: str, low: float,
    *, source: str = TRIED, block: str = ADVANCED,
) -> Field:  # fmt: skip
    return _rule(
        name, label, "number", help_text,
        quantity=quantity, default=default, block=block, low=low, former=former, source=source,
    )  # fmt: skip


_SURVEY = (
    _rule("survey_name", "Name of the survey", "text", "Shown on every tab."),
    _rule("units", "Units", "choice", "metric: m and cm. us: ft and in. For the whole workbook.",
          choices="units", required="always", default="metric"),
    _rule("survey_kind", "Kind of survey", "choice", "Sample plots, or every tree in a street.",
          choices="survey kind", default="sample plots"),
    _rule("breast_height", "Breast height", "number", "Above the foot of the tree.",
          quantity="length", low=1.0, high=1.6, default=1.3),
    _rule("smallest_diameter", "Smallest diameter", "number", "Thinner stems are not counted.",
          quantity="diameter", low=0.0, high=50.0, default=5.0),
    _rule("diameter_typed_as", "Diameter column holds", "choice",
          "The diameter (DBH), or the girth (circumference) of the stem.",
          choices="diameter typed as", default="diameter", former="Diameter typed as"),
    _rule("crown_base_rule", "Crown base is at", "choice", "Where the crown starts.",
          choices="crown base rule", default="lowest living foliage", former="Crown base rule"),
    _rule("crown_base_gap", "Largest gap in the crown", "number",
          "A branch farther below the rest does not count.",
          quantity="length", low=0.0, high=10.0, default=1.5, former="Crown base gap"),
    _rule("crown_depth", "Crown depth is", "choice",
          "Choose “not measured” for a survey of heights alone. Its crown readings stay blank.",
          choices="crown depth", default="measured", former="Crown base is"),
    _rule("crown_widths", "Crown widths are", "choice",
          "The widest and the one across it, in two fixed directions, as four radii from the stem, "
          "or not measured.",
          choices="crown widths", default="widest and across"),
    _rule("width_directions", "Fixed directions are", "choice",
          "Only for crown widths in two fixed directions. The first width is north-south, or along "
          "the street.",
          choices="width directions", default="north-south and east-west"),
    _rule("heights_on", "Trees to measure for height", "choice",
          "With “some trees”, missing readings are accepted.",
          choices="heights on", default="every tree", former="Heights on"),
    _rule("heights_by_eye", "Heights estimated by eye are", "choice",
          "Kept apart, they are in no mean. Otherwise they count where no height was measured.",
          choices="heights by eye", default="kept apart"),
    _rule("repeats_wanted", "Share to measure from two places", "number",
          "Share of the trees to measure from a second place as well.",
          quantity="percent", low=0.0, high=1.0, default=0.05, former="Trees measured twice"),
    _rule("tape_reads_in", "Distances are written in", "choice", "As the crews write them.",
          choices="tape reads in", default="metres", former="Tape reads in"),
    _rule("shading", "Light held back by a crown in leaf", "number",
          "Only for leaf area, and only for trees without a published value.",
          quantity="number", low=0.6, high=0.95, default=0.83, former="Leaf shading factor"),
)  # fmt: skip
_LISTED = "are listed for checking."
_LIMITS = (
    _limit("limit_height", "Greatest height", "Tallest tree without a finding",
           f"Taller trees {_LISTED}", 60.0, "length", PRACTICE),
    _limit("limit_diameter", "Greatest diameter", "Thickest stem without a finding",
           f"Thicker stems {_LISTED}", 250.0, "diameter", PRACTICE),
    _limit("limit_width", "Greatest crown width", "Widest crown without a finding",
           f"Wider crowns {_LISTED}", 40.0, "length", PRACTICE),
    _limit("limit_angle", "Greatest angle", "Steepest reading without a finding",
           f"Steeper readings {_LISTED} Stand farther back.",
           60.0, "angle", "Aschenbach (undated)."),
    _limit("limit_distance_share", "Least distance as share of the height",
           "Shortest distance, as % of height",
           f"Trees measured from a shorter distance {_LISTED}",
           0.5, "percent", "After a guideline of New South Wales."),
    _limit("limit_dead_top", "Dead top from", "Shortest dead top", "A shorter one does not count.",
           1.0, "length", PRACTICE),
    _limit("limit_eye", "Eye height may differ by", "Largest difference in eye height",
           "Between the person's eye height and the one from the readings.",
           0.45, "length", PRACTICE),
    _limit("limit_level", "Level ground up to", "Steepest ground still called level",
           "A plot up to this slope counts as level.", 0.10, "percent", PRACTICE),
    _limit("limit_repeat", "Set-ups may differ by", "Largest difference between set-ups",
           "This, or 2.5 % of the height if that is more.", 0.5, "length", "Brack & Wood (1998)."),
    _limit("limit_recorded", "Recorded values may differ by", "Largest difference from the sheet",
           "Between a recorded height, depth or width and the computed one.", 0.05, "length",
           PRACTICE),
    _limit("limit_steps", "Steps in a row", "Equal steps that look dragged",
           "This many lines in a row with the same step.", 4.0, "count", PRACTICE),
)  # fmt: skip
_JUDGED = (
    _doubt("same_distance_lines", "One distance for all from", "Same distance on a plot",
           "This many lines of a plot with one distance are listed for checking.",
           8.0, "count", 3.0, source=PRACTICE, block="limits"),
    _doubt("heaping_readings", "Look at last digits from", "Rounding test: fewest readings",
           "Fewest readings of one person before their last digits are tested.",
           100.0, "count", 10.0, source=PRACTICE, block="limits"),
    _doubt("check_days", "Instrument checks last", "Days between instrument checks",
           "Check each instrument again after this many days.",
           366.0, "count", 1.0, source=PRACTICE, block="limits"),
)  # fmt: skip
_TOWN_LIMIT = "The town's own choice. Blank: no limit."
_REPORT = (
    _rule("margin_budget", "Good enough to budget on: margin up to", "number",
          "Half the distance between the two ends of a figure, in % of it.",
          quantity="percent", default=0.1, block="report", low=0.0, high=1.0, source=PRACTICE),
    _rule("margin_fair", "A fair idea: margin up to", "number",
          "A figure with a larger margin is an order of magnitude.",
          quantity="percent", default=0.3, block="report", low=0.0, high=1.0, source=OWN),
    _rule("young_below", "Young trees: diameter below", "number", "Stem size stands for age.",
          quantity="diameter", default=15.0, block="report", low=0.0, source=PRACTICE),
    _rule("old_from", "Old trees: diameter from", "number", "Stem size stands for age.",
          quantity="diameter", default=60.0, block="report", low=0.0, source=PRACTICE),
    _rule("limit_species", "Largest share of one species", "number", _TOWN_LIMIT,
          quantity="percent", block="report", low=0.0, high=1.0, source=PRACTICE),
    _rule("limit_genus", "Largest share of one genus", "number", _TOWN_LIMIT,
          quantity="percent", block="report", low=0.0, high=1.0, source=PRACTICE),
    _rule("limit_family", "Largest share of one family", "number", _TOWN_LIMIT,
          quantity="percent", block="report", low=0.0, high=1.0, source=PRACTICE),
)  # fmt: skip
_ADVANCED = (
    _doubt("doubt_odds", "Ask about a line from odds of", "Doubtful line: odds of a mistake",
           "0.25 is 1 in 5. A higher value lists fewer lines.", 0.25, "number", 0.001),
    _doubt("doubt_named", "Name a cause from a share of", "Cause: share of the explanation",
           "Of a second or third cause. A higher value names fewer causes.",
           0.08, "percent", 0.001),
    _rule("doubt_cause", "Cause: least probability", "number",
          "Of the first cause. A higher value names causes on fewer lines.",
          quantity="percent", default=0.4, block=ADVANCED, low=0.01, source=TRIED),
    _doubt("doubt_beats_unknown", "A cause explains better by", "Cause: times better than unknown",
           "A higher value names a cause only if it explains that much more than an unknown "
           "mistake.", 1.0, "number", 0.1),
    _doubt("doubt_settled", "Only state one limit below odds of", "One limit exceeded: only a note",
           "If all else fits. A higher value makes more such findings notes.",
           0.1, "number", 0.0001),
    _doubt("doubt_batch_odds", "Ask about a whole plot from odds of",
           "Wrong scale of a group: odds needed",
           "For a whole plot, day or instrument. A higher value lists fewer groups.",
           1000.0, "number", 1.0),
    _doubt("doubt_batch_lines", "Fewest lines of such a group", "Wrong scale: smallest group",
           "A higher value lists the lines of small groups one by one.",
           3.0, "count", 2.0, source=PRACTICE),
    _doubt("strangers_wanted", "Ask if diameters are the trees' own from",
           "Test for mixed-up diameters",
           "How clear the test must be. A higher value tests fewer sheets.", 6.0, "number", 3.0),
    _doubt("strangers_fit", "Diameters are other trees' below", "Diameters are mixed up below",
           "Mixed-up ones are near 0. A higher value lists more sheets.", 2.5, "number", 0.0),
    _doubt("reference_weight", "Open tree data count as", "Weight of published tree data",
           "In trees. A higher value makes the survey's own trees count less.",
           20.0, "count", 1.0),
    _doubt("habit_weight", "Habits of all count as", "Weight of everybody's habits",
           "In lines of one person. A higher value makes the person's own lines count less.",
           10.0, "count", 1.0),
    _doubt("heaping_index", "Last digits 0 and 5 from index", "Rounding test: limit",
           "100: none rounded, 500: all. A higher value lists fewer people.",
           175.0, "count", 100.0, source=DIGITS),
)  # fmt: skip
DOUBT: tuple[Field, ...] = (*_ADVANCED, *_JUDGED)
"""Every limit of the doubt, each with its source."""
RULES = Sheet(
    "rule",
    "Survey rules",
    "Survey rules",
    "Agreed before the crews go out. The shaded column says what each rule means.",
    (*_SURVEY, *_LIMITS, *_JUDGED, *_REPORT, *_ADVANCED),
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
    "young_below": 6.0 * 2.54,
    "old_from": 24.0 * 2.54,
    "limit_height": 200.0 * 0.3048,
    "limit_diameter": 100.0 * 2.54,
    "limit_width": 130.0 * 0.3048,
    "limit_dead_top": 3.0 * 0.3048,
    "limit_eye": 1.5 * 0.3048,
    "limit_repeat": 1.6 * 0.3048,
    "limit_recorded": 0.2 * 0.3048,
}
