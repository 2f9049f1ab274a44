"""Where pages end: whole pieces, filled pages. Common practice, no source."""

import random
from itertools import pairwise

from xlhelpers.pages.page import Page, paginate

ROOM = 900.0  # pixels, 45 rows of the usual height


def pages(pieces: list[tuple[int, int]], splits: set[int] | None = None) -> list[int]:
    return paginate(Page(pieces=pieces, splits=splits or set()), [ROOM])


def test_a_piece_that_does_not_fit_goes_to_the_next_page_whole() -> None:
    assert pages([(0, 29), (30, 59)]) == [30]


def test_pieces_that_fit_share_a_page() -> None:
    assert pages([(0, 14), (15, 29), (30, 44)]) == []


def test_a_piece_is_parted_where_a_page_would_stay_half_empty() -> None:
    # ten rows, then forty of which the last twenty are a chart
    assert pages([(0, 9), (10, 49)], {30}) == [30]
    assert pages([(0, 29), (30, 69)], {50}) == [30]


def test_a_piece_longer_than_a_page_begins_where_there_is_room_for_its_first_rows() -> None:
    assert pages([(0, 29), (30, 129)]) == []
    assert pages([(0, 40), (41, 140)]) == [41]


def test_pages_are_half_full_where_pieces_can_be_parted_anywhere() -> None:
    draws = random.Random(7)
    for _ in range(200):
        ends = [0]
        while ends[-1] < 300:
            ends.append(ends[-1] + draws.randint(1, 44))
        pieces = [(first, last - 1) for first, last in pairwise(ends)]
        breaks = [0, *pages(pieces, set(range(ends[-1])))]
        for first, after in pairwise(breaks):
            assert ROOM / 2 <= (after - first) * 20 <= ROOM


def test_pages_are_half_full_where_a_wider_font_makes_room_for_more_rows() -> None:
    wide = ROOM * 4 / 3
    draws = random.Random(8)
    for _ in range(200):
        ends = [0]
        while ends[-1] < 300:
            ends.append(ends[-1] + draws.randint(1, 44))
        pieces = [(first, last - 1) for first, last in pairwise(ends)]
        page = Page(pieces=pieces, splits=set(range(ends[-1])))
        for first, after in pairwise([0, *paginate(page, [ROOM, wide])]):
            assert wide / 2 <= (after - first) * 20 <= ROOM
