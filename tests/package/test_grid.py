"""Cells read as they stand: every encoding that a file may use for them."""

from __future__ import annotations

import time

import numpy as np
import pytest

from tests.package.books import MAIN, SHEET_PART, plain_book, plain_parts, user_book, zipped
from xlhelpers.errors import WorkbookError
from xlhelpers.package.parts.parts import sheets
from xlhelpers.package.parts.styles import is_date, is_percent
from xlhelpers.package.sheet.grid import Grid, read_grid
from xlhelpers.package.sheet.grid_scan import CellError
from xlhelpers.package.zip.container import Package

FORMATS = (
    '<numFmts><numFmt numFmtId="164" formatCode="0.0&quot; %d&quot;"/></numFmts>'
    '<cellXfs><xf numFmtId="0"/><xf numFmtId="9"/><xf numFmtId="14"/><xf numFmtId="164"/></cellXfs>'
)


def grid_of(rows: str, **others: object) -> Grid:
    package = Package.from_bytes(plain_book(rows, **others))
    return read_grid(package, sheets(package)[0])


CELLS = {
    "number": ('<c r="A1"><v>12.5</v></c>', 12.5),
    "exponent": ('<c r="A1"><v>1.25E1</v></c>', 12.5),
    "shared string": ('<c r="A1" t="s"><v>0</v></c>', "oak"),
    "rich text without phonetics": ('<c r="A1" t="s"><v>1</v></c>', "red oak"),
    "inline string": ('<c r="A1" t="inlineStr"><is><t> a b </t></is></c>', " a b "),
    "inline rich text": (
        '<c r="A1" t="inlineStr"><is><r><t>a</t></r><r><t>b</t></r></is></c>', "ab"),
    "text of a formula": ('<c r="A1" t="str"><f>B1</f><v>x</v></c>', "x"),
    "empty text of a formula": ('<c r="A1" t="str"><f>B1</f><v></v></c>', ""),
    "escape": ('<c r="A1" t="inlineStr"><is><t>a_x000D_b_x005F_x0041_</t></is></c>', "a\rb_x0041_"),
    "true": ('<c r="A1" t="b"><v>1</v></c>', True),
    "false": ('<c r="A1" t="b"><v>0</v></c>', False),
    "error": ('<c r="A1" t="e"><v>#N/A</v></c>', CellError("#N/A")),
    "date as text": ('<c r="A1" t="d"><v>2024-03-01T12:00:00</v></c>', 45352.5),
    "infinity": ('<c r="A1"><v>INF</v></c>', CellError("#NUM!")),
    "format only": ('<c r="A1" s="1"/>', None),
    "empty": ('<c r="A1"><v/></c>', None),
    "single quotes": ("<c r='A1' t='b'><v>1</v></c>", True),
    "entity": ('<c r="A1" t="inlineStr"><is><t>&lt;b&gt;&amp;&#65;</t></is></c>', "<b>&A"),
    "comment inside": ('<c r="A1"><!-- c --><v>3</v></c>', 3.0),
}  # fmt: skip
STRINGS = (
    "<t>oak</t>",
    "<r><t>red </t></r><r><rPr/><t>oak</t></r><rPh sb='0' eb='1'><t>hint</t></rPh>",
)


@pytest.mark.parametrize("case", CELLS)
def test_a_cell(case: str) -> None:
    xml, expected = CELLS[case]
    value = grid_of(f'<row r="1">{xml}</row>', strings=STRINGS).values[0, 0]
    assert value == expected
    assert type(value) is type(expected)


def test_rows_and_cells_without_names_count_on() -> None:
    grid = grid_of(
        "<row><c><v>1</v></c><c><v>2</v></c></row><row r='4'><c r='C4'><v>3</v></c>"
        "<c><v>4</v></c></row><row><c><v>5</v></c></row>"
    )
    assert grid.shape == (5, 4)
    assert [grid.value(1, 2), grid.value(4, 4), grid.value(5, 1)] == [2.0, 4.0, 5.0]


def test_rows_out_of_order_and_blank_rows() -> None:
    grid = grid_of("<row r='7'><c r='B7'><v>7</v></c></row><row r='2'><c r='A2'><v>2</v></c></row>")
    assert grid.value(7, 2) == 7.0
    assert grid.value(2, 1) == 2.0
    assert grid.value(3, 1) is None
    assert grid.value(70, 70) is None
    assert np.array_equal(np.argwhere(grid.styles == -1), np.argwhere(grid.values == None))  # noqa: E711


def test_an_empty_sheet() -> None:
    assert grid_of("").shape == (0, 0)


def test_prefixed_and_strict_namespaces_and_utf_16() -> None:
    prefixed = (
        f'<?xml version="1.0" encoding="UTF-16"?><x:worksheet xmlns:x="{MAIN}"><x:sheetData>'
        '<x:row r="1"><x:c r="A1" t="inlineStr"><x:is><x:t>Bäume</x:t></x:is></x:c></x:row>'
        "</x:sheetData></x:worksheet>"
    ).encode("utf-16")
    package = Package.from_bytes(zipped({**plain_parts(""), SHEET_PART: prefixed}))
    assert read_grid(package, sheets(package)[0]).value(1, 1) == "Bäume"
    strict = grid_of('<row r="1"><c r="A1" t="s"><v>0</v></c></row>', strings=STRINGS, strict=True)
    assert strict.value(1, 1) == "oak"


