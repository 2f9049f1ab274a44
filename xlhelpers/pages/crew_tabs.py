"""Tabs of the work around the main job: a title, sentences, tables and charts, top to bottom."""

import io
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from textwrap import wrap
from typing import Any

import numpy as np
import pandas as pd
from xlsxwriter import Workbook
from xlsxwriter.chart import Chart
from xlsxwriter.worksheet import Worksheet

from xlhelpers.fields.quantities import Units
from xlhelpers.package.sheet.references import column_letters, quote_sheet
from xlhelpers.pages.charts import make_chart
from xlhelpers.pages.columns import Pen, write_column
from xlhelpers.pages.looks import INK, LINE, FormatShelf
from xlhelpers.pages.page import ROW_PIXELS, Page, set_up_page, width_in_pixels
from xlhelpers.pages.plan import Block, ChartPlan, Column, Span, TabPlan
from xlhelpers.pages.values import clean_text, lines_of

_OPTIONS = {
    "in_memory": True,
    "strings_to_formulas": False,
    "strings_to_urls": False,
    "strings_to_numbers": False,
}
_CREATED = datetime(2000, 1, 1)
CHART_HEIGHT, CHART_WIDTH = 310, 480  # pixels; the width at the least


@dataclass(frozen=True)
class Points:
    """One series of a chart of points: columns of a block, drawn as points or as a line."""

    name: str
    block: str
    across: str
    up: str
    as_line: bool = False
    dashed: bool = False
    marker: str = "circle"


@dataclass(frozen=True)
class PointChart:
    """A native chart of points; `description` is said to those who cannot see it."""

    name: str
    title: str
    description: str
    across_title: str
    up_title: str
    series: tuple[Points, ...]
    across_format: str = "0.0"
    up_format: str = "0.0"


@dataclass(frozen=True)
class CrewTab:
    """One tab: its name, the plan of its tables, and the charts that stand below them.

    The defined name `xlh_tab_<key of the plan>` points at its first cell; the headings of the
    blocks' `named` columns get `xlh_<key>_<column>`.
    """

    name: str
    plan: TabPlan
    charts: tuple[PointChart | ChartPlan, ...] = ()
    hidden: bool = False


def how_tab(key: str, rows: Sequence[tuple[str, str]]) -> CrewTab:
    """Return the last tab of a book: how its numbers were reckoned, a row a subject."""
    table = pd.DataFrame(rows, columns=["what", "said"])
    columns = (Column("what", "What", "text", width=26), Column("said", "How", "wrapped", width=96))
    block = Block("how", columns, table)
    return CrewTab("How", TabPlan(key, "How it was reckoned", "", (block,), frozen_headings=False))


def render_crew_tabs(tabs: Sequence[CrewTab], units: Units) -> bytes:
    """Return a workbook of these tabs alone.

    Parameters
    ----------
    tabs
        What they hold, in inner units.
    units
        The units shown.
    """
    buffer = io.BytesIO()
    book = Workbook(buffer, _OPTIONS)
    book.set_properties({"created": _CREATED})
    shelf = FormatShelf(book, units)
    spans: dict[tuple[str, str], list[Any]] = {}
    sheets = [book.add_worksheet(tab.name) for tab in tabs]
    rows = [
        _write_tab(book, Pen(sheet, shelf, units), tab, spans)
        for sheet, tab in zip(sheets, tabs, strict=True)
    ]
    for sheet, tab, row in zip(sheets, tabs, rows, strict=True):
        _draw(book, sheet, tab, row, spans)
    book.close()
    return buffer.getvalue()


