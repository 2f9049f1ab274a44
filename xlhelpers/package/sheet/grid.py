"""Every cell of one worksheet: its value, format, formula, and whether it was ever calculated."""

from __future__ import annotations

import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from lxml import etree
from numpy.typing import NDArray

from xlhelpers.errors import DamagedError, WorkbookError
from xlhelpers.package.formulas.formula_map import FormulaMap
from xlhelpers.package.parts import styles as number_formats
from xlhelpers.package.parts.parts import SheetPart, date1904
from xlhelpers.package.parts.styles import number_format_codes
from xlhelpers.package.parts.xml_text import Element, damage_error, is_true, local
from xlhelpers.package.sheet.cell_set import CellSet
from xlhelpers.package.sheet.cell_text import shared_strings
from xlhelpers.package.sheet.grid_scan import CellCollector, CellError, Portion, Value, scan
from xlhelpers.package.sheet.references import MAX_COLUMN, MAX_ROW, Area, parse_areas
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.sniffing import REPAIR

__all__ = [
    "CellError",
    "Grid",
    "SheetTooLargeError",
    "Value",
    "read_grid",
]
MAX_CELLS = 40_000_000
# of a sheet that is too large: where its headings would be
_TOP_ROWS, _TOP_COLUMNS = 1_000, 400


@dataclass(frozen=True)
class Grid:
    """The cells of one worksheet from A1 to the last cell in use; index [row - 1, column - 1].

    `values` holds float, str, bool, CellError or None (dates are day numbers, as stored);
    `styles` the format index of each cell, -1 where there is no cell; `formulas` the text of
    each formula without its equals sign ("" for the further cells of a shared formula);
    `iso_dates` the cells that store a date as text of ISO 8601, given here as day numbers;
    `protected` whether the sheet is protected against typing.
    """

    values: NDArray[np.object_]
    styles: NDArray[np.int32]
    formulas: FormulaMap
    uncalculated: CellSet
    hidden_rows: frozenset[int]
    filtered: bool
    merges: tuple[Area, ...]
    number_formats: tuple[str, ...]
    iso_dates: frozenset[tuple[int, int]] = frozenset()
    protected: bool = False

    @property
    def shape(self) -> tuple[int, int]:
        """Number of rows and of columns."""
        return self.values.shape[0], self.values.shape[1]

    def value(self, row: int, column: int) -> Value:
        """Value of a cell; None outside the grid."""
        if 1 <= row <= self.shape[0] and 1 <= column <= self.shape[1]:
            content: Value = self.values[row - 1, column - 1]
            return content
        return None

    def number_format(self, row: int, column: int) -> str:
        """Number format code of a cell; General where there is no cell."""
        if not (1 <= row <= self.shape[0] and 1 <= column <= self.shape[1]):
            return number_formats.GENERAL
        style = int(self.styles[row - 1, column - 1])
        if not 0 <= style < len(self.number_formats):
            return number_formats.GENERAL
        return self.number_formats[style]

    def is_percent(self, row: int, column: int) -> bool:
        """Whether the cell shows its number as a percentage (0.85 as 85%)."""
        return number_formats.is_percent(self.number_format(row, column))

    def is_date(self, row: int, column: int) -> bool:
        """Whether the cell shows its number as a date or a time."""
        return (row, column) in self.iso_dates or number_formats.is_date(
            self.number_format(row, column)
        )


class SheetTooLargeError(WorkbookError):
    """A stray cell lies so far out that the cells between would fill the memory.

    `top` holds the first rows and columns, enough to tell what the sheet is.
    """

    def __init__(self, message: str, top: Grid) -> None:
        """Keep the message and the cells."""
        super().__init__(message)
        self.top = top


def _stream(data: bytes) -> Iterator[Element]:
    names = ("row", "mergeCell", "filterColumn", "sheetPr", "sheetProtection")
    wanted = [f"{{*}}{name}" for name in names]
    for _, element in etree.iterparse(
        io.BytesIO(data),
        events=("end",),
        tag=wanted,
        resolve_entities=False,
        no_network=True,
        load_dtd=False,
        huge_tree=False,
    ):
        yield element
        # What was read is let go at once: a tall sheet would fill the memory otherwise.
        element.clear()
        while (before := element.getprevious()) is not None and local(before) == "row":
            parent = element.getparent()
            if parent is None:
                break
            parent.remove(before)


def _collect(data: bytes, collector: CellCollector) -> None:
    for element in _stream(data):
        kind = local(element)
        if kind == "row":
            collector.take_row(element)
        elif kind == "mergeCell":
            collector.merges.append(element.get("ref"))
        elif kind == "sheetProtection":
            collector.protected |= is_true(element.get("sheet"))
        elif kind == "filterColumn" or is_true(element.get("filterMode")):
            collector.filtered = True


