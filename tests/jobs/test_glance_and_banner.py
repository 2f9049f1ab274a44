"""What the tabs of a filled workbook say while it is used, without the program."""

import shutil
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from tests.conftest import Converter
from tests.jobs.books import PLOT, keyed, varied
from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.package.parts.parts import sheet_named
from xlhelpers.package.sheet.cell_edit import edit_cells
from xlhelpers.package.sheet.cell_writes import CellWrite
from xlhelpers.package.zip.container import Package
from xlhelpers.pages.banner import NO_CHANGE
from xlhelpers.pages.chosen_cells import chosen

TOWN = Path(__file__).parent.parent.parent / "demo_workbooks" / "town.xlsx"
GLANCE = RESULT_TABS["glance"]
PLOT_CELL = (5, 3)
# columns of the field sheet
CONDITION, TIP = 5, 13


def type_in(path: Path, sheet: str, cells: Mapping[tuple[int, int], Any]) -> None:
    """Type into cells (row and column from 1); nothing else changes."""
    package = Package.open(path)
    part = sheet_named(package, sheet)
    assert part is not None
    done = edit_cells(package, part, [CellWrite(*place, value) for place, value in cells.items()])
    assert len(done.changed) == len(cells)
    path.write_bytes(package.to_bytes())


def two_plots(path: Path) -> Path:
    lines = [x | {"plot": plot} for plot in ("1", "2") for x in varied(4)]
    return keyed(path, lines, [PLOT | {"plot": p, "trees_counted": 4} for p in ("1", "2")])


def banners(path: Path) -> set[str]:
    """Return what the third lines of the tabs say."""
    book = openpyxl.load_workbook(path, data_only=True)
    said = set()
    for tab in RESULT_TABS.values():
        cells = [c.value for c in book[tab][3] if isinstance(c.value, str)]
        said |= {value for value in cells if value.startswith(("Up to date", "Out of date"))}
        assert cells, tab
    return said


def test_right_after_a_fill_no_change_is_seen(tmp_path: Path, soffice: Converter) -> None:
    book = Path(shutil.copy(TOWN, tmp_path / "town.xlsx"))
    fill(book)
    assert banners(book) == {NO_CHANGE}
    assert banners(soffice(book, recalculate=True)) == {NO_CHANGE}


@pytest.mark.parametrize(
    ("sheet", "cells", "seen"),
    [
        ("Field sheet", {(6, TIP): 62, (7, TIP): 70}, "Field sheet: Tip reading"),
        ("Field sheet", {(7, CONDITION): "T"}, "Field sheet: Condition"),
        ("Field sheet", {(300, 1): "2"}, "Field sheet: Plot"),
        ("Plots", {(6, 6): "C2"}, "Plots: Instrument"),
    ],
    ids=["swapped", "word", "new line", "plot"],
)
def test_a_change_is_seen_and_named(
    tmp_path: Path, soffice: Converter, sheet: str, cells: dict[tuple[int, int], Any], seen: str
) -> None:
    book = two_plots(tmp_path / "town.xlsx")
    fill(book)
    type_in(book, sheet, cells)
    said = banners(soffice(book, recalculate=True))
    assert len(said) == 1
    assert said.pop().startswith(f"Out of date: “{seen}")


def test_every_field_sheet_is_watched(tmp_path: Path, soffice: Converter) -> None:
    book = two_plots(tmp_path / "town.xlsx")
    edited = openpyxl.load_workbook(book)
    copy = edited.copy_worksheet(edited["Field sheet"])
    copy.title = "Second crew's"
    for row in range(6, 14):
        copy.cell(row, 1).value = "2" if row < 10 else None
        copy.cell(row, 2).value = str(row + 20) if row < 10 else None
    edited.save(book)
    fill(book)
    type_in(book, "Second crew's", {(7, TIP): 55})
    (said,) = banners(soffice(book, recalculate=True))
    assert "“Second crew's: Tip reading”" in said


def test_a_deleted_sheet_is_a_change(tmp_path: Path, soffice: Converter) -> None:
    book = two_plots(tmp_path / "town.xlsx")
    fill(book)
    edited = openpyxl.load_workbook(book)
    del edited["Field sheet"]
    edited.save(book)
    (said,) = banners(soffice(book, recalculate=True))
    assert said.startswith("Out of date: “Field sheet: Plot” has changed")


def test_an_error_that_was_there_is_no_change(tmp_path: Path, soffice: Converter) -> None:
    book = two_plots(tmp_path / "town.xlsx")
    edited = openpyxl.load_workbook(book)
    edited["Field sheet"].cell(6, TIP).value = "=NA()"
    edited.save(book)
    calculated = soffice(book, recalculate=True)
    fill(calculated)
    assert banners(soffice(calculated, recalculate=True)) == {NO_CHANGE}


def test_choosing_a_plot_is_no_addition_and_stays(tmp_path: Path) -> None:
    book = two_plots(tmp_path / "town.xlsx")
    fill(book)
    assert chosen(Package.open(book)).plot == 1.0
    type_in(book, GLANCE, {PLOT_CELL: 2})
    filled = fill(book)
    assert not [sentence for sentence in filled.notes if "kept" in sentence]
    assert chosen(Package.open(book)).plot == 2.0
    sheet = openpyxl.load_workbook(book, data_only=True)[GLANCE]
    assert [c.value for c in sheet[5]][4] == "4 trees entered, all shown."
    before = book.read_bytes()
    assert not fill(book).wrote
    assert book.read_bytes() == before


def test_a_plot_that_is_gone_stays_chosen_and_is_said(tmp_path: Path) -> None:
    book = two_plots(tmp_path / "town.xlsx")
    fill(book)
    type_in(book, GLANCE, {PLOT_CELL: 9})
    fill(book)
    sheet = openpyxl.load_workbook(book, data_only=True)[GLANCE]
    assert sheet.cell(*PLOT_CELL).value == 9
    assert "has no plot of this name" in sheet["E5"].value
    assert not fill(book).wrote


@pytest.mark.parametrize("cell", [(2, 15), (60, 1), (9, 3)], ids=["beside", "below", "over ours"])
def test_something_typed_beside_is_kept(tmp_path: Path, cell: tuple[int, int]) -> None:
    book = two_plots(tmp_path / "town.xlsx")
    fill(book)
    edited = openpyxl.load_workbook(book)
    edited[GLANCE].cell(*cell).value = "my own"
    edited.save(book)
    fill(book)
    kept = openpyxl.load_workbook(book)[f"{GLANCE} (kept)"]
    assert kept.cell(*cell).value == "my own"


def test_a_round_trip_with_other_results_is_no_addition(tmp_path: Path, soffice: Converter) -> None:
    """Saved by another program, after a change that the banner and the formulas show."""
    book = two_plots(tmp_path / "town.xlsx")
    fill(book)
    type_in(book, GLANCE, {PLOT_CELL: 2})
    type_in(book, "Field sheet", {(6, TIP): 71})
    saved = soffice(book, recalculate=True)
    assert banners(saved) != {NO_CHANGE}
    filled = fill(saved)
    assert filled.wrote
    assert banners(saved) == {NO_CHANGE}
    assert not [sentence for sentence in filled.notes if "kept" in sentence]