def _write_tab(
    book: Workbook, pen: Pen, tab: CrewTab, spans: dict[tuple[str, str], list[Any]]
) -> int:
    plan, sheet = tab.plan, pen.sheet
    blocks = [part for part in plan.parts if isinstance(part, Block)]
    widths = _widths(blocks)
    for at, width in enumerate(widths):
        sheet.set_column(at, at, width)
    for at, column in ((i, c) for block in blocks for i, c in enumerate(block.columns)):
        if column.hidden:
            sheet.set_column(at, at, column.width, None, {"hidden": True})
    book.define_name(f"xlh_tab_{plan.key}", f"={quote_sheet(tab.name)}!$A$1")
    row, page = 0, Page()
    sheet.set_row(0, 26)
    for text, role in (
        (plan.title, "title"),
        (plan.sentence, "purpose"),
        *((remark, "hint") for remark in plan.remarks),
    ):
        # columns that each printed page repeats would repeat the text, cut off: it begins beside
        at = 0 if role == "title" else plan.repeated_columns
        row = _say(pen, text, role, (row, at), sum(widths) / plan.pages_wide - sum(widths[:at]))
    row += 1
    for block in blocks:
        row = _write_block(book, pen, tab, block, row, page, widths, spans) + 1
    page.last_row = row - 1
    if tab.charts:
        width = width_in_pixels(widths)
        across = max(1, width // CHART_WIDTH)
        steps = -(-(CHART_HEIGHT + 10) // ROW_PIXELS)
        down = -(-len(tab.charts) // across)
        page.last_row = row + steps * down
        page.chart_title_row, page.chart_pixels = row, steps * ROW_PIXELS
        page.chart_rows = [row + steps * number for number in range(down)]
    set_up_page(sheet, plan, pen.units, page, widths)
    if tab.hidden:
        # some programs print hidden tabs too: an empty cell makes no page
        sheet.print_area(row + 1, len(widths) + 1, row + 1, len(widths) + 1)
        sheet.hide()
    return row


def _say(pen: Pen, text: str, role: str, place: tuple[int, int], room: float) -> int:
    """Write a text from a cell on, broken to the room in characters; return the row behind it."""
    row, column = place
    width = room * (0.6 if role == "title" else 0.95)
    for line in wrap(clean_text(text), max(int(width), 40)) or [""]:
        pen.sheet.write_string(row, column, line, pen.shelf.role(role))
        row += 1
    return row


def _widths(blocks: Sequence[Block]) -> list[float]:
    widths: list[float] = [9.0]
    for block in blocks:
        for at, column in enumerate(block.columns):
            if at == len(widths):
                widths.append(column.width)
            widths[at] = max(widths[at], column.width)
    return widths


def _write_block(  # the pieces of one table share where it stands
    book: Workbook, pen: Pen, tab: CrewTab, block: Block, row: int, *rest: Any
) -> int:
    page, widths, spans = rest
    sheet = pen.sheet
    if block.title:
        for at in range(len(block.columns)):
            sheet.write_blank(row, at, None, pen.shelf.role("section"))
        sheet.write_string(row, 0, clean_text(block.title), pen.shelf.role("section"))
        sheet.set_row(row, 22)
        row += 1
    if block.sentence:
        at = tab.plan.repeated_columns
        row = _say(pen, block.sentence, "hint", (row, at), sum(widths[at:]) / tab.plan.pages_wide)
    if block.rows.empty:
        sheet.write_string(row, 0, clean_text(block.if_empty), pen.shelf.role("purpose"))
        row += 1
        if not block.named:
            return row
    _write_headings(book, pen, tab, block, row)
    if page.heading_rows is None and tab.plan.frozen_headings:
        page.heading_rows = (row, row)
        sheet.freeze_panes(row + 1, tab.plan.frozen_columns)
    first, count = row + 1, len(block.rows)
    places = list(range(first, first + count))
    for at, column in enumerate(block.columns):
        spans[block.key, column.key] = [tab.name, first, at, max(first + count - 1, first), at]
        write_column(pen, column, at, block.rows[column.key], places, np.zeros(count, dtype=bool))
    for place, height in zip(places, _heights(block, widths), strict=True):
        if height:
            sheet.set_row(place, height)
    if block.filtered and count:
        sheet.autofilter(row, 0, first + count - 1, len(block.columns) - 1)
    return first + count


def _write_headings(book: Workbook, pen: Pen, tab: CrewTab, block: Block, row: int) -> None:
    lines = 1
    for at, column in enumerate(block.columns):
        heading = column.heading(pen.units)
        pen.sheet.write_string(row, at, heading, pen.shelf.heading(column))
        lines = max(lines, lines_of(heading, column.width - 1))
        if column.key in block.named:
            cell = f"${column_letters(at + 1)}${row + 1}"
            name = f"xlh_{tab.plan.key}_{column.key}"
            book.define_name(name, f"={quote_sheet(tab.name)}!{cell}")
    pen.sheet.set_row(row, 6 + 13.5 * lines)


def _heights(block: Block, widths: Sequence[float]) -> list[float]:
    lines = np.ones(len(block.rows), dtype=int)
    for at, column in enumerate(block.columns):
        if column.look in {"wrapped", "entry"}:
            texts = block.rows[column.key].fillna("").astype(str)
            lines = np.maximum(lines, [lines_of(text, widths[at]) for text in texts])
    return [0.0 if count == 1 else min(15.0 * count, 400.0) for count in lines.tolist()]


def _draw(
    book: Workbook,
    sheet: Worksheet,
    tab: CrewTab,
    row: int,
    spans: dict[tuple[str, str], list[Any]],
) -> None:
    if not tab.charts:
        return
    blocks = [part for part in tab.plan.parts if isinstance(part, Block)]
    width = width_in_pixels(_widths(blocks))
    across = max(1, width // CHART_WIDTH)
    step, steps = width // across, -(-(CHART_HEIGHT + 10) // ROW_PIXELS)
    for number, plan in enumerate(tab.charts):
        down, along = divmod(number, across)
        if isinstance(plan, ChartPlan):
            chart = make_chart(book, plan, partial(_cells, spans))
        else:
            chart = _points(book, plan, spans)
        chart.set_size({"width": step - 10, "height": CHART_HEIGHT})
        options = {
            "x_offset": along * step,
            "y_offset": 4,
            "object_position": 2,
            "description": clean_text(plan.description),
        }
        sheet.insert_chart(row + down * steps, 0, chart, options)


def _cells(spans: dict[tuple[str, str], list[Any]], span: Span) -> list[str | int]:
    """Return the cells of a span of a block that is already written."""
    tab, first, at = spans[span.block, span.column][:3]
    first += span.first
    return [tab, first, at, first + max(span.count, 1) - 1, at]


def _points(book: Workbook, plan: PointChart, spans: dict[tuple[str, str], list[Any]]) -> Chart:
    chart = book.add_chart({"type": "scatter", "name": plan.name})
    assert chart is not None  # the kind is known
    for series in plan.series:
        chart.add_series(_series(series, spans))
    font = {"size": 10, "color": INK}
    chart.set_title({"name": plan.title, "name_font": {**font, "size": 12}, "overlay": False})
    grid = {"visible": True, "line": {"color": LINE, "width": 0.5}}
    axis = {"name_font": font, "num_font": font, "major_gridlines": grid, "label_position": "low"}
    chart.set_x_axis({"name": plan.across_title, "num_format": plan.across_format, **axis})
    chart.set_y_axis({"name": plan.up_title, "num_format": plan.up_format, **axis})
    chart.set_legend({"position": "bottom", "font": font})
    chart.show_hidden_data()
    return chart


def _series(series: Points, spans: dict[tuple[str, str], list[Any]]) -> dict[str, Any]:
    options: dict[str, Any] = {
        "name": series.name,
        "categories": spans[series.block, series.across],
        "values": spans[series.block, series.up],
    }
    if series.as_line:
        dash = {"dash_type": "dash"} if series.dashed else {}
        options |= {"line": {"color": INK, "width": 1.25, **dash}, "marker": {"type": "none"}}
    else:
        look = {
            "type": series.marker,
            "size": 6,
            "fill": {"color": "#8FA9B2"},
            "border": {"color": INK},
        }
        options |= {"line": {"none": True}, "marker": look}
    return options
