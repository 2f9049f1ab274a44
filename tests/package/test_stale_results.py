"""Stored results that rest on changed cells are dropped; all others stay."""

from __future__ import annotations

import re
import time

import pytest
from lxml import etree

from tests.package.books import (
    SHEET_PART,
    parts_of,
    plain_book,
    plain_parts,
    user_book,
    with_parts,
    zipped,
)
from xlhelpers.package.formulas.formula_text import Book, pattern_of, readings_of
from xlhelpers.package.formulas.stale_results import refresh_on_open
from xlhelpers.package.parts.parts import sheet_named, sheets
from xlhelpers.package.sheet.cell_edit import edit_cells
from xlhelpers.package.sheet.cell_writes import CellWrite
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.zip.container import Package

BOOK = Book(
    sheets={"field sheet": 0, "s": 1, "third": 2},
    names={("heights", None): "'Field sheet'!$C$2:$C$6", ("heights", 1): "S!$Z$9",
           ("loose", None): "S!A1", ("round", None): "round+1"},
    tables={"crews": (0, (1, 5, 4, 6))},
)  # fmt: skip


WHOLE = (1, 1, 1048576, 16384)


@pytest.mark.parametrize(
    ("formula", "expected"),
    [
        ("A1+$B$2", [(1, (1, 1, 1, 1)), (1, (2, 2, 2, 2))]),
        ("SUM('Field sheet'!C:C)", [(0, (1, 3, 1048576, 3))]),
        ("SUM(2:3)", [(1, (2, 1, 3, 16384))]),
        ("SUM('field sheet:Third'!A1)", [(s, (1, 1, 1, 1)) for s in (0, 1, 2)]),
        ("SUM(Crews[n])", [(0, (1, 5, 4, 6))]),
        ("heights*2", [(1, (9, 26, 9, 26))]),
        ("third!heights", [(0, (2, 3, 6, 3))]),
        ("[1]Other!A1+[1]!name+\"A5\"+TRUE", []),
        ("LOG10(5)+NOW()", []),
        # errors, and names that only this formula knows
        ("unknown+1", []),
        ("lost!A1+#REF!", []),
        ("_xlfn.LET(_xlpm.x,A1,_xlpm.x+1)", [(1, (1, 1, 1, 1))]),
        # no other sheet than those named
        ("OFFSET(third!A1,B1,1)", [(2, WHOLE), (1, WHOLE)]),
        ("A1:INDEX(B:B,3)", [(1, WHOLE)]),
        ("loose", [(1, WHOLE)]),
        ("SUM(A1#)", [(1, WHOLE)]),
        ("IF(A1>0,A1*A1,-A1)", [(1, (1, 1, 1, 1))]),  # each cell once, however often it is named
    ],
)  # fmt: skip
def test_what_a_formula_reads(formula: str, expected: list[tuple[int, object]]) -> None:
    found = readings_of(formula, 1, BOOK)
    assert [(item.sheet, item.area) for item in found.readings] == expected
    assert not found.everything


@pytest.mark.parametrize(
    "formula",
    ['INDIRECT("A1")', "OFFSET(INDIRECT(A1),1,1)", "round"],
)
def test_what_cannot_be_told_counts_as_everything(formula: str) -> None:
    assert readings_of(formula, 1, BOOK).everything


@pytest.mark.parametrize(
    ("first", "second", "same"),
    [
        ("A1+$B$2*C$1", "A2+$B$2*C$1", True),
        ("A1+B1", "A2+B1", False),
        ("SUM(A1:A9)", "SUM(A2:A10)", True),
        ("'AB1'!C1", "'AB2'!C2", False),
        ("AB1!C1", "AB2!C2", False),
        ('IF(A1="A1",1)', 'IF(A2="A2",1)', False),
        ("AB1x+A1", "AB2x+A2", False),
        ("Crews[A1]", "Crews[A2]", False),
        ("$A1", "$A2", True),
        ("A$1", "A$2", False),
        ("SUM(1:3)", "SUM(2:4)", True),
        ("SUM(1:3)", "SUM(1:3)", False),
        ("SUM($1:3)", "SUM($1:4)", True),
        ("SUM(A:$B)", "SUM(A:$B)", True),
    ],
)
def test_formulas_filled_down_have_one_pattern(first: str, second: str, same: bool) -> None:
    assert (pattern_of(first, 1, 5) == pattern_of(second, 2, 5)) is same


def test_a_column_filled_to_the_right_is_another_pattern() -> None:
    assert pattern_of("SUM(A:A)", 1, 5) != pattern_of("SUM(A:A)", 1, 6)
    assert pattern_of("SUM(A:A)", 1, 5) == pattern_of("SUM(B:B)", 1, 6)
    cells = "".join(f'<c r="{name}1"><f>SUM(A:A)</f><v>1</v></c>' for name in "EF")
    assert dropped(f'<row r="1">{cells}</row>', (9, 1)) == ({"E1", "F1"}, 2)


