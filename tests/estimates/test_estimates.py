"""Estimates of whole surveys: against sums done by hand, and words in place of bad numbers."""

from math import exp, pi, sqrt

import numpy as np
import pytest
from scipy import stats

from tests.estimates.make_sample import (
    LINES,
    PLOTS,
    STRATA,
    outcome_of,
    plot,
    row,
    tree,
    trees,
)
from xlhelpers.estimates.estimates import estimate
from xlhelpers.estimates.rows import ROWS
from xlhelpers.survey.model import Finding


@pytest.fixture(scope="module")
def found():
    return estimate(outcome_of(LINES, PLOTS, STRATA))


class TestByHand:
    def test_columns(self, found):
        assert tuple(found.table.columns) == ROWS.names
        assert not found.is_census
        assert found.confidence == 0.95

    def test_total_of_a_stratum_with_its_interval(self, found):
        n, y = row(found, "trees", "total", scope="North"), np.array([2, 5, 1, 0])
        assert n["value"] == pytest.approx(250 * 2.0)
        error = 250 * sqrt((1 - 4 / 250) * y.var(ddof=1) / 4)
        assert n["standard_error"] == pytest.approx(error)
        # three plots have trees, so two degrees of freedom
        assert n["degrees_of_freedom"] == 2
        assert n["high"] == pytest.approx(500 + error * stats.t.ppf(0.975, 2))
        assert n["low"] == 0

    def test_total_of_the_town_adds_up(self, found):
        parts = [row(found, "trees", "total", scope=s) for s in ("North", "South")]
        town = row(found, "trees", "total")
        assert town["value"] == pytest.approx(500 + 100 * 4.5)
        assert town["standard_error"] == pytest.approx(
            sqrt(sum(part["standard_error"] ** 2 for part in parts))
        )
        assert (town["plots"], town["plots_with"], town["trees"]) == (6, 5, 17)

    def test_by_area(self, found):
        density = row(found, "trees", "per area")
        assert density["value"] == pytest.approx(950 / 140_000)

    def test_mean_height_is_a_ratio_of_means(self, found):
        heights = 62.5 * (2 * 10 + 5 * 14 + 8) + 50 * 9 * 12
        assert row(found, "mean_height", "mean")["value"] == pytest.approx(heights / 950)

    def test_basal_and_crown_area(self, found):
        basal = pi / 4 * (0.04 * (62.5 * 7 + 50 * 6) + 0.16 * (62.5 + 50 * 3))
        assert row(found, "basal_area", "total")["value"] == pytest.approx(basal)
        crowns = row(found, "crown_area", "total")
        assert crowns["value"] == pytest.approx(950 * pi / 4 * 24)
        cover = row(found, "crown_cover", "share")
        assert cover["value"] == pytest.approx(crowns["value"] / 140_000)
        overlap = row(found, "crown_cover_random_overlap", "share")
        assert overlap["value"] == pytest.approx(1 - exp(-cover["value"]))
        assert overlap["value"] < cover["value"]
        assert any("overlaps are not removed" in words for words in found.words)

    @pytest.mark.parametrize("kind", ["species", "diameter class"])
    def test_domains_add_up_to_the_whole(self, found, kind):
        for quantity in ("trees", "basal_area", "crown_area"):
            whole = row(found, quantity, "total")["value"]
            assert found.select(quantity, "total", kind)["value"].sum() == pytest.approx(whole)
        assert found.select("share_of_trees", "share", kind)["value"].sum() == pytest.approx(1)

    def test_a_species_counts_as_zero_where_it_is_absent(self, found):
        oak = row(found, "trees", "total", "Quercus robur", "species")
        north = 250**2 * (1 - 4 / 250) * np.var([2, 5, 0, 0], ddof=1) / 4
        south = 100**2 * (1 - 2 / 100) * np.var([0, 6], ddof=1) / 2
        assert oak["value"] == pytest.approx(62.5 * 7 + 50 * 6)
        assert oak["standard_error"] == pytest.approx(sqrt(north + south))
        assert "Such trees were found on 3 plots only." in oak["words"]

    def test_what_stands_on_one_plot_gets_words(self, found):
        other = [*LINES, tree("A", 9, species="Norway spruce")]
        rare = row(
            estimate(outcome_of(other, PLOTS, STRATA)), "trees", "total", "Picea abies", "species"
        )
        assert np.isnan(rare["value"])
        assert "one plot only" in rare["words"]
        assert rare["trees"] == 1

    def test_none_dead_is_no_proof(self, found):
        dead = row(found, "share_dead", "share")
        assert dead["value"] == 0
        assert np.isnan(dead["high"])
        assert "does not prove" in dead["words"]


