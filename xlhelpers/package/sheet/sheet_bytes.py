"""A worksheet as the bytes that it is, its rows found by their numbers; for the usual spelling.

Most programs write a sheet in one plain way. Where a sheet is written in any other way, this
gives nothing and the tree of the sheet is used instead.
"""

from __future__ import annotations

import re
from array import array
from bisect import bisect_left
from collections.abc import Iterator
from xml.parsers import expat

from lxml import etree

from xlhelpers.package.parts.xml_text import MAIN, Element, child, integer, is_true, parse, parser
from xlhelpers.package.sheet.references import MAX_COLUMN, MAX_ROW, column_number

CELL = b'<c r="'
ROW_END = b"</row>"
PIECE = 1_000_000
_RARE = 10_000
_ENCODING = re.compile(rb"<\?xml[^>]*?encoding=[\"']([^\"']+)")
_ATTRIBUTES = rb'(?: [\w:.\-]+="[^"<>]*")*'
_ROW = re.compile(rb"<row(" + _ATTRIBUTES + rb") ?(/?)>")
_ROW_NUMBER = re.compile(rb' r="([1-9][0-9]{0,6})"')
_CELL_REST = re.compile(
    rb'([A-Z]{1,3})([1-9][0-9]{0,6})"(' + _ATTRIBUTES + rb") ?(?:/>|>(.*?)</c>)(\s*)", re.DOTALL
)
_CONTENT = re.compile(
    rb"\s*(<f(?: [^<>]*)?(?:/>|>[^<]*</f>))?\s*(?:<v>([^<]*)</v>|<v ?/>)?"
    rb"\s*(<is>(?:(?!</?is>).)*</is>)?\s*",
    re.DOTALL,
)
_NAME = re.compile(rb'([A-Z]{1,3})([1-9][0-9]{0,6})"')
_FORMULA = re.compile(rb"<f(" + _ATTRIBUTES + rb") ?(?:/>|>([^<]*)</f>)")
_FORMULA_MARKS = (b"<f>", b"<f ", b"<f/>")
# that of the ampersand itself comes last, so that nothing is resolved twice
_ENTITIES = (("&lt;", "<"), ("&gt;", ">"), ("&quot;", '"'), ("&apos;", "'"), ("&amp;", "&"))
_ATTRIBUTE = re.compile(rb' ([\w:.\-]+)="([^"]*)"')


class UnusualSheet(Exception):
    """Something in the sheet is written in a way that only the tree understands."""


def middle(data: bytes) -> tuple[int, int] | None:
    """Where the rows of a worksheet begin and end; None where it is written unusually."""
    declared = _ENCODING.match(data[:200].removeprefix(b"\xef\xbb\xbf"))
    usual = declared is None or declared[1].upper() == b"UTF-8"
    # behind the declaration, which may stand behind a mark of the byte order
    if not usual or _holds(data, b"<!", 0) or _holds(data, b"<?", 5):
        return None
    opening, closing = data.find(b"<sheetData>"), data.rfind(b"</sheetData>")
    if not 0 <= opening < closing or data.count(b"sheetData") != 2:
        return None
    return opening + len(b"<sheetData>"), closing


def _holds(data: bytes, mark: bytes, start: int) -> bool:
    """Whether two signs stand side by side; the second alone is found sooner while it is rare."""
    at = data.find(mark[1:], start)
    for _ in range(_RARE):
        if at < 1 or data[at - 1] == mark[0]:
            return at > 0
        at = data.find(mark[1:], at + 1)
    return data.find(mark, at - 1) >= 0


def frame_of(data: bytes, part: str) -> Element:
    """Tree of a worksheet, without its rows where these can be left out: they fill the memory.

    Raises
    ------
    WorkbookError
        The part is not well-formed.
    """
    bounds = middle(data)
    return parse(data if bounds is None else data[: bounds[0]] + data[bounds[1] :], part)


