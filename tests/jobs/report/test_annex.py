"""The list for the office names trees, the council's report does not; figures for programs."""

import json
import math
from pathlib import Path

import openpyxl
import pytest

from tests.jobs.books import run
from tests.jobs.report.ten_surveys import TEN
from tests.jobs.reports import NORTH, SOUTH, cells, texts, town
from xlhelpers.jobs.report.verdicts import VERDICTS


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("annex")
    TEN["three strata"](folder / "town.xlsx")
    run("report", folder / "town.xlsx", "--out", folder / "said.xlsx", "--annex", "--json",
        folder / "said.json")  # fmt: skip
    return folder


def test_the_annex_lists_dead_trees_and_dead_tops_with_plot_and_number(folder: Path) -> None:
    rows = cells(folder / "said_office.xlsx")["For the office"]
    listed = [tuple(row[:4]) for row in rows if row[3] in ("dead", "dead top")]
    assert listed == [
        ("North", "1", "3", "dead"), ("North", "2", "1", "dead top"), ("South", "7", "2", "dead"),
        ("Riverside", "12", "6", "dead"), ("Riverside", "13", "1", "dead top"),
    ]  # fmt: skip
    said = " ".join(texts(folder / "said_office.xlsx"))
    assert "The crews saw 3 dead trees and 2 dead tops." in said
    assert "This report does not rate tree risk." in said
    for word in ("hazard", "urgent", "danger"):
        assert word not in said.lower()


def test_the_council_gets_counts_by_part_of_the_town_and_no_plot(folder: Path) -> None:
    rows = cells(folder / "said.xlsx")["Trees"]
    start = next(at for at, row in enumerate(rows) if row[0] == "What the crews saw")
    counts = {row[0]: (row[1], row[3], row[4]) for row in rows[start + 4 : start + 8]}
    assert counts == {
        "North": (1, 1, 42), "South": (1, 0, 14), "Riverside": (1, 1, 20),
        "Whole town": (3, 2, 76),
    }  # fmt: skip
    book = openpyxl.load_workbook(folder / "said.xlsx")
    assert "For the office" not in book.sheetnames


def test_without_areas_what_was_seen_is_still_told_by_part(tmp_path: Path) -> None:
    book = town(tmp_path / "town.xlsx", strata=[{"stratum": "North"}, {"stratum": "South"}],
                tree={"condition": "D"})  # fmt: skip
    run("report", book, "--out", tmp_path / "said.xlsx")
    rows = cells(tmp_path / "said.xlsx")["Trees"]
    start = next(at for at, row in enumerate(rows) if row[0] == "Part of the town")
    assert [row[:5] for row in rows[start + 1 : start + 4]] == [
        ["North", sum(NORTH), "100 %", 0, sum(NORTH)],
        ["South", sum(SOUTH), "100 %", 0, sum(SOUTH)],
        ["All plots", sum(NORTH + SOUTH), "100 %", 0, sum(NORTH + SOUTH)],
    ]
    assert "Verdict" not in [row[5] for row in rows if len(row) > 5]


def test_no_annex_is_written_unasked_and_none_is_overwritten(tmp_path: Path) -> None:
    TEN["one plot"](tmp_path / "town.xlsx")
    run("report", tmp_path / "town.xlsx", "--out", tmp_path / "said.xlsx")
    assert sorted(path.name for path in tmp_path.glob("said*")) == ["said.xlsx"]
    (tmp_path / "more_office.xlsx").write_bytes(b"mine")
    code = run("report", tmp_path / "town.xlsx", "--out", tmp_path / "more.xlsx", "--annex")
    assert code == 2
    assert (tmp_path / "more_office.xlsx").read_bytes() == b"mine"
    assert not (tmp_path / "more.xlsx").exists()


def test_programs_get_the_same_figures_with_their_verdicts(folder: Path) -> None:
    (record,) = json.loads((folder / "said.json").read_text())
    assert record["about"] == "sample"
    figures = {(each["scope"], each["domain_kind"], each["domain"], each["quantity"],
                each["kind"]): each for each in record["figures"]}  # fmt: skip
    trees = figures["", "", "", "trees", "total"]
    # 42 trees on 6 of 750 plots, 14 on 5 of 250, 20 on 5 of 125
    assert trees["value"] == pytest.approx(42 / 6 * 750 + 14 / 5 * 250 + 20 / 5 * 125)
    # from 76 trees on 16 plots, with a margin below 30 %
    assert trees["relative_margin"] < 0.3
    assert trees["verdict"] == VERDICTS[2]
    margin = (trees["high"] - trees["low"]) / 2 / trees["value"]
    assert trees["relative_margin"] == pytest.approx(margin)
    assert 0.1 < margin < 0.3
    assert all(each["verdict"] in (*VERDICTS, None) for each in record["figures"])
    assert all(each["verdict"] for each in record["figures"] if (each["value"] or 0) > 0)
    halves = {each["quantity"]: each["plots"] for each in record["half_margins"]}
    assert halves["trees"] > 16
    assert halves["dead_trees"] is None
    assert ("", "age", "old", "share_of_trees", "share") in figures
    assert not any(isinstance(value, float) and math.isnan(value)
                   for each in record["figures"] for value in each.values())  # fmt: skip
