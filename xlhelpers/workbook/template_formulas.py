"""The native formulas of the template: live columns, and the tables on the hidden sheet."""

from __future__ import annotations

import re

from xlsxwriter.format import Format
from xlsxwriter.utility import xl_col_to_name, xl_range_abs, xl_rowcol_to_cell
from xlsxwriter.worksheet import Worksheet

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.package.container import Package
from xlhelpers.package.parts import sheets
from xlhelpers.package.zip_entries import Packed
from xlhelpers.workbook.native_formulas import FORMULAS
from xlhelpers.workbook.native_formulas_lookups import (
    KEYED,
    LOOKUPS,
    POSITION,
    Lookup,
    cells_name,
    figures,
    kinds_table,
)
from xlhelpers.workbook.native_formulas_syntax import render
from xlhelpers.workbook.template_book import Template
from xlhelpers.workbook.template_layout import FIRST_ROW, LISTS_TAB, Layout
from xlhelpers.workbook.template_rows import lengthen

LISTS_FIRST = 2  # row of the first word of each list, counted from 0
_FILLED_DOWN = "xlh_filled_down_"
_FILLED = re.compile(rb'<c r="([A-Z]+[0-9]+)"[^<>]*><f>xlh_filled_down_([0-9]+)</f>')
_EMPTY_RESULT = re.compile(rb"<c ([^<>]*)><f>([^<]*)</f><v></v></c>")


def write_live_formulas(template: Template, sheet: Worksheet, layout: Layout) -> None:
    """Write the formulas of the field sheet into its prepared rows; a blank row gives blanks."""
    letters = {
        field.name: xl_col_to_name(column) for column, field in enumerate(layout.sheet.fields)
    }
    for name, formula in FORMULAS.items():
        field, column = FIELD_SHEET[name], layout.column(name)
        look = template.looks["result" if field.quantity is None else f"result:{field.quantity}"]
        rows = range(FIRST_ROW, layout.written_row + 1)
        _fill_down(sheet, column, rows, render(formula, letters, FIRST_ROW + 1), look)


def _fill_down(sheet: Worksheet, column: int, rows: range, formula: str, look: Format) -> None:
    """Write a formula into the first row and mark the rows below as filled down from it."""
    sheet.write_formula(rows[0], column, "=" + formula, look, "")
    for row in rows[1:]:
        sheet.write_formula(row, column, f"={_FILLED_DOWN}{column}", look, "")


def write_lookups(template: Template, lists: Worksheet, first_column: int) -> None:
    """Write the tables that the live columns look up, to the right of the lists, and name them."""
    for sheet, field in KEYED:
        cells = template.layouts[sheet.key].column_range(field)
        template.book.define_name(cells_name(sheet, field), f"={cells}")
    column = _write_figures(template, lists, first_column)
    column = _write_kinds(template, lists, column)
    for lookup in LOOKUPS:
        column = _write_table(template, lists, lookup, column)


def _heading(template: Template, lists: Worksheet, column: int, name: str) -> None:
    words = name.removeprefix("xlh_").replace("_", " ")
    lists.write_string(LISTS_FIRST - 1, column, words, template.looks["heading"])
    lists.set_column(column, column, 16)


def _name(template: Template, name: str, column: int, count: int) -> None:
    cells = xl_range_abs(LISTS_FIRST, column, LISTS_FIRST + count - 1, column)
    template.book.define_name(name, f"={LISTS_TAB}!{cells}")


def _write_figures(template: Template, lists: Worksheet, column: int) -> int:
    for name, formula in figures(template.units).items():
        _heading(template, lists, column, name)
        lists.write_formula(LISTS_FIRST, column, "=" + formula, template.looks["cell"], "")
        cell = xl_rowcol_to_cell(LISTS_FIRST, column, row_abs=True, col_abs=True)
        template.book.define_name(name, f"={LISTS_TAB}!{cell}")
        column += 1
    return column


def _write_kinds(template: Template, lists: Worksheet, column: int) -> int:
    for name, values in kinds_table().items():
        _heading(template, lists, column, name)
        lists.write_column(LISTS_FIRST, column, values, template.looks["cell"])
        _name(template, name, column, len(values))
        column += 1
    return column


def _write_table(template: Template, lists: Worksheet, lookup: Lookup, column: int) -> int:
    """Write one table; its first column counts the rows of the keyed sheet."""
    layout = template.layouts[lookup.sheet.key]
    count = layout.reach_row - FIRST_ROW + 1
    columns = {POSITION: column, **{n: column + i for i, n in enumerate(lookup.columns, 1)}}
    letters = {name: xl_col_to_name(at) for name, at in columns.items()}
    _heading(template, lists, column, f"{lookup.sheet.key} row")
    lists.write_column(LISTS_FIRST, column, range(1, count + 1), template.looks["cell"])
    for name, formula in lookup.columns.items():
        at = columns[name]
        _heading(template, lists, at, name)
        rows = range(LISTS_FIRST, LISTS_FIRST + count)
        text = render(formula, letters, LISTS_FIRST + 1)
        _fill_down(lists, at, rows, text, template.looks["cell"])
        _name(template, name, at, count)
    return column + len(columns)


def finish_formulas(data: bytes, lines: Layout) -> bytes:
    """Return the workbook with its empty results and its filled-down formulas as they belong.

    XlsxWriter leaves out the mark that an empty result is a text, and a formula without it
    counts as never calculated. It knows no formula that many cells share, which keeps the
    workbook small: each stands once, in the first row of its column. The prepared rows of the
    field sheet that were not written yet are added.
    """
    package = Package.from_bytes(data)
    for part in sheets(package):
        before = package.read(part.part)
        marked: bytes | Packed = _share(
            _EMPTY_RESULT.sub(rb'<c \1 t="str"><f>\2</f><v></v></c>', before)
        )
        if part.name == lines.sheet.tab and isinstance(marked, bytes):
            marked = lengthen(marked, lines.written_row + 1, lines.last_row + 1)
        if marked != before:
            package.replace(part.part, marked)
    return package.to_bytes()


def _share(content: bytes) -> bytes:
    """Turn the marks of filled-down cells into further cells of one shared formula a column."""
    last = {found[2]: found[1] for found in _FILLED.finditer(content)}
    for number, (column, cell) in enumerate(last.items()):
        content = content.replace(
            b"<f>%b%b</f>" % (_FILLED_DOWN.encode(), column), b'<f t="shared" si="%d"/>' % number
        )
        letters = cell.rstrip(b"0123456789")
        child = re.search(rb'<c r="%b([0-9]+)"[^<>]*><f t="shared" si="%d"/>' % (letters, number),
                          content)  # fmt: skip
        assert child is not None
        first = b"%b%d" % (letters, int(child[1]) - 1)
        head = re.search(rb'<c r="%b"[^<>]*><f>' % first, content)
        assert head is not None
        mark = b'<f t="shared" ref="%b:%b" si="%d">' % (first, cell, number)
        content = content[: head.end() - 3] + mark + content[head.end() :]
    return content
