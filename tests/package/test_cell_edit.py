"""Values written into cells: what changes, what must not, and what is refused."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lxml import etree

from tests.package.books import (
    MAIN,
    SHEET_PART,
    parts_of,
    plain_book,
    plain_parts,
    user_book,
    with_parts,
    zipped,
)
from xlhelpers.package.parts.parts import sheet_named, sheets
from xlhelpers.package.sheet.cell_edit import write_cells
from xlhelpers.package.sheet.cell_text import MAX_LENGTH, clean_text
from xlhelpers.package.sheet.cell_writes import (
    CellWrite,
    number_text,
    spell_numbers,
    stored_form,
    tail_of,
    tails_of,
)
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.zip.container import Package

CHAIN = "xl/calcChain.xml"


def opened(rows: str, **others: object) -> Package:
    return Package.from_bytes(plain_book(rows, **others))


def sheet_text(package: Package) -> str:
    return package.read(SHEET_PART).decode()


def rows_text(package: Package) -> str:
    return sheet_text(package).partition("<sheetData>")[2].partition("</sheetData>")[0]


def write(package: Package, *writes: CellWrite, **others: object) -> tuple[int, list[str]]:
    count, refused = write_cells(package, sheets(package)[0], writes, **others)  # type: ignore[arg-type]
    return count, [item.reason for item in refused]


@pytest.mark.parametrize(
    ("value", "expected"),
    [
        (12.5, '<c r="B1"><v>12.5</v></c>'),
        (0.1 + 0.2, '<c r="B1"><v>0.30000000000000004</v></c>'),
        (7, '<c r="B1"><v>7</v></c>'),
        (np.float64(3.0), '<c r="B1"><v>3</v></c>'),
        (np.int64(3), '<c r="B1"><v>3</v></c>'),
        (True, '<c r="B1" t="b"><v>1</v></c>'),
        (np.bool_(False), '<c r="B1" t="b"><v>0</v></c>'),
        ("=1+1", '<c r="B1" t="inlineStr"><is><t xml:space="preserve">=1+1</t></is></c>'),
        (" a<b ", '<c r="B1" t="inlineStr"><is><t xml:space="preserve"> a&lt;b </t></is></c>'),
        (
            "_x0041_",
            '<c r="B1" t="inlineStr"><is><t xml:space="preserve">_x005F_x0041_</t></is></c>',
        ),
        (
            "bell\x07 \ud800end",
            '<c r="B1" t="inlineStr"><is><t xml:space="preserve">bell end</t></is></c>',
        ),
        (math.nan, ""),
        (math.inf, ""),
        (None, ""),
        ("", ""),
    ],
)
def test_values_as_they_are_stored(value: object, expected: str) -> None:
    package = opened('<row r="1"><c r="A1"><v>1</v></c></row>')
    count, refused = write(package, CellWrite(1, 2, value))  # type: ignore[arg-type]
    assert rows_text(package) == f'<row r="1"><c r="A1"><v>1</v></c>{expected}</row>'
    assert (count, refused) == (int(bool(expected)), [])


@pytest.mark.parametrize("number", [0.1, 1 / 3, 1e300, -2.5e-7, 1e15, 123456789.123, -0.0])
def test_numbers_read_back_the_same(number: float) -> None:
    assert float(number_text(number)) == number


@given(st.lists(st.floats(allow_nan=False, allow_infinity=False)))
def test_many_numbers_are_spelt_as_one_by_one(numbers: list[float]) -> None:
    numbers += [0.0, -0.0, 7.0, 1e15, -1e16, 1e-7, 5e-324]
    found = spell_numbers(numbers, "<v>", "</v>")
    assert [float(text[3:-4]) for text in found] == numbers
    assert found == [f"<v>{number_text(number)}</v>".encode() for number in numbers]


@given(st.lists(st.one_of(st.none(), st.floats(), st.booleans(), st.integers(-9, 9), st.text())))
def test_many_values_are_stored_as_one_by_one(values: list[object]) -> None:
    stored, tails = tails_of(values)
    assert [(type(v), v) for v in stored] == [(type(v), v) for v in map(stored_form, values)]
    assert tails == [tail_of(value) for value in stored]


def test_long_texts_are_cut_as_a_cell_counts() -> None:
    assert clean_text("x" * 40_000) == "x" * MAX_LENGTH
    tree = "\U0001f333"
    cut = clean_text(tree * 20_000)
    assert cut == tree * (MAX_LENGTH // 2)
    assert clean_text("a\r\nb\rc") == "a\nb\nc"


SAME = {
    "number": ('<c r="A1"><v>12.50</v></c>', 12.5),
    "shared text": ('<c r="A1" t="s"><v>0</v></c>', "oak"),
    "inline text": ('<c r="A1" t="inlineStr"><is><t>oak</t></is></c>', "oak"),
    "boolean": ('<c r="A1" t="b"><v>1</v></c>', True),
    "blank": ('<c r="A1" s="0"/>', None),
    "no cell": ("", None),
}


@pytest.mark.parametrize("case", SAME)
def test_the_same_value_is_no_change(case: str) -> None:
    xml, value = SAME[case]
    package = opened(f'<row r="1">{xml}</row>', strings=("<t>oak</t>",))
    assert write(package, CellWrite(1, 1, value)) == (0, [])
    assert package.changed() == ()


def test_a_boolean_is_not_the_number_one() -> None:
    package = opened('<row r="1"><c r="A1"><v>1</v></c></row>')
    assert write(package, CellWrite(1, 1, True))[0] == 1


def test_none_clears_the_value_and_keeps_the_cell() -> None:
    package = opened('<row r="1"><c r="A1" s="0" t="s"><v>0</v></c></row>', strings=("<t>x</t>",))
    assert write(package, CellWrite(1, 1, None))[0] == 1
    assert rows_text(package) == '<row r="1"><c r="A1" s="0"/></row>'


def test_formats_of_new_and_old_cells() -> None:
    package = opened(
        '<row r="1"><c r="A1" s="3"><v>1</v></c></row><row r="2" s="4" customFormat="1"/>',
        around="",
    )
    columns = '<cols><col min="3" max="4" style="5"/></cols><sheetData>'
    text = sheet_text(package).replace("<sheetData>", columns)
    package.replace(SHEET_PART, text.encode())
    write(package, CellWrite(1, 1, 2), CellWrite(1, 2, 2, (1, 1)), CellWrite(2, 1, 2),
          CellWrite(1, 3, 2), CellWrite(3, 1, 2))  # fmt: skip
    assert rows_text(package) == (
        '<row r="1"><c r="A1" s="3"><v>2</v></c><c r="B1" s="3"><v>2</v></c>'
        '<c r="C1" s="5"><v>2</v></c></row><row r="2" s="4" customFormat="1">'
        '<c r="A2" s="4"><v>2</v></c></row><row r="3"><c r="A3"><v>2</v></c></row>'
    )


def test_rows_cells_spans_and_dimension_keep_their_order() -> None:
    package = opened(
        '<row r="2" spans="2:3"><c r="B2"><v>1</v></c><c r="D2"><v>1</v></c></row>'
        '<row r="5"><c r="A5"><v>1</v></c><extLst/></row>'
    )
    text = sheet_text(package).replace("<sheetData>", '<dimension ref="B2:D5"/><sheetData>')
    package.replace(SHEET_PART, text.encode())
    places = [(1, 1), (2, 1), (2, 3), (2, 9), (3, 2), (5, 2), (9, 1)]
    assert write(package, *[CellWrite(*place, 8) for place in reversed(places)])[0] == 7
    root = etree.fromstring(package.read(SHEET_PART))
    names = [cell.get("r") for cell in root.iter("{*}c")]
    assert names == ["A1", "A2", "B2", "C2", "D2", "I2", "B3", "A5", "B5", "A9"]
    assert [row.get("r") for row in root.iter("{*}row")] == ["1", "2", "3", "5", "9"]
    assert root.find("{*}dimension").get("ref") == "A1:I9"
    assert 'spans="1:9"' in sheet_text(package)
    assert rows_text(package).endswith(
        "<extLst/></row>" + '<row r="9"><c r="A9"><v>8</v></c></row>'
    )


def test_rows_and_cells_without_names_do_not_shift() -> None:
    package = opened("<row><c><v>1</v></c><c><v>2</v></c></row><row/><row><c><v>3</v></c></row>")
    before = read_grid(package, sheets(package)[0])
    write(package, CellWrite(2, 2, "new"), CellWrite(1, 3, "new"), CellWrite(7, 1, 1))
    after = read_grid(package, sheets(package)[0])
    assert after.value(2, 2) == after.value(1, 3) == "new"
    for row, column in ((1, 1), (1, 2), (3, 1)):
        assert after.value(row, column) == before.value(row, column)


def test_rows_out_of_order_are_found() -> None:
    package = opened(
        '<row r="5"><c r="A5"><v>5</v></c></row><row r="2"><c r="A2"><v>2</v></c></row>'
    )
    write(package, CellWrite(5, 1, 50), CellWrite(3, 1, 30), CellWrite(2, 1, 20))
    grid = read_grid(package, sheets(package)[0])
    assert [grid.value(row, 1) for row in (2, 3, 5)] == [20.0, 30.0, 50.0]


REFUSED = {
    "formula": ('<c r="B2"><f>1+1</f><v>2</v></c>', "", "formula of your own"),
    "array": (
        '<c r="A1"><f t="array" ref="A1:B3">C1:C3</f><v>1</v></c>',
        "",
        "array formula A1:B3",
    ),
    "spill child": (
        '<c r="B1" cm="1"><f t="array" ref="B1:B3">SEQUENCE(3)</f><v>1</v></c>',
        "",
        "array formula B1:B3",
    ),
    "data table": (
        '<c r="A1"><f t="dataTable" ref="A1:C4" dt2D="1" r1="E1" r2="E2"/><v>1</v></c>',
        "",
        "what-if data table A1:C4",
    ),
    "merged": ("", '<mergeCells><mergeCell ref="A1:B3"/></mergeCells>', "merged cells A1:B3"),
    "picture in a cell": ('<c r="B2" t="e" vm="1"><v>#VALUE!</v></c>', "", "picture"),
}


@pytest.mark.parametrize("case", REFUSED)
def test_cells_that_are_not_ours_are_refused(case: str) -> None:
    cell, around, expected = REFUSED[case]
    row = "2" if '"B2"' in cell else "1"
    package = opened(f'<row r="{row}">{cell}</row>', around=around)
    count, reasons = write(package, CellWrite(2, 2, 99.0))
    assert count == 0
    assert len(reasons) == 1
    assert expected in reasons[0]
    assert package.changed() == ()


def test_the_anchor_of_merged_cells_is_written() -> None:
    package = opened("", around='<mergeCells><mergeCell ref="A1:B3"/></mergeCells>')
    assert write(package, CellWrite(1, 1, "title")) == (1, [])


def test_outside_the_sheet_is_refused() -> None:
    count, reasons = write(opened(""), CellWrite(1_048_577, 1, 1), CellWrite(1, 16_385, 1))
    assert (count, len(reasons)) == (0, 2)


def test_table_headings_and_pivot_tables() -> None:
    package = Package.from_bytes(user_book())
    sheet = sheet_named(package, "Field sheet")
    assert sheet is not None
    writes = [CellWrite(1, 5, "other"), CellWrite(1, 6, "n"), CellWrite(2, 5, "Ann")]
    count, refused = write_cells(package, sheet, writes)
    assert count == 1
    assert [(item.row, item.column) for item in refused] == [(1, 5)]
    assert "heading of the table" in refused[0].reason


SHARED = (
    '<row r="1"><c r="A1"><f t="shared" ref="A1:A2" si="0">B1</f><v>1</v></c></row>'
    '<row r="2"><c r="A2"><f t="shared" si="0"/><v>1</v></c></row>'
)


def test_a_shared_formula_gives_way_whole_or_not_at_all() -> None:
    package = opened(SHARED)
    count, reasons = write(package, CellWrite(1, 1, 5), overwrite_formulas=frozenset([(1, 1)]))
    assert count == 0
    assert "other cells" in reasons[0]
    assert write(package, CellWrite(2, 1, 5), overwrite_formulas=frozenset([(2, 1)])) == (1, [])
    package = opened(SHARED)
    both = frozenset([(1, 1), (2, 1)])
    assert write(package, CellWrite(1, 1, 5), CellWrite(2, 1, 6), overwrite_formulas=both)[0] == 2
    assert "<f" not in sheet_text(package)


def with_chain(chain: str) -> Package:
    rows = '<row r="1">' + "".join(f'<c r="{n}1"><f>1</f><v>1</v></c>' for n in "ABC") + "</row>"
    files = plain_parts(rows)
    relations = files["xl/_rels/workbook.xml.rels"].decode()
    kind = "http://schemas.openxmlformats.org/officeDocument/2006/relationships/calcChain"
    added = f'<Relationship Id="rId9" Type="{kind}" Target="calcChain.xml"/></Relationships>'
    files["xl/_rels/workbook.xml.rels"] = relations.replace("</Relationships>", added).encode()
    files[CHAIN] = f'<calcChain xmlns="{MAIN}">{chain}</calcChain>'.encode()
    return Package.from_bytes(zipped(files))


def test_the_calculation_chain_loses_a_formula_that_is_gone() -> None:
    package = with_chain(
        '<c r="A1" i="1"/><c r="B1"/><c r="C1" l="1"/><c r="A1" i="2"/><c r="B1"/>'
    )
    write(package, CellWrite(1, 1, 5), overwrite_formulas=frozenset([(1, 1)]))
    expected = '<c r="B1" i="1"/><c r="C1" l="1"/><c r="A1" i="2"/><c r="B1"/>'
    assert expected in package.read(CHAIN).decode()
    write(package, CellWrite(1, 2, 5), CellWrite(1, 3, 5),
          overwrite_formulas=frozenset([(1, 2), (1, 3)]))  # fmt: skip
    assert '<c r="A1" i="2"/><c r="B1"/>' in package.read(CHAIN).decode()


def test_an_empty_calculation_chain_is_taken_out() -> None:
    package = with_chain('<c r="A1" i="1"/>')
    write(package, CellWrite(1, 1, 5), overwrite_formulas=frozenset([(1, 1)]))
    assert CHAIN not in package.names()
    assert "calcChain" not in package.read("xl/_rels/workbook.xml.rels").decode()


def test_prefixes_ignorable_namespaces_and_extensions_stay() -> None:
    text = (
        f'<x:worksheet xmlns:x="{MAIN}" xmlns:mc="http://schemas.openxmlformats.org/markup-'
        'compatibility/2006" mc:Ignorable="zz" xmlns:zz="http://example.invalid/zz">'
        '<x:sheetData><x:row r="1" zz:mark="7"><x:c r="A1"><x:v>1</x:v></x:c></x:row>'
        '</x:sheetData><x:extLst><x:ext uri="u"><zz:own>kept</zz:own></x:ext></x:extLst>'
        "</x:worksheet>"
    )
    package = Package.from_bytes(zipped({**plain_parts(""), SHEET_PART: text.encode()}))
    write(package, CellWrite(1, 2, "new"), CellWrite(1, 1, 2))
    result = sheet_text(package)
    assert (
        '<x:c r="B1" t="inlineStr"><x:is><x:t xml:space="preserve">new</x:t></x:is></x:c>' in result
    )
    result = result.replace('<x:c r="B1" t="inlineStr"><x:is><x:t xml:space="preserve">new</x:t>'
                            "</x:is></x:c>", "").replace("<x:v>2", "<x:v>1")  # fmt: skip
    same = [
        etree.tostring(etree.fromstring(item.encode()), method="c14n") for item in (text, result)
    ]
    assert same[0] == same[1]


def test_every_other_part_of_a_rich_workbook_is_the_same() -> None:
    before = user_book()
    package = Package.from_bytes(before)
    sheet = sheet_named(package, "Field sheet")
    assert sheet is not None
    writes = [CellWrite(row, 4, row / 3, (row, 3)) for row in range(2, 7)]
    assert write_cells(package, sheet, writes) == (5, ())
    after = parts_of(package.to_bytes())
    assert package.changed() == (sheet.part,)
    assert {name for name in after if after[name] != parts_of(before)[name]} == {sheet.part}
    again = Package.from_bytes(package.to_bytes())
    assert write_cells(again, sheet, writes) == (0, ())
    cleared = Package.from_bytes(package.to_bytes())
    root = etree.fromstring(cleared.read(sheet.part))
    for cell in root.findall(".//{*}c"):
        if cell.get("r") in {"D2", "D3", "D4", "D5", "D6"} and cell.get("s") is not None:
            cell.getparent().remove(cell)
    old = etree.fromstring(parts_of(before)[sheet.part])
    assert etree.tostring(root, method="c14n") == etree.tostring(old, method="c14n")


def test_utf_16_sheets_are_written() -> None:
    text = f'<worksheet xmlns="{MAIN}"><sheetData/></worksheet>'
    data = with_parts(plain_book(""), {SHEET_PART: text.encode("utf-16")})
    package = Package.from_bytes(data)
    assert write(package, CellWrite(2, 1, "Bäume"))[0] == 1
    assert read_grid(package, sheets(package)[0]).value(2, 1) == "Bäume"
