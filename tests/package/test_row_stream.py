"""Rows rewritten as they go by and the edited tree give the same sheet."""

from __future__ import annotations

import random

import numpy as np
import pytest
from lxml import etree

from tests.package.books import SHEET_PART, plain_book, plain_parts, result_tabs, user_book, zipped
from tests.package.test_real_workbooks import BOOKS
from xlhelpers.errors import WorkbookError
from xlhelpers.package.parts.parts import sheets
from xlhelpers.package.sheet import cell_edit
from xlhelpers.package.sheet.cell_edit import WriteResult, edit_cells
from xlhelpers.package.sheet.cell_writes import CellWrite, ColumnWrites, Writes
from xlhelpers.package.sheet.sheet_bytes import SheetBytes
from xlhelpers.package.zip.container import Package

TEXTS = ("=1+1", "+1", "-1", "@x", "\ttab", " a<b&c> ", "_x0041_", "Bäume", 'say "x"', "a\r\nb")
NEVER = "the tree of the sheet was used"


def canonical(data: bytes) -> bytes:
    """The sheet in one spelling; the space between the tags of a tidy file says nothing."""
    root = etree.fromstring(data, etree.XMLParser(remove_blank_text=True))
    for element in root.iter("{*}sheetData", "{*}row", "{*}c"):
        element.text = element.text if (element.text or "").strip() else None
        for item in element:
            item.tail = item.tail if (item.tail or "").strip() else None
    return etree.tostring(root, method="c14n")


def edited(
    data: bytes, number: int, writes: Writes, **options: object
) -> tuple[bytes, WriteResult]:
    package = Package.from_bytes(data)
    sheet = sheets(package)[number]
    result = edit_cells(package, sheet, writes, **options)  # type: ignore[arg-type]
    return canonical(package.read(sheet.part)), result


def assert_same(data: bytes, number: int, writes: Writes, **options: object) -> WriteResult:
    one, of_stream = edited(data, number, writes, **options)
    other, of_tree = edited(data, number, writes, careful=True, **options)
    assert one == other
    assert of_stream == of_tree
    return of_stream


def some_value(chance: random.Random) -> object:
    return chance.choice(
        [None, "", 7, 12.5, 1e300, -0.0, True, False, float("nan"), *TEXTS, chance.random()]
    )


def some_cell(chance: random.Random, name: str) -> str:
    style = chance.choice(["", ' s="0"', ' s="1"'])
    return chance.choice(
        [
            f'<c r="{name}"{style}/>',
            f'<c r="{name}"{style}><v>{chance.choice([1, 12.5, "7.0", "1E2"])}</v></c>',
            f'<c r="{name}"{style} t="s"><v>{chance.choice([0, 1, 99])}</v></c>',
            f'<c r="{name}"{style} t="inlineStr"><is><t xml:space="preserve"> a&lt;b </t></is></c>',
            f'<c r="{name}"{style} t="inlineStr"><is><r><t>a</t></r><r><t>b</t></r></is></c>',
            f'<c r="{name}"{style} t="b"><v>1</v></c>',
            f'<c r="{name}"{style} t="e"><v>#N/A</v></c>',
            f'<c r="{name}"{style} t="str"><f>"a"&amp;"b"</f><v>ab</v></c>',
            f'<c r="{name}"{style}><f>A1+1</f><v>5</v></c>',
            f'<c r="{name}"{style}><f>A1+1</f></c>',
            f'<c r="{name}"{style} vm="1" t="e"><v>#VALUE!</v></c>',
            f'<c r="{name}"{style} cm="1"><f t="array" ref="{name}">SUM(A1:A2)</f><v>3</v></c>',
            f'<c r="{name}"{style}><v/></c>',
            f'<c r="{name}" ph="1"{style}><v>3</v></c>',
        ]
    )


def some_rows(chance: random.Random) -> str:
    rows, space = [], chance.choice(["", "", "\n  "])
    for row in sorted(chance.sample(range(1, 30), chance.randrange(1, 20))):
        columns = sorted(chance.sample("ABCDEFGHIJ", chance.randrange(0, 10)))
        cells = "".join(some_cell(chance, f"{c}{row}") + space for c in columns)
        attributes = chance.choice(
            ["", ' spans="2:5"', ' s="1" customFormat="1"', ' ht="12.5" spans="x"', ' s="1"']
        )
        opening = f'<row r="{row}"{attributes}'
        rows.append(f"{opening}/>" if not cells else f"{opening}>{space}{cells}</row>{space}")
    return "".join(rows)


