"""Errors of instruments from their checks, against readings that were put out by a known angle."""

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pandas as pd
import pytest

from tests.survey.doubt.test_explain import lines
from tests.survey.make_survey import PLAIN_PLOT, make_survey
from xlhelpers.survey.evaluate import evaluate
from xlhelpers.survey.instrument_history import (
    CANNOT_TELL,
    IN_ORDER,
    OUT_OF_ORDER,
    Spell,
    angle_from_known_height,
    angle_from_level_check,
    check_history,
    height_change,
    spells,
    touched_lines,
)
from xlhelpers.survey.setups.setups import compute_setups

SHOW: dict[str, Callable[[float], float]] = {
    "percent": lambda angle: 100 * math.tan(angle),
    "degrees": math.degrees,
    "topographic": lambda angle: 66 * math.tan(angle),
}
METER = {"instrument": "M1", "kind": "electronic angle meter"}
SCALES = ("percent", "degrees", "topographic")


def read(scale: str, slope: float, error: float) -> float:
    """What an instrument that is out by an angle shows, by plain trigonometry."""
    return SHOW[scale](math.atan(slope) + math.radians(error))


def one_check(error: float, scale: str = "degrees", date: str = "2025-05-01") -> dict[str, Any]:
    """A level check over a fall of 3 % between the posts, put out by an error."""
    return {
        "instrument": "M1",
        "date": pd.Timestamp(date),
        "scale": scale,
        "level_there": read(scale, 0.03, error),
        "level_back": read(scale, -0.03, error),
    }


def history(*checks: dict[str, Any], instrument: dict[str, Any] | None = None) -> pd.DataFrame:
    instruments = (METER if instrument is None else instrument,)
    return check_history(make_survey(instruments=instruments, instrument_checks=checks))


# Half the sum: common practice of levelling, no source. Read 1.5 and -0.5: out by 0.5, whatever
# the fall between the posts.
@pytest.mark.parametrize(("there", "back", "error"), [(1.5, -0.5, 0.5), (-2, 1, -0.5), (3, -3, 0)])
def test_a_level_check_gives_half_the_sum(there: float, back: float, error: float) -> None:
    assert angle_from_level_check(np.array([there]), np.array([back]))[0] == error


def test_a_known_height_worked_by_hand() -> None:
    """D = 20 m, upper end at 45 degrees (slope 1), lower end level: sec2 a - sec2 b = 2 - 1 = 1.

    So dh = 20 e: a height read 0.349 m too high is 0.349 / 20 rad = 1.00 degree (derived).
    """
    args = [np.array([value]) for value in (20.349, 20.0, 20.0, 1.0, 0.0)]
    assert angle_from_known_height(*args)[0] == pytest.approx(1.0, abs=0.001)
    assert height_change(*args[2:], 1.0)[0] == pytest.approx(0.349, abs=0.001)


def test_equal_slopes_up_and_down_tell_nothing() -> None:
    args = [np.array([value]) for value in (8.0, 8.0, 20.0, 0.2, -0.2)]
    assert math.isnan(angle_from_known_height(*args)[0])


@pytest.mark.parametrize("scale", SCALES)
@pytest.mark.parametrize("error", [-2.0, -0.7, 0.0, 0.7, 2.0])
def test_a_level_check_finds_the_error_on_every_scale(scale: str, error: float) -> None:
    found = history(one_check(error, scale))
    assert found["error"].tolist() == [pytest.approx(error, abs=1e-9)]
    assert (found["verdict"][0] == IN_ORDER) == (error == 0.0)
    assert found["u_error"][0] < 0.5


@pytest.mark.parametrize("scale", SCALES)
@pytest.mark.parametrize("error", [-1.0, 0.0, 1.0])
def test_a_known_height_finds_the_error_when_the_aim_is_steep(scale: str, error: float) -> None:
    check = {
        "instrument": "M1",
        "date": pd.Timestamp("2025-05-01"),
        "scale": scale,
        "known_height": 12.0 * (1.4 + 0.1),
        "distance": 12.0,
        "foot_reading": read(scale, -0.1, error),
        "tip_reading": read(scale, 1.4, error),
    }
    found = history(check)
    assert found["way"].tolist() == ["known height"]
    # linear in the error: a few percent of it are neglected
    assert found["error"][0] == pytest.approx(error, abs=0.05)


def test_a_check_that_is_too_level_cannot_tell() -> None:
    check = {
        "instrument": "M1",
        "date": pd.Timestamp("2025-05-01"),
        "scale": "percent",
        "known_height": 8.0,
        "distance": 20.0,
        "foot_reading": -8.0,
        "tip_reading": 32.0,
    }
    assert history(check)["verdict"].tolist() == [CANNOT_TELL]


