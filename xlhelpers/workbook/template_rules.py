"""The survey rules of the template: one rule a line, its value in the second column."""

import math

from xlsxwriter.worksheet import Worksheet

from xlhelpers.fields.quantities import Units
from xlhelpers.fields.record import Field
from xlhelpers.fields.rules import RULES, US_DEFAULTS
from xlhelpers.workbook.template_book import Template, set_page, write_titles
from xlhelpers.workbook.template_entry import validation
from xlhelpers.workbook.template_layout import (
    BLOCK_ROW,
    FIRST_ROW,
    HEADING_ROW,
    RULE_HELP,
    RULE_LABEL,
    RULE_UNIT,
    RULE_VALUE,
    rule_rows,
)

_WIDTHS = {RULE_LABEL: 38, RULE_VALUE: 24, RULE_UNIT: 8, RULE_HELP: 66}
_HEADINGS = {
    RULE_LABEL: "Rule",
    RULE_VALUE: "Value",
    RULE_UNIT: "Unit",
    RULE_HELP: "What it means",
}
_BLOCKS = {
    "main": "The survey",
    "limits": "Limits of the checks",
    "doubt": "Limits of the doubt: how unlikely a line must be",
}
_HINT = "The values are usual ones: look through them once, and change what was agreed otherwise."
# signs of a help text that surely stand on one line, and the height of a line (points)
_HELP_SIGNS, _LINE_HEIGHT = 75, 15
_FIGURES = 3  # of a default that is a metric one converted


def write_rules(template: Template, sheet: Worksheet) -> None:
    """Write the survey rules with the defaults of the unit system as values."""
    write_titles(template, sheet, RULES.title, RULES.purpose)
    sheet.write_string(BLOCK_ROW, 0, _HINT, template.looks["hint"])
    for column, width in _WIDTHS.items():
        sheet.set_column(column, column, width)
        sheet.write_string(HEADING_ROW, column, _HEADINGS[column], template.looks["heading"])
    rows, before = rule_rows(), ""
    for field in RULES.fields:
        if field.block != before:
            for column in _WIDTHS:
                text = _BLOCKS[field.block] if column == RULE_LABEL else None
                sheet.write(rows[field.name] - 1, column, text, template.looks["section"])
            sheet.set_row(rows[field.name] - 1, 22)
            before = field.block
        _write_rule(template, sheet, rows[field.name], field)
    set_page(template, sheet, landscape=False)
    sheet.repeat_rows(HEADING_ROW)
    sheet.freeze_panes(FIRST_ROW, 1)


def default_value(field: Field, units: Units) -> float | str | None:
    """Return a rule's default in the unit that is shown; what is shown is what is meant."""
    own = units == "us" and field.name in US_DEFAULTS
    inner = US_DEFAULTS[field.name] if own else field.default
    if not isinstance(inner, float) or field.measured_in is None:
        return inner
    shown = inner / field.measured_in.factor(units)
    converted = units == "us" and not own
    return float(f"{shown:.{_FIGURES if converted else 10}g}")


def _write_rule(template: Template, sheet: Worksheet, row: int, field: Field) -> None:
    looks, units = template.looks, template.units
    value = default_value(field, units)
    label = looks["cell_bold" if field.required == "always" else "cell"]
    sheet.write_string(row, RULE_LABEL, field.label, label)
    look = looks["entry:reading" if isinstance(value, float) else "entry:text"]
    sheet.write(row, RULE_VALUE, value, look)
    unit = "" if field.measured_in is None else field.measured_in.unit(units)
    sheet.write_string(row, RULE_UNIT, unit, looks["unit"])
    sheet.write_string(row, RULE_HELP, field.help, looks["help"])
    lines = math.ceil(len(field.help) / _HELP_SIGNS)
    if lines > 1:
        sheet.set_row(row, _LINE_HEIGHT * lines)
    sheet.data_validation(row, RULE_VALUE, row, RULE_VALUE, validation(RULES, field, units))
