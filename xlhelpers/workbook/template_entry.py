"""What a cell of the template tells and accepts: input messages, drop-downs and ranges.

Only a closed list of words stops a wrong entry. A number outside its range, or a text such as
NOT SAFE, ? or 12'6", is only remarked upon, because the office must be able to key what the paper
says; the reader judges it later. Suggested names (species, instruments) are never remarked upon.
"""

import datetime as dt
from typing import Any

from xlhelpers.fields.quantities import Units
from xlhelpers.fields.record import Field, Sheet
from xlhelpers.workbook.template_layout import KIND_LIST, list_name, list_of

TITLE_LENGTH = 32
MESSAGE_LENGTH = 255
_FIRST_DAY = dt.date(1990, 1, 1)
_LAST_DAY = dt.date(2099, 12, 31)
_NEED = {"always": "Always needed. ", "when it applies": "When it applies. ", "no": ""}


def need_word(field: Field) -> str:
    """Return the word above a heading that says when the column is to be keyed."""
    if field.filled_by == "program":
        return "by the program"
    if field.block == "recorded":
        return "if on paper"
    if field.block == "needed":
        return "when needed"
    return {"always": "always", "when it applies": "when it applies", "no": "if known"}[
        field.required
    ]


def shown_bounds(field: Field, units: Units) -> tuple[float | None, float | None]:
    """Return the least and the greatest possible value in the unit that is shown."""
    factor = 1.0 if field.measured_in is None else field.measured_in.factor(units)
    low, high = field.low, field.high
    return None if low is None else low / factor, None if high is None else high / factor


def bounds_text(field: Field, units: Units) -> str:
    """Return the possible values in words, such as "0 to 262.5 ft"; "" where all are possible."""
    low, high = shown_bounds(field, units)
    unit = "" if field.measured_in is None else field.measured_in.unit(units)
    if low is not None and high is not None:
        words = f"{_short(low)} to {_short(high)}"
    elif low is not None:
        words = f"{_short(low)} or more"
    else:
        return ""
    return f"{words} {unit}".strip()


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
        return options | _drop_down(field, source)
    if field.kind == "date":
        return options | _day()
    if field.kind == "number" and field.low is not None:
        return options | _number(field, units)
    return options | {"validate": "any"}


def _message(field: Field, units: Units) -> str:
    possible = bounds_text(field, units)
    tail = f" Possible: {possible}." if possible else ""
    return f"{_NEED[field.required]}{field.help}{tail}"


def _drop_down(field: Field, source: str) -> dict[str, Any]:
    options: dict[str, Any] = {"validate": "list", "source": f"={source}"}
    closed = field.choices is not None or source == list_name(KIND_LIST)
    if not closed:
        return options | {"show_error": False}
    return options | {
        "error_type": "stop",
        "error_title": "Not one of the words",
        "error_message": "Choose one of the words of the list: press the arrow beside the cell. "
        "Leave the cell blank if you do not know, and say why under Note.",
    }


def _day() -> dict[str, Any]:
    return {
        "validate": "date",
        "criteria": "between",
        "minimum": _FIRST_DAY,
        "maximum": _LAST_DAY,
        "error_type": "information",
        "error_title": "Is this a day?",
        "error_message": "Key a day as year-month-day, such as 2024-05-31. OK keeps what you "
        "typed; Cancel lets you key it again.",
    }


def _number(field: Field, units: Units) -> dict[str, Any]:
    low, high = shown_bounds(field, units)
    options: dict[str, Any] = {"validate": "decimal", "criteria": ">=", "value": low}
    if high is not None:
        options = {"validate": "decimal", "criteria": "between", "minimum": low, "maximum": high}
    kept = "Text that stands on the paper, such as NOT SAFE or ?, may stay too. "
    if field.quantity == "length":
        kept = "Text that stands on the paper, such as NOT SAFE, ? or 12'6\", may stay too. "
    return options | {
        "error_type": "information",
        "error_title": "Is this what the paper says?",
        "error_message": f"Possible here: {bounds_text(field, units)}. {kept}"
        "OK keeps what you typed; Cancel lets you key it again.",
    }


def _refusal(field: Field) -> dict[str, Any]:
    """Return a validation that no text and no number passes: their length is never 0."""
    return {
        "validate": "length",
        "criteria": "==",
        "value": 0,
        "input_title": _cut(field.label, TITLE_LENGTH),
        "input_message": _cut(f"Not for typing: the program fills it. {field.help}", 255),
        "error_type": "stop",
        "error_title": "The program fills this cell",
        "error_message": "Nothing is typed here. Press Cancel. Key the readings in the white "
        "cells; the result appears here when the workbook has been filled.",
    }


def _short(value: float) -> str:
    return f"{value:.4g}".replace("-", "−")


def _cut(text: str, length: int) -> str:
    return text if len(text) <= length else text[: length - 1].rstrip() + "…"
