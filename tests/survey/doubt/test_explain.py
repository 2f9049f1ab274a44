"""Causes in words, findings of unlikely lines, and what is done where nothing explains a line."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.survey.doubt.causes import explain
from tests.survey.make_survey import DEFAULT_SPECIES, make_survey
from xlhelpers.survey.doubt.explain import NO_EXPLANATION, weigh_doubts
from xlhelpers.survey.doubt.mistakes import MISTAKES
from xlhelpers.survey.evaluate import evaluate
from xlhelpers.survey.model import Finding
from xlhelpers.survey.outcome import Outcome

MAPLE = {"botanical": "Acer saccharinum", "common": "Silver maple", "code": "",
         "kind": "broadleaf", "outline": "half-ellipsoid"}  # fmt: skip


def lines(**changed: Any) -> list[dict[str, Any]]:
    """Twenty-four silver maples of two plots as one careful person reads them in percent."""
    random = np.random.default_rng(3)
    rows = []
    for number in range(24):
        diameter = float(round(random.uniform(25, 60), 1))
        total = float(np.exp(2.6 + 0.55 * np.log(diameter / 30) + random.normal(0, 0.08)))
        far = round(total * float(random.uniform(0.95, 1.1)), 1)
        base = total * float(random.uniform(0.14, 0.2))
        rows.append(
            {
                "plot": str(1 + number // 12), "tree": str(1 + number % 12),
                "species": "Acer saccharinum", "diameter": diameter,
                "width_widest": round(0.75 * total, 1), "width_across": round(0.65 * total, 1),
                "distance": far, "foot_reading": round(-160 / far),
                "base_reading": round(100 * (base - 1.6) / far),
                "tip_reading": round(100 * (total - 1.6) / far),
            }
        )  # fmt: skip
    rows[6] |= {"diameter": 46.0, "width_widest": 13.0, "width_across": 12.0, "distance": 16.9,
                "foot_reading": -9, "base_reading": 7, "tip_reading": 93} | changed  # fmt: skip
    return rows


def outcome(**changed: Any) -> Outcome:
    return evaluate(make_survey(lines(**changed), species=(*DEFAULT_SPECIES, MAPLE)))


def about_line(found: Outcome, line: int = 6) -> list[Finding]:
    return [f for f in found.findings if line in f.lines and f.severity != "note"]


def test_nothing_is_said_of_a_sound_survey() -> None:
    assert about_line(outcome()) == []
    assert [f for f in outcome().findings if f.severity != "note"] == []


def test_degrees_on_a_percent_sheet() -> None:
    """43 and -5 at 16.9 m: 8.1 m as percent and 17.2 m as degrees, by the tangent."""
    (finding,) = about_line(outcome(foot_reading=-5, base_reading=4, tip_reading=43))
    assert finding.causes[0].words == (
        "the readings are in degrees. That gives a height of 17.2 m and an eye height of 1.48 m "
        "(now 0.84 m)"
    )
    assert f"Probably {finding.causes[0].words}." in finding.message


def test_a_line_that_no_check_found() -> None:
    (finding,) = about_line(outcome(tip_reading=39))
    assert finding.check == "unlikely-tree"
    assert "A Silver maple 46.0 cm thick is typically about" in finding.message
    assert any("of the tip reading are swapped: 39 should be 93" in c.words for c in finding.causes)
    assert "Check the paper sheet. Is the tip reading right?" in finding.action


@pytest.mark.parametrize(
    ("changed", "mistake", "value"),
    [
        ({"distance": 55.4}, "distance-other-unit", "is in ft: 55.4 m should be 16.9 m"),
        ({"distance": 169.0}, "decimal-distance", "169.0 m should be 16.9 m"),
        ({"distance": 1.69}, "decimal-distance", "1.69 m should be 16.9 m"),
        ({"tip_reading": 9.3}, "decimal-tip", "9.3 should be 93"),
        ({"foot_reading": 93, "tip_reading": -9}, "foot-tip-swapped", ""),
        ({"base_reading": 93, "tip_reading": 7}, "base-tip-swapped", ""),
        ({"foot_reading": 9}, "foot-sign", "9 should be −9"),
        ({"foot_reading": -0.09, "base_reading": 0.07, "tip_reading": 0.93},
         "readings-as-shares", ""),
        ({"diameter": 4.6}, "decimal-diameter", "4.6 cm should be 46.0 cm"),
        ({"distance": 61.9}, "transposed-distance", "61.9 m should be 16.9 m"),
        ({"tip_reading": 933}, "doubled-tip", "933 should be 93"),
    ],
)  # fmt: skip
def test_causes_with_the_values_they_would_give(
    changed: dict[str, float], mistake: str, value: str
) -> None:
    found = outcome(**changed)
    explanations = [causes for line, causes in explain(found) if line == 6]
    assert explanations, [f.check for f in about_line(found)]
    named = {cause.mistake: cause for causes in explanations for cause in causes}
    assert mistake in named
    assert value in named[mistake].words


def test_at_most_three_causes_and_nothing_changed() -> None:
    before = lines(distance=55.4)
    found = outcome(distance=55.4)
    assert found.survey.lines["distance"].tolist() == [row["distance"] for row in before]
    assert all(len(f.causes) <= 3 for f in found.findings)


def test_only_scales_that_the_instrument_has_are_proposed() -> None:
    survey = make_survey(
        lines(foot_reading=-5, base_reading=4, tip_reading=43),
        species=(*DEFAULT_SPECIES, MAPLE),
        instruments=[{"instrument": "C1", "kind": "clinometer, percent and topographic"}],
    )
    named = [cause.mistake for _, causes in explain(evaluate(survey)) for cause in causes]
    assert "scale-degrees" not in named


def test_no_explanation_is_invented() -> None:
    """A distance to a tree of twice the height, and widths of another: nothing fits together."""
    found = outcome(distance=26.3, foot_reading=-41, base_reading=24, tip_reading=57,
                    diameter=12.0)  # fmt: skip
    said = about_line(found)
    assert said
    assert any(f.causes == () and NO_EXPLANATION in f.message for f in said)


def test_a_doubtful_line_keeps_its_identity_when_others_change() -> None:
    wrong = {"foot_reading": -5, "base_reading": 4, "tip_reading": 43}
    (one,) = about_line(outcome(**wrong))
    rows = lines(**wrong)
    rows[0]["diameter"] += 1
    (other,) = about_line(evaluate(make_survey(rows, species=(*DEFAULT_SPECIES, MAPLE))))
    assert replace(one, message="", causes=()) == replace(other, message="", causes=())


def test_a_diameter_is_mistyped_only_where_it_was_typed() -> None:
    """A further set-up has no diameter: the inches of 46 cm are on the first line alone."""
    rows = lines(diameter=18.1)
    further = rows[6] | {"setup": 2, "diameter": None, "width_widest": None, "width_across": None}
    rows.append(further | {"distance": 18.0, "foot_reading": -8, "tip_reading": 87})
    doubts = weigh_doubts(evaluate(make_survey(rows, species=(*DEFAULT_SPECIES, MAPLE))))
    inches = [mistake.id for mistake in MISTAKES].index("diameter-inches")
    weighed = doubts.weighed.weight[:, inches]
    assert weighed[doubts.place[6]] > 0
    assert doubts.place.keys() >= {24}
    assert weighed[doubts.place[24]] == -np.inf


def test_a_stem_beyond_its_genus_has_causes() -> None:
    """280 for 28.0; the thickest maple of the reference has 136 cm."""
    species = (*DEFAULT_SPECIES, MAPLE)
    rules = {"limit_diameter": 300.0}
    (finding,) = about_line(
        evaluate(make_survey(lines(diameter=280.0), species=species, rules=rules))
    )
    assert finding.check == "stem-thick-for-genus"
    assert [cause.kind for cause in finding.causes] == ["decimal-diameter"]


def set_up_twice(differences: list[int]) -> Outcome:
    """The maples, the first of them measured twice; the crown bases read so many % apart."""
    rows = lines()
    for row, apart in zip(lines(), differences, strict=False):
        stem = {"diameter": None, "width_widest": None, "width_across": None}
        rows.append(row | stem | {"setup": 2, "base_reading": row["base_reading"] + apart})
    return evaluate(make_survey(rows, species=(*DEFAULT_SPECIES, MAPLE)))


def test_crown_bases_that_differ_by_chance_are_a_note() -> None:
    found = set_up_twice([4, -4, 4, -4, 4, -4, 4, -4, 4, -4, 4, 20])
    own = [f for f in found.findings if f.check == "repeats-disagree-base"]
    assert len(own) >= 6
    assert [f.severity for f in own if 11 in f.lines] == ["warning"]
    assert {f.severity for f in own if 11 not in f.lines} == {"note"}


def test_an_empty_survey() -> None:
    assert evaluate(make_survey([])).findings == ()
