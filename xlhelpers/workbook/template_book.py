"""What every sheet of the template shares: the book, its looks, page set-up and headings."""

from dataclasses import dataclass

from xlsxwriter import Workbook
from xlsxwriter.format import Format
from xlsxwriter.utility import xl_range
from xlsxwriter.worksheet import Worksheet

from xlhelpers.fields.quantities import Units
from xlhelpers.fields.record import Field
from xlhelpers.workbook.template_entry import need_word, validation
from xlhelpers.workbook.template_layout import (
    BLOCK_ROW,
    FIRST_ROW,
    HEADING_ROW,
    PURPOSE_ROW,
    TITLE_ROW,
    WORD_ROW,
    Layout,
)

PAPERS = {"a4": 9, "letter": 1}
_LANDSCAPE_FROM = 110  # characters of width
_LINE_HEIGHT = 13.5  # points, of a heading in 10 pt
_MOST_LINES = 3
_HINT = (
    "Key one line under another. Columns with a dark heading are always needed. "
    "Click a cell to read what belongs there."
)
_AS_TYPED = "entry:reading"  # the number format General, on the right


@dataclass(frozen=True)
class Template:
    """The book that is being written, with its formats, units, paper and layouts by key."""

    book: Workbook
    looks: dict[str, Format]
    units: Units
    paper: str
    layouts: dict[str, Layout]


def set_page(template: Template, sheet: Worksheet, *, landscape: bool) -> None:
    """Set the paper, one page wide, with the names of sheet and file and the page at the foot."""
    sheet.set_paper(PAPERS[template.paper])
    if landscape:
        sheet.set_landscape()
    sheet.fit_to_pages(1, 0)
    sheet.set_margins(left=0.5, right=0.5, top=0.6, bottom=0.7)
    sheet.set_footer("&L&A&CPage &P of &N&R&F")


def write_titles(template: Template, sheet: Worksheet, title: str, purpose: str) -> None:
    """Write the title and the purpose above a table."""
    sheet.set_row(TITLE_ROW, 24)
    sheet.write_string(TITLE_ROW, 0, title, template.looks["title"])
    sheet.write_string(PURPOSE_ROW, 0, purpose, template.looks["purpose"])


def write_headings(template: Template, sheet: Worksheet, layout: Layout) -> None:
    """Write each heading with the word that says when to key it, and set widths and heights."""
    lines = 1
    for column, field in enumerate(layout.sheet.fields):
        text = field.heading(template.units)
        width = column_width(field, text)
        always = field.required == "always" and field.filled_by != "program"
        word = template.looks["word_always" if always else "word"]
        sheet.write_string(WORD_ROW, column, need_word(field), word)
        sheet.write_string(HEADING_ROW, column, text, template.looks[heading_role(field)])
        sheet.set_column(column, column, width)
        lines = max(lines, wrapped_lines(text, width - 2))
    sheet.set_row(WORD_ROW, 25)
    sheet.set_row(HEADING_ROW, _LINE_HEIGHT * (lines + 1))  # the last line is the filter arrow's


def write_prepared_rows(template: Template, sheet: Worksheet, layout: Layout) -> None:
    """Give the prepared rows their formats, and the cells down to the reach their messages."""
    looks = [template.looks[cell_role(field)] for field in layout.sheet.fields]
    for row in range(FIRST_ROW, layout.written_row + 1):
        for column, look in enumerate(looks):
            sheet.write_blank(row, column, None, look)
    for column, field in enumerate(layout.sheet.fields):
        options = validation(layout.sheet, field, template.units)
        sheet.data_validation(FIRST_ROW, column, layout.reach_row, column, options)
    last = len(looks) - 1
    sheet.autofilter(HEADING_ROW, 0, layout.last_row, last)
    keyed = xl_range(FIRST_ROW, 0, layout.reach_row, last)
    sheet.ignore_errors({"number_stored_as_text": keyed})


def write_table(template: Template, sheet: Worksheet, layout: Layout) -> None:
    """Write titles, headings, prepared rows and page set-up of a sheet of columns."""
    write_titles(template, sheet, layout.sheet.title, layout.sheet.purpose)
    sheet.write_string(BLOCK_ROW, 0, _HINT, template.looks["hint"])
    write_headings(template, sheet, layout)
    write_prepared_rows(template, sheet, layout)
    width = sum(column_width(f, f.heading(template.units)) for f in layout.sheet.fields)
    set_page(template, sheet, landscape=width > _LANDSCAPE_FROM)
    sheet.repeat_rows(WORD_ROW, HEADING_ROW)
    sheet.freeze_panes(FIRST_ROW, 1)


def heading_role(field: Field) -> str:
    """Return the look of a field's heading: filled, always, in rare cases, or else."""
    if field.filled_by == "program":
        return "heading_result"
    if field.block in {"needed", "recorded"}:
        return "heading_needed"
    return "heading" if field.required == "always" else "heading_optional"


def cell_role(field: Field) -> str:
    """Return the look of a field's cells.

    A keyed number keeps the format General, so that the cell shows what was typed and can be
    compared with the paper; a computed one has the decimals of its quantity.
    """
    if field.filled_by == "program":
        if field.quantity is None:
            return "result"  # not wrapped, so that lines keep their height
        return f"result:{field.quantity}"
    if field.kind == "number":
        return _AS_TYPED
    if field.kind == "date":
        return "entry:date"
    # plots and trees stay numbers, to be sorted as such; other names and texts stay as typed
    return "entry" if field.name in {"plot", "tree"} else "entry:text"


def column_width(field: Field, heading: str) -> float:
    """Return the width of a column in characters: its heading fits into three lines."""
    width = max(field.width, max(len(word) for word in heading.split()) + 2.5)
    while wrapped_lines(heading, width - 2) > _MOST_LINES:
        width += 1
    return width


def wrapped_lines(text: str, width: float) -> int:
    """Return how many lines a text takes in a column of this width, broken between words."""
    lines, used = 1, 0
    for word in text.split():
        if used and used + 1 + len(word) > width:
            lines, used = lines + 1, 0
        used += len(word) + (1 if used else 0)
        while used > width > 0:  # one word longer than the column
            lines, used = lines + 1, used - int(width)
    return lines
