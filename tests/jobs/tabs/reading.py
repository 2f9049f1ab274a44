"""Reads the rendered tabs back for the tests, with programs that are not ours."""

import io
import re
import zipfile
from collections.abc import Iterator
from functools import lru_cache
from typing import Any

import openpyxl
from lxml import etree
from openpyxl.worksheet.worksheet import Worksheet

DRAWING = "{http://schemas.openxmlformats.org/drawingml/2006/spreadsheetDrawing}"
CHART = "{http://schemas.openxmlformats.org/drawingml/2006/chart}"
MAIN = "{http://schemas.openxmlformats.org/drawingml/2006/main}"


@lru_cache(maxsize=8)
def open_book(data: bytes, values: bool = True) -> openpyxl.Workbook:
    """Return the workbook, to be read only: it is kept for the next test."""
    return openpyxl.load_workbook(io.BytesIO(data), data_only=values)


def heading_row(sheet: Worksheet, heading: str) -> int:
    for row in sheet.iter_rows():
        for cell in row:
            if cell.value == heading:
                return int(cell.row)
    raise AssertionError(f"{sheet.title} has no heading {heading!r}")


def column_of(sheet: Worksheet, heading: str) -> int:
    row = heading_row(sheet, heading)
    return next(c.column for c in sheet[row] if c.value == heading)


def cell_under(sheet: Worksheet, heading: str, number: int = 0) -> Any:
    """Return the cell of the row with this number (0 is the first) below a heading."""
    return sheet.cell(heading_row(sheet, heading) + 1 + number, column_of(sheet, heading))


def values_under(sheet: Worksheet, heading: str, count: int) -> list[Any]:
    return [cell_under(sheet, heading, i).value for i in range(count)]


def parts(data: bytes, pattern: str) -> Iterator[tuple[str, bytes]]:
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        for name in archive.namelist():
            if re.fullmatch(pattern, name):
                yield name, archive.read(name)


def alt_texts(data: bytes) -> list[tuple[str, str]]:
    """Return name and description of every drawn object."""
    found = []
    for _, content in parts(data, r"xl/drawings/drawing\d+\.xml"):
        for element in etree.fromstring(content).iter(f"{DRAWING}cNvPr"):
            found.append((element.get("name"), element.get("descr", "")))
    return found


def charts(data: bytes) -> list[etree._Element]:
    return [etree.fromstring(c) for _, c in parts(data, r"xl/charts/chart\d+\.xml")]


def title_of(chart: etree._Element) -> str:
    title = chart.find(f"{CHART}chart/{CHART}title")
    return "".join(t.text for t in title.iter(f"{MAIN}t"))
