"""What cannot be right counts nowhere, what is in doubt is told apart, by quantity."""

from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest

from tests.survey.make_survey import PLAIN_PLOT, make_survey
from xlhelpers.survey.columns import SETUPS
from xlhelpers.survey.counted import name_left_out
from xlhelpers.survey.decisions.decisions import Decision, Ledger, standing
from xlhelpers.survey.evaluate import evaluate
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.summaries import by_plot, by_species

LINE = {
    "plot": "1", "species": "Quercus robur", "diameter": 30.0, "width_widest": 6.0,
    "width_across": 6.0, "distance": 20.0, "foot_reading": -8.0, "base_reading": 10.0,
    "tip_reading": 60.0,
}  # fmt: skip
SOUND = 13.6  # 20 m x (0.60 + 0.08)


def survey_with(*odd: dict[str, Any], rules: dict[str, Any] | None = None) -> Outcome:
    """Return three sound trees and one with these lines, as computed and checked."""
    lines = [LINE | {"tree": str(number)} for number in (1, 2, 3)]
    lines += [LINE | {"tree": "4"} | line for line in odd]
    return evaluate(make_survey(lines=lines, plots=[PLAIN_PLOT | {"plot": "1"}], rules=rules))


def decided(outcome: Outcome, word: str, initials: str = "AB") -> Outcome:
    decision = Decision(word=word, initials=initials)
    stands = tuple(standing(finding, decision) for finding in outcome.findings)
    return replace(outcome, ledger=Ledger(stands))


def only(table: pd.DataFrame) -> pd.Series:
    assert len(table) == 1
    return table.iloc[0]


# what is typed for tree 4 -> what is left out, and what of the row stays whole
IMPOSSIBLE = {
    "tip below the foot": ({"tip_reading": -88.0}, {"height": 1}, "diameter"),
    "minus missing at the foot": (
        {"foot_reading": 88.0, "tip_reading": 8.0, "base_reading": 5.0}, {"height": 1}, "width"),
    "height over the limit": ({"distance": 300.0}, {"height": 1}, "diameter"),
    "height under breast height": ({"distance": 1.0}, {"height": 1}, "diameter"),
    "crown base above the top": ({"base_reading": 95.0}, {"crown": 1}, "height"),
    "crown base below the foot": ({"base_reading": -60.0}, {"crown": 1}, "height"),
    "crown top above the tip": (
        {"condition": "T", "top_reading": 90.0}, {"crown": 1}, "height"),
    "diameter over the limit": ({"diameter": 630.0}, {"diameter": 1}, "height"),
    "width over the limit": ({"width_widest": 79.0}, {"width": 1}, "height"),
    "width of 0": ({"width_across": 0.0}, {"width": 1}, "diameter"),
}  # fmt: skip
MEANS = {
    "height": ("height_mean", SOUND),
    "crown": ("crown_depth_mean", 10.0),
    "width": ("width_mean", 6.0),
    "diameter": ("diameter_mean", 30.0),
}
COUNTS = {"height": "height_n", "crown": "crown_base_n", "width": "width_n",
          "diameter": "diameter_n"}  # fmt: skip


@pytest.mark.parametrize("name", IMPOSSIBLE)
@pytest.mark.parametrize("table", [by_plot, by_species])
def test_what_cannot_be_right_is_in_no_mean_and_no_sum(name: str, table: Any) -> None:
    typed, left_out, whole = IMPOSSIBLE[name]
    outcome = survey_with(typed)
    row = only(table(outcome))
    for quantity, count in left_out.items():
        mean, value = MEANS[quantity]
        assert row[mean] == pytest.approx(value)
        assert row[COUNTS[quantity]] == 3
        assert row[f"left_out_{quantity}"] == count
        assert name_left_out({quantity: count}).startswith("1 ")
    assert row[COUNTS[whole]] == 4
    assert row[f"left_out_{whole}"] == 0
    if "height" in left_out:  # the crown goes with it, and is not told twice
        assert (row["crown_depth_n"], row["left_out_crown"]) == (3, 0)
    stems = 3 if "diameter" in left_out else 4
    assert row["basal_area_sum"] == pytest.approx(stems * np.pi / 4 * 0.3**2)
    assert row["basal_area_with_dead_sum"] == row["basal_area_sum"]
    crowns = 3 if "width" in left_out else 4
    assert row["crown_area_sum"] == pytest.approx(crowns * np.pi / 4 * 36)
    # NOT SAFE is no answer to what a value is, nor is a decision without initials
    for word, initials in (("NOT SAFE", "AB"), ("accepted", ""), ("corrected", "AB")):
        assert only(table(decided(outcome, word, initials)))[COUNTS[next(iter(left_out))]] == 3
    accepted = only(table(decided(outcome, "accepted")))
    # of a width of 0 no mean width is made at all
    assert accepted[COUNTS[next(iter(left_out))]] == (3 if name == "width of 0" else 4)
    assert [accepted[f"left_out_{one}"] for one in MEANS] == [0, 0, 0, 0]


