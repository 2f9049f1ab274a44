"""The columns of the tabs that the office works in: their headings, and which it types into.

They are found again by heading, or by the defined name on the heading cell; never by position.
"""

import re
from collections import Counter
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from xlhelpers.package.parts.parts import SheetPart, defined_names
from xlhelpers.package.sheet.cell_text import is_filled
from xlhelpers.package.sheet.grid import Grid
from xlhelpers.package.sheet.references import parse_target
from xlhelpers.package.zip.container import Package
from xlhelpers.pages.chosen_cells import chosen_cells
from xlhelpers.survey.decisions.decisions import Decision
from xlhelpers.survey.typed.words import fold_word

_SEARCHED_ROWS = 60
_LEAST_HEADINGS = 3
_OUR_LINK = 'HYPERLINK("#'
_QUOTED = re.compile(r"\"(?:[^\"]|\"\")*\"|'(?:[^']|'')*'")
_LINK_TEXT = re.compile(r"\"((?:[^\"]|\"\")*)\"\)$")
_FUNCTION = re.compile(r"(?:_XLFN\.)?([A-Z][A-Z0-9.]*)\(")
# the finding, in every one of these tabs
SUBJECT_LABELS = {
    "id": "Finding",
    "severity": "Severity",
    "plot": "Plot",
    "tree": "Tree",
    "setup": "Set-up",
    "about": "Item",
    "found": "What was found",
}
# what the cells of a finding hold, and what the paper says instead
CELLS_LABEL = {"cells": "Cells"}
PAPER_LABEL = {"paper": "Paper says"}
# what the office types
OFFICE_LABELS = {"decision": "Decision", "initials": "Initials", "date": "Date", "note": "Note"}
EARLIER_LABEL = {"earlier": "Earlier decisions"}
# hidden: the id and the fingerprint of the readings
KEY_LABEL = {"rests_on": "Program code (do not edit)"}
LEFT_LABELS = {"became": "How it was resolved", "left_on": "Resolved on"}
ANSWER_LABEL = {"answer": "Answer, or NOT SAFE"}
# what the list corrected
CORRECTED_LABELS = {"cell": "Cell corrected", "old": "Old value", "new": "New value"}
# what is typed once for all decisions of To check: key -> its label; the cells have names
FOR_ALL_LABELS = {"initials": "Initials for all", "date": "Date for all"}
# tab -> key of a column -> its heading
LABELS: dict[str, dict[str, str]] = {
    "to_check": SUBJECT_LABELS
    | CELLS_LABEL
    | PAPER_LABEL
    | OFFICE_LABELS
    | EARLIER_LABEL
    | KEY_LABEL,
    "again": SUBJECT_LABELS | ANSWER_LABEL | KEY_LABEL,
    "log": SUBJECT_LABELS
    | LEFT_LABELS
    | CORRECTED_LABELS
    | PAPER_LABEL
    | OFFICE_LABELS
    | EARLIER_LABEL
    | KEY_LABEL,
}
# headings of earlier versions, by which columns are found as well
_EARLIER_LABELS = {
    "about": "About",
    "rests_on": "Rests on",
    "became": "What became of it",
    "left_on": "Left the list",
}
# tab -> keys of the columns that are typed into
TYPED: dict[str, frozenset[str]] = {
    "to_check": frozenset(PAPER_LABEL | OFFICE_LABELS),
    "again": frozenset(ANSWER_LABEL),
    "log": frozenset(),
}


@dataclass(frozen=True)
class Columns:
    """The heading row of one tab and the column of each key that was found (from 1)."""

    heading_row: int
    at: Mapping[str, int]


def name_of_column(tab: str, key: str) -> str:
    """Return the defined name on the heading of a column."""
    return f"xlh_{tab}_{key}"


def find_columns(package: Package, sheet: SheetPart, grid: Grid, tab: str) -> Columns | None:
    """Return where the columns of a tab stand, None where it has no headings of ours.

    Parameters
    ----------
    package : Package
        The opened workbook.
    sheet : SheetPart
        The tab.
    grid : Grid
        Its cells.
    tab : str
        Its key, one of `LABELS`.
    """
    labels = {
        fold_word(word): key
        for key, label in LABELS[tab].items()
        for word in (label, _EARLIER_LABELS.get(key, label))
    }
    named = _find_by_names(package, sheet, tab)
    row = _heading_row(grid, labels, [row for row, _ in named.values()])
    if row is None:
        return None
    headings = _headings(grid, row)
    counted = Counter(headings.values())
    # a heading as we wrote it, once only, is surest; a renamed one is known by its name
    at = {labels[k]: c for c, k in headings.items() if k in labels and counted[k] == 1}
    taken = set(at.values())
    for key, (named_row, column) in named.items():
        if key not in at and named_row == row and column not in taken:
            at[key] = column
            taken.add(column)
    return Columns(row, at)


