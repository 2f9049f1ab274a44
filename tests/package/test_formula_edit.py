"""Stored results and new formulas, read back with openpyxl; nothing else of the sheet changes."""

import io
import re

import numpy as np
import openpyxl
import pytest
import xlsxwriter

from tests.package.test_row_stream import canonical
from xlhelpers.package.formulas.formula_edit import edit_formulas, edit_sheet
from xlhelpers.package.formulas.formula_edits import (
    FormulaEdits,
    FormulaWrite,
    StoredColumn,
    StoredValue,
)
from xlhelpers.package.parts.parts import SheetPart, sheet_named
from xlhelpers.package.sheet.cell_edit import edit_cells
from xlhelpers.package.sheet.cell_writes import ColumnWrites
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.sheet.sheet_bytes import SheetBytes
from xlhelpers.package.zip.container import Package


def package_of(*, shared: bool = False) -> tuple[Package, SheetPart]:
    """A sheet with a number in A1:A4 and a formula in B1:B3; shared where asked for."""
    target = io.BytesIO()
    with xlsxwriter.Workbook(target) as book:
        sheet = book.add_worksheet("Data")
        for row in range(4):
            sheet.write_number(row, 0, row + 1)
        for row in range(3):
            sheet.write_formula(row, 1, f'=A{row + 1}*2&"<&>"', None, "")
        sheet.write_array_formula("D1:D2", "{=A1:A2}")
    package = Package.from_bytes(target.getvalue())
    part = sheet_named(package, "Data")
    assert part is not None
    if shared:
        content = package.read(part.part)
        content = content.replace(b'<c r="B1"><f>', b'<c r="B1"><f t="shared" ref="B1:B3" si="7">')
        content = re.sub(rb'(<c r="B[23]">)<f>[^<]*</f>', rb'\1<f t="shared" si="7"/>', content)
        package.replace(part.part, content)
    return package, part


def cells(package: Package, *, values: bool) -> dict[str, object]:
    book = openpyxl.load_workbook(io.BytesIO(package.to_bytes()), data_only=values)
    return {cell.coordinate: cell.value for row in book["Data"] for cell in row}


@pytest.mark.parametrize("value", [2.5, 3.0, "a <b> & c", True])
def test_a_result_is_stored_and_the_formula_stays(value: float | str | bool) -> None:
    package, part = package_of()
    before = read_grid(package, part).formulas
    result = edit_formulas(package, part, FormulaEdits([StoredValue(2, 2, value)]))
    assert list(result.changed) == [(2, 2)]
    assert not result.refusals
    assert read_grid(package, part).formulas == before
    assert cells(package, values=True)["B2"] == value
    again = edit_formulas(package, part, FormulaEdits([StoredValue(2, 2, value)]))
    assert not again.changed


def test_an_empty_text_counts_as_calculated() -> None:
    package, part = package_of()
    edit_formulas(package, part, FormulaEdits([StoredValue(1, 2, ""), StoredValue(2, 2, None)]))
    grid = read_grid(package, part)
    assert not {(1, 2), (2, 2)} & set(grid.uncalculated)


def test_a_cell_without_a_formula_and_an_array_are_refused() -> None:
    package, part = package_of()
    before = package.to_bytes()
    result = edit_formulas(
        package, part, FormulaEdits([StoredValue(1, 1, 9.0), StoredValue(1, 4, 9.0)])
    )
    assert [(r.row, r.column) for r in result.refusals] == [(1, 1), (1, 4)]
    assert not result.changed
    assert package.to_bytes() == before


def test_a_new_formula_stands_beside_the_others() -> None:
    package, part = package_of()
    result = edit_formulas(
        package, part, FormulaEdits([FormulaWrite(4, 2, 'IF(A4<5,"<","")', "<", (3, 2))])
    )
    assert list(result.changed) == [(4, 2)]
    assert cells(package, values=False)["B4"] == '=IF(A4<5,"<","")'
    assert cells(package, values=True)["B4"] == "<"


def test_a_filled_down_formula_joins_the_shared_one() -> None:
    package, part = package_of(shared=True)
    edit = FormulaWrite(4, 2, 'A4*2&"<&>"', "8<&>", (3, 2), (3, 2))
    assert edit_formulas(package, part, FormulaEdits([edit])).changed
    content = package.read(part.part)
    assert b'ref="B1:B4"' in content
    assert b'<f t="shared" si="7"/><v>8&lt;&amp;&gt;</v>' in content
    assert cells(package, values=False)["B4"] == '=A4*2&"<&>"'