class TestPlots:
    def test_what_each_plot_counts_as(self):
        plots = [
            *PLOTS,
            plot("G", status="refused", reached=0.0),
            plot("H", status="later"),
            plot("I", status="not safe"),
            plot("J", status="outside"),
            plot("K"),
            plot("L", "West"),
            plot("M", inside=None, reached=None),
            plot("N", reached=0.0),
            plot("A"),
        ]
        lines = [*LINES, tree("L", 1), tree("M", 1), tree("N", 1)]
        found = estimate(outcome_of(lines, plots, STRATA))
        roles = dict(zip(found.plots["plot"][:14], found.plots["counted_as"][:14], strict=True))
        assert roles == {
            **dict.fromkeys("ABCEF", "measured"),
            "D": "no trees",
            **dict.fromkeys("GHIKN", "missing"),
            "J": "outside",
            **dict.fromkeys("LM", "left out"),
        }
        assert found.plots["because"].iloc[14] == "listed twice"
        assert row(found, "trees", "total")["value"] == pytest.approx(950)
        said = " ".join(found.words)
        for words in ("refused: G", "not safe: I", "outside the town", "its area is missing (M)",
                      "Not in the figures: 3 trees", "not on Strata (L)"):  # fmt: skip
            assert words in said, words

    def test_a_plot_cut_by_the_edge_or_in_part_reached(self):
        plots = [plot("A", inside=100.0, reached=100.0), plot("B", reached=300.0)]
        strata = [{"stratum": "North", "area": 100_000.0}]
        lines = [*trees("A", 2), *trees("B", 4)]
        found = estimate(outcome_of(lines, plots, strata))
        assert row(found, "trees", "total")["value"] == pytest.approx(6 / 400 * 100_000)
        assert any(
            "20.0 % of the plots' area could not be walked" in words for words in found.words
        )

    def test_more_reached_than_lies_inside(self):
        plots = [plot("A", inside=100.0, reached=400.0), plot("B")]
        strata = [{"stratum": "North", "area": 100_000.0}]
        found = estimate(outcome_of([*trees("A", 2), *trees("B", 4)], plots, strata))
        assert row(found, "trees", "total")["value"] == pytest.approx(6 / 500 * 100_000)
        assert any("larger than the area inside" in words for words in found.words)

    def test_without_strata_there_are_means_but_no_totals(self):
        found = estimate(outcome_of(LINES, PLOTS))
        total = row(found, "trees", "total")
        assert np.isnan(total["value"])
        assert "area is not stated" in total["words"]
        assert row(found, "trees", "per area")["value"] == pytest.approx(17 / 2400)
        assert row(found, "mean_height", "mean")["value"] == pytest.approx(206 / 17)
        assert set(found.table["scope_kind"]) == {"town"}

    def test_every_tree_has_no_sampling_error(self):
        plots = [plot(name, "", inside=None, reached=None) for name in "ABCEF"]
        found = estimate(outcome_of(LINES, plots, survey_kind="every tree"))
        assert found.is_census
        total = row(found, "trees", "total")
        assert total["value"] == total["low"] == total["high"] == 17
        assert total["standard_error"] == 0
        assert row(found, "mean_height", "mean")["measurement_systematic"] > 0
        assert np.isnan(row(found, "trees", "per area")["value"])
        assert row(found, "trees", "total", "Acer platanoides", "species")["value"] == 4


