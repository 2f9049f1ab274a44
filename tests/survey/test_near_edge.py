"""The bound for the near edge of a wide crown: whose it is, how much, and who is asked."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.survey.doubt.test_explain import MAPLE, lines
from tests.survey.make_survey import DEFAULT_SPECIES, make_survey
from xlhelpers.survey.evaluate import evaluate
from xlhelpers.survey.model import Finding
from xlhelpers.survey.outcome import Outcome

SPECIES = (*DEFAULT_SPECIES, MAPLE)
WIDE = {"plot": "1", "tree": "1", "species": "Acer saccharinum", "diameter": 46.0,
        "width_widest": 13.0, "width_across": 12.0, "distance": 20.0, "foot_reading": -8,
        "base_reading": 7, "tip_reading": 80}  # fmt: skip


def bounds(*rows: dict[str, Any]) -> list[float]:
    found = evaluate(make_survey(rows, species=SPECIES)).trees["near_edge"]
    return [float(value) for value in found]


def test_half_the_width_times_the_slope_of_the_aim() -> None:
    """6.5 m x 0.8 = 5.2 m: the edge is half a width nearer, so the same aim is so much too high."""
    assert bounds(WIDE) == pytest.approx([5.2])


@pytest.mark.parametrize(
    "changed",
    [
        {"species": "Picea abies"},
        {"condition": "D"},
        {"width_widest": None, "width_across": None},
        {"width_widest": 1.5, "width_across": 1.2},
        {"tip_reading": -3, "foot_reading": -60, "base_reading": -50},
        {"scale": "height", "tip_reading": 17.6, "base_reading": 3.0, "distance": None},
    ],
)
def test_no_bound_where_the_edge_cannot_be_taken_for_the_tip(changed: dict[str, Any]) -> None:
    assert np.isnan(bounds(WIDE | changed)).all()


def test_no_bound_for_a_tree_measured_from_two_places() -> None:
    assert np.isnan(bounds(WIDE, WIDE | {"setup": 2, "distance": 22.0, "tip_reading": 72})).all()


def asked(found: Outcome) -> list[Finding]:
    return [f for f in found.findings if f.check == "wide-crowns-one-place"]


def test_a_survey_is_asked_once() -> None:
    found = evaluate(make_survey(lines(), species=SPECIES))
    (note,) = asked(found)
    assert note.severity == "note"
    assert note.message.startswith("24 trees with a wide crown were measured from one place only.")
    worst = found.trees["near_edge"].max()
    assert f"{worst:.1f} m)" in note.message


def test_a_survey_with_repeats_is_not_asked() -> None:
    again = [row | {"setup": 2, "distance": row["distance"] + 1} for row in lines()[:2]]
    assert asked(evaluate(make_survey([*lines(), *again], species=SPECIES))) == []
    few = make_survey(lines()[:6], species=SPECIES)
    assert asked(evaluate(few)) == []
    none_wanted = make_survey(lines(), species=SPECIES)
    none_wanted = replace(none_wanted, rules={**none_wanted.rules, "repeats_wanted": 0.0})
    assert asked(evaluate(none_wanted)) == []
