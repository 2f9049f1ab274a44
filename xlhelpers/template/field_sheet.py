"""The field sheet of the template: its rows, native formulas and look-up tables.

XlsxWriter takes its time and its memory for each cell; a copied row takes next to none.
"""

from __future__ import annotations

import re

from xlsxwriter.format import Format
from xlsxwriter.utility import xl_col_to_name, xl_range, xl_range_abs, xl_rowcol_to_cell
from xlsxwriter.worksheet import Worksheet

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.live.formulas import FORMULAS
from xlhelpers.live.lookups import (
    KEYED,
    LOOKUPS,
    POSITION,
    Lookup,
    cells_name,
    figures,
    kinds_table,
)
from xlhelpers.live.marks import joint_marks
from xlhelpers.live.rule_words import RULE_WORDS, rule_headings
from xlhelpers.live.syntax import render
from xlhelpers.package.parts.parts import sheets
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.zip_entries import Packed, Packer
from xlhelpers.pages.looks import CONDITIONAL
from xlhelpers.template.book import (
    Result,
    Template,
    column_width,
    heading_role,
    need_word,
    set_page,
    write_headings,
    write_prepared_rows,
    write_titles,
)
from xlhelpers.template.layout import (
    BLOCK_ROW,
    FIRST_ROW,
    HEADING_ROW,
    LISTS_TAB,
    TITLE_ROW,
    WORD_ROW,
    Layout,
)

# below this row of the sheet only formulas are prepared, to keep the workbook small
WHOLE_ROWS = 20_000
_BLANK = re.compile(rb"<c [^<>]*/>")


def lengthen(content: bytes, written: int, last: int) -> bytes | Packed:
    """Return a sheet whose last row was copied until there are enough.

    Parameters
    ----------
    content : bytes
        The sheet; its rows hold no formula but those that they share with the row above.
    written, last : int
        The last row that is there, and the last that is wanted; counted from 1.
    """
    if last <= written:
        return content
    start = content.rindex(b'<row r="%d"' % written)
    end = content.index(b"</row>", start) + len(b"</row>")
    row = content[start:end]
    whole = min(last, max(written, WHOLE_ROWS))
    packer = Packer(quick=False)
    packer.write(
        re.sub(rb'( ref="[A-Z]+[0-9]+:[A-Z]+)%d"' % written, rb'\g<1>%d"' % last, content[:end])
    )
    for copied, numbers in (
        (row, range(written + 1, whole + 1)),
        (_BLANK.sub(b"", row), range(whole + 1, last + 1)),
    ):
        at = re.sub(rb'( r="[A-Z]*)%d"' % written, rb'\1%d"', copied.replace(b"%", b"%%"))
        count = at.count(b'%d"')
        for number in numbers:
            packer.write(at % ((number,) * count))
    packer.write(content[end:])
    return packer.finish()


LISTS_FIRST = 2  # row of the first word of each list, counted from 0
# with the prefix XlsxWriter looks for no newer functions in it, which takes longer than the writing
_FILLED_DOWN = "_xlfn.xlh_filled_down_"
_FILLED = re.compile(rb'<c r="([A-Z]+[0-9]+)"[^<>]*><f>_xlfn\.xlh_filled_down_([0-9]+)</f>')
# All results are there, so a workbook that was only looked at need not ask to be saved. Programs
# calculate a file anew that states an engine older than their own.
_CALCULATION = re.compile(rb"<calcPr [^<>]*/>")
_CALCULATED = b'<calcPr calcId="191029"/>'
_EMPTY_RESULT = re.compile(rb"<c ([^<>]*)><f>([^<]*)</f><v></v></c>")


def write_live_formulas(template: Template, sheet: Worksheet, layout: Layout) -> None:
    """Write the formulas of the field sheet into its prepared rows; a blank row gives blanks."""
    letters = {
        field.name: xl_col_to_name(column) for column, field in enumerate(layout.sheet.fields)
    }
    results = template.results
    for name, formula in FORMULAS.items():
        field, column = FIELD_SHEET[name], layout.column(name)
        look = template.looks["result" if field.quantity is None else f"result:{field.quantity}"]
        rows = range(FIRST_ROW, layout.written_row + 1)
        text = render(formula, letters, FIRST_ROW + 1)
        _fill_down(sheet, column, rows, text, look, results[name])


