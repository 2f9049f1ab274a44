"""Types into our tabs as an office does, with a program that is not ours; reads them again."""

from collections.abc import Iterator, Mapping
from contextlib import closing
from pathlib import Path
from typing import Any

import openpyxl
from openpyxl.worksheet.worksheet import Worksheet

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.package.parts.parts import defined_names, sheet_named
from xlhelpers.package.sheet.cell_edit import edit_cells
from xlhelpers.package.sheet.cell_writes import CellWrite
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.sheet.references import parse_target
from xlhelpers.package.zip.container import Package

# three findings, one of each kind of work: a crown base above the top (paper), a doubtful number
# (paper), too near under the crown (again)
TROUBLED: tuple[dict[str, Any], ...] = (
    {"tree": "6", "tip_reading": "7o"},
    {"tree": "7", "tip_reading": 5, "base_reading": 50},
    {"tree": "8", "distance": 4, "foot_reading": -37},
)


def heading_row(sheet: Worksheet) -> int:
    return next(c.row for row in sheet.iter_rows() for c in row if c.value == "Finding")


def columns(sheet: Worksheet) -> dict[str, int]:
    return {str(c.value): c.column for c in sheet[heading_row(sheet)] if c.value}


def rows_of(path: Path, tab: str = "To check") -> list[dict[str, Any]]:
    """Return the rows of a tab by heading, those with a finding's id only."""
    # read-only, it takes in the one sheet that is asked for
    with closing(openpyxl.load_workbook(path, read_only=True, data_only=True)) as book:
        cells = list(book[tab].iter_rows(values_only=True))
    first = next(number for number, row in enumerate(cells) if "Finding" in row)
    at = {str(heading): column for column, heading in enumerate(cells[first]) if heading}
    rows = [{heading: row[column] for heading, column in at.items()} for row in cells[first + 1 :]]
    return [row for row in rows if row["Finding"]]


def tab_names(path: Path) -> list[str]:
    with closing(openpyxl.load_workbook(path, read_only=True)) as book:
        return list(book.sheetnames)


def row_of(path: Path, tree: str, tab: str = "To check") -> dict[str, Any]:
    return next(row for row in rows_of(path, tab) if str(row["Tree"]) == tree)


def decide(path: Path, tree: str, typed: Mapping[str, Any], tab: str = "To check") -> None:
    """Type into the row of a tree: heading to value."""
    decide_each(path, {tree: typed}, tab)


def decide_each(path: Path, typed: Mapping[str, Mapping[str, Any]], tab: str = "To check") -> None:
    """Type into the rows of several trees: tree to heading to value."""
    book = openpyxl.load_workbook(path)
    sheet = book[tab]
    at = columns(sheet)
    for tree, values in typed.items():
        for number in _rows_of_tree(sheet, at, tree):
            for heading, value in values.items():
                sheet.cell(number, at[heading]).value = value
    book.save(path)


def _rows_of_tree(sheet: Worksheet, at: Mapping[str, int], tree: str) -> Iterator[int]:
    for number in range(heading_row(sheet) + 1, sheet.max_row + 1):
        if str(sheet.cell(number, at["Tree"]).value) == tree:
            yield number


def rekey(path: Path, tree: str, values: Mapping[str, Any]) -> None:
    """Correct cells of the field sheet in the lines of a tree: field name to value."""
    package = Package.open(path)
    part = sheet_named(package, FIELD_SHEET.tab)
    assert part is not None
    places = {item.name: parse_target(item.text) for item in defined_names(package)}
    at = {f.name: places[FIELD_SHEET.defined_name(f.name)][2] for f in FIELD_SHEET.fields}
    grid = read_grid(package, part)
    rows = [r for r in range(6, grid.shape[0] + 1) if _text(grid.value(r, at["tree"])) == tree]
    assert rows
    writes = [CellWrite(row, at[name], value) for row in rows for name, value in values.items()]
    assert edit_cells(package, part, writes).changed
    path.write_bytes(package.to_bytes())


def _text(value: object) -> str:
    """A tree's number as it was typed: programs store whole numbers as floats."""
    return f"{value:g}" if isinstance(value, float) else str(value)


def shuffle_rows(sheet: Worksheet, first: int) -> None:
    """Turn the order of the rows around, cells as they stand, as a sort does."""
    width = sheet.max_column
    rows = [[c.value for c in row] for row in sheet.iter_rows(min_row=first, max_col=width)]
    for number, row in enumerate(reversed(rows), first):
        for column, value in enumerate(row, 1):
            sheet.cell(number, column).value = value