def whole_rows(data: bytes, start: int, end: int) -> Iterator[bytes]:
    """The rows between two offsets in pieces of whole rows, which need little memory each."""
    while start < end:
        stop = data.find(ROW_END, start + PIECE, end)
        stop = end if stop < 0 else stop + len(ROW_END)
        yield data[start:stop]
        start = stop


class SheetBytes:
    """One worksheet; `frame` is its tree without the rows. Use `read`."""

    def __init__(self, data: bytes, start: int, end: int, frame: Element) -> None:
        """Take a sheet that is known to be written in the usual way."""
        self.data = data
        self.start = start
        self.end = end
        self.frame = frame
        self.numbers = array("l")
        self.starts = array("q")
        self._columns: dict[bytes, int] = {}

    @classmethod
    def read(cls, data: bytes, *, sound: bool = False) -> SheetBytes | None:
        """The sheet; None where it is written unusually or is not well-formed.

        With `sound` the part is known to be well-formed.
        """
        bounds = middle(data)
        if bounds is None:
            return None
        start, end = bounds
        try:
            # The shape of the rows is looked at as bytes, so their soundness is proved first.
            if not sound:
                expat.ParserCreate().Parse(data, True)
            frame = etree.fromstring(data[:start] + data[end:], parser())
        except (expat.ExpatError, etree.XMLSyntaxError, ValueError):
            return None
        if frame.tag != f"{{{MAIN}}}worksheet" or data.find(b"xmlns", start, end) >= 0:
            return None
        sheet = cls(data, start, end, frame)
        return sheet if sheet._number_rows() else None

    def _number_rows(self) -> bool:
        last = 0
        for match in _ROW.finditer(self.data, self.start, self.end):
            number = _ROW_NUMBER.search(match[1])
            if number is None or not last < int(number[1]) <= MAX_ROW:
                return False
            last = int(number[1])
            self.numbers.append(last)
            self.starts.append(match.start())
        return len(self.numbers) == self.data.count(b"<row", self.start, self.end)

    def index(self, row: int) -> int:
        """Position of a row among the rows, or of the first one after it."""
        return bisect_left(self.numbers, row)

    def has(self, row: int) -> bool:
        """Whether there is such a row."""
        index = self.index(row)
        return index < len(self.numbers) and self.numbers[index] == row

    def place_of(self, index: int) -> int:
        """Offset at which the row of that position begins, or at which the rows end."""
        return self.starts[index] if index < len(self.starts) else self.end

    def parts_of(self, row: int) -> RowParts:
        """An existing row, taken apart."""
        index = self.index(row)
        return RowParts(self.data[self.place_of(index) : self.place_of(index + 1)], row)

    def column(self, letters: bytes) -> int:
        """Number of a column."""
        column = self._columns.get(letters)
        if column is None:
            column = self._columns[letters] = column_number(letters.decode())
        if column > MAX_COLUMN:
            raise UnusualSheet
        return column

    def column_of(self, cell: bytes, row: int) -> int:
        """Column of a cell (without `<c r="`) of some row."""
        letters = cell[: cell.find(b'%d"' % row)]
        if not 1 <= len(letters) <= 3 or not letters.isalpha():
            raise UnusualSheet
        return self.column(letters)

    def columns_of(self, parts: RowParts) -> list[int]:
        """Column of each cell of a row.

        Raises
        ------
        UnusualSheet
            The columns do not ascend.
        """
        digits, known = b'%d"' % parts.row, self._columns
        columns, last = [], 0
        for cell in parts.cells:
            letters = cell[: cell.find(digits)]
            column = known.get(letters) or self.column_of(cell, parts.row)
            if column <= last:
                raise UnusualSheet
            columns.append(column)
            last = column
        return columns

    def style(self, row: int, column: int) -> str | None:
        """Format index that a cell shows: its own, or that of its row or its column."""
        if self.has(row):
            parts = self.parts_of(row)
            for piece in parts.cells:
                cell = parts.cell(piece)
                if self.column(cell.letters) == column:
                    return cell.attributes.get("s")
            attributes = attributes_of(parts.attributes)
            if is_true(attributes.get("customFormat")):
                return attributes.get("s")
        columns = child(self.frame, "cols")
        for item in columns if columns is not None else ():
            if integer(item.get("min")) <= column <= integer(item.get("max")):
                return item.get("style")
        return None


