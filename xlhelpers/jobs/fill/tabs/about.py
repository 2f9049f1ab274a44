"""The tab About this fill: versions, rules, methods, cells read with a correction, checks.

The list of results that were typed over is read back and carried on by later fills.
"""

import re
from collections import Counter
from collections.abc import Iterator, Mapping, Sequence

import pandas as pd

from xlhelpers.fields.rules import RULES
from xlhelpers.jobs.fill.tabs.trees import CONDITIONS
from xlhelpers.package.sheet.grid import Grid, read_grid
from xlhelpers.package.sheet.grid_scan import Value
from xlhelpers.package.sheet.references import column_letters, parse_cell
from xlhelpers.package.zip.container import Package
from xlhelpers.pages import our_tabs
from xlhelpers.pages.finding_rows import finding_rows
from xlhelpers.pages.live_differences import WORDS, DifferingCells
from xlhelpers.pages.methods import METHODS, rule_value
from xlhelpers.pages.plan import Block, Column, FillFacts, Link, TabPlan, TypedOver
from xlhelpers.pages.values import natural_order
from xlhelpers.reading.findings import READING_CHECKS
from xlhelpers.reading.work_state import FILLED_ON
from xlhelpers.survey.checks.table import CHECKS, describe
from xlhelpers.survey.decisions.decisions import State
from xlhelpers.survey.doubt.calibration import SOURCE, load_calibration
from xlhelpers.survey.doubt.table import CHECKS as WEIGHED_CHECKS
from xlhelpers.survey.model import Survey
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.typed.words import number_as_text

# widths of the columns of the tab
WIDE, NARROW, TEXT = 34.0, 22.0, 62.0
_TARGET = re.compile(r"HYPERLINK\(\"#'((?:[^']|'')+)'!([A-Z]+[0-9]+)\"", re.IGNORECASE)
_TYPED_COLUMNS = (
    Column("where", "Where", "link", width=WIDE),
    Column("plot", "Plot then", "identifier", width=NARROW),
    Column("tree", "Tree then", "identifier", width=NARROW),
    Column("label", "Result", "text", width=NARROW),
    Column("on", "Filled on", "text", width=NARROW),
    Column("what", "What was there, and what fill wrote", "wrapped", width=TEXT),
)


def list_changed_cells(differences: Sequence[DifferingCells]) -> Block:
    """Return the list of live cells whose formula is gone or differs, one row a range."""
    rows = [
        (
            Link(cells.sheet, first, cells.column),
            cells.label,
            f"{column_letters(cells.column)}{first}",
            f"{column_letters(cells.column)}{last}",
            float((cells.rows >= first).sum() - (cells.rows > last).sum()),
            WORDS[cells.kind],
        )
        for cells in differences
        for first, last in cells.ranges
    ]
    columns = (
        Column("where", "Where", "link", width=WIDE),
        Column("label", "Formula column", "text", width=NARROW),
        Column("first", "First cell", "text", width=NARROW),
        Column("last", "Last cell", "text", width=NARROW),
        Column("count", "Cells", quantity="count", width=NARROW),
        Column("what", "What", "wrapped", width=TEXT),
    )
    return Block(
        "told",
        columns,
        pd.DataFrame(rows, columns=[column.key for column in columns], dtype=object),
        title="Formula cells that were changed, or that show another value",
        if_empty="There are none.",
    )


def list_typed_over(typed: Sequence[TypedOver]) -> Block:
    """Return the list of results that had been typed over, the latest first."""
    keys = [column.key for column in _TYPED_COLUMNS]
    rows = [[getattr(cell, key) for key in keys] for cell in dict.fromkeys(typed)]
    return Block(
        "typed_over",
        _TYPED_COLUMNS,
        pd.DataFrame(rows, columns=keys, dtype=object),
        title="Results that were typed over",
        sentence="Each fill writes the shaded cells again. This list keeps what was typed there. "
        "A link leads to where the cell was at that fill.",
        if_empty="There are none.",
    )