def test_one_set_up_that_cannot_be_right_takes_the_mean_of_the_tree_with_it() -> None:
    outcome = survey_with({"setup": 1.0}, {"setup": 2.0, "tip_reading": -20.0})
    assert 0 < outcome.trees["total_height"].iloc[3] < SOUND
    row = only(by_plot(outcome))
    assert (row["height_n"], row["left_out_height"]) == (3, 1)


def test_a_crown_base_above_the_top_within_the_uncertainty_counts() -> None:
    """A base 0.01 m above the top is within what the mark of the scale can tell; 0.6 m is not."""
    row = only(by_plot(survey_with({"base_reading": 60.05})))
    assert (row["crown_base_n"], row["left_out_crown"]) == (4, 0)
    row = only(by_plot(survey_with({"base_reading": 63.0})))
    assert (row["crown_base_n"], row["left_out_crown"]) == (3, 1)


# what is typed for tree 4 -> the quantities in doubt
IN_DOUBT = {
    "species": ({"species": "Quercus robbur"}, {"identity"}),
    "diameter": ({"diameter": 2.0, "other_stems": ""}, {"diameter"}),
    "width": ({"width_widest": 5.0}, {"width"}),
    "instrument too close": (
        {"distance": 5.0, "tip_reading": 264.0, "foot_reading": -32.0, "base_reading": 40.0},
        {"height", "crown"}),
}  # fmt: skip


@pytest.mark.parametrize("name", IN_DOUBT)
def test_doubt_is_counted_by_quantity(name: str) -> None:
    typed, quantities = IN_DOUBT[name]
    outcome = survey_with(typed)
    # the weighing of the whole line is another finding, about all its numbers
    findings = tuple(f for f in outcome.findings if f.check != "unlikely-tree")
    outcome = replace(outcome, findings=findings, ledger=Ledger())
    assert outcome.counted.any_doubt.tolist() == [False, False, False, True]
    doubted = {one for one, flags in outcome.counted.in_doubt.items() if flags.any()}
    assert quantities <= doubted <= quantities | ({"width"} if "close" in name else set())
    row = only(by_plot(outcome))
    assert row["open_trees"] == 1
    assert row["doubtful_height"] == ("height" in quantities)
    assert row["settled_height_n"] == 4 - ("height" in quantities)
    assert row["settled_depth_n"] == 4 - ("crown" in quantities)


def test_a_missing_reading_of_a_second_set_up_leaves_the_height_of_the_first_alone() -> None:
    outcome = survey_with({"setup": 1.0}, {"setup": 2.0, "tip_reading": None})
    assert "tip-blank" in {finding.check for finding in outcome.open_findings}
    row = only(by_plot(outcome))
    assert (row["doubtful_height"], row["settled_height_n"]) == (0, 4)


@pytest.mark.parametrize("word", ["NOT SAFE", "not safe: wasps", "NO ACCESS", "NOT SEEN", "later"])
def test_no_closing_word_makes_a_doubtful_height_sound(word: str) -> None:
    outcome = survey_with(IN_DOUBT["instrument too close"][0])
    before, after = only(by_plot(outcome)), only(by_plot(decided(outcome, word)))
    assert before["doubtful_height"] == after["doubtful_height"] == 1
    assert after["settled_height_mean"] == pytest.approx(SOUND)
    assert after["open_trees"] == 1
    accepted = only(by_plot(decided(outcome, "accepted")))
    assert (accepted["doubtful_height"], accepted["settled_height_n"]) == (0, 4)


def test_basal_area_is_given_without_and_with_dead_trees() -> None:
    row = only(by_plot(survey_with({"condition": "D", "base_reading": None, "diameter": 60.0})))
    living = 3 * np.pi / 4 * 0.3**2
    assert row["basal_area_sum"] == pytest.approx(living)
    assert row["basal_area_with_dead_sum"] == pytest.approx(living + np.pi / 4 * 0.6**2)
    assert (row["basal_area_n"], row["basal_area_with_dead_n"]) == (3, 4)


def test_an_empty_survey_has_nothing_in_doubt() -> None:
    outcome = evaluate(make_survey())
    assert not outcome.counted.any_doubt.any()
    assert len(outcome.counted.trees) == 0
    assert "crown_depth" in SETUPS.names
