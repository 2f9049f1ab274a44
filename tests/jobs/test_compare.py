"""Two keyings of the demo town: planted disagreements are found, all of them and no others."""

from pathlib import Path
from typing import Any

import pytest

from tests.jobs.books import run
from tests.jobs.crews import changed
from tests.town import TOWN
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.jobs.compare.compare import compare
from xlhelpers.jobs.compare.keyed_twice import NO_LINE
from xlhelpers.jobs.compare.words import OPEN_TAB, RATES_TAB
from xlhelpers.jobs.new.new import new
from xlhelpers.package.parts.parts import sheet_named
from xlhelpers.package.sheet.grid import Grid, read_grid
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.crew_book import open_crew_book

FIELD = FIELD_SHEET.tab
# columns of the field sheet that people key
KEYED = [at for at, field in enumerate(FIELD_SHEET.fields, 1) if field.filled_by != "program"]
FIRST, LAST = 6, 376


def grid(path: Path, tab: str) -> Grid:
    package = Package.open(path)
    part = sheet_named(package, tab)
    assert part is not None
    return read_grid(package, part)


def rekeyed(target: Path, order: list[int], cells: dict[tuple[str, int, int], Any]) -> Path:
    """Write the town with its lines in another order; a row that is left out moves the rest up."""
    town = grid(TOWN, FIELD)
    rows = [*order, *[None] * (LAST - FIRST + 1 - len(order))]
    moved = {
        (FIELD, row, column): None if source is None else town.value(source, column)
        for row, source in enumerate(rows, FIRST)
        for column in KEYED
        if source is None or town.value(source, column) != town.value(row, column)
    }
    return changed(TOWN, target, {**moved, **cells})


def found(
    first: Path, second: Path, out: Path | None = None
) -> set[tuple[str, str, str, str, str]]:
    compared, _ = compare(first, second, out)
    columns = ["plot", "tree", "field", "first", "second"]
    return set(compared.open[columns].itertuples(index=False, name=None))


def test_a_keying_agrees_with_itself(tmp_path: Path) -> None:
    copy = changed(TOWN, tmp_path / "b.xlsx", {})
    assert run("compare", TOWN, copy) == 0


@pytest.mark.slow
def test_order_is_of_no_matter(tmp_path: Path) -> None:
    other = rekeyed(tmp_path / "b.xlsx", list(range(LAST, FIRST - 1, -1)), {})
    assert found(TOWN, other) == set()


def test_a_skipped_line_and_swapped_lines_set_nothing_else_at_odds(tmp_path: Path) -> None:
    order = [row for row in range(FIRST, LAST + 1) if row != 10]  # plot 1, tree 5
    order[20], order[21] = order[21], order[20]
    other = rekeyed(tmp_path / "b.xlsx", order, {(FIELD, 30, 6): 99.9, ("Plots", 8, 13): 14.0})
    compared, _ = compare(TOWN, other)
    lonely = [at for at, pair in enumerate(compared.pairs["lines"]) if pair.second == NO_LINE]
    lines = compared.open[compared.open["table"] == "lines"]
    one_sided = lines[lines["pair"].isin(lonely)]
    assert {(r.plot, r.tree) for r in one_sided.itertuples()} == {("1", "5")}
    others = compared.open.drop(one_sided.index)
    assert set(others[["plot", "tree", "field", "first", "second"]].itertuples(False, None)) == {
        ("2", "11", "diameter", "25.8", "99.9"),
        ("3", "", "trees_counted", "12", "14"),
    }


def test_tree_numbers_that_ran_on_after_a_skipped_line(tmp_path: Path) -> None:
    """A clerk skips a line and numbers on: the readings tell which lines belong together."""
    town = grid(TOWN, FIELD)
    order = [row for row in range(FIRST, LAST + 1) if row != 10]
    rows = [row for row in range(FIRST, LAST + 1) if town.value(row, 1) == town.value(FIRST, 1)]
    numbers = [town.value(row, 2) for row in rows]
    cells = {(FIELD, row, 2): numbers[at] for at, row in enumerate(rows[:-1])}
    compared, _ = compare(TOWN, rekeyed(tmp_path / "b.xlsx", order, cells))
    pairs = compared.pairs["lines"]
    both = compared.open[[NO_LINE not in (pairs[at].first, pairs[at].second)
                          for at in compared.open["pair"]]]  # fmt: skip
    assert set(both["field"]) == {"tree"}
    lonely = [pair for pair in pairs if NO_LINE in (pair.first, pair.second)]
    assert [pair.first + FIRST for pair in lonely] == [10]