def _fill_down(
    sheet: Worksheet, column: int, rows: range, formula: str, look: Format, result: Result
) -> None:
    """Write a formula into the first row and mark the rows below as filled down from it."""
    sheet.write_formula(rows[0], column, "=" + formula, look, result)
    for row in rows[1:]:
        sheet.write_formula(row, column, f"={_FILLED_DOWN}{column}", look, result)


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
        result = template.results[name]
        lists.write_formula(LISTS_FIRST, column, "=" + formula, template.looks["cell"], result)
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
        _fill_down(lists, at, rows, text, template.looks["cell"], template.results[name])
        _name(template, name, at, count)
    return column + len(columns)


def finish_formulas(data: bytes, lines: Layout) -> bytes:
    """Return the workbook with its empty results and filled-down formulas in their final form.

    XlsxWriter leaves out the mark that an empty result is a text, and a formula without it
    counts as never calculated. It knows no formula that many cells share, which keeps the
    workbook small: each stands once, in the first row of its column. The prepared rows of the
    field sheet that were not written yet are added.
    """
    package = Package.from_bytes(data)
    book = package.read(package.workbook_part)
    package.replace(package.workbook_part, _CALCULATION.sub(_CALCULATED, book))
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
    last = {match[2]: match[1] for match in _FILLED.finditer(content)}
    for number, (column, cell) in enumerate(last.items()):
        content = content.replace(
            b"<f>%b%b</f>" % (_FILLED_DOWN.encode(), column), b'<f t="shared" si="%d"/>' % number
        )
        letters = cell.rstrip(b"0123456789")
        child = re.search(
            rb'<c r="%b([0-9]+)"[^<>]*><f t="shared" si="%d"/>' % (letters, number), content
        )
        assert child is not None
        first = b"%b%d" % (letters, int(child[1]) - 1)
        head = re.search(rb'<c r="%b"[^<>]*><f>' % first, content)
        assert head is not None
        mark = b'<f t="shared" ref="%b:%b" si="%d">' % (first, cell, number)
        content = content[: head.end() - 3] + mark + content[head.end() :]
    return content


FOLDED = ("needed", "recorded", "radii")
LAST_ROW_OF_SHEET = 1_048_575  # counted from 0
FROZEN_COLUMNS = 2  # plot and tree
BLOCK_NAMES = {
    "main": "TYPE HERE: one line for each set-up, in the order of the paper",
    "needed": "TYPE ONLY WHEN NEEDED",
    "recorded": "TYPE ONLY IF ON PAPER",
    "radii": "TYPE ONLY FOR FOUR CROWN RADII",
    "live": "FILLED BY THE PROGRAM: from this line",
    "tree": "FILLED BY THE PROGRAM: mean of the tree's set-ups, on its first line",
    "helper": "FORMULAS: used by the columns filled from this line",
}
FIRST_TO_CHECK = "BY THE PROGRAM: what to check now"
_PURPOSE_COLUMN = 3
_ADVICE = (
    "Type only in white cells, not in shaded ones. Type exactly what the paper says. 0 is a "
    "reading, a blank is not."
)


def write_field_sheet(template: Template, sheet: Worksheet) -> None:
    """Write the field sheet; it is not protected, so that rows can be sorted and added."""
    layout = template.layouts["line"]
    write_titles(template, sheet, layout.sheet.title, _folding_hint(layout))
    sheet.write_string(TITLE_ROW, _PURPOSE_COLUMN, _ADVICE, template.looks["purpose"])
    _write_blocks(template, sheet, layout)
    write_headings(template, sheet, layout)
    _write_rule_words(template, sheet, layout)
    write_prepared_rows(template, sheet, layout)
    write_live_formulas(template, sheet, layout)
    _mark_cells(template, sheet, layout)
    _fold(template, sheet, layout)
    set_page(template, sheet, landscape=True)
    sheet.repeat_rows(BLOCK_ROW, HEADING_ROW)
    sheet.repeat_columns(0, FROZEN_COLUMNS - 1)
    sheet.freeze_panes(FIRST_ROW, FROZEN_COLUMNS)
    # whole columns, so that lines below the prepared ones are printed too; the tree columns would
    # halve the print, and the tab Trees prints them
    sheet.print_area(TITLE_ROW, 0, LAST_ROW_OF_SHEET, layout.column("live_depth"))


