"""Copy the open workbook without saving it.

If the spreadsheet program can save a copy, that copy is read. It contains everything, also what was
typed since the last save. Other engines only give values and names, and some give formulas: these
are put into a new workbook and read from there.
"""

import io
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from xlsxwriter import Workbook

from xlhelpers.errors import WorkbookError
from xlhelpers.package.sheet.cell_text import clean_text
from xlhelpers.package.zip.container import Package

ERRORS = ("#N/A", "#DIV/0!", "#NAME?", "#NULL!", "#NUM!", "#REF!", "#VALUE!")


@dataclass(frozen=True)
class SheetValues:
    """The cells of one sheet.

    `rows` start at the cell `row`, `column` (from 1) and contain numbers, texts, booleans, dates,
    names of errors and None. `formulas`, if known, have the same shape; a text that starts with
    an equals sign is a formula.
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


BOOKS = (".xlsx", ".xlsm")
OURS = "xlh_"


@dataclass(frozen=True)
class BookCopy:
    """The copy, and if the program shows formulas and number formats.

    `copies_sheets` says if sheets of another workbook can be copied into the open one.
    """

    package: Package
    formulas: bool
    formats: bool
    copies_sheets: bool


def copy_of(book: Any) -> BookCopy:
    """Read the open workbook without saving it.

    Parameters
    ----------
    book : xlwings.Book
        The open workbook.

    Raises
    ------
    WorkbookError
        It is of a kind that cannot be read. The message says what to do.
    """
    save = getattr(book.api, "SaveCopyAs", None)
    if callable(save):
        return BookCopy(
            _save_and_open(book.name, save), formulas=True, formats=True, copies_sheets=True
        )
    sheets = [_values_of(sheet) for sheet in book.sheets]
    names = [(_name(name), str(name.refers_to)) for name in book.names if OURS in name.name]
    known = all(sheet.formulas is not None for sheet in sheets)
    package = values_package(book.name, sheets, names)
    return BookCopy(package, formulas=known, formats=False, copies_sheets=False)


def _save_and_open(name: str, save: Any) -> Package:
    suffix = Path(name).suffix.casefold()
    if suffix and suffix not in BOOKS:
        raise WorkbookError(
            f"{name} is not an .xlsx or .xlsm workbook. Save it as one under a new name, then fill "
            "that one."
        )
    with TemporaryDirectory(prefix="xlhelpers_", ignore_cleanup_errors=True) as folder:
        place = Path(folder) / (name if suffix else f"{name}.xlsx")
        save(str(place))
        return Package.open(place)


def _values_of(sheet: Any) -> SheetValues:
    used = sheet.used_range
    rows = used.options(ndim=2, err_to_str=True).value
    formulas: Any = None
    try:
        formula = used.formula
    except (NotImplementedError, AttributeError):
        formula = None
    if isinstance(formula, list | tuple):
        formulas = formula
    elif isinstance(formula, str):
        formulas = [[formula]]
    return SheetValues(sheet.name, rows, used.row, used.column, formulas)


def _name(name: Any) -> str:
    return str(name.name)
