"""A workbook that was only looked at has nothing to save: all its results are there and right."""

import io
import re
import zipfile
from pathlib import Path

import pytest

from tests.blank_books import blank
from tests.conftest import Converter
from tests.jobs.books import PLOT, keyed
from tests.live.formula_books import without_results
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.package.parts.parts import sheets
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.zip.container import Package

# functions that are calculated whenever a workbook is opened: common practice, no source
VOLATILE = ("OFFSET", "INDIRECT", "NOW", "TODAY", "RAND", "RANDBETWEEN", "CELL", "INFO")


def settings(data: bytes) -> str:
    with zipfile.ZipFile(io.BytesIO(data)) as parts:
        book = parts.read("xl/workbook.xml").decode()
    (found,) = re.findall(r"<calcPr[^>]*>", book)
    return str(found)


def results(data: bytes) -> dict[tuple[str, int, int], object]:
    """What every formula of a workbook shows; a blank text is none."""
    package = Package.from_bytes(data)
    found = {}
    for part in sheets(package):
        grid = read_grid(package, part)
        for row, column in grid.formulas:
            value = grid.value(row, column)
            found[part.name, row, column] = None if value == "" else value
    return found


def test_a_blank_workbook_asks_for_no_calculation() -> None:
    assert "fullCalcOnLoad" not in settings(blank())


@pytest.mark.slow
@pytest.mark.parametrize("units", ["metric", pytest.param("us", marks=pytest.mark.slow)])
@pytest.mark.libreoffice
def test_its_stored_results_are_those_of_a_calculation(
    tmp_path: Path, soffice: Converter, units: str
) -> None:
    data = blank(units)
    book = tmp_path / "blank.xlsx"
    book.write_bytes(data)
    without_results(book)
    fresh = results(soffice(book, recalculate=True).read_bytes())
    before = results(data)
    assert len(before) > 1000
    assert set(fresh) == set(before)
    for place, value in before.items():
        assert fresh[place] == (pytest.approx(value) if isinstance(value, float) else value), place


def test_what_is_keyed_by_the_program_is_calculated_on_opening_until_it_is_filled(
    tmp_path: Path,
) -> None:
    book = keyed(tmp_path / "town.xlsx", [{"tree": "1"}], [PLOT])
    assert 'fullCalcOnLoad="1"' in settings(book.read_bytes())
    fill(book)
    assert "fullCalcOnLoad" not in settings(book.read_bytes())


def test_no_formula_is_volatile(tmp_path: Path) -> None:
    book = keyed(tmp_path / "town.xlsx", [{"tree": "1"}], [PLOT])
    fill(book)
    with zipfile.ZipFile(book) as parts:
        texts = [parts.read(name).decode() for name in parts.namelist() if name.endswith(".xml")]
    formulas = re.findall(r"<(?:f|formula\d?|definedName)(?: [^<>]*)?>([^<]+)<", "".join(texts))
    assert len(formulas) > 100
    used = set(re.findall(r"\b([A-Z]+)\(", " ".join(formulas)))
    assert "COUNTIF" in used
    assert not used & set(VOLATILE)
