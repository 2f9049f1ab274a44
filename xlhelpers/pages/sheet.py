"""The sheet of a tab while it is written: where its rows stand, and paragraphs across it."""

from dataclasses import dataclass, field

from xlsxwriter.format import Format
from xlsxwriter.worksheet import Worksheet

from xlhelpers.fields.quantities import Units
from xlhelpers.pages.looks import FormatShelf
from xlhelpers.pages.page import Page
from xlhelpers.pages.plan import Span, TabPlan
from xlhelpers.pages.text_size import column_pixels, columns_for, line_points, lines_in
from xlhelpers.pages.values import clean_text

# sheet name, first row, first column, last row, last column; counted from 0
CellRange = list[str | int]
# block and column -> the cells of that column, all its rows, on whatever tab
Places = dict[tuple[str, str], CellRange]


@dataclass(frozen=True)
class Pen:
    """What it takes to write a cell: the sheet, the formats, the units shown."""

    sheet: Worksheet
    shelf: FormatShelf
    units: Units


@dataclass
class Sheet:
    """One tab: what it takes to write, the widths of its columns, and the next free row."""

    pen: Pen
    plan: TabPlan
    widths: list[float]
    hidden: frozenset[int]
    places: Places
    row: int = 0
    page: Page = field(default_factory=Page)

    def __post_init__(self) -> None:
        """Set the columns."""
        for at, width in enumerate(self.widths):
            options = {"hidden": True} if at in self.hidden else {}
            self.pen.sheet.set_column(at, at, width, None, options)

    def pixels(self, first: int = 0, last: int | None = None) -> int:
        """Return the width of columns, of those that are not hidden."""
        last = len(self.widths) - 1 if last is None else last
        return column_pixels(
            self.widths[at] for at in range(first, last + 1) if at not in self.hidden
        )

    def set_height(self, row: int, points: float) -> None:
        """Set the height of a row, and keep it for the page breaks."""
        self.pen.sheet.set_row(row, points)
        self.page.heights[row] = points

    def skip(self, points: float) -> None:
        """Leave a row of this height free."""
        self.set_height(self.row, points)
        self.row += 1

    def write_text(self, text: str, role: str, least: float = 0.0) -> None:
        """Write a paragraph across the first printed page and go on to the next row.

        A text of one line stays in its first cell, a longer one is wrapped in merged cells. Its
        row is at least so many points high.
        """
        first, last = self.text_columns(role)
        size = self.pen.shelf.size(role)
        text = clean_text(text)
        lines = lines_in(text, self.pixels(first, last), size, bold=self.pen.shelf.is_bold(role))
        if lines > 1 and last > first:
            self.merge(self.row, first, last, text, self.pen.shelf.role(role, wrapped=True))
        else:
            self.pen.sheet.write_string(self.row, first, text, self.pen.shelf.role(role))
        points = max(line_points(lines, size), least)
        if lines > 1 or least:
            self.set_height(self.row, points)
        self.row += 1

    def text_columns(self, role: str) -> tuple[int, int]:
        """Return the first and last column of a paragraph: what one printed page shows."""
        # columns that each printed page repeats would repeat the text, cut off: it begins beside
        first = 0 if role in ("title", "section") else self.plan.repeated_columns
        printed = self.plan.printed_columns or len(self.widths)
        if self.plan.pages_wide == 1:
            return first, printed - 1
        room = self.pixels(0, printed - 1) / self.plan.pages_wide
        return first, max(columns_for(self.widths[:printed], room) - 1, first)

    def begin_section(self, title: str, points: float = 22) -> None:
        """Write the title of a part, underlined across the tab."""
        look = self.pen.shelf.role("section")
        for at in range(1, len(self.widths)):
            self.pen.sheet.write_blank(self.row, at, None, look)
        self.pen.sheet.write_string(self.row, 0, clean_text(title), look)
        self.skip(points)

    def merge(self, row: int, first: int, last: int, text: str, look: Format) -> None:
        """Write a text into cells side by side as into one."""
        if last > first:
            self.pen.sheet.merge_range(row, first, row, last, "", look)
        self.pen.sheet.write_string(row, first, text, look)

    def end_piece(self, first: int) -> None:
        """Keep the rows from the first to the last one written on one page."""
        self.page.pieces.append((first, self.row - 1))

    def locate(self, key: str, span: Span) -> CellRange:
        """Return the cells of a span of a block, or of the table of this key, already written."""
        name, first, at, last, _ = self.places[span.block or key, span.column]
        start = int(first) + span.first
        end = start + span.count - 1 if span.count else int(last)
        return [name, start, at, end, at]
