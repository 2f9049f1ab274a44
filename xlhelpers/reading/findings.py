"""The findings made while reading: one table of checks, and how a finding of each is made."""

from __future__ import annotations

from collections.abc import Sequence
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
        ReadingCheck("number-is-date", "error", "paper", "a number that was turned into a date"),
        ReadingCheck("number-not-whole", "error", "paper", "a count that is not a whole number"),
        ReadingCheck("value-impossible", "error", "paper", "a value that is not possible"),
        ReadingCheck("word-unknown", "error", "paper", "a word that is not on the list"),
        ReadingCheck("date-unread", "warning", "paper", "a text that is not a date"),
        ReadingCheck("cell-error", "error", "paper", "the error value of a formula"),
        ReadingCheck("formula-uncalculated", "error", "paper", "a formula without a result"),
        ReadingCheck("cell-merged", "error", "paper", "merged cells among the data"),
        ReadingCheck("reading-unit", "error", "paper", "a unit that is not that of the scale"),
        ReadingCheck("reading-hundredth", "error", "paper", "readings 100 times too small"),
        ReadingCheck("reason-unknown", "warning", "paper", "a reason that is not on the list"),
        ReadingCheck("plot-missing", "error", "paper", "a line without a plot"),
        ReadingCheck("tree-missing", "error", "paper", "a line without a tree"),
        ReadingCheck("name-missing", "error", "paper", "a row without a name"),
        ReadingCheck("column-missing", "error", "paper", "a needed column that is missing"),
        ReadingCheck("column-twice", "error", "paper", "a column that is there twice"),
        ReadingCheck("column-twin", "note", "paper", "another column with the same heading"),
        ReadingCheck("heading-contradicts", "error", "paper", "the heading of another column"),
        ReadingCheck("heading-unit", "error", "paper", "a heading with another unit"),
        ReadingCheck("units-against-headings", "error", "paper", "units that differ from headings"),
        ReadingCheck("sheet-by-headings", "note", "paper", "a sheet recognized by its headings"),
        ReadingCheck("rows-hidden", "note", "paper", "hidden rows, read like the others"),
        ReadingCheck("total-row", "note", "paper", "a total row, skipped"),
        ReadingCheck("row-only-plot", "warning", "paper", "a row with only a plot number"),
        ReadingCheck("heading-repeated", "note", "paper", "a repeated heading, skipped"),
        ReadingCheck("rules-missing", "note", "paper", "no survey rules, the defaults are used"),
        ReadingCheck("rules-twice", "error", "paper", "survey rules that are there twice"),
        ReadingCheck("rule-tape", "warning", "paper", "a tape in other units than the survey"),
        ReadingCheck("units-from-headings", "note", "paper", "units taken from the headings"),
    )
}
Subject = tuple[tuple[str, str], ...]


def make_finding(
    check: str,
    message: str,
    action: str,
    subject: Subject,
    *,
    sheet: str,
    row: int | None = None,
    column: int | None = None,
    fields: tuple[str, ...] = (),
    lines: tuple[int, ...] = (),
    plots: tuple[int, ...] = (),
    evidence: tuple[str, ...] = (),
    severity: Severity | None = None,
) -> Finding:
    """Return a finding of one check of the table, with the check's own severity unless stated.

    Parameters
    ----------
    check : str
        Id of an entry of `READING_CHECKS`.
    message, action : str
        What is wrong, and what to do about it.
    subject : tuple of pairs
        What it is about, such as plot, tree and set-up.
    sheet, row, column
        Where it points, counted from 1; None where there is no one cell.
    fields, lines, plots, evidence : tuples
        The fields, the positions of lines and plots it touches, and what was typed.
    severity : str, optional
        In place of the check's own.
    """
    record = READING_CHECKS[check]
    return Finding(
        check=check,
        severity=severity or record.severity,
        block=record.block,
        subject=subject,
        message=message,
        action=action,
        fields=fields,
        sheet=sheet,
        row=row,
        column=column,
        lines=lines,
        plots=plots,
        evidence=evidence,
    )


def as_typed(value: object) -> str:
    """Return a cell's value as a person sees it, cut at 60 signs."""
    if isinstance(value, CellError):
        return value.code
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    text = number_as_text(value) if isinstance(value, int | float) else tidy(str(value))
    return text if len(text) <= 60 else text[:59] + "…"


def shown_number(number: float) -> str:
    """Return a number as messages show it, with the minus sign of print."""
    return number_as_text(number).replace("-", "−")


def first_few(items: Sequence[object], most: int = 3) -> str:
    """Return the first items of a list with commas, and "…" where there are more."""
    return ", ".join(map(str, items[:most])) + (" …" if len(items) > most else "")
