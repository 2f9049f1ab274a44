"""What Plots says of a plot's lines: by LibreOffice, and by the program that stores it."""

from pathlib import Path

import pytest

from tests.conftest import Converter
from tests.jobs.books import GOOD, PLOT, keyed
from tests.live.formula_books import stored, without_results
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.places import PLOTS
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.live.progress import counts_of_sum, progress_formulas
from xlhelpers.package.parts.parts import sheet_named
from xlhelpers.package.sheet.cell_edit import write_cells
from xlhelpers.package.sheet.cell_writes import CellWrite
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.zip.container import Package

LINES = [
    {"tree": "1"},
    {"tree": "2", "foot_reading": 6},  # a warning
    {"tree": "2", "setup": 2, "foot_reading": 6},
    {"tree": "3", "distance": "18 metres"},  # fill reads it: nothing to check
    {"tree": "4", "distance": "18,4"},
    {"plot": "2", "tree": "1"},
]
ROWS = [PLOT | {"trees_counted": 5}, PLOT | {"plot": "2"}]
TEXTS = ["4 of 5 entered, 2 to check before you leave", "1 entered, 0 to check before you leave"]
BELOW = 6 + 2 * 12  # the first row without formulas: twelve lines are expected


def shown(path: Path) -> list[object]:
    package = Package.open(path)
    part = sheet_named(package, PLOTS.tab)
    assert part is not None
    grid = read_grid(package, part)
    column = PLOTS.fields.index(PLOTS["progress"]) + 1
    return [grid.value(row, column) for row in (6, 7)]


def key_below(path: Path) -> None:
    """Key a line of plot 2 below all rows with formulas."""
    package = Package.open(path)
    part = sheet_named(package, FIELD_SHEET.tab)
    assert part is not None
    values = GOOD | {"plot": "2", "tree": "77", "foot_reading": 6.0}
    columns = {field.name: at for at, field in enumerate(FIELD_SHEET.fields, 1)}
    writes = [CellWrite(BELOW, columns[name], value if isinstance(value, str) else float(value))
              for name, value in values.items()]  # fmt: skip
    write_cells(package, part, writes)
    path.write_bytes(package.to_bytes())


@pytest.mark.slow
@pytest.mark.libreoffice
def test_libreoffice_and_the_program_count_alike(tmp_path: Path, soffice: Converter) -> None:
    book = keyed(tmp_path / "town.xlsx", LINES, ROWS)
    without_results(book)
    assert shown(soffice(book, recalculate=True)) == TEXTS
    fill(book)
    assert shown(book) == TEXTS


@pytest.mark.slow
@pytest.mark.libreoffice
def test_a_line_without_formulas_is_counted_and_said(tmp_path: Path, soffice: Converter) -> None:
    book = keyed(tmp_path / "town.xlsx", LINES, ROWS)
    key_below(book)
    without_results(book)
    said = "2 entered, 0 to check before you leave, 1 without formulas: run fill"
    assert shown(soffice(book, recalculate=True)) == [TEXTS[0], said]
    fill(book)  # gives the line its formulas
    assert shown(book) == [TEXTS[0], "2 entered, 1 to check before you leave"]
    assert stored(book, ("live_warning",), BELOW, 1)["live_warning"][0]


def test_the_sum_of_a_plot_holds_three_counts() -> None:
    assert counts_of_sum(0.0) == (0, 0, 0)
    assert counts_of_sum(3 * 1e10 + 2 * 1e5 + 1) == (1, 2, 3)
    # exact as far as the numbers of a spreadsheet are: 500,000 lines of one plot
    most = 500_000 * 10_000_000_000 + 99_999 * 100_000 + 99_999
    assert most < 2**53
    assert counts_of_sum(float(most)) == (99_999, 99_999, 500_000)


def test_one_search_a_plot_follows_a_reading() -> None:
    made = progress_formulas("$A6", "$M6", ("$S6", "$T6"), ("L!A6:A99", "L!C6:C99", "L!BY6:BY99"))
    assert made.helper_sum.count("L!BY6:BY99") == 1
    assert "BY6" not in made.progress + made.helper_lines
    for formula in (made.progress, made.helper_lines, made.helper_sum):
        assert not any(word in formula for word in ("OFFSET", "INDIRECT", "SUMIFS", "MAXIFS"))
