"""The template while it is written, and what its cells ask for and accept.

Only a closed list of words stops a wrong entry. A number outside its range, or a text such as
NOT SAFE, ? or 12'6", only brings up a question, because the office must be able to type what the
paper says; the reader judges it later. Suggested names (species, instruments) bring up none.
"""

import datetime as dt
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from xlsxwriter import Workbook
from xlsxwriter.format import Format
from xlsxwriter.utility import xl_range
from xlsxwriter.worksheet import Worksheet

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.places import PLOTS
from xlhelpers.fields.quantities import Units
from xlhelpers.fields.record import Field, Sheet
from xlhelpers.template.layout import (
    BLOCK_ROW,
    FIRST_ROW,
    HEADING_ROW,
    KIND_LIST,
    PURPOSE_ROW,
    TITLE_ROW,
    WORD_ROW,
    Layout,
    list_name,
    list_of,
)

TITLE_LENGTH = 32
MESSAGE_LENGTH = 255
_FIRST_DAY = dt.date(1990, 1, 1)
_LAST_DAY = dt.date(2099, 12, 31)
_NEED = {"always": "Always needed. ", "when it applies": "When it applies. ", "no": ""}
_KEEP = "OK keeps it. Cancel lets you type again."


def need_word(field: Field) -> str:
    """Return the word above a heading that says when the column is needed."""
    if field.filled_by == "program":
        return "by the program"
    if field.block == "recorded":
        return "if on paper"
    if field.block in ("needed", "radii"):
        return "when needed"
    return {"always": "always", "when it applies": "when it applies", "no": "if known"}[
        field.required
    ]


def bounds_text(field: Field, units: Units) -> str:
    """Return the possible values in words, such as "0 to 262.5 ft"; "" where all are possible."""
    low, high = (
        "" if bound is None else f"{round(bound, 2 if bound > 0.01 else 4):.4g}".replace("-", "−")
        for bound in field.shown_bounds(units)
    )
    unit = "" if field.measured_in is None else field.measured_in.unit(units)
    words = f"{low} to {high} {unit}" if high else f"{low} {unit}"
    words = words.strip().replace(" °", "°")
    return words + ("" if high else " or more") if low else ""


def validation(sheet: Sheet, field: Field, units: Units) -> dict[str, Any]:
    """Return the options of XlsxWriter's `data_validation` for the cells of one field."""
    if field.filled_by == "program":
        return _refusal(field)
    options = {
        "input_title": _cut(field.label, TITLE_LENGTH),
        "input_message": _cut(_message(field, units), MESSAGE_LENGTH),
    }
    source = list_of(sheet, field)
    if source is not None:
        return options | _drop_down(sheet, field, source)
    if field.kind == "date":
        return options | _day()
    if field.kind == "number" and field.low is not None:
        return options | _number(sheet, field, units)
    return options | {"validate": "any"}


def _message(field: Field, units: Units) -> str:
    possible = bounds_text(field, units)
    tail = f" Expected: {possible}." if possible else ""
    return f"{_NEED[field.required]}{field.help}{tail}"


def _drop_down(sheet: Sheet, field: Field, source: str) -> dict[str, Any]:
    options: dict[str, Any] = {"validate": "list", "source": f"={source}"}
    closed = field.choices is not None or source == list_name(KIND_LIST)
    if not closed:
        return options | {"show_error": False}
    has_note = any(other.name == "note" for other in sheet.fields)
    unknown = " If you do not know, leave it blank and write a note." if has_note else ""
    return options | {
        "error_type": "stop",
        "error_title": "Not on the list",
        "error_message": "Press the arrow beside the cell and choose a word from the list."
        + unknown,
    }


def _day() -> dict[str, Any]:
    return {
        "validate": "date",
        "criteria": "between",
        "minimum": _FIRST_DAY,
        "maximum": _LAST_DAY,
        "error_type": "information",
        "error_title": "Is this a date?",
        "error_message": f"Type the date as year-month-day, for example 2024-05-31. {_KEEP}",
    }


def _number(sheet: Sheet, field: Field, units: Units) -> dict[str, Any]:
    low, high = field.shown_bounds(units)
    options: dict[str, Any] = {"validate": "decimal", "criteria": ">=", "value": low}
    if high is not None:
        options = {"validate": "decimal", "criteria": "between", "minimum": low, "maximum": high}
    title, texts = "Is this right?", ""
    if sheet in (FIELD_SHEET, PLOTS):
        title = "Does the paper say this?"
        words = "NOT SAFE, ? or 12'6\"" if field.quantity == "length" else "NOT SAFE or ?"
        texts = f", or a text from the paper, such as {words}"
    return options | {
        "error_type": "information",
        "error_title": title,
        "error_message": f"Expected: {bounds_text(field, units)}{texts}. {_KEEP}",
    }


def _refusal(field: Field) -> dict[str, Any]:
    """Return a validation that no text and no number passes: their length is never 0."""
    return {
        "validate": "length",
        "criteria": "==",
        "value": 0,
        "input_title": _cut(field.label, TITLE_LENGTH),
        "input_message": _cut(f"The program fills this cell. {field.help}", 255),
        "error_type": "stop",
        "error_title": "The program fills this cell",
        "error_message": "The program fills this cell. Press Cancel and type in the white cells.",
    }


def _cut(text: str, length: int) -> str:
    return text if len(text) <= length else text[: length - 1].rstrip() + "…"


PAPERS = {"a4": 9, "letter": 1}
_LANDSCAPE_FROM = 110  # characters of width
_LINE_HEIGHT = 13.5  # points, of a heading in 10 pt
_MOST_LINES = 3
_HINT = (
    "Enter one line below another. Columns with a dark heading are always needed. "
    "Click a cell to read what to type."
)
_AS_TYPED = "entry:reading"  # the number format General, on the right


Result = float | str | bool | None


@dataclass(frozen=True)
class Template:
    """The book that is being written, with its formats, units, paper and layouts by key.

    `results` are those of each formula before anything is entered.
    """

    book: Workbook
    looks: dict[str, Format]
    units: Units
    paper: str
    layouts: dict[str, Layout]
    results: Mapping[str, Result]


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
    """Write each heading with the word that says when it is needed; set widths and heights."""
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
    if field.block in {"needed", "recorded", "radii"}:
        return "heading_needed"
    return "heading" if field.required == "always" else "heading_optional"


def cell_role(field: Field) -> str:
    """Return the look of a field's cells.

    A typed number keeps the format General, so that the cell shows what was typed and can be
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
