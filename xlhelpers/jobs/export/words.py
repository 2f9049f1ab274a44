"""What people read in an export: results, refusals, README.txt, texts of the data dictionary.

The sentences of other columns are in the records of the fields and in `survey.columns`.
"""

from dataclasses import replace
from pathlib import Path

from xlhelpers import __version__
from xlhelpers.fields.quantities import FOOT_M, Units
from xlhelpers.jobs.export.records import About, TidyColumn, TidyTable, columns_of
from xlhelpers.package.time_stamp import now
from xlhelpers.survey.columns import SETUPS, TREES
from xlhelpers.survey.counted import NOUNS, name_left_out
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.quantities import MEASURED
from xlhelpers.wording import plural

DICTIONARY = "datapackage.json"
OUT_IS_FILE = "--out {folder} is a file. Give a new folder."
OUT_NOT_EMPTY = "--out {folder} is not empty. Give a new folder."
OUT_NO_PARENT = "--out {folder}: the folder {parent} does not exist. Make it first."
NOT_WRITTEN = "{folder} was not written: {why}. Choose another place."
_NEUTRALIZED = (
    "Texts that start like a formula (= + - @, a tab, a line break) or with an apostrophe get one "
    "apostrophe in front. Remove it to get the text as entered. Plain numbers are unchanged."
)
MAY_BE_NEUTRALIZED = "An added apostrophe may come first: see the description of the package."
IN_UNIT_OF_SCALE = "In the unit of the scale that was read."
OF_TREES = "One row for each tree: the results of all its set-ups."
OF_FINDINGS = "The findings of the checks. Numbers with an open finding are marked doubtful."
DOUBTFUL = TidyColumn("doubtful", "Has an open finding", "See findings.csv.", "boolean")
_DOUBTFUL_VALUES = tuple(
    TidyColumn(
        f"doubtful_{quantity}",
        f"Doubtful {NOUNS[quantity]}",
        "A finding about it is open, or NOT SAFE and never accepted.",
        "boolean",
    )
    for quantity in MEASURED
)
_LEFT_OUT_VALUES = TidyColumn(
    "left_out",
    "Left out of means and sums",
    "Values that cannot be right and that nobody accepted, such as a negative height. Leave them "
    "out of your own means and sums too.",
)
SETUP_COLUMNS: tuple[TidyColumn, ...] = (
    *(
        replace(column, name=f"used_{column.name}")
        for column in columns_of(SETUPS, "instrument scale distance_kind")
    ),
    *columns_of(SETUPS, "level_distance crown_base crown_top total_height crown_depth"),
    *columns_of(SETUPS, "no_height_because"),
    TidyColumn(
        "closed", "Blank with a reason", "Fields left blank for a stated reason, and the reason."
    ),
    TidyColumn("refused", "Not read", "Fields whose cell could not be read; blank here."),
    DOUBTFUL,
)
TREE_COLUMNS: tuple[TidyColumn, ...] = (
    *columns_of(TREES, "plot tree stratum species botanical kind condition diameter stem_count"),
    *columns_of(TREES, "basal_area mean_width one_width_only projection_area total_height"),
    *columns_of(TREES, "crown_top crown_base crown_depth live_crown_ratio volume n_total"),
    *columns_of(TREES, "n_base way_total way_base instruments u_total u_base u_depth observer_u"),
    *columns_of(TREES, "near_edge no_height_because duplicate"),
    *columns_of(TREES, "crown_offset u_crown_offset u_mean_width u_projection_area"),
    *columns_of(TREES, "diameter_at recorded_height height_by_eye tag"),
    *(
        replace(column, about="places", low=low, high=-low)
        for column, low in zip(
            columns_of(TREES, "latitude longitude"), (-90.0, -180.0), strict=True
        )
    ),
    DOUBTFUL,
    *_DOUBTFUL_VALUES,
    _LEFT_OUT_VALUES,
)
FINDING_COLUMNS: tuple[TidyColumn, ...] = (
    TidyColumn("finding_id", "Id", "The visible id of the finding.", required=True),
    TidyColumn(
        "severity",
        "Severity",
        "error, warning or note; a note is never open.",
        choices=("error", "warning", "note"),
    ),
    TidyColumn("open", "Open", "Not resolved yet.", "boolean"),
    TidyColumn("in_doubt", "Doubtful", "Open, or NOT SAFE and never accepted.", "boolean"),
    TidyColumn("check", "Check", "Short name of the check."),
    TidyColumn("plot", "Plot", "The plot that it is about."),
    TidyColumn("tree", "Tree", "The tree that it is about."),
    TidyColumn("setup", "Set-up", "The set-up that it is about."),
    TidyColumn("fields", "Fields", "The fields that it compares."),
)
RULE_COLUMNS: tuple[TidyColumn, ...] = (
    TidyColumn("rule", "Rule", "Name of the rule.", required=True),
    TidyColumn("label", "Label", "As on the sheet Survey rules."),
    TidyColumn("value", "Value", "As agreed for the survey."),
    TidyColumn("unit", "Unit", "Unit of the value."),
    TidyColumn("meaning", "Meaning", "What the rule means."),
)
_LEFT_OUT: dict[About, str] = {
    "notes": "notes, groups and explanations (--with-notes)",
    "places": "positions, bearings, distances from the plot centre and plot notes (--with-places)",
    "people": "initials and eye heights (--with-people)",
}
_README = """\
{title}
{rule}
Saved on {day} from the workbook {book} ({lines} lines, {trees} trees, {open} open findings).

WHAT TO HAND OVER WITH A SURVEY
[ ] the workbook itself, as it was last filled; these files are only part of it
[ ] its backups, and where the paper sheets (or their scans) are kept, for how long, by whom
[ ] the survey rules as agreed at the start: rules.csv, and anything else that was agreed
[ ] how the plots were chosen: map, list, seed, plots replaced and why
[ ] plots that were refused, not safe or outside: plots.csv, column status
[ ] instruments and their checks: instruments.csv, instrument_checks.csv
[ ] the species list that was used: species.csv
[ ] the findings and the decisions about them: findings.csv, tab To check of the workbook
[ ] the remeasured trees and the report on them, if any
[ ] who can answer questions, and until when
[ ] who may use the data and for what; who decides about notes, places and names
[ ] the version of the program: xlhelpers {version}

WHAT IS HERE
{files}
  {dictionary}: what every column means, its type, unit and limits (Data Package with
  Table Schemas of the Frictionless Data project)

Units: {units}. A blank cell is a missing value; 0 is a value.
Numbers marked doubtful have a finding that is still open, or NOT SAFE and never accepted.
{left_out_values}
Texts that start like a formula get an apostrophe in front; see the dictionary.
Left out: {left_out}
Names of plots and strata are included, because they connect the tables. A plot may be named
after its street.

These are measurements. They do not rate the risk of any tree; local codes and licensed arborists
decide. If you measure again: watch the traffic, keep poles and tapes away from wires, do not walk
under dead or hung tops, and leave out what is not safe.
"""


