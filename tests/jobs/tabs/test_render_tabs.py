"""The result tabs as a whole: names, values, formats, pages, and texts that must stay texts."""

import io
import zipfile
from dataclasses import replace
from typing import Any

import pytest
from openpyxl.utils import column_index_from_string, get_column_letter
from openpyxl.worksheet.worksheet import Worksheet
from xlsxwriter import Workbook

from tests.jobs.tabs.make_outcome import FACTS, finding, lines_of_town, make_outcome
from tests.jobs.tabs.printed_pages import pages_of
from tests.jobs.tabs.reading import (
    cell_under,
    column_of,
    heading_row,
    open_book,
    parts,
    values_under,
)
from xlhelpers.fields.workbook import RESULT_TABS, tab_name
from xlhelpers.jobs.fill.tabs.result_tabs import render_tabs
from xlhelpers.pages import render
from xlhelpers.pages.change_watch import KeyedColumn
from xlhelpers.survey.outcome import Outcome

# level distance 20 m, percent: tip 80 and foot -10 make 18 m, crown base 15 makes 5 m
OAK: dict[str, Any] = {
    "plot": "2",
    "tree": "10",
    "species": "Quercus robur",
    "diameter": 40.0,
    "width_widest": 10.0,
    "width_across": 8.0,
    "distance": 20.0,
    "foot_reading": -10.0,
    "base_reading": 15.0,
    "tip_reading": 80.0,
}


@pytest.fixture(scope="module")
def town() -> tuple[Outcome, bytes]:
    lines = lines_of_town(300, 24)
    findings = [
        finding(at, lines[at]["plot"], lines[at]["tree"], severity, "paper")
        for at, severity in ((0, "error"), (40, "warning"), (80, "note"))
    ]
    outcome = make_outcome(lines, findings)
    return outcome, render_tabs(outcome, FACTS)


def test_every_tab_is_there_and_found_by_its_name(town: tuple[Outcome, bytes]) -> None:
    book = open_book(town[1])
    assert book.sheetnames == list(RESULT_TABS.values())
    for key, tab in RESULT_TABS.items():
        assert book.defined_names[tab_name(key)].attr_text == f"'{tab}'!$A$1"


def test_same_outcome_gives_same_bytes(town: tuple[Outcome, bytes]) -> None:
    assert render_tabs(town[0], FACTS) == town[1]


def test_our_formulas_need_no_search_for_newer_functions(
    town: tuple[Outcome, bytes], monkeypatch: pytest.MonkeyPatch
) -> None:
    area = KeyedColumn("Field sheet", "Plot", 1, 6, 40, 30.0, 60.0, 120.0)
    facts = replace(FACTS, keyed=(area,))
    ours = render_tabs(town[0], facts)
    assert any(b"SUMPRODUCT" in sheet for _, sheet in parts(ours, r"xl/worksheets/.*"))
    monkeypatch.setattr(render, "KnownFormulas", Workbook)
    assert render_tabs(town[0], facts) == ours


def test_parts_are_well_formed_and_hold_no_notes(town: tuple[Outcome, bytes]) -> None:
    names = [name for name, _ in parts(town[1], ".*")]
    assert len(names) == len(set(names))
    assert not [name for name in names if "comment" in name or "vml" in name]
    with zipfile.ZipFile(io.BytesIO(town[1])) as archive:
        assert archive.testzip() is None


@pytest.mark.parametrize("tab", RESULT_TABS.values())
def test_every_tab_is_ready_for_paper(town: tuple[Outcome, bytes], tab: str) -> None:
    sheet = open_book(town[1])[tab]
    assert sheet.page_setup.orientation == "landscape"
    assert int(sheet.page_setup.paperSize) == 9
    assert sheet.sheet_properties.pageSetUpPr.fitToPage
    # the chosen plot is one page, which is what a file means that does not say
    high = sheet.page_setup.fitToHeight
    assert (1 if high is None else int(high)) == (1 if tab == RESULT_TABS["glance"] else 0)
    assert "&P" in sheet.oddFooter.right.text
    assert sheet.print_area
    assert sheet["A1"].value
    # a text in a column that each page repeats would be cut off there
    repeated = (sheet.print_title_cols or "").count(":")
    first = sheet["C2"] if repeated else sheet["A2"]
    assert first.value.endswith(".")


