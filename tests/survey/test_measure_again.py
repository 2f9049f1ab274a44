"""The list for the truck: which findings, where the trees stand, how far to stand away."""

from dataclasses import replace
from math import radians, tan
from typing import Any

import numpy as np
import pytest

from tests.survey.make_survey import PLAIN_PLOT, make_survey
from xlhelpers.survey.decisions.decisions import Decision, Ledger, standing
from xlhelpers.survey.measure_again import expected_heights, measure_again
from xlhelpers.survey.model import CauseRecord, Finding
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.setups.setups import compute_setups
from xlhelpers.survey.trees.trees import build_trees

OAK: dict[str, Any] = {
    "plot": "7",
    "species": "Quercus robur",
    "diameter": 40.0,
    "distance": 20.0,
    "foot_reading": -8.0,
    "base_reading": 15.0,
}
# level distance 20 m in percent: heights of 18, 20, 22 and 3 m
TIPS = (82.0, 92.0, 102.0, 7.0)
LINES = [OAK | {"tree": str(i + 1), "tip_reading": tip} for i, tip in enumerate(TIPS)]
LINES[3] |= {"bearing": 47.0, "centre_distance": 9.3, "note": "behind the bus shelter"}


def outcome(block: str = "again", rules: dict[str, Any] | None = None, **more: Any) -> Outcome:
    plot = PLAIN_PLOT | {"plot": "7", "note": "school yard"}
    survey = make_survey(LINES, plots=[plot], rules=rules)
    setups = compute_setups(survey)
    found = Finding(
        check="made-up",
        severity="warning",
        block=block,  # type: ignore[arg-type]
        subject=(("plot", "7"), ("tree", "4"), ("set-up", "1")),
        message="m",
        action="a",
        lines=(3,),
    )
    return Outcome(survey, setups, build_trees(survey, setups), (replace(found, **more),))


def decided(result: Outcome, word: str) -> Outcome:
    stands = tuple(
        standing(f, Decision(word=word, initials="AB" if word else "")) for f in result.findings
    )
    return replace(result, ledger=Ledger(stands))


@pytest.mark.parametrize(
    ("block", "word", "listed"),
    [
        ("again", "", True),
        ("again", "accepted", False),
        ("again", "NOT SAFE", False),
        ("again", "ask crew", False),
        ("paper", "", False),
        ("paper", "measure again", True),
    ],
)
def test_what_is_listed(block: str, word: str, listed: bool) -> None:
    assert len(measure_again(decided(outcome(block), word))) == listed


def test_notes_are_not_listed() -> None:
    assert measure_again(outcome(severity="note")).empty


def test_place_in_words() -> None:
    (place,) = measure_again(outcome())["place"]
    assert place == (
        "school yard; 9.3 m from the plot centre, at 47° (north-east); behind the bus shelter"
    )
    (place,) = measure_again(outcome(rules={"units": "us"}))["place"]
    assert "30.5 ft from the plot centre" in place


def test_height_to_expect_is_that_of_the_species_where_the_own_one_is_less() -> None:
    # the doubtful tree of 3 m: the median of the settled oaks, 20 m; the others keep their own
    assert expected_heights(outcome()).round(6).tolist() == [20.0, 20.0, 22.0, 20.0]


@pytest.mark.parametrize("angle", [60.0, 45.0, 30.0])
def test_far_enough_for_the_greatest_angle_and_for_the_tree(angle: float) -> None:
    """Distance = height above the eye over the tangent of the angle: plane trigonometry.

    Not nearer than the tree is tall: common practice, no source.
    """
    row = measure_again(outcome(rules={"limit_angle": angle})).iloc[0]
    eye = 20.0 * 8 / 100
    assert row["stand_away"] == pytest.approx(max(20.0, (20 - eye) / tan(radians(angle))))


def test_a_finding_without_a_tree_has_no_distance() -> None:
    subject = (("instrument", "C1"),)
    row = measure_again(outcome(lines=(), subject=subject)).iloc[0]
    assert np.isnan(row["stand_away"])
    assert (row["about"], row["place"], row["species"]) == ("instrument C1", "", "")