def attributes_of(text: bytes) -> dict[str, str]:
    """Attributes of a tag by name; values with entities stay as they are written."""
    return {name.decode(): value.decode() for name, value in _ATTRIBUTE.findall(text)}


class CellParts:
    """One cell of a row as bytes: name, attributes, and what stands inside it."""

    __slots__ = ("attribute_text", "formula", "inline", "inside", "letters", "space", "text")

    def __init__(self, match: re.Match[bytes]) -> None:
        """Take apart what stands in the cell."""
        self.letters, self.attribute_text = match[1], match[3]
        self.inside, self.space = match[4] or b"", match[5]
        content = _CONTENT.fullmatch(self.inside)
        if content is None:
            raise UnusualSheet
        self.formula, self.text, self.inline = content[1], content[2], content[3]

    @property
    def attributes(self) -> dict[str, str]:
        """Attributes but for the name."""
        return attributes_of(self.attribute_text)


class RowParts:
    """One row as bytes: its tag, its cells (each without `<c r="`), and the space after it."""

    __slots__ = ("attributes", "before", "cells", "row", "space")

    def __init__(self, data: bytes, row: int) -> None:
        """Take a row apart.

        Raises
        ------
        UnusualSheet
            Anything but cells stands in it, or one without its number.
        """
        tag = _ROW.match(data)
        if tag is None:
            raise UnusualSheet
        self.row = row
        self.attributes = tag[1]
        rest = data[tag.end() :]
        stripped = rest.rstrip()
        self.space = rest[len(stripped) :]
        if tag[2]:
            inside = b""
            if stripped:
                raise UnusualSheet
        else:
            if not stripped.endswith(ROW_END):
                raise UnusualSheet
            inside = stripped[: -len(ROW_END)]
        self.before, *self.cells = inside.split(CELL)
        if self.before.strip() or inside.count(b"<c") != len(self.cells):
            raise UnusualSheet

    def cell(self, piece: bytes) -> CellParts:
        """One of the cells, taken apart."""
        match = _CELL_REST.fullmatch(piece)
        if match is None or int(match[2]) != self.row:
            raise UnusualSheet
        return CellParts(match)

    def to_bytes(self) -> bytes:
        """The row as bytes again."""
        inside = CELL.join([self.before, *self.cells])
        if not inside:
            return b"<row" + self.attributes + b"/>" + self.space
        return b"<row" + self.attributes + b">" + inside + ROW_END + self.space


def formula_cells(sheet: SheetBytes) -> Iterator[tuple[int, int, bytes, bytes]]:
    """Row and column of each cell that holds a formula, the formula's attributes and text.

    Raises
    ------
    UnusualSheet
        A formula stands where it cannot be told to which cell it belongs.
    """
    data, total = sheet.data, 0
    for match in _FORMULA.finditer(data, sheet.start, sheet.end):
        total += 1
        start = data.rfind(CELL, sheet.start, match.start())
        name = _NAME.match(data, start + len(CELL)) if start >= 0 else None
        if name is None or data.find(b"</", start, match.start()) >= 0:
            raise UnusualSheet
        yield int(name[2]), sheet.column(name[1]), match[1], match[2] or b""
    if total != sum(data.count(mark, sheet.start, sheet.end) for mark in _FORMULA_MARKS):
        raise UnusualSheet


def plain(text: bytes) -> str:
    """Text with its entities resolved."""
    if b"&" not in text:
        return text.decode()
    plain_text = text.decode()
    for entity, sign in _ENTITIES:
        plain_text = plain_text.replace(entity, sign)
    if b"\r" in text or plain_text.count("&") != text.count(b"&amp;"):
        # something else than the named entities, which only the parser knows
        return etree.fromstring(b"<v>" + text + b"</v>", parser()).text or ""
    return plain_text
