"""Charts grow or shrink a little so that pages are filled. Common practice, no source."""

from itertools import pairwise

import pytest

from xlhelpers.pages.chart_heights import fit_charts, row_points
from xlhelpers.pages.page import Page, paginate

ROOMS = (900.0, 1200.0)  # pixels of a page, with the usual and with a wider font


def page_of(*sections: tuple[int, float]) -> Page:
    """Return a page of sections: so many rows of 20 pixels, then a chart in a row of its own."""
    page, row = Page(), 0
    for rows, height in sections:
        chart = row + rows
        page.charts[chart, chart] = height
        page.heights[chart] = row_points(height)
        page.pieces.append((row, chart))
        page.splits.add(chart)
        row = chart + 1
    return page


def test_charts_that_suit_their_page_keep_their_height() -> None:
    page = page_of((14, 300.0), (5, 180.0))
    assert fit_charts(page, ROOMS) == page


def test_charts_are_lower_where_that_saves_a_page() -> None:
    page = page_of((12, 300.0), (8, 300.0))
    assert len(paginate(page, ROOMS)) == 1
    fitted = fit_charts(page, ROOMS)
    assert paginate(fitted, ROOMS) == []
    assert all(225 <= height < 300 for height in fitted.charts.values())


def test_a_chart_grows_where_its_page_would_be_less_than_half_full() -> None:
    page = page_of((15, 300.0), (20, 400.0))
    (end,) = paginate(page, ROOMS)
    assert page.pixels(0, end - 1) < 0.52 * ROOMS[1]
    fitted = fit_charts(page, ROOMS)
    assert paginate(fitted, ROOMS) == [end]
    assert 0.52 * ROOMS[1] <= fitted.pixels(0, end - 1) <= ROOMS[0]
    assert fitted.charts[20 + end, 20 + end] == 400.0


# longer tables than those of the report may leave a page shorter: they are not parted
@pytest.mark.parametrize("rows", range(2, 21))
def test_no_page_before_the_last_is_half_empty(rows: int) -> None:
    fitted = fit_charts(page_of((rows, 250.0), (12, 300.0), (rows, 200.0), (14, 300.0)), ROOMS)
    for first, after in pairwise([0, *paginate(fitted, ROOMS)]):
        assert ROOMS[1] / 2 <= fitted.pixels(first, after - 1) <= ROOMS[0]


def test_charts_over_several_rows_share_their_height() -> None:
    page = Page(pieces=[(0, 20), (21, 36), (37, 52)], charts={(21, 36): 310.0, (37, 52): 310.0})
    fitted = fit_charts(page, (696.0, 928.0))
    assert len({fitted.heights[row] for row in range(21, 37)}) == 1
    assert fitted.pixels(21, 36) >= fitted.charts[21, 36]