class TestWordsNotNumbers:
    def blank(self, found, quantity, kind, words, **where):
        chosen = row(found, quantity, kind, **where)
        for name in ("value", "standard_error", "low", "high"):
            assert np.isnan(chosen[name]), (quantity, name)
        assert words in chosen["words"]

    def test_a_stratum_without_plots(self):
        strata = [*STRATA, {"stratum": "West", "area": 5e4}]
        found = estimate(outcome_of(LINES, PLOTS, strata))
        for quantity, kind in (("trees", "total"), ("mean_height", "mean")):
            self.blank(found, quantity, kind, "Stratum West has no measured plot")
        assert row(found, "trees", "total", scope="North")["value"] == pytest.approx(500)
        assert "Stratum West has no measured plot." in found.words

    def test_one_plot_only(self):
        found = estimate(outcome_of(trees("A", 4), [plot("A")], STRATA[:1]))
        self.blank(found, "trees", "total", "Too few plots to say")
        self.blank(found, "mean_height", "mean", "Too few plots to say")
        assert any(words.startswith("Only one plot") for words in found.words)

    def test_one_plot_in_a_stratum(self):
        found = estimate(outcome_of(LINES, PLOTS[:-1], STRATA))
        self.blank(found, "trees", "total", "Too few plots to say")
        assert row(found, "trees", "total", scope="North")["standard_error"] > 0
        assert any("Only one plot in South" in words for words in found.words)

    @pytest.mark.parametrize(
        ("wrong", "words"),
        [
            ({"area": 1000.0}, "but its plots alone have"),
            ({"plots_possible": 2500}, "but the 2,500 plots that would fit have"),
            ({"area": None, "plots_possible": 3}, "but only 3 would fit as stated"),
        ],
    )
    def test_areas_that_do_not_add_up(self, wrong, words):
        found = estimate(outcome_of(LINES, PLOTS, [STRATA[0] | wrong, STRATA[1]]))
        self.blank(found, "trees", "total", words)
        self.blank(found, "trees", "total", words, scope="North")
        assert row(found, "mean_height", "mean", scope="North")["value"] > 0

    def test_no_areas(self):
        plots = [plot(name, "", inside=None, reached=None) for name in "ABC"]
        found = estimate(outcome_of(LINES[:8], plots))
        self.blank(found, "trees", "total", "area is not stated")
        self.blank(found, "trees", "per area", "no area to work with")
        self.blank(found, "crown_cover", "share", "no area to work with")
        assert row(found, "mean_height", "mean")["value"] > 0

    def test_plots_possible_alone_give_totals(self):
        plots = [plot(name, "", inside=None, reached=None) for name in "ABC"]
        strata = [{"stratum": "North", "plots_possible": 250}]
        found = estimate(outcome_of(LINES[:8], plots, strata))
        assert row(found, "trees", "total")["value"] == pytest.approx(250 * 8 / 3)
        self.blank(found, "trees", "per area", "no area to work with")

    def test_all_trees_dead(self):
        dead = [line | {"condition": "D"} for line in LINES]
        found = estimate(outcome_of(dead, PLOTS, STRATA))
        for quantity, kind in (
            ("mean_height", "mean"), ("basal_area", "total"), ("crown_cover", "share"),
        ):  # fmt: skip
            self.blank(found, quantity, kind, "are dead")
        assert row(found, "dead_trees", "total")["value"] == pytest.approx(950)

    def test_no_diameters(self):
        lines = [line | {"diameter": None} for line in LINES]
        found = estimate(outcome_of(lines, PLOTS, STRATA))
        for quantity, kind in (("basal_area", "total"), ("mean_diameter", "mean")):
            self.blank(found, quantity, kind, "has a diameter")
        assert row(found, "trees", "total", "no diameter", "diameter class")["trees"] == 17

    @pytest.mark.parametrize("lines", [[], LINES])
    def test_nothing_measured(self, lines):
        for plots in ([], [plot(name, status="later") for name in "ABCEF"]):
            found = estimate(outcome_of(lines, plots, STRATA[:1]))
            self.blank(found, "trees", "total", "No plot was measured")
            self.blank(found, "mean_height", "mean", "No plot was measured")

    def test_empty_plots_alone(self):
        plots = [plot(name, status="no trees") for name in "ABC"]
        found = estimate(outcome_of([], plots, STRATA[:1]))
        assert row(found, "trees", "total")["value"] == 0
        assert "does not prove" in row(found, "trees", "total")["words"]
        self.blank(found, "mean_height", "mean", "There are no trees")


