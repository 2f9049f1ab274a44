"""A plain table that somebody hands in beside a workbook: rows of texts below one row of headings.

CSV (comma, semicolon or tab) or the first filled tab of a workbook. Cells are texts, numbers as a
spreadsheet shows them.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from xlhelpers.errors import WorkbookError
from xlhelpers.package.parts.parts import sheets
from xlhelpers.package.sheet.grid import Grid, read_grid
from xlhelpers.package.sheet.grid_scan import CellError
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.refusals import refuse_unreadable
from xlhelpers.survey.typed.folding import fold
from xlhelpers.survey.typed.words import number_as_text, tidy

_TEXTS = (".csv", ".tsv", ".txt")
_MOST_BYTES = 200_000_000


@dataclass(frozen=True)
class ListTable:
    """A table as read: `rows` of texts, all as long as `headings`; `lines` where each stands."""

    name: str
    headings: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    lines: tuple[int, ...]

    def find(self, names: Mapping[str, Sequence[str]]) -> dict[str, int]:
        """Return for each key the first column whose heading is one of its names."""
        folded = [fold(heading) for heading in self.headings]
        columns = {}
        for key, wanted in names.items():
            at = [folded.index(fold(name)) for name in wanted if fold(name) in folded]
            if at:
                columns[key] = at[0]
        return columns

    def column(self, at: int) -> list[str]:
        """Return the texts of a column."""
        return [row[at] for row in self.rows]


def read_list(path: Path, wanted: str = "a table") -> ListTable:
    """Read a table; the file stays as it is.

    Parameters
    ----------
    path
        A .csv, .tsv or .txt file, or a workbook.
    wanted
        What it is to hold, in words, for the message where there is no such file.

    Raises
    ------
    WorkbookError
        It is not there, cannot be read, or holds no row under its headings.
    """
    if path.suffix.casefold() in _TEXTS:
        cells = _texts(path, wanted)
    else:
        refuse_unreadable(path)
        cells = _cells(Package.open(path))
    filled = [(line, row) for line, row in enumerate(cells, 1) if any(row)]
    if len(filled) < 2:
        raise WorkbookError(f"{path.name} has no rows below a row of headings.")
    headings = tuple(filled[0][1])
    width = len(headings)
    rows = tuple(tuple((*row, *[""] * width)[:width]) for _, row in filled[1:])
    return ListTable(path.name, headings, rows, tuple(line for line, _ in filled[1:]))


def _texts(path: Path, wanted: str) -> list[list[str]]:
    if not path.is_file():
        raise WorkbookError(f"{path} is not there. Name {wanted}.")
    if path.stat().st_size > _MOST_BYTES:
        raise WorkbookError(f"{path.name} is too large for a list of places.")
    data = path.read_bytes()
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        text = data.decode("cp1252", "replace")  # as spreadsheets on Windows save it
    head = text.lstrip().split("\n", 1)[0]
    delimiter = max(",;\t", key=head.count)
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=delimiter))
    except csv.Error as error:
        raise WorkbookError(f"{path.name} cannot be read as a table: {error}.") from error
    return [[tidy(cell) for cell in row] for row in rows]


def _cells(package: Package) -> list[list[str]]:
    for part in sheets(package):
        if part.kind == "worksheet" and part.part:
            grid = read_grid(package, part)
            rows = [
                [_text(grid, row, column) for column in range(1, grid.shape[1] + 1)]
                for row in range(1, grid.shape[0] + 1)
            ]
            if any(any(row) for row in rows):
                return rows
    return []


def _text(grid: Grid, row: int, column: int) -> str:
    value = grid.value(row, column)
    if value is None:
        return ""
    if isinstance(value, CellError):
        return value.code
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        if grid.is_percent(row, column):
            return f"{number_as_text(float(f'{value * 100:.12g}'))} %"
        return number_as_text(value)
    return tidy(value)
