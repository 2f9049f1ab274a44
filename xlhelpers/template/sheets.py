"""The other sheets of the template: plots, lists and survey rules.

Words of a choice are on a hidden sheet of their own; names that the office adds, such as
instruments, are offered from the sheet that lists them.
"""

import math

from xlsxwriter.utility import xl_rowcol_to_cell
from xlsxwriter.worksheet import Worksheet

from xlhelpers.fields.choices import choice
from xlhelpers.fields.quantities import Units
from xlhelpers.fields.record import Field
from xlhelpers.fields.rules import ADVANCED, RULES, US_DEFAULTS
from xlhelpers.fields.workbook import TEMPLATE_VERSION, VERSION_NAME
from xlhelpers.live.progress import progress_formulas
from xlhelpers.measure.instruments import KINDS
from xlhelpers.template.book import Template, set_page, validation, write_table, write_titles
from xlhelpers.template.field_sheet import write_lookups
from xlhelpers.template.layout import (
    BLOCK_ROW,
    FIRST_ROW,
    HEADING_ROW,
    KIND_LIST,
    LISTS_TAB,
    RULE_HELP,
    RULE_LABEL,
    RULE_SOURCE,
    RULE_UNIT,
    RULE_VALUE,
    SHEET_LISTS,
    cell_range,
    list_name,
    open_list,
    rule_rows,
)


def write_plots(template: Template, sheet: Worksheet) -> None:
    """Write the Plots sheet with the formulas on every prepared row."""
    layout, lines = template.layouts["plot"], template.layouts["line"]
    counted_in = tuple(map(lines.column_range, ("plot", "setup", "helper_count")))
    write_table(template, sheet, layout)
    look, plain = template.looks["result_wrapped"], template.looks["result"]
    names = ("plot", "trees_counted", "helper_lines", "helper_sum")
    for row in range(FIRST_ROW, layout.last_row + 1):
        # the stored result is the true one: a row without a plot shows nothing
        plot, counted, *helpers = (
            xl_rowcol_to_cell(row, layout.column(name), col_abs=True) for name in names
        )
        formulas = progress_formulas(plot, counted, helpers, counted_in)
        sheet.write_formula(row, layout.column("progress"), formulas.progress, look, "")
        for name in ("helper_lines", "helper_sum"):
            sheet.write_formula(row, layout.column(name), getattr(formulas, name), plain, 0)
    for name in ("helper_lines", "helper_sum"):
        sheet.set_column(layout.column(name), layout.column(name), None, None, {"hidden": True})


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
    sheet.write_string(0, 0, "Words of the drop-downs. Do not change them.")
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
        source = open_list(template.layouts[key], field_name)
        template.book.define_name(list_name(name), f"={source}")
    template.book.define_name(VERSION_NAME, f"={TEMPLATE_VERSION}")


# heading and width of each column
_COLUMNS: dict[int, tuple[str, float]] = {
    RULE_LABEL: ("Rule", 38),
    RULE_VALUE: ("Value", 24),
    RULE_UNIT: ("Unit", 8),
    RULE_HELP: ("What it means", 62),
    RULE_SOURCE: ("Source", 42),
}
_BLOCKS = {
    "main": "The survey",
    "limits": "Limits of the checks",
    "report": "The council's report",
    ADVANCED: "Advanced limits. Change them only with advice. Press + on the left to open them.",
}
_HINT = "The values are typical ones. Look through them once and change what you agreed on."
# signs of a text that surely fit on one line, by column, and the height of a line (points)
_SIGNS, _LINE_HEIGHT = {RULE_HELP: 70, RULE_SOURCE: 46}, 15
_FIGURES = 3  # of a default that is a metric one converted


def write_rules(template: Template, sheet: Worksheet) -> None:
    """Write the survey rules with their defaults, and fold the advanced limits away."""
    write_titles(template, sheet, RULES.title, RULES.purpose)
    sheet.write_string(BLOCK_ROW, 0, _HINT, template.looks["hint"])
    for column, (heading, width) in _COLUMNS.items():
        sheet.set_column(column, column, width)
        sheet.write_string(HEADING_ROW, column, heading, template.looks["heading"])
    sheet.outline_settings(symbols_below=False)
    rows, before = rule_rows(), ""
    for field in RULES.fields:
        row = rows[field.name]
        if field.block != before:
            before = field.block
            _write_block(template, sheet, row - 1, before)
        _write_rule(template, sheet, row, field)
    set_page(template, sheet, landscape=True)
    sheet.repeat_rows(HEADING_ROW)
    sheet.freeze_panes(FIRST_ROW, 1)


def _write_block(template: Template, sheet: Worksheet, row: int, block: str) -> None:
    for column in _COLUMNS:
        sheet.write_blank(row, column, None, template.looks["section"])
    sheet.write_string(row, RULE_LABEL, _BLOCKS[block], template.looks["section"])
    sheet.set_row(row, 22, None, {"collapsed": True} if block == ADVANCED else {})


def default_value(field: Field, units: Units) -> float | str | None:
    """Return a rule's default in the unit that is shown, in round figures."""
    own = units == "us" and field.name in US_DEFAULTS
    inner = US_DEFAULTS[field.name] if own else field.default
    if not isinstance(inner, float) or field.measured_in is None:
        return inner
    default = inner / field.measured_in.factor(units)
    converted = units == "us" and not own
    return float(f"{default:.{_FIGURES if converted else 10}g}")


def _write_rule(template: Template, sheet: Worksheet, row: int, field: Field) -> None:
    looks, units = template.looks, template.units
    value = default_value(field, units)
    label = looks["cell_bold" if field.required == "always" else "cell"]
    sheet.write_string(row, RULE_LABEL, field.label, label)
    look = looks["entry:reading" if field.kind == "number" else "entry:text"]
    sheet.write(row, RULE_VALUE, value, look)
    unit = "" if field.measured_in is None else field.measured_in.unit(units)
    sheet.write_string(row, RULE_UNIT, unit, looks["unit"])
    texts = {RULE_HELP: field.help, RULE_SOURCE: field.source}
    for column, text in texts.items():
        sheet.write(row, column, text or None, looks["help"])
    lines = max(math.ceil(len(text) / _SIGNS[column]) for column, text in texts.items())
    folded = {"level": 1, "hidden": True} if field.block == ADVANCED else {}
    sheet.set_row(row, _LINE_HEIGHT * lines if lines > 1 else None, None, folded)
    sheet.data_validation(row, RULE_VALUE, row, RULE_VALUE, validation(RULES, field, units))
