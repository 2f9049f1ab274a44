"""The three verdicts follow the stated rule, at its limits too."""

from dataclasses import replace

import pandas as pd
import pytest

from tests.town import town_outcome
from xlhelpers.jobs.report.facts import Facts, gather
from xlhelpers.jobs.report.methods import methods
from xlhelpers.jobs.report.verdicts import (
    BUDGET,
    FAIR,
    ROUGH,
    by_verdict,
    relative_margin,
    rule,
    verdict,
    weaker,
    why_rough,
)
from xlhelpers.jobs.report.words import give_or_take


@pytest.fixture(scope="module")
def facts() -> Facts:
    return gather(town_outcome(), 0.95)


def with_rules(facts: Facts, **rules: float) -> Facts:
    survey = facts.outcome.survey
    changed = replace(survey, rules={**survey.rules, **rules})
    return replace(facts, outcome=replace(facts.outcome, survey=changed))


def row_of(facts: Facts, value: float, low: float, high: float, plots: int = 20) -> pd.Series:
    row = facts.town("mean_height", "mean").copy()
    row[["value", "low", "high", "plots_with"]] = value, low, high, plots
    return row


@pytest.mark.parametrize(
    ("low", "high", "plots", "expected"),
    [
        (90.0, 110.0, 20, BUDGET),  # 10 %
        (89.6, 110.4, 20, BUDGET),  # 10.4 %, shown as 10 %
        (89.0, 111.0, 20, FAIR),
        (70.0, 130.0, 20, FAIR),  # 30 %
        (69.0, 131.0, 20, ROUGH),
        (80.0, 130.0, 20, FAIR),  # unequal ends: half of 50 %
        (95.0, 105.0, 5, BUDGET),
        (95.0, 105.0, 4, ROUGH),  # on fewer than 5 plots
        (float("nan"), float("nan"), 20, ROUGH),
    ],
)
def test_the_rule(facts: Facts, low: float, high: float, plots: int, expected: str) -> None:
    assert verdict(facts, row_of(facts, 100.0, low, high, plots)) == expected


@pytest.mark.parametrize(
    ("trees", "plots", "low", "high", "expected"),
    [
        (108, 60, 80.0, 125.0, ROUGH),  # 22.5 %: a fair idea by its margin alone
        (200, 60, 80.0, 125.0, FAIR),
        (108, 100, 80.0, 125.0, FAIR),
        (108, 60, 91.0, 110.0, BUDGET),
    ],
)
def test_a_number_of_few_trees_is_an_order_of_magnitude_and_says_why(
    facts: Facts, trees: int, plots: int, low: float, high: float, expected: str
) -> None:
    row = facts.town("trees", "total").copy()
    row[["value", "low", "high", "margin"]] = 100.0, low, high, (high - low) / 2
    row[["trees", "plots", "plots_with"]] = trees, plots, 35
    assert verdict(facts, row) == expected
    assert why_rough(facts, row).startswith("Only 108 trees were found.") == (expected == ROUGH)
    assert ("an order of magnitude" in give_or_take(facts, row)) == (expected == ROUGH)
    assert "One from few trees or few plots needs a smaller margin" in rule(facts)
    table = methods(facts, rechecked=False).table
    assert table is not None
    texts = [str(row[1].value) for row in table.rows if row[1] is not None]
    assert any("from fewer than 200 trees on fewer than 100 plots" in text for text in texts)


def test_what_the_margin_says_by_itself_needs_no_reason(facts: Facts) -> None:
    row = facts.town("trees", "total").copy()
    row[["value", "low", "high"]] = 100.0, 60.0, 160.0
    row[["trees", "plots", "plots_with"]] = 108, 60, 35
    assert verdict(facts, row) == ROUGH
    assert why_rough(facts, row) == ""


def test_nothing_has_no_verdict(facts: Facts) -> None:
    assert verdict(facts, row_of(facts, 0.0, 0.0, 0.0)) == ""
    assert verdict(facts, row_of(facts, float("nan"), 1.0, 2.0)) == ""
    assert weaker(["", BUDGET, FAIR]) == FAIR
    assert weaker([""]) == ""


def test_a_town_sets_its_own_limits_and_that_is_said(facts: Facts) -> None:
    strict = with_rules(facts, margin_budget=0.05, margin_fair=0.2)
    row = row_of(facts, 100.0, 92.0, 108.0)
    assert (verdict(facts, row), verdict(strict, row)) == (BUDGET, FAIR)
    assert "The limit of 10 % is common practice, with no source." in rule(facts)
    assert "30 % and 5 plots are this project's own rule." in rule(facts)
    assert "The limit of 5 % is this town's own choice." in rule(strict)
    assert "20 % is this town's own choice. 5 plots is this project's own rule." in rule(strict)


def test_a_lower_confidence_does_not_better_a_verdict() -> None:
    at_95, at_60 = (gather(town_outcome(), confidence) for confidence in (0.95, 0.6))
    for quantity, kind in (("trees", "total"), ("basal_area", "total"), ("mean_height", "mean"),
                           ("crown_cover_random_overlap", "share")):  # fmt: skip
        rows = [each.town(quantity, kind) for each in (at_95, at_60)]
        assert rows[1]["margin"] < rows[0]["margin"]
        margins = [relative_margin(*each) for each in zip((at_95, at_60), rows, strict=True)]
        assert margins[0] == pytest.approx(margins[1], rel=1e-9)


def test_every_figure_of_the_town_is_named_once(facts: Facts) -> None:
    said = " ".join(by_verdict(facts))
    for name in ("number of trees", "number of dead trees", "mean height", "land under crowns"):
        assert said.count(name) == 1
