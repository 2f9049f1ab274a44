"""The slope of a line of sight, as a part of formulas."""

from __future__ import annotations

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.live.parts import in_range
from xlhelpers.live.typed_numbers import number_of


def slope_of(name: str) -> str:
    """Return the tangent of a reading, on the scale of its line, of a cell that holds a number.

    Without a scale, and beyond the range of the reading, it is an error: a condition that fails is
    0, which divides nothing. No column holds it, because a keystroke on another sheet makes each
    column calculate on all lines.
    """
    cell = number_of(name)
    tangent = f"TAN(RADIANS({cell}))/(ABS({cell})<90)"
    ratio = f"{cell}/{{helper_divisor}}"
    turned = f'IF({{helper_divisor}}="degrees",{tangent},{ratio})'
    return f"{turned}/({in_range(cell, FIELD_SHEET[name])})"