def folded_columns(layout: Layout) -> tuple[int, int]:
    """Return the first and the last folded column."""
    columns = [i for i, field in enumerate(layout.sheet.fields) if field.block in FOLDED]
    return columns[0], columns[-1]


def _folding_hint(layout: Layout) -> str:
    first, last = folded_columns(layout)
    return (
        f"{last - first + 1} columns are folded away ({xl_col_to_name(first)} to "
        f"{xl_col_to_name(last)}): notes, other stems, foot above eye, leaning trees, another "
        f"instrument … To open them, press the + above column {xl_col_to_name(last + 1)}, or the "
        "small 2 at the upper left."
    )


def _write_blocks(template: Template, sheet: Worksheet, layout: Layout) -> None:
    before = ""
    for column, field in enumerate(layout.sheet.fields):
        role = "block_result" if field.filled_by == "program" else "block"
        name = FIRST_TO_CHECK if field.name == "live_warning" else BLOCK_NAMES[field.block]
        text = name if field.block != before else ""
        sheet.write(BLOCK_ROW, column, text or None, template.looks[role])
        before = field.block


def _write_rule_words(template: Template, sheet: Worksheet, layout: Layout) -> None:
    """Write the headings and the words above them that follow the rules, as by default."""
    for name, formula in RULE_WORDS.items():
        field = FIELD_SHEET[name]
        look = template.looks["word_always" if field.required == "always" else "word"]
        sheet.write_formula(WORD_ROW, layout.column(name), f"={formula}", look, need_word(field))
    for name, formula in rule_headings(template.units).items():
        field = FIELD_SHEET[name]
        look, text = template.looks[heading_role(field)], field.heading(template.units)
        sheet.write_formula(HEADING_ROW, layout.column(name), f"={formula}", look, text)


def _mark_cells(template: Template, sheet: Worksheet, layout: Layout) -> None:
    """Mark the cells that the first warning of their line means, and the warning itself."""
    letters = {f"{field.name}": xl_col_to_name(at) for at, field in enumerate(layout.sheet.fields)}
    fixed = {name: f"${letter}" for name, letter in letters.items()}
    meant = template.book.add_format(CONDITIONAL["meant"])
    warning = template.book.add_format(CONDITIONAL["warning"])
    rules = [(names, condition, meant) for names, condition in joint_marks()]
    rules.append((("live_warning",), '{live_warning}<>""', warning))
    for names, condition, look in rules:
        columns = [layout.column(name) for name in names]
        areas = [xl_range(FIRST_ROW, at, layout.reach_row, at) for at in columns]
        criteria = "=" + render(condition, fixed, FIRST_ROW + 1)
        options = {"type": "formula", "criteria": criteria, "format": look}
        options["multi_range"] = " ".join(areas)
        first = columns[0]
        sheet.conditional_format(FIRST_ROW, first, layout.reach_row, first, options)


def _fold(template: Template, sheet: Worksheet, layout: Layout) -> None:
    first, last = folded_columns(layout)
    end = len(layout.sheet.fields) - 1
    start = layout.column(next(f.name for f in layout.sheet.fields if f.block == "helper"))
    _fold_columns(template, sheet, first, last)
    _fold_columns(template, sheet, start, end)


def _fold_columns(template: Template, sheet: Worksheet, first: int, last: int) -> None:
    fields = template.layouts["line"].sheet.fields
    for column in range(first, last + 2):
        folded = column <= last
        options = {"level": 1, "hidden": True} if folded else {"collapsed": True}
        field = fields[column] if column < len(fields) else None
        width = None if field is None else column_width(field, field.heading(template.units))
        sheet.set_column(column, column, width, None, options)
