"""Rows of the demo's result tabs and report are as high as their texts need, no less and no more.

Widths of letters: XlsxWriter's `xl_pixel_width`, taken from Excel. Heights of a line of type of 9,
10, 11, 12 and 13 points: 12, 12.75, 15, 15.75 and 17.25 points, the heights that Excel gives rows.
"""

from functools import cache, lru_cache
from pathlib import Path
from typing import Any

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.cell.cell import MergedCell
from openpyxl.worksheet.worksheet import Worksheet
from xlsxwriter.utility import xl_pixel_width

from tests.jobs.books import varied, write_filled
from tests.jobs.deciding import TROUBLED
from tests.jobs.tabs.printed_pages import pages_of
from tests.town import filled_town
from xlhelpers.doors.command_line.main import main

_LINES = {9: 12.0, 10: 12.75, 11: 15.0, 12: 15.75, 13: 17.25}
_USUAL = 15.0


@lru_cache(maxsize=1)
def column_widths(sheet: Worksheet) -> dict[int, float]:
    widths: dict[int, float] = {}
    for record in sheet.column_dimensions.values():
        for at in range(record.min, record.max + 1):
            widths[at] = 0.0 if record.hidden else record.width
    return widths


def column_pixels(sheet: Worksheet, first: int, last: int) -> int:
    widths = column_widths(sheet)
    # the file counts the five pixels of padding in
    return sum(round(widths.get(at, 9.14) * 7) for at in range(first, last + 1))


@cache
def word_pixels(word: str) -> int:
    return int(xl_pixel_width(word))


def lines_needed(text: str, pixels: float, size: float, bold: bool) -> int:
    scale = size / 11 * (1.06 if bold else 1)
    lines = 0
    for paragraph in text.split("\n"):
        lines, used = lines + 1, 0.0
        for word in paragraph.split(" "):
            width = word_pixels(word) * scale
            space = word_pixels(" ") * scale if used else 0.0
            if used and used + space + width > pixels - 7:
                lines, used, space = lines + 1, 0.0, 0.0
            used += space + width
            while used > pixels:  # longer than the cell
                lines, used = lines + 1, used - pixels
    return lines


def points_needed(sheet: Worksheet, row: int, spans: dict[str, int]) -> tuple[float, float]:
    """Return the points that the texts of a row need, and the points of one of its lines."""
    needed, of_line = 0.0, _USUAL
    for cell in sheet[row]:
        if isinstance(cell, MergedCell) or not isinstance(cell.value, str):
            continue
        hidden = column_pixels(sheet, cell.column, cell.column) == 0
        if hidden or cell.value.startswith("=") or not cell.alignment.wrap_text:
            continue
        last = spans.get(cell.coordinate, cell.column)
        size = cell.font.sz
        line = _LINES.get(int(size), 1.3 * size)
        room = column_pixels(sheet, cell.column, last)
        points = line * lines_needed(cell.value, room, size, bool(cell.font.b))
        if points > needed:
            needed, of_line = points, line
    return needed, of_line


def misfits(book: Workbook, tabs: list[str]) -> tuple[list[str], list[str]]:
    """Return the rows that are more than a line too high, and those that cut their texts."""
    high, cut = [], []
    for tab in tabs:
        sheet: Any = book[tab]
        spans = {area.coord.split(":")[0]: area.max_col for area in sheet.merged_cells.ranges}
        for row in range(1, sheet.max_row + 1):
            needed, line = points_needed(sheet, row, spans)
            height = sheet.row_dimensions[row].height or _USUAL
            if needed and height > needed + line + 8:  # a heading keeps some distance
                high.append(f"{tab} {row}: {height:.0f} for {needed:.0f}")
            if height < needed - 2:
                cut.append(f"{tab} {row}: {height:.0f} for {needed:.0f}")
    return high, cut


class Books(dict[str, Workbook]):
    """Workbooks by name, each opened when it is asked for."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def __missing__(self, name: str) -> Workbook:
        self[name] = load_workbook(self.folder / f"{name}.xlsx")
        return self[name]


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Books:
    """The demo's workbook after a fill, the report of it, and a small workbook after a fill."""
    folder = tmp_path_factory.mktemp("demo")
    filled = folder / "filled.xlsx"
    filled.write_bytes(filled_town())
    main(["report", str(filled), "--out", str(folder / "report.xlsx")])
    write_filled(folder / "small.xlsx", [*varied(5), *TROUBLED])
    return Books(folder)


@pytest.mark.parametrize(
    "name", ["small", pytest.param("filled", marks=pytest.mark.slow), "report"]
)
def test_rows_are_as_high_as_their_texts_need(made: Books, name: str) -> None:
    book = made[name]
    tabs = book.sheetnames
    if name != "report":
        tabs = tabs[tabs.index("Trees") :]
        tabs.remove("Plot at a glance")  # its texts follow what is chosen
    high, cut = misfits(book, tabs)
    assert not cut
    assert not high


@pytest.mark.slow
def test_no_row_of_the_trees_is_higher_than_a_third_of_a_screen(
    made: Books,
) -> None:
    sheet = made["filled"]["Trees"]
    heights = [sheet.row_dimensions[row].height or _USUAL for row in range(1, sheet.max_row + 1)]
    assert max(heights) <= 200


def test_pages_of_the_report_are_at_least_half_full(made: Books) -> None:
    # what charts read is on a hidden tab, of which one empty cell is the print area
    printed = [sheet for sheet in made["report"] if sheet.sheet_state == "visible"]
    assert len(printed) == 9
    for sheet in printed:
        *all_but_last, _ = pages_of(sheet)
        assert all(page.filled >= 0.5 for page in all_but_last), sheet.title
    assert sum(len(pages_of(sheet)) for sheet in printed) <= 14
