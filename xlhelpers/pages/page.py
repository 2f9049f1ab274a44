"""The printed page of a tab: paper, fit to width, print titles, page breaks, footer."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from xlsxwriter.worksheet import Worksheet

from xlhelpers.fields.quantities import Units
from xlhelpers.pages.plan import TabPlan
from xlhelpers.pages.text_size import POINT, ROW_PIXELS, column_pixels

_NUMBERS = {"metric": 9, "us": 1}
# width and height of the paper, upright, in inches
_SIDES = {"metric": (8.27, 11.69), "us": (8.5, 11.0)}
_MARGIN, _ABOVE, _BELOW = 0.5, 0.5, 0.65  # in inches; the footer stands in the last
# programs part pages a little differently; a page that ends early is better than two breaks
_SURELY_USED = 0.95
# widths count digits, 7 pixels each in the usual font; where it lacks, a program may take one with
# digits of 9.33 pixels (DejaVu Sans, Verdana): all is printed smaller, and pages hold more rows
_WIDER = 9.33 / 7
_LEAST_FILLED = 0.56  # of what is surely used: half of the paper and some more
_MOST_GROWTH = 1.3  # of a chart, to fill its page
_MOST_CHART = 532.0  # pixels; its row takes some more, and no row is higher than 409 points
_LEAST_BEGUN = 150.0  # pixels for a title, headings and some rows
_TITLE_ALONE = 0.85  # a page with more room than this holds hardly more than a title
FOOTER = "&L&F&C&A&RPage &P of &N"


@dataclass
class Page:
    """The rows that were written, as far as the page set-up needs to know of them.

    `pieces` are the first and last rows of what is to stay on one page. One that fits on none
    begins where there is room for its first rows. `splits` are rows at which a piece may be
    parted after all, where a page would stay half empty without that; `breaks` are page ends that
    are certain. `charts` are first and last rows that charts side by side cover, whose height may
    follow the page.
    """

    heading_rows: tuple[int, int] | None = None
    last_row: int = 0
    heights: dict[int, float] = field(default_factory=dict)  # row -> points
    pieces: list[tuple[int, int]] = field(default_factory=list)
    splits: set[int] = field(default_factory=set)
    breaks: set[int] = field(default_factory=set)
    charts: dict[tuple[int, int], float] = field(default_factory=dict)  # rows -> pixels

    def pixels(self, first: int, last: int) -> float:
        """Return the height of the rows from the first to the last."""
        own = [self.heights[row] * POINT for row in range(first, last + 1) if row in self.heights]
        return sum(own) + ROW_PIXELS * (last + 1 - first - len(own))


def set_up_page(
    sheet: Worksheet, plan: TabPlan, units: Units, page: Page, widths: Sequence[float]
) -> None:
    """Set the sheet up for the paper of the survey's units, fitted to the width of the paper."""
    if plan.upright:
        sheet.set_portrait()
    else:
        sheet.set_landscape()
    sheet.print_across()
    sheet.set_paper(_NUMBERS[units])
    sheet.set_margins(left=_MARGIN, right=_MARGIN, top=_ABOVE, bottom=_BELOW)
    sheet.fit_to_pages(plan.pages_wide, 0)
    sheet.set_footer(plan.footer or FOOTER)
    sheet.hide_gridlines(2)
    printed = widths[: plan.printed_columns or len(widths)]
    sheet.print_area(0, 0, max(page.last_row, 1), len(printed) - 1)
    if page.heading_rows is not None:
        sheet.repeat_rows(*page.heading_rows)
    if plan.repeated_columns:
        sheet.repeat_columns(0, plan.repeated_columns - 1)
    breaks = paginate(page, page_rooms(plan, units, widths))
    if breaks:
        sheet.set_h_pagebreaks(breaks)


def page_rooms(plan: TabPlan, units: Units, widths: Sequence[float]) -> tuple[float, float]:
    """Return how many pixels of the sheet a page has room for, from top to bottom.

    The first is that with the usual font, the second that where a wider one takes its place.
    """
    across, down = (side * 96 for side in sorted(_SIDES[units], reverse=not plan.upright))
    across, down = across - 2 * _MARGIN * 96, down - (_ABOVE + _BELOW) * 96
    printed = column_pixels(widths[: plan.printed_columns or len(widths)])
    scale = across * plan.pages_wide / printed
    return down / min(1.0, scale) * _SURELY_USED, down / min(1.0, scale / _WIDER) * _SURELY_USED


def paginate(page: Page, rooms: Sequence[float]) -> list[int]:
    """Return the rows before which a page ends.

    Pieces stay whole, and no page is less than half full unless nothing else helps, whichever of
    the rooms a page has. Charts count with the height that they may grow to.

    Parameters
    ----------
    page : Page
        The rows that were written.
    rooms : sequence of float
        Heights of the paper in pixels of the sheet, by the fonts that may be there.
    """
    breaks = set(page.breaks)
    repeated = page.pixels(*page.heading_rows) if page.heading_rows else 0.0
    used, start = [0.0] * len(rooms), 0.0
    row = begin = 0
    for first, last in sorted(page.pieces):
        used = [each + page.pixels(row, first - 1) for each in used]
        row = first
        for at in sorted(split for split in page.breaks if first <= split <= last):
            used, row, begin = [repeated] * len(rooms), at, at
        needed = page.pixels(row, last)
        if any(each + needed > room for each, room in zip(used, rooms, strict=True)):
            charts = (high for (at, _), high in page.charts.items() if begin <= at < row)
            growth = sum(map(growth_of, charts))
            new = _break_at(page, (row, last), used, rooms, growth)
            if new is not None and new not in breaks and min(used) > start:
                breaks.add(new)
                used, needed, begin = [repeated] * len(rooms), page.pixels(new, last), new
        used = [
            _left_over(each + needed, room, repeated)
            for each, room in zip(used, rooms, strict=True)
        ]
        row, start = last + 1, repeated
    return sorted(breaks)


def growth_of(height: float) -> float:
    """Return by how many pixels a chart of this height may grow to fill its page."""
    return max(min(height * _MOST_GROWTH, _MOST_CHART) - height, 0.0)


def least_used(room: float) -> float:
    """Return how many pixels of a page that is followed by another are used at the least."""
    return _LEAST_FILLED * room


def _left_over(used: float, room: float, repeated: float) -> float:
    """Return what of the last page is used by rows that go on over pages by themselves."""
    return used if used <= room else repeated + (used - room) % max(room - repeated, 1.0)


def _break_at(
    page: Page, piece: tuple[int, int], used: Sequence[float], rooms: Sequence[float], growth: float
) -> int | None:
    """Return the row at which a piece that does not fit begins a new page; None: where it likes."""
    first, last = piece
    left = min(room - each for each, room in zip(used, rooms, strict=True))
    if page.pixels(first, last) > min(rooms):
        return first if left < _LEAST_BEGUN else None
    # the page may be filled up by charts that grow, but not beyond its end
    lack = max(least_used(room) - each for each, room in zip(used, rooms, strict=True))
    if lack <= min(growth, left):
        return first
    fitting = [row for row in page.splits if first < row <= last]
    fitting = [row for row in fitting if page.pixels(first, row - 1) <= left]
    if fitting:
        return max(fitting)
    return None if left > _TITLE_ALONE * min(rooms) else first