def some_book(chance: random.Random) -> bytes:
    around = chance.choice(["", '<mergeCells count="1"><mergeCell ref="B2:C4"/></mergeCells>'])
    parts = plain_parts(
        some_rows(chance), around=around, strings=("<t>oak</t>", "<t>ash</t>"),
        formats='<cellXfs count="2"><xf numFmtId="0"/><xf numFmtId="2"/></cellXfs>',
    )  # fmt: skip
    before = chance.choice(
        ["", '<dimension ref="B2:D5"/>', '<cols><col min="3" max="9" style="1"/></cols>']
    )
    parts[SHEET_PART] = parts[SHEET_PART].replace(b"<sheetData>", before.encode() + b"<sheetData>")
    return zipped(parts)


@pytest.mark.parametrize("seed", range(150))
def test_both_ways_agree_on_sheets_of_chance(seed: int) -> None:
    chance = random.Random(seed)
    data = some_book(chance)
    places = [(chance.randrange(1, 35), chance.randrange(1, 13)) for _ in range(40)]
    writes = [
        CellWrite(*place, some_value(chance), chance.choice([None, (2, 2), (99, 3), place]))  # type: ignore[arg-type]
        for place in [*places, (0, 1), (1, 16_385)]
    ]
    overwrite = frozenset(chance.sample(places, 10))
    assert_same(data, 0, writes, overwrite_formulas=overwrite)
    rows = np.array(chance.sample(range(1, 40), 20))
    columns = {
        c: np.array([some_value(chance) for _ in rows], dtype=object)
        for c in chance.sample(range(1, 13), 4)
    }
    columns[3] = np.array([chance.random() for _ in rows])
    whole = ColumnWrites(rows, columns, chance.choice([None, 2, 50]))
    result = assert_same(data, 0, whole)
    assert edited(data, 0, list(whole))[1] == result


@pytest.mark.parametrize(
    "number", [2.041666666666666, -99.99999999999997, 1 / 3, 1.0000000000000049]
)
@pytest.mark.parametrize("kind", ["", ' t="n"', ' t="n" ph="1"'])
def test_a_number_kept_to_fifteen_digits_is_the_same(number: float, kind: str) -> None:
    cell = f'<c r="A1" s="0"{kind}><v>{number:.15g}</v></c>'
    data = plain_book(f'<row r="1">{cell}</row>')
    assert not assert_same(data, 0, [CellWrite(1, 1, number)]).changed
    other = number * (1 + 1e-14)
    assert (1, 1) in assert_same(data, 0, [CellWrite(1, 1, other)]).changed


@pytest.mark.parametrize("text", ["1.2.3", "1e", "--1", "", "NaN"])
def test_what_is_no_number_is_replaced(text: str) -> None:
    data = plain_book(f'<row r="1"><c r="A1"><v>{text}</v></c></row>')
    assert (1, 1) in assert_same(data, 0, [CellWrite(1, 1, 10.0)]).changed


def test_usual_sheets_need_no_tree(monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object) -> None:
        raise AssertionError(NEVER)

    monkeypatch.setattr(cell_edit, "SheetTree", fail)
    for data in (user_book(), result_tabs()):
        for number in range(len(sheets(Package.from_bytes(data)))):
            writes = [CellWrite(row, 12, TEXTS[row % 10], (2, 3)) for row in range(1, 40)]
            assert len(edited(data, number, writes)[1].changed) > 30


ROW = '<row r="1"><c r="A1"><v>1</v></c></row><row r="2"><c r="A2"><v>1</v></c></row>'
UNUSUAL = {
    "rows without numbers": ROW.replace(' r="1"', "").replace(' r="2"', ""),
    "cells without names": ROW.replace(' r="A1"', "").replace(' r="A2"', ""),
    "rows out of order": '<row r="2"/><row r="1"/>',
    "a row twice": '<row r="1"/><row r="1"/>',
    "cells out of order": '<row r="1"><c r="B1"/><c r="A1"/></row>',
    "single quotes": ROW.replace('"', "'"),
    "a comment": ROW.replace("<c ", "<!-- x --><c "),
    "character data": ROW.replace("<v>1", "<v><![CDATA[1]]>"),
    "an extension of a row": ROW.replace("</row>", '<extLst><ext uri="x"/></extLst></row>'),
    "an extension of a cell": ROW.replace("</c>", "<extLst/></c>"),
    "a namespace inside": ROW.replace("<c ", '<c xmlns:z="urn:z" z:k="1" ', 1),
    "another order": ROW.replace('<c r="A1"', '<c s="0" r="A1"'),
    "a space before the end": ROW.replace("</row>", "</row >"),
    "text in a row": ROW.replace("</c>", "</c>text"),
}