def read_grid(
    package: Package, sheet: SheetPart, *, careful: bool = False, keep: bool = False
) -> Grid:
    """Read all cells of a worksheet.

    Parameters
    ----------
    package
        The opened workbook.
    sheet
        One of its worksheets.
    careful
        Read by the XML parser even where the quick way would do; both give the same.
    keep
        Keep what was read until the sheet changes, for those who ask next; not to be changed.

    Raises
    ------
    WorkbookError
        Not a worksheet or a damaged part.
    SheetTooLargeError
        A stray cell lies too far out.
    """
    if sheet.kind != "worksheet" or not sheet.part:
        raise WorkbookError(f"{sheet.name} is not a worksheet, so it has no cells.")
    known = None if careful else package.recall(sheet.part, "grid")
    if isinstance(known, Grid):
        return known
    if keep:
        return package.remember(sheet.part, "grid", lambda data: _read(package, sheet, data))
    return _read(package, sheet, package.read(sheet.part), careful=careful)


def _read(package: Package, sheet: SheetPart, content: bytes, *, careful: bool = False) -> Grid:
    strings, from_1904 = shared_strings(package), date1904(package)
    collector = CellCollector(strings, from_1904)
    try:
        if not careful and scan(content, collector):
            package.note_sound(sheet.part)
        else:
            collector = CellCollector(strings, from_1904)
            _collect(content, collector)
        return _grid(collector, sheet.name, number_format_codes(package))
    except (etree.XMLSyntaxError, ValueError, IndexError, OverflowError) as error:
        raise damage_error(sheet.part) from error


def _grid(collector: CellCollector, sheet_name: str, codes: tuple[str, ...]) -> Grid:
    portions = collector.portions()
    if not all(map(_is_inside, portions)):
        raise DamagedError(
            f"The workbook is damaged ({sheet_name} has a cell outside the sheet). {REPAIR}."
        )
    shape = _shape(portions)
    if shape[0] * shape[1] > MAX_CELLS:
        # Formats reach far beyond the data in many workbooks; they alone are no reason to stop.
        portions = [_cells_with_value(item) for item in portions]
        shape = _shape(portions)
    if shape[0] * shape[1] > MAX_CELLS:
        top = [_cells_at_the_top(item) for item in portions]
        raise SheetTooLargeError(
            f"{sheet_name} is too large to read (up to row {shape[0]:,}, column {shape[1]:,}). "
            "Delete the stray cells outside the data and save the workbook.",
            _fill_grid(collector, top, _shape(top), codes),
        )
    return _fill_grid(collector, portions, shape, codes)


def _fill_grid(
    collector: CellCollector,
    portions: Sequence[Portion],
    shape: tuple[int, int],
    codes: tuple[str, ...],
) -> Grid:
    values = np.full(shape, None, dtype=object)
    styles = np.full(shape, -1, dtype=np.int32)
    for item in portions:
        styles[item.rows - 1, item.columns - 1] = item.styles
        values[item.rows[item.valued] - 1, item.columns[item.valued] - 1] = item.values
    # A grid may be kept and given to several.
    values.flags.writeable = styles.flags.writeable = False
    return Grid(
        values=values,
        styles=styles,
        formulas=collector.formulas.to_map(),
        uncalculated=collector.uncalculated(),
        hidden_rows=frozenset(collector.hidden),
        filtered=collector.filtered,
        merges=parse_areas(collector.merges),
        number_formats=codes,
        iso_dates=frozenset(collector.iso_dates),
        protected=collector.protected,
    )


def _is_inside(item: Portion) -> bool:
    return item.rows.size == 0 or bool(
        item.rows.min() >= 1
        and item.rows.max() <= MAX_ROW
        and item.columns.min() >= 1
        and item.columns.max() <= MAX_COLUMN
    )


def _shape(portions: Sequence[Portion]) -> tuple[int, int]:
    rows = max((int(item.rows.max(initial=0)) for item in portions), default=0)
    return rows, max((int(item.columns.max(initial=0)) for item in portions), default=0)


def _cells_at_the_top(item: Portion) -> Portion:
    """The cells with a value among the first rows and columns; the item has no others."""
    near = (item.rows <= _TOP_ROWS) & (item.columns <= _TOP_COLUMNS)
    positions = np.arange(int(near.sum()), dtype=np.int32)
    return Portion(
        item.rows[near], item.columns[near], item.styles[near], positions, item.values[near]
    )


def _cells_with_value(item: Portion) -> Portion:
    """The cells with a value alone."""
    at = item.valued
    positions = np.arange(len(at), dtype=np.int32)
    return Portion(item.rows[at], item.columns[at], item.styles[at], positions, item.values)
