"""The open data of real urban trees through the whole of a fill, against figures counted apart.

McPherson, van Doorn & Peper (2016), Urban tree database, doi 10.2737/RDS-2016-0005. Each figure
was counted in the table as published; where that is short, the test counts it there again.
"""

from collections import Counter
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from python_calamine import CalamineWorkbook

from demo_workbooks import from_table
from tests.real_trees import real_trees
from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.jobs.fill.fill import Filled, fill

pytestmark = pytest.mark.slow
# a plain difference of two one-decimal figures, and what floating point adds to it
DIFFERS_BY = 0.05 + 1e-9


@pytest.fixture(scope="module")
def table() -> pd.DataFrame:
    return real_trees()


@pytest.fixture(scope="module")
def book(table: pd.DataFrame, tmp_path_factory: pytest.TempPathFactory) -> Path:
    return from_table.build(table, tmp_path_factory.mktemp("open data") / "trees.xlsx")


@pytest.fixture(scope="module")
def filled(book: Path) -> Filled:
    return fill(book, book.with_name("filled.xlsx"))


@pytest.fixture(scope="module")
def both_limits(filled: Filled) -> pd.DataFrame:
    lines = filled.outcome.setups[["total_height", "crown_base"]]
    return lines.dropna()


def lines_of(filled: Filled, *checks: str) -> set[int]:
    """Return the positions of the lines that carry a finding of one of these checks."""
    return {
        line
        for finding in filled.outcome.findings
        if finding.check in checks
        for line in finding.lines
    }


def test_every_line_is_read(filled: Filled, table: pd.DataFrame) -> None:
    assert len(filled.outcome.survey.lines) == len(table) == 7763
    assert not [f for f in filled.outcome.survey.findings if f.severity == "error"]


def test_lines_with_a_total_height(filled: Filled) -> None:
    assert filled.outcome.setups["total_height"].notna().sum() == 7744
    assert filled.outcome.trees["total_height"].notna().sum() == 7744


def test_heights_are_those_of_the_table(filled: Filled, table: pd.DataFrame) -> None:
    for ours, theirs in (("total_height", "height_m"), ("crown_base", "crown_base_m")):
        np.testing.assert_allclose(filled.outcome.setups[ours], table[theirs], atol=1e-9)


def test_distinct_plot_and_tree_pairs(filled: Filled) -> None:
    lines = filled.outcome.survey.lines
    assert len(lines[["plot", "tree"]].drop_duplicates()) == 7591


def test_shared_numbers_are_not_averaged(filled: Filled) -> None:
    setups, lines = filled.outcome.setups, filled.outcome.survey.lines
    shared = setups["duplicate"].to_numpy()
    assert shared.sum() == 320
    assert len(lines.loc[shared, ["plot", "tree"]].drop_duplicates()) == 148
    assert setups.loc[shared, "tree_position"].is_unique
    assert len(filled.outcome.trees) == 7763


def test_every_shared_number_is_a_finding(filled: Filled) -> None:
    shared = np.flatnonzero(filled.outcome.setups["duplicate"])
    assert lines_of(filled, "duplicate-number") == set(shared.tolist())


def test_crown_depth_over_lines_with_both_limits(both_limits: pd.DataFrame) -> None:
    depth = both_limits["total_height"] - both_limits["crown_base"]
    assert len(depth) == 7697
    assert depth.mean() == pytest.approx(9.82, abs=0.005)
    assert (depth / both_limits["total_height"]).mean() == pytest.approx(0.743, abs=0.0005)


def test_crown_base_at_or_above_the_top(filled: Filled, both_limits: pd.DataFrame) -> None:
    wrong = both_limits[both_limits["crown_base"] >= both_limits["total_height"]]
    assert len(wrong) == 3
    assert lines_of(filled, "base-above-top", "crown-of-no-depth") == set(wrong.index)


def test_recorded_crown_depths_that_differ(filled: Filled, table: pd.DataFrame) -> None:
    ours = table["height_m"] - table["crown_base_m"]
    apart = (table["crown_depth_m"] - ours).abs() > DIFFERS_BY
    assert apart.sum() == 13
    assert lines_of(filled, "recorded-depth-differs") == set(np.flatnonzero(apart).tolist())


def test_recorded_mean_widths_that_differ(filled: Filled, table: pd.DataFrame) -> None:
    ours = table[["crown_width_along_m", "crown_width_across_m"]].mean(axis=1, skipna=False)
    apart = (table["crown_width_mean_m"] - ours).abs() > DIFFERS_BY
    assert apart.sum() == 10
    assert lines_of(filled, "recorded-width-differs") == set(np.flatnonzero(apart).tolist())


def test_multi_stem_trees(filled: Filled) -> None:
    assert (filled.outcome.trees["stem_count"] > 1).sum() == 211


def test_the_trees_tab_holds_every_tree(filled: Filled) -> None:
    assert filled.written_to is not None
    shown = CalamineWorkbook.from_path(filled.written_to).get_sheet_by_name(RESULT_TABS["trees"])
    rows = shown.to_python()
    heading = next(row for row in rows if "Plot" in row and "Tree" in row)
    column = heading.index("Plot")
    places = set(filled.outcome.survey.lines["plot"])
    counted = Counter(row[column] for row in rows if row[column] in places)
    assert counted == Counter(filled.outcome.trees["plot"])
