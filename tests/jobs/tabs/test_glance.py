"""Plot at a glance: what is chosen shows that plot, by formulas, as LibreOffice calculates them."""

import io
import re
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from tests.conftest import Converter
from tests.jobs.tabs.make_outcome import FACTS, finding, lines_of_town, make_outcome
from tests.jobs.tabs.reading import open_book
from tests.live.formula_books import without_results
from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.jobs.fill.tabs.by_plot import LAYERS
from xlhelpers.jobs.fill.tabs.glance import FACTS as SHOWN
from xlhelpers.jobs.fill.tabs.glance import (
    FACTS_ROW,
    FINDINGS_ROW,
    HELPER,
    LONGEST,
    TABLE_ROW,
    TREE_COLUMNS,
)
from xlhelpers.jobs.fill.tabs.result_tabs import render_tabs
from xlhelpers.package.parts.parts import sheet_named
from xlhelpers.package.zip.container import Package
from xlhelpers.pages.looks import INK
from xlhelpers.pages.plan import Chosen, FillFacts
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.summaries import by_plot

TAB = RESULT_TABS["glance"]
LONG = "The crown base lies above its top. " * 8


def facts(plot: float | str | None = None, first: float | None = None) -> FillFacts:
    return FillFacts("1", 1, "2026-05-04 10:00", "town.xlsx", chosen=Chosen(plot, first))


def town(**more: Any) -> Outcome:
    """Return three plots of 10 trees; the lines of the second stand on both sides of the third."""
    lines = lines_of_town(30, 3)
    lines = [*lines[:15], *lines[20:], *lines[15:20]]
    lines[3]["species"] = ""
    found = [
        finding(0, "1", "1"),
        finding(12, "2", "3", "warning", message=LONG),
        *(
            finding(None, "2", severity="error", subject=(("plot", "2"),), message=f"Found {n}.")
            for n in range(5)
        ),
    ]
    return make_outcome(lines, found, **more)


def sheet_of(data: bytes) -> Any:
    return open_book(data)[TAB]


def shown(sheet: Any) -> dict[str, Any]:
    """Return what the tab shows, by cell, without the blanks."""
    return {
        cell.coordinate: cell.value
        for row in sheet.iter_rows()
        for cell in row
        if cell.value not in (None, "")
    }


def near(cells: dict[str, Any]) -> dict[str, Any]:
    """Return cells that equal others to nine digits."""
    return {
        cell: pytest.approx(value, rel=1e-9) if isinstance(value, float) else value
        for cell, value in cells.items()
    }


def without_helpers(cells: dict[str, Any]) -> dict[str, Any]:
    """Return the cells without the rows at which the table reads."""
    return {cell: value for cell, value in cells.items() if not cell.startswith("N")}


def column(sheet: Any, key: str, count: int) -> list[Any]:
    at = TREE_COLUMNS.index(key) + 1
    return [sheet.cell(TABLE_ROW + 1 + row, at).value for row in range(count)]


def chosen_in(data: bytes, path: Path, cells: dict[str, str]) -> Path:
    """Write a workbook in which something is chosen, all stored results deleted."""
    path.write_bytes(data)
    package = Package.open(path)
    sheet = sheet_named(package, TAB)
    assert sheet is not None
    content = package.read(sheet.part).decode()
    for cell, value in cells.items():
        number = value.replace(".", "").isdigit()
        inside = f"><v>{value}</v></c>" if number else f' t="inlineStr"><is><t>{value}</t></is></c>'
        pattern = rf'(<c r="{cell}" s="\d+")(?: t="\w+")?(?:/>|>.*?</c>)'
        content, count = re.subn(pattern, lambda found, inside=inside: found[1] + inside, content)
        assert count == 1
    package.replace(sheet.part, content.encode())
    path.write_bytes(package.to_bytes())
    assert without_results(path) > 200
    return path