def dropped(rows: str, *changed: tuple[int, int]) -> tuple[set[str], int]:
    """Names of the cells whose result is gone, and the count returned."""
    package = Package.from_bytes(plain_book(rows))
    count = refresh_on_open(package, {"S": changed})
    text = package.read(sheets(package)[0].part).decode()
    bare = r'<c r="(\w+)"(?:/>|>(?:<f[^>]*/>|<f[^>]*>[^<]*</f>)</c>)'
    return set(re.findall(bare, text)), count


def test_a_usual_workbook_by_sum_average_chain_name_and_indirect() -> None:
    package = Package.from_bytes(user_book())
    sheet = sheet_named(package, "Field sheet")
    assert sheet is not None
    result = edit_cells(package, sheet, [CellWrite(2, 3, 99.0)])
    assert refresh_on_open(package, {sheet.name: result.changed}) == 5
    grid = read_grid(package, sheets(package)[1])
    assert grid.uncalculated == {(1, 1), (2, 1), (3, 1), (4, 1), (5, 1)}
    assert [grid.value(6, 1), grid.value(7, 1)] == [0.0, 1.0]
    assert 'fullCalcOnLoad="1"' in package.read("xl/workbook.xml").decode()
    assert set(package.changed()) <= {sheet.part, sheets(package)[1].part, "xl/workbook.xml"}


def test_no_change_and_no_dependent_leave_the_package_alone() -> None:
    package = Package.from_bytes(plain_book('<row r="1"><c r="A1"><f>B1</f><v>1</v></c></row>'))
    assert refresh_on_open(package, {"S": [], "absent": [(1, 1)]}) == 0
    assert refresh_on_open(package, {"S": [(9, 9)]}) == 0
    assert package.changed() == ()


def test_a_running_total_in_either_direction() -> None:
    for step in (-1, 1):
        rows = "".join(
            f'<row r="{row}"><c r="A{row}"><f>A{row + step}+1</f><v>1</v></c></row>'
            for row in range(2, 302)
        )
        start = 1 if step < 0 else 302
        cells, count = dropped(rows, (start, 1))
        assert count == 300
        assert len(cells) == 300


def test_a_shared_formula_reads_another_cell_at_each_place() -> None:
    rows = (
        '<row r="1"><c r="B1"><f t="shared" ref="B1:B3" si="0">A1*$D$9</f><v>1</v></c></row>'
        '<row r="2"><c r="B2"><f t="shared" si="0"/><v>1</v></c></row>'
        '<row r="3"><c r="B3"><f t="shared" si="0"/><v>1</v></c></row>'
    )
    assert dropped(rows, (2, 1)) == ({"B2"}, 1)
    assert dropped(rows, (9, 4)) == ({"B1", "B2", "B3"}, 3)


def test_an_array_loses_the_results_of_all_its_cells() -> None:
    rows = (
        '<row r="1"><c r="B1"><f t="array" ref="B1:B2">A1:A2</f><v>1</v></c></row>'
        '<row r="2"><c r="B2"><v>1</v></c><c r="C2"><f>B2</f><v>1</v></c></row>'
    )
    assert dropped(rows, (1, 1)) == ({"B1", "B2", "C2"}, 3)


def test_a_formula_among_the_changed_cells_keeps_its_fresh_result() -> None:
    rows = (
        '<row r="1"><c r="A1"><v>5</v></c><c r="B1"><f>A1</f><v>5</v></c>'
        '<c r="C1" t="str"><f>B1</f><v>5</v></c></row>'
    )
    assert dropped(rows, (1, 1), (1, 2)) == ({"C1"}, 1)


def test_the_setting_is_put_where_the_format_wants_it() -> None:
    data = user_book()
    text = parts_of(data)["xl/workbook.xml"].decode()
    text = re.sub("<calcPr[^>]*/>", "", text)
    package = Package.from_bytes(with_parts(data, {"xl/workbook.xml": text.encode()}))
    refresh_on_open(package, {"Field sheet": [(2, 3)]})
    result = package.read("xl/workbook.xml").decode()
    assert re.search(r'</definedNames><calcPr fullCalcOnLoad="1"/></workbook>', result)


def test_a_sheet_of_fresh_formulas_is_not_asked() -> None:
    package = Package.from_bytes(user_book())
    changed = {"Field sheet": [(2, 3)]}
    assert refresh_on_open(package, changed, fresh_sheets=("Own sums",)) == 0
    assert package.changed() == ()


def test_unusual_sheets_lose_the_same_results() -> None:
    rows = (
        '<row r="1"><c r="A1" t="str" s="0"><f>B1&amp;"x"</f><v>5</v></c>'
        '<c r="C1"><f t="array" ref="C1:C2">B1:B2</f><v>1</v></c></row>'
        '<row r="2"><c r="C2"><v>1</v></c><c r="D2"><f>E2</f><v>1</v></c></row>'
    )
    usual, unusual = (
        Package.from_bytes(plain_book(text)) for text in (rows, rows.replace('"', "'"))
    )
    texts = []
    for package in (usual, unusual):
        assert refresh_on_open(package, {"S": [(1, 2)]}) == 3
        root = etree.fromstring(package.read(sheets(package)[0].part))
        texts.append(etree.tostring(root, method="c14n"))
    assert texts[0] == texts[1].replace(b"x'", b'x"').replace(b"&amp;'", b'&amp;"')


