"""Looks at what was written for printing, through a library that is not ours."""

import io
from dataclasses import dataclass
from unittest.mock import patch

import openpyxl
from openpyxl.worksheet.worksheet import Worksheet

MM_A_POINT = 25.4 / 72
MM_A_PIXEL = 25.4 / 96
PAPERS = {9: (210.0, 297.0), 1: (215.9, 279.4)}  # the numbers of ISO/IEC 29500, 18.3.1.63


@dataclass(frozen=True)
class Sides:
    """Width and height in mm that the margins of a page leave."""

    width: float
    height: float


def open_book(data: bytes, *, charts: bool = False) -> openpyxl.Workbook:
    """Open a book; its drawings take long and are read only where they are asked for."""
    if charts:
        return openpyxl.load_workbook(io.BytesIO(data), rich_text=True)
    with patch("openpyxl.reader.excel.find_images", return_value=([], [])):
        return openpyxl.load_workbook(io.BytesIO(data), rich_text=True)


def printable(sheet: Worksheet) -> Sides:
    width, height = PAPERS[int(sheet.page_setup.paperSize)]
    if sheet.page_setup.orientation == "landscape":
        width, height = height, width
    margins = sheet.page_margins
    return Sides(
        width - 25.4 * (margins.left + margins.right),
        height - 25.4 * (margins.top + margins.bottom),
    )


def pages(sheet: Worksheet) -> list[range]:
    """Rows of each printed page."""
    last = sheet.max_row
    ends = [int(one.id) for one in sheet.row_breaks.brk] + [last]
    starts = [1, *(end + 1 for end in ends[:-1])]
    return [range(start, end + 1) for start, end in zip(starts, ends, strict=True)]


def row_mm(sheet: Worksheet, row: int) -> float:
    return float(sheet.row_dimensions[row].height) * MM_A_POINT


def width_mm(sheet: Worksheet) -> float:
    """Width of all columns: widths count in digits of 7 pixels with 5 pixels around them."""
    total = 0.0
    for letter, dimension in sheet.column_dimensions.items():
        assert letter
        total += round(dimension.width * 7) * (dimension.max - dimension.min + 1)
    return total * MM_A_PIXEL


def text_of(cell: object) -> str:
    return "" if cell is None else str(cell)


def type_sizes(sheet: Worksheet) -> set[float]:
    """Sizes of all type on a sheet, pieces of a cell included."""
    found = set()
    for row in sheet.iter_rows():
        for cell in row:
            found.add(float(cell.font.sz))
            for piece in cell.value if isinstance(cell.value, list) else ():
                if not isinstance(piece, str) and piece.font.sz is not None:
                    found.add(float(piece.font.sz))
    return found


def assert_fits_its_paper(sheet: Worksheet) -> None:
    """At full size, no page wider or higher than its paper, rows of 7 mm, type of 9 points."""
    assert sheet.page_setup.scale in (None, 100)
    assert (
        not sheet.sheet_properties.pageSetUpPr or not sheet.sheet_properties.pageSetUpPr.fitToPage
    )
    sides = printable(sheet)
    # programs that round digits of the type up make columns up to 6 % wider
    assert width_mm(sheet) * 1.06 <= sides.width
    for page in pages(sheet):
        heights = [row_mm(sheet, row) for row in page]
        assert min(heights) >= 7.0
        assert sum(heights) <= sides.height
    assert min(type_sizes(sheet)) >= 9.0
