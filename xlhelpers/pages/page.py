"""The printed page of a tab: paper, fit to width, print titles, page breaks, footer."""

from collections.abc import Sequence
from dataclasses import dataclass, field

from xlsxwriter.worksheet import Worksheet

from xlhelpers.fields.quantities import Units
from xlhelpers.pages.plan import TabPlan

# paper number, printable width and height in pixels when turned to landscape (96 a inch)
_PAPERS: dict[str, tuple[int, float, float]] = {
    "metric": (9, 1026.0, 664.0),
    "us": (1, 960.0, 686.0),
}
ROW_PIXELS = 20
# programs part pages a little differently; a page that ends early is better than two breaks
_SURELY_USED = 0.95
_FOOTER = "&L&F&C&A&RPage &P of &N"


@dataclass
class Page:
    """What the page set-up needs to know of the rows that were written."""

    heading_rows: tuple[int, int] | None = None
    last_row: int = 0
    # row -> its points, where not the usual ones; first and last row of each block
    heights: dict[int, float] = field(default_factory=dict)
    blocks: list[tuple[int, int]] = field(default_factory=list)
    breaks: list[int] = field(default_factory=list)
    chart_rows: list[int] = field(default_factory=list)
    chart_pixels: int = 0
    chart_title_row: int = 0


def width_in_pixels(widths: Sequence[float]) -> int:
    """Return the width of columns on the screen, in pixels of the usual font."""
    return sum(int(width * 7 + 5) for width in widths)


def set_up_page(
    sheet: Worksheet, plan: TabPlan, units: Units, page: Page, widths: Sequence[float]
) -> None:
    """Set the sheet up for the paper of the survey's units, landscape and fitted to the width."""
    paper, page_width, page_height = _PAPERS[units]
    sheet.set_landscape()
    sheet.print_across()
    sheet.set_paper(paper)
    sheet.set_margins(left=0.5, right=0.5, top=0.6, bottom=0.75)
    sheet.fit_to_pages(plan.pages_wide, 0)
    sheet.set_footer(_FOOTER)
    sheet.hide_gridlines(2)
    printed = widths[: plan.printed_columns or len(widths)]
    sheet.print_area(0, 0, max(page.last_row, 1), len(printed) - 1)
    if page.heading_rows is not None:
        sheet.repeat_rows(*page.heading_rows)
    if plan.repeated_columns:
        sheet.repeat_columns(0, plan.repeated_columns - 1)
    scale = min(1.0, page_width * plan.pages_wide / width_in_pixels(printed))
    breaks = [*page.breaks, *_chart_breaks(page, page_height / scale)]
    if page.blocks and not plan.frozen_headings:
        breaks += _breaks_before_blocks(page, page_height / scale)
    if breaks:
        sheet.set_h_pagebreaks(sorted(set(breaks)))


def _breaks_before_blocks(page: Page, room: float) -> list[int]:
    """Return the rows before which a page ends, so that no title stands alone at the foot of one.

    Blocks that fit on a page stay whole; a longer one has pages of its own.
    """
    breaks = []
    room *= _SURELY_USED
    used = float(sum(_row_pixels(page, row) for row in range(page.blocks[0][0])))
    for first, last in page.blocks:
        needed = sum(_row_pixels(page, row) for row in range(first, last + 2))
        if used and used + needed > room:
            breaks.append(first)
            used = 0.0
        used += needed
    return breaks


def _row_pixels(page: Page, row: int) -> float:
    points = page.heights.get(row)
    return ROW_PIXELS if points is None else points * 96 / 72


def _chart_breaks(page: Page, room: float) -> list[int]:
    """Return the rows before which a page ends, so that no chart is cut in two."""
    if not page.chart_rows:
        return []
    # print titles stand on each page, if any; a title and a sentence stand above the first charts
    above = 150.0
    headings = 0.0 if page.heading_rows is None else above
    breaks = []
    used = page.chart_title_row * ROW_PIXELS + above
    if used + page.chart_pixels > room:
        breaks.append(page.chart_title_row)
        used = headings
    for row in page.chart_rows:
        if used + page.chart_pixels > room:
            breaks.append(row)
            used = headings
        used += page.chart_pixels
    return breaks
