"""Robust lines of groups: mistakes among the observations hardly move them."""

import warnings

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from xlhelpers.survey.doubt.robust import (
    group_lines,
    group_medians,
    group_spreads,
    lines_of_others,
)


def test_lines_of_two_groups_with_mistakes() -> None:
    random = np.random.default_rng(1)
    x, group = random.normal(0, 1, 400), np.repeat([0, 1], 200)
    y = np.where(group == 0, 1 + 0.5 * x, -2 + 0.2 * x) + random.normal(0, 0.1, 400)
    y[::10] += 3
    level, rise = group_lines(x, y, group, 3, 1.0)
    assert level[:2] == pytest.approx([1, -2], abs=0.05)
    assert rise[:2] == pytest.approx([0.5, 0.2], abs=0.05)
    assert level[2] == rise[2] == 0
    left = y - level[group] - rise[group] * x
    assert group_spreads(left, group, 2) == pytest.approx([0.1, 0.1], abs=0.03)


def test_an_empty_group_has_no_median() -> None:
    assert np.isnan(group_medians(np.array([1.0, 3.0]), np.array([0, 0]), 2)[1])


@given(st.lists(st.tuples(st.floats(-1e6, 1e6) | st.just(np.nan), st.integers(0, 5))))
def test_medians_are_those_of_each_group_by_itself(pairs: list[tuple[float, int]]) -> None:
    values = np.array([value for value, _ in pairs], dtype=float)
    group = np.array([at for _, at in pairs], dtype=np.int64)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")  # a group without a number
        wanted = [np.nanmedian(values[group == at]) if (group == at).any() else np.nan
                  for at in range(7)]  # fmt: skip
    assert group_medians(values, group, 7) == pytest.approx(wanted, nan_ok=True)


def test_without_a_rise_only_the_level_is_fitted() -> None:
    x = np.array([0.0, 1.0, 2.0])
    level, rise = group_lines(x, x + 1, np.zeros(3, int), 1)
    assert rise[0] == 0
    assert level[0] == pytest.approx(2)


def test_an_observation_says_nothing_of_its_own_line() -> None:
    """The others lie on 2 + 3 x; the one beside it would pull the line of all to itself."""
    x = np.array([0.0, 1.0, 2.0, 3.0, 9.0])
    y = 2 + 3 * x
    y[4] += 7
    one = np.zeros(5, dtype=np.int64)
    level, rise = lines_of_others(x, y, one, 1, 1e-9)
    assert [level[4], rise[4]] == pytest.approx([2, 3], abs=1e-6)
    assert group_lines(x, y, one, 1, 1e-9)[1][0] > 3.1


def test_levels_of_others_are_their_weighted_means() -> None:
    y, group = np.array([1.0, 3.0, 10.0, 4.0]), np.array([0, 0, 1, 2])
    level, rise = lines_of_others(np.zeros(4), y, group, 3)
    assert level == pytest.approx([3, 1, 0, 0])
    assert not rise.any()