def test_a_coarse_scale_leaves_the_error_less_certain() -> None:
    """Graduation / sqrt(12) in each of two readings, half the sum: g / sqrt(24) (JCGM 100, 4.3.7).

    A protractor that is read to the whole degree with a perfect aim: 0.204 degrees.
    """
    tool = {"instrument": "M1", "kind": "protractor with plumb line", "u_angle": 0.0}
    assert history(one_check(0.0), instrument=tool)["u_error"][0] == pytest.approx(1 / 24**0.5)
    fine = {**METER, "u_angle": 0.0}
    assert history(one_check(0.0), instrument=fine)["u_error"][0] == pytest.approx(0.1 / 24**0.5)


@pytest.mark.parametrize(("shown", "verdict"), [(10.1, IN_ORDER), (11.5, OUT_OF_ORDER)])
def test_a_shown_height_is_compared_as_a_height(shown: float, verdict: str) -> None:
    tool = {"instrument": "M1", "kind": "laser that shows heights"}
    date = pd.Timestamp("2025-05-01")
    check = {"instrument": "M1", "date": date, "known_height": 10.0, "tip_reading": shown}
    found = history(check, instrument=tool)
    assert found["verdict"].tolist() == [verdict]
    assert math.isnan(found["error"][0])


def test_what_cannot_be_read_is_left_out() -> None:
    no_scale = {**one_check(3.0), "scale": ""}
    no_date = {**one_check(3.0), "date": None}
    nothing = {"instrument": "M1", "date": pd.Timestamp("2025-05-01"), "scale": "degrees"}
    assert history(no_scale, no_date, nothing).empty
    assert check_history(make_survey()).empty
    assert spells(check_history(make_survey())) == ()


DAYS = ("2025-05-01", "2025-05-11", "2025-05-21", "2025-05-31")


def day_of(date: pd.Timestamp | None) -> str:
    return "" if date is None else f"{date:%m-%d}"


def found_spells(*errors: float) -> list[tuple[str, str, str]]:
    checks = [one_check(error, date=day) for error, day in zip(errors, DAYS, strict=False)]
    # the order of the rows on the sheet must not matter
    every = spells(history(*reversed(checks)))
    return [(day_of(s.last_good), day_of(s.first_bad), day_of(s.next_good)) for s in every]


@pytest.mark.parametrize(
    ("errors", "wanted"),
    [
        ((0.0, 0.0, 0.0), []),
        ((0.0, 2.0, 0.0), [("05-01", "05-11", "05-21")]),
        ((2.0, 2.0), [("", "05-01", "")]),
        ((0.0, 0.0, 2.0, 2.0), [("05-11", "05-21", "")]),
        ((2.0, 0.0, 2.0), [("", "05-01", "05-11"), ("05-11", "05-21", "")]),
    ],
)
def test_times_out_of_order_are_bounded_by_good_checks(
    errors: tuple[float, ...], wanted: list[tuple[str, str, str]]
) -> None:
    assert found_spells(*errors) == wanted


def survey_of_plots(dates: dict[str, str | None], **line: Any) -> Any:
    plots = [
        {
            **PLAIN_PLOT,
            "plot": plot,
            "instrument": "M1",
            "scale": "degrees",
            "date": None if day is None else pd.Timestamp(day),
            **({"distance_kind": line["distance_kind"]} if "distance_kind" in line else {}),
        }
        for plot, day in dates.items()
    ]
    base = {"tree": "1", "species": "Quercus robur", "diameter": 30.0, "distance": 20.0}
    readings = {"foot_reading": -4.6, "base_reading": 10.0, "tip_reading": 39.4}
    own = {k: v for k, v in line.items() if k != "distance_kind"}
    lines = [{**base, **readings, **own, "plot": plot} for plot in dates]
    return make_survey(lines, plots=plots, instruments=(METER,))


def test_lines_are_told_apart_by_when_they_were_read() -> None:
    survey = survey_of_plots(
        {
            "before": "2025-04-30",
            "good day": "2025-05-01",
            "in between": "2025-05-05",
            "bad day": "2025-05-11",
            "after": "2025-05-15",
            "good again": "2025-05-21",
            "undated": None,
        }
    )
    days = [pd.Timestamp(day) for day in DAYS[:3]]
    spell = Spell("M1", 0, days[0], days[1], days[2], 1.0, 0.1)
    touched = touched_lines(survey, compute_setups(survey), spell)
    assert dict(zip(touched["plot"], touched["when"], strict=True)) == {
        "good day": "between",
        "in between": "between",
        "bad day": "between",
        "after": "after",
        "undated": "undated",
    }
    other = Spell("M2", 1, None, days[1], None, 1.0, 0.1)
    assert touched_lines(survey, compute_setups(survey), other).empty