@pytest.mark.parametrize("tab", ["Trees", "By plot", "By species", "To check"])
def test_headings_stay_in_sight_and_are_printed_on_each_page(
    town: tuple[Outcome, bytes], tab: str
) -> None:
    sheet = open_book(town[1])[tab]
    assert sheet.freeze_panes is not None
    row = int("".join(c for c in sheet.freeze_panes if c.isdigit()))
    assert sheet.print_title_rows.endswith(f"${row - 1}")
    assert sheet.auto_filter.ref.startswith(f"A{row - 1}:")


def test_us_survey_is_shown_in_feet_on_letter_paper() -> None:
    outcome = make_outcome([OAK], rules={"units": "us"})
    sheet = open_book(render_tabs(outcome, FACTS))["Trees"]
    assert int(sheet.page_setup.paperSize) == 1
    assert cell_under(sheet, "Total height (ft)").value == pytest.approx(18 / 0.3048)
    assert cell_under(sheet, "Diameter (in)").value == pytest.approx(40 / 2.54)
    assert cell_under(sheet, "Live crown ratio (%)").value == pytest.approx(13 / 18)
    assert cell_under(sheet, "Crown area (ft²)").number_format == "#,##0"


def test_tree_row_holds_full_values_with_formats() -> None:
    sheet = open_book(render_tabs(make_outcome([OAK]), FACTS))["Trees"]
    for heading, value, shown in (
        ("Plot", 2, "General"),
        ("Tree", 10, "General"),
        ("Species, as entered", "Quercus robur", "General"),
        ("Condition", "living", "General"),
        ("Total height (m)", 18.0, "0.0"),
        ("Crown top (m)", 18.0, "0.0"),
        ("Crown base (m)", 5.0, "0.0"),
        ("Crown depth (m)", 13.0, "0.0"),
        ("Live crown ratio (%)", 13 / 18, "0 %"),
        ("Instrument", "C1", "General"),
        ("Height measured by", "sighted, percent", "General"),
        ("Set-ups, total height", 1, "#,##0"),
        ("Diameter (cm)", 40.0, "0.0"),
        ("Mean crown width (m)", 9.0, "0.0"),
        ("Crown widths used", "both", "General"),
        ("Height to diameter (ratio)", 45.0, "0.0"),
    ):
        cell = cell_under(sheet, heading)
        expected = value if isinstance(value, str) else pytest.approx(value)
        assert cell.value == expected, heading
        assert cell.number_format == shown, heading
    assert cell_under(sheet, "Dead top, length (m)").value is None
    assert cell_under(sheet, "± total height, instrument (m)").value > 0
    assert cell_under(sheet, "± total height, observer (m)").value > 0


def test_trees_stand_in_plot_and_tree_order() -> None:
    lines = [OAK | {"plot": p, "tree": t} for p, t in (("10", "1"), ("2", "10"), ("2", "9"))]
    sheet = open_book(render_tabs(make_outcome(lines), FACTS))["Trees"]
    assert values_under(sheet, "Plot", 3) == [2, 2, 10]
    assert values_under(sheet, "Tree", 3) == [9, 10, 1]


def test_open_finding_marks_its_tree_by_word_look_and_text() -> None:
    lines = [OAK, OAK | {"tree": "11"}, OAK | {"tree": "12"}]
    found = [finding(0, "2", "10"), finding(1, "2", "11", "note", message="One width only.")]
    sheet = open_book(render_tabs(make_outcome(lines, found), FACTS))["Trees"]
    assert values_under(sheet, "Open finding", 3) == ["error", None, None]
    open_text, none, _ = values_under(sheet, "Open findings", 3)
    assert open_text.startswith("error ")
    assert found[0].message in open_text
    assert none is None
    assert values_under(sheet, "Notes", 3) == [None, "One width only.", None]
    assert cell_under(sheet, "Total height (m)", 0).font.italic
    assert not cell_under(sheet, "Total height (m)", 1).font.italic


