"""The lists behind the drop-downs, and the defined names of the template.

Words of a choice stand on a hidden sheet of their own; names that the office adds, such as
instruments, are offered from the sheet on which they are kept.
"""

from xlsxwriter.worksheet import Worksheet

from xlhelpers.fields.choices import choice
from xlhelpers.fields.workbook import TEMPLATE_VERSION, VERSION_NAME
from xlhelpers.measure.instruments import KINDS
from xlhelpers.workbook.template_book import Template
from xlhelpers.workbook.template_formulas import write_lookups
from xlhelpers.workbook.template_layout import (
    KIND_LIST,
    LISTS_TAB,
    SHEET_LISTS,
    cell_range,
    list_name,
)


def closed_lists(template: Template) -> dict[str, tuple[str, ...]]:
    """Return the words of each choice that some field of the template asks for."""
    asked = {
        field.choices: choice(field.choices)
        for layout in template.layouts.values()
        for field in layout.sheet.fields
        if field.choices is not None
    }
    return {**dict(sorted(asked.items())), KIND_LIST: tuple(KINDS)}


def write_lists(template: Template, sheet: Worksheet) -> None:
    """Write each closed list in a column of its own and name its cells."""
    sheet.write_string(0, 0, "Words of the drop-downs. Please leave as they are.")
    lists = closed_lists(template)
    for column, (name, words) in enumerate(lists.items()):
        sheet.set_column(column, column, max(16, *(len(word) + 2 for word in words)))
        sheet.write_string(1, column, name.replace("_", " "), template.looks["heading"])
        sheet.write_column(2, column, words, template.looks["cell"])
        words_range = cell_range(LISTS_TAB, (2, column), (1 + len(words), column))
        template.book.define_name(list_name(name), f"={words_range}")
    write_lookups(template, sheet, len(lists) + 1)


def define_names(template: Template) -> None:
    """Name the heading of every column, the value of every rule, the open lists, the version."""
    for layout in template.layouts.values():
        for field in layout.sheet.fields:
            name = layout.sheet.defined_name(field.name)
            template.book.define_name(name, f"={layout.address(field.name)}")
    for name, (key, field_name) in SHEET_LISTS.items():
        source = template.layouts[key].column_range(field_name)
        template.book.define_name(list_name(name), f"={source}")
    template.book.define_name(VERSION_NAME, f"={TEMPLATE_VERSION}")