@pytest.mark.parametrize("plot", [1.0, 2.0, 3.0])
def test_the_chosen_plot_is_shown(plot: float) -> None:
    outcome = town()
    sheet = sheet_of(render_tabs(outcome, facts(plot)))
    trees = outcome.trees[outcome.trees["plot"] == f"{plot:g}"]
    trees = trees.iloc[trees["tree"].astype(int).argsort()]
    assert column(sheet, "tree", 11) == [*trees["tree"], None]
    assert [value or "" for value in column(sheet, "species", 10)] == trees["species"].tolist()
    for key in ("total_height", "crown_base", "dead_top_length", "diameter"):
        held = [value for value in column(sheet, key, 10) if value not in (None, "")]
        assert held == pytest.approx(trees[key].dropna().tolist()), key
    summary = by_plot(outcome).assign(left_out="").set_index("plot").loc[f"{plot:g}"]
    numbers = [sheet.cell(FACTS_ROW + 1 + at, 3).value for at in range(len(SHOWN))]
    for key, value in zip(SHOWN, numbers, strict=True):
        if isinstance(summary[key], str) or summary[key] != summary[key]:
            assert (value or "") == (summary[key] if isinstance(summary[key], str) else ""), key
        else:
            assert value == pytest.approx(summary[key]), key


def test_findings_stand_beside_their_tree_and_above_for_the_plot() -> None:
    sheet = sheet_of(render_tabs(town(), facts(2.0)))
    assert column(sheet, "gravest", 4) == [None, None, "warning", None]
    text = column(sheet, "open", 3)[2]
    assert text.startswith("warning ")
    # short: the whole message is on To check
    assert len(text) < LONGEST
    heading = sheet.cell(FINDINGS_ROW + 1, 1).value
    assert heading == "Findings on the whole plot: the first 3 of 5. All are in To check"
    said = [sheet.cell(FINDINGS_ROW + 2 + at, 2).value for at in range(3)]
    assert [text.partition(".")[0] for text in said] == ["Found 0", "Found 1", "Found 2"]


@pytest.mark.parametrize(
    ("cells", "units"),
    [
        pytest.param({"C5": "2"}, "us", id="findings", marks=pytest.mark.slow),
        pytest.param({"C5": "3"}, "metric", id="other lines", marks=pytest.mark.slow),
        pytest.param({"C5": "no such plot"}, "metric", id="unknown", marks=pytest.mark.slow),
    ],
)
def test_choosing_another_plot_gives_what_a_fill_would(
    tmp_path: Path, soffice: Converter, cells: dict[str, str], units: str
) -> None:
    outcome = town(rules={"units": units})
    book = chosen_in(render_tabs(outcome, FACTS), tmp_path / "tabs.xlsx", cells)
    found = openpyxl.load_workbook(soffice(book, recalculate=True), data_only=True)[TAB]
    plot = cells["C5"]
    wanted = facts(float(plot) if plot.isdigit() else plot)
    expected = shown(sheet_of(render_tabs(outcome, wanted)))
    assert shown(found) == near(expected)


@pytest.mark.slow
def test_a_long_street_is_shown_in_portions(tmp_path: Path, soffice: Converter) -> None:
    lines = [*lines_of_town(50, 1), *({**x, "plot": "A?*"} for x in lines_of_town(8, 1, seed=5))]
    outcome = make_outcome(lines)
    data = render_tabs(outcome, FACTS)
    sheet = sheet_of(data)
    assert column(sheet, "tree", 12) == [str(n) for n in range(1, 13)]
    assert sheet.cell(TABLE_ROW + 13, 1).value is None
    assert "50 trees entered. The list shows 1 to 12" in sheet["E5"].value
    book = chosen_in(data, tmp_path / "tabs.xlsx", {"C6": "45"})
    later = openpyxl.load_workbook(soffice(book, recalculate=True), data_only=True)[TAB]
    assert [x for x in column(later, "tree", 12) if x] == [str(n) for n in range(45, 51)]
    assert "The list shows 45 to 50" in later["E5"].value
    # signs that stand for others name this plot alone, and its first tree is within reach
    book = chosen_in(data, tmp_path / "other.xlsx", {"C5": "A?*", "C6": "45"})
    other = openpyxl.load_workbook(soffice(book, recalculate=True), data_only=True)[TAB]
    assert other["E5"].value == "8 trees entered, all shown."
    assert [x for x in column(other, "tree", 12) if x] == [str(n) for n in range(1, 9)]


