"""The plan and the report give one margin for the same plots."""

import numpy as np
import pytest

from tests.estimates.make_sample import outcome_of, plot, trees
from tests.town import town_outcome
from xlhelpers.estimates.estimates import estimate
from xlhelpers.estimates.plot_values import MEASURES
from xlhelpers.jobs.plan.allocation import margin_of
from xlhelpers.jobs.plan.make_plan import Wanted, make_plan
from xlhelpers.jobs.plan.pilot import pilot_of
from xlhelpers.jobs.plan.words import say_too_few_trees, sentences
from xlhelpers.survey.outcome import Outcome

ROWS = {"trees": "living_trees", "basal-area": "basal_area", "crown-area": "crown_area"}


def sampled(counts: dict[str, tuple[int, ...]], sizes: tuple[float, ...] = (400.0,)) -> Outcome:
    """Return a survey with so many trees on the plots of each stratum."""
    plots, lines, strata = [], [], []
    for name, numbers in counts.items():
        for at, number in enumerate(numbers):
            key, size = f"{name}{at}", sizes[at % len(sizes)]
            status = "measured" if number else "no trees"
            plots.append(plot(key, stratum=name, status=status, inside=size, reached=size))
            for n, line in enumerate(trees(key, number)):
                lines.append(line | {"diameter": 10 + 7 * n + 3 * at})
                if n % 4 == 3:
                    lines[-1].pop("diameter")
        strata.append({"stratum": name, "area": 40_000.0 * (1 + len(strata))})
    return outcome_of(lines, plots, strata)


ONE = {"North": (8, 0, 3, 12, 0, 5, 0, 1, 4, 30)}
TWO = ONE | {"South": (2, 4, 0, 3, 0)}


@pytest.mark.parametrize(
    ("counts", "sizes"),
    [(ONE, (400.0,)), (TWO, (400.0,)), (ONE, (400.0, 90.0, 250.0)), (TWO, (400.0, 90.0, 250.0))],
)
def test_the_pilot_margin_is_that_of_the_report(counts, sizes) -> None:
    assert_one_margin(sampled(counts, sizes))


def test_the_pilot_margin_of_the_demo_town_is_that_of_the_report() -> None:
    assert_one_margin(town_outcome())


def assert_one_margin(outcome: Outcome) -> None:
    found = estimate(outcome)
    for measure in MEASURES:
        row = found.select(ROWS[measure.key], "total").iloc[0]
        reported = (row["high"] - row["low"]) / 2 / row["value"]
        pilot = pilot_of(outcome, measure, {})
        assert np.isfinite(reported)
        planned = margin_of(pilot.figures, pilot.measured)
        assert planned == pytest.approx(reported, rel=1e-6), measure.key


LONELY = ONE | {"South": (4,), "East": (2, 3, 0, 5)}


@pytest.mark.parametrize("sizes", [(400.0,), (400.0, 90.0, 250.0)])
def test_with_one_plot_in_a_stratum_the_plan_has_the_margin_of_the_report(sizes) -> None:
    """Both join South with the stratum nearest in size, and say so."""
    outcome = sampled(LONELY, sizes)
    found = estimate(outcome)
    for measure in MEASURES:
        row = found.select(ROWS[measure.key], "total").iloc[0]
        pilot = pilot_of(outcome, measure, {})
        assert np.isnan(margin_of(pilot.figures, pilot.measured))
        joined = pilot.margin(0.95)
        assert joined == pytest.approx((row["high"] - row["low"]) / 2 / row["value"], rel=1e-9)
        wanted = Wanted(0.1, plots_a_day=2)
        plan = make_plan(pilot.figures, wanted, pilot.measured, joined, pilot.together)
        assert plan.after_pilot[0] == joined
        # one more day: the second plot of South, and one somewhere
        days = [margin_of(pilot.figures, pilot.measured + np.array([0, 1, 0]) + one)
                for one in np.eye(3, dtype=int)]  # fmt: skip
        assert plan.after_pilot[1] in days
        text = " ".join(sentences(plan, measure.label))
        assert "The 15 pilot plots give a margin of" in text
        assert "South and East are taken together" in text
        assert pilot.together[0] in " ".join(found.words)
        assert "One more day (2 plots, a second plot for each such part first)" in text


def test_without_a_plot_in_a_stratum_the_plan_names_it() -> None:
    outcome = sampled(ONE | {"South": (), "East": (2, 3, 0, 5)})
    pilot = pilot_of(outcome, MEASURES[0], {})
    plan = make_plan(pilot.figures, Wanted(0.1), pilot.measured, pilot.margin(0.95))
    text = " ".join(sentences(plan, "Living trees"))
    assert "The 14 pilot plots give no margin yet: South has no plot." in text
    assert "nan" not in text


def test_the_plan_says_where_the_report_will_call_a_number_an_order_of_magnitude() -> None:
    """Few trees on a plot: the plots that keep a margin of 30 % find fewer than 200."""
    outcome = sampled({"North": (2, 0, 1, 3, 0, 2, 1, 4, 0, 2)})
    pilot = pilot_of(outcome, MEASURES[0], {})
    # 15 trees on 10 plots
    assert pilot.trees_a_plot == pytest.approx(1.5)
    plan = make_plan(pilot.figures, Wanted(0.3), pilot.measured)
    assert plan.chosen is not None
    plots = int(plan.chosen.sum())
    assert plots * 1.5 < 200
    (said,) = say_too_few_trees(plan, pilot.trees_a_plot)
    assert said.startswith(f"{plots} plots would have about {plots * 1.5:.0f} living trees.")
    assert "an order of magnitude, even with the margin of 30 %." in said
    # 100 plots, or 200 trees: what comes first
    assert said.endswith("With 100 plots it would not.")
    assert say_too_few_trees(plan, 200 / plots) == []
    # a wider one is an order of magnitude anyway
    assert say_too_few_trees(make_plan(pilot.figures, Wanted(0.4)), 1.5) == []
    assert say_too_few_trees(make_plan(pilot.figures, Wanted(0.1)), 0.1) == []
