"""What is written opens in other programs: openpyxl, calamine and LibreOffice."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable
from pathlib import Path

import openpyxl
import pytest
from lxml import etree
from python_calamine import CalamineWorkbook

from tests.package.books import result_tabs, user_book
from xlhelpers.package.formulas.stale_results import refresh_on_open
from xlhelpers.package.graft.graft import graft_sheets
from xlhelpers.package.parts.parts import sheets
from xlhelpers.package.sheet.cell_edit import edit_cells
from xlhelpers.package.sheet.cell_writes import CellWrite
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.safe_write import write_book


@pytest.fixture
def filled(tmp_path: Path) -> Path:
    """A user's workbook with one height changed, a note added and the result tabs grafted in."""
    package = Package.from_bytes(user_book())
    sheet = sheets(package)[0]
    writes = [CellWrite(2, 3, 102.5, (3, 3)), CellWrite(2, 4, "=1+1")]
    result = edit_cells(package, sheet, writes)
    assert not result.refusals
    refresh_on_open(package, {sheet.name: result.changed})
    names = graft_sheets(package, result_tabs(), replacing={}, defined={"ours": "Trees!$A$1"})
    assert names == ("Trees (2)", "By plot")
    path = tmp_path / "filled.xlsx"
    write_book(path, package.to_bytes(), backup=False)
    return path


def test_openpyxl_and_calamine_read_it(filled: Path) -> None:
    book = openpyxl.load_workbook(filled)
    assert book.sheetnames == ["Field sheet", "Own sums", "Trees", "Trees (2)", "By plot"]
    assert book["Field sheet"]["C2"].value == 102.5
    assert book["Field sheet"]["D2"].value == "=1+1"
    assert book["Field sheet"]["D2"].data_type == "s"
    assert book["Trees (2)"]["B3"].number_format == '0.0" m"'
    assert list(book["Trees (2)"].tables) == ["Tree_results"]
    assert len(book["By plot"]._charts) == 1
    assert book["By plot"].print_title_rows == "$1:$1"
    rows = CalamineWorkbook.from_object(io.BytesIO(filled.read_bytes()))
    assert rows.get_sheet_by_name("Trees (2)").to_python()[2][1] == 25.0


def sheet_as_csv(soffice: Callable[..., Path], book: Path, number: int) -> list[list[str]]:
    kind = f"csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,true,false,false,false,{number}"
    with soffice(book, kind).open(encoding="utf-8", newline="") as file:
        return list(csv.reader(file))


@pytest.mark.slow
@pytest.mark.libreoffice
def test_libreoffice_shows_fresh_results_without_being_asked(
    filled: Path, soffice: Callable[..., Path]
) -> None:
    rows = sheet_as_csv(soffice, filled, 2)
    heights = [102.5, 5, 7.5, 10, 12.5]
    shown = [float(row[0]) for row in rows[:5]]
    mean = sum(heights) / 5
    assert shown == pytest.approx([sum(heights), mean, 2 * sum(heights), 102.5, 102.5])


@pytest.mark.libreoffice
def test_libreoffice_saves_it_with_tabs_charts_and_names(
    filled: Path, soffice: Callable[..., Path]
) -> None:
    saved = openpyxl.load_workbook(soffice(filled))
    assert saved.sheetnames == ["Field sheet", "Own sums", "Trees", "Trees (2)", "By plot"]
    assert saved.defined_names["ours"].attr_text == "'Trees (2)'!$A$1"
    assert len(saved["By plot"]._charts) == 1
    assert saved["Field sheet"]["D2"].data_type == "s"


@pytest.mark.slow
@pytest.mark.libreoffice
def test_a_fill_after_libreoffice_saved_the_file_adds_no_second_tabs(
    filled: Path, soffice: Callable[..., Path]
) -> None:
    counts = []
    for _ in range(3):
        saved = soffice(filled)
        package = Package.open(saved)
        replacing = {"Trees": "Trees (2)", "By plot": "By plot"}
        graft_sheets(package, result_tabs(), replacing=replacing, defined={"ours": "Trees!$A$1"})
        listed = [sheet.name for sheet in sheets(package)]
        assert listed == ["Field sheet", "Own sums", "Trees", "Trees (2)", "By plot"]
        root = etree.fromstring(package.read("xl/styles.xml"))
        counts.append(
            {name: len(root.find(f"{{*}}{name}")) for name in ("cellXfs", "dxfs", "fonts")}
        )
        assert sum(name.startswith("xl/charts/chart") for name in package.names()) == 2
        assert sum(name.startswith("xl/tables/") for name in package.names()) == 2
        write_book(filled, package.to_bytes(), backup=False)
    assert counts[2] == counts[1]
