"""The plan and the report give one margin for the same plots."""

import numpy as np
import pytest

from tests.estimates.make_sample import outcome_of, plot, trees
from tests.town import town_outcome
from xlhelpers.estimates.estimates import estimate
from xlhelpers.estimates.plot_values import MEASURES
from xlhelpers.jobs.plan.allocation import margin_of
from xlhelpers.jobs.plan.pilot import pilot_of
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