# ---- one row a tree, and only what the paper cannot settle


def several(*findings: Finding) -> Outcome:
    return replace(outcome(), findings=findings)


def finding(check: str, **more: Any) -> Finding:
    (plain,) = outcome().findings
    return replace(plain, check=check, **more)


def test_a_tree_is_listed_once_with_all_its_points() -> None:
    tip = finding("a", fields=("tip_reading", "foot_reading", "distance"), message="Tip differs.")
    stem = finding("b", fields=("diameter",), message="The stem is 2 m thick.")
    (row,) = measure_again(several(tip, stem)).to_dict("records")
    assert row["points"] == "distance, foot, crown base, tip, diameter"
    assert row["found"] == "Tip differs. The stem is 2 m thick."
    assert row["position"] == 0


def test_a_dead_top_has_one_point_more() -> None:
    survey = make_survey([LINES[0] | {"condition": "T", "top_reading": 70.0}])
    setups = compute_setups(survey)
    one = finding("a", fields=("tip_reading",), lines=(0,))
    result = Outcome(survey, setups, build_trees(survey, setups), (one,))
    assert measure_again(result)["points"].tolist() == [
        "distance, foot, crown base, crown top, tip"
    ]


def cause(kind: str) -> CauseRecord:
    return CauseRecord(kind, None, None, None, None, None, "words")


def test_a_mistake_in_front_of_the_tree_is_looked_at_there() -> None:
    """No paper sheet shows that the near edge of a crown was aimed at."""
    edge = finding("a", fields=("tip_reading",), causes=(cause("near-edge"),))
    assert len(measure_again(several(edge))) == 1


def test_nobody_goes_while_a_typing_mistake_is_likely() -> None:
    far = finding("a", fields=("distance",))
    likely = finding("b", block="paper", causes=(cause("decimal-distance"),))
    assert len(measure_again(several(far))) == 1
    assert measure_again(several(far, likely)).empty
    whole = finding("lines-on-other-scale", block="paper")
    assert measure_again(several(far, whole)).empty
    # the office looked at the paper and sends the crew; without initials the decision waits
    for initials, listed in (("AB", 1), ("", 0)):
        sent = standing(far, Decision(word="measure again", initials=initials))
        ledger = Ledger((sent, standing(likely, Decision())))
        assert len(measure_again(replace(several(far, likely), ledger=ledger))) == listed


def test_a_decision_that_waits_for_initials_sends_nobody_to_the_rest_of_the_tree() -> None:
    far = finding("a", fields=("distance",))
    likely = finding("b", block="paper", causes=(cause("decimal-distance"),))
    for initials, listed in (("AB", 1), ("", 0)):
        sent = standing(likely, Decision(word="measure again", initials=initials))
        ledger = Ledger((standing(far, Decision()), sent))
        assert len(measure_again(replace(several(far, likely), ledger=ledger))) == listed


@pytest.mark.parametrize("name", ["species", "tree", "crew", "instrument"])
def test_nobody_goes_for_a_name(name: str) -> None:
    names = several(finding("species-unknown", block="paper", fields=(name,)))
    assert measure_again(decided(names, "measure again")).empty


def test_the_tallest_plausible_height_says_how_far_to_stand() -> None:
    plain = measure_again(outcome())["stand_away"][0]
    assert plain == pytest.approx(20.0)
    tall = several(finding("a", plausible_height=31.0))
    assert measure_again(tall)["stand_away"][0] == pytest.approx(31.0)


def test_the_greatest_height_of_the_set_ups_counts() -> None:
    twice = [LINES[0], LINES[0] | {"setup": 2.0, "tip_reading": 142.0}]
    survey = make_survey(twice)
    setups = compute_setups(survey)
    result = Outcome(survey, setups, build_trees(survey, setups), ())
    assert expected_heights(result).round(6).tolist() == [30.0]
