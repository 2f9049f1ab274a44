"""A field sheet that some program wrote in an unusual way is filled like any other."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from lxml import etree
from openpyxl import load_workbook

from tests.jobs.books import PLOT, keyed, varied
from xlhelpers.errors import WorkbookError
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.package.parts.parts import sheet_named
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.sheet.sheet_bytes import SheetBytes
from xlhelpers.package.zip.container import Package

LINES = 16


def in_utf_16(content: bytes) -> bytes:
    text = content.decode().replace('encoding="UTF-8"', 'encoding="UTF-16"', 1)
    return text.encode("utf-16")


def with_prefixes(content: bytes) -> bytes:
    root = etree.fromstring(content)
    main = root.nsmap[None]
    other = etree.Element(root.tag, nsmap={"x": main, **{k: v for k, v in root.nsmap.items() if k}})
    for name, value in root.items():
        other.set(name, value)
    other.extend(list(root))
    etree.cleanup_namespaces(other, keep_ns_prefixes=["r"])
    return etree.tostring(other, xml_declaration=True, encoding="UTF-8", standalone=True)


@pytest.mark.parametrize(
    "spelling", [in_utf_16, pytest.param(with_prefixes, marks=pytest.mark.slow)]
)
def test_it_gets_the_same_results(spelling: Callable[[bytes], bytes], tmp_path: Path) -> None:
    usual = keyed(tmp_path / "usual.xlsx", varied(LINES), [PLOT | {"trees_counted": LINES}])
    package = Package.open(usual)
    part = sheet_named(package, FIELD_SHEET.tab)
    assert part is not None
    content = spelling(package.read(part.part))
    assert SheetBytes.read(content) is None
    package.replace(part.part, content)
    unusual = tmp_path / "unusual.xlsx"
    unusual.write_bytes(package.to_bytes())
    said = [fill(path).notes for path in (usual, unusual)]
    assert said[0] == said[1]
    for tab in (FIELD_SHEET.tab, *RESULT_TABS.values()):
        grids = []
        for path in (usual, unusual):
            opened = Package.open(path)
            sheet = sheet_named(opened, tab)
            assert sheet is not None
            grids.append(read_grid(opened, sheet))
        # the name of the workbook stands in one tab
        same = (grids[0].values == grids[1].values) | (grids[0].values == "usual.xlsx")
        assert same.all(), np.argwhere(~same)[:5]
        assert grids[0].formulas == grids[1].formulas
    assert not fill(unusual).wrote


@pytest.mark.slow
def test_a_stray_cell_in_the_last_corner_of_another_sheet_stops_nothing(tmp_path: Path) -> None:
    book = keyed(tmp_path / "town.xlsx", varied(3), [PLOT | {"trees_counted": 3}])
    opened = load_workbook(book)
    notes = opened.create_sheet("Notes")
    notes["B2"], notes["XFD1048576"] = "ask the depot", "stray"
    opened.save(book)
    assert fill(book).wrote
    assert not fill(book).wrote
    after = load_workbook(book)["Notes"]
    assert (after["B2"].value, after["XFD1048576"].value) == ("ask the depot", "stray")


def test_a_stray_cell_far_out_on_a_field_sheet_is_said(tmp_path: Path) -> None:
    book = keyed(tmp_path / "town.xlsx", varied(3), [PLOT | {"trees_counted": 3}])
    opened = load_workbook(book)
    opened[FIELD_SHEET.tab]["XFD1048576"] = "stray"
    opened.save(book)
    before = book.read_bytes()
    with pytest.raises(WorkbookError, match=r"Field sheet is too large to read .*stray cells"):
        fill(book)
    assert book.read_bytes() == before
