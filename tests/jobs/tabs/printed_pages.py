"""The pages that a sheet prints on, by its paper, its row heights and its page breaks."""

from dataclasses import dataclass
from typing import Any

from openpyxl.utils import range_boundaries

_SIDES = {9: (210 / 25.4, 297 / 25.4), 1: (8.5, 11.0)}  # paper number -> inches, upright
_USUAL = 15.0


@dataclass(frozen=True)
class PrintedPage:
    """The last row of a page, and the share of its height that is filled."""

    last: int
    filled: float


def pages_of(sheet: Any) -> list[PrintedPage]:
    """Return the pages of a sheet that is fitted to the width of its paper."""
    upright = _SIDES[int(sheet.page_setup.paperSize)]
    lying = sheet.page_setup.orientation == "landscape"
    across, down = upright[::-1] if lying else upright
    margins = sheet.page_margins
    left, _, right, last = range_boundaries(sheet.print_area.rpartition("!")[2].replace("$", ""))
    wide = sum(_width(sheet, at) for at in range(left, right + 1)) / 96
    scale = min(
        1.0, (across - margins.left - margins.right) * int(sheet.page_setup.fitToWidth or 1) / wide
    )
    room = (down - margins.top - margins.bottom) * 72 / scale
    repeated = 0.0
    if sheet.print_title_rows:
        top, bottom = map(int, sheet.print_title_rows.replace("$", "").split(":"))
        repeated = sum(_height(sheet, row) for row in range(top, bottom + 1))
    breaks = {mark.id for mark in sheet.row_breaks.brk}
    pages, used = [], 0.0
    for row in range(1, last + 1):
        if used + _height(sheet, row) > room or row - 1 in breaks:
            pages.append(PrintedPage(row - 1, used / room))
            used = repeated
        used += _height(sheet, row)
    return [*pages, PrintedPage(last, used / room)]


def _height(sheet: Any, row: int) -> float:
    return float(sheet.row_dimensions[row].height or _USUAL)


def _width(sheet: Any, at: int) -> float:
    for record in sheet.column_dimensions.values():
        if record.min <= at <= record.max:
            return 0.0 if record.hidden else round(record.width * 7)
    return 64.0
