"""The code of a page: what a slip of the pencil or the keyboard must not do."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from xlhelpers.errors import ReadingError
from xlhelpers.pages.page_code import MOST_PAGES, SIGNS, page_code, verify

plots = st.text(min_size=1, max_size=12)
pages = st.integers(1, MOST_PAGES)


def test_the_signs_cannot_be_taken_for_each_other() -> None:
    assert len(set(SIGNS)) == len(SIGNS) == 31  # a prime number, on which the check rests
    assert not set("01OIL") & set(SIGNS)


@given(plots, pages)
def test_a_code_says_its_page(plot: str, page: int) -> None:
    code = page_code(plot, page)
    assert verify(code, plot).page == page
    assert verify(f" {code.lower().replace('-', ' ')} ", plot).page == page


@given(plots, pages, st.integers(0, 6), st.sampled_from(SIGNS))
def test_any_one_wrong_sign_is_noticed(plot: str, page: int, place: int, sign: str) -> None:
    signs = list(page_code(plot, page).replace("-", ""))
    if signs[place] != sign:
        signs[place] = sign
        verdict = verify("".join(signs), plot)
        assert verdict.page == 0
        assert "misread or mistyped" in verdict.because


@given(plots, pages, st.integers(0, 5))
def test_two_neighbours_that_changed_places_are_noticed(plot: str, page: int, place: int) -> None:
    signs = list(page_code(plot, page).replace("-", ""))
    if signs[place] != signs[place + 1]:
        signs[place], signs[place + 1] = signs[place + 1], signs[place]
        assert verify("".join(signs), plot).page == 0


def test_spellings_of_one_plot_share_a_code_and_other_plots_do_not() -> None:
    assert page_code(" Mill  Street ", 1) == page_code("mill street", 1)
    codes = {page_code(str(plot), 1) for plot in range(1, 2001)}
    assert len(codes) == 2000
    verdict = verify(page_code("12", 1), "13")
    assert verdict.page == 0
    assert verdict.because == "it belongs to another plot or workbook"


@pytest.mark.parametrize("code", ["", "ABC", "ABCDE-FGH", "0OILU-23", "=1+1"])
def test_what_is_no_code_is_told_apart(code: str) -> None:
    verdict = verify(code, "1")
    assert verdict.page == 0
    assert "7 letters and digits" in verdict.because


@pytest.mark.parametrize("page", [0, 31, -1])
def test_there_are_pages_1_to_30(page: int) -> None:
    with pytest.raises(ReadingError, match="pages 1 to 30"):
        page_code("1", page)
