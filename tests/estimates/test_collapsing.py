"""Strata with one plot: joined for the standard error of the town, never for its total."""

from dataclasses import replace

import numpy as np
import pytest

from tests.estimates.make_design import make_design
from tests.estimates.make_sample import STRATA, outcome_of, plot, row, trees
from xlhelpers.estimates.collapsing import join_lonely
from xlhelpers.estimates.design import total
from xlhelpers.estimates.estimates import estimate


def test_a_stratum_with_one_plot_joins_the_one_nearest_in_size() -> None:
    assert join_lonely([4, 1, 3], [100, 40, 50], [0.1] * 3).tolist() == [0, 1, 1]
    # two of one plot each, nearest to one another
    assert join_lonely([1, 1, 5], [10, 12, 900], [0.1] * 3).tolist() == [0, 0, 1]
    # what is wholly sampled neither joins nor is joined
    assert join_lonely([1, 1, 4], [10, 11, 900], [0.1, 1.0, 0.1]).tolist() == [1, 0, 1]
    assert join_lonely([1], [10], [0.1]).tolist() == [0]
    assert join_lonely([2, 2], [10, 10], [0.1] * 2).tolist() == [0, 1]


def test_two_strata_of_one_plot_have_the_error_of_a_collapsed_pair() -> None:
    """Cochran1977, section 5A.12: (Y1 - Y2)2 for the two estimated totals, strata of one size."""
    design = replace(make_design(np.ones(2), [50, 50], np.arange(2)), joins_lonely=True)
    found = total(replace(design, fraction=np.zeros(2)), [3.0, 8.0])
    assert found.value[0] == pytest.approx(50 * 11)
    assert found.standard_error[0] == pytest.approx(50 * 5)
    assert found.freedom[0] == 1


def test_without_lonely_strata_nothing_is_joined() -> None:
    design = make_design(np.ones(7), [50, 80], np.array([0, 0, 0, 1, 1, 1, 1]))
    y = [3.0, 5.0, 1.0, 0.0, 9.0, 4.0, 2.0]
    one, other = total(design, y), total(replace(design, joins_lonely=True), y)
    assert one.standard_error[0] == other.standard_error[0]


def test_joined_errors_are_on_the_careful_side() -> None:
    """Ten strata of one plot each: on the average the variance is not too small."""
    rng = np.random.default_rng(5)
    means, size = rng.uniform(2, 6, 10), np.linspace(40, 60, 10)
    design = replace(make_design(np.ones(10), size, np.arange(10)), joins_lonely=True,
                     fraction=np.zeros(10))  # fmt: skip
    found = total(design, rng.poisson(means[:, None], (10, 3000)).astype(float))
    assert np.mean(found.standard_error**2) >= np.var(found.value)


@pytest.mark.parametrize(
    ("drawn", "size"), [((1, 4), (150, 250)), ((1, 2), (40, 400)), ((1, 1), (30, 60))]
)
def test_joined_errors_are_right_where_both_are_alike(drawn, size) -> None:
    """Simulated: the mean variance is that of the totals, however differently they are sampled."""
    rng = np.random.default_rng(8)
    stratum = np.repeat([0, 1], drawn)
    design = replace(make_design(np.ones(sum(drawn)), size, stratum), joins_lonely=True,
                     fraction=np.zeros(2))  # fmt: skip
    found = total(design, rng.normal(40, 3, (sum(drawn), 40_000)))
    assert np.mean(found.standard_error**2) == pytest.approx(np.var(found.value), rel=0.03)


def test_the_town_has_figures_and_the_stratum_is_named_with_what_to_do() -> None:
    sizes = [*STRATA, {"stratum": "East", "area": 90_000.0, "plots_possible": 225}]
    counts = {"North": (2, 5, 1, 0), "South": (3,), "East": (4, 6, 9)}
    plots, lines = [], []
    for name, numbers in counts.items():
        for at, number in enumerate(numbers):
            plots.append(plot(f"{name}{at}", name, "measured" if number else "no trees"))
            lines += trees(f"{name}{at}", number)
    found = estimate(outcome_of(lines, plots, sizes))
    town = row(found, "trees", "total")
    assert town["value"] == pytest.approx(250 * 2 + 100 * 3 + 225 * 19 / 3)
    assert 0 < town["low"] < town["value"] < town["high"] < np.inf
    assert np.isnan(row(found, "trees", "total", scope="South")["value"])
    for scope in ("North", "East"):
        assert row(found, "trees", "total", scope=scope)["standard_error"] > 0
    said = " ".join(found.words)
    assert "Only one plot in South: too few to say. Measure another one there" in said
    assert "For the margins of the town, South and East are taken together" in said
