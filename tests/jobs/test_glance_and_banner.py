"""What the tabs of a filled workbook say while it is used, without the program."""

from collections.abc import Mapping
from contextlib import closing
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from tests.conftest import Converter
from tests.jobs.books import PLOT, keyed, varied, write_filled
from tests.town import filled_town
from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.package.parts.parts import sheet_named
from xlhelpers.package.sheet.cell_edit import edit_cells
from xlhelpers.package.sheet.cell_writes import CellWrite
from xlhelpers.package.zip.container import Package
from xlhelpers.pages.banner import NO_CHANGE
from xlhelpers.pages.chosen_cells import read_choices

SLOW = pytest.mark.slow
GLANCE = RESULT_TABS["glance"]
PLOT_CELL = (5, 3)
# columns of the field sheet
CONDITION, TIP = 5, 13


def type_in(path: Path, sheet: str, cells: Mapping[tuple[int, int], Any]) -> None:
    """Type into cells (row and column from 1); nothing else changes."""
    package = Package.open(path)
    part = sheet_named(package, sheet)
    assert part is not None
    writes = [CellWrite(*place, value) for place, value in cells.items()]
    done = edit_cells(package, part, writes, overwrite_formulas=frozenset(cells))
    assert len(done.changed) == len(cells)
    path.write_bytes(package.to_bytes())


LINES = [line | {"plot": plot} for plot in ("1", "2") for line in varied(4)]
TWO_PLOTS = [PLOT | {"plot": plot, "trees_counted": 4} for plot in ("1", "2")]


@pytest.fixture
def keyed_book(tmp_path: Path) -> Path:
    return keyed(tmp_path / "town.xlsx", LINES, TWO_PLOTS)


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """Two plots, filled."""
    return write_filled(tmp_path / "town.xlsx", LINES, TWO_PLOTS)


def shown(path: Path, tab: str) -> dict[tuple[int, int], Any]:
    """Return the values that a tab shows, by row and column from 1."""
    with closing(openpyxl.load_workbook(path, read_only=True, data_only=True)) as book:
        rows = list(book[tab].iter_rows(values_only=True))
    return {(r, c): value for r, row in enumerate(rows, 1) for c, value in enumerate(row, 1)}


def banners(path: Path) -> set[str]:
    """Return what the third lines of the tabs say."""
    said = set()
    with closing(openpyxl.load_workbook(path, read_only=True, data_only=True)) as book:
        for tab in RESULT_TABS.values():
            (row,) = book[tab].iter_rows(min_row=3, max_row=3, values_only=True)
            cells = [value for value in row if isinstance(value, str)]
            said |= {value for value in cells if value.startswith(("Up to date", "Out of date"))}
            assert cells, tab
    return said


@pytest.mark.parametrize("size", ["small", pytest.param("the demo town", marks=SLOW)])
def test_right_after_a_fill_no_change_is_seen(book: Path, soffice: Converter, size: str) -> None:
    if size == "the demo town":
        book.write_bytes(filled_town())
    assert banners(book) == {NO_CHANGE}
    assert banners(soffice(book, recalculate=True)) == {NO_CHANGE}


@pytest.mark.parametrize(
    ("sheet", "cells", "seen"),
    [
        ("Field sheet", {(6, TIP): 62, (7, TIP): 70}, "Field sheet: Tip reading"),
        pytest.param("Field sheet", {(7, CONDITION): "T"}, "Field sheet: Condition", marks=SLOW),
        pytest.param("Field sheet", {(300, 1): "2"}, "Field sheet: Plot", marks=SLOW),
        pytest.param("Plots", {(6, 6): "C2"}, "Plots: Instrument", marks=SLOW),
    ],
    ids=["swapped", "word", "new line", "plot"],
)
def test_a_change_is_seen_and_named(
    book: Path, soffice: Converter, sheet: str, cells: dict[tuple[int, int], Any], seen: str
) -> None:
    type_in(book, sheet, cells)
    said = banners(soffice(book, recalculate=True))
    assert len(said) == 1
    assert said.pop().startswith(f"Out of date: “{seen}")


@pytest.mark.slow
def test_every_field_sheet_is_watched(keyed_book: Path, soffice: Converter) -> None:
    book = keyed_book
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


@SLOW
def test_a_deleted_sheet_is_a_change(book: Path, soffice: Converter) -> None:
    edited = openpyxl.load_workbook(book)
    del edited["Field sheet"]
    edited.save(book)
    (said,) = banners(soffice(book, recalculate=True))
    assert said.startswith("Out of date: “Field sheet: Plot” has changed")


@SLOW
def test_an_error_that_was_there_is_no_change(keyed_book: Path, soffice: Converter) -> None:
    edited = openpyxl.load_workbook(keyed_book)
    edited["Field sheet"].cell(6, TIP).value = "=NA()"
    edited.save(keyed_book)
    calculated = soffice(keyed_book, recalculate=True)
    fill(calculated)
    assert banners(soffice(calculated, recalculate=True)) == {NO_CHANGE}


def test_choosing_a_plot_is_no_addition_and_stays(book: Path) -> None:
    assert read_choices(Package.open(book)).plot == 1.0
    type_in(book, GLANCE, {PLOT_CELL: 2})
    filled = fill(book)
    assert not [sentence for sentence in filled.notes if "kept" in sentence]
    assert read_choices(Package.open(book)).plot == 2.0
    assert shown(book, GLANCE)[5, 5] == "4 trees entered, all shown."
    before = book.read_bytes()
    assert not fill(book).wrote
    assert book.read_bytes() == before


def test_a_plot_that_is_gone_stays_chosen_and_is_said(book: Path) -> None:
    type_in(book, GLANCE, {PLOT_CELL: 9})
    fill(book)
    cells = shown(book, GLANCE)
    assert cells[PLOT_CELL] == 9
    assert "has no plot of this name" in cells[5, 5]
    assert not fill(book).wrote


@pytest.mark.parametrize(
    "cell",
    [
        pytest.param((2, 15), id="beside"),
        pytest.param((60, 1), id="below", marks=SLOW),
        pytest.param((9, 3), id="over ours", marks=SLOW),
    ],
)
def test_something_typed_beside_is_kept(book: Path, cell: tuple[int, int]) -> None:
    type_in(book, GLANCE, {cell: "my own"})
    type_in(book, "Field sheet", {(6, TIP): 71})
    fill(book)
    assert shown(book, f"{GLANCE} (kept)")[cell] == "my own"


@SLOW
def test_a_round_trip_with_other_results_is_no_addition(book: Path, soffice: Converter) -> None:
    """Saved by another program, after a change that the banner and the formulas show."""
    type_in(book, GLANCE, {PLOT_CELL: 2})
    type_in(book, "Field sheet", {(6, TIP): 71})
    saved = soffice(book, recalculate=True)
    assert banners(saved) != {NO_CHANGE}
    filled = fill(saved)
    assert filled.wrote
    assert banners(saved) == {NO_CHANGE}
    assert not [sentence for sentence in filled.notes if "kept" in sentence]