@pytest.mark.slow
def test_twenty_thousand_formulas_are_quick() -> None:
    rows = "".join(
        f'<row r="{row}"><c r="A{row}"><v>1</v></c><c r="B{row}"><f>A{row}*2+$D$1</f><v>1</v></c>'
        f'<c r="C{row}"><f>B{row}+1</f><v>1</v></c></row>'
        for row in range(1, 20_001)
    )
    package = Package.from_bytes(plain_book(rows))
    start = time.process_time()
    assert refresh_on_open(package, {"S": [(row, 1) for row in range(1, 20_001, 2)]}) == 20_000
    # A generous bound, for slow machines: a quarter of this is usual.
    assert time.process_time() - start < 6


def two_sheets(own: str, notes: str) -> bytes:
    """A workbook with the sheets Trees and Notes."""
    parts = plain_parts(own)
    sheet = parts[SHEET_PART].decode()
    second = SHEET_PART.replace("sheet1", "sheet2")
    start, end = sheet.index("<sheetData>"), sheet.index("</sheetData>")
    parts[second] = (sheet[:start] + "<sheetData>" + notes + sheet[end:]).encode()

    def widen(name: str, old: str, new: str) -> None:
        text = parts[name].decode()
        assert old in text
        parts[name] = text.replace(old, new, 1).encode()

    widen("xl/workbook.xml", 'name="S"', 'name="Trees"')
    widen("xl/workbook.xml", "</sheets>", '<sheet name="Notes" sheetId="2" r:id="rId9"/></sheets>')
    relations = "xl/_rels/workbook.xml.rels"
    kind = re.search(r'Type="([^"]*/worksheet)"', parts[relations].decode())
    assert kind is not None
    widen(
        relations,
        "</Relationships>",
        f'<Relationship Id="rId9" Type="{kind[1]}" Target="worksheets/sheet2.xml"/>'
        "</Relationships>",
    )
    types = parts["[Content_Types].xml"].decode()
    one = re.search(rf'<Override PartName="/{SHEET_PART}"[^>]*/>', types)
    assert one is not None
    widen("[Content_Types].xml", one[0], one[0] + one[0].replace("sheet1", "sheet2"))
    return zipped(parts)


def on_two_sheets(own: str, notes: str) -> tuple[set[str], int]:
    """Cells of a user's sheet whose result is gone after A1 of a sheet of ours changed."""
    package = Package.from_bytes(two_sheets(f'<row r="1">{own}</row>', f'<row r="1">{notes}</row>'))
    count = refresh_on_open(package, {"Trees": [(1, 1)]})
    text = package.read(sheets(package)[1].part).decode()
    return set(re.findall(r'<c r="(\w+)"><f[^>]*(?:/>|>[^<]*</f>)</c>', text)), count


def cell(name: str, inside: str, kind: str = "") -> str:
    """One cell, raw."""
    return f'<c r="{name}"{kind}>{inside}</c>'


TABLE = '<f t="dataTable" ref="E1:E1" dt2D="0" dtr="0" r1="C1"/><v>7</v>'
TEXT = "<is><t>Trees!A1</t></is>"


@pytest.mark.parametrize(
    ("notes", "gone"),
    [
        # nothing here names the changed sheet
        (cell("A1", "<f>lost!A1</f><v>#REF!</v>", ' t="e"'), set()),
        (cell("A1", "<f>unknown+1</f><v>#NAME?</v>", ' t="e"'), set()),
        (cell("A1", "<f>OFFSET(B1,0,1)</f><v>7</v>"), set()),
        (cell("A1", '<f>INDIRECT("B"&amp;2)</f><v>7</v>'), set()),
        (cell("E1", TABLE), set()),
        # these do
        (cell("A1", "<f>OFFSET(Trees!B1,0,-1)</f><v>7</v>"), {"A1"}),
        (cell("A1", '<f>INDIRECT("Trees!A1")</f><v>7</v>'), {"A1"}),
        (
            cell("A1", "<f>INDIRECT(C1)</f><v>7</v>") + cell("C1", TEXT, ' t="inlineStr"'),
            {"A1"},
        ),
        # this one may read what rests on the changed sheet
        (
            cell("A1", '<f>INDIRECT("D1")</f><v>7</v>') + cell("D1", "<f>Trees!A1</f><v>7</v>"),
            {"A1", "D1"},
        ),
        # a data table repeats a formula of its own sheet
        (cell("B1", "<f>Trees!A1+C1</f><v>7</v>") + cell("E1", TABLE), {"B1", "E1"}),
    ],
)
def test_only_results_that_may_rest_on_a_changed_cell_are_dropped(
    notes: str, gone: set[str]
) -> None:
    assert on_two_sheets('<c r="A1"><v>1</v></c>', notes) == (gone, len(gone))
