"""Long blocks of a tab: what their cells hold, made ready without XlsxWriter.

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
from xlhelpers.package.long_rows import LongRows, NumberColumn, Word, WordColumn
from xlhelpers.package.references import column_letters
from xlhelpers.workbook.sheet_plan import Block, Column, Link
from xlhelpers.workbook.tabs.columns import SEVERITIES, Pen
from xlhelpers.workbook.tabs.values import clean_text, identifier_value

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
    found = {
        (letters, int(row)): int(look) for letters, row, look in _LOOK.findall(part) if row in first
    }
    columns: list[NumberColumn | WordColumn] = []
    for at, column in enumerate(bulk.block.columns, 1):
        letters = column_letters(at).encode()
        looks = [found.get((letters, row), 0) for row in numbers[: len(SEVERITIES) + 1].tolist()]
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
    kept = identifier_value(value) if column.look == "identifier" else value
    kept = kept if isinstance(kept, float) else clean_text(kept)
    return Word(None if kept == "" else kept, look)
