"""A worksheet as a tree in which rows and cells are found, and made, by their numbers.

Rows and cells may lack their numbers, and rows may stand in any order; both are handled.
"""

from __future__ import annotations

from collections.abc import Iterator

from lxml import etree

from xlhelpers.package.parts.xml_text import (
    Element,
    child,
    children,
    damage_error,
    descendants,
    integer,
    is_true,
    parse,
    sibling_name,
)
from xlhelpers.package.sheet.references import (
    Area,
    area_name,
    cell_name,
    joined_area,
    parse_area,
    parse_cell,
)


class SheetTree:
    """The tree of one worksheet; new elements take the namespace and prefix of the sheet."""

    def __init__(self, data: bytes, part: str) -> None:
        """Parse the part and number its rows."""
        self.root = parse(data, part)
        sheet_data = child(self.root, "sheetData")
        if sheet_data is None:
            raise damage_error(part)
        self.data = sheet_data
        self._part = part
        self._rows: dict[int, Element] = {}
        self._cells: dict[int, dict[int, Element]] = {}
        self._implicit_cells: set[int] = set()
        self._columns: dict[str, int] = {}
        number = 0
        self._implicit_rows = False
        for element in children(sheet_data, "row"):
            text = element.get("r")
            self._implicit_rows |= text is None
            number = number + 1 if text is None else integer(text, -1)
            if number < 1:
                raise damage_error(part)
            self._rows.setdefault(number, element)
        self._ascending = list(self._rows) == sorted(self._rows)

    def cells(self, row: int) -> dict[int, Element]:
        """Cell elements of a row by column, in the order of the file."""
        if row not in self._cells:
            self._cells[row] = self._cells_by_column(row) if row in self._rows else {}
        return self._cells[row]

    def _cells_by_column(self, row: int) -> dict[int, Element]:
        cells: dict[int, Element] = {}
        column = 0
        for cell in children(self._rows[row], "c"):
            name = cell.get("r")
            if name is None:
                column += 1
                self._implicit_cells.add(row)
            else:
                column = self._column(name)
            cells.setdefault(column, cell)
        return cells

    def _column(self, name: str) -> int:
        letters = name.rstrip("0123456789")
        column = self._columns.get(letters)
        if column is None:
            try:
                column = self._columns[letters] = parse_cell(name)[1]
            except ValueError as error:
                raise damage_error(self._part) from error
        return column

    def forget(self, row: int) -> None:
        """Let go what was noted of a row; it is noted anew when asked for."""
        self._cells.pop(row, None)

    def formulas(self) -> Iterator[tuple[int, int, Element]]:
        """Row, column and element of each formula, by rows."""
        for row in sorted(self._rows):
            # Most rows of most sheets hold no formula; asking first spares their numbering.
            if next(descendants(self._rows[row], "f"), None) is None:
                continue
            for column, cell in self.cells(row).items():
                formula = child(cell, "f")
                if formula is not None:
                    yield row, column, formula

    def cell(self, row: int, column: int) -> Element | None:
        """A cell element; None where there is none."""
        return self.cells(row).get(column)

    def style(self, row: int, column: int) -> str | None:
        """Format index that a cell shows: its own, or that of its row or its column."""
        cell = self.cell(row, column)
        if cell is not None:
            return cell.get("s")
        element = self._rows.get(row)
        if element is not None and is_true(element.get("customFormat")):
            return element.get("s")
        columns = child(self.root, "cols")
        for item in children(columns, "col") if columns is not None else ():
            if integer(item.get("min")) <= column <= integer(item.get("max")):
                return item.get("style")
        return None

    def make_cell(self, row: int, column: int, style: str | None) -> Element:
        """Add a cell that is not there yet, in its place."""
        element = self._rows.get(row)
        if element is None:
            element = self._make_row(row)
        cells = self.cells(row)
        if row in self._implicit_cells:
            # A cell without a name counts from the one before: it must not shift.
            for other, cell in cells.items():
                cell.set("r", cell.get("r") or cell_name(row, other))
            self._implicit_cells.discard(row)
        new = etree.SubElement(element, sibling_name(element, "c"), r=cell_name(row, column))
        if style not in (None, "0"):
            new.set("s", str(style))
        last = next(reversed(cells), 0)
        if column > last and last == max(cells, default=0):
            before = last
        else:
            before = max((other for other in cells if other < column), default=0)
        if before:
            cells[before].addnext(new)
        else:
            element.insert(0, new)
        cells[column] = new
        if before != last:
            self._cells[row] = dict(sorted(cells.items()))
        self._widen_spans(element, column)
        return new

    def _make_row(self, row: int) -> Element:
        if self._implicit_rows:
            for number, element in self._rows.items():
                element.set("r", element.get("r") or str(number))
            self._implicit_rows = False
        new = etree.SubElement(self.data, sibling_name(self.data, "row"), r=str(row))
        if not self._ascending or row < max(self._rows, default=0):
            before = [number for number in self._rows if number < row]
            if before:
                self._rows[max(before)].addnext(new)
            else:
                self.data.insert(0, new)
        self._rows[row] = new
        self._cells[row] = {}
        return new

    @staticmethod
    def _widen_spans(element: Element, column: int) -> None:
        spans = element.get("spans")
        if spans is None:
            return
        first, _, last = spans.partition(":")
        if not (first.isdigit() and last.isdigit()):
            del element.attrib["spans"]
        elif not int(first) <= column <= int(last):
            element.set("spans", f"{min(int(first), column)}:{max(int(last), column)}")

    def widen_dimension(self, written: Area) -> None:
        """Let the dimension of the sheet, where it states one, reach to the written cells."""
        element = child(self.root, "dimension")
        if element is None:
            return
        try:
            old = parse_area(str(element.get("ref", "")))
        except ValueError:
            return
        area = joined_area(old, written)
        if area != old:
            element.set("ref", area_name(area))