def read_typed_over(package: Package) -> Iterator[TypedOver]:
    """Yield what the list in a workbook holds already."""
    tab = our_tabs.find_tabs(package).get("about")
    if tab is None:
        return
    grid = read_grid(package, tab)
    width = len(_TYPED_COLUMNS)
    headings = [column.label for column in _TYPED_COLUMNS]
    start = next(
        (row for row, cells in enumerate(grid.values[:, :width].tolist(), 1) if cells == headings),
        grid.shape[0],
    )
    for row in range(start + 1, grid.shape[0] + 1):
        cells = [_text(grid.value(row, at)) for at in range(2, width + 1)]
        where = _link(grid, row)
        if where is None or not cells[-1]:
            return
        yield TypedOver(where, *cells)


def _link(grid: Grid, row: int) -> Link | None:
    """Return where a link leads, by its formula, or by its text where that is all there is."""
    target = _TARGET.search(grid.formulas.get((row, 1), ""))
    sheet, _, cell = _text(grid.value(row, 1)).rpartition(" ")
    if target is not None:
        sheet, cell = target[1].replace("''", "'"), target[2]
    try:
        return Link(sheet, *parse_cell(cell)) if sheet else None
    except ValueError:
        return None


def _text(value: Value) -> str:
    if isinstance(value, float):
        return number_as_text(value)
    return value if isinstance(value, str) else ""


# statuses that do not read well after a number
_STATUS_WORDS = {"no trees": "without trees", "": "with a blank status"}
_STATES: dict[State, str] = {
    "open": "open",
    "reopened": "reopened",
    "accepted": "accepted",
    "not safe": "NOT SAFE",
}
_WAYS = {"way_base": "base_way", "way_top": "top_way", "way_tip": "tip_way"}


def plan_about(outcome: Outcome, facts: FillFacts) -> TabPlan:
    """Return the plan of the tab."""
    survey = outcome.survey
    return TabPlan(
        "about",
        "About this fill",
        "How this workbook was computed: rules, methods, checks, sources.",
        (
            _facts("fill", "This fill", _fill_facts(survey, facts)),
            _facts("numbers", "The survey in numbers", _numbers(outcome)),
            _ways(outcome),
            _counts(
                "no_height",
                "Lines without a total height",
                "Reason",
                outcome.setups["no_height_because"].tolist(),
                "Every line has a total height.",
            ),
            _understood(survey),
            _closed_words(survey.closed_words),
            list_changed_cells(facts.differing),
            list_typed_over(facts.typed_over),
            _rules(survey),
            _checks(outcome),
            _methods(),
            _calibration(),
            _notes(outcome),
        ),
        frozen_headings=False,
        changes=facts.keyed,
    )


def _facts(key: str, title: str, lines: Mapping[str, str]) -> Block:
    columns = (
        Column("what", "", "text", width=WIDE),
        Column("value", "", "text", width=NARROW),
    )
    rows = pd.DataFrame({"what": list(lines), "value": list(lines.values())}, dtype=object)
    return Block(key, columns, rows, title=title, headed=False, stretched=True)


def _fill_facts(survey: Survey, facts: FillFacts) -> dict[str, str]:
    lines = {
        "Workbook": facts.book_name,
        "Survey": str(survey.rules.get("survey_name") or "without a name"),
        FILLED_ON: facts.filled_at,
        "Program": f"xlhelpers {facts.version}",
        "Template version": str(facts.template_version),
        "Units": "metric" if survey.units == "metric" else "US customary",
        "Written": facts.written,
    }
    return {what: value for what, value in lines.items() if value}


