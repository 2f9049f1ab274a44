"""Plots that would fit times their mean area against the stated area: mistakes, not chance."""

import numpy as np
import pytest

from tests.estimates.make_sample import outcome_of, plot
from xlhelpers.survey.plot_roles import plot_roles
from xlhelpers.survey.strata import strata_used


def problems_of(surveys: list[list[float]], stated: float, possible: int) -> list[str]:
    """Return what is wrong with each stratum, which has these areas of its plots."""
    plots = [
        plot(f"{stratum}/{at}", f"S{stratum}", "no trees", area, area)
        for stratum, areas in enumerate(surveys)
        for at, area in enumerate(areas)
    ]
    strata = [
        {"stratum": f"S{stratum}", "area": stated, "plots_possible": possible}
        for stratum in range(len(surveys))
    ]
    outcome = outcome_of([], plots, strata)
    roles = plot_roles(outcome.survey, outcome.trees)
    return [str(text) for text in strata_used(outcome.survey, roles).table["problem"]]


def problem_of(areas: list[float], stated: float, possible: int) -> str:
    return problems_of([areas], stated, possible)[0]


@pytest.mark.parametrize(("plots", "most"), [(2, 0.03), (3, 0.02), (5, 0.01), (10, 0.01)])
def test_a_true_frame_with_small_edge_plots_is_seldom_refused(plots: int, most: float) -> None:
    """A quarter of 2,000 plots is cut by the edge to a tenth to a half."""
    rng = np.random.default_rng(1)
    town = np.full(2000, 400.0)
    cut = rng.random(2000) < 0.25
    town[cut] *= rng.uniform(0.1, 0.5, cut.sum())
    surveys = [rng.choice(town, plots, replace=False).tolist() for _ in range(300)]
    refused = [problem != "" for problem in problems_of(surveys, float(town.sum()), 2000)]
    assert np.mean(refused) <= most


@pytest.mark.parametrize("possible", [150, 60, 1000])
def test_a_frame_that_cannot_be_is_refused(possible: int) -> None:
    # 40,000 m2 hold 100 plots of 400 m2
    assert "would fit" in problem_of([400.0] * 5, 40_000.0, possible)
    assert problem_of([400.0] * 5, 40_000.0, 105) == ""


def test_a_mistake_of_ten_times_is_found_among_unequal_plots() -> None:
    areas = [400.0, 400.0, 120.0, 400.0, 60.0]
    for possible in (10, 3000):
        assert "would fit" in problem_of(areas, 80_000.0, possible)