def cells_to_compare(
    package: Package, sheet: SheetPart, grid: Grid, tab: str
) -> NDArray[np.object_]:
    """Return the cells of a tab by which it is seen whether somebody added to it.

    A formula counts by the functions that it calls: its result follows what is keyed and chosen,
    and its spelling the program that saved the workbook. What is chosen on a tab does not count.
    In the tabs that the office works in, its own columns, blank cells and the order of the rows
    do not count: typing a decision, sorting and inserting blank rows add nothing. Nor do our
    links, whose texts some programs leave out.
    """
    values = _with_formulas(grid)
    for _, row, column in chosen_cells(package, sheet):
        if row <= grid.shape[0] and column <= grid.shape[1]:
            values[row - 1, column - 1] = None
    columns = find_columns(package, sheet, grid, tab) if tab in TYPED else None
    if columns is None:
        return values
    for (row, column), formula in grid.formulas.items():
        if formula.upper().startswith(_OUR_LINK):
            values[row - 1, column - 1] = None
    values[:, [column - 1 for key, column in columns.at.items() if key in TYPED[tab]]] = None
    rows = [[v for v in row if v is not None and v != ""] for row in values.tolist()]
    rows = sorted((row for row in rows if row), key=lambda row: [str(value) for value in row])
    packed = np.full((len(rows), max(map(len, rows), default=0)), None, dtype=object)
    for place, texts in enumerate(rows):
        packed[place, : len(texts)] = texts
    return packed


def cells_of_ours(package: Package, sheet: SheetPart, grid: Grid, tab: str) -> NDArray[np.bool_]:
    """Return which cells of a tab the program fills: neither chosen in nor typed by the office.

    A cell with a formula is filled, whether a result is stored or not.
    """
    cells: NDArray[np.bool_] = is_filled(grid.values) & (grid.values != "")
    for row, column in grid.formulas:
        cells[row - 1, column - 1] = True
    for _, row, column in chosen_cells(package, sheet):
        if row <= grid.shape[0] and column <= grid.shape[1]:
            cells[row - 1, column - 1] = False
    columns = find_columns(package, sheet, grid, tab) if tab in TYPED else None
    if columns is not None:
        cells[:, [column - 1 for key, column in columns.at.items() if key in TYPED[tab]]] = False
    return cells


def _with_formulas(grid: Grid) -> NDArray[np.object_]:
    """Return the cells with the functions of each formula in the place of its result."""
    values = grid.values.copy()
    for column in grid.formulas.columns:
        called = ""
        for row, formula in grid.formulas.of_column(column):
            if formula.upper().startswith(_OUR_LINK):
                # some programs leave results out; that of a link is its last text
                match = _LINK_TEXT.search(formula)
                if values[row - 1, column - 1] is None and match is not None:
                    values[row - 1, column - 1] = match[1].replace('""', '"')
                continue
            # a formula that is filled down stands in its first cell only
            called = " ".join(["=", *functions_of(formula)]) if formula else called
            values[row - 1, column - 1] = called
    return values


def functions_of(formula: str) -> list[str]:
    """Return the functions that a formula calls, in their order; TRUE() and FALSE() are words."""
    plain = _QUOTED.sub("", formula).upper()
    return [name for name in _FUNCTION.findall(plain) if name not in ("TRUE", "FALSE")]


def _find_by_names(package: Package, sheet: SheetPart, tab: str) -> dict[str, tuple[int, int]]:
    keys = {name_of_column(tab, key).casefold(): key for key in LABELS[tab]}
    places = {}
    for name in defined_names(package):
        key = keys.get(name.name.casefold())
        target = parse_target(name.text) if key and name.local_sheet is None else None
        if key and target is not None and target[0].casefold() == sheet.name.casefold():
            places[key] = (target[1], target[2])
    return places


def _heading_row(grid: Grid, labels: Iterable[str], named: list[int]) -> int | None:
    """Return the row with the most of our headings, or the one that carries our names."""
    known = set(labels)
    last = min(grid.shape[0], max([_SEARCHED_ROWS, *named]))
    counts = {row: len(known & set(_headings(grid, row).values())) for row in range(1, last + 1)}
    best = max(counts, key=lambda row: counts[row], default=None)
    if best is not None and counts[best] >= _LEAST_HEADINGS:
        return best
    return Counter(named).most_common(1)[0][0] if named else None


def _headings(grid: Grid, row: int) -> dict[int, str]:
    cells = enumerate(grid.values[row - 1].tolist(), 1)
    return {column: fold_word(cell) for column, cell in cells if isinstance(cell, str) and cell}


def key_text(decision: Decision) -> str:
    """Return what stands in the hidden column of a row: its id and its fingerprint."""
    return f"{decision.finding} {decision.rests_on}".strip()
