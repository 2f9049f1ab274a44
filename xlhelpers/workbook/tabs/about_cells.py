"""Two lists of the tab About this fill: live cells that differ, and results typed over.

The second is read back and carried on, so that a later fill does not take it away.
"""

import re
from collections.abc import Iterator, Sequence

import pandas as pd

from xlhelpers.package.container import Package
from xlhelpers.package.grid import Grid, Value, read_grid
from xlhelpers.package.references import column_letters, parse_cell
from xlhelpers.survey.words import number_as_text
from xlhelpers.workbook import our_tabs
from xlhelpers.workbook.sheet_plan import Block, Column, Link, TypedOver
from xlhelpers.workbook.told_cells import WORDS, ToldCells

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


def told_block(told: Sequence[ToldCells]) -> Block:
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
        for cells in told
        for first, last in cells.ranges
    ]
    columns = (
        Column("where", "Where", "link", width=WIDE),
        Column("label", "Live column", "text", width=NARROW),
        Column("first", "First cell", "text", width=NARROW),
        Column("last", "Last cell", "text", width=NARROW),
        Column("count", "Cells", quantity="count", width=NARROW),
        Column("what", "What", "wrapped", width=TEXT),
    )
    return Block(
        "told",
        columns,
        pd.DataFrame(rows, columns=[column.key for column in columns], dtype=object),
        title="Live cells without their formula, or with another value than the program's",
        if_empty="There are none.",
    )


def typed_block(typed: Sequence[TypedOver]) -> Block:
    """Return the list of results that had been typed over, the latest first."""
    keys = [column.key for column in _TYPED_COLUMNS]
    rows = [[getattr(cell, key) for key in keys] for cell in dict.fromkeys(typed)]
    return Block(
        "typed_over",
        _TYPED_COLUMNS,
        pd.DataFrame(rows, columns=keys, dtype=object),
        title="Results that had been typed over",
        sentence="Grey cells are filled anew each time; what was typed there is kept in this list. "
        "A link leads to where the cell stood at that fill.",
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