def test_empty_survey_gives_tabs_that_say_so() -> None:
    book = open_book(render_tabs(make_outcome([]), FACTS))
    assert book.sheetnames == list(RESULT_TABS.values())
    texts = {name: _texts(book[name]) for name in book.sheetnames}
    assert "No tree is entered yet." in texts["Trees"]
    assert "No plot is entered yet." in texts["By plot"]
    assert "No tree is entered yet." in texts["By species"]
    assert "There is nothing to check." in texts["To check"]


HOSTILE = (
    "=1+1",
    "+44 7",
    "-2+3",
    "@SUM(A1)",
    "\tTab",
    '=HYPERLINK("http://example.org")',
    "http://example.org",
    "<r><t>x</t></r>",
    "_x0041_",
    "a & b < c",
)


@pytest.fixture(scope="module", params=[1, 30], ids=["few rows", "many rows"])
def hostile(request: pytest.FixtureRequest) -> bytes:
    lines = [
        OAK | {"tree": str(i), "species": text}
        for i, text in enumerate(HOSTILE * int(request.param))
    ]
    found = [
        finding(i, line["species"], line["species"], message=line["species"], lines=(i,))
        for i, line in enumerate(lines)
    ]
    return render_tabs(make_outcome(lines, found), FACTS)


@pytest.mark.parametrize("text", HOSTILE)
def test_hostile_text_stays_text(hostile: bytes, text: str) -> None:
    book = open_book(hostile, values=False)
    for sheet, heading in (
        (book["Trees"], "Species, as entered"),
        (book["By species"], "Species"),
        (book["To check"], "Plot"),
        (book["To check"], "What was found"),
    ):
        row, column = heading_row(sheet, heading), column_of(sheet, heading)
        cells = [c for (c,) in sheet.iter_rows(row + 1, min_col=column, max_col=column)]
        shown = [c for c in cells if _as_shown(c.value) == text]
        assert shown, f"{sheet.title}: {[c.value for c in cells]}"
        assert {c.data_type for c in shown} == {"s"}


def test_hostile_text_makes_no_formula_and_no_link(hostile: bytes) -> None:
    formulas = [
        cell.value
        for sheet in open_book(hostile, values=False)
        if sheet.title != RESULT_TABS["glance"]
        for row in sheet.iter_rows()
        for cell in row
        if cell.data_type == "f"
    ]
    assert formulas
    assert all(f.startswith("=HYPERLINK(\"#'Field sheet'!") for f in formulas)
    for _, relations in parts(hostile, r"xl/worksheets/_rels/.*"):
        assert b"/hyperlink" not in relations


def _as_shown(value: object) -> str:
    # openpyxl leaves the escaped underscore of an inline string as it stands in the file
    return str(value).strip("\N{WORD JOINER}").replace("_x005F_", "_")


def _texts(sheet: Worksheet) -> list[str]:
    return [c.value for row in sheet.iter_rows() for c in row if isinstance(c.value, str)]


def test_the_list_to_check_prints_what_was_found_in_type_that_can_be_read(
    town: tuple[Outcome, bytes],
) -> None:
    sheet = open_book(town[1])["To check"]
    last = sheet.print_area.rpartition("$")[0].rpartition("$")[2]
    heading = next(c for row in sheet.iter_rows() for c in row if c.value == "What to do")
    printed = column_index_from_string(last)
    assert heading.column < printed
    wide = sum(
        int(sheet.column_dimensions[get_column_letter(at)].width * 7 + 5)
        for at in range(1, printed + 1)
    )
    # A4 lying, less half an inch at each side, at 96 pixels an inch; cells are of 10 points
    assert 10 * (297 / 25.4 - 1) * 96 / wide >= 9
    assert sheet.print_title_rows


def test_no_title_is_the_last_line_of_a_page(town: tuple[Outcome, bytes]) -> None:
    sheet = open_book(town[1])["About this fill"]
    titles = ("Survey rules in force", "Checks made, and what they found", "Methods and sources")
    last_rows = {page.last for page in pages_of(sheet)}
    assert len(last_rows) > 3
    assert not {sheet.cell(row, 1).value for row in last_rows} & set(titles)
