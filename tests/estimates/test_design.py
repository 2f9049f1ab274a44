"""Totals and ratios from plots: published examples, properties, and other ways to the same end."""

from dataclasses import replace
from math import pi, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tests.estimates.make_design import make_design
from xlhelpers.estimates.design import (
    Design,
    Estimated,
    ratio,
    total,
    total_from_known,
)
from xlhelpers.estimates.quantities import cover_with_random_overlap

FREESE = [10, 9, 10, 9, 11, 16, 11, 7, 12, 12, 11, 3, 5, 11, 14, 8, 13, 12, 20, 10]


def simple(plots: int, of: float) -> Design:
    return make_design(np.ones(plots), of)


def one(found: Estimated) -> tuple[float, float]:
    return float(found.value[0]), float(found.standard_error[0])


class TestPublished:
    def test_simple_random_total_and_mean(self) -> None:
        """Freese, Elementary forest sampling (USDA Agriculture Handbook 232), chapter 3."""
        found = total(simple(20, 100), FREESE)
        value, error = one(found)
        assert value == pytest.approx(1070)
        assert round(error, 1) == 73.4
        mean = found.scale_by(1 / 100)
        assert (round(mean.value[0], 1), round(mean.standard_error[0], 3)) == (10.7, 0.734)
        assert found.freedom[0] == 19

    def test_without_the_correction_for_a_finite_population(self) -> None:
        """The same data; 0.8211 was worked out from s2 = 13.4842."""
        plain = replace(simple(20, 100), fraction=np.zeros(1))
        assert total(plain, FREESE).standard_error[0] / 100 == pytest.approx(0.8211, abs=5e-5)

    def test_blown_up_to_an_area(self) -> None:
        """Spellman, example 7.5: mean 5,680 with standard error 632, on 10,000 acres."""
        found = Estimated(np.array([5680.0]), np.array([632.0]), np.array([9.0])).scale_by(10_000)
        assert one(found) == (56_800_000, 6_320_000)

    def test_tally_by_area(self) -> None:
        """5 trees on 23 plots of a tenth of an acre: 2.174 an acre (web page, little authority)."""
        found = ratio(simple(23, 1e6), [5, *[0] * 22], np.full(23, 0.1))
        assert round(found.value[0], 3) == 2.174

    def test_stratified_mean(self) -> None:
        """AWF-Wiki, stratified sampling examples: mean 7.07, variance 0.2705.

        The page multiplies s2 by (N - n) / (N - 1), that is by ours and N / (N - 1); with its
        rounded inputs the variance is 0.27044, the page has .270492 from unrounded ones.
        """
        possible, drawn = np.array([14, 8, 8]), (4, 3, 3)
        means, squares = (6.29, 10.13, 5.38), np.array([3.49, 4.86, 2.48])
        squares = squares * possible / (possible - 1)
        y = [
            mean + sqrt(s2 / (np.var(range(n), ddof=1))) * (i - (n - 1) / 2)
            for mean, s2, n in zip(means, squares, drawn, strict=True)
            for i in range(n)
        ]
        design = make_design(np.ones(10), possible, np.repeat(range(3), drawn), possible)
        value, error = one(total(design, y).scale_by(1 / 30))
        assert round(value, 2) == 7.07
        assert error**2 == pytest.approx(0.27044, abs=5e-6)
        assert error**2 == pytest.approx(0.270492, abs=1e-4)

    def test_ratio_total(self) -> None:
        """Scheaffer, Mendenhall & Ott, Elementary Survey Sampling, example 6.1."""
        x = [0.3, 0.5, 0.4, 0.9, 0.7, 0.2, 0.6, 0.5, 0.8, 0.4, 0.8, 0.6]
        y = [6, 9, 7, 19, 15, 5, 12, 9, 20, 9, 18, 13]
        design = replace(make_design(x, 75, possible=250), errors_by_count=True)
        value, error = one(total(design, y))
        assert round(value, 2) == 1589.55
        assert round(2 * error, 2) == 186.32
        assert round(one(total(simple(12, 250), y))[0], 1) == 2958.3

    def test_ratio_of_means(self) -> None:
        """31 black cherry trees (Ryan, Joiner & Ryan 1976): volume by basal area.

        The data are published; 29.893 and 0.656 were worked out from them.
        """
        inches = [8.3, 8.6, 8.8, 10.5, 10.7, 10.8, 11.0, 11.0, 11.1, 11.2, 11.3, 11.4, 11.4, 11.7,
                  12.0, 12.9, 12.9, 13.3, 13.7, 13.8, 14.0, 14.2, 14.5, 16.0, 16.3, 17.3, 17.5,
                  17.9, 18.0, 18.0, 20.6]  # fmt: skip
        volume = [10.3, 10.3, 10.2, 16.4, 18.8, 19.7, 15.6, 18.2, 22.6, 19.9, 24.2, 21.0, 21.4,
                  21.3, 19.1, 22.2, 33.8, 27.4, 25.7, 24.9, 34.5, 31.7, 36.3, 38.3, 42.6, 55.4,
                  55.7, 58.3, 51.5, 51.0, 77.0]  # fmt: skip
        assert np.mean(volume) == pytest.approx(30.171, abs=5e-4)
        basal = pi / 576 * np.square(inches)
        plain = replace(simple(31, 1000), fraction=np.zeros(1))
        value, error = one(ratio(plain, volume, basal))
        assert (round(value, 3), round(error, 3)) == (29.893, 0.656)


