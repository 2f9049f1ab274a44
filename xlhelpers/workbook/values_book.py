"""A workbook made of values alone, for what cannot be had as a file.

Some engines hand over the values and the names of an open workbook and nothing else. Put into a
workbook of their own they are read like any other.
"""

import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from xlsxwriter import Workbook

from xlhelpers.package.cell_text import clean_text
from xlhelpers.package.container import Package

ERRORS = ("#N/A", "#DIV/0!", "#NAME?", "#NULL!", "#NUM!", "#REF!", "#VALUE!")


@dataclass(frozen=True)
class SheetValues:
    """The cells of one sheet.

    `rows` start at the cell `row`, `column` (from 1) and hold numbers, texts, booleans, dates,
    names of errors and None; `formulas`, where they are known, have the same shape: a text with an
    equals sign in front is a formula.
    """

    name: str
    rows: Sequence[Sequence[Any]]
    row: int = 1
    column: int = 1
    formulas: Sequence[Sequence[Any]] | None = None


def values_book(
    name: str, sheets: Iterable[SheetValues], names: Iterable[tuple[str, str]]
) -> bytes:
    """Return a workbook with these values and defined names.

    Parameters
    ----------
    name : str
        What the workbook is called, for messages.
    sheets : iterable of SheetValues
        In the order of the tabs.
    names : iterable of (str, str)
        Defined names and what they refer to, with the equals sign.

    Returns
    -------
    bytes
        The workbook; formats are those of a blank one, except that dates show as dates.
    """
    buffer = io.BytesIO()
    book = Workbook(buffer, {"in_memory": True})
    dates = book.add_format({"num_format": "yyyy-mm-dd"})
    for sheet in sheets:
        target = book.add_worksheet(sheet.name)
        for down, cells in enumerate(sheet.rows):
            formulas = None if sheet.formulas is None else sheet.formulas[down]
            for right, value in enumerate(cells):
                place = (sheet.row - 1 + down, sheet.column - 1 + right)
                formula = None if formulas is None else formulas[right]
                if isinstance(formula, str) and formula.startswith("="):
                    target.write_formula(*place, formula, None, "" if value is None else value)
                else:
                    _write(target, place, value, dates)
    for key, refers_to in names:
        if "#REF!" not in refers_to:
            book.define_name(key, refers_to)
    book.close()
    return buffer.getvalue()


def values_package(
    name: str, sheets: Iterable[SheetValues], names: Iterable[tuple[str, str]]
) -> Package:
    """Return the same, opened."""
    return Package.from_bytes(values_book(name, sheets, names), name)


def _write(target: Any, place: tuple[int, int], value: Any, dates: Any) -> None:
    if value is None or value == "":
        return
    if isinstance(value, bool):
        target.write_boolean(*place, value)
    elif isinstance(value, int | float):
        target.write_number(*place, value)
    elif isinstance(value, datetime | date):
        target.write_datetime(*place, value, dates)
    elif value in ERRORS:
        target.write_formula(*place, f"={value}", None, value)
    else:
        target.write_string(*place, clean_text(str(value)))
