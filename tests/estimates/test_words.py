"""What is said of the estimates as a whole, and when it is not."""

import numpy as np
import pytest

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
from xlhelpers.estimates.intervals import BY_FEW, FEW_PLOTS, MEASURED

WHOLE = [{"stratum": "North", "area": 1_000_000.0}]


def many(count, **more):
    """Return plots of one stratum, and lines with one to three trees on each."""
    names = [f"P{i}" for i in range(count)]
    lines = [line for i, name in enumerate(names) for line in trees(name, 1 + i % 3)]
    return lines, [plot(name, **more) for name in names]


def said(lines, plots, strata=WHOLE, confidence=0.95, **rules):
    return " ".join(estimate(outcome_of(lines, plots, strata, **rules), confidence).words)


def test_many_missing_plots_are_said_to_outweigh_the_margin():
    lines, plots = many(18)
    few = said(lines, [*plots, plot("X", status="refused"), plot("Y", status="refused")])
    assert "Not reached: 2 plots of the sample (refused: X, Y)" in few
    assert "% of the sample" not in few
    lines, plots = many(8)
    assert "That is 11 % of the sample" in said(lines, [*plots, plot("X", status="refused")])


def test_trees_counted_in_the_field_but_not_keyed():
    plots = [plot("A", trees_counted=9), plot("B", trees_counted=1)]
    words = said([*trees("A", 6), *trees("B", 2)], plots)
    assert "The crews counted 3 trees more on these plots than are entered" in words
    assert "crews counted" not in said(LINES, PLOTS, STRATA)


def test_trees_that_share_a_number_are_each_counted():
    again = [*LINES, tree("A", 1, species="Norway spruce", tip=55)]
    found = estimate(outcome_of(again, PLOTS, STRATA))
    assert "2 trees share a number with another tree. Each is counted." in found.words
    assert row(found, "trees", "total")["trees"] == 18


@pytest.mark.parametrize(("area", "sampled"), [(40_000.0, True), (1e6, False)])
def test_what_share_was_sampled_is_said_where_it_matters(area, sampled):
    """Ten plots of 400 m2 are 10 % of 4 ha."""
    lines, plots = many(10)
    words = said(lines, plots, [{"stratum": "North", "area": area}])
    assert ("Up to 10 % of a part of the town was sampled" in words) == sampled


def test_the_share_sampled_is_that_of_the_area_where_no_number_of_plots_is_stated():
    lines, plots = many(10)
    small, large = (
        estimate(outcome_of(lines, plots, [{"stratum": "North", "area": area}]))
        for area in (40_000.0, 4e9)
    )
    errors = [row(one, "trees", "per area")["standard_error"] for one in (small, large)]
    assert errors[0] / errors[1] == pytest.approx(np.sqrt(0.9))


@pytest.mark.parametrize(
    ("plots", "words"),
    [
        (3, "With 3 plots the margins themselves are very uncertain."),
        (10, "95 % contained the true total in about 92 % of surveys with 10 plots."),
        (30, "95 % contained the true total in about 90 % of surveys with 30 plots."),
        (7, ""),
    ],
)
def test_few_plots_are_said_to_leave_the_margins_unsure(plots, words):
    spoken = said(*many(plots))
    if words:
        assert words in spoken
    else:
        assert "contained the true" not in spoken
        assert "very uncertain" not in spoken
    assert "contained the true" not in said(*many(plots), confidence=0.9)


def test_how_often_intervals_hold_stands_on_each_row():
    """Means go by the plots that have such trees, totals by all of them."""
    lines, plots = many(10)
    empty = [plot(f"E{i}", status="no trees") for i in range(10)]
    found = estimate(outcome_of(lines, [*plots, *empty], WHOLE))
    names = ["interval_held", "interval_above", "interval_below"]
    assert row(found, "trees", "total")[names].tolist() == pytest.approx(MEASURED[20][0])
    assert row(found, "mean_diameter", "mean")["plots_with"] == 10
    assert np.isnan(row(found, "mean_diameter", "mean")["interval_held"])  # no spread, no interval
    height = [line | {"tip_reading": 40 + 3 * i} for i, line in enumerate(lines)]
    found = estimate(outcome_of(height, [*plots, *empty], WHOLE))
    assert row(found, "mean_height", "mean")[names].tolist() == pytest.approx(MEASURED[10][1])


def test_plots_possible_and_their_mean_area_stand_in_for_an_area():
    lines = [*trees("A", 2), *trees("B", 4)]
    plots = [plot("A", inside=300.0, reached=300.0), plot("B", inside=500.0, reached=400.0)]
    found = estimate(outcome_of(lines, plots, [{"stratum": "North", "plots_possible": 100}]))
    # 100 plots of (300 + 500) / 2 m2; 6 trees on the 700 m2 that were walked
    assert row(found, "trees", "total")["value"] == pytest.approx(6 / 700 * 40_000)
    assert any("No area is stated for North" in words and "4.00 ha" in words
               for words in found.words)  # fmt: skip


