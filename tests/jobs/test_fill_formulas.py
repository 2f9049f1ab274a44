"""Live formulas through a fill: stored, extended, left alone, restored when asked."""

from pathlib import Path

import numpy as np
import openpyxl
import pytest

from tests.jobs.books import PLOT, keyed, varied
from tests.live.formula_books import ALL, stored, without_results
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.places import PLOTS
from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.package.parts.parts import sheet_named
from xlhelpers.package.sheet.cell_edit import edit_cells
from xlhelpers.package.sheet.cell_writes import CellWrite
from xlhelpers.package.sheet.grid import Grid, read_grid
from xlhelpers.package.sheet.references import column_letters
from xlhelpers.package.zip.container import Package

COLUMNS = {field.name: at for at, field in enumerate(FIELD_SHEET.fields, 1)}
TOTAL = column_letters(COLUMNS["live_total"])
LINES = 28  # four more than the template of `keyed` prepares


def grid_of(path: Path, tab: str = FIELD_SHEET.tab) -> Grid:
    package = Package.open(path)
    part = sheet_named(package, tab)
    assert part is not None
    return read_grid(package, part)


def put(path: Path, row: int, name: str, value: object, *, over: bool = True) -> None:
    package = Package.open(path)
    part = sheet_named(package, FIELD_SHEET.tab)
    assert part is not None
    place = (row, COLUMNS[name])
    writes = [CellWrite(*place, value)]  # type: ignore[arg-type]
    done = edit_cells(package, part, writes, overwrite_formulas=frozenset([place] if over else []))
    assert len(done.changed) == 1
    path.write_bytes(package.to_bytes())


@pytest.fixture
def book(tmp_path: Path) -> Path:
    plots = [PLOT | {"trees_counted": LINES}]
    return keyed(tmp_path / "town.xlsx", varied(LINES), plots)


def test_formulas_stay_and_hold_the_heights(book: Path) -> None:
    before = grid_of(book).formulas
    filled = fill(book)
    grid = grid_of(book)
    assert before.items() <= grid.formulas.items()
    factor = filled.outcome.setups["total_height"].to_numpy()
    given = stored(book, ("live_total", "live_warning"), 6, LINES)
    np.testing.assert_allclose(given["live_total"].astype(float), factor, rtol=1e-12)
    assert set(given["live_warning"]) == {""}
    progress = [field.name for field in PLOTS.fields].index("progress") + 1
    assert grid_of(book, PLOTS.tab).value(6, progress) == (
        f"{LINES} of {LINES} entered, 0 to check before you leave"
    )
    assert not [said for said in filled.notes if "formula" in said]


@pytest.mark.slow
@pytest.mark.parametrize("name", ["setup", "plot"])
def test_true_is_not_counted_as_the_number_one(book: Path, name: str) -> None:
    for row in range(6, 6 + LINES):
        put(book, row, name, 1.0)
    put(book, 7, name, True)
    fill(book)
    progress = [field.name for field in PLOTS.fields].index("progress") + 1
    said = grid_of(book, PLOTS.tab).value(6, progress)
    assert str(said).startswith(f"{LINES - 1} of {LINES} entered")


def test_lines_below_the_prepared_ones_get_formulas_of_their_own(book: Path) -> None:
    assert (30, COLUMNS["live_total"]) not in grid_of(book).formulas
    fill(book)
    grid = grid_of(book)
    for row in range(30, 6 + LINES):
        for name in ALL:
            assert (row, COLUMNS[name]) in grid.formulas
    assert (6 + LINES, COLUMNS["live_total"]) not in grid.formulas


@pytest.mark.slow
def test_a_second_fill_changes_nothing(book: Path) -> None:
    fill(book)
    again = fill(book)
    assert again.cells_changed == 0
    assert not again.wrote


def test_what_was_typed_over_a_formula_is_left_and_said(book: Path) -> None:
    put(book, 8, "live_total", 12.5)
    filled = fill(book)
    assert grid_of(book).value(8, COLUMNS["live_total"]) == 12.5
    (said,) = [s for s in filled.notes if "typed over" in s]
    assert "typed over 1 formula on Field sheet" in said
    assert f"Total height: {TOTAL}8" in said
    assert "--restore-formulas" in said
    restored = fill(book, restore_formulas=True)
    assert (8, COLUMNS["live_total"]) in grid_of(book).formulas
    assert grid_of(book).value(8, COLUMNS["live_total"]) == pytest.approx(
        restored.outcome.setups["total_height"][2]
    )
    assert any("formulas are back in 1 cell on Field sheet" in s for s in restored.notes)