def key_column(name: str, of: str = "", *, own: bool = False) -> TidyColumn:
    """Return a column of running numbers: the table's own key, or one of another table."""
    title = f"{of}, running number" if of else "Running number"
    text = "Running number in this export. It connects the tables."
    return TidyColumn(name, title, text, "integer", required=own)


def say_exported(
    folder: Path, outcome: Outcome, tables: int, left_out: frozenset[About]
) -> list[str]:
    """Return the sentences about an export of so many tables."""
    sentences = [
        f"Saved {tables} tables, {DICTIONARY} and README.txt in {folder}: "
        f"{plural(len(outcome.survey.lines), 'line')}, {plural(len(outcome.trees), 'tree')}.",
        f"Left out: {_name_left_out(left_out)}",
    ]
    count = len(outcome.open_findings)
    if count:
        findings = f"{plural(count, 'finding')} {'is' if count == 1 else 'are'} open."
        sentences.append(f"{findings} Numbers based on open findings are marked doubtful.")
    return [*sentences, _say_left_out_values(outcome)]


def say_map(placed: int, trees: int) -> str:
    """Return the sentence about the map file: so many trees of all have a position."""
    return f"trees.geojson shows {placed:,} of {plural(trees, 'tree')}: those with a position."


def _name_left_out(left_out: frozenset[About]) -> str:
    texts = [text for about, text in _LEFT_OUT.items() if about in left_out]
    return f"{'; '.join(texts)}." if texts else "nothing."


def _say_left_out_values(outcome: Outcome) -> str:
    flags = outcome.counted.named_left_out
    named = name_left_out({quantity: int(these.sum()) for quantity, these in flags.items()})
    if not named:
        return "No value is left out of means and sums."
    return (
        f"Values that cannot be right, such as a negative height: {named}. Leave them out of means "
        "and sums (trees.csv, column left_out)."
    )


def _file_line(table: TidyTable) -> str:
    purpose = table.purpose.split(". ")[0].rstrip(".")
    return f"  {table.name}.csv: {plural(len(table.rows), 'row')}. {purpose}."


def write_readme(
    book: Path,
    outcome: Outcome,
    tables: tuple[TidyTable, ...],
    left_out: frozenset[About],
    units: Units,
) -> str:
    """Return the text of README.txt: what to hand over, and what is in the folder."""
    title = str(outcome.survey.rules["survey_name"]) or book.stem
    return _README.format(
        title=title,
        rule="=" * len(title),
        day=f"{now():%Y-%m-%d}",
        book=book.name,
        lines=f"{len(outcome.survey.lines):,}",
        trees=f"{len(outcome.trees):,}",
        open=f"{len(outcome.open_findings):,}",
        left_out_values=_say_left_out_values(outcome),
        version=__version__,
        files="\n".join(map(_file_line, tables)),
        dictionary=DICTIONARY,
        units="m and cm" if units == "metric" else "ft and in",
        left_out=_name_left_out(left_out),
    )


def describe_package(units: Units) -> str:
    """Return the description of the whole export in the data dictionary."""
    length = "metres" if units == "metric" else f"feet (1 ft = {FOOT_M} m)"
    return (
        "A tree survey: readings as entered, and computed heights and crowns. Lengths in "
        f"{length}. {_NEUTRALIZED}"
    )


def name_stem_units(units: Units) -> str:
    """Return the unit of the numbers of a text of stems, as its description ends."""
    return f" (in {'cm' if units == 'metric' else 'in'})."
