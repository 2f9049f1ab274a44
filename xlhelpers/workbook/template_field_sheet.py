"""The field sheet of the template: its blocks, the folded columns and the frozen headings."""

from xlsxwriter.utility import xl_col_to_name
from xlsxwriter.worksheet import Worksheet

from xlhelpers.workbook.template_book import (
    Template,
    column_width,
    set_page,
    write_headings,
    write_prepared_rows,
    write_titles,
)
from xlhelpers.workbook.template_formulas import write_live_formulas
from xlhelpers.workbook.template_layout import (
    BLOCK_ROW,
    FIRST_ROW,
    HEADING_ROW,
    TITLE_ROW,
    Layout,
)

FOLDED = ("needed", "recorded")
LAST_ROW_OF_SHEET = 1_048_575  # counted from 0
FROZEN_COLUMNS = 2  # plot and tree
BLOCK_NAMES = {
    "main": "KEY IN: one line a set-up, in the order of the paper",
    "needed": "KEY IN ONLY WHEN NEEDED",
    "recorded": "KEY IN ONLY IF ON PAPER",
    "live": "FILLED BY THE PROGRAM: from this line",
    "tree": "FILLED BY THE PROGRAM: mean of the tree's set-ups, on its first line",
    "helper": "FORMULAS: what the live columns rest on",
}
_PURPOSE_COLUMN = 3
_ADVICE = (
    "White cells are for typing, grey cells in italics are not. Key what the paper says; 0 is a "
    "reading, blank is not."
)


def write_field_sheet(template: Template, sheet: Worksheet) -> None:
    """Write the field sheet; it is not protected, so that rows can be sorted and added."""
    layout = template.layouts["line"]
    write_titles(template, sheet, layout.sheet.title, _folding_hint(layout))
    sheet.write_string(TITLE_ROW, _PURPOSE_COLUMN, _ADVICE, template.looks["purpose"])
    _write_blocks(template, sheet, layout)
    write_headings(template, sheet, layout)
    write_prepared_rows(template, sheet, layout)
    write_live_formulas(template, sheet, layout)
    _fold(template, sheet, layout)
    set_page(template, sheet, landscape=True)
    sheet.repeat_rows(BLOCK_ROW, HEADING_ROW)
    sheet.repeat_columns(0, FROZEN_COLUMNS - 1)
    sheet.freeze_panes(FIRST_ROW, FROZEN_COLUMNS)
    # whole columns, so that lines below the prepared ones are printed too; the tree columns would
    # halve the print, and the tab Trees prints them
    sheet.print_area(TITLE_ROW, 0, LAST_ROW_OF_SHEET, layout.column("live_warning"))


def folded_columns(layout: Layout) -> tuple[int, int]:
    """Return the first and the last folded column."""
    columns = [i for i, field in enumerate(layout.sheet.fields) if field.block in FOLDED]
    return columns[0], columns[-1]


def _folding_hint(layout: Layout) -> str:
    first, last = folded_columns(layout)
    return (
        f"{last - first + 1} columns are folded away ({xl_col_to_name(first)} to "
        f"{xl_col_to_name(last)}): notes, other stems, foot above eye, leaning trees, other "
        f"instrument … To open them press the + above column {xl_col_to_name(last + 1)}, or the "
        "small 2 at the upper left."
    )


def _write_blocks(template: Template, sheet: Worksheet, layout: Layout) -> None:
    before = ""
    for column, field in enumerate(layout.sheet.fields):
        role = "block_result" if field.filled_by == "program" else "block"
        text = BLOCK_NAMES[field.block] if field.block != before else ""
        sheet.write(BLOCK_ROW, column, text or None, template.looks[role])
        before = field.block


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
