"""The guide of the template: one printed page that leads from the paper to the summary."""

from collections.abc import Sequence

from xlsxwriter.format import Format
from xlsxwriter.utility import quote_sheetname
from xlsxwriter.worksheet import Worksheet

from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.workbook.guide_text import CAUTIONS, RESULT_TABS_TEXT, WORDS, steps
from xlhelpers.workbook.template_book import Template, set_page, wrapped_lines

_NAME_WIDTH, _TEXT_WIDTH = 22, 96
_LINE = 15.0  # points
_LETTERS_A_WIDTH = 1.08  # letters are narrower than the digit that widths are counted in


def write_guide(template: Template, sheet: Worksheet) -> None:
    """Write the guide and fit it to one page."""
    looks = template.looks
    sheet.hide_gridlines(2)
    sheet.set_column(0, 0, _NAME_WIDTH)
    sheet.set_column(1, 1, _TEXT_WIDTH)
    sheet.set_row(0, 28)
    sheet.write_string(0, 0, "Tree survey: from the field sheet to the summary", looks["title"])
    units = "metres and centimetres" if template.units == "metric" else "feet and inches"
    sheet.write_string(1, 0, f"In five steps. This workbook is in {units}.", looks["purpose"])
    row = _section(template, sheet, 2, "Five steps")
    for number, (what, how) in enumerate(steps(template.units), start=1):
        row = _line(sheet, row, (f"{number}  {what}", how), (looks["text_bold"], looks["text"]))
    row = _section(template, sheet, row, "Take care")
    for pair in CAUTIONS:
        row = _line(sheet, row, pair, (looks["text_bold"], looks["caution"]))
    row = _section(template, sheet, row, "Words")
    for pair in WORDS:
        row = _line(sheet, row, pair, (looks["text_bold"], looks["text"]))
    row = _section(template, sheet, row, "Sheets")
    for layout in template.layouts.values():
        target = f"internal:{quote_sheetname(layout.sheet.tab)}!A1"
        _line(sheet, row, ("", layout.sheet.purpose), (looks["link"], looks["text"]))
        sheet.write_url(row, 0, target, looks["link"], layout.sheet.tab)
        row += 1
    tabs = ", ".join(RESULT_TABS.values())
    row = _line(sheet, row, ("Result tabs", f"{tabs}. {RESULT_TABS_TEXT}"), _plain(template))
    set_page(template, sheet, landscape=False)
    sheet.fit_to_pages(1, 1)
    sheet.print_area(0, 0, row - 1, 1)


def _plain(template: Template) -> tuple[Format, Format]:
    return template.looks["text_bold"], template.looks["text"]


def _section(template: Template, sheet: Worksheet, row: int, title: str) -> int:
    sheet.set_row(row, 24)
    sheet.write_string(row, 0, title, template.looks["section"])
    sheet.write_blank(row, 1, None, template.looks["section"])
    return row + 1


def _line(sheet: Worksheet, row: int, texts: Sequence[str], looks: Sequence[Format]) -> int:
    for column, (text, look) in enumerate(zip(texts, looks, strict=True)):
        sheet.write(row, column, text or None, look)
    sheet.set_row(row, _LINE * wrapped_lines(texts[1], _TEXT_WIDTH * _LETTERS_A_WIDTH) + 3)
    return row + 1
