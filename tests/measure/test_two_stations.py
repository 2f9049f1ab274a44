"""Uncertainties of heights from two stations, against heights with simulated errors."""

import numpy as np
import pytest

from xlhelpers.measure.accuracy import Accuracy
from xlhelpers.measure.two_stations import (
    Stations,
    distance_from_first,
    height_above_eye,
    of_two_stations,
)

# a tree of 21 m seen from 20 m and from 30 m at an eye height of 1.6 m, its crown from 6 m up
TIP, FAR_TIP, FOOT, FAR_FOOT, BASE = 0.97, 19.4 / 30, -0.08, -1.6 / 30, 0.22
STEP = 10.0
SAMPLES = 100_000


def height(slopes: dict[str, np.ndarray], step: np.ndarray, *, feet: bool, point: str):
    level = distance_from_first(
        slopes["tip"],
        slopes["far tip"],
        slopes["foot"] * feet,
        slopes["far foot"] * feet,
        step,
    )
    return level * (slopes[point] - slopes["foot"])


def stations(feet: bool) -> Stations:
    return Stations(TIP, FAR_TIP, FOOT * feet, FAR_FOOT * feet, STEP)


def slopes_off(degrees: np.ndarray) -> dict[str, np.ndarray]:
    true = {"tip": TIP, "far tip": FAR_TIP, "foot": FOOT, "far foot": FAR_FOOT, "base": BASE}
    return {
        name: np.tan(np.arctan(slope) + np.radians(degrees[:, at]))
        for at, (name, slope) in enumerate(true.items())
    }


@pytest.mark.parametrize("feet", [True, False])
@pytest.mark.parametrize("point", ["tip", "base"])
def test_reading_parts_are_those_of_simulated_readings(feet: bool, point: str) -> None:
    random = np.random.default_rng(20)
    slopes = slopes_off(random.normal(scale=0.2, size=(SAMPLES, 5)))
    step = STEP + random.normal(scale=0.1, size=SAMPLES)
    found = np.nanstd(height(slopes, step, feet=feet, point=point))
    accuracy = Accuracy(u_reading=0.2, u_distance_fixed=0.1)
    slope = TIP if point == "tip" else BASE
    stated = of_two_stations(stations(feet), slope, FOOT, point == "tip", accuracy)
    assert stated.reading == pytest.approx(found, rel=0.02)
    assert stated.common == 0


@pytest.mark.parametrize("feet", [True, False])
@pytest.mark.parametrize("point", ["tip", "base"])
def test_an_error_of_the_zero_moves_all_readings_alike(feet: bool, point: str) -> None:
    ends = slopes_off(np.array([[-0.01] * 5, [0.01] * 5]))
    low, high = height(ends, np.full(2, STEP), feet=feet, point=point)
    slope = TIP if point == "tip" else BASE
    stated = of_two_stations(
        stations(feet), slope, FOOT, point == "tip", Accuracy(u_zero=0.01, u_distance_relative=0.0)
    )
    assert stated.common == pytest.approx(abs(high - low) / 2, rel=1e-3, abs=1e-6)


def test_on_one_level_the_height_is_the_published_one() -> None:
    level = distance_from_first(np.tan(np.radians(40)), np.tan(np.radians(30)), 0, 0, 10)
    assert level * np.tan(np.radians(40)) == pytest.approx(height_above_eye(40, 30, 10))