def test_a_tree_without_diameter_is_taken_to_be_like_the_others_and_that_is_said():
    lines = [*trees("A", 3), *trees("B", 2), tree("B", 3, diameter=None)]
    found = estimate(outcome_of(lines, [plot("A"), plot("B"), plot("C", status="no trees")]))
    basal = row(found, "basal_area", "per area")
    assert basal["value"] == pytest.approx(6 * pi / 4 * 0.04 / 1200)
    assert "1 of 6 has no diameter" in basal["words"]
    assert (basal["trees"], basal["trees_without"]) == (5, 1)


def test_open_findings_stand_beside_the_number():
    subject = (("plot", "A"),)
    finding = Finding("check", "warning", "paper", subject, "message", "action", lines=(0, 1))
    found = estimate(outcome_of(LINES, PLOTS, STRATA, [finding]))
    height = row(found, "mean_height", "mean")
    assert height["open_trees"] == 2
    assert "2 of 17 have a doubtful height" in height["words"]


def test_the_systematic_part_does_not_shrink_with_more_trees():
    """Twice the trees: the readings' part falls by the root of two, what is shared stays."""
    few = [*trees("A", 4, tip=40), *trees("B", 6, tip=60)]
    many = [*trees("A", 8, tip=40), *trees("B", 12, tip=60)]
    one, two = (
        row(estimate(outcome_of(lines, [plot("A"), plot("B")])), "mean_height", "mean")
        for lines in (few, many)
    )
    assert one["value"] == pytest.approx(two["value"])
    assert two["measurement_random"] == pytest.approx(one["measurement_random"] / sqrt(2))
    for name in ("measurement_systematic", "measurement_observer"):
        assert two[name] == pytest.approx(one[name])
        assert one[name] > 0
    # 2.9 % of the height, Luoma et al. (2017), one observer for all
    assert one["measurement_observer"] == pytest.approx(0.029 * one["value"])


def test_two_people_may_make_up_for_each_other():
    plots = [plot("A", crew="AB CD"), plot("B", crew="CD AB")]
    lines = [*trees("A", 4), *trees("B", 4, tip=42)]
    height = row(estimate(outcome_of(lines, plots)), "mean_height", "mean")
    expected = 0.029 * sqrt(10.0**2 + 10.4**2) / 2
    assert height["measurement_observer"] == pytest.approx(expected)


def test_doubling_the_trees_of_one_plot_raises_the_standard_error(found):
    more = [*LINES, *(tree("B", 10 + i, tip=60) for i in range(5))]
    doubled = row(estimate(outcome_of(more, PLOTS, STRATA)), "trees", "total")
    assert doubled["standard_error"] > row(found, "trees", "total")["standard_error"]


def test_us_classes_keep_a_diameter_on_the_bound():
    lines = [*trees("A", 3, diameter=6 * 2.54), *trees("B", 2, diameter=12 * 2.54)]
    found = estimate(outcome_of(lines, [plot("A"), plot("B")], units="us"))
    classes = found.select("trees", "per area", "diameter class")
    held = classes[classes["trees"] > 0]["domain"].tolist()
    assert held == ["6 to under 12 in", "12 to under 18 in"]


def test_groups_where_any_is_written(found):
    assert len(found.select("trees", "total", "group")) == 0
    lines = [line | {"group": "street" if line["plot"] in "AE" else ""} for line in LINES]
    groups = estimate(outcome_of(lines, PLOTS, STRATA)).select("trees", "total", "group")
    assert groups["domain"].tolist() == ["not stated", "street"]
    assert groups["value"].sum() == pytest.approx(950)
