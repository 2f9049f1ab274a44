"""Tables by plot and by species against sums done by hand."""

from math import pi, sqrt

import numpy as np
import pytest

from tests.survey.make_survey import PLAIN_PLOT, make_survey
from xlhelpers.survey.model import Finding
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.setups.setups import compute_setups
from xlhelpers.survey.summaries import by_plot, by_species, open_lines, open_trees
from xlhelpers.survey.trees.trees import build_trees

READ = {"distance": 20.0, "foot_reading": -10.0, "base_reading": 10.0}
LINES = [
    {"plot": "1", "tree": "1", "species": "English oak", "diameter": 20, "tip_reading": 40},
    {"plot": "1", "tree": "2", "species": "Quercus robur", "diameter": 40, "tip_reading": 60},
    {"plot": "1", "tree": "2", "species": "", "setup": 2, "tip_reading": 60},
    {"plot": "1", "tree": "3", "species": "quercus robur", "condition": "D", "tip_reading": 90},
    {"plot": "2", "tree": "1", "species": "Wonder tree", "diameter": 10, "tip_reading": 20},
    {"plot": "2", "tree": "2", "species": "wonder  TREE", "condition": "T", "tip_reading": 30},
    {
        "plot": "7",
        "tree": "1",
        "species": "Picea abies",
        "width_widest": 4,
        "scale": "percent",
        "tip_reading": 50,
    },
    {"plot": "", "tree": "1", "species": ""},
]
PLOTS = [
    PLAIN_PLOT | {"plot": "2", "stratum": "North", "trees_counted": 2},
    PLAIN_PLOT | {"plot": "1"},
    PLAIN_PLOT | {"plot": "3", "status": "no trees"},
]


def finding(severity, *lines):
    return Finding("check", severity, "paper", (("plot", "1"),), "message", "action", lines=lines)


@pytest.fixture(scope="module")
def outcome():
    lines = [READ | line if line["plot"] else line for line in LINES]
    survey = make_survey(
        lines=lines,
        plots=PLOTS,
        instruments=[{"instrument": "C1", "kind": "clinometer, percent and degrees"}],
    )
    setups = compute_setups(survey)
    findings = (finding("warning", 2), finding("note", 0), finding("error", 1, 4))
    return Outcome(survey, setups, build_trees(survey, setups), findings)


def row(table, name, value):
    return table[table[name] == value].iloc[0]


def test_notes_are_never_open(outcome):
    assert open_lines(outcome.findings) == {1, 2, 4}
    assert open_trees(outcome) == {1, 3}


class TestByPlot:
    def test_listed_plots_in_their_order_then_others_then_none(self, outcome):
        table = by_plot(outcome)
        assert table["plot"].tolist() == ["2", "1", "3", "7", ""]
        assert table["status"].tolist() == ["measured", "measured", "no trees", "", ""]
        assert table["stratum"].tolist() == ["North", "", "", "", ""]
        assert table["trees_counted"].tolist()[0] == 2

    def test_counts(self, outcome):
        table = by_plot(outcome)
        assert table["trees"].tolist() == [2, 3, 0, 1, 1]
        assert table["setups"].tolist() == [2, 4, 0, 1, 1]
        assert table["dead"].tolist() == [0, 1, 0, 0, 0]
        assert table["dead_tops"].tolist() == [1, 0, 0, 0, 0]
        assert table["open_trees"].tolist() == [1, 1, 0, 0, 0]
        assert table["species"].tolist() == [1, 1, 0, 1, 1]
        assert table["share"].sum() == pytest.approx(1)

    def test_a_plot_without_trees_has_no_means(self, outcome):
        empty = row(by_plot(outcome), "plot", "3")
        assert empty["height_n"] == 0
        assert np.isnan(empty["height_mean"])
        assert np.isnan(empty["basal_area_sum"])


class TestBySpecies:
    def test_a_row_for_each_species_as_kept_the_most_counted_first(self, outcome):
        table = by_species(outcome)
        assert table["species"].tolist() == ["Quercus robur", "Wonder tree", "", "Picea abies"]
        assert table["known_species"].tolist() == [True, False, False, True]
        assert table["trees"].tolist() == [3, 2, 1, 1]
        assert table["plots"].tolist() == [1, 1, 1, 1]
        assert table["share"].tolist() == pytest.approx([3 / 7, 2 / 7, 1 / 7, 1 / 7])

    def test_means_and_spread_leave_dead_trees_out(self, outcome):
        # living oaks: 10 m and 14 m high, stems of 20 and 40 cm
        oak = row(by_species(outcome), "species", "Quercus robur")
        assert oak["living"] == 2
        assert oak["height_mean"] == pytest.approx(12)
        assert oak["height_sd"] == pytest.approx(sqrt(8))
        assert oak["height_n"] == 2
        assert oak["crown_depth_mean"] == pytest.approx((6 + 10) / 2)
        assert oak["live_crown_ratio_mean"] == pytest.approx((6 / 10 + 10 / 14) / 2)
        assert oak["diameter_mean"] == pytest.approx(30)
        assert oak["basal_area_sum"] == pytest.approx(pi / 4 * (0.2**2 + 0.4**2))
        assert oak["basal_area_n"] == 2

    def test_crown_sums(self, outcome):
        # a cone 4 m wide and 8 m deep
        spruce = row(by_species(outcome), "species", "Picea abies")
        assert spruce["crown_area_sum"] == pytest.approx(pi * 4)
        assert spruce["crown_volume_sum"] == pytest.approx(pi * 4 * 8 / 3)
        assert spruce["crown_volume_n"] == 1

    def test_one_tree_has_no_spread(self, outcome):
        spruce = row(by_species(outcome), "species", "Picea abies")
        assert np.isnan(spruce["height_sd"])
        assert spruce["height_mean"] == pytest.approx(12)


def test_both_tables_count_the_same(outcome):
    plots, species = by_plot(outcome), by_species(outcome)
    for column in ("trees", "setups", "dead", "open_trees", "height_n", "crown_area_n"):
        assert plots[column].sum() == species[column].sum()


def test_empty_survey():
    survey = make_survey()
    setups = compute_setups(survey)
    nothing = Outcome(survey, setups, build_trees(survey, setups), ())
    assert len(by_plot(nothing)) == 0
    assert len(by_species(nothing)) == 0
