"""Workbooks that other people made, where they are at hand: nothing of them is lost."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from python_calamine import CalamineWorkbook

from tests.package.books import parts_of, result_tabs
from xlhelpers.errors import WorkbookError
from xlhelpers.package.graft.graft import graft_sheets
from xlhelpers.package.parts.parts import sheets, why_not_writable
from xlhelpers.package.parts.relations import CONTENT_TYPES, relations_name
from xlhelpers.package.sheet.cell_edit import write_cells
from xlhelpers.package.sheet.cell_writes import CellWrite
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.zip.container import Package

FOLDER = Path(__file__).parents[3] / "shared" / "corpus"
BOOKS = sorted(FOLDER.glob("*.xls[xm]")) if FOLDER.is_dir() else []


@pytest.mark.skipif(not BOOKS, reason="the folder of workbooks is not here")
@pytest.mark.parametrize("path", BOOKS, ids=lambda path: path.stem)
def test_a_real_workbook_loses_nothing(path: Path) -> None:
    original = path.read_bytes()
    try:
        package = Package.open(path)
    except WorkbookError:
        return
    before = {name: package.read(name) for name in package.names()}
    worksheets = [sheet for sheet in sheets(package) if sheet.kind == "worksheet"]
    for sheet in worksheets:
        read_grid(package, sheet)
    if why_not_writable(package) is not None:
        return
    written = set()
    if worksheets:
        grid = read_grid(package, worksheets[0])
        writes = [CellWrite(grid.shape[0] + 3, column, value) for column, value in
                  ((1, 12.5), (grid.shape[1] + 2, "=not a formula"))]  # fmt: skip
        count, refused = write_cells(package, worksheets[0], writes)
        assert count + len(refused) == 2
        written = {worksheets[0].part} if count else set()
    names = graft_sheets(package, result_tabs(), replacing={}, defined={"our_trees": "Trees!$A$1"})
    result = package.to_bytes()
    main = package.workbook_part
    styles = {name for name in before if name.endswith("styles.xml")}
    may_change = {CONTENT_TYPES, main, relations_name(main), *styles, *written}
    after = {name.replace("\\", "/"): content for name, content in parts_of(result).items()}
    assert {name for name in before if after.get(name) != before[name]} <= may_change
    again = Package.from_bytes(result)
    replacing = dict(zip(("Trees", "By plot"), names, strict=True))
    graft_sheets(again, result_tabs(), replacing=replacing, defined={"our_trees": "Trees!$A$1"})
    assert again.changed() == ()
    assert path.read_bytes() == original
    untouched = [sheet.name for sheet in sheets(package) if sheet.part not in written]
    compare_readings(original, result, names[0], untouched)


def compare_readings(original: bytes, result: bytes, tab: str, untouched: list[str]) -> None:
    """Another reader finds the same cells as before, and ours besides."""
    try:
        old = CalamineWorkbook.from_object(io.BytesIO(original))
    except Exception:
        return
    new = CalamineWorkbook.from_object(io.BytesIO(result))
    assert new.sheet_names[: len(old.sheet_names)] == old.sheet_names
    assert new.get_sheet_by_name(tab).to_python()[2][1] == 25.0
    for name in [name for name in old.sheet_names if name in untouched][:3]:
        try:
            cells = old.get_sheet_by_name(name).to_python()
        except Exception:
            continue
        assert new.get_sheet_by_name(name).to_python() == cells
