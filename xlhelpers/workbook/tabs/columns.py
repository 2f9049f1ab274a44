"""Writes the cells of one column of a block."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from xlsxwriter.worksheet import Worksheet

from xlhelpers.fields.quantities import Units
from xlhelpers.workbook.sheet_plan import Column, Link
from xlhelpers.workbook.tabs.formats import FormatShelf
from xlhelpers.workbook.tabs.values import clean_text, identifier_value

SEVERITIES = ("error", "warning", "note")


@dataclass(frozen=True)
class Pen:
    """What it takes to write a cell: the sheet, the formats, the units shown."""

    sheet: Worksheet
    shelf: FormatShelf
    units: Units


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
        _write_numbers(pen, column, at, values, (places, doubtful))
    elif column.look in {"identifier", "severity", "link", "date", "entry date"}:
        for row, value in zip(places, values.tolist(), strict=True):
            write_value(pen, column, (row, at), value)
    else:
        _write_texts(pen, column, at, values, places)


def _write_numbers(
    pen: Pen,
    column: Column,
    at: int,
    values: pd.Series,
    where: tuple[Sequence[int], np.ndarray],
) -> None:
    numbers = values.to_numpy(float) / column.factor(pen.units)
    looks = [pen.shelf.cell(column), pen.shelf.cell(column, doubtful=True)]
    write_number, write_blank = pen.sheet.write_number, pen.sheet.write_blank
    places, doubtful = where
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
        kept = identifier_value(value) if column.look == "identifier" else clean_text(value)
        if isinstance(kept, float):
            pen.sheet.write_number(*cell, kept, look)
        else:
            pen.sheet.write_string(*cell, kept, look)


def _missing(value: Any) -> bool:
    return value is None or (isinstance(value, float) and value != value) or str(value) == ""
