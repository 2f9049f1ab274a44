"""Slips of one sign in typed numbers: what a keyed number may have been."""

import numpy as np
import pytest

from xlhelpers.survey.doubt.mistakes import add_digit, drop_doubled, move_point, swap_digits


def made(slip, value: float) -> set[float]:
    return {round(float(new), 6) for _, values, _ in slip(np.array([value])) for new in values}


def distance(a: str, b: str) -> int:
    """Damerau-Levenshtein distance by its definition (Damerau 1964), for comparison."""
    table = np.zeros((len(a) + 1, len(b) + 1), dtype=int)
    table[:, 0], table[0, :] = np.arange(len(a) + 1), np.arange(len(b) + 1)
    for i in range(1, len(a) + 1):
        for j in range(1, len(b) + 1):
            table[i, j] = min(
                table[i - 1, j] + 1,
                table[i, j - 1] + 1,
                table[i - 1, j - 1] + (a[i - 1] != b[j - 1]),
            )
            if i > 1 and j > 1 and a[i - 1] == b[j - 2] and a[i - 2] == b[j - 1]:
                table[i, j] = min(table[i, j], table[i - 2, j - 2] + 1)
    return int(table[-1, -1])


@pytest.mark.parametrize(
    ("slip", "keyed", "right"),
    [
        (swap_digits, 78, {87, 708}),
        (swap_digits, 18.4, {81.4, 14.8, 108.4}),
        (swap_digits, 9, {90}),
        (swap_digits, 33, {303}),
        (drop_doubled, 33, {3}),
        (drop_doubled, 188.4, {18.4}),
        (drop_doubled, 18.44, {18.4}),
        (drop_doubled, 18.4, set()),
        (move_point, 18.4, {1.84, 184}),
        (move_point, 0, set()),
        (add_digit, 0, set()),
    ],
)
def test_what_a_number_may_have_been(slip, keyed: float, right: set[float]) -> None:
    assert made(slip, keyed) == right


def test_a_dropped_digit_may_have_stood_anywhere() -> None:
    assert made(add_digit, 8) == {*range(80, 90), *range(18, 100, 10)}


@pytest.mark.parametrize("keyed", [8, 43, 105, 18.4, 7.25])
@pytest.mark.parametrize("slip", [swap_digits, drop_doubled, add_digit])
def test_each_is_one_slip_of_a_digit_away(slip, keyed: float) -> None:
    """The point is no digit; a 0 in front may have been written."""
    own = f"{keyed:g}".replace(".", "")
    for right in made(slip, keyed):
        other = f"{right:g}".replace(".", "")
        assert min(distance(other, text) for text in (own, f"0{own}", f"{own}0")) <= 1, right


def test_missing_numbers_have_no_slips() -> None:
    for slip in (swap_digits, drop_doubled, add_digit, move_point):
        assert made(slip, np.nan) == set()
