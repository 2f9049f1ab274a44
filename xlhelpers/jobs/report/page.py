"""Draws the pages of the council's report: upright, fitted to the width, charts under tables."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cache, partial
from typing import Any

from xlsxwriter import Workbook
from xlsxwriter.format import Format
from xlsxwriter.worksheet import Worksheet

from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.report.records import BarChart, Cell, ReportPage, Section, Table
from xlhelpers.pages.charts import make_chart
from xlhelpers.pages.looks import DEEP, INK, LINE, PALE, ROLES
from xlhelpers.pages.page import width_in_pixels
from xlhelpers.pages.plan import ChartPlan, Series, Span
from xlhelpers.pages.values import clean_text, lines_of

WIDTHS = (34.0, 15.0, 15.0, 15.0, 15.0)
# paper number and printable height in pixels, upright, with the margins below
_PAPERS: dict[Units, tuple[int, float]] = {"metric": (9, 1010.0), "us": (1, 944.0)}
_POINT = 96 / 72
_HIGHEST_ROW = 409.0  # points
_LOOKS: dict[str, dict[str, Any]] = {
    "title": {"font_color": DEEP, "bold": True, "font_size": 22, "valign": "vcenter"},
    "subtitle": {"font_color": INK, "font_size": 11, "valign": "top", "text_wrap": True},
    "section": {
        "font_color": DEEP,
        "bold": True,
        "font_size": 15,
        "valign": "vcenter",
        "bottom": 2,
        "bottom_color": DEEP,
    },
    "sentence": {"font_color": INK, "font_size": 13, "valign": "vcenter", "text_wrap": True},
    "label": {
        "font_color": DEEP,
        "bold": True,
        "font_size": 13,
        "valign": "vcenter",
        "bottom": 1,
        "bottom_color": LINE,
        "text_wrap": True,
    },
    "headline": {
        "font_color": INK,
        "font_size": 13,
        "valign": "vcenter",
        "text_wrap": True,
        "bottom": 1,
        "bottom_color": LINE,
    },
    "note": {
        "font_color": INK,
        "font_size": 10,
        "italic": True,
        "valign": "top",
        "text_wrap": True,
    },
    "heading": {**ROLES["heading"], "align": "right", "valign": "bottom"},
    "heading_text": {**ROLES["heading"], "valign": "bottom"},
    "cell": {**ROLES["cell"], "border": 0, "bottom": 1, "bottom_color": LINE, "font_size": 11},
    "cell_words": {
        **ROLES["cell_wrapped"],
        "border": 0,
        "bottom": 1,
        "bottom_color": LINE,
        "font_size": 11,
    },
    "small": {**ROLES["cell"], "border": 0, "bottom": 1, "bottom_color": LINE},
    "small_words": {
        **ROLES["cell_wrapped"],
        "border": 0,
        "bottom": 1,
        "bottom_color": LINE,
        "font_size": 9,
    },
    "total": {
        **ROLES["cell"],
        "border": 0,
        "top": 2,
        "bottom": 2,
        "bold": True,
        "bg_color": PALE,
        "font_size": 11,
    },
    "total_words": {
        **ROLES["cell_wrapped"],
        "border": 0,
        "top": 2,
        "bottom": 2,
        "bold": True,
        "bg_color": PALE,
        "font_size": 11,
    },
}
Shelf = Callable[..., Format]
Places = dict[str, tuple[str, int, int]]  # subject: its tab, first and last row of its table


@dataclass(frozen=True)
class Paper:
    """The page being filled: where it is written, and with what."""

    sheet: Worksheet
    shelf: Shelf
    places: Places
    name: str
    room: float
    heights: list[float] = field(default_factory=list)
    breaks: list[int] = field(default_factory=list)
    charts: list[tuple[int, str, BarChart]] = field(default_factory=list)

    @property
    def row(self) -> int:
        """Return the next free row."""
        return len(self.heights)

    def take(self, points: float) -> int:
        """Take the next row with this height; return its number."""
        at, points = self.row, min(points, _HIGHEST_ROW)
        self.sheet.set_row(at, points)
        self.heights.append(points)
        return at


def shelf_of(book: Workbook) -> Shelf:
    """Return a function that makes each format once."""

    @cache
    def make(look: str, number: str = "General", align: str = "") -> Format:
        properties = {**_LOOKS[look], "num_format": number}
        if align:
            properties["align"] = align
        return book.add_format(properties)

    return make


def write_page(
    book: Workbook, page: ReportPage, shelf: Shelf, places: Places, units: Units, footer: str
) -> Paper:
    """Write one tab without its charts, which may show the tables of other tabs."""
    sheet = book.add_worksheet(page.name)
    for at, width in enumerate(WIDTHS):
        sheet.set_column(at, at, width)
    number, room = _PAPERS[units]
    paper = Paper(sheet, shelf, places, page.name, room)
    at = paper.take(34)
    sheet.write_string(at, 0, clean_text(page.title), shelf("title"))
    if page.subtitle:
        _text(paper, page.subtitle, "subtitle", 11)
    for label, sentence in page.headlines:
        _headline(paper, label, sentence)
    for section in page.sections:
        _section(paper, section)
    if page.shown is not None:
        _keep_chart(paper, page.shown[0], page.shown[1])
    for note in page.notes:
        _text(paper, note, "note", 10)
    _set_up(paper, number, footer)
    return paper


def draw_charts(book: Workbook, paper: Paper) -> None:
    """Draw the charts of a page, now that all tables stand."""
    for number, (row, key, plan) in enumerate(paper.charts):
        name = f"xlh_report_{paper.name.split()[0].lower()}_{number + 1}_{key}"
        chart = make_chart(book, _chart_plan(name, key, plan), partial(_cells, paper.places))
        chart.set_size({"width": width_in_pixels(WIDTHS) - 6, "height": plan.height})
        options = {
            "x_offset": 3,
            "y_offset": 4,
            "object_position": 1,
            "description": clean_text(plan.description),
        }
        paper.sheet.insert_chart(row, 0, chart, options)


def _chart_plan(name: str, key: str, plan: BarChart) -> ChartPlan:
    def span(column: int) -> Span:
        return Span(key, str(column), 0, plan.count)

    series = tuple(
        Series(
            bars.name,
            span(0),
            span(bars.values),
            bars.look,
            None if bars.margins is None else span(bars.margins),
        )
        for bars in plan.series
    )
    return ChartPlan(
        name,
        "bars",
        plan.title,
        plan.description,
        "",
        plan.axis,
        series,
        plan.number,
        plan.greatest,
    )


def _cells(places: Places, span: Span) -> list[str | int]:
    tab, first, columns = places[span.block]
    at = int(span.column)
    assert at < columns
    return [tab, first, at, first + span.count - 1, at]


def _section(paper: Paper, section: Section) -> None:
    needed = _height_of(section)
    used = sum(paper.heights[paper.breaks[-1] if paper.breaks else 0 :]) * _POINT
    flows = section.table is not None and section.table.small
    if used + needed > paper.room and used > 60 and not flows:
        paper.breaks.append(paper.row)
    else:
        paper.take(10)
    at = paper.take(26)
    _across(paper, at, section.title, "section")
    for sentence in section.sentences:
        _text(paper, sentence, "sentence", 13)
    if section.table is not None:
        paper.take(6)
        _table(paper, section.key, section.table)
    for note in section.notes:
        _text(paper, note, "note", 10)
    if section.chart is not None:
        _keep_chart(paper, section.key, section.chart)


def _height_of(section: Section) -> float:
    """Return about how many pixels a subject takes."""
    points = 42.0
    points += sum(_lines(text, 13) * 18 + 4 for text in section.sentences)
    points += sum(_lines(text, 10) * 14 + 2 for text in section.notes)
    if section.table is not None:
        points += 40 + sum(_row_height(row, section.table.small) for row in section.table.rows)
    chart = section.chart.height + 12 if section.chart is not None else 0
    return points * _POINT + chart


def _keep_chart(paper: Paper, key: str, plan: BarChart) -> None:
    """Leave room for a chart."""
    at = paper.take((plan.height + 12) / _POINT)
    paper.charts.append((at, key, plan))


def _headline(paper: Paper, label: str, sentence: str) -> None:
    width = sum(WIDTHS[1:]) * 11 / 14.0
    at = paper.take(max(34.0, 18.0 * lines_of(sentence, width) + 12))
    paper.sheet.write_string(at, 0, clean_text(label), paper.shelf("label"))
    _merge(paper, (at, 1, len(WIDTHS) - 1), clean_text(sentence), "headline")


def _lines(text: str, size: float) -> int:
    return lines_of(text, sum(WIDTHS) * 11 / (size + 1))


def _text(paper: Paper, text: str, look: str, size: float) -> None:
    """Write a paragraph over the whole width."""
    at = paper.take(_lines(text, size) * (size + 4.5) + 4)
    _across(paper, at, text, look)


def _across(paper: Paper, at: int, text: str, look: str) -> None:
    _merge(paper, (at, 0, len(WIDTHS) - 1), clean_text(text), look)


def _merge(paper: Paper, place: tuple[int, int, int], text: str, look: str) -> None:
    text = text.replace(" %", "\N{NO-BREAK SPACE}%")  # no line begins with the sign alone
    row, first, last = place
    shape = paper.shelf(look, "General", "left")
    paper.sheet.merge_range(row, first, row, last, "", shape)
    paper.sheet.write_string(row, first, text, shape)


def _table(paper: Paper, key: str, table: Table) -> None:
    lines = max(
        lines_of(text, width - 2) for text, width in zip(table.headings, WIDTHS, strict=False)
    )
    at = paper.take(6 + 14 * lines)
    _headings(paper, at, table)
    paper.places[key] = (paper.name, at + 1, len(table.headings))
    for number, row in enumerate(table.rows):
        look = "small" if table.small else "cell"
        if table.total and number == len(table.rows) - 1:
            look = "total"
        _row(paper, row, look)


def _headings(paper: Paper, at: int, table: Table) -> None:
    for column, heading in enumerate(table.headings):
        texts = all(_is_text(row[column]) for row in table.rows)
        shape = paper.shelf("heading_text" if texts else "heading")
        last = column
        while last + 1 < len(table.headings) and not table.headings[last + 1]:
            last += 1
        if last > column and heading:
            paper.sheet.merge_range(at, column, at, last, "", shape)
        if heading or column == 0:
            paper.sheet.write_string(at, column, clean_text(heading), shape)


def _is_text(cell: Cell | None) -> bool:
    return cell is None or isinstance(cell.value, str)


def _row(paper: Paper, row: Sequence[Cell | None], look: str) -> None:
    at = paper.take(_row_height(row, look == "small"))
    for column, cell in enumerate(row):
        if cell is None:
            continue
        if not isinstance(cell.value, str):
            paper.sheet.write_number(
                at, column, cell.value, paper.shelf(look, cell.number, "right")
            )
            continue
        last = _last(row, column)
        side = "right" if cell.right else "left"
        shape = paper.shelf(f"{look}_words", "General", side)
        if last > column:
            paper.sheet.merge_range(at, column, at, last, "", shape)
        paper.sheet.write_string(at, column, clean_text(cell.value), shape)


def _last(row: Sequence[Cell | None], column: int) -> int:
    """Return the last column that a cell is merged over."""
    last = column
    while last + 1 < len(row) and row[last + 1] is None:
        last += 1
    return last


def _row_height(row: Sequence[Cell | None], small: bool = False) -> float:
    lines, wider, points = 1, (1.3 if small else 1.0), (12.0 if small else 15.0)
    for column, cell in enumerate(row):
        if cell is not None and isinstance(cell.value, str):
            width = sum(WIDTHS[column : _last(row, column) + 1])
            lines = max(lines, lines_of(cell.value, (width - 3) * wider))
    return 18.0 if lines == 1 else points * lines + 4


def _set_up(paper: Paper, number: int, footer: str) -> None:
    sheet = paper.sheet
    sheet.set_portrait()
    sheet.set_paper(number)
    sheet.set_margins(left=0.5, right=0.5, top=0.5, bottom=0.6)
    sheet.fit_to_pages(1, 0)
    sheet.hide_gridlines(2)
    sheet.set_footer(f"&L{footer}&R&A, page &P of &N")
    sheet.print_area(0, 0, max(paper.row - 1, 0), len(WIDTHS) - 1)
    if paper.breaks:
        sheet.set_h_pagebreaks(paper.breaks)