def _numbers(outcome: Outcome) -> dict[str, str]:
    survey, trees = outcome.survey, outcome.trees
    counted = Counter(trees["condition"])
    conditions = {words: counted[condition] for condition, words in CONDITIONS.items()}
    severities = Counter(finding.severity for finding in outcome.findings)
    states = Counter(stands.state for stands in outcome.standings)
    return {
        "Plots by status": _list_counts(
            Counter(_STATUS_WORDS.get(s, s) for s in survey.plots["status"])
        ),
        "Lines of the field sheets": f"{len(survey.lines):,}",
        "Trees": f"{len(trees):,}: {_list_counts(conditions)}" if len(trees) else "0",
        "Trees with a total height": f"{int(trees['total_height'].notna().sum()):,}",
        "Trees measured from several places": f"{int((trees['n_total'] > 1).sum()):,}",
        "Trees that share a number": f"{int(trees['duplicate'].sum()):,}",
        "Trees not on the species list": f"{int((~trees['known_species'].astype(bool)).sum()):,}",
        "Findings": _list_counts(
            {f"{w}s": severities[w] for w in ("error", "warning", "note")}, keep_zero=True
        ),
        "Status of errors and warnings": _list_counts(
            {words: states[state] for state, words in _STATES.items()}, keep_zero=True
        ),
        "Gone from To check (see Log)": f"{len(outcome.ledger.log):,}",
    }


def _list_counts(counts: Mapping[str, int], keep_zero: bool = False) -> str:
    parts = [f"{n:,} {word}" for word, n in counts.items() if n or keep_zero]
    return ", ".join(parts) or "none"


def _ways(outcome: Outcome) -> Block:
    counted = {
        key: Counter(way for way in outcome.setups[source] if way) for key, source in _WAYS.items()
    }
    ways = sorted(set().union(*counted.values()), key=lambda w: (-counted["way_tip"][w], w))
    rows = pd.DataFrame(
        {"way": ways} | {key: [float(c[w]) for w in ways] for key, c in counted.items()}
    )
    columns = (
        Column("way", "Method of measuring", "text", width=WIDE),
        Column("way_base", "Crown base, set-ups", quantity="count", width=NARROW),
        Column("way_top", "Crown top, set-ups", quantity="count", width=NARROW),
        Column("way_tip", "Total height, set-ups", quantity="count", width=NARROW),
    )
    return Block(
        "ways", columns, rows, title="Set-ups by method of measuring", if_empty="No height yet."
    )


def _counts(key: str, title: str, heading: str, words: Sequence[str], if_empty: str) -> Block:
    counted = Counter(word for word in words if word).most_common()
    rows = pd.DataFrame({"word": [w for w, _ in counted], "count": [float(n) for _, n in counted]})
    columns = (
        Column("word", heading, "text", width=WIDE),
        Column("count", "Lines", quantity="count", width=NARROW),
    )
    return Block(key, columns, rows, title=title, if_empty=if_empty)


def _understood(survey: Survey) -> Block:
    rows = pd.DataFrame(
        {
            "column": [f"{u.sheet}: {u.column_label}" for u in survey.understood],
            "count": [float(u.count) for u in survey.understood],
            "kind": [f"{u.kind} ({', '.join(u.first_cells)})" for u in survey.understood],
        }
    )
    columns = (
        Column("column", "Column", "wrapped", width=WIDE),
        Column("count", "Cells", quantity="count", width=NARROW),
        Column("kind", "Correction, and the first cells", "wrapped", width=NARROW),
    )
    return Block(
        "understood",
        columns,
        rows,
        title="Cells read with a correction",
        sentence="Your entries stay as you typed them. This list shows how they were read.",
        if_empty="No cell needed a correction.",
        stretched=True,
    )


def _closed_words(words: Mapping[str, int]) -> Block:
    rows = pd.DataFrame({"word": list(words), "count": [float(n) for n in words.values()]})
    columns = (
        Column("word", "Word", "text", width=WIDE),
        Column("count", "Cells", quantity="count", width=NARROW),
    )
    return Block(
        "closed",
        columns,
        rows,
        title="Reasons given for blanks",
        sentence="A blank with one of these words is not a finding.",
        if_empty="None was used.",
    )


