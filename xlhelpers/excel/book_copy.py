"""The workbook that is open in the spreadsheet program, as a package that can be read.

Where the program can save a copy, that copy is read: it holds everything, with what was typed
since the last save, and the workbook itself is not saved. Elsewhere its values and names are asked
for, with the formulas where the engine gives them.
"""

from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from xlhelpers.errors import WorkbookError
from xlhelpers.package.container import Package
from xlhelpers.workbook.values_book import SheetValues, values_package

BOOKS = (".xlsx", ".xlsm")
OURS = "xlh_"


@dataclass(frozen=True)
class BookCopy:
    """What was seen of the open workbook.

    `formulas` says whether formulas could be seen, `formats` whether number formats could;
    `copies_sheets` whether sheets of another workbook can be copied into this one.
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
        It is of a kind that cannot be read; the sentence says what to do.
    """
    save = getattr(book.api, "SaveCopyAs", None)
    if callable(save):
        return BookCopy(_saved(book.name, save), formulas=True, formats=True, copies_sheets=True)
    sheets = [_values_of(sheet) for sheet in book.sheets]
    names = [(_name(name), str(name.refers_to)) for name in book.names if OURS in name.name]
    known = all(sheet.formulas is not None for sheet in sheets)
    package = values_package(book.name, sheets, names)
    return BookCopy(package, formulas=known, formats=False, copies_sheets=False)


def _saved(name: str, save: Any) -> Package:
    suffix = Path(name).suffix.casefold()
    if suffix and suffix not in BOOKS:
        raise WorkbookError(
            f"{name} is no .xlsx or .xlsm workbook; save it as one under a new name, then fill "
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
        found = used.formula
    except (NotImplementedError, AttributeError):
        found = None
    if isinstance(found, list | tuple):
        formulas = found
    elif isinstance(found, str):
        formulas = [[found]]
    return SheetValues(sheet.name, rows, used.row, used.column, formulas)


def _name(name: Any) -> str:
    """Return a name as a file spells it; one that belongs to a sheet has the sheet in front."""
    return str(name.name)
