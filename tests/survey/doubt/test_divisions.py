"""Divisions of typed numbers: what a decimal says where all others are whole."""

import numpy as np
import pytest

from xlhelpers.survey.doubt.divisions import (
    FINER,
    HALF,
    TENTH,
    USUAL,
    WHOLE,
    Divisions,
    find_division,
    learn_divisions,
)


def learn(values: np.ndarray, step: float = 1.0) -> Divisions:
    return learn_divisions(values, np.zeros(len(values), dtype=np.int64), np.array([USUAL[step]]))


def weigh(divisions: Divisions, value: float, line: int = 0) -> float:
    return float(divisions.log_density(np.array([line]), np.array([value]))[0])


@pytest.mark.parametrize(
    ("value", "division"),
    [(64.0, WHOLE), (-12.0, WHOLE), (0.0, WHOLE), (6.5, HALF), (6.4, TENTH), (0.38, FINER)],
)
def test_the_coarsest_division(value: float, division: int) -> None:
    assert find_division(np.array([value])).tolist() == [division]


def test_a_decimal_among_whole_readings_is_unlikely() -> None:
    divisions = learn(np.arange(20.0, 80.0))
    assert weigh(divisions, 64.0) > weigh(divisions, 6.4) + 5
    assert weigh(divisions, 6.4) > weigh(divisions, 0.64)


def test_a_column_of_halves() -> None:
    divisions = learn(np.arange(5.0, 35.0, 0.5), step=0.5)
    assert abs(weigh(divisions, 7.0) - weigh(divisions, 7.5)) < 0.1
    assert weigh(divisions, 7.5) > weigh(divisions, 7.3) + 4


def test_equal_tenths_say_nothing() -> None:
    divisions = learn(np.arange(100, 400) / 10, step=0.1)
    assert max(abs(weigh(divisions, value)) for value in (14.0, 14.5, 14.3)) < 2.5
    assert abs(weigh(divisions, 14.0) - weigh(divisions, 14.3)) < 0.3


def test_a_number_does_not_speak_for_itself() -> None:
    """The only decimal is judged by the others, whether it is among them or not."""
    values = np.arange(20.0, 60.0)
    values[7] = 6.4
    assert weigh(learn(values), 6.4, line=7) == pytest.approx(
        weigh(learn(np.delete(values, 7)), 6.4, line=0), abs=0.05
    )


def test_a_blank_says_nothing() -> None:
    divisions = learn(np.array([3.0, np.nan, 5.0]))
    found = divisions.log_density(np.arange(3), np.array([np.nan, np.nan, 4.0]))
    assert found[:2].tolist() == [0.0, 0.0]
    assert np.isfinite(found).all()
