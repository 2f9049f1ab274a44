"""Values to be written into cells: as single cells or as whole columns, made ready row by row."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from xlhelpers.package.sheet.cell_set import Place
from xlhelpers.package.sheet.cell_text import clean_text, escape
from xlhelpers.package.sheet.references import MAX_COLUMN, MAX_ROW, Area

OUTSIDE = "is outside the sheet"
EMPTY = b"/>"
PORTION = 1024
Written = float | int | str | bool | None
Stored = float | str | bool | None
# Column, value as it is stored, what follows the cell's format in the file, cell whose format
# a new cell takes.
Piece = tuple[int, Stored, bytes, Place]


@dataclass(frozen=True)
class CellWrite:
    """One value for one cell.

    An existing cell keeps its format; a new one takes that of the cell `style_like`, or that
    of its row or column. None clears the value and keeps the cell.
    """

    row: int
    column: int
    value: Written
    style_like: Place | None = None


@dataclass(frozen=True)
class ColumnWrites:
    """Many values at once: some columns over the same rows of the sheet.

    `rows` are sheet rows, in any order, none twice; `columns` gives for each sheet column its
    values, one a row: numbers, texts, booleans, None. A new cell takes the format of its column
    in the row `style_like_row`, or that of its own row or column.
    """

    rows: NDArray[np.int_]
    columns: Mapping[int, NDArray[Any] | Sequence[Written]]
    style_like_row: int | None = None

    def __iter__(self) -> Iterator[CellWrite]:
        """Go through the values cell by cell, row by row."""
        like = self.style_like_row
        for at, row in enumerate(np.asarray(self.rows).tolist()):
            for column, values in self.columns.items():
                yield CellWrite(row, column, values[at], None if like is None else (like, column))


Writes = Sequence[CellWrite] | ColumnWrites


@dataclass(frozen=True)
class Refusal:
    """A cell that was not written, with the reason as the end of a sentence: "J12 ..."."""

    row: int
    column: int
    reason: str


@dataclass(frozen=True)
class Lines:
    """Writes in the order of their rows; `likes` are the cells whose formats new cells take."""

    rows: Sequence[int]
    pieces: Iterator[Sequence[Piece]]
    box: Area
    likes: frozenset[Place]


def stored_form(value: Any) -> Stored:
    """The value as the cell will store it: plain types, no infinity, text cleaned.

    numpy scalars become plain numbers; NaN, infinity and an empty text clear the cell.
    """
    item = getattr(value, "item", None)
    if item is not None:
        value = item()
    if isinstance(value, bool):
        return value
    if isinstance(value, int | float):
        return float(value) if math.isfinite(value) else None
    if value is None:
        return None
    return clean_text(str(value)) or None


def number_text(number: float) -> str:
    """Shortest text that reads back as the same number; whole numbers without a point."""
    return repr(number + 0.0).removesuffix(".0")


def spell_numbers(numbers: list[float], before: str, after: str) -> list[bytes]:
    """As `number_text` for many finite numbers at once, with what stands before and after each."""
    if not numbers:
        return []
    # the text of a list spells each of its numbers in the shortest way, a comma after each
    whole = (str(numbers)[1:-1] + ", ").replace("-0.0, ", "0, ").replace(".0, ", ", ")
    return (before + whole[:-2].replace(", ", f"{after}\0{before}") + after).encode().split(b"\0")


def tails_of(values: list[Any]) -> tuple[list[Stored], list[bytes]]:
    """The values as they are stored, and what stands in the file after name and format of each."""
    if set(map(type, values)) <= {float, type(None)}:
        stored = [v if v is not None and v - v == 0 else None for v in values]
        numbers = spell_numbers([v for v in stored if v is not None], "><v>", "</v></c>")
        if len(numbers) == len(values):
            return list(stored), numbers
        following = iter(numbers)
        return list(stored), [EMPTY if v is None else next(following) for v in stored]
    forms = [stored_form(value) for value in values]
    known: dict[tuple[type, Stored], bytes] = {}
    for form in forms:
        if (type(form), form) not in known:
            known[type(form), form] = tail_of(form)
    return forms, [known[type(form), form] for form in forms]


def tail_of(value: Stored) -> bytes:
    """What stands in the file after the name and the format of a cell with this value."""
    if value is None:
        return EMPTY
    if isinstance(value, str):
        text = escape(value).replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
        inside = f'<is><t xml:space="preserve">{text}</t></is>'
        return f' t="inlineStr">{inside}</c>'.encode()
    if isinstance(value, bool):
        return f' t="b"><v>{int(value)}</v></c>'.encode()
    return f"><v>{number_text(value)}</v></c>".encode()


def in_order(writes: Writes) -> tuple[Lines | None, tuple[Refusal, ...]]:
    """Writes by row and column, the last one for each cell; and those outside the sheet."""
    if isinstance(writes, ColumnWrites):
        return _columns_in_order(writes)
    chosen: dict[Place, CellWrite] = {}
    outside = []
    for write in writes:
        if _is_inside(write.row, write.column):
            chosen[write.row, write.column] = write
        else:
            outside.append(Refusal(write.row, write.column, OUTSIDE))
    if not chosen:
        return None, tuple(outside)
    by_row: dict[int, list[CellWrite]] = {}
    for place in sorted(chosen):
        by_row.setdefault(place[0], []).append(chosen[place])
    rows, columns = list(by_row), [column for _, column in chosen]
    likes = frozenset(w.style_like for w in chosen.values() if w.style_like is not None)
    box = (rows[0], min(columns), rows[-1], max(columns))
    return Lines(rows, map(_pieces, by_row.values()), box, likes), tuple(outside)


def _is_inside(row: int, column: int) -> bool:
    return 1 <= row <= MAX_ROW and 1 <= column <= MAX_COLUMN


def _pieces(writes: Sequence[CellWrite]) -> list[Piece]:
    pieces = []
    for write in writes:
        value = stored_form(write.value)
        like = write.style_like or (write.row, write.column)
        pieces.append((write.column, value, tail_of(value), like))
    return pieces


def _columns_in_order(writes: ColumnWrites) -> tuple[Lines | None, tuple[Refusal, ...]]:
    numbers = np.asarray(writes.rows, dtype=np.int64)
    known = (numbers >= 1) & (numbers <= MAX_ROW)
    outside: list[Refusal] = []
    if not (known.all() and all(_is_inside(1, column) for column in writes.columns)):
        outside = [
            Refusal(row, column, OUTSIDE)
            for row in numbers.tolist()
            for column in writes.columns
            if not _is_inside(row, column)
        ]
    columns = sorted(column for column in writes.columns if _is_inside(1, column))
    order = np.flatnonzero(known)[np.argsort(numbers[known], kind="stable")]
    rows = numbers[order].tolist()
    if not rows or not columns:
        return None, tuple(outside)
    like = writes.style_like_row
    likes = frozenset() if like is None else frozenset((like, column) for column in columns)
    box = (rows[0], columns[0], rows[-1], columns[-1])
    return Lines(rows, _by_portions(writes, columns, order, rows), box, likes), tuple(outside)


def _by_portions(
    writes: ColumnWrites, columns: list[int], order: NDArray[np.int_], rows: list[int]
) -> Iterator[Sequence[Piece]]:
    """Pieces row by row, made ready for some rows at a time: small, and quick all the same."""
    values = {column: np.asarray(writes.columns[column], dtype=object) for column in columns}
    for start in range(0, len(rows), PORTION):
        here = slice(start, start + PORTION)
        ready = [
            _column_pieces(column, values[column][order[here]], rows[here], writes.style_like_row)
            for column in columns
        ]
        yield from zip(*ready, strict=True)


def _column_pieces(
    column: int, values: NDArray[np.object_], rows: list[int], like: int | None
) -> Iterator[Piece]:
    stored, tails = tails_of(values.tolist())
    likes = ((row if like is None else like, column) for row in rows)
    return zip([column] * len(rows), stored, tails, likes, strict=True)