@pytest.mark.slow
def test_sorting_the_tab_trees_changes_nothing(tmp_path: Path, soffice: Converter) -> None:
    data = render_tabs(town(), facts(2.0))
    book = openpyxl.load_workbook(io.BytesIO(data))
    trees = book["Trees"]
    first = next(row for row in range(1, 30) if trees.cell(row, 1).value == "Plot") + 1
    rows = [[cell.value for cell in row] for row in trees.iter_rows(first, first + 29)]
    for at, row in enumerate(reversed(rows)):
        for number, value in enumerate(row, 1):
            trees.cell(first + at, number).value = value
    path = tmp_path / "tabs.xlsx"
    book.save(path)
    found = openpyxl.load_workbook(soffice(path, recalculate=True), data_only=True)[TAB]
    assert without_helpers(shown(found)) == near(without_helpers(shown(sheet_of(data))))


def test_without_a_choice_the_first_plot_with_trees_is_shown() -> None:
    outcome = make_outcome(lines_of_town(4, 1), plots=[{"plot": "0"}, {"plot": "1"}])
    assert sheet_of(render_tabs(outcome, FACTS))["C5"].value == 1


def test_an_empty_survey_says_so() -> None:
    sheet = sheet_of(render_tabs(make_outcome([]), FACTS))
    assert sheet["E5"].value == "No plot is entered yet."


def test_the_cell_to_choose_in_offers_the_plots_and_looks_typed() -> None:
    book = openpyxl.load_workbook(io.BytesIO(render_tabs(town(), FACTS)))
    sheet = book[TAB]
    offered = [v for v in sheet.data_validations.dataValidation if "C5" in str(v.sqref)]
    assert [v.formula1 for v in offered] == ["xlh_glance_plots"]
    target = book.defined_names["xlh_glance_plots"].attr_text
    cells = book["By plot"][target.rpartition("!")[2].replace("$", "")]
    assert [row[0].value for row in cells] == [1, 2, 3]
    assert sheet["C5"].border.left.style == "dashed"
    assert sheet["C5"].font.color.rgb.endswith(INK[1:])


def test_bars_are_those_of_the_tab_by_plot() -> None:
    """The layers are the ones that the charts of By plot draw, worked out another way."""
    outcome = town()
    book = open_book(render_tabs(outcome, facts(1.0)))
    figures = book["By plot"]
    head = next(
        row
        for row in range(1, figures.max_row)
        if figures.cell(row, 3).value == "Below the crown (m)"
    )
    drawn = [[figures.cell(head + 1 + at, c).value for c in range(1, 8)] for at in range(10)]
    drawn = [row[1:] for row in drawn if row[0] == 1]
    sheet = book[TAB]
    own = [[sheet.cell(TABLE_ROW + 1 + at, c).value for c in range(15, 21)] for at in range(10)]
    own = [[value if value != "" else None for value in row] for row in own]
    own = [row for row in own if any(value is not None for value in row[1:])]
    assert len(own) > 5
    assert own == [[pytest.approx(v) if isinstance(v, float) else v for v in r] for r in drawn]


@pytest.mark.slow
def test_what_is_left_out_of_means_is_not_drawn(tmp_path: Path, soffice: Converter) -> None:
    """Of three trees, one has a negative height and one a crown base above its top."""
    lines = [line for line in lines_of_town(40, 1) if not line["condition"]][:3]
    lines[0]["tip_reading"] = -90.0
    lines[1]["base_reading"] = lines[1]["tip_reading"] + 20
    names = [line["tree"] for line in lines]
    found = [
        finding(0, "1", names[0], fields=("tip_reading",)),
        finding(1, "1", names[1], fields=("base_reading",)),
    ]
    data = render_tabs(make_outcome(lines, found), facts(1.0))
    book = chosen_in(data, tmp_path / "tabs.xlsx", {"C5": "1"})
    calculated = openpyxl.load_workbook(soffice(book, recalculate=True), data_only=True)[TAB]
    drawn = {}
    for sheet in (sheet_of(data), calculated):
        rows = sheet.iter_rows(min_row=TABLE_ROW + 1, max_row=TABLE_ROW + 3, min_col=HELPER + 2)
        layers = [[cell.value for cell in row][1 : 1 + len(LAYERS)] for row in rows]
        bars = [[value for value in row if value not in (None, "")] for row in layers]
        drawn[id(sheet)] = [len(row) for row in bars]
    # nothing, the height alone, stem and crown
    assert list(drawn.values()) == [[0, 1, 2]] * 2
