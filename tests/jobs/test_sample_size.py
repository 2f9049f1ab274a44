"""How many plots, and where: published examples to the printed digit, and what must hold."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from xlhelpers.jobs.plan.allocation import (
    WAYS,
    StrataFigures,
    Way,
    margin_of,
    plots_needed,
    shares,
    whole_plots,
    whole_town,
)

# USDA Forest Service, Timber Cruising Handbook FSH 2409.12, chapter 30: four strata
ACRES, CV = np.array([30.0, 10, 20, 40]), np.array([40.0, 65, 80, 35])


def figures(**changes: np.ndarray) -> StrataFigures:
    own = {
        "sizes": ACRES, "means": np.full(4, 100.0), "deviations": CV,
        "possible": np.array([300.0, 100, 200, 400]), "costs": np.ones(4),
    }  # fmt: skip
    return StrataFigures(("A", "B", "C", "D"), **(own | changes))


def test_the_handbook_weighs_the_variation_of_strata() -> None:
    # FSH 2409.12, chapter 30: weighted CV 48.5
    assert float(figures().weights @ CV) == pytest.approx(48.5)


def test_the_handbook_allocates_plots() -> None:
    # FSH 2409.12, chapter 30: 21.3, 11.5, 28.4, 24.8, in whole plots 21, 12, 28, 25
    part = shares("optimal", ACRES, CV)
    assert np.round(86 * part, 1).tolist() == [21.3, 11.5, 28.4, 24.8]
    assert whole_plots(86, part).tolist() == [21, 12, 28, 25]


def test_t_is_iterated_to_the_smallest_number_that_keeps_its_promise() -> None:
    # worked out from n = (t CV / E)², not published: CV 30 %, E 10 %
    needed = plots_needed(whole_town(0.30), 0.10)
    assert needed is not None
    assert needed.tolist() == [38]
    for plots, keeps in ((37, False), (38, True)):
        t = float(stats.t.ppf(0.975, plots - 1))  # scipy as the second witness
        error = 0.30 / math.sqrt(plots)
        assert (t * error <= 0.10) is keeps
        # half the distance of the ends exp(error² ± t error)
        assert margin_of(whole_town(0.30), np.array([plots])) == pytest.approx(
            math.exp(error**2) * math.sinh(t * error), rel=1e-9
        )


@pytest.mark.parametrize(
    ("freedom", "printed"),
    [(4, 2.776), (9, 2.262), (19, 2.093), (24, 2.064), (29, 2.045), (60, 2.000), (120, 1.980)],
)
def test_the_margin_uses_the_t_of_standard_tables(freedom: int, printed: float) -> None:
    # standard tables of Student's t, two-sided 0.05
    plots = freedom + 1
    margin, error = margin_of(whole_town(1.0), np.array([plots])), 1 / math.sqrt(plots)
    # back from half the distance of the ends exp(error² ± t error)
    t = math.asinh(margin / math.exp(error**2)) / error
    assert round(t, 3) == printed


@pytest.mark.parametrize("way", WAYS)
@pytest.mark.parametrize("margin", [0.03, 0.1, 0.25])
def test_the_number_is_the_smallest(way: Way, margin: float) -> None:
    strata = figures(costs=np.array([1.0, 4, 1, 2]))
    needed = plots_needed(strata, margin, 0.95, way)
    assert needed is not None
    assert margin_of(strata, needed) <= margin
    total = int(needed.sum())
    if total > 8:
        assert margin_of(strata, strata.whole_plots(total - 1, way)) > margin


def test_the_ways_do_what_they_are_for() -> None:
    strata = figures(costs=np.array([1.0, 4, 1, 2]))
    needed = {way: plots_needed(strata, 0.1, 0.95, way) for way in WAYS}
    plots = {way: int(n.sum()) for way, n in needed.items() if n is not None}
    money = {way: float(n @ strata.costs) for way, n in needed.items() if n is not None}
    assert min(plots, key=plots.__getitem__) == "optimal"
    assert min(money, key=money.__getitem__) == "costs"
    # by the calculus of Lagrange (from memory): n_h goes with W_h S_h / sqrt(c_h)
    part = shares("costs", ACRES, CV, strata.costs)
    assert part / part[0] == pytest.approx(
        ACRES * CV / np.sqrt(strata.costs) / (ACRES[0] * CV[0] / np.sqrt(strata.costs[0]))
    )


def test_a_census_has_no_margin_and_is_the_most() -> None:
    strata = figures(possible=np.array([5.0, 4, 6, 3]))
    needed = plots_needed(strata, 0.0001)
    assert needed is not None
    assert needed.tolist() == [5, 4, 6, 3]
    assert margin_of(strata, needed) == 0


def test_the_finite_population_correction_lowers_the_number() -> None:
    many = plots_needed(whole_town(0.6), 0.1)
    few = plots_needed(whole_town(0.6, 150), 0.1)
    assert many is not None
    assert few is not None
    assert few[0] < many[0]
    n = int(few[0])
    t = stats.t.ppf(0.975, n - 1)
    assert t * 0.6 * math.sqrt((1 - n / 150) / n) <= 0.1


def test_words_for_what_cannot_be() -> None:
    assert plots_needed(whole_town(30.0), 0.0001) is None
    assert plots_needed(figures(means=np.zeros(4)), 0.1) is None
    assert math.isnan(margin_of(figures(), np.array([5, 1, 5, 5])))  # one plot of a stratum
    assert math.isnan(margin_of(figures(), np.array([5, 0, 5, 5])))
    nothing_varies = plots_needed(whole_town(0.0), 0.1)
    assert nothing_varies is not None
    assert nothing_varies.tolist() == [2]


@pytest.mark.parametrize("total", [0, 8, 9, 17, 100, 5000])
def test_whole_plots_keep_their_bounds(total: int) -> None:
    parts, possible = np.array([0.9, 0.1, 0.0, 0.0]), np.array([20.0, np.inf, 1.0, 50.0])
    whole = whole_plots(total, parts, possible)
    assert (whole >= [2, 2, 1, 2]).all()
    assert (whole <= possible).all()
    assert whole.sum() == max(total, 7)
    kept = whole_plots(total, parts, possible, least=np.array([3, 4, 1, 0]))
    assert (kept >= [3, 4, 1, 0]).all()
    assert kept.sum() == max(total, 8)


def test_few_plots_with_trees_give_a_larger_margin() -> None:
    """Degrees of freedom are those of the plots with trees: 10 of 20 as in the report."""
    half = replace(whole_town(0.8), with_trees=np.array([0.5]))
    t, error = float(stats.t.ppf(0.975, 9)), 0.8 / math.sqrt(20)
    assert margin_of(half, np.array([20])) == pytest.approx(
        math.exp(error**2) * math.sinh(t * error)
    )


def test_half_of_the_surveys_keep_the_margin_and_nine_in_ten_with_more_plots() -> None:
    """KupperHafner1989: a size planned on the expected margin keeps it in about half of samples."""
    rng, town = np.random.default_rng(7), whole_town(0.30)
    for chance, low, high in ((None, 0.45, 0.62), (0.9, 0.87, 0.95)):
        needed = plots_needed(town, 0.10, chance=chance)
        assert needed is not None
        plots = int(needed[0])
        samples = rng.normal(100, 30, (2000, plots))
        variation = samples.std(axis=1, ddof=1) / samples.mean(axis=1)
        kept = [margin_of(whole_town(float(cv)), needed) <= 0.10 for cv in variation]
        assert low <= np.mean(kept) <= high
    assert margin_of(town, np.array([38]), chance=0.9) > margin_of(town, np.array([38]))


def test_a_margin_beyond_all_numbers_is_infinite_and_keeps_nothing() -> None:
    assert math.isinf(margin_of(whole_town(90.0), np.array([2])))
    assert plots_needed(whole_town(90.0, 4), 0.1) is not None  # all four plots


def test_the_margin_covers_what_it_promises() -> None:
    """A simulation: the planned number of plots of a normal town keeps 95 % within the limits."""
    rng = np.random.default_rng(4)
    needed = plots_needed(whole_town(0.30), 0.10)
    assert needed is not None
    plots = int(needed[0])
    samples = rng.normal(100, 30, (4000, plots))
    t = stats.t.ppf(0.975, plots - 1)
    half = t * samples.std(axis=1, ddof=1) / math.sqrt(plots)
    inside = np.abs(samples.mean(axis=1) - 100) <= half
    assert 0.94 <= inside.mean() <= 0.96
    assert half.mean() <= 10
