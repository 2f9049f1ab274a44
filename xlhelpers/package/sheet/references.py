"""Names of cells and sheets as a spreadsheet writes them; rows and columns count from 1."""

from __future__ import annotations

import re
from collections.abc import Iterable
from functools import lru_cache

MAX_ROW = 1_048_576
MAX_COLUMN = 16_384
Area = tuple[int, int, int, int]
_CELL = re.compile(r"\$?([A-Za-z]{1,3})\$?([0-9]{1,7})")
_TARGET = re.compile(
    r"=?(?:'((?:[^']|'')+)'|([^'!\[\]:#(),]+))!(\$?[A-Za-z]{1,3}\$?[0-9]{1,7})(?::.*)?"
)
_PLAIN_SHEET = re.compile(r"[^\W\d][\w.]*")
_LOOKS_LIKE_CELL = re.compile(r"[A-Za-z]{1,3}[0-9]+|[Rr][0-9]*|[Cc][0-9]*|[Rr][0-9]+[Cc][0-9]+")


@lru_cache(maxsize=MAX_COLUMN)
def column_letters(column: int) -> str:
    """Letters of a column: 1 is A, 27 is AA.

    Raises
    ------
    ValueError
        Outside 1 to 16,384.
    """
    if not 1 <= column <= MAX_COLUMN:
        raise ValueError(f"column {column} is outside 1 to {MAX_COLUMN}")
    letters = ""
    while column:
        column, rest = divmod(column - 1, 26)
        letters = chr(65 + rest) + letters
    return letters


def column_number(letters: str) -> int:
    """Number of a column from its letters; not checked against the last column."""
    number = 0
    for letter in letters.upper():
        number = number * 26 + ord(letter) - 64
    return number


def cell_name(row: int, column: int) -> str:
    """Name of a cell, such as J12."""
    if not 1 <= row <= MAX_ROW:
        raise ValueError(f"row {row} is outside 1 to {MAX_ROW}")
    return f"{column_letters(column)}{row}"


def parse_cell(text: str) -> tuple[int, int]:
    """Row and column of a cell name, with or without dollar signs.

    Raises
    ------
    ValueError
        Not the name of a cell.
    """
    match = _CELL.fullmatch(text)
    if match is None:
        raise ValueError(f"{text!r} is not the name of a cell")
    row, column = int(match[2]), column_number(match[1])
    if not (1 <= row <= MAX_ROW and column <= MAX_COLUMN):
        raise ValueError(f"{text!r} is outside the sheet")
    return row, column


def parse_area(text: str) -> Area:
    """First row, first column, last row, last column of "B2:D9" or of a single cell."""
    first, _, last = text.partition(":")
    row_1, column_1 = parse_cell(first)
    row_2, column_2 = parse_cell(last) if last else (row_1, column_1)
    return min(row_1, row_2), min(column_1, column_2), max(row_1, row_2), max(column_1, column_2)


def parse_areas(texts: Iterable[str | None]) -> tuple[Area, ...]:
    """Areas of several references; what is not an area is left out."""
    areas = []
    for text in texts:
        for piece in (text or "").split():
            try:
                areas.append(parse_area(piece))
            except ValueError:
                continue
    return tuple(areas)


def area_name(area: Area) -> str:
    """Text of an area: "B2:D9", or "B2" where it is one cell."""
    first, last = cell_name(area[0], area[1]), cell_name(area[2], area[3])
    return first if first == last else f"{first}:{last}"


def joined_area(one: Area, other: Area) -> Area:
    """The smallest area that holds both."""
    return (
        min(one[0], other[0]),
        min(one[1], other[1]),
        max(one[2], other[2]),
        max(one[3], other[3]),
    )


def parse_target(text: str) -> tuple[str, int, int] | None:
    """Sheet name, row and column that a defined name points at (the first cell of an area).

    None where the text is anything else: a constant, a formula, a lost reference, or a cell of
    another workbook.
    """
    match = _TARGET.fullmatch(text.strip())
    if match is None:
        return None
    try:
        row, column = parse_cell(match[3])
    except ValueError:
        return None
    sheet = match[1].replace("''", "'") if match[1] is not None else match[2]
    return None if "[" in sheet else (sheet, row, column)


def quote_sheet(name: str) -> str:
    """Sheet name between single quotes, ready for a formula."""
    return "'" + name.replace("'", "''") + "'"


def sheet_prefix(name: str) -> str:
    """Sheet name for a formula, quoted only where it must be."""
    if _PLAIN_SHEET.fullmatch(name) and not _LOOKS_LIKE_CELL.fullmatch(name):
        return name
    return quote_sheet(name)