def test_formulas_and_what_was_never_calculated() -> None:
    grid = grid_of(
        '<row r="1"><c r="A1"><f>1+1</f><v>2</v></c><c r="B1"><f t="shared" ref="B1:B2" si="0">A1'
        '</f><v>2</v></c><c r="C1"><f>NOW()</f></c><c r="D1" t="str"><f>""</f><v></v></c></row>'
        '<row r="2"><c r="B2"><f t="shared" si="0"/><v>0</v></c></row>'
    )
    assert grid.formulas == {
        (1, 1): "1+1", (1, 2): "A1", (1, 3): "NOW()", (1, 4): '""', (2, 2): ""
    }  # fmt: skip
    assert grid.uncalculated == {(1, 3)}


def test_formats_hidden_rows_filters_and_merges() -> None:
    grid = grid_of(
        '<row r="1"><c r="A1" s="1"><v>0.85</v></c><c r="B1" s="2"><v>45352</v></c><c r="C1" s="3">'
        '<v>1</v></c><c r="D1"><v>1</v></c><c r="E1" t="d"><v>2024-03-01</v></c></row>'
        '<row r="2" hidden="1"/>',
        around='<autoFilter ref="A1:D9"><filterColumn colId="0"/></autoFilter>'
        '<mergeCells><mergeCell ref="A5:B6"/></mergeCells>',
        formats=FORMATS,
    )
    assert [grid.is_percent(1, column) for column in range(1, 7)] == [True] + [False] * 5
    dates = [grid.is_date(1, column) for column in range(1, 7)]
    assert dates == [False, True, False, False, True, False]
    assert grid.number_formats == ("General", "0%", "mm-dd-yy", '0.0" %d"')
    assert grid.hidden_rows == {2}
    assert grid.filtered
    assert grid.merges == ((5, 1, 6, 2),)


@pytest.mark.parametrize(
    ("code", "percent", "date"),
    [
        ("General", False, False),
        ("0.0%", True, False),
        ('0.0" %"', False, False),
        ("0.0\\%", False, False),
        ("dd/mm/yyyy", False, True),
        ("[h]:mm", False, True),
        ("[Red]0.0", False, False),
        ("[$-409]d-mmm", False, True),
        ("0.00E+00", False, False),
        ('0.0" m"', False, False),
        ("@", False, False),
    ],
)
def test_number_formats(code: str, percent: bool, date: bool) -> None:
    assert (is_percent(code), is_date(code)) == (percent, date)


def test_the_date_system_of_1904_for_dates_as_text() -> None:
    files = plain_parts('<row r="1"><c r="A1" t="d"><v>1904-01-02</v></c></row>')
    text = files["xl/workbook.xml"].replace(b"<sheets>", b'<workbookPr date1904="1"/><sheets>')
    package = Package.from_bytes(zipped({**files, "xl/workbook.xml": text}))
    assert read_grid(package, sheets(package)[0]).value(1, 1) == 1.0


@pytest.mark.parametrize(
    "rows",
    [
        '<row r="1"><c r="A1" t="s"><v>99</v></c></row>',
        '<row r="1"><c r="nonsense"><v>1</v></c></row>',
        '<row r="x"/>',
        '<row r="1"><c r="A1"><v>1</c></row>',
        '<row r="1"><c r="A1" s="x"/></row>',
        '<row r="0"><c><v>1</v></c></row>',
        '<row r="1048577"><c><v>1</v></c></row>',
    ],
)
def test_damage_gives_one_sentence(rows: str) -> None:
    with pytest.raises(WorkbookError, match="damaged"):
        grid_of(rows)


def test_stray_cells_far_out() -> None:
    near = '<row r="1"><c r="A1"><v>1</v></c></row>'
    assert grid_of(near + '<row r="1048576"><c r="XFD1048576" s="0"/></row>').shape == (1, 1)
    with pytest.raises(WorkbookError, match="Delete the stray cells"):
        grid_of(near + '<row r="1048576"><c r="XFD1048576"><v>1</v></c></row>')


def test_a_usual_workbook() -> None:
    package = Package.from_bytes(user_book())
    grid = read_grid(package, sheets(package)[0])
    assert [grid.value(2, column) for column in (1, 2, 3)] == [1.0, 1.0, 2.5]
    assert grid.value(1, 3) == "height"
    assert grid.number_format(2, 3) == '0.0" m"'
    assert grid.is_percent(7, 1)
    assert grid.hidden_rows == {5}
    assert grid.merges == ((1, 8, 2, 9),)
    assert grid.formulas == {(2, 11): "A2:A4*2"}


def test_twenty_thousand_rows_are_quick() -> None:
    columns = [chr(65 + index) for index in range(10)]
    rows = "".join(
        f'<row r="{row}">' + "".join(f'<c r="{c}{row}"><v>{row}.5</v></c>' for c in columns)
        + "</row>"
        for row in range(1, 20_001)
    )  # fmt: skip
    package = Package.from_bytes(plain_book(rows))
    start = time.process_time()
    grid = read_grid(package, sheets(package)[0])
    assert time.process_time() - start < 3
    assert grid.shape == (20_000, 10)
    assert grid.values[:, 9].sum() == sum(row + 0.5 for row in range(1, 20_001))


@pytest.mark.parametrize("careful", [False, True])
@pytest.mark.parametrize(("mark", "expected"), [('sheet="1"', True), ('sheet="0"', False)])
def test_sheet_protection(mark: str, expected: bool, careful: bool) -> None:
    package = Package.from_bytes(plain_book("", around=f"<sheetProtection {mark}/>"))
    assert read_grid(package, sheets(package)[0], careful=careful).protected is expected