def random_plots(seed: int) -> tuple[Design, np.ndarray, np.ndarray]:
    """Return a stratified design of plots of one size, and two sums by plot."""
    random = np.random.default_rng(seed)
    strata = int(random.integers(1, 5))
    drawn = random.integers(2, 12, strata)
    possible = drawn + random.integers(0, 60, strata)
    stratum = np.repeat(np.arange(strata), drawn)
    x = random.poisson(random.uniform(1, 8), len(stratum)) + 1.0
    y = x * random.gamma(4, 3, len(stratum)) + random.normal(0, 1, len(stratum)) ** 2
    return make_design(np.ones(len(stratum)), possible, stratum, possible), y, x


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("seed", range(12))
def test_a_general_survey_library_agrees(seed: int) -> None:
    """Totals and ratios over random designs, and the total by area of plots of unequal size."""
    polars = pytest.importorskip("polars")
    svy = pytest.importorskip("svy")
    design, y, x = random_plots(seed)
    possible = design.total_size[design.stratum]
    table = polars.DataFrame(
        {"y": y, "x": x, "s": design.stratum.astype(str), "w": design.weights, "n": possible}
    )
    sample = svy.Sample(table, svy.Design(stratum="s", wgt="w", pop_size="n")).estimation
    for theirs, ours in (
        (sample.total("y"), total(design, y)),
        (sample.ratio("y", "x"), ratio(design, y, x)),
    ):
        found = theirs.estimates[0]
        assert one(ours) == pytest.approx((found.est, found.se), rel=1e-9)
    # in one stratum a total by area is the area times the ratio of values to plot areas
    whole = svy.Sample(table.with_columns(w=1.0), svy.Design(wgt="w")).estimation.ratio("y", "x")
    found, area = whole.estimates[0], 1e4
    alone = replace(make_design(x, area), fraction=np.zeros(1))
    assert one(total(alone, y)) == pytest.approx((found.est * area, found.se * area), rel=1e-9)


@pytest.mark.parametrize("seed", range(8))
def test_leaving_out_one_plot_at_a_time_tells_the_same_spread(seed: int) -> None:
    """Unequal plots in strata by another way than R's in `r_survey`: the delete-one jackknife.

    It agrees with the linearised error as far as plots are many (Cochran 1977, section 6.17,
    from memory).
    """
    random = np.random.default_rng(seed)
    stratum = np.repeat([0, 1, 2], 40)
    size = random.uniform(300, 400, 120)
    x = random.poisson(size / 40) + 0.0
    y = x * random.gamma(20, 0.5, 120)
    whole = np.array([1e5, 2e5, 5e5])

    def estimates(kept: np.ndarray) -> np.ndarray:
        design = replace(make_design(size[kept], whole, stratum[kept]), fraction=np.zeros(3))
        return np.array([total(design, y[kept]).value[0], ratio(design, y[kept], x[kept]).value[0]])

    everything = np.arange(120)
    left_out = np.array([estimates(np.delete(everything, i)) for i in everything])
    square = 0.0
    for h in range(3):
        part = left_out[stratum == h]
        square = square + 39 / 40 * ((part - part.mean(axis=0)) ** 2).sum(axis=0)
    design = replace(make_design(size, whole, stratum), fraction=np.zeros(3))
    ours = [total(design, y).standard_error[0], ratio(design, y, x).standard_error[0]]
    np.testing.assert_allclose(ours, np.sqrt(square), rtol=0.03)


counts = st.lists(st.integers(0, 50), min_size=3, max_size=15)


@given(counts)
@settings(max_examples=50, deadline=None)
def test_a_wholly_sampled_town_is_exact(y: list[int]) -> None:
    for design in (simple(len(y), len(y)), replace(simple(len(y), 9e9), is_census=True)):
        found = total(design, y)
        assert one(found) == (pytest.approx(sum(y)), 0.0)
        low, high = found.interval(0.95)
        assert low[0] == high[0] == found.value[0]


