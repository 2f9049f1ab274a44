"""Printing from the command line: what is written, what is refused, and in which words."""

import shutil
from contextlib import closing
from pathlib import Path

import openpyxl
import pytest

from tests.jobs.books import keyed, varied
from tests.town import TOWN
from xlhelpers.doors.command_line.main import main
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.jobs.paper.paper import paper_of
from xlhelpers.package.parts.parts import sheet_named
from xlhelpers.package.zip.container import Package
from xlhelpers.pages import pdf
from xlhelpers.pages.page_code import page_code


def call(*arguments: str | Path) -> int:
    return main(["paper", *map(str, arguments)])


def test_the_town_gets_a_tab_for_each_plot_and_cards(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = TOWN.read_bytes()
    out = tmp_path / "sheets.xlsx"
    assert call(TOWN, "--out", out) == 0
    assert TOWN.read_bytes() == before
    with closing(openpyxl.load_workbook(out, read_only=True)) as opened:
        names = opened.sheetnames
    assert [n for n in names if n.startswith("Plot")] == [
        *(f"Plot {number}" for number in range(1, 30)),
        "Plot Saltway",
    ]
    assert "Card percent" in names
    assert "Field sheets for 30 plots." in capsys.readouterr().out


@pytest.mark.parametrize(
    ("choice", "number"),
    [
        pytest.param("a4", 9, marks=pytest.mark.slow),
        ("letter", 1),
        pytest.param(None, 9, marks=pytest.mark.slow),
    ],
)
def test_plots_and_paper_can_be_chosen(tmp_path: Path, choice: str | None, number: int) -> None:
    out = tmp_path / "sheets.xlsx"
    more = [] if choice is None else ["--paper", choice]
    assert call(TOWN, "--out", out, "--plots", "5, 2", *more) == 0
    book = openpyxl.load_workbook(out)
    assert [n for n in book.sheetnames if n.startswith("Plot")] == ["Plot 2", "Plot 5"]
    assert int(book["Plot 2"].page_setup.paperSize) == number


@pytest.mark.parametrize(("units", "paper", "number"), [("metric", "letter", 1), ("us", "a4", 9)])
def test_paper_is_that_of_the_field_sheet(
    tmp_path: Path, units: str, paper: str, number: int
) -> None:
    book, out = tmp_path / "town.xlsx", tmp_path / "sheets.xlsx"
    new = ["new", str(book), "--units", units, "--paper", paper, "--plots", "5"]
    assert main(new) == 0
    assert call(book, "--out", out, "--empty", "1") == 0
    sheets = openpyxl.load_workbook(out).worksheets
    printed = [sheet for sheet in sheets if sheet.sheet_state == "visible"]
    assert {int(sheet.page_setup.paperSize) for sheet in printed} == {number}


def test_the_paper_of_a_custom_view_is_not_that_of_the_sheet() -> None:
    """A custom view has a page of its own, which stands before that of the sheet."""
    package = Package.open(TOWN)
    sheet = sheet_named(package, FIELD_SHEET.tab)
    assert sheet is not None
    paper = paper_of(package)
    view = b'<customSheetViews><customSheetView guid="{1}"><pageSetup paperSize="1"/>'
    view += b"</customSheetView></customSheetViews>"
    content = package.read(sheet.part).replace(b"</sheetData>", b"</sheetData>" + view, 1)
    package.replace(sheet.part, content)
    assert paper_of(package) == paper == "a4"


def test_the_list_for_the_crew_and_the_cards(tmp_path: Path) -> None:
    again, cards = tmp_path / "again.xlsx", tmp_path / "cards.xlsx"
    assert call(TOWN, "--measure-again", "--out", again) == 0
    assert openpyxl.load_workbook(again).sheetnames == ["Measure again"]
    assert call(TOWN, "--cards", "--out", cards) == 0
    assert "Card dead top" in openpyxl.load_workbook(cards).sheetnames


def test_a_typed_code_says_its_plot_and_page(capsys: pytest.CaptureFixture[str]) -> None:
    code = page_code("Saltway", 3)
    assert call(TOWN, "--code", code.lower()) == 0
    assert "page 3 of plot Saltway" in capsys.readouterr().out


def last_sign_changed(code: str) -> str:
    return code[:-1] + ("2" if code[-1] != "2" else "3")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["{book}", "--out", "{book}"], "names the workbook itself"),
        (["{book}", "--out", "{dir}/a.pdf"], "a name that ends in .xlsx"),
        (["{book}"], "--out is missing"),
        (["{book}", "--out", "{dir}/a.xlsx", "--plots", "1,99"], "no plot 99"),
        (["{book}", "--out", "{dir}/a.xlsx", "--plots", " , "], "--plots names no plot"),
        (["{book}", "--out", "{dir}/a.xlsx", "--plots", "1", "--cards"], "only one of"),
        (["{book}", "--out", "{dir}/no/where/a.xlsx"], "where"),
        (["{book}", "--measure-again", "--out", "{dir}/a.xlsx"], "nothing to measure again"),
        (["{dir}/missing.xlsx", "--out", "{dir}/a.xlsx"], "missing.xlsx"),
        (["{text}", "--out", "{dir}/a.xlsx"], "text.xlsx"),
        (["{book}", "--code", page_code("77", 1)], "not a page code of this workbook"),
        (["{book}", "--code", last_sign_changed(page_code("1", 1))], "misread or mistyped"),
        (["{book}", "--code", "HELLO"], "7 letters and digits"),
    ],
)
def test_bad_input_gets_one_clear_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], arguments: list[str], words: str
) -> None:
    book = keyed(tmp_path / "book.xlsx", varied(2))
    text = tmp_path / "text.xlsx"
    text.write_text("plot,tree\n1,1\n", encoding="utf-8")
    before = {path: path.read_bytes() for path in tmp_path.iterdir()}
    filled = [a.format(book=book, dir=tmp_path, text=text) for a in arguments]
    assert call(*filled) == 2
    said = capsys.readouterr()
    assert words in said.err
    assert len(said.err.strip().splitlines()) == 1
    assert "Traceback" not in said.err
    assert {path: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_without_the_program_for_pdf_the_sheets_are_still_written(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(shutil, "which", lambda name: None)
    monkeypatch.setattr(pdf, "_OFFICE_PROGRAMS", ())
    out = tmp_path / "sheets.xlsx"
    assert call(TOWN, "--out", out, "--plots", "1", "--pdf") == 2
    assert out.exists()
    assert "--pdf needs LibreOffice" in capsys.readouterr().err


@pytest.mark.slow
@pytest.mark.libreoffice
def test_the_pdf_has_the_pages_of_the_sheets(tmp_path: Path) -> None:
    if shutil.which("soffice") is None or shutil.which("pdfinfo") is None:
        pytest.skip("LibreOffice or pdfinfo is not installed")
    import subprocess

    out = tmp_path / "sheets.xlsx"
    assert call(TOWN, "--out", out, "--cards", "--pdf") == 0
    facts = subprocess.run(
        ["pdfinfo", str(out.with_suffix(".pdf"))], capture_output=True, text=True, check=True
    ).stdout
    assert next(line for line in facts.splitlines() if line.startswith("Pages")).split()[1] == "19"