def _rules(survey: Survey) -> Block:
    rows = pd.DataFrame(
        {
            "rule": [record.label for record in RULES.fields],
            "value": [rule_value(record, survey) for record in RULES.fields],
            "help": [f"{record.help} {record.source}".strip() for record in RULES.fields],
        },
        dtype=object,
    )
    columns = (
        Column("rule", "Rule", "text", width=WIDE),
        Column("value", "Value", "wrapped", width=NARROW),
        Column("help", "Meaning", "text", width=NARROW),
    )
    return Block("rules", columns, rows, title="Survey rules in force", stretched=True)


def _checks(outcome: Outcome) -> Block:
    counts = Counter(finding.check for finding in outcome.findings)
    still_open = Counter(finding.check for finding in outcome.open_findings)
    all_checks = describe((*CHECKS, *WEIGHED_CHECKS))
    declared = [
        *((c, severity, what, basis) for c, severity, _, what, _, _, basis in all_checks),
        *((c.id, c.severity, c.says, "the reading of the cells") for c in READING_CHECKS.values()),
    ]
    known = {check for check, *_ in declared}
    for finding in outcome.findings:
        if finding.check not in known:
            known.add(finding.check)
            declared.append((finding.check, finding.severity, "", "not in the table of checks"))
    rows = pd.DataFrame(
        {
            "check": [
                f"{check.replace('-', ' ').capitalize()} ({check})" for check, *_ in declared
            ],
            "severity": [severity for _, severity, *_ in declared],
            "count": [float(counts[check]) for check, *_ in declared],
            "open": [float(still_open[check]) for check, *_ in declared],
            "basis": [f"{what} — {basis}" if what else basis for _, _, what, basis in declared],
        }
    )
    columns = (
        Column("check", "Check (its code)", "wrapped", width=WIDE),
        Column("severity", "Severity", "text", width=NARROW),
        Column("count", "Found", quantity="count", width=NARROW),
        Column("open", "Open", quantity="count", width=NARROW),
        Column("basis", "What it compares — source of its limits", "wrapped", width=NARROW),
    )
    return Block("checks", columns, rows, title="Checks made, and what they found", stretched=True)


def _methods() -> Block:
    rows = pd.DataFrame(
        {"what": [m.what for m in METHODS], "how": [m.text for m in METHODS]}, dtype=object
    )
    columns = (
        Column("what", "Quantity", "wrapped", width=WIDE),
        Column("how", "How it is computed, and the sources", "wrapped", width=NARROW),
    )
    return Block(
        "methods",
        columns,
        rows,
        title="Methods and sources",
        sentence="In brackets: how much of the source was read.",
        stretched=True,
    )


def _calibration() -> Block:
    table = load_calibration()
    ranges = zip(table["stated_from"], table["stated_to"], strict=True)
    rows = pd.DataFrame(
        {
            "stated": [f"{100 * low:.0f} to {100 * high:.0f} %" for low, high in ranges],
            "lines": table["lines"].astype(float),
            "right": table["right_share"],
        }
    )
    columns = (
        Column("stated", "Odds that the program computes", "text", width=WIDE),
        Column("lines", "Lines in the trial", quantity="count", width=NARROW),
        Column("right", "Cause was right", quantity="percent", width=NARROW),
    )
    return Block(
        "calibration",
        columns,
        rows,
        title="How often a named cause is right",
        sentence=f"“Probably” means that more than six in ten were right. {SOURCE}",
    )


def _notes(outcome: Outcome) -> Block:
    rows = finding_rows([f for f in outcome.findings if f.severity == "note"])
    rows = rows.iloc[natural_order(rows["plot"].tolist(), rows["tree"].tolist())]
    columns = (
        Column("where", "Where", "link", width=WIDE),
        Column("plot", "Plot", "identifier", width=NARROW),
        Column("tree", "Tree", "identifier", width=NARROW),
        Column("setup", "Set-up", "identifier", width=NARROW),
        Column("id", "Note", "text", width=NARROW),
        Column("found", "What is stated", "wrapped", width=TEXT),
    )
    return Block(
        "notes",
        columns,
        rows.reset_index(drop=True),
        title=f"Notes: {len(rows):,}",
        sentence="A note states a fact. It needs no action.",
        if_empty="There are none.",
        filtered=True,
    )
