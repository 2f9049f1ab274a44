"""Pages for pencils: paper sizes, boxes that fill a line from edge to edge, and their looks.

A page is a list of lines, a line a list of boxes. All boxes are whole units wide, so that the
columns of a sheet are the edges of its boxes and nothing else. Sheets are printed at full size:
what is 7 mm high here is 7 mm high on paper.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

from xlsxwriter import Workbook
from xlsxwriter.format import Format
from xlsxwriter.worksheet import Worksheet

from xlhelpers.pages.looks import INK, SLATE, STONE
from xlhelpers.pages.values import clean_text, lines_of

POINTS_A_MM = 72 / 25.4
LEAST_TYPE = 9  # points
MARGIN_MM = 6.5
UNIT_PIXELS = 12
UNIT_MM = UNIT_PIXELS * 25.4 / 96
# widths count in digits of the usual type, which programs round each in their own way, by up to
# 6 %; a line too wide would print a second page
_USED_ACROSS = 0.93
_USED_DOWN = 0.985
# 27 pixels: the least whole number of pixels that is 7 mm or more
ROW = 20.25
LINE_OF_TEXT = 12.0  # points, of type of 9 points
_LETTERS_A_UNIT = 1.9  # of type of 9 points
_TYPE = {"font_name": "Arial", "font_color": INK}
_BOX = {**_TYPE, "border": 1, "border_color": INK, "font_size": 9, "valign": "vcenter"}
_HEADING = {**_BOX, "bg_color": STONE, "text_wrap": True, "valign": "top"}
_PLAIN = {**_TYPE, "font_size": 9, "valign": "vcenter", "text_wrap": True}
LOOKS: dict[str, dict[str, Any]] = {
    "box": {**_BOX, "indent": 0},
    "box_wrapped": {**_BOX, "text_wrap": True, "valign": "top"},
    "strong_wrapped": {**_BOX, "text_wrap": True, "font_size": 11, "bold": True, "top": 2},
    "strong_box": {**_BOX, "border": 2},
    "write": {**_BOX, "font_size": 11, "align": "center"},
    "write_small": {**_BOX, "align": "center"},
    "write_shaded": {**_BOX, "font_size": 11, "align": "center", "bg_color": STONE},
    "minus": {**_BOX, "font_size": 14, "bold": True, "align": "left", "right": 0},
    "tick": {**_BOX, "font_size": 12, "align": "center", "left": 0},
    "heading": {**_HEADING, "bold": True},
    "heading_plain": {**_HEADING},
    "heading_sometimes": {**_HEADING, "italic": True},
    "title": {**_PLAIN, "bold": True, "font_size": 16, "text_wrap": False},
    "section": {**_PLAIN, "bold": True, "font_size": 12, "bottom": 2, "text_wrap": False},
    "text": {**_PLAIN, "valign": "top"},
    "large_text": {**_PLAIN, "valign": "top", "font_size": 11},
    "step": {**_PLAIN, "valign": "top", "font_size": 13, "bold": True},
    "hint": {**_PLAIN, "italic": True},
    "caution": {**_PLAIN, "border": 1, "left": 5, "border_color": SLATE},
    "example": {**_BOX, "font_size": 14, "bold": True, "align": "center"},
    "result": {**_PLAIN, "font_size": 12, "bold": True, "border": 2, "border_color": INK},
    # pieces of a box
    "label": {**_TYPE, "font_size": 9},
    "value": {**_TYPE, "font_size": 11, "bold": True},
    "large": {**_TYPE, "font_size": 16, "bold": True},
    "ticks": {**_TYPE, "font_size": 13, "bold": True},
    "small_ticks": {**_TYPE, "font_size": 10},
}


@dataclass(frozen=True)
class PaperSize:
    """A size of paper, upright: its name, its number in the file format, its sides in mm."""

    name: str
    number: int
    width: float
    height: float


SIZES = {
    "a4": PaperSize("a4", 9, 210.0, 297.0),
    "letter": PaperSize("letter", 1, 215.9, 279.4),
}


@dataclass(frozen=True)
class Box:
    """One box of a line: units wide, a printed label, a printed value, and how they look."""

    width: int
    label: str = ""
    value: str = ""
    look: str = "box"
    value_look: str = "value"


@dataclass(frozen=True)
class Line:
    """One line of a page: its height in points, and its boxes from left to right."""

    height: float
    boxes: tuple[Box, ...]


Page = tuple[Line, ...]


class Shelf:
    """Makes each format of a book once."""

    def __init__(self, book: Workbook) -> None:
        """Begin with an empty shelf for this workbook."""
        self._book = book
        self._made: dict[str, Format] = {}

    def look(self, name: str) -> Format:
        """Return the format of a look."""
        if name not in self._made:
            self._made[name] = self._book.add_format(LOOKS[name])
        return self._made[name]


def units_across(size: PaperSize, *, landscape: bool) -> int:
    """Return how many units a line is wide."""
    side = size.height if landscape else size.width
    return int((side - 2 * MARGIN_MM) * _USED_ACROSS / UNIT_MM)


def points_down(size: PaperSize, *, landscape: bool) -> float:
    """Return how many points a page is high."""
    side = size.width if landscape else size.height
    return (side - 2 * MARGIN_MM) * _USED_DOWN * POINTS_A_MM


def height_of_text(text: str, units: int, type_size: float = LEAST_TYPE) -> float:
    """Return the points that a wrapped text needs in a box of so many units."""
    letters = units * _LETTERS_A_UNIT * LEAST_TYPE / type_size
    return lines_of(text, letters) * LINE_OF_TEXT * type_size / LEAST_TYPE + 3.0


def letters_beside(label: str, units: int, type_size: float) -> int:
    """Return how many letters of a type a box of so many units has room for after its label."""
    rest = units * _LETTERS_A_UNIT - len(label) - 2
    return int(rest * LEAST_TYPE / type_size)


def text_line(text: str, units: int, look: str = "text") -> Line:
    """Return a line that holds one text from edge to edge."""
    size = float(LOOKS[look]["font_size"])
    return Line(max(ROW, height_of_text(text, units, size)), (Box(units, text, look=look),))


def shared_out(widths: Sequence[int], units: int, stretched: int) -> tuple[int, ...]:
    """Return the widths with one of them stretched until they fill the line."""
    rest = units - sum(widths)
    return tuple(w + (rest if i == stretched else 0) for i, w in enumerate(widths))


def write_pages(
    sheet: Worksheet, pages: Sequence[Page], size: PaperSize, shelf: Shelf, *, landscape: bool
) -> None:
    """Write pages under one another, a page break between them, at full size."""
    edges = _set_columns(sheet, pages)
    row = 0
    breaks = []
    for page in pages:
        for line in page:
            sheet.set_row(row, line.height)
            left = 0
            for box in line.boxes:
                first, last = edges[left], edges[left + box.width] - 1
                _write_box(sheet, (row, first, last), box, shelf)
                left += box.width
            row += 1
        breaks.append(row)
    set_paper(sheet, size, landscape=landscape)
    sheet.set_h_pagebreaks(breaks[:-1])
    sheet.print_area(0, 0, row - 1, len(edges) - 2)


def set_paper(sheet: Worksheet, size: PaperSize, *, landscape: bool) -> None:
    """Set paper, margins and full size."""
    sheet.set_paper(size.number)
    if landscape:
        sheet.set_landscape()
    inches = MARGIN_MM / 25.4
    sheet.set_margins(left=inches, right=inches, top=inches, bottom=inches)
    sheet.set_header("", {"margin": 0.1})
    sheet.set_footer("", {"margin": 0.1})
    sheet.set_print_scale(100)
    sheet.center_horizontally()
    sheet.hide_gridlines(2)


def _set_columns(sheet: Worksheet, pages: Sequence[Page]) -> dict[int, int]:
    """Set one column between any two edges of boxes; return the column that begins at each."""
    edges = {0}
    for page in pages:
        for line in page:
            left = 0
            for box in line.boxes:
                left += box.width
                edges.add(left)
    places = sorted(edges)
    for column, (left, right) in enumerate(pairwise(places)):
        sheet.set_column_pixels(column, column, (right - left) * UNIT_PIXELS)
    return {place: column for column, place in enumerate(places)}


def _write_box(sheet: Worksheet, cells: tuple[int, int, int], box: Box, shelf: Shelf) -> None:
    row, first, last = cells
    look = shelf.look(box.look)
    if last > first:
        sheet.merge_range(row, first, row, last, "", look)
    label, value = clean_text(box.label), clean_text(box.value)
    if label and value:
        pieces = (
            *(shelf.look("label"), label + "  "),
            *(shelf.look(box.value_look), value),
        )
        sheet.write_rich_string(row, first, *pieces, look)
    elif value:
        sheet.write_rich_string(
            row, first, shelf.look(box.value_look), value, shelf.look("label"), " ", look
        )
    elif label:
        sheet.write_string(row, first, label, look)
    else:
        sheet.write_blank(row, first, None, look)
