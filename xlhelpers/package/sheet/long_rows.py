"""Long blocks of rows, kept as columns until the sheet that they belong to is written.

A scratch workbook carries the formats, headings and whatever stands around such a block; its rows
are written last, straight into the finished part, with the formats numbered as they are there.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
from numpy.typing import NDArray

from xlhelpers.package.sheet.cell_text import escape
from xlhelpers.package.sheet.cell_writes import PORTION, number_text, spell_numbers
from xlhelpers.package.sheet.references import area_name, column_letters

# Number of a format in the scratch workbook to its number where the rows are written.
Renumber = Callable[[int], int]
_ROW = re.compile(rb'<row r="(\d+)"[^>]*?(?:/>|>.*?</row>)', re.DOTALL)
_DIMENSION = re.compile(rb'(<dimension ref=")[^"]*(")')
_ROWS_BEGIN, _ROWS_END = b"<sheetData>", b"</sheetData>"


@dataclass(frozen=True, eq=False)
class NumberColumn:
    """Numbers, NaN for a blank cell, and the number of the format of each cell."""

    numbers: NDArray[np.float64]
    looks: NDArray[np.int64]


@dataclass(frozen=True)
class Word:
    """What a cell may hold: a number, a text or nothing, its format, and its formula if any."""

    value: float | str | None
    look: int
    formula: str = ""


@dataclass(frozen=True, eq=False)
class WordColumn:
    """Cells with few different words, and the word that each cell has."""

    codes: NDArray[np.int64]
    words: Sequence[Word]


@dataclass(frozen=True, eq=False)
class LongRows:
    """Some rows of a sheet, from column A on.

    `rows` are their numbers, ascending; `heights` their heights in points, 0 for the usual one.
    """

    rows: NDArray[np.int64]
    heights: NDArray[np.float64]
    columns: Sequence[NumberColumn | WordColumn]

    @property
    def corner(self) -> tuple[int, int]:
        """The last row and the last column."""
        return int(self.rows[-1]), len(self.columns)


def write_rows(long: LongRows, renumber: Renumber) -> Iterator[tuple[int, bytes]]:
    """Each row with its number, as it stands in the file; made ready for some rows at a time."""
    letters = [column_letters(at) for at in range(1, len(long.columns) + 1)]
    cells = "".join(f'<c r="{name}\0"%b' for name in letters)
    frame = f'<row r="\0"%b>{cells}</row>'.encode()
    insides = [_maker(column, renumber) for column in long.columns]
    for start in range(0, len(long.rows), PORTION):
        here = slice(start, start + PORTION)
        rows = long.rows[here].tolist()
        heights = [
            b' ht="%g" customHeight="1"' % height if height else b""
            for height in long.heights[here].tolist()
        ]
        texts = zip(heights, *(inside(here) for inside in insides), strict=True)
        for row, of_row in zip(rows, texts, strict=True):
            yield row, frame.replace(b"\0", b"%d" % row) % of_row


def _maker(column: NumberColumn | WordColumn, renumber: Renumber) -> Callable[[slice], list[bytes]]:
    """What gives for some rows that which follows the names of the cells."""
    if isinstance(column, WordColumn):
        words = [_inside(word, renumber) for word in column.words]
        return lambda here: [words[code] for code in column.codes[here].tolist()]
    heads = {look: f' s="{renumber(look)}"' for look in np.unique(column.looks).tolist()}
    blanks = {look: f"{head}/>".encode() for look, head in heads.items()}

    def numbers(here: slice) -> list[bytes]:
        values, looks = column.numbers[here], column.looks[here]
        texts = np.empty(len(values), dtype=object)
        for look, head in heads.items():
            of_look = looks == look
            texts[of_look] = blanks[look]
            of_look &= np.isfinite(values)
            texts[of_look] = spell_numbers(values[of_look].tolist(), f"{head}><v>", "</v></c>")
        cells: list[bytes] = texts.tolist()
        return cells

    return numbers


def _inside(word: Word, renumber: Renumber) -> bytes:
    look = f' s="{renumber(word.look)}"'
    if word.value is None:
        inside = f"{look}/>"
    elif isinstance(word.value, float):
        inside = f"{look}><v>{number_text(word.value)}</v></c>"
    else:
        text = _mark(escape(word.value))
        inside = f'{look} t="inlineStr"><is><t xml:space="preserve">{text}</t></is></c>'
        if word.formula:
            inside = f'{look} t="str"><f>{_mark(word.formula)}</f><v>{text}</v></c>'
    return inside.encode()


def _mark(text: str) -> str:
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def values_of(long: LongRows) -> NDArray[np.object_]:
    """Value of each cell as a reader of the written rows finds it."""
    values = np.full((len(long.rows), len(long.columns)), None, dtype=object)
    for at, column in enumerate(long.columns):
        if isinstance(column, WordColumn):
            words = np.array([word.value for word in column.words], dtype=object)
            values[:, at] = words[column.codes]
        else:
            known = ~np.isnan(column.numbers)
            values[known, at] = column.numbers[known].astype(object)
    return values


def looks_of(long: LongRows) -> NDArray[np.int32]:
    """Number of the format of each cell in the scratch workbook."""
    looks = np.zeros((len(long.rows), len(long.columns)), dtype=np.int32)
    for at, column in enumerate(long.columns):
        if isinstance(column, WordColumn):
            words = np.array([word.look for word in column.words], dtype=np.int32)
            looks[:, at] = words[column.codes]
        else:
            looks[:, at] = column.looks
    return looks


def formulas_of(long: LongRows) -> Iterator[tuple[int, int, str]]:
    """Row, column and text of each formula."""
    for at, column in enumerate(long.columns, 1):
        if isinstance(column, WordColumn) and any(word.formula for word in column.words):
            for row, code in zip(long.rows.tolist(), column.codes.tolist(), strict=True):
                if column.words[code].formula:
                    yield row, at, column.words[code].formula


class Digest(Protocol):
    """What takes bytes in and makes a digest of them."""

    def update(self, content: bytes, /) -> Any:
        """Take in some bytes."""


def add_to_digest(digest: Digest, long: LongRows) -> None:
    """Take all that the rows hold into a digest."""
    digest.update(long.rows.astype("<i8").tobytes() + long.heights.astype("<f8").tobytes())
    for column in long.columns:
        if isinstance(column, WordColumn):
            digest.update(repr(column.words).encode())
            digest.update(column.codes.astype("<i8").tobytes())
        else:
            digest.update(column.numbers.astype("<f8").tobytes())
            digest.update(column.looks.astype("<i8").tobytes())


def merge_rows(
    own: bytes, longs: Sequence[LongRows], renumber: Renumber, adapt: Callable[[bytes], bytes]
) -> Iterator[bytes]:
    """The rows of a sheet in their order: its own, adapted, and the long ones in their places.

    A row of the sheet's own that has the number of a long one gives way to it.
    """
    taken = np.concatenate([long.rows for long in longs])
    rows = {int(match[1]): match[0] for match in _ROW.finditer(own)}
    left = sorted(set(rows) - set(taken.tolist()), reverse=True)
    waiting: list[bytes] = []
    for long in sorted(longs, key=lambda item: int(item.rows[0])):
        for number, text in write_rows(long, renumber):
            while left and left[-1] < number:
                waiting.append(adapt(rows[left.pop()]))
            waiting.append(text)
            if len(waiting) >= PORTION:
                yield b"".join(waiting)
                waiting.clear()
    yield b"".join([*waiting, *(adapt(rows[number]) for number in reversed(left))])


def with_rows(sheet: bytes, longs: Sequence[LongRows]) -> bytes:
    """The part of a scratch sheet with its long rows in their places."""
    before, begin, rest = sheet.partition(_ROWS_BEGIN)
    own, end, after = rest.partition(_ROWS_END)
    inner = b"".join(merge_rows(own, longs, lambda look: look, lambda row: row))
    head = _DIMENSION.sub(rb"\g<1>" + area_name(reach(own, longs)).encode() + rb"\2", before)
    return head + begin + inner + end + after


def reach(own: bytes, longs: Sequence[LongRows]) -> tuple[int, int, int, int]:
    """The area from A1 that a sheet with long rows covers."""
    rows = [int(match[1]) for match in _ROW.finditer(own)]
    return (
        1,
        1,
        max([*rows, *(long.corner[0] for long in longs)]),
        max(long.corner[1] for long in longs),
    )
