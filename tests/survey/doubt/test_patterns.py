"""Patterns over many lines: each is found where it is, and nothing is said where it is not."""

from typing import Any

import numpy as np
import pytest

from tests.survey.doubt.test_explain import MAPLE, lines
from tests.survey.make_survey import DEFAULT_SPECIES, PLAIN_PLOT, make_survey
from xlhelpers.survey.doubt.limits import LIMITS, limits_of
from xlhelpers.survey.doubt.patterns import zero_errors
from xlhelpers.survey.doubt.reference import reference
from xlhelpers.survey.doubt.weigh import usual_lines
from xlhelpers.survey.evaluate import evaluate
from xlhelpers.survey.identity import finding_ids
from xlhelpers.survey.model import Finding
from xlhelpers.survey.setups import compute_setups
from xlhelpers.survey.trees import build_trees

SPECIES = (*DEFAULT_SPECIES, MAPLE)


def findings(check: str, rows: list[dict[str, Any]], **others: Any) -> list[Finding]:
    found = evaluate(make_survey(rows, species=SPECIES, **others)).findings
    return [finding for finding in found if finding.check == check]


def in_degrees(rows: list[dict[str, Any]], plot: str) -> list[dict[str, Any]]:
    """The same trees, read in degrees on one plot by a crew that ticks percent."""
    turned = []
    for row in rows:
        if row["plot"] == plot:
            names = ("foot_reading", "base_reading", "tip_reading")
            row = row | {n: round(float(np.degrees(np.arctan(row[n] / 100)))) for n in names}
        turned.append(row)
    return turned


def test_a_plot_on_the_wrong_scale_is_one_finding_with_the_others_under_it() -> None:
    many = [row | {"plot": f"{k}{row['plot']}"} for k in range(3) for row in lines()]
    survey = make_survey(in_degrees(many, "22"), species=SPECIES)
    found = evaluate(survey).findings
    (whole,) = [f for f in found if f.check == "lines-on-other-scale"]
    assert whole.lines == tuple(range(60, 72))
    assert "read in degrees" in whole.message
    assert not [f for f in found if f.check == "unlikely-tree" and set(f.lines) & set(whole.lines)]
    ids = dict(zip(finding_ids(found), found, strict=True))
    under = [f for f in found if f.under]
    assert all(ids[f.under] is whole for f in under)
    assert all(f.under for f in found if f.check in ("eye-height", "eye-height-plot"))


def test_no_plot_of_a_sound_survey_is_on_another_scale() -> None:
    assert findings("lines-on-other-scale", lines()) == []


def test_one_distance_for_all_trees() -> None:
    rows = lines()
    assert findings("one-distance-for-all", rows) == []
    for row in rows[:12]:
        row["distance"] = 16.0
    rows[0]["tip_reading"] *= 2
    rows[1]["tip_reading"] *= 2
    (finding,) = findings("one-distance-for-all", rows)
    assert "All 12 lines of the plot have the distance 16.0 m" in finding.message


def test_heaped_readings() -> None:
    many = [row | {"plot": f"{k}{row['plot']}"} for k in range(4) for row in lines()]
    assert findings("digits-heaped", many) == []
    heaped = [
        row | {name: 5 * round(row[name] / 5) for name in ("base_reading", "tip_reading")}
        for row in many
    ]
    (note,) = findings("digits-heaped", heaped)
    assert note.severity == "note"
    assert note.message.startswith("100 % of the 192 readings by AB end in 0 or 5")
    assert findings("digits-heaped", heaped[:40]) == []


def test_no_repeats_where_the_rules_ask_for_them() -> None:
    many = [row | {"plot": f"{k}{row['plot']}"} for k in range(4) for row in lines()]
    (note,) = findings("no-repeats", many)
    assert note.severity == "note"
    assert "AB measured 96 trees and none from a second place" in note.message
    assert findings("no-repeats", many, rules={"repeats_wanted": 0.0}) == []
    assert findings("no-repeats", lines()) == []
    again = many[-1] | {"setup": 2, "distance": many[-1]["distance"]}
    assert findings("no-repeats", [*many, again]) == []


# ---- instruments


def level(*pairs: tuple[float, float]) -> list[dict[str, Any]]:
    return [
        {"instrument": "C1", "date": "2024-05-02", "scale": "degrees", "level_there": a,
         "level_back": b}
        for a, b in pairs
    ]  # fmt: skip


def zeros(checks: list[dict[str, Any]]) -> Any:
    survey = make_survey(lines(), species=SPECIES, instrument_checks=checks)
    setups = compute_setups(survey)
    trees = build_trees(survey, setups)
    return zero_errors(usual_lines(survey, setups, trees, reference(), limits_of({})))


def test_zero_error_of_a_two_way_level() -> None:
    """The slope between the posts has both signs and leaves, half the sum is the zero error."""
    assert zeros(level((3.0, -2.0)))["zero"].tolist() == pytest.approx([0.5])


def test_zero_error_of_a_known_height() -> None:
    """Readings of a wall of 20 m from 20 m, each 0.5 degrees too high."""
    foot, tip = np.degrees(np.arctan([-1.6 / 20, 18.4 / 20])) + 0.5
    check = {"instrument": "C1", "date": "2024-05-02", "scale": "degrees", "known_height": 20.0,
             "distance": 20.0, "foot_reading": foot, "tip_reading": tip}  # fmt: skip
    assert zeros([check])["zero"].tolist() == pytest.approx([0.5], abs=0.02)


def test_an_instrument_out_of_adjustment() -> None:
    far_off = level((3, -1), (1, 1), (2, 0))
    (finding,) = findings("instrument-out-of-adjustment", lines(), instrument_checks=far_off)
    assert "1.0° too high" in finding.message
    near = level((1, -1), (0, 0), (1, 0))
    assert findings("instrument-out-of-adjustment", lines(), instrument_checks=near) == []


@pytest.mark.parametrize(
    ("checked", "said"), [(None, "No check"), ("2022-05-02", "last checked"), ("2024-01-02", "")]
)
def test_instruments_without_a_recent_check(checked: str | None, said: str) -> None:
    plots = [PLAIN_PLOT | {"plot": name, "date": "2024-06-03"} for name in "12"]
    checks = [] if checked is None else [level((0, 0))[0] | {"date": checked}]
    notes = findings("instrument-not-checked", lines(), plots=plots, instrument_checks=checks)
    assert [said in note.message for note in notes] == ([True] if said else [])


def test_every_limit_has_a_basis_and_rules_go_before() -> None:
    assert len({limit.name for limit in LIMITS}) == len(LIMITS)
    assert all(limit.basis and limit.words and limit.unit for limit in LIMITS)
    assert limits_of({"doubt_odds": 2.0})["doubt_odds"] == 2.0