@pytest.mark.slow
def test_another_formula_is_told_from_what_was_typed(book: Path) -> None:
    """As in a workbook of another version of the program, or with a formula of one's own."""
    edited = openpyxl.load_workbook(book)
    for row in (7, 8, 9):
        edited[FIELD_SHEET.tab].cell(row, COLUMNS["live_total"]).value = f"=2*{TOTAL}5"
    edited.save(book)
    (said,) = [s for s in fill(book).notes if f"Total height: {TOTAL}7:{TOTAL}9" in s]
    assert "Another formula" in said
    assert "3 cells on Field sheet" in said
    assert "typed over" not in said
    assert grid_of(book).formulas[8, COLUMNS["live_total"]] == f"2*{TOTAL}5"
    fill(book, restore_formulas=True)
    assert grid_of(book).formulas[8, COLUMNS["live_total"]] != f"2*{TOTAL}5"


def test_a_reading_that_no_formula_understands_is_said(book: Path) -> None:
    put(book, 9, "distance", "25 metres")
    filled = fill(book)
    given = stored(book, ("live_total", "live_warning"), 9, 1)
    assert given["live_total"][0] == ""
    assert given["live_warning"][0] == "Distance: fill will read it"
    assert np.isfinite(filled.outcome.setups["total_height"][3])
    (said,) = [s for s in filled.notes if "formulas in row 9 of Field sheet differ" in s]
    assert "Use the values on the tab Trees." in said


@pytest.mark.slow
@pytest.mark.libreoffice
def test_stored_results_are_what_libreoffice_calculates(book: Path, soffice) -> None:  # type: ignore[no-untyped-def]
    put(book, 9, "distance", "25 metres")
    put(book, 10, "foot_reading", 8.0)
    fill(book)
    ours = stored(book, ALL, 6, LINES)
    progress = [field.name for field in PLOTS.fields].index("progress") + 1
    words = grid_of(book, PLOTS.tab).value(6, progress)
    assert "1 to check" in str(words)  # what fill reads is not to be checked
    without_results(book)
    shown = soffice(book, recalculate=True)
    theirs = stored(shown, ALL, 6, LINES)
    for name in ALL:
        for one, other in zip(ours[name], theirs[name], strict=True):
            if isinstance(one, float):
                assert other == pytest.approx(one, rel=1e-9, abs=1e-9)
            else:
                assert (one or "") == (other or "")
    assert grid_of(shown, PLOTS.tab).value(6, progress) == words


def test_a_workbook_without_formulas_gets_values_as_before(tmp_path: Path) -> None:
    import re

    book = keyed(tmp_path / "older.xlsx", varied(3))
    package = Package.open(book)
    workbook = package.read(package.workbook_part)
    workbook = re.sub(
        rb'<definedName name="xlh_(?:of|cells)_[^>]*>[^<]*</definedName>', b"", workbook
    )
    package.replace(package.workbook_part, workbook)
    part = sheet_named(package, FIELD_SHEET.tab)
    assert part is not None
    plain = re.sub(
        rb'(?: t="str")?(><)f[^<>]*(?:/>|>[^<]*</f>)<v>[^<]*</v></c>',
        rb"\1/c>",
        package.read(part.part),
    )
    package.replace(part.part, plain)
    book.write_bytes(package.to_bytes())
    filled = fill(book)
    assert not grid_of(book).formulas
    assert grid_of(book).value(6, COLUMNS["live_total"]) == pytest.approx(
        filled.outcome.setups["total_height"][0]
    )


def test_every_cell_that_differs_is_listed_by_ranges_with_links(book: Path) -> None:
    for row in (8, 9, 10, 13):
        put(book, row, "live_depth", 1.5)
    put(book, 15, "distance", "25 metres")
    filled = fill(book)
    letters = column_letters(COLUMNS["live_depth"])
    (said,) = [s for s in filled.notes if "typed over 4 formulas on Field sheet" in s]
    assert f"(Crown depth: {letters}8:{letters}10, {letters}13)" in said
    grid = grid_of(book, RESULT_TABS["about"])
    rows = grid.values[:, :6].tolist()
    title = "Formula cells that were changed, or that show another value"
    at = [row[0] for row in rows].index(title) + 2
    listed = rows[at : at + 7]
    assert [row[1:5] for row in listed if row[1] == "Crown depth"][:2] == [
        ["Crown depth", f"{letters}8", f"{letters}10", 3.0],
        ["Crown depth", f"{letters}13", f"{letters}13", 1.0],
    ]
    total = next(n for n, row in enumerate(listed, at + 1) if row[1] == "Total height")
    cell = f"{column_letters(COLUMNS['live_total'])}15"
    assert grid.value(total, 2) == "Total height"
    assert grid.formulas[total, 1] == f'HYPERLINK("#\'Field sheet\'!{cell}","Field sheet {cell}")'
    assert "shows nothing" in str(grid.value(total, 6))
    assert not fill(book).wrote