@given(counts, st.floats(0.1, 1000))
@settings(max_examples=50, deadline=None)
def test_totals_grow_with_the_area(y: list[int], factor: float) -> None:
    size = np.linspace(200, 400, len(y))
    small, large = (
        replace(make_design(size, area), fraction=np.zeros(1)) for area in (1e6, 1e6 * factor)
    )
    first, second = total(small, y), total(large, y)
    np.testing.assert_allclose(second.value, first.value * factor, rtol=1e-9)
    np.testing.assert_allclose(second.standard_error, first.standard_error * factor, rtol=1e-9)


@given(counts)
@settings(max_examples=50, deadline=None)
def test_strata_that_are_alike_give_the_mean_of_one_sample(y: list[int]) -> None:
    twice = make_design(np.ones(2 * len(y)), [500, 500], np.repeat([0, 1], len(y)))
    assert total(twice, y + y).value[0] == pytest.approx(total(simple(len(y), 1000), y).value[0])


@given(counts)
@settings(max_examples=50, deadline=None)
def test_order_of_plots_does_not_matter(y: list[int]) -> None:
    there, back = (total(simple(len(y), 1000), values) for values in (y, y[::-1]))
    np.testing.assert_allclose(there.value, back.value)
    np.testing.assert_allclose(there.standard_error, back.standard_error)


def test_doubling_the_trees_of_a_full_plot_raises_the_standard_error() -> None:
    more = [*FREESE]
    more[18] *= 2
    design = simple(20, 100)
    assert total(design, more).standard_error[0] > total(design, FREESE).standard_error[0]


def test_what_few_plots_bear_has_few_degrees_of_freedom() -> None:
    y = np.zeros((20, 3))
    y[:3, 0], y[0, 1] = (4, 5, 6), 7
    found = total(simple(20, 1000), y)
    assert found.freedom[0] == 2
    assert np.isnan(found.standard_error[1])
    assert (found.value[2], found.standard_error[2]) == (0, 0)


def test_a_plot_without_a_difference_bears_the_difference() -> None:
    """Paired differences of 20 plots, of which two changed: 19 degrees of freedom and not one."""
    change = np.zeros(20)
    change[:2] = 3, -1
    found = total(simple(20, 1000), change, np.ones(20))
    alone = total(simple(20, 1000), change)
    assert (found.freedom[0], alone.freedom[0]) == (19, 1)
    assert one(found) == one(alone)
    # one plot changed: its difference is known from all of them
    change[1] = 0
    assert total(simple(20, 1000), change, np.ones(20)).standard_error[0] > 0
    assert np.isnan(total(simple(1, 1000), [3.0], [1.0]).standard_error[0])


def test_a_mean_that_rests_on_one_full_plot_has_few_degrees_of_freedom() -> None:
    """Nine plots with one tree and one with 91: parts of 0.01 and 0.91, so 1.2 plots in effect."""
    trees = np.array([1.0] * 9 + [91.0])
    heights = trees * np.linspace(9, 11, 10)
    assert ratio(simple(10, 1000), heights, trees).freedom[0] == 1
    alike = np.ones(10)
    freedom = ratio(simple(10, 1000), np.linspace(9, 11, 10), alike).freedom[0]
    assert 8.9 < freedom < 9


def test_one_plot_in_a_stratum_leaves_no_standard_error() -> None:
    design = make_design(np.ones(3), [10, 10], [0, 0, 1])
    assert np.isnan(total(design, [1, 2, 3]).standard_error[0])


def test_degrees_of_freedom_lie_between_the_smallest_stratum_and_all() -> None:
    for seed in range(30):
        design, y, _ = random_plots(seed)
        freedom = total(design, y).freedom[0]
        assert design.plots.min() - 1 <= freedom + 1e-9
        assert freedom <= len(y) - design.strata + 1e-9


def test_trees_without_a_value_are_taken_to_be_like_the_others() -> None:
    known, counted = np.array([2.0, 4.0, 3.0]), np.array([4.0, 4.0, 4.0])
    y = np.array([10.0, 22.0, 16.0])
    found = total_from_known(simple(3, 30), y, known, counted)
    assert found.value[0] == pytest.approx(48 / 9 * 120)
    full = total_from_known(simple(3, 30), y, counted, counted)
    assert one(full) == pytest.approx(one(total(simple(3, 30), y)))


@pytest.mark.parametrize("summed", [0.1, 0.5, 1.2])
def test_cover_of_crowns_thrown_at_random(summed: float) -> None:
    """Discs on a square whose edges meet, looked at in points; no formula is used."""
    random = np.random.default_rng(3)
    radius = random.uniform(0.005, 0.02, 4000)
    radius = radius[: np.searchsorted(np.cumsum(pi * radius**2), summed)]
    centres, points = random.random((len(radius), 2)), random.random((3000, 2))
    apart = np.abs(points[:, None, :] - centres[None, :, :])
    apart = np.minimum(apart, 1 - apart)
    open_share = ((apart**2).sum(axis=2) > radius**2).all(axis=1).mean()
    assert cover_with_random_overlap(summed) == pytest.approx(1 - open_share, abs=0.03)
