"""Whether any entry has changed since the last fill, shown on each tab by formulas.

One table has the numbers of every watched column as they were, and formulas of what they are now.
One cell draws the conclusion, and the line on each tab repeats that cell.
"""

from collections.abc import Sequence
from typing import Any

from xlsxwriter import Workbook
from xlsxwriter.format import Format

from xlhelpers.package.sheet.references import column_letters, quote_sheet
from xlhelpers.pages.change_watch import KeyedColumn, count_formula, total_formula, weighted_formula
from xlhelpers.pages.sheet import Pen
from xlhelpers.pages.values import clean_text

# the cell that says it
STATE_NAME = "xlh_keyed_state"
NO_CHANGE = "Up to date with what is entered."
_CHANGED = "Out of date"
_UNKNOWN = "Out of date: the entries of the last fill are not in this workbook. Run fill again."
_SAME, _DIFFERS = "same", "changed"
_TITLE = "Entries now and at the last fill"
_SENTENCE = (
    "The third line of each tab depends on these numbers. By place: each number, or the letters "
    "of a text, times its row. Texts and errors are not in the plain sums. Not printed."
)
_HEADINGS = (
    "Entered column",
    "Filled cells now",
    "Sum now",
    "Sum by place now",
    "Entries",
    "Filled cells then",
    "Sum then",
    "Sum by place then",
    "Sum may differ by",
    "Sum by place may differ by",
)
_WIDTH_BESIDE = 22.0


def write_banner(pen: Pen, row: int, first: int, last: int) -> None:
    """Write the line that says whether anything keyed has changed.

    Parameters
    ----------
    pen : Pen
        The sheet and the formats.
    row : int
        Its row, from 0.
    first, last : int
        The column that it begins in, and the last one that stands out when something has changed.
    """
    formula = f'=IFERROR({STATE_NAME},"{_UNKNOWN}")'
    pen.sheet.write_formula(row, first, formula, pen.shelf.role("hint"), NO_CHANGE)
    rule = {
        "type": "formula",
        "criteria": f'=LEFT(${column_letters(first + 1)}${row + 1},{len(_CHANGED)})="{_CHANGED}"',
        "format": pen.shelf.conditional("changed"),
    }
    pen.sheet.conditional_format(row, first, row, last, rule)


def write_changes(book: Workbook, pen: Pen, row: int, columns: Sequence[KeyedColumn]) -> None:
    """Write the table of the watched columns, and the cell that all banners repeat.

    Parameters
    ----------
    book : Workbook
        Gets the name of the cell.
    pen : Pen
        The sheet and the formats.
    row : int
        The first row, from 0.
    columns : sequence of KeyedColumn
        The watched columns, at least one.
    """
    sheet, role = pen.sheet, pen.shelf.role
    sheet.write_string(row, 0, _TITLE, role("section"))
    sheet.write_string(row + 1, 0, _SENTENCE, role("hint"))
    first, last = row + 5, row + 4 + len(columns)
    seen, names = f"$E${first}:$E${last}", f"$A${first}:$A${last}"
    verdict = (
        f'=IF(COUNTIF({seen},"{_DIFFERS}")=0,"{NO_CHANGE}","{_CHANGED}: “"&'
        f'INDEX({names},MATCH("{_DIFFERS}",{seen},0))&"” has changed. Run fill again.")'
    )
    sheet.write_formula(row + 2, 0, verdict, role("text_bold_line"), NO_CHANGE)
    book.define_name(STATE_NAME, f"={quote_sheet(sheet.get_name())}!$A${row + 3}")
    sheet.set_row(row + 3, 31)
    for at, heading in enumerate(_HEADINGS):
        sheet.write_string(row + 3, at, heading, role("heading"))
    sheet.set_column(6, len(_HEADINGS) - 1, _WIDTH_BESIDE)
    looks = {"text": role("cell", align="left"), "number": role("cell", align="right")}
    for down, column in enumerate(columns, row + 4):
        _write_column(sheet, down, column, looks)


def _write_column(sheet: Any, row: int, column: KeyedColumn, looks: dict[str, Format]) -> None:
    now = (count_formula, total_formula, weighted_formula)
    then = (column.cells, column.total, column.weighted)
    within = (column.total_within, column.weighted_within)
    sheet.write_string(row, 0, clean_text(f"{column.sheet}: {column.label}"), looks["text"])
    for at, (formula, number) in enumerate(zip(now, then, strict=True), 1):
        sheet.write_formula(row, at, f"={formula(column.area)}", looks["number"], number)
    cell = {name: f"{column_letters(at)}{row + 1}" for at, name in enumerate("abcdefghij", 1)}
    # the weighted sums of columns with an error are words
    by_place = f"IFERROR(ABS({cell['d']}-{cell['h']})<={cell['j']},{cell['d']}={cell['h']})"
    same = f"AND({cell['b']}={cell['f']},ABS({cell['c']}-{cell['g']})<={cell['i']},{by_place})"
    seen = f'=IF(IFERROR({same},FALSE),"{_SAME}","{_DIFFERS}")'
    sheet.write_formula(row, 4, seen, looks["text"], _SAME)
    for at, number in enumerate((*then, *within), 5):
        write = sheet.write_string if isinstance(number, str) else sheet.write_number
        write(row, at, number, looks["number"])