def test_a_formula_of_someone_else_gives_way_only_when_allowed() -> None:
    package, part = package_of()
    edit = FormulaWrite(1, 2, "A1+1", 2.0)
    assert edit_formulas(package, part, FormulaEdits([edit])).refusals
    place = frozenset([(1, 2)])
    assert edit_formulas(package, part, FormulaEdits([edit], overwritten=place)).changed
    assert cells(package, values=False)["B1"] == "=A1+1"


@pytest.mark.parametrize("shared", [False, True])
@pytest.mark.parametrize("usual", [True, False])
def test_a_whole_shared_formula_gives_way(
    shared: bool, usual: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The cell that the others are filled from is replaced as well, and none loses its text."""
    package, part = package_of(shared=shared)
    if not usual:
        monkeypatch.setattr(SheetBytes, "read", lambda *_, **__: None)
    places = [(row, 2) for row in (1, 2, 3)]
    edits = [FormulaWrite(*at, f"A{at[0]}+5", at[0] + 5.0, None, (1, 2)) for at in places]
    result = edit_formulas(package, part, FormulaEdits(edits, overwritten=frozenset(places)))
    assert len(list(result.changed)) == 3
    assert not result.refusals
    found = cells(package, values=False)
    assert [found[f"B{row}"] for row in (1, 2, 3)] == ["=A1+5", "=A2+5", "=A3+5"]
    assert [cells(package, values=True)[f"B{row}"] for row in (1, 2, 3)] == [6, 7, 8]


EDITS = (
    FormulaEdits([StoredValue(1, 2, 2.5), StoredValue(2, 2, "a <b> & c"), StoredValue(3, 2, True)]),
    FormulaEdits([StoredValue(1, 2, ""), StoredValue(2, 2, None), StoredValue(3, 2, 7)]),
    FormulaEdits([StoredValue(1, 1, 9.0), StoredValue(1, 4, 9.0), StoredValue(90, 2, 9.0)]),
    FormulaEdits([FormulaWrite(4, 2, 'IF(A4<5,"<","")', "<", (3, 2), (3, 2))]),
    FormulaEdits([FormulaWrite(1, 2, "A1+1", 2.0)]),
    FormulaEdits([FormulaWrite(2, 2, "A2+1", 2.0)], overwritten=frozenset([(2, 2)])),
    FormulaEdits([FormulaWrite(4, 9, "A4+1", 2.0, (1, 1))]),
    FormulaEdits(
        [FormulaWrite(4, 2, "A4", 1.0)],
        [StoredColumn(2, np.array([1, 3]), np.array([1.5, "x"], dtype=object))],
    ),
)


@pytest.mark.parametrize("shared", [False, True])
@pytest.mark.parametrize("edits", EDITS)
def test_the_tree_of_an_unusual_sheet_is_edited_alike(
    edits: FormulaEdits, shared: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    package, part = package_of(shared=shared)
    usual = edit_formulas(package, part, edits)
    other, _ = package_of(shared=shared)
    monkeypatch.setattr(SheetBytes, "read", lambda *_, **__: None)
    unusual = edit_formulas(other, part, edits)
    assert unusual == usual
    assert canonical(other.read(part.part)) == canonical(package.read(part.part))


@pytest.mark.parametrize("shared", [False, True])
@pytest.mark.parametrize("edits", EDITS)
def test_values_and_formulas_in_one_go(
    edits: FormulaEdits, shared: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    columns = {6: np.array([1.5, None, "x", 4], dtype=object)}
    writes = ColumnWrites(np.array([1, 2, 4, 7]), columns)  # type: ignore[arg-type]
    apart, part = package_of(shared=shared)
    expected = (edit_cells(apart, part, writes), edit_formulas(apart, part, edits))
    for careful in (False, True):
        if careful:
            monkeypatch.setattr(SheetBytes, "read", lambda *_, **__: None)
        package, _ = package_of(shared=shared)
        assert edit_sheet(package, part, writes, edits) == expected
        assert canonical(package.read(part.part)) == canonical(apart.read(part.part))
