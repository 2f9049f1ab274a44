"""The quick way and the careful way to read a sheet give the same grid."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from tests.package.books import SHEET_PART, plain_book, result_tabs, user_book
from tests.package.test_real_workbooks import BOOKS
from xlhelpers.errors import WorkbookError
from xlhelpers.package.parts.parts import sheets
from xlhelpers.package.sheet.cell_edit import write_cells
from xlhelpers.package.sheet.cell_writes import CellWrite
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.sheet.grid_scan import CellCollector, scan
from xlhelpers.package.zip.container import Package


def assert_same(package: Package) -> int:
    """Compare both ways for every worksheet; returns how many could be read the quick way."""
    quick = 0
    for sheet in sheets(package):
        if sheet.kind != "worksheet" or not sheet.part:
            continue
        quick += scan(package.read(sheet.part), CellCollector(["x"] * 10_000, False))
        first, second = (read_grid(package, sheet, careful=careful) for careful in (False, True))
        for field in dataclasses.fields(first):
            one, other = getattr(first, field.name), getattr(second, field.name)
            if isinstance(one, np.ndarray):
                assert one.shape == other.shape
                assert one.tolist() == other.tolist(), (sheet.name, field.name)
                types = [[type(item) for item in row] for row in (one.flat, other.flat)]
                assert types[0] == types[1]
            else:
                assert one == other, (sheet.name, field.name)
    return quick


def test_workbooks_as_programs_write_them() -> None:
    for data in (user_book(), result_tabs()):
        package = Package.from_bytes(data)
        assert assert_same(package) == len(sheets(package))
        writes = [CellWrite(row, 12, value) for row, value in
                  enumerate(("=text & more", " a<b ", True, 1e-7, "", "_x0041_"), 2)]  # fmt: skip
        write_cells(package, sheets(package)[0], writes)
        assert assert_same(package) == len(sheets(package))


PLAIN = '<row r="1"><c r="A1"><v>1</v></c></row>'


@pytest.mark.parametrize(
    "rows",
    [
        '<row r="1"><c r="A1" t="str"><f>"a"&amp;"&lt;"</f><v>a&lt;&#66;</v></c></row>',
        '<row r="3" hidden="true"/><row r="1"><c r="B1" t="e"><v>#N/A</v></c></row>',
        '\n <row r="1">\n</row>\n',
        '<row r="1"><c r="A1"><f>B1</f></c><c r="B1"><f t="shared" si="0"/><v/></c></row>',
        '<row r="1" spans="1:3" ht="12.8"><c r="C1" s="0" t="n"><v>-1E-3</v></c></row>',
    ],
)
def test_what_the_quick_way_reads(rows: str) -> None:
    assert assert_same(Package.from_bytes(plain_book(rows))) == 1


@pytest.mark.parametrize(
    "rows",
    [
        '<row r="1"><c r="A1" t="inlineStr"><is><r><t>a</t></r><rPh><t>b</t></rPh></is></c></row>',
        PLAIN.replace(' r="1"', ""),
        PLAIN.replace(' r="A1"', ""),
        PLAIN.replace('"', "'"),
        PLAIN.replace("<v>1", "<v>INF"),
        PLAIN.replace("<v>1", "<v>one"),
        PLAIN.replace("<v>1", "<v><![CDATA[1]]>"),
        PLAIN.replace("<c ", "<!-- c --><c "),
        PLAIN.replace("</row>", "<extLst/></row>"),
        PLAIN.replace("<c ", '<c cm="1" '),
        "",
    ],
)
def test_what_the_quick_way_leaves_to_the_parser(rows: str) -> None:
    package = Package.from_bytes(plain_book(rows))
    text = package.read(SHEET_PART)
    if not rows:
        package.replace(SHEET_PART, text.replace(b"<sheetData></sheetData>", b"<sheetData/>"))
    assert assert_same(package) == 0


def test_a_broken_row_is_not_read_the_quick_way() -> None:
    package = Package.from_bytes(plain_book('<row r="1"><c r="A1"><v>1</v></c></rew>'))
    with pytest.raises(WorkbookError, match="damaged"):
        read_grid(package, sheets(package)[0])


@pytest.mark.skipif(not BOOKS, reason="the folder of workbooks is not here")
def test_real_workbooks_read_the_same_both_ways() -> None:
    quick = 0
    for path in BOOKS:
        try:
            package = Package.open(path)
        except WorkbookError:
            continue
        quick += assert_same(package)
    assert quick > 50
