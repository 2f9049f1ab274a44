"""A keyed workbook with all that people put into workbooks besides, made part by part."""

from __future__ import annotations

import io
from pathlib import Path

import xlsxwriter

from tests.jobs.books import keyed, varied
from tests.package.books import MAIN, OFFICE, tiny_png, written
from xlhelpers.fields.field_sheet import FIELD_SHEET as LINES
from xlhelpers.package.graft.graft import graft_sheets
from xlhelpers.package.parts.parts import SheetPart, sheet_named
from xlhelpers.package.parts.relations import add_relation, declare
from xlhelpers.package.sheet.references import column_letters
from xlhelpers.package.zip.container import Package

FIELD_SHEET = "Field sheet"
SHEET_TYPE = "application/vnd.openxmlformats-officedocument.spreadsheetml"
THREADED = "http://schemas.microsoft.com/office/2018/threadedcomments"
MICROSOFT = "http://schemas.microsoft.com/office"
TREE_TOTAL = column_letters([field.name for field in LINES.fields].index("tree_total") + 1)


def rich_book(path: Path, *, lines: int = 6) -> Path:
    """Write a keyed workbook with charts, pictures, notes, threaded comments, unknown parts."""
    keyed(path, varied(lines))
    package = Package.open(path)
    graft_sheets(package, _own_sheets(), replacing={}, defined={})
    field, sums = _sheet(package, FIELD_SHEET), _sheet(package, "Own sums")
    add_comments(package, field, "C7", "ask the neighbour about this one")
    add_part(package, sums.part, f"{MICROSOFT}/2007/relationships/slicer", "xl/slicers/slicer1.xml",
             f'<slicers xmlns="{MICROSOFT}/spreadsheetml/2009/9/main"><slicer name="plot"/>'
             "</slicers>",
             "application/vnd.ms-excel.slicer+xml")  # fmt: skip
    add_part(package, field.part, f"{OFFICE}/printerSettings", "xl/printerSettings/printer9.bin",
             "\x00\x01printer", f"{SHEET_TYPE}.printerSettings")  # fmt: skip
    add_part(package, package.workbook_part, f"{OFFICE}/customXml", "customXml/item1.xml",
             '<notes xmlns="urn:own">kept</notes>', "application/xml")  # fmt: skip
    add_part(package, "", f"{OFFICE}/custom-properties", "docProps/custom.xml",
             '<Properties xmlns="http://schemas.openxmlformats.org/officeDocument/2006/'
             'custom-properties"/>', "application/vnd.openxmlformats-officedocument.custom-"
             "properties+xml")  # fmt: skip
    chain = "".join(f'<c r="B{row}" i="{sums.sheet_id}"/>' for row in range(1, 7))
    add_part(package, package.workbook_part, f"{OFFICE}/calcChain", "xl/calcChain.xml",
             f'<calcChain xmlns="{MAIN}">{chain}</calcChain>',
             f"{SHEET_TYPE}.calcChain+xml")  # fmt: skip
    _add_extension(package, field)
    path.write_bytes(package.to_bytes())
    return path


def _sheet(package: Package, name: str) -> SheetPart:
    found = sheet_named(package, name)
    assert found is not None
    return found


def add_part(package: Package, owner: str, kind: str, name: str, text: str, content: str) -> str:
    """Add a part that `owner` refers to; returns the identifier of the relation."""
    package.replace(name, text.encode("latin-1", "replace"))
    declare(package, {name: content})
    return add_relation(package, owner, kind, name)


