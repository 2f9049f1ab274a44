"""How the council's report shows a number: in a cell with its full value, in a sentence rounded."""

import math
from decimal import ROUND_HALF_UP, Decimal

from xlhelpers.fields.quantities import QUANTITIES, Units

_SENTENCE_DIGITS, MARGIN_DIGITS = 3, 2
_DASH = "\N{EN DASH}"
_WORDS_OF_ONE = {"ft": "foot", "in": "inch"}
_WORDS_OF_UNITS = {"ft": "feet", "in": "inches"}


def in_cell(value: float, quantity: str, units: Units) -> float:
    """Return a value in the unit shown; a share stays a fraction, shown by its format."""
    return (
        float(value) if quantity == "percent" else float(value) / QUANTITIES[quantity].factor(units)
    )


def decimals(quantity: str, units: Units) -> int:
    """Return the decimals that a council is shown: whole feet, whole counts, 0.1 m, whole %."""
    if quantity == "length" and units == "us":
        return 0
    return QUANTITIES[quantity].decimals(units)


def cell_format(quantity: str, units: Units) -> str:
    """Return the number format of a cell."""
    places = decimals(quantity, units)
    return (
        "#,##0" + ("." + "0" * places if places else "") + (" %" if quantity == "percent" else "")
    )


def unit_in_heading(quantity: str, units: Units) -> str:
    """Return the unit for a heading; a share has its sign in the cell."""
    return "" if quantity == "percent" else QUANTITIES[quantity].unit(units)


def round_figure(value: float, digits: int = _SENTENCE_DIGITS) -> float:
    """Return a value with so many significant digits."""
    if value == 0 or not math.isfinite(value):
        return value
    return round(value, digits - 1 - math.floor(math.log10(abs(value))))


def write_value(
    value: float, quantity: str, units: Units, digits: int | None = _SENTENCE_DIGITS
) -> str:
    """Return a value for a sentence, with its unit: "121,000", "14.2 m", "47 feet", "76 %".

    Counts and large sums have so many significant digits, or all of them with None.
    """
    if quantity == "percent":
        share = 100 * value
        return "less than 1 %" if 0 < share < 0.5 else f"{_fixed(share)} %"
    number = in_cell(value, quantity, units)
    if quantity == "count":
        return f"{number if digits is None else round_figure(number, digits):,.0f}"
    unit = unit_in_heading(quantity, units)
    places = decimals(quantity, units)
    least = 10.0**-places
    if digits is not None and number >= 10**digits:
        return f"{round_figure(number, digits):,.0f} {unit}"
    is_shown = number >= least / 2 or number == 0
    text = _fixed(number, places) if is_shown else f"under {least:g}"
    words = _WORDS_OF_ONE if text in ("1", "under 1") else _WORDS_OF_UNITS
    return f"{text} {words.get(unit, unit)}"


def write_ends(low: float, high: float, quantity: str, units: Units) -> str:
    """Return both ends for a cell, without their unit: "3,510–5,290", "8–17 %"."""
    first, last = (in_cell(end, quantity, units) for end in (low, high))
    if quantity == "percent":
        return f"{_fixed(100 * first)}{_DASH}{_fixed(100 * last)} %"
    return _DASH.join(_write_end(end, decimals(quantity, units)) for end in (first, last))


def _write_end(end: float, places: int) -> str:
    """Return one end with at most three significant digits, and no more decimals than usual."""
    if end >= 1:
        places = min(places, max(_SENTENCE_DIGITS - 1 - math.floor(math.log10(end)), 0))
    return f"{round_figure(end):,.0f}" if end >= 10**_SENTENCE_DIGITS else _fixed(end, places)


def write_density(value: float) -> str:
    """Return trees on a unit of land: "152", or "1.1" where they are fewer than ten."""
    return _fixed(value, 1) if value < 9.95 else write_value(value, "count", "metric")


def _fixed(value: float, places: int = 0) -> str:
    """Return a number with so many decimals; halves go up, as in the cells of a spreadsheet."""
    if not math.isfinite(value):
        return f"{value:.{places}f}"
    # a spreadsheet program rounds the 15 digits that it keeps
    step = Decimal(1).scaleb(-places)
    return f"{Decimal(f'{value:.15g}').quantize(step, ROUND_HALF_UP):,f}"


def write_margin(value: float, quantity: str, units: Units) -> str:
    """Return a margin for a sentence: counts with two significant digits, if not as the value.

    That of a share is in points, so that nobody takes it for a part of the share.
    """
    if quantity != "percent":
        return write_value(value, quantity, units, MARGIN_DIGITS)
    points = max(round(100 * value), 1) if value > 0 else 0
    less = "less than " if 0 < 100 * value < 0.5 else ""
    return f"{less}{points} {'point' if points == 1 else 'points'}"


def percent(share: float) -> str:
    """Return a confidence as it is written: 0.95 as "95 %"."""
    return f"{100 * share:g} %"
