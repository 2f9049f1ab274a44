"""How high the charts of a tab are drawn, so that its pages are few and none is half empty."""

from collections.abc import Sequence
from dataclasses import replace
from itertools import pairwise

from xlhelpers.pages.page import Page, growth_of, least_used, paginate
from xlhelpers.pages.text_size import POINT

# how far charts go from their usual height to their lowest, where that saves a page
_STEPS = (0.0, 0.2, 0.4, 0.6, 0.8, 1.0)
# the lowest a chart gets, as a share of its usual height
_LOWEST_SHARE = 0.7
# one below a table names each bar, and programs leave out names in less room, in pixels
_LOWEST_SHARE_OF_BARS, _LOWEST_BARS = 0.75, 180.0
_BESIDE = 12  # pixels of its rows that a chart leaves free
Heights = dict[tuple[int, int], float]  # first and last row of charts side by side -> pixels


def row_points(height: float, rows: int = 1) -> float:
    """Return the height, in points, of each row that charts cover; theirs is in pixels."""
    return round((height + _BESIDE) / rows) / POINT


def fit_charts(page: Page, rooms: Sequence[float]) -> Page:
    """Return a page whose charts have the heights that suit its paper.

    All charts are lower by the same share where that saves a page, or fills one. Charts of a page
    that would be less than half full are higher.

    Parameters
    ----------
    page : Page
        The rows that were written, each chart at its usual height.
    rooms : sequence of float
        Heights of the paper in pixels of the sheet, as `page_rooms` gives them.
    """
    if not page.charts:
        return page
    pages = [_resize(page, _lower(page.charts, step)) for step in _STEPS]
    best = min(pages, key=lambda each: _waste(each, rooms))
    ends = paginate(best, rooms)
    after = {rows: high for rows, high in page.charts.items() if rows[0] >= max(ends, default=0)}
    restored = _resize(best, after)  # the last page may have room for them
    best = restored if paginate(restored, rooms) == ends else best
    return _resize(best, _fill_pages(best, rooms))


def _resize(page: Page, heights: Heights) -> Page:
    points = {
        row: row_points(height, last + 1 - first)
        for (first, last), height in heights.items()
        for row in range(first, last + 1)
        if height != page.charts[first, last]
    }
    return replace(page, charts=page.charts | heights, heights=page.heights | points)


def _lower(heights: Heights, step: float) -> Heights:
    return {rows: high - step * (high - _lowest(rows, high)) for rows, high in heights.items()}


def _lowest(rows: tuple[int, int], height: float) -> float:
    if rows[0] < rows[1]:
        return _LOWEST_SHARE * height
    return max(_LOWEST_SHARE_OF_BARS * height, min(height, _LOWEST_BARS))


def _waste(page: Page, rooms: Sequence[float]) -> tuple[int, int]:
    """Return how many pages there are, and how many of them would stay less than half full."""
    ended = _ended_pages(page, rooms)
    return len(ended), sum(lack > sum(growth.values()) for lack, growth in ended)


def _ended_pages(page: Page, rooms: Sequence[float]) -> list[tuple[float, Heights]]:
    """Return what each page before a break lacks to be half full, and how its charts may grow."""
    repeated = page.pixels(*page.heading_rows) if page.heading_rows else 0.0
    ended = []
    for first, after in pairwise([0, *paginate(page, rooms)]):
        used = page.pixels(first, after - 1) + (repeated if first else 0.0)
        charts = {rows: high for rows, high in page.charts.items() if first <= rows[0] < after}
        growth = {rows: growth_of(high) for rows, high in charts.items()}
        ended.append((max(map(least_used, rooms)) - used, growth))
    return ended


def _fill_pages(page: Page, rooms: Sequence[float]) -> Heights:
    """Return the heights of charts on pages before a break, where they must grow."""
    heights: Heights = {}
    for lack, growth in _ended_pages(page, rooms):
        most = sum(growth.values())
        if 0 < lack <= most:
            more = {rows: lack / most * pixels for rows, pixels in growth.items()}
            heights |= {rows: page.charts[rows] + pixels for rows, pixels in more.items()}
    return heights