def _own_sheets() -> bytes:
    stream = io.BytesIO()
    book = xlsxwriter.Workbook(stream)
    sums, notes = book.add_worksheet("Own sums"), book.add_worksheet("Own notes")
    bold = book.add_format({"bold": True, "bg_color": "#FFEECC"})
    column = f"'{FIELD_SHEET}'!${TREE_TOTAL}"
    formulas = [
        f"=SUM({column}$6:{column.split('!')[1]}$40)",
        f"=AVERAGE({column}:{column.split('!')[1]})",
        "=B1*2",
        "=MAX(own_heights)",
        f"=INDIRECT(\"'{FIELD_SHEET}'!{TREE_TOTAL}6\")",
        "=B8+1",
    ]
    for row, formula in enumerate(formulas):
        sums.write_string(row, 0, f"sum {row}", bold)
        sums.write_formula(row, 1, formula, None, -1)
    sums.write_number(7, 1, 41)
    sums.add_table(10, 0, 13, 1, {"name": "Crews", "columns": [{"header": "who"}, {"header": "n"}]})
    sums.add_sparkline(0, 3, {"range": "'Own sums'!B1:B6"})
    chart = book.add_chart({"type": "line"})
    chart.add_series({"values": "='Own sums'!$B$1:$B$6"})
    sums.insert_chart(15, 0, chart)
    notes.insert_image(3, 1, "tree.png", {"image_data": io.BytesIO(tiny_png())})
    notes.write_rich_string(0, 0, "see ", bold, "the map", " first")
    notes.merge_range(1, 0, 1, 3, "merged")
    notes.data_validation("A5", {"validate": "list", "source": ["a", "b"]})
    notes.conditional_format("A1:A9", {"type": "data_bar", "data_bar_2010": True})
    book.define_name("own_heights", f"={column}$6:{column.split('!')[1]}$40")
    return written(book, stream)


def add_comments(package: Package, sheet: SheetPart, cell: str, text: str) -> None:
    """Put a threaded comment on a cell, with the note that older programs show instead."""
    number = 1
    while package.find(f"xl/comments{number}.xml"):
        number += 1
    folder = f"{MICROSOFT}/2017/10/relationships"
    add_part(package, sheet.part, f"{OFFICE}/comments", f"xl/comments{number}.xml",
             f'<comments xmlns="{MAIN}"><authors><author>tc=1</author></authors><commentList>'
             f'<comment ref="{cell}" authorId="0"><text><t>{text}</t></text></comment>'
             "</commentList></comments>", f"{SHEET_TYPE}.comments+xml")  # fmt: skip
    add_part(package, sheet.part, f"{folder}/threadedComment",
             f"xl/threadedComments/threadedComment{number}.xml",
             f'<ThreadedComments xmlns="{THREADED}"><threadedComment ref="{cell}" id="{{1}}" '
             f'personId="{{2}}"><text>{text}</text></threadedComment></ThreadedComments>',
             "application/vnd.ms-excel.threadedcomments+xml")  # fmt: skip
    if package.find("xl/persons/person.xml") is None:
        add_part(package, package.workbook_part, f"{folder}/person", "xl/persons/person.xml",
                 f'<personList xmlns="{THREADED}"><person displayName="Ann" id="{{2}}"/>'
                 "</personList>",
                 "application/vnd.ms-excel.person+xml")  # fmt: skip
    drawing = (
        '<xml xmlns:v="urn:schemas-microsoft-com:vml" xmlns:x="urn:schemas-microsoft-com:office:'
        'excel"><v:shape type="#_x0000_t202"><x:ClientData ObjectType="Note"/></v:shape></xml>'
    )
    identifier = add_part(
        package, sheet.part, f"{OFFICE}/vmlDrawing", f"xl/drawings/vmlDrawing{number}.vml",
        drawing, "application/vnd.openxmlformats-officedocument.vmlDrawing",
    )  # fmt: skip
    legacy = f'<legacyDrawing xmlns:r="{OFFICE}" r:id="{identifier}"/>'
    _insert(package, sheet.part, legacy, ("<tableParts", "<extLst", "</worksheet>"))


def _insert(package: Package, part: str, text: str, before: tuple[str, ...]) -> None:
    content = package.read(part).decode()
    place = min(found for mark in before if (found := content.rfind(mark)) >= 0)
    package.replace(part, (content[:place] + text + content[place:]).encode())


def _add_extension(package: Package, sheet: SheetPart) -> None:
    block = (
        '<ext uri="{own}" xmlns:x14="http://schemas.microsoft.com/office/spreadsheetml/2009/9/main">'
        '<x14:conditionalFormattings/></ext>'
    )  # fmt: skip
    if b"<extLst>" in package.read(sheet.part):
        _insert(package, sheet.part, block, ("</extLst>",))
    else:
        _insert(package, sheet.part, f"<extLst>{block}</extLst>", ("</worksheet>",))
