"""A sheet of somebody's own as it is read: every cell of every tab, from any kind of file.

Workbooks (.xlsx, .xlsm) are read by the program's own reader, .ods by calamine, texts as tables
whose separator, encoding and decimal sign are found out. The file itself is never written.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path

from xlhelpers.errors import WorkbookError
from xlhelpers.jobs.bring import words
from xlhelpers.package.parts.parts import SheetPart, date1904, defined_names, sheets
from xlhelpers.package.sheet.grid import Grid, read_grid
from xlhelpers.package.sheet.grid_scan import CellError
from xlhelpers.package.sheet.references import cell_name
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.sniffing import not_a_workbook
from xlhelpers.reading.refusals import refuse_unreadable
from xlhelpers.survey.typed.dates import from_day_number
from xlhelpers.survey.typed.words import number_as_text, tidy

TEXTS = (".csv", ".tsv", ".txt")
SUFFIXES = (".xlsx", ".xlsm", ".ods", *TEXTS)
NO_RESULT = "formula without a result"
_SEPARATORS = ",;\t|"
_MOST_BYTES = 200_000_000
_SAMPLE = 200
_COMMA_NUMBER = re.compile(r"[+-]?[0-9]+,[0-9]+")
_POINT_NUMBER = re.compile(r"[+-]?[0-9]+\.[0-9]+")
Value = float | str | bool | date | CellError | None


@dataclass(frozen=True)
class ForeignSheet:
    """One tab: rows of values, all of one length; `merges` are (top, left, bottom, right) from 0.

    With `comma` the numbers are texts that have a decimal comma; `hidden` are rows that are not
    shown.
    """

    name: str
    rows: tuple[tuple[Value, ...], ...]
    merges: tuple[tuple[int, int, int, int], ...] = ()
    comma: bool = False
    hidden: frozenset[int] = frozenset()

    @property
    def width(self) -> int:
        """Return the number of columns."""
        return len(self.rows[0]) if self.rows else 0

    def place(self, row: int, column: int) -> str:
        """Return the address of a cell, such as "C7"; rows and columns count from 0."""
        return cell_name(row + 1, column + 1)


def is_blank(value: Value) -> bool:
    """Return whether a cell shows nothing."""
    return value is None or (isinstance(value, str) and not value.strip())


def text_of(value: Value) -> str:
    """Return a cell as a text, numbers and dates as a spreadsheet shows them."""
    if value is None:
        return ""
    if isinstance(value, CellError):
        return value.code
    if isinstance(value, bool):
        return "TRUE" if value else "FALSE"
    if isinstance(value, float):
        return number_as_text(float(f"{value:.12g}"))
    if isinstance(value, date):
        return value.isoformat()
    return tidy(value)


def read_foreign(path: Path) -> tuple[ForeignSheet, ...]:
    """Read every tab of a file; the file stays as it is.

    Parameters
    ----------
    path : Path
        A workbook (.xlsx, .xlsm), an OpenDocument sheet (.ods), or a text (.csv, .tsv, .txt).

    Returns
    -------
    tuple of ForeignSheet
        The tabs in their order, hidden ones too.

    Raises
    ------
    WorkbookError
        It is not there, is no such file, or is a workbook of this program already.
    """
    suffix = path.suffix.casefold()
    if suffix not in SUFFIXES:
        raise WorkbookError(words.WRONG_FILE.format(name=path.name))
    if not path.is_file():
        raise WorkbookError(words.NOT_THERE.format(path=path))
    if suffix in TEXTS:
        return (_read_text(path),)
    if suffix == ".ods":
        return _read_ods(path)
    refuse_unreadable(path)
    package = Package.open(path)
    if any(name.name.startswith("xlh_template_version") for name in defined_names(package)):
        raise WorkbookError(words.OURS_ALREADY.format(name=path.name))
    return tuple(
        _read_part(package, part)
        for part in sheets(package)
        if part.kind == "worksheet" and part.part
    )


def _read_part(package: Package, part: SheetPart) -> ForeignSheet:
    grid = read_grid(package, part)
    from_1904 = date1904(package)
    height, width = grid.shape
    rows = tuple(
        tuple(_cell(grid, row, column, from_1904) for column in range(1, width + 1))
        for row in range(1, height + 1)
    )
    merges = tuple((a - 1, b - 1, c - 1, d - 1) for a, b, c, d in grid.merges)
    hidden = frozenset(row - 1 for row in grid.hidden_rows if row <= height)
    return ForeignSheet(part.name, rows, merges, hidden=hidden)


def _cell(grid: Grid, row: int, column: int, from_1904: bool) -> Value:
    value = grid.value(row, column)
    if value is None:
        return CellError(NO_RESULT) if (row, column) in grid.uncalculated else None
    if isinstance(value, float) and not isinstance(value, bool):
        if grid.is_date(row, column):
            day = from_day_number(value, from_1904)
            return value if day is None else day
        if grid.is_percent(row, column):
            return f"{number_as_text(float(f'{value * 100:.12g}'))} %"
    return value


def _read_ods(path: Path) -> tuple[ForeignSheet, ...]:
    import python_calamine  # needed for these files alone

    try:
        book = python_calamine.CalamineWorkbook.from_path(path)
        return tuple(
            _even_rows(
                name,
                [
                    [_from_calamine(cell) for cell in row]
                    for row in book.get_sheet_by_name(name).to_python(skip_empty_area=False)
                ],
            )
            for name in book.sheet_names
        )
    except (python_calamine.CalamineError, OSError, ValueError) as error:
        raise WorkbookError(words.NOT_READ.format(name=path.name, error=error)) from error


def _from_calamine(cell: object) -> Value:
    if isinstance(cell, bool | str):
        return cell if cell != "" else None
    if isinstance(cell, int | float):
        return float(cell)
    if isinstance(cell, datetime):
        return cell.date()
    if isinstance(cell, date):
        return cell
    if isinstance(cell, time):
        return cell.isoformat()
    return None if cell is None else str(cell)


def _even_rows(name: str, rows: Sequence[Sequence[Value]], *, comma: bool = False) -> ForeignSheet:
    width = max(map(len, rows), default=0)
    even = tuple((*row, *[None] * (width - len(row))) for row in rows)
    return ForeignSheet(name, even, comma=comma)


def _read_text(path: Path) -> ForeignSheet:
    if path.stat().st_size > _MOST_BYTES:
        raise WorkbookError(words.TOO_LARGE.format(name=path.name))
    data = path.read_bytes()
    head = data[:4096].lstrip().lower()
    if data.startswith((b"PK", b"\xd0\xcf\x11\xe0", b"%PDF")) or head.startswith(b"<"):
        raise not_a_workbook(path.name, data)
    text = _decode(data)
    separator = _separator(text)
    if text[:4].casefold() == "sep=":
        separator, text = text[4], "\n" + text.split("\n", 1)[-1]
    try:
        rows = list(csv.reader(io.StringIO(text, newline=""), delimiter=separator))
    except csv.Error as error:
        raise WorkbookError(words.NOT_READ.format(name=path.name, error=error)) from error
    cells: list[list[Value]] = [[cell if cell.strip() else None for cell in row] for row in rows]
    return _even_rows(path.stem, cells, comma=separator != "," and _has_commas(rows))


def _decode(data: bytes) -> str:
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        return data.decode("utf-16", "replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        pass
    try:
        return data.decode("cp1252")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def _separator(text: str) -> str:
    """Return the sign that parts most lines into the same number of cells, more than one."""
    lines = text.splitlines()[:_SAMPLE]

    def likeness(sign: str) -> tuple[int, int]:
        counts = [len(row) for row in csv.reader(lines, delimiter=sign) if len(row) > 1]
        most = max(set(counts), key=counts.count, default=1)
        return counts.count(most), most

    return max(_SEPARATORS, key=likeness)


def _has_commas(rows: Sequence[Sequence[str]]) -> bool:
    """Return whether numbers have a decimal comma: some do, and none has a point."""
    cells = [cell.strip() for row in rows for cell in row]
    commas = sum(bool(_COMMA_NUMBER.fullmatch(cell)) for cell in cells)
    points = sum(bool(_POINT_NUMBER.fullmatch(cell)) for cell in cells)
    return commas > 0 and commas > 10 * points
