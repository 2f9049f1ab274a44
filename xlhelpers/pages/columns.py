"""Writes the columns of a block, cell by cell or, for long blocks, as ready rows.

The block's first rows hold one empty cell of each look; from these the numbers of the formats are
read. XlsxWriter would take many times longer over the rows themselves.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.fields.quantities import Units
from xlhelpers.package.sheet.long_rows import LongRows, NumberColumn, Word, WordColumn
from xlhelpers.package.sheet.references import column_letters
from xlhelpers.pages.plan import Block, Column, Link
from xlhelpers.pages.sheet import Pen
from xlhelpers.pages.values import clean_text, identifier_value

SEVERITIES = ("error", "warning", "note")
_ONE_BY_ONE = {"identifier", "severity", "link", "wrapped link", "date", "entry date"}


def write_column(
    pen: Pen,
    column: Column,
    at: int,
    values: pd.Series,
    places: Sequence[int],
    doubtful: np.ndarray,
) -> None:
    """Write the values of a column into the rows `places`; a missing value gives a blank cell.

    `doubtful` marks the rows whose numbers rest on an open finding.
    """
    if column.look == "number":
        _write_numbers(pen, column, at, values, places, doubtful)
    elif column.look in _ONE_BY_ONE:
        for row, value in zip(places, values.tolist(), strict=True):
            write_value(pen, column, (row, at), value)
    else:
        _write_texts(pen, column, at, values, places)


def _write_numbers(
    pen: Pen,
    column: Column,
    at: int,
    values: pd.Series,
    places: Sequence[int],
    doubtful: np.ndarray,
) -> None:
    numbers = values.to_numpy(float) / column.factor(pen.units)
    looks = [pen.shelf.cell(column), pen.shelf.cell(column, doubtful=True)]
    write_number, write_blank = pen.sheet.write_number, pen.sheet.write_blank
    known = np.isfinite(numbers).tolist()
    rows = zip(places, numbers.tolist(), known, doubtful.tolist(), strict=True)
    for row, number, is_known, is_doubtful in rows:
        if is_known:
            write_number(row, at, number, looks[is_doubtful])
        else:
            write_blank(row, at, None, looks[is_doubtful])


def _write_texts(
    pen: Pen, column: Column, at: int, values: pd.Series, places: Sequence[int]
) -> None:
    look = pen.shelf.cell(column)
    write_string, write_blank = pen.sheet.write_string, pen.sheet.write_blank
    codes, unique = pd.factorize(values)
    texts = ["" if _missing(text) else clean_text(text) for text in unique] + [""]
    for row, code in zip(places, codes.tolist(), strict=True):
        if texts[code]:
            write_string(row, at, texts[code], look)
        else:
            write_blank(row, at, None, look)


def write_value(pen: Pen, column: Column, cell: tuple[int, int], value: Any) -> None:
    """Write one value as its column asks for: a severity, an identifier, a link or another."""
    look = pen.shelf.cell(column)
    if _missing(value):
        pen.sheet.write_blank(*cell, None, look)
    elif isinstance(value, Link):
        pen.sheet.write_formula(*cell, value.formula, look, clean_text(value.text))
    elif isinstance(value, (int, float, np.integer, np.floating)):
        number = float(value) / column.factor(pen.units)
        if np.isfinite(number):
            pen.sheet.write_number(*cell, number, look)
    elif column.look == "severity" and value in SEVERITIES:
        pen.sheet.write_string(*cell, str(value), pen.shelf.role(str(value)))
    else:
        cell_value = identifier_value(value) if column.look == "identifier" else clean_text(value)
        if isinstance(cell_value, float):
            pen.sheet.write_number(*cell, cell_value, look)
        else:
            pen.sheet.write_string(*cell, cell_value, look)


def _missing(value: Any) -> bool:
    return value is None or (isinstance(value, float) and value != value) or str(value) == ""


# blocks shorter than this are left to XlsxWriter
BULK_FROM = 200
_LOOK = re.compile(rb'<c r="([A-Z]+)(\d+)" s="(\d+)"')


@dataclass(frozen=True)
class Bulk:
    """Rows still to be written: the block, the sheet row of each of its rows, their heights."""

    sheet: int
    block: Block
    places: Sequence[int]
    heights: np.ndarray
    doubtful: np.ndarray
    units: Units


def show_looks(pen: Pen, block: Block, places: Sequence[int]) -> None:
    """Write an empty cell of each look that the columns have into the block's first rows."""
    for at, column in enumerate(block.columns):
        looks = [pen.shelf.cell(column), pen.shelf.cell(column, doubtful=True)]
        if column.look == "severity":
            looks = [looks[0], *(pen.shelf.role(severity) for severity in SEVERITIES)]
        for place, look in zip(places, looks, strict=False):
            pen.sheet.write_blank(place, at, None, look)


def long_rows(bulk: Bulk, part: bytes) -> LongRows:
    """Return the rows of a bulk, with the formats that its looks have in the part of its sheet."""
    numbers = np.array(bulk.places, dtype=np.int64) + 1
    first = {b"%d" % number for number in numbers[: len(SEVERITIES) + 1].tolist()}
    formats = {
        (letters, int(row)): int(look) for letters, row, look in _LOOK.findall(part) if row in first
    }
    columns: list[NumberColumn | WordColumn] = []
    for at, column in enumerate(bulk.block.columns, 1):
        letters = column_letters(at).encode()
        looks = [formats.get((letters, row), 0) for row in numbers[: len(SEVERITIES) + 1].tolist()]
        columns.append(_cells(column, bulk.block.rows[column.key], looks, bulk))
    return LongRows(numbers, bulk.heights, columns)


def _cells(
    column: Column, values: pd.Series, looks: Sequence[int], bulk: Bulk
) -> NumberColumn | WordColumn:
    if column.look == "number":
        numbers = values.to_numpy(float) / column.factor(bulk.units)
        numbers[~np.isfinite(numbers)] = np.nan
        return NumberColumn(numbers, np.array(looks[:2])[bulk.doubtful.astype(int)])
    codes, unique = pd.factorize(values)
    words = [_word(value, column, looks) for value in unique]
    return WordColumn(codes.astype(np.int64), (*words, Word(None, looks[0])))


def _word(value: Any, column: Column, looks: Sequence[int]) -> Word:
    look = looks[0]
    if isinstance(value, Link):
        return Word(clean_text(value.text), look, value.formula.removeprefix("="))
    if column.look == "severity" and value in SEVERITIES:
        look = looks[1 + SEVERITIES.index(value)]
    cell_value = identifier_value(value) if column.look == "identifier" else value
    cell_value = cell_value if isinstance(cell_value, float) else clean_text(cell_value)
    return Word(None if cell_value == "" else cell_value, look)