def test_stated_area_serves_plots_that_have_none():
    plots = [plot(name, inside=None, reached=None) for name in "AB"]
    strata = [{"stratum": "North", "area": 50_000.0, "plots_possible": 100}]
    found = estimate(outcome_of([*trees("A", 2), *trees("B", 4)], plots, strata))
    assert row(found, "trees", "total")["value"] == pytest.approx(300)
    assert row(found, "trees", "per area")["value"] == pytest.approx(300 / 50_000)


def test_an_empty_plot_without_an_area_is_taken_to_be_of_the_usual_size():
    """Without it the town would seem fuller."""
    empty = plot("C", status="no trees", inside=None, reached=None)
    found = estimate(outcome_of([*trees("A", 2), *trees("B", 4)], [plot("A"), plot("B"), empty]))
    assert row(found, "trees", "per area")["value"] == pytest.approx(6 / 1200)


def test_the_ends_of_a_total_are_said_to_be_unequal_once_and_not_of_a_census():
    lines, plots = many(10)
    assert said(lines, plots).count("The upper end of a total is farther from the figure") == 1
    assert "upper end" not in said(lines, plots, survey_kind="every tree")


def test_what_is_on_few_plots_is_an_order_of_magnitude():
    lines, plots = many(12)
    ash = [line | {"species": "Ash"} for line in trees("P0", 2)]
    for count in (2, FEW_PLOTS):
        more = [line | {"plot": f"P{at}", "tree": 9 + n, "species": "Ash"}
                for at in range(count) for n, line in enumerate(ash[:1 + at % 2])]  # fmt: skip
        table = estimate(outcome_of([*lines, *more], plots, WHOLE)).table
        rows = table[
            (table["domain"] == "Ash") & table["quantity"].isin(("trees", "share_of_trees"))
        ]
        assert len(rows) == 3
        for one in rows.to_dict("records"):
            # on 5 plots too, as a number from few trees and a share from few plots
            assert "This is an order of magnitude." in one["words"]
            sides = (one["interval_held"], one["interval_above"], one["interval_below"])
            assert (sides == BY_FEW) == (count < FEW_PLOTS)
            assert 0 <= one["low"] < one["value"] < one["high"] < 20 * one["value"]


def test_shares_end_at_the_whole_and_summed_crowns_do_not():
    dead = [line | {"condition": "D"} for line in (*trees("A", 4), *trees("B", 1))]
    wide = {"width_widest": 24.0, "width_across": 20.0}
    lines = [*dead, tree("B", 2, **wide), tree("C", 1, **wide), tree("C", 2, condition="D")]
    found = estimate(outcome_of(lines, [plot(name) for name in "ABC"], WHOLE))
    share = row(found, "share_dead", "share")
    assert share["value"] + share["standard_error"] > 0.9
    assert share["value"] < share["high"] <= 1
    overlap = row(found, "crown_cover_random_overlap", "share")
    cover = row(found, "crown_cover", "share")
    assert overlap["value"] < overlap["high"] <= 1
    assert overlap["high"] == pytest.approx(1 - np.exp(-cover["high"]))
    assert overlap["low"] == pytest.approx(1 - np.exp(-cover["low"]))
    assert cover["high"] > 1
    slope = np.exp(-cover["value"])
    assert overlap["standard_error"] == pytest.approx(slope * cover["standard_error"])


def test_the_interval_is_that_of_the_stated_confidence():
    outcome = outcome_of(LINES, PLOTS, STRATA)
    reach = {}
    for confidence in (0.5, 0.8, 0.95):
        town = row(estimate(outcome, confidence), "living_trees", "total")
        reach[confidence] = town["high"] - town["value"]
    assert reach[0.5] < reach[0.8] < reach[0.95]


def test_every_tree_counted_on_a_stated_area_gives_values_by_area():
    plots = [plot("A", inside=None, reached=None), plot("B", inside=None, reached=None)]
    lines = [*trees("A", 2), *trees("B", 4)]
    found = estimate(outcome_of(lines, plots, WHOLE, survey_kind="every tree"))
    density = row(found, "trees", "per area")
    assert density["value"] == density["high"] == pytest.approx(6e-6)


def test_a_plot_of_a_few_hundredths_of_a_square_metre_is_left_out_and_said():
    lines, plots = many(8)
    before = estimate(outcome_of(lines, plots, WHOLE)).select("trees", "total")["value"][0]
    typed = [*plots, plot("X", inside=0.04, reached=0.04)]
    found = estimate(outcome_of([*lines, *trees("X", 2)], typed, WHOLE))
    assert "hectares or acres typed?" in " ".join(found.words)
    assert found.select("trees", "total")["value"][0] == pytest.approx(before)
    # all of them: nothing is said of the town
    wrong = [plot(f"P{i}", inside=0.04, reached=0.04) for i in range(8)]
    assert np.isnan(estimate(outcome_of(lines, wrong, WHOLE)).table["value"]).all()
