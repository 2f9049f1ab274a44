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
from xlhelpers.package.sheet.row_repeats import take_out_repeats
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


def line(row: int, cell: str = "A{}", rest: str = '"><v>1</v>', mark: str = "") -> str:
    """A row of two cells that may be repeated with another number."""
    name = cell.format(row)
    blank = f'<c r="B{row}" t="str"><f t="shared" si="0"/><v></v></c>'
    return f'<row r="{row}"{mark}><c r="{name}{rest.format(row)}</c>{blank}</row>'


@pytest.mark.parametrize(
    "lines",
    [
        [line(row) for row in range(1, 130)],
        [line(row) for row in (3, 4, 7, 9, 10, 11)],
        [line(row, mark=' hidden="1"' if row < 4 else "") for row in range(1, 8)],
        # numbers that are no names
        [line(row, rest='"><v>{}</v>') for row in range(1, 9)],
        [line(row, rest='" s="{}"><v>1</v>') for row in range(1, 9)],
        [line(row, rest='"><f>B{}*2</f><v>1</v>') for row in range(1, 9)],
        [line(row, rest='" t="inlineStr"><is><t>A{}" s=</t></is>') for row in range(1, 9)],
        # cells named as if in another row
        [line(row, cell="A5") for row in range(1, 9)],
        [line(row, cell="A1{}") for row in range(8, 13)],
        [line(row, rest='"><v>{}</v>') + line(row + 1) for row in (8, 1, 3)],
        [line(1), line(2), '<row r="9"/>' + line(1, rest='"><v>7</v>'), line(3), line(4)],
        [line(1), '<row r="2"/>', line(3), line(4), '<row r="8" hidden="1"/>', line(9), line(10)],
        [line(1), line(2), line(3), line(2, rest='"><v>8</v>'), line(1)],
    ],
)
def test_rows_that_repeat_the_row_before(lines: list[str]) -> None:
    for space in ("", "\n  "):
        assert_same(Package.from_bytes(plain_book(space.join(lines))))


def test_spare_lines_are_read_once() -> None:
    package = Package.from_bytes(plain_book("".join(line(row) for row in range(1, 1001))))
    data = package.read(SHEET_PART)
    start, end = data.index(b"<row"), data.index(b"</sheetData>")
    rows, runs = take_out_repeats(data[start:end])
    # one row of each count of digits
    assert rows.decode() == "".join(map(line, (1, 10, 100, 1000)))
    assert [(run.row, len(run.repeats)) for run in runs] == [(1, 8), (10, 89), (100, 899)]


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
