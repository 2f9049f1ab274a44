"""Workbooks that the tests of the file format make for themselves."""

from __future__ import annotations

import io
import struct
import zipfile
import zlib

import xlsxwriter
from xlsxwriter.workbook import Workbook

MAIN = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
STRICT = "http://purl.oclc.org/ooxml/spreadsheetml/main"
OFFICE = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
STRICT_OFFICE = "http://purl.oclc.org/ooxml/officeDocument/relationships"
PACKAGE = "http://schemas.openxmlformats.org/package/2006"
SHEET_PART = "xl/worksheets/sheet1.xml"


def tiny_png() -> bytes:
    """A red picture of two by two points."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return (
            struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))
        )

    rows = b"".join(b"\x00" + b"\xff\x00\x00" * 2 for _ in range(2))
    header = struct.pack(">IIBBBBB", 2, 2, 8, 2, 0, 0, 0)
    pieces = chunk(b"IHDR", header) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + pieces


def written(book: Workbook, stream: io.BytesIO) -> bytes:
    """Close a workbook and return its bytes."""
    book.close()
    return stream.getvalue()


def user_book(*, tab: str = "Trees") -> bytes:
    """A workbook full of what people put into workbooks.

    "Field sheet" has headings in row 1, numbers in A2:C6, a table in E1:F4, merged cells H1:I2
    and an array formula in K2:K4; "Own sums" reads it; `tab` is a sheet of the user's.
    """
    stream = io.BytesIO()
    book = xlsxwriter.Workbook(stream)
    sheet = book.add_worksheet("Field sheet")
    sums = book.add_worksheet("Own sums")
    other = book.add_worksheet(tab)
    shown = book.add_format({"num_format": '0.0" m"', "bold": True})
    share = book.add_format({"num_format": "0%"})
    warn = book.add_format({"bg_color": "#FFCC00"})
    sheet.write_row(0, 0, ["plot", "tree", "height"])
    for row in range(1, 6):
        sheet.write_row(row, 0, [1, row])
        sheet.write_number(row, 2, row * 2.5, shown)
    sheet.write_number(6, 0, 0.85, share)
    sheet.add_table(0, 4, 3, 5, {"name": "Crews", "columns": [{"header": "who"}, {"header": "n"}]})
    sheet.merge_range(0, 7, 1, 8, "title")
    sheet.write_array_formula(1, 10, 3, 10, "{=A2:A4*2}", None, 2)
    sheet.write_comment(1, 0, "seen from the road", {"author": "crew"})
    sheet.insert_image(10, 3, "tree.png", {"image_data": io.BytesIO(tiny_png())})
    sheet.conditional_format(1, 2, 5, 2, {"type": "cell", "criteria": ">", "value": 9,
                                          "format": warn})  # fmt: skip
    sheet.data_validation(1, 1, 5, 1, {"validate": "integer", "criteria": ">", "value": 0})
    sheet.set_row(4, None, None, {"hidden": True})
    chart = book.add_chart({"type": "line"})
    chart.add_series({"values": "='Field sheet'!$C$2:$C$6"})
    sheet.insert_chart(14, 1, chart)
    formulas = {
        "A1": ("=SUM('Field sheet'!C2:C6)", 37.5),
        "A2": ("=AVERAGE('Field sheet'!C:C)", 7.5),
        "A3": ("=A1*2", 75),
        "A4": ("=MAX(all_heights)", 12.5),
        "A5": ("=INDIRECT(\"'Field sheet'!C2\")", 2.5),
        "A6": ("=SUM(Crews[n])", 0),
        "A7": ("=A8+1", 1),
    }
    for cell, (formula, value) in formulas.items():
        sums.write_formula(cell, formula, None, value)
    other.write_string(0, 0, "mine, not to be touched")
    book.define_name("all_heights", "='Field sheet'!$C$2:$C$6")
    book.define_name("'Own sums'!here", "='Own sums'!$A$1")
    return written(book, stream)


def result_tabs(*, height: float = 12.5) -> bytes:
    """Two result tabs: "Trees" with a table and formats, "By plot" with a chart and a picture."""
    stream = io.BytesIO()
    book = xlsxwriter.Workbook(stream)
    trees = book.add_worksheet("Trees")
    plots = book.add_worksheet("By plot")
    metre = book.add_format({"num_format": '0.0" m"', "bg_color": "#DDEEFF", "border": 1})
    loud = book.add_format({"bg_color": "#FF9999", "num_format": "0.00"})
    trees.set_column(1, 1, 14, metre)
    for row in range(1, 4):
        trees.write_row(row, 0, [f"tree {row}", height * row], metre)
    columns = [{"header": "tree"}, {"header": "height", "format": metre}]
    trees.add_table(0, 0, 3, 1, {"name": "Tree_results", "columns": columns})
    trees.conditional_format("B2:B4", {"type": "cell", "criteria": ">", "value": 30,
                                       "format": loud})  # fmt: skip
    trees.data_validation("D1", {"validate": "list", "source": "=tree_list"})
    trees.write_url("E1", "internal:'By plot'!A1", string="to the plots")
    trees.write_formula("F1", "='By plot'!A2+SUM(Tree_results[height])", metre, 76)
    trees.write_rich_string("G1", "plain ", loud, "loud")
    trees.freeze_panes(1, 0)
    plots.write_row(0, 0, ["plot", "n"])
    plots.write_row(1, 0, [1, 3])
    plots.repeat_rows(0)
    plots.print_area(0, 0, 8, 3)
    plots.autofilter(0, 0, 1, 1)
    chart = book.add_chart({"type": "column"})
    chart.add_series({"categories": "=Trees!$A$2:$A$4", "values": "=Trees!$B$2:$B$4",
                      "name": "=Trees!$B$1"})  # fmt: skip
    plots.insert_chart(3, 2, chart, {"description": "heights of the trees"})
    plots.insert_image(20, 0, "mark.png", {"image_data": io.BytesIO(tiny_png())})
    book.define_name("tree_list", "=Trees!$A$2:$A$4")
    return written(book, stream)


def zipped(parts: dict[str, bytes]) -> bytes:
    """A zip file of these parts."""
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in parts.items():
            archive.writestr(zipfile.ZipInfo(name), content, zipfile.ZIP_DEFLATED)
    return stream.getvalue()


def parts_of(data: bytes) -> dict[str, bytes]:
    """Contents of every part."""
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        return {info.filename: archive.read(info) for info in archive.infolist()}


def with_parts(data: bytes, changes: dict[str, bytes]) -> bytes:
    """The same workbook with some parts replaced or added."""
    return zipped({**parts_of(data), **changes})


def plain_parts(rows: str, *, around: str = "", strings: tuple[str, ...] = (),
                formats: str = "", strict: bool = False) -> dict[str, bytes]:  # fmt: skip
    """Parts of a workbook with one sheet "S"; `rows` stands inside sheetData, raw."""
    main, office = (STRICT, STRICT_OFFICE) if strict else (MAIN, OFFICE)
    shared = "".join(f"<si>{item}</si>" for item in strings)
    formats = formats or '<cellXfs count="1"><xf numFmtId="0"/></cellXfs>'
    styles = f'<styleSheet xmlns="{main}">{formats}</styleSheet>'
    kinds = {"rId1": "worksheets/sheet1.xml", "rId2": "sharedStrings.xml", "rId3": "styles.xml"}
    names = {"rId1": "worksheet", "rId2": "sharedStrings", "rId3": "styles"}
    relations = "".join(
        f'<Relationship Id="{key}" Type="{office}/{names[key]}" Target="{target}"/>'
        for key, target in kinds.items()
    )
    sheet_type = "application/vnd.openxmlformats-officedocument.spreadsheetml"
    texts = {
        "[Content_Types].xml": f'<Types xmlns="{PACKAGE}/content-types"><Default Extension="rels" '
        'ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
        '<Default Extension="xml" ContentType="application/xml"/>'
        f'<Override PartName="/xl/workbook.xml" ContentType="{sheet_type}.sheet.main+xml"/>'
        f'<Override PartName="/{SHEET_PART}" ContentType="{sheet_type}.worksheet+xml"/>'
        f'<Override PartName="/xl/sharedStrings.xml" ContentType="{sheet_type}.sharedStrings+xml"/>'
        f'<Override PartName="/xl/styles.xml" ContentType="{sheet_type}.styles+xml"/></Types>',
        "_rels/.rels": f'<Relationships xmlns="{PACKAGE}/relationships"><Relationship Id="rId1" '
        f'Type="{office}/officeDocument" Target="xl/workbook.xml"/></Relationships>',
        "xl/workbook.xml": f'<workbook xmlns="{main}" xmlns:r="{office}"><sheets>'
        '<sheet name="S" sheetId="1" r:id="rId1"/></sheets></workbook>',
        "xl/_rels/workbook.xml.rels": f'<Relationships xmlns="{PACKAGE}/relationships">'
        f"{relations}</Relationships>",
        SHEET_PART: f'<worksheet xmlns="{main}" xmlns:r="{office}"><sheetData>{rows}</sheetData>'
        f"{around}</worksheet>",
        "xl/sharedStrings.xml": f'<sst xmlns="{main}">{shared}</sst>',
        "xl/styles.xml": styles,
    }
    return {name: text.encode() for name, text in texts.items()}


def plain_book(rows: str, **others: object) -> bytes:
    """A workbook with one sheet "S"; see `plain_parts`."""
    return zipped(plain_parts(rows, **others))  # type: ignore[arg-type]
