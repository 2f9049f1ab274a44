"""Reads back what the office typed into our tabs: decisions, answers of the crew, and the log.

Rows are known by the id and the fingerprint in them, so sorting, filtering, inserted rows and
deleted columns lose nothing.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.package.parts.parts import SheetPart, date1904, sheet_named
from xlhelpers.package.sheet.grid import Grid, read_grid
from xlhelpers.package.sheet.grid_scan import CellError
from xlhelpers.package.zip.container import Package
from xlhelpers.pages.chosen_cells import DATE_NAME, INITIALS_NAME, chosen_cells
from xlhelpers.pages.decision_columns import (
    CORRECTED_LABELS,
    FOR_ALL_LABELS,
    LABELS,
    OFFICE_LABELS,
    SUBJECT_LABELS,
    Columns,
    find_columns,
)
from xlhelpers.pages.our_tabs import find_tabs
from xlhelpers.survey.decisions.decisions import NOT_SAFE, Decision, FindingTexts, LogEntry
from xlhelpers.survey.decisions.identity import FINGERPRINT_LENGTH, ID_LENGTH, SIGNS
from xlhelpers.survey.typed.words import closing_word, number_as_text

_ID = re.compile(f"[{SIGNS}]{{{ID_LENGTH}}}")
_KEY = re.compile(f"([{SIGNS}]{{{ID_LENGTH}}}) ([{SIGNS}]{{{FINGERPRINT_LENGTH}}})")
_TEXTS = ("severity", "plot", "tree", "setup", "about")


@dataclass(frozen=True)
class OfficeEntries:
    """What our tabs hold of the office: rows of To check, the log, and remarks."""

    rows: tuple[Decision, ...] = ()
    log: tuple[LogEntry, ...] = ()
    remarks: tuple[str, ...] = ()


def read_for_all(package: Package) -> dict[str, str]:
    """Return the initials and the date that are typed once for all decisions of To check.

    Parameters
    ----------
    package : Package
        The opened workbook.

    Returns
    -------
    dict
        "initials" and "date" as typed, a day in ISO form; "" where nothing is typed.
    """
    typed = dict.fromkeys(FOR_ALL_LABELS, "")
    sheet = _sheet(package, "to_check")
    if sheet is not None:
        keys = {INITIALS_NAME: "initials", DATE_NAME: "date"}
        for name, row, column in chosen_cells(package, sheet):
            if name in keys:
                grid = read_grid(package, sheet)
                typed[keys[name]] = _text(grid, row, column, date1904(package))
    return typed


def _with_for_all(row: Decision, for_all: dict[str, str]) -> Decision:
    """Return a row with the initials and the date for all, where it has a decision and none."""
    # what waits for somebody to look again needs the initials of its own row
    if not (row.word or row.paper) or (row.paper and row.earlier):
        return row
    return replace(
        row, initials=row.initials or for_all["initials"], date=row.date or for_all["date"]
    )


def read_decisions(package: Package) -> OfficeEntries:
    """Return the decisions, the answers and the log that the workbook holds.

    Parameters
    ----------
    package : Package
        The opened workbook; it may hold none of our tabs yet.
    """
    rows = tuple(_decision(row) for row in _rows(package, "to_check"))
    answers = [(_decision(row), row["answer"]) for row in _rows(package, "again")]
    log = tuple(
        LogEntry(
            _decision(row),
            row["became"],
            row["left_on"],
            **{key: row[key] for key in CORRECTED_LABELS},
        )
        for row in _rows(package, "log")
    )
    rows = _with_answers(rows, [(row, answer) for row, answer in answers if answer])
    for_all = read_for_all(package)
    rows = tuple(_with_for_all(row, for_all) for row in rows)
    return OfficeEntries(rows, log, tuple(_missing_columns(package)))


def _rows(package: Package, tab: str) -> Iterator[dict[str, str]]:
    """Yield the rows of a tab as texts by key of the column; "" where a column is not there."""
    table = _find(package, tab)
    if table is None:
        return
    grid, columns = table
    from_1904 = date1904(package)
    filled = [key for key in LABELS[tab] if key not in SUBJECT_LABELS] + ["id", "found"]
    for number in range(columns.heading_row + 1, grid.shape[0] + 1):
        row = dict.fromkeys(LABELS[tab], "")
        for key, column in columns.at.items():
            text = _paper_text if key == "paper" else _text
            row[key] = text(grid, number, column, from_1904)
        # bands between the rows are blank in these columns
        if any(row[key] for key in filled):
            yield row


def _sheet(package: Package, tab: str) -> SheetPart | None:
    sheet = find_tabs(package).get(tab) or sheet_named(package, RESULT_TABS[tab])
    if sheet is None or sheet.kind != "worksheet" or not sheet.part:
        return None
    return sheet


def _find(package: Package, tab: str) -> tuple[Grid, Columns] | None:
    sheet = _sheet(package, tab)
    if sheet is None:
        return None
    grid = read_grid(package, sheet)
    columns = find_columns(package, sheet, grid, tab)
    return None if columns is None else (grid, columns)


def _text(grid: Grid, row: int, column: int, from_1904: bool) -> str:
    value = grid.value(row, column)
    if value is None:
        return ""
    if isinstance(value, CellError):
        return value.code
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, float):
        return _day(value, from_1904) if grid.is_date(row, column) else number_as_text(value)
    return str(value).strip()


def _paper_text(grid: Grid, row: int, column: int, from_1904: bool) -> str:
    """Return what the paper says, as typed: 85% as such, a formula without a result as formula."""
    value = grid.value(row, column)
    if value is None and (row, column) in grid.uncalculated:
        return f"={grid.formulas.get((row, column), '')}"
    if isinstance(value, float) and grid.is_percent(row, column):
        return f"{number_as_text(round(value * 100, 9))}%"
    return _text(grid, row, column, from_1904)


def _day(number: float, from_1904: bool) -> str:
    """Return the day of a date cell, with the time where it has one."""
    try:
        start = datetime(1904, 1, 1) if from_1904 else datetime(1899, 12, 30)
        moment = start + timedelta(seconds=round(number * 86_400))
    except OverflowError:
        return number_as_text(number)
    whole = moment.hour == moment.minute == moment.second == 0
    return moment.strftime("%Y-%m-%d" if whole else "%Y-%m-%d %H:%M:%S")


def _decision(row: dict[str, str]) -> Decision:
    key = _KEY.fullmatch(row["rests_on"])
    finding, rests_on = (key[1], key[2]) if key else ("", "")
    if _ID.fullmatch(row["id"]) and row["id"] != finding:
        # the two no longer belong together: what is seen counts, its readings are unknown
        finding, rests_on = row["id"], ""
    return Decision(
        finding=finding,
        rests_on=rests_on,
        word=row.get("decision", ""),
        initials=row.get("initials", ""),
        date=row.get("date", ""),
        note=row.get("note", ""),
        earlier=row.get("earlier", ""),
        texts=FindingTexts(**{name: row[name] for name in _TEXTS}, message=row["found"]),
        paper=row.get("paper", ""),
        cells=row.get("cells", ""),
    )


def _with_answers(
    rows: tuple[Decision, ...], answers: list[tuple[Decision, str]]
) -> tuple[Decision, ...]:
    """Put the answers of the crew into the rows: NOT SAFE as decision, anything else as note."""
    known = {row.finding: position for position, row in enumerate(rows) if row.finding}
    result = list(rows)
    for answered, answer in answers:
        position = known.get(answered.finding)
        if position is None:
            result.append(_add_answer(answered, answer))
        else:
            result[position] = _add_answer(result[position], answer)
    return tuple(result)


def _add_answer(row: Decision, answer: str) -> Decision:
    note = f"crew: {answer}"
    if closing_word(answer) == NOT_SAFE:
        if row.word not in ("", NOT_SAFE):
            note += f" (before: {row.word})"
        row = replace(row, word=NOT_SAFE)
    return replace(row, note="; ".join(text for text in (row.note, note) if text))


def _missing_columns(package: Package) -> Iterator[str]:
    """Yield what could not be read from To check."""
    if _sheet(package, "to_check") is None:
        return
    table = _find(package, "to_check")
    if table is None:
        yield (
            "To check has lost its row of headings, so no decision could be read from it. The tab "
            "is kept. Type decisions into the new one"
        )
        return
    lost = [label for key, label in OFFICE_LABELS.items() if key not in table[1].at]
    if lost:
        yield (
            f"To check had no column {', '.join(f'“{label}”' for label in lost)} any more (or had "
            "it twice), so nothing could be read from there. It is back now"
        )