# Each way of sighting, with all of its readings put out by the error
CASES: dict[str, dict[str, Any]] = {
    "level": {},
    "along the slope": {"distance_kind": "along slope", "slope_reading": -12.0},
    "straight to the foot": {"distance_kind": "straight to the foot", "foot_reading": -9.0},
    "leaning": {"tip_offset": 3.0},
    "mark on the stem": {"mark_above_foot": 2.0, "foot_reading": 1.0, "foot_above_eye": True},
}
READINGS = ("foot_reading", "base_reading", "tip_reading", "slope_reading")


@pytest.mark.parametrize("case", CASES)
@pytest.mark.parametrize("error", [-0.5, 0.5])
def test_the_correction_undoes_the_error(case: str, error: float) -> None:
    dates: dict[str, str | None] = {"1": "2025-05-05"}
    true = survey_of_plots(dates, **CASES[case])
    right = {name: float(true.lines[name].iloc[0]) for name in READINGS}
    moved = {name: value + error for name, value in right.items() if value == value}
    out = survey_of_plots(dates, **{**CASES[case], **moved})
    heights = [compute_setups(s)["total_height"].iloc[0] for s in (true, out)]
    spell = Spell("M1", 0, None, pd.Timestamp("2025-05-11"), None, error, 0.1)
    touched = touched_lines(out, compute_setups(out), spell)
    assert abs(heights[1] - heights[0]) > 0.02
    # what is left over is of second order in the error
    assert touched["corrected"].iloc[0] == pytest.approx(heights[0], abs=0.02)


def test_heights_that_were_not_sighted_get_no_correction() -> None:
    dates: dict[str, str | None] = {"1": "2025-05-05"}
    survey = survey_of_plots(dates, tip_straight=25.0)
    spell = Spell("M1", 0, None, pd.Timestamp("2025-05-11"), None, 1.0, 0.1)
    touched = touched_lines(survey, compute_setups(survey), spell)
    assert len(touched) == 1
    assert touched["corrected"].isna().all()


# ---- the fill says what the history says


def known_height(read_off: float, distance: float = 20.0, date: str = "2024-05-02") -> dict:
    """A wall of 4 m, its ends equally far above and below the eye, read too high by so much."""
    half = 100 * (2.0 + read_off / 2) / distance
    return {
        "instrument": "M1", "date": pd.Timestamp(date), "scale": "percent", "known_height": 4.0,
        "distance": distance, "foot_reading": -half, "tip_reading": half,
    }  # fmt: skip


def shown_height(read_off: float, date: str = "2024-05-02") -> dict:
    """A display of heights at a pole of 10 m."""
    return {
        "instrument": "M1", "date": pd.Timestamp(date), "scale": "height", "known_height": 10.0,
        "tip_reading": 10.0 + read_off, "foot_reading": 0.0,
    }  # fmt: skip


DISPLAY = {"instrument": "M1", "kind": "ultrasonic height meter"}


@pytest.mark.parametrize(
    ("checks", "instrument"),
    [
        ([one_check(0.0)], METER),
        ([one_check(1.0)], METER),
        ([one_check(0.4), one_check(0.4), one_check(0.4)], METER),
        ([one_check(1.0), one_check(0.0, date="2025-06-01")], METER),
        ([one_check(0.0), one_check(1.0, date="2025-06-01")], METER),
        ([known_height(0.0)], METER),
        ([known_height(1.5)], METER),
        ([shown_height(0.0)], DISPLAY),
        ([shown_height(1.5)], DISPLAY),
    ],
)
def test_the_fill_says_of_an_instrument_what_its_history_says(checks, instrument) -> None:
    survey = make_survey(lines(), instruments=(instrument,), instrument_checks=checks)
    out = {s.instrument for s in spells(check_history(survey)) if s.next_good is None}
    found = [f for f in evaluate(survey).findings if f.check == "instrument-out-of-adjustment"]
    assert {dict(f.subject)["instrument"] for f in found} == out


def test_a_known_height_is_judged_by_height_too() -> None:
    """Derived: equal slopes up and down give no angle; 5.5 m read of 4 m is wrong all the same."""
    assert history(known_height(1.5))["verdict"].tolist() == [OUT_OF_ORDER]
    survey = make_survey(lines(), instruments=(METER,), instrument_checks=[known_height(1.5)])
    (found,) = (f for f in evaluate(survey).findings if f.check == "instrument-out-of-adjustment")
    assert "read 5.50 m at a known height of 4.00 m" in found.message