def test_a_wrong_plot_number(tmp_path: Path) -> None:
    other = changed(TOWN, tmp_path / "b.xlsx", {(FIELD, 12, 1): 71.0})
    assert found(TOWN, other) == {("1", "7", "plot", "1", "71")}


def test_zero_blank_and_closing_words_differ(tmp_path: Path) -> None:
    cells = {(FIELD, 8, 11): None, (FIELD, 9, 9): "NOT SEEN", (FIELD, 7, 4): " betula  PENDULA"}
    other = changed(TOWN, tmp_path / "b.xlsx", cells)
    assert {(field, one, two) for _, _, field, one, two in found(TOWN, other)} == {
        ("base_reading", "0", "(blank)"),
        ("distance", "12.1", "NOT SEEN"),
    }


@pytest.mark.slow
def test_merged_workbook(tmp_path: Path) -> None:
    order = [row for row in range(FIRST, LAST + 1) if row != 10]
    other = rekeyed(tmp_path / "b.xlsx", order, {(FIELD, 30, 6): 99.9})
    out = tmp_path / "merged.xlsx"
    before = TOWN.read_bytes(), other.read_bytes()
    assert run("compare", other, TOWN, "--out", out) == 1
    assert (TOWN.read_bytes(), other.read_bytes()) == before
    merged, town = open_crew_book(out).survey.lines, open_crew_book(TOWN).survey.lines
    assert len(merged) == len(town)
    waiting = merged.iloc[-1]  # the line that only the second has: its names alone
    assert (waiting["plot"], waiting["tree"], waiting["species"]) == ("1", "5", "")
    rest = town.drop(index=4).reset_index(drop=True)
    for name in rest.columns.drop(["_sheet", "_row"]):
        same = (merged[name].iloc[:-1] == rest[name]) | (
            merged[name].isna()[:-1] & rest[name].isna()
        )
        assert same.sum() == len(rest) - (name == "diameter"), name
    listed = grid(out, OPEN_TAB)
    links = [text for text in listed.formulas.values() if text.startswith("HYPERLINK")]
    assert len(links) == 16
    texts = {value for value in listed.values.ravel() if isinstance(value, str)}
    assert {"Page code", "Paper says something else", "(no such line)"} <= texts
    # what is settled with the paper is settled for both
    field, row = "F30", 30
    assert any(field in text for text in links)
    settled = changed(out, tmp_path / "settled.xlsx", {(FIELD, row, 6): 25.8})
    assert ("2", "11") not in {entry[:2] for entry in found(settled, TOWN)}


def test_rates(tmp_path: Path) -> None:
    cells = {(FIELD, row, 6): 77.7 for row in range(8, 18)} | {("Plots", 6, 16): "XY"}
    other = changed(TOWN, tmp_path / "b.xlsx", cells)
    out = tmp_path / "out.xlsx"
    compare(TOWN, other, out)
    rows = [list(row) for row in grid(out, RATES_TAB).values]
    by_name = {row[0]: row[1:6] for row in rows if isinstance(row[0], str)}
    cells_compared, differ, rate, low, high = by_name["Diameter"]
    assert differ == 10.0
    assert rate == pytest.approx(1000 * 10 / cells_compared)
    assert low < rate < high
    assert by_name["FW and XY"][1] == 10.0


def test_bad_input(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    there = tmp_path / "there.xlsx"
    there.write_bytes(b"mine")
    copy = changed(TOWN, tmp_path / "b.xlsx", {})
    for arguments in (
        (TOWN, TOWN),
        (TOWN, there),
        (TOWN, tmp_path / "missing.xlsx"),
        (TOWN, copy, "--out", there),
        (TOWN, copy, "--out", tmp_path / "out.ods"),
        (TOWN, copy, "--out", tmp_path / "no" / "out.xlsx"),
    ):
        assert run("compare", *arguments) == 2
        said = capsys.readouterr()
        assert said.out == ""
        assert len(said.err.strip().splitlines()) == 1
    assert there.read_bytes() == b"mine"


def test_a_keying_without_a_line_is_refused_not_reported_line_by_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    blank = tmp_path / "blank.xlsx"
    new(blank, "metric", None, 10)
    capsys.readouterr()
    assert run("compare", TOWN, blank) == 2
    said = capsys.readouterr().err
    assert "blank.xlsx: the field sheet is empty" in said
    assert len(said.splitlines()) == 1
