"""Rows of a sheet rewritten as they go by, and what is remembered while they do."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from typing import Any, Protocol

from lxml import etree

from xlhelpers.package.parts.xml_text import Element, child, parser
from xlhelpers.package.sheet.cell_set import CellSet, Place
from xlhelpers.package.sheet.cell_text import shared_strings, text_of, unescape
from xlhelpers.package.sheet.cell_writes import EMPTY, Lines, Piece, Refusal, Stored
from xlhelpers.package.sheet.references import (
    Area,
    area_name,
    column_letters,
    joined_area,
    parse_area,
)
from xlhelpers.package.sheet.sheet_bytes import (
    CELL,
    CellParts,
    RowParts,
    SheetBytes,
    UnusualSheet,
    plain,
)
from xlhelpers.package.sheet.untouchable import Untouchable
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.zip_entries import PORTION, QUICK_FROM, Packed, Packer

# half of the last of fifteen digits, and a little
ROUNDED = 6e-15


class EditState:
    """One sheet while it is edited; cells come by their rows, ascending."""

    def __init__(self, package: Package, rules: Untouchable) -> None:
        """Start without a change."""
        self.rows_of: defaultdict[int, list[int]] = defaultdict(list)
        self.refusals: list[Refusal] = []
        self.lost_formulas: set[tuple[int, int]] = set()
        self.open_ground = rules.open_ground
        self._package = package
        self._rules = rules
        self._strings: list[str] | None = None

    @property
    def changed(self) -> CellSet:
        """The cells that changed."""
        return CellSet(dict(self.rows_of))

    def shared_string(self, index: int) -> str | None:
        """A shared string; None where the list is shorter."""
        if self._strings is None:
            self._strings = shared_strings(self._package)
        return self._strings[index] if 0 <= index < len(self._strings) else None

    def may_write(self, row: int, column: int, *, has_formula: bool, has_picture: bool) -> bool:
        """Whether a cell may be written to; a refusal is noted."""
        reason = self._rules.reason(row, column, has_formula=has_formula, has_picture=has_picture)
        if reason is not None:
            self.refusals.append(Refusal(row, column, reason))
        return reason is None

    def note(self, row: int, column: int, *, had_formula: bool) -> None:
        """Note a cell that changed."""
        self.rows_of[column].append(row)
        if had_formula:
            self.lost_formulas.add((row, column))

    @staticmethod
    def same(old: object, new: Stored) -> bool:
        """Whether a cell holds the new value already; True and the number 1 are different.

        A number may have been rounded to fifteen digits, as some programs keep it.
        """
        if isinstance(old, float) and isinstance(new, float):
            return abs(old - new) <= ROUNDED * abs(new)
        return type(old) is type(new) and old == new


def stored_value(state: EditState, kind: str, text: str | None, inline: Element | None) -> object:
    """Value that a cell of some type holds now; the text itself where it makes no sense."""
    if kind == "inlineStr":
        return (text_of(inline) or None) if inline is not None else None
    if not text:
        return None
    try:
        if kind == "s":
            return state.shared_string(int(text)) or None
        if kind == "n":
            return float(text)
    except ValueError:
        return ("unreadable", text)
    if kind == "b":
        return text.strip() in ("1", "true")
    return unescape(text) if kind == "str" else (kind, text)


_DIMENSION = re.compile(rb'(<dimension ref=")([^"<>]*)("/>)')
_GIVES_WAY = re.compile(rb' (?:t|cm|vm)="[^"]*"')
_SPANS = re.compile(rb' spans="([^"]*)"')
_PLAIN_NUMBER = re.compile(
    rb'(?: s="[0-9]+")?(?: t="n")?><v>(-?[0-9]+(?:\.[0-9]+)?(?:[eE][+-]?[0-9]+)?)</v></c>'
)
_PLAIN_HEAD = re.compile(rb'(?: s="[0-9]+")?')


class RowEditor(Protocol):
    """What edits the same rows further, after the values are in."""

    changed: dict[int, list[int]]

    def by_row(self) -> Iterable[tuple[int, Sequence[Any]]]:
        """The edits of each row, rows ascending."""

    def edit_row(self, parts: RowParts, edits: Sequence[Any]) -> bool:
        """Edit the cells of one row; whether any changed."""

    def no_row(self, row: int, edits: Sequence[Any]) -> None:
        """Take note that a row does not exist."""

    def finish(self, new: Packed) -> bytes | Packed:
        """The whole sheet once its rows are written."""


class RowStream:
    """One worksheet while values are written into it."""

    def __init__(
        self,
        sheet: SheetBytes,
        state: EditState,
        likes: frozenset[Place],
        also: RowEditor | None = None,
    ) -> None:
        """`likes` are the cells whose formats new cells may take."""
        self._also = also
        self._sheet = sheet
        self._state = state
        self._styles: dict[Place, bytes] = {place: self._style(place) for place in likes}
        self._letters: dict[int, bytes] = {}
        # Where the cell of a column stood in the row before: mostly it stands there again.
        self._hints: dict[int, int] = {}
        # What follows the name of a blank cell, to its format.
        self._blanks: dict[bytes, bytes] = {}
        self._rows = state.rows_of

    def write(self, lines: Lines) -> bytes | Packed | None:
        """The sheet with the values written, deflated; None where nothing changes.

        Raises
        ------
        UnusualSheet
            A row to be written is spelt in a way that only the tree understands.
        """
        sheet, also = self._sheet, self._also
        out = Packer(quick=len(sheet.data) > QUICK_FROM)
        out.write(self._widened_head(lines.box))
        position = sheet.start
        for row, pieces, edits in _together(lines, also.by_row() if also is not None else ()):
            index = sheet.index(row)
            exists = sheet.has(row)
            new = self._rewrite_row(row, pieces, edits) if exists else self._new_row(row, pieces)
            if also is not None and edits and not exists:
                also.no_row(row, edits)
            if new is None:
                continue
            start = sheet.place_of(index)
            if start > position:
                out.write(sheet.data[position:start])
            out.write(new)
            position = sheet.place_of(index + 1) if exists else start
        if not (self._state.rows_of or (also is not None and also.changed)):
            return None
        for start in range(position, len(sheet.data), PORTION):
            out.write(sheet.data[start : start + PORTION])
        return out.finish() if also is None else also.finish(out.finish())

    def _style(self, place: Place) -> bytes:
        style = self._sheet.style(*place)
        return b"" if style in (None, "0") else f' s="{style}"'.encode()

    def _name(self, column: int) -> bytes:
        if column not in self._letters:
            self._letters[column] = column_letters(column).encode()
        return self._letters[column]

    def _rewrite_row(self, row: int, pieces: Sequence[Piece], edits: Sequence[Any]) -> bytes | None:
        parts = self._sheet.parts_of(row)
        cells, count, digits = parts.cells, len(parts.cells), b'%d"' % row
        changed, missing = False, []
        places: dict[int, int] | None = None
        blanks, is_open = self._blanks, self._state.open_ground
        for piece in pieces:
            column = piece[0]
            name = self._name(column) + digits
            index = self._hints.get(column, count)
            if index >= count or not cells[index].startswith(name):
                if places is None:
                    places = {c: i for i, c in enumerate(self._sheet.columns_of(parts))}
                index = places.get(column, -1)
                if index < 0:
                    missing.append(piece)
                    continue
                self._hints[column] = index
            # Most cells are blank and free, which needs no closer look.
            head = blanks.get(cells[index][len(name) :]) if is_open else None
            if head is None:
                new = self._new_cell(parts, index, name, piece)
            elif piece[1] is None:
                continue
            else:
                new = name + head + piece[2]
                self._rows[column].append(row)
            if new is not None:
                cells[index], changed = new, True
        if missing and places is not None:
            changed |= self._insert(parts, missing, places)
        if edits and self._also is not None:
            changed |= self._also.edit_row(parts, edits)
        return parts.to_bytes() if changed else None

    def _new_cell(self, parts: RowParts, index: int, name: bytes, piece: Piece) -> bytes | None:
        """An existing cell with its new value; None where it stays as it is."""
        column, value, tail, _ = piece
        rest = parts.cells[index][len(name) :]
        if rest.endswith(tail) and _PLAIN_HEAD.fullmatch(rest[: -len(tail)]):
            return None
        number = _PLAIN_NUMBER.fullmatch(rest) if isinstance(value, float) else None
        if number is not None and self._state.same(float(number[1]), value):
            return None
        if rest.endswith(EMPTY) and _PLAIN_HEAD.fullmatch(rest[: -len(EMPTY)]):
            self._blanks[rest] = rest[: -len(EMPTY)]
            if not self._state.open_ground and not self._may_write(parts.row, column, None):
                return None
            self._rows[column].append(parts.row)
            return name + rest[: -len(EMPTY)] + tail
        cell = parts.cell(parts.cells[index])
        if cell.formula is None and self._state.same(self._old(cell), value):
            return None
        if not self._may_write(parts.row, column, cell):
            return None
        self._state.note(parts.row, column, had_formula=cell.formula is not None)
        return name + _GIVES_WAY.sub(b"", cell.attribute_text) + tail + cell.space

    def _may_write(self, row: int, column: int, cell: CellParts | None) -> bool:
        has_formula = cell is not None and cell.formula is not None
        has_picture = cell is not None and b' vm="' in cell.attribute_text
        return self._state.may_write(row, column, has_formula=has_formula, has_picture=has_picture)

    def _old(self, cell: CellParts) -> object:
        inline = None if cell.inline is None else etree.fromstring(cell.inline, parser())
        text = None if cell.text is None else plain(cell.text)
        return stored_value(self._state, cell.attributes.get("t", "n"), text, inline)

    def _make_cell(self, row: int, piece: Piece) -> bytes | None:
        """A cell that was not there before, without `<c r="`; None where it is not needed."""
        column, value, tail, like = piece
        if value is None:
            return None
        if not self._state.open_ground and not self._may_write(row, column, None):
            return None
        if like not in self._styles:
            if len(self._styles) > 10_000:
                self._styles.clear()
            self._styles[like] = self._style(like)
        self._rows[column].append(row)
        return self._name(column) + b'%d"' % row + self._styles[like] + tail

    def _insert(self, parts: RowParts, pieces: Sequence[Piece], places: dict[int, int]) -> bool:
        made = {piece[0]: new for piece in pieces if (new := self._make_cell(parts.row, piece))}
        if not made:
            return False
        if min(made) > max(places, default=0):
            if parts.cells:
                parts.cell(parts.cells[-1])
            parts.cells += [made[column] for column in sorted(made)]
        else:
            cells = dict(zip(places, parts.cells, strict=True)) | made
            parts.cells = [cells[column] for column in sorted(cells)]
        parts.attributes = with_spans(parts.attributes, min(made), max(made))
        return True

    def _new_row(self, row: int, pieces: Sequence[Piece]) -> bytes | None:
        cells = [new for piece in pieces if (new := self._make_cell(row, piece))]
        if not cells:
            return None
        return b'<row r="%d">' % row + CELL + CELL.join(cells) + b"</row>"

    def _widened_head(self, box: Area) -> bytes:
        """What stands before the rows; the dimension, if stated, reaches to the written cells."""
        head = self._sheet.data[: self._sheet.start]
        if child(self._sheet.frame, "dimension") is None:
            return head
        match = _DIMENSION.search(head)
        if match is None:
            raise UnusualSheet
        try:
            old = parse_area(match[2].decode())
        except ValueError:
            return head
        area = joined_area(old, box)
        if area == old:
            return head
        return head[: match.start(2)] + area_name(area).encode() + head[match.end(2) :]


def _together(
    lines: Lines, further: Iterable[tuple[int, Sequence[Any]]]
) -> Iterator[tuple[int, Sequence[Piece], Sequence[Any]]]:
    """Each row with its values and its further edits, rows ascending."""
    others = iter(further)
    waiting = next(others, None)
    for row, pieces in zip(lines.rows, lines.pieces, strict=True):
        while waiting is not None and waiting[0] < row:
            yield waiting[0], (), waiting[1]
            waiting = next(others, None)
        if waiting is not None and waiting[0] == row:
            yield row, pieces, waiting[1]
            waiting = next(others, None)
        else:
            yield row, pieces, ()
    while waiting is not None:
        yield waiting[0], (), waiting[1]
        waiting = next(others, None)


def with_spans(attributes: bytes, first: int, last: int) -> bytes:
    """Attributes of a row whose spans, where stated, reach to the new cells."""
    match = _SPANS.search(attributes)
    if match is None:
        return attributes
    low, _, high = match[1].partition(b":")
    if low.isdigit() and high.isdigit():
        spans = b' spans="%d:%d"' % (min(int(low), first), max(int(high), last))
    else:
        spans = b""
    return attributes[: match.start()] + spans + attributes[match.end() :]
