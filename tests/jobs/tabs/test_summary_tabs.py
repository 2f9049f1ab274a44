"""By plot, By species and About this fill: totals, rows of their own, what is said."""

import numpy as np
import pandas as pd
import pytest

from tests.jobs.tabs.make_outcome import FACTS, finding, lines_of_town, make_outcome
from tests.jobs.tabs.reading import cell_under, heading_row, open_book, values_under
from xlhelpers.jobs.fill.tabs.result_tabs import render_tabs
from xlhelpers.jobs.fill.tabs.summary_columns import totals
from xlhelpers.pages.plan import FillFacts
from xlhelpers.survey.doubt.calibration import load_calibration
from xlhelpers.survey.model import Understood


def test_total_row_is_that_of_all_trees_at_once() -> None:
    values = pd.DataFrame(
        {
            "group": [*"aaabbcd"],
            "x": [1.0, 4.0, 2.5, 7.0, 9.0, 3.0, np.nan],
        }
    )
    grouped = values.groupby("group")["x"]
    rows = pd.DataFrame(
        {"x_mean": grouped.mean(), "x_sd": grouped.std(), "x_n": grouped.count(), "trees": 2}
    )
    total = totals(rows, ["trees"], ["x"], {"group": "All"})
    assert total["trees"] == 8
    assert total["x_n"] == 6
    assert total["x_mean"] == pytest.approx(values["x"].mean())
    assert total["x_sd"] == pytest.approx(values["x"].std())
    assert total["group"] == "All"


def test_sum_of_which_nothing_is_known_is_missing() -> None:
    rows = pd.DataFrame({"a": [np.nan, np.nan], "b": [np.nan, 2.0]})
    total = totals(rows, ["a", "b"], [], {})
    assert np.isnan(total["a"])
    assert total["b"] == 2.0


def test_total_of_nothing_has_no_mean() -> None:
    rows = pd.DataFrame({"x_mean": [], "x_sd": [], "x_n": [], "trees": []}, dtype=float)
    total = totals(rows, ["trees"], ["x"], {})
    assert total["trees"] == 0
    assert np.isnan(total["x_mean"])
    assert np.isnan(total["x_sd"])


@pytest.mark.parametrize(
    ("tab", "first"), [("By plot", "All plots"), ("By species", "All species")]
)
def test_total_row_stands_below_the_filter(tab: str, first: str) -> None:
    outcome = make_outcome(lines_of_town(60, 6))
    sheet = open_book(render_tabs(outcome, FACTS))[tab]
    row = heading_row(sheet, first)
    assert sheet.auto_filter.ref.endswith(str(row - 1))
    heading = heading_row(sheet, "Crown area (m²)")
    by_heading = {c.value: sheet.cell(row, c.column).value for c in sheet[heading]}
    living = outcome.trees[outcome.trees["condition"] != "D"]
    assert by_heading["Crown area (m²)"] == pytest.approx(living["projection_area"].sum())
    assert by_heading["Crown volume (m³)"] == pytest.approx(living["volume"].sum())
    assert by_heading["Dead trees"] == (outcome.trees["condition"] == "D").sum()
    column = next(c.column for c in sheet[heading - 1] if c.value == "Total height")
    mean, spread, count = (sheet.cell(row, column + i).value for i in range(3))
    assert mean == pytest.approx(living["total_height"].mean())
    assert spread == pytest.approx(living["total_height"].std())
    assert count == living["total_height"].notna().sum()


def test_species_as_typed_and_plot_without_trees_have_rows_of_their_own() -> None:
    lines = [
        {"plot": "1", "tree": "1", "species": "Quercus robur"},
        {"plot": "1", "tree": "2", "species": "big oak?"},
        {"plot": "1", "tree": "3", "species": ""},
    ]
    plots = [{"plot": "1", "status": "measured"}, {"plot": "2", "status": "refused"}]
    book = open_book(render_tabs(make_outcome(lines, [finding(0)], plots=plots), FACTS))
    names = {cell_under(book["By species"], "Species", i).value for i in range(3)}
    assert names == {"Quercus robur", "big oak?", "without a species"}
    assert cell_under(book["By plot"], "Plot", 1).value == 2
    assert cell_under(book["By plot"], "Status", 1).value == "refused"
    assert cell_under(book["By plot"], "Trees entered", 1).value == 0
    assert cell_under(book["By plot"], "Trees with open findings", 0).value == 1


def test_about_says_versions_rules_ways_and_what_was_understood() -> None:
    lines = lines_of_town(30, 3)
    lines[0]["distance"] = "NOT SAFE"
    outcome = make_outcome(lines, rules={"survey_name": "Harbour side", "breast_height": 1.35})
    object.__setattr__(
        outcome.survey,
        "understood",
        (Understood("Field sheet", "Diameter", "a decimal comma", 14, ("F12", "F19")),),
    )
    facts = FillFacts("9.8.7", 1, "2031-02-03 04:05", "harbour.xlsx", "12 cells")
    sheet = open_book(render_tabs(outcome, facts))["About this fill"]
    shown = {
        row[0].value: [c.value for c in row[1:] if c.value is not None]
        for row in sheet.iter_rows()
        if row[0].value is not None
    }
    assert shown["Program"] == ["xlhelpers 9.8.7"]
    assert shown["Filled"] == ["2031-02-03 04:05"]
    assert shown["Workbook"] == ["harbour.xlsx"]
    assert shown["Survey"] == ["Harbour side"]
    assert shown["Breast height"][0] == "1.35 m"
    sighted = (outcome.setups["tip_way"] == "sighted, percent").sum()
    assert shown["sighted, percent"][2] == sighted > 0
    assert shown["Field sheet: Diameter"] == [14, "a decimal comma (F12, F19)"]
    assert shown["NOT SAFE"] == [1]
    texts = " ".join(str(c.value) for row in sheet.iter_rows() for c in row)
    assert "Nowak" in texts


def test_every_check_is_listed_with_its_count() -> None:
    found = [finding(i, "1", str(i), check="base-above-top") for i in range(3)]
    sheet = open_book(render_tabs(make_outcome(lines_of_town(6, 1), found), FACTS))[
        "About this fill"
    ]
    first = heading_row(sheet, "Check (its code)")
    counts = {}
    for row in range(first + 1, sheet.max_row):
        if sheet.cell(row, 1).value is None:
            break
        counts[sheet.cell(row, 1).value] = sheet.cell(row, 3).value
    assert counts["Base above top (base-above-top)"] == 3
    assert counts["Number unread (number-unread)"] == 0
    assert len(counts) > 30


def test_how_often_a_named_cause_is_right_is_shown() -> None:
    sheet = open_book(render_tabs(make_outcome(lines_of_town(6, 1)), FACTS))["About this fill"]
    table = load_calibration()
    shown = values_under(sheet, "Cause was right (%)", len(table))
    assert shown == table["right_share"].tolist()
    assert values_under(sheet, "Lines in the trial", len(table)) == table["lines"].tolist()