@pytest.mark.parametrize("case", UNUSUAL)
def test_unusual_sheets_are_edited_as_trees(case: str) -> None:
    writes = [CellWrite(1, 1, 7), CellWrite(1, 3, "new"), CellWrite(2, 1, None), CellWrite(9, 1, 1)]
    result = assert_same(plain_book(UNUSUAL[case]), 0, writes)
    assert (9, 1) in result.changed


def encodings() -> dict[str, bytes]:
    plain = plain_parts(ROW)[SHEET_PART].decode()
    declared = '<?xml version="1.0" encoding="{}"?>' + plain
    prefixed = plain.replace("<", "<x:").replace("<x:/", "</x:").replace("xmlns=", "xmlns:x=")
    return {
        "UTF-16": plain.encode("utf-16"),
        "Latin 1": declared.format("iso-8859-1").encode("latin-1"),
        "prefixes": prefixed.encode(),
        "a byte order mark": b"\xef\xbb\xbf" + plain.encode(),
        "no rows": plain.replace(f"<sheetData>{ROW}</sheetData>", "<sheetData/>").encode(),
        "no rows, spelt out": plain.replace(ROW, "").encode(),
        "carriage returns": plain.replace("<row", "\r\n<row").encode(),
    }


@pytest.mark.parametrize("case", encodings())
def test_other_encodings(case: str) -> None:
    data = zipped({**plain_parts(""), SHEET_PART: encodings()[case]})
    writes = [CellWrite(1, 1, "Bäume"), CellWrite(3, 2, 5)]
    assert len(assert_same(data, 0, writes).changed) == 2


def test_a_second_write_changes_nothing() -> None:
    rows = np.arange(2, 60)
    columns = {
        9: np.array([TEXTS[k % 10] for k in rows], dtype=object),
        10: rows / 7,
        11: np.array([k % 2 == 0 for k in rows], dtype=object),
        12: np.full(len(rows), None, dtype=object),
    }
    package = Package.from_bytes(plain_book(ROW))
    sheet = sheets(package)[0]
    writes = ColumnWrites(rows, columns, 1)
    assert len(edit_cells(package, sheet, writes).changed) == 3 * len(rows)
    again = Package.from_bytes(package.to_bytes())
    assert not edit_cells(again, sheet, writes).changed
    assert again.changed() == ()


def test_what_is_not_written_stays_byte_for_byte() -> None:
    data = Package.from_bytes(user_book()).read(SHEET_PART)
    package = Package.from_bytes(user_book())
    edit_cells(package, sheets(package)[0], [CellWrite(3, 3, 9.25)])
    new = package.read(SHEET_PART)
    old_row, new_row = (item[item.index(b'<row r="3"') :].partition(b"</row>")[0]
                        for item in (data, new))  # fmt: skip
    assert new == data.replace(old_row, new_row)


def test_a_broken_sheet_is_refused() -> None:
    for rows in ('<row r="1"><c r="A1"><v>1</v></c></rew>', "<row r='1'", ROW + "<row>"):
        package = Package.from_bytes(plain_book(rows))
        with pytest.raises(WorkbookError, match="damaged"):
            edit_cells(package, sheets(package)[0], [CellWrite(1, 1, 7)])
        assert SheetBytes.read(package.read(SHEET_PART)) is None


@pytest.mark.slow
@pytest.mark.skipif(not BOOKS, reason="the folder of workbooks is not here")
def test_both_ways_agree_on_real_workbooks() -> None:
    compared = 0
    for path in BOOKS:
        try:
            package = Package.open(path)
        except WorkbookError:
            continue
        data = path.read_bytes()
        for number, sheet in enumerate(sheets(package)[:4]):
            if sheet.kind == "worksheet" and sheet.part:
                chance = random.Random(f"{path.name} {number}")
                writes = [
                    CellWrite(chance.randrange(1, 60), chance.randrange(1, 20), some_value(chance))  # type: ignore[arg-type]
                    for _ in range(60)
                ]
                try:
                    assert_same(data, number, writes)
                except WorkbookError:
                    continue
                compared += 1
    assert compared > 50
