"""The findings of the reading: one table of checks, and the building of their findings."""

from __future__ import annotations

from dataclasses import dataclass

from xlhelpers.package.sheet.grid_scan import CellError
from xlhelpers.survey.model import Block, Finding, Severity
from xlhelpers.survey.typed.words import number_as_text, tidy


@dataclass(frozen=True)
class ReadingCheck:
    """One check of the reading: its id, severity, block of the tab To check, and what it says."""

    id: str
    severity: Severity
    block: Block
    says: str


READING_CHECKS: dict[str, ReadingCheck] = {
    check.id: check
    for check in (
        ReadingCheck("number-unread", "error", "paper", "a text that is not a number"),
        ReadingCheck("number-ambiguous", "error", "paper", "a number with more than one meaning"),
        ReadingCheck("number-is-date", "error", "paper", "a number that was made a date"),
        ReadingCheck("number-not-whole", "error", "paper", "a count that is not whole"),
        ReadingCheck("value-impossible", "error", "paper", "a value that nothing can have"),
        ReadingCheck("word-unknown", "error", "paper", "a word that is not on the list"),
        ReadingCheck("date-unread", "warning", "paper", "a text that is not a date"),
        ReadingCheck("cell-error", "error", "paper", "the error value of a formula"),
        ReadingCheck("formula-uncalculated", "error", "paper", "a formula without a result"),
        ReadingCheck("cell-merged", "error", "paper", "merged cells among the data"),
        ReadingCheck("reading-unit", "error", "paper", "a unit against the scale that was read"),
        ReadingCheck("reading-hundredth", "error", "paper", "readings a hundred times too small"),
        ReadingCheck("reason-unknown", "warning", "paper", "a reason that closes no blank"),
        ReadingCheck("plot-missing", "error", "paper", "a line without its plot"),
        ReadingCheck("tree-missing", "error", "paper", "a line without its tree"),
        ReadingCheck("name-missing", "error", "paper", "a row without its name"),
        ReadingCheck("column-missing", "error", "paper", "a needed column that is not there"),
        ReadingCheck("column-twice", "error", "paper", "a column that stands twice"),
        ReadingCheck("column-twin", "note", "paper", "another column with the same heading"),
        ReadingCheck("heading-contradicts", "error", "paper", "a heading of another column"),
        ReadingCheck("heading-unit", "error", "paper", "a heading with another unit"),
        ReadingCheck("units-against-headings", "error", "paper", "units that the headings deny"),
        ReadingCheck("sheet-by-headings", "note", "paper", "a sheet known by its headings only"),
        ReadingCheck("rows-hidden", "note", "paper", "hidden or filtered rows, read like any"),
        ReadingCheck("total-row", "note", "paper", "a total row, left out"),
        ReadingCheck("row-only-plot", "warning", "paper", "a row with nothing but its plot cell"),
        ReadingCheck("heading-repeated", "note", "paper", "a repeated heading, left out"),
        ReadingCheck("rules-missing", "note", "paper", "no survey rules; the usual ones taken"),
        ReadingCheck("rules-twice", "error", "paper", "survey rules that stand twice"),
        ReadingCheck("rule-tape", "warning", "paper", "a tape in another system than the survey"),
        ReadingCheck("units-from-headings", "note", "paper", "units taken from the headings"),
    )
}


@dataclass(frozen=True)
class Spot:
    """Where a finding points: sheet, row and column; None where there is no one cell."""

    sheet: str
    row: int | None = None
    column: int | None = None


Subject = tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class About:
    """What a finding is about: subject, fields, the lines and plots that it touches, as typed."""

    subject: Subject
    fields: tuple[str, ...] = ()
    lines: tuple[int, ...] = ()
    plots: tuple[int, ...] = ()
    evidence: tuple[str, ...] = ()


def make_finding(
    check: str,
    spot: Spot,
    about: About,
    message: str,
    action: str,
    severity: Severity | None = None,
) -> Finding:
    """Return a finding of one check of the table, with the check's own severity unless stated."""
    record = READING_CHECKS[check]
    return Finding(
        check=record.id,
        severity=severity or record.severity,
        block=record.block,
        subject=about.subject,
        message=message,
        action=action,
        fields=about.fields,
        sheet=spot.sheet,
        row=spot.row,
        column=spot.column,
        lines=about.lines,
        plots=about.plots,
        evidence=about.evidence,
    )


def as_typed(value: object) -> str:
    """Return a cell's value as a person sees it, cut at 60 signs."""
    if isinstance(value, CellError):
        return value.code
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    text = number_as_text(value) if isinstance(value, int | float) else tidy(str(value))
    return text if len(text) <= 60 else text[:59] + "…"
