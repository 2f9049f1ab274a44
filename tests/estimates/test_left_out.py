"""Values that cannot be right are in no figure of the town, of two surveys or of two crews."""

from dataclasses import replace
from math import pi
from typing import Any

import numpy as np
import pytest

from tests.survey.make_survey import PLAIN_PLOT, make_survey
from xlhelpers.estimates.estimates import estimate
from xlhelpers.estimates.plot_values import plot_values
from xlhelpers.estimates.remeasured import DEFAULTS, agreement_sentence, judge_pairs, pair_trees
from xlhelpers.survey.decisions.decisions import Decision, Ledger, standing
from xlhelpers.survey.evaluate import evaluate
from xlhelpers.survey.outcome import Outcome

LINE = {
    "species": "Quercus robur", "diameter": 30.0, "width_widest": 6.0, "width_across": 6.0,
    "distance": 20.0, "foot_reading": -8.0, "base_reading": 10.0, "tip_reading": 60.0,
}  # fmt: skip
HEIGHT = 13.6  # 20 m x (0.60 + 0.08)
STEM = pi / 4 * 0.3**2


def survey(**odd: Any) -> Outcome:
    """Return two plots of three trees in a town of 10 ha; the last tree has odd readings."""
    lines = [
        LINE | {"plot": plot, "tree": str(number)} for plot in ("1", "2") for number in (1, 2, 3)
    ]
    # trees of different readings, so that none looks copied
    for at, line in enumerate(lines):
        line["distance"] = 20.0 + at
        line["tip_reading"] = 100 * HEIGHT / line["distance"] - 8.0
        line["base_reading"] = 100 * 3.6 / line["distance"] - 8.0
    lines[-1] |= odd
    plots = [PLAIN_PLOT | {"plot": plot, "area_inside": 500.0} for plot in ("1", "2")]
    strata = [{"stratum": "", "area": 100_000.0}]
    return evaluate(make_survey(lines=lines, plots=plots, strata=strata))


def accepted(outcome: Outcome) -> Outcome:
    decision = Decision(word="accepted", initials="AB")
    stands = tuple(standing(finding, decision) for finding in outcome.findings)
    return replace(outcome, ledger=Ledger(stands))


BELOW, THICK = {"tip_reading": -88.0}, {"diameter": 630.0}


def test_a_negative_height_is_in_no_mean_height_and_that_is_said() -> None:
    outcome = survey(**BELOW)
    assert outcome.trees["total_height"].min() < -10
    row = estimate(outcome).select("mean_height", "mean").iloc[0]
    assert row["value"] == pytest.approx(HEIGHT)
    assert (row["trees"], row["trees_without"], row["left_out"]) == (5, 1, 1)
    assert "These include 1 value that cannot be right and was left out." in row["words"]
    depth = estimate(outcome).select("mean_crown_depth", "mean").iloc[0]
    assert (depth["trees"], depth["left_out"]) == (5, 1)
    counted = estimate(accepted(outcome)).select("mean_height", "mean").iloc[0]
    assert counted["value"] < HEIGHT - 3
    assert (counted["trees"], counted["left_out"]) == (6, 0)


def test_a_diameter_that_cannot_be_right_is_in_no_basal_area() -> None:
    outcome = survey(**THICK)
    per_m2 = 6 * STEM / 1000  # the tree is taken to be like the others
    for name in ("basal_area", "basal_area_with_dead"):
        row = estimate(outcome).select(name, "per area").iloc[0]
        assert row["value"] == pytest.approx(per_m2)
        assert (row["trees"], row["left_out"]) == (5, 1)
    heights = estimate(outcome).select("mean_height", "mean").iloc[0]
    assert (heights["trees"], heights["left_out"]) == (6, 0)
    row = estimate(accepted(outcome)).select("basal_area", "per area").iloc[0]
    assert row["value"] > 50 * per_m2


def test_plots_that_are_compared_and_planned_from_leave_it_out_too() -> None:
    values = plot_values(survey(**THICK)).table
    assert values["basal-area"].tolist() == pytest.approx([3 * STEM / 500] * 2)
    assert values["basal-area_left_out"].tolist() == [0, 1]
    assert plot_values(accepted(survey(**THICK))).table["basal-area"].iloc[1] > 0.06


def test_two_crews_are_compared_without_it_and_the_sentence_says_so() -> None:
    first, again = survey(**BELOW), survey()
    pairs = pair_trees(first, again, [one.key for one in DEFAULTS])
    judged = {one.objective.key: one for one in judge_pairs(pairs, DEFAULTS) if not one.by}
    height = judged["total_height"]
    assert (height.pairs, height.left_out) == (5, 1)
    assert height.agreement.bias == pytest.approx(0.0, abs=1e-9)
    sentence = agreement_sentence(height, "metric")
    assert sentence.endswith("Left out because a value cannot be right: 1 tree.")
    assert (judged["diameter"].pairs, judged["diameter"].left_out) == (6, 0)
    assert pairs["left_out"].tolist() == [*[""] * 5, "first: height"]


def test_basal_area_of_the_town_without_and_with_dead_trees() -> None:
    outcome = survey(condition="D", base_reading=None)
    living, every = (
        float(estimate(outcome).select(name, "total")["value"].iloc[0])
        for name in ("basal_area", "basal_area_with_dead")
    )
    assert living == pytest.approx(100 * 5 * STEM)
    assert every == pytest.approx(100 * 6 * STEM)


def test_doubt_about_a_name_is_no_doubt_about_a_height() -> None:
    outcome = survey(species="Quercus robbur")
    table = estimate(outcome)
    assert table.select("trees", "total")["open_trees"].tolist() == [1]
    for name, kind in (("mean_height", "mean"), ("basal_area", "total")):
        assert table.select(name, kind)["open_trees"].tolist() == [0]
    assert np.isfinite(table.select("mean_height", "mean")["value"]).all()
