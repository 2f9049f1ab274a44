"""Runs the table of checks over a survey and makes findings of what fails."""

import re
from collections.abc import Iterable
from functools import lru_cache
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.record import Field
from xlhelpers.survey.checks.facts import Facts
from xlhelpers.survey.checks.record import Check, Hits, Subject, field_of
from xlhelpers.survey.checks.table import CHECKS
from xlhelpers.survey.checks.wording import fill_template
from xlhelpers.survey.model import Finding, Survey

# where the blanks of a message are looked up, after the predicate's own values and the rules
_LOOK_IN = {
    "lines": ("lines", "setups"),
    "trees": ("trees",),
    "plots": ("plots",),
    "instruments": ("instruments",),
    "survey": (),
}


def run_checks(
    survey: Survey,
    setups: pd.DataFrame,
    trees: pd.DataFrame,
    checks: Iterable[Check] = CHECKS,
) -> tuple[Finding, ...]:
    """Return the findings of a survey.

    Parameters
    ----------
    survey : Survey
        The tables as entered.
    setups, trees : DataFrame
        As `compute_setups` and `build_trees` give them.
    checks : iterable of Check
        The table of checks, or a part of it.

    Returns
    -------
    tuple of Finding
        In the order of the checks; within one check by plot and tree as people count.
    """
    facts = Facts(survey, setups, trees)
    cells = {(f.sheet, f.row, f.column) for f in survey.findings if f.severity != "note"}
    findings: list[Finding] = []
    with np.errstate(invalid="ignore"):
        for check in checks:
            hits = check.find_hits(facts)
            made = [_make_finding(facts, check, hits, index) for index in range(len(hits.rows))]
            findings += sorted((f for f in made if not _is_reported(f, cells)), key=_order)
    return tuple(findings)


def _is_reported(finding: Finding, cells: set[tuple[str, int | None, int | None]]) -> bool:
    """Whether the reading already has a finding about the one cell of this one."""
    cell = (finding.sheet, finding.row, finding.column)
    return finding.column is not None and len(finding.lines) <= 1 and cell in cells


def _make_finding(facts: Facts, check: Check, hits: Hits, index: int) -> Finding:
    row = int(hits.rows[index])
    names = check.compares if hits.fields is None else hits.fields[index]
    lines = _lines(facts, check, row) if hits.lines is None else tuple(hits.lines[index])
    sheet, sheet_row, column = _cell(facts, check, row, names[0])

    def look_up(name: str) -> Any:
        return _look_up(facts, check, hits, index, name)

    return Finding(
        check=check.id,
        severity=check.severity,
        block=check.block,
        subject=_subject(facts, check, row) if hits.subjects is None else hits.subjects[index],
        message=fill_template(check.message, look_up, facts.survey.units).strip(),
        action=fill_template(check.action, look_up, facts.survey.units),
        fields=tuple(name.rpartition(".")[2] for name in names),
        sheet=sheet,
        row=sheet_row,
        column=column,
        lines=lines,
        plots=_plots(check, hits, index, row),
        evidence=_evidence(facts, check, row, names, lines)
        if hits.evidence is None
        else tuple(hits.evidence[index]),
        about=check.about,
        is_missing=check.is_missing,
        causes=() if hits.causes is None else tuple(hits.causes[index]),
    )


def _lines(facts: Facts, check: Check, row: int) -> tuple[int, ...]:
    if check.table == "lines":
        return (row,)
    if check.table == "trees":
        return tuple(map(int, np.flatnonzero(facts.tree_position == row)))
    return ()


def _plots(check: Check, hits: Hits, index: int, row: int) -> tuple[int, ...]:
    if hits.plots is not None:
        return tuple(map(int, hits.plots[index]))
    return (row,) if check.table == "plots" else ()


def _subject(facts: Facts, check: Check, row: int) -> Subject:
    if check.table in ("plots", "instruments"):
        name = check.table[:-1]
        return ((name, str(facts.column(check.table, name)[row])),)
    line = int(facts.first_lines[row]) if check.table == "trees" else row
    place = (("plot", str(facts.text("plot")[line])), ("tree", str(facts.text("tree")[line])))
    if check.table == "trees":
        return place
    return (*place, ("set-up", str(int(facts.setup("setup_number")[line]))))


def _cell(facts: Facts, check: Check, row: int, name: str) -> tuple[str, int | None, int | None]:
    """Return sheet, row and column of the cell to check first."""
    if check.table == "survey":
        return "", None, None
    table = "lines" if check.table == "trees" else check.table
    position = int(facts.first_lines[row]) if check.table == "trees" else row
    sheet = str(facts.column(table, "_sheet")[position])
    column = facts.survey.columns.get((sheet, name.rpartition(".")[2]))
    return sheet, int(facts.column(table, "_row")[position]), column


def _look_up(facts: Facts, check: Check, hits: Hits, index: int, name: str) -> Any:
    """Return the value of a blank: the predicate's own, a survey rule, or a cell of the row."""
    if name in hits.values:
        return hits.values[name][index]
    if name in facts.survey.rules:
        return facts.survey.rules[name]
    for table in _LOOK_IN[check.table]:
        if name in facts.table(table):
            return facts.column(table, name)[int(hits.rows[index])]
    raise KeyError(f"check {check.id}: nothing is called {name}")


def _evidence(
    facts: Facts, check: Check, row: int, names: tuple[str, ...], lines: tuple[int, ...]
) -> tuple[str, ...]:
    """Return the compared cells as text, each with its label. Fingerprints are made of it."""
    texts = []
    for name in names:
        sheet, field = field_of(name)
        if sheet is not FIELD_SHEET:
            table = "plots" if sheet.key == "plot" else "instruments"
            if table == check.table:
                texts.append(f"{_label(name)} {_cell_text(facts, table, field, row) or 'blank'}")
            continue
        values = [_cell_text(facts, "lines", field, line) for line in lines]
        if any(values):
            texts.append(f"{_label(name)} {' | '.join(values)}")
    return tuple(texts) or (f"{_label(names[0])} blank",)


def _label(name: str) -> str:
    """Return the label that fingerprints have had from the start: a new one reopens nothing."""
    field = field_of(name)[1]
    return field.former or field.label


def _cell_text(facts: Facts, table: str, field: Field, position: int) -> str:
    """Return one cell in the survey's units to ten digits, "" where it is blank."""
    value = facts.column(table, field.name)[position]
    if field.kind == "tick":
        return "x" if value else ""
    if field.kind != "number":
        return str(value)
    if np.isnan(value):
        return ""
    quantity = field.measured_in
    factor = 1.0 if quantity is None else quantity.factor(facts.survey.units)
    return f"{float(value) / factor:.10g}"


def _order(finding: Finding) -> tuple[list[tuple[int, int, str]], ...]:
    return tuple(natural(value) for _, value in finding.subject)


@lru_cache(maxsize=65536)
def natural(text: str) -> list[tuple[int, int, str]]:
    """Return a key that sorts as people count: 2 before 10, numbers before words."""
    parts = re.findall(r"\d+|\D+", text)
    return [(0, int(part), "") if part.isdigit() else (1, 0, part.casefold()) for part in parts]
