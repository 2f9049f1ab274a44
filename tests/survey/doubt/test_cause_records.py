"""Causes as records for other programs: kind, field, what was typed and what it would be."""

import json
from dataclasses import asdict
from typing import Any

import pytest

from tests.survey.doubt.test_explain import MAPLE, lines, outcome
from tests.survey.doubt.test_patterns import in_degrees
from tests.survey.make_survey import DEFAULT_SPECIES, make_survey
from xlhelpers.survey.doubt.mistakes import MISTAKES
from xlhelpers.survey.evaluate import evaluate
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.outcome_words import outcome_facts

KEYS = {"kind", "field", "typed", "would_be", "total_height", "crown_base", "words"}


def causes_of(found: Outcome, line: int = 6) -> dict[str, dict[str, Any]]:
    """Return the causes of the findings of a line in the JSON, by their kind."""
    facts = json.loads(json.dumps(outcome_facts(found), default=str))
    return {
        cause["kind"]: cause
        for finding in facts["findings"]
        if line in finding["lines"]
        for cause in finding["causes"]
    }


@pytest.mark.parametrize(
    ("changed", "kind", "field", "typed", "would_be"),
    [
        ({"distance": 55.4}, "distance-other-unit", "distance", 55.4, 16.89),
        ({"distance": 169.0}, "decimal-distance", "distance", 169.0, 16.9),
        ({"foot_reading": 9}, "foot-sign", "foot_reading", 9.0, -9.0),
        ({"foot_reading": 9, "foot_above_eye": True}, "foot-sign", "foot_reading", 9.0, -9.0),
        ({"tip_reading": 933}, "doubled-tip", "tip_reading", 933.0, 93.0),
        ({"diameter": 4.6}, "decimal-diameter", "diameter", 4.6, 46.0),
        ({"foot_reading": 93, "tip_reading": -9}, "foot-tip-swapped", None, None, None),
        ({"foot_reading": -5, "base_reading": 4, "tip_reading": 43},
         "scale-degrees", "scale", None, None),
    ],
)  # fmt: skip
def test_a_cause_is_a_record(
    changed: dict[str, float | bool],
    kind: str,
    field: str | None,
    typed: float | None,
    would_be: float | None,
) -> None:
    cause = causes_of(outcome(**changed))[kind]
    assert set(cause) == KEYS
    assert (cause["field"], cause["typed"], cause["would_be"]) == (field, typed, would_be)


def test_heights_are_those_of_the_corrected_line_in_metres() -> None:
    """169.0 for 16.9: (93 + 9) % of 16.9 m = 17.24 m, and the base (7 + 9) % = 2.70 m."""
    cause = causes_of(outcome(distance=169.0))["decimal-distance"]
    assert cause["total_height"] == pytest.approx(1.02 * 16.9)
    assert cause["crown_base"] == pytest.approx(0.16 * 16.9)


def test_numbers_are_in_the_unit_of_the_sheet_and_heights_in_metres() -> None:
    """In feet: 55.4 ft typed as 554 ft. The height stays in metres."""
    foot = 0.3048
    rows = lines(distance=554 * foot)
    survey = make_survey(rows, species=(*DEFAULT_SPECIES, MAPLE), rules={"units": "us"})
    cause = causes_of(evaluate(survey))["decimal-distance"]
    assert (cause["typed"], cause["would_be"]) == (554.0, 55.4)
    assert cause["total_height"] == pytest.approx(1.02 * 55.4 * foot)


def test_a_whole_plot_on_another_scale_has_its_cause_as_a_record() -> None:
    many = [row | {"plot": f"{k}{row['plot']}"} for k in range(3) for row in lines()]
    found = evaluate(make_survey(in_degrees(many, "22"), species=(*DEFAULT_SPECIES, MAPLE)))
    (whole,) = [f for f in found.findings if f.check == "lines-on-other-scale"]
    (cause,) = whole.causes
    assert set(asdict(cause)) == KEYS
    assert (cause.kind, cause.field) == ("scale-degrees", "scale")
    assert cause.words == "the readings are in degrees"
    assert cause.total_height is not None
    assert cause.total_height > 8


def test_kinds_are_the_ids_of_the_mistakes() -> None:
    ids = {mistake.id for mistake in MISTAKES}
    for field in ("distance", "foot", "base", "tip", "diameter", "width"):
        for slip in ("decimal", "dropped", "doubled", "transposed"):
            assert f"{slip}-{field}" in ids


def test_the_texts_of_a_decision_keep_their_names() -> None:
    """Other programs know them."""
    (decision, *_) = (f["decision"] for f in outcome_facts(outcome(distance=169.0))["findings"])
    assert set(decision["texts"]) == {"severity", "plot", "tree", "setup", "about", "found"}
