"""A field sheet that some program wrote in an unusual way is filled like any other."""

from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from lxml import etree

from tests.jobs.books import PLOT, keyed, varied
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


@pytest.mark.parametrize("spelling", [in_utf_16, with_prefixes])
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
