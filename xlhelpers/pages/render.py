"""Draws the tabs of every output: paragraphs, tables, sections, charts, and the page set-up."""

import io
import zipfile
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime
from functools import partial
from typing import Any

import pandas as pd
from xlsxwriter import Workbook

from xlhelpers.fields.quantities import Units
from xlhelpers.fields.workbook import tab_name
from xlhelpers.package.sheet.long_rows import LongRows, with_rows
from xlhelpers.package.sheet.references import quote_sheet
from xlhelpers.pages.banner import write_banner, write_changes
from xlhelpers.pages.chart_heights import fit_charts, row_points
from xlhelpers.pages.charts import make_chart
from xlhelpers.pages.columns import Bulk, long_rows
from xlhelpers.pages.known_formulas import KnownFormulas
from xlhelpers.pages.looks import ROLES, FormatShelf
from xlhelpers.pages.page import page_rooms, set_up_page
from xlhelpers.pages.plan import (
    Block,
    ChartGrid,
    ChartPlan,
    Column,
    Section,
    TabPlan,
    Text,
)
from xlhelpers.pages.sheet import Pen, Places, Sheet
from xlhelpers.pages.tables import block_widths, write_block, write_table, write_typed_cells
from xlhelpers.pages.text_size import ROW_PIXELS, line_points, lines_in
from xlhelpers.pages.values import clean_text

# texts stay texts, whatever they look like
_OPTIONS = {
    "in_memory": True,
    "strings_to_formulas": False,
    "strings_to_urls": False,
    "strings_to_numbers": False,
}
# of the parts' own record only; the time of a fill stands in its tab
_CREATED = datetime(2000, 1, 1)
_GAP = 10  # pixels between charts
_CHART_WIDTH = 480  # pixels, where as many as fit stand side by side
_TITLE = 26.0  # points


@dataclass(frozen=True)
class RenderedTabs:
    """Tabs as a workbook of their own, without the rows of long blocks.

    `rows` holds for each part of `scratch` that has long blocks the rows still to be written.
    """

    scratch: bytes
    rows: Mapping[str, tuple[LongRows, ...]]

    def whole(self) -> bytes:
        """Return the workbook with all its rows."""
        if not self.rows:
            return self.scratch
        result = io.BytesIO()
        with (
            zipfile.ZipFile(io.BytesIO(self.scratch)) as old,
            zipfile.ZipFile(result, "w") as new,
        ):
            for entry in old.infolist():
                content = old.read(entry)
                if entry.filename in self.rows:
                    content = with_rows(content, self.rows[entry.filename])
                new.writestr(entry, content, zipfile.ZIP_DEFLATED, compresslevel=1)
        return result.getvalue()


@dataclass
class Book:
    """A workbook that gets tabs one by one; their charts are drawn when it is closed.

    `bulks` are long blocks whose rows are to be inserted when it is closed, `places` the cells of
    each column of a block.
    """

    units: Units
    looks: Mapping[str, dict[str, Any]] = field(default_factory=lambda: ROLES)
    title: str = ""
    places: Places = field(default_factory=dict)
    bulks: list[Bulk] = field(default_factory=list)

    def __post_init__(self) -> None:
        """Begin without a tab."""
        self._buffer = io.BytesIO()
        self.file: Workbook = KnownFormulas(self._buffer, _OPTIONS)
        title = {"title": self.title} if self.title else {}
        self.file.set_properties({"created": _CREATED, **title})
        self.shelf = FormatShelf(self.file, self.units, self.looks)
        # charts may read blocks of any tab, so they are drawn when all cells are placed
        self._charts: list[tuple[Sheet, ChartPlan, str, int, dict[str, Any]]] = []

    def begin(self, plan: TabPlan) -> Sheet:
        """Add a sheet with its columns set, and the name by which it is found again."""
        sheet = self.file.add_worksheet(plan.tab)
        if plan.key:
            self.file.define_name(tab_name(plan.key), f"={quote_sheet(plan.tab)}!$A$1")
        hidden = {
            at
            for part in plan.parts
            if isinstance(part, Block)
            for at, column in enumerate(part.columns)
            if column.hidden
        }
        pen = Pen(sheet, self.shelf, self.units)
        return Sheet(pen, plan, _widths(plan, self.units), frozenset(hidden), self.places)

    def add(self, plan: TabPlan, *, watched: bool = False) -> None:
        """Add the tab of a plan.

        Parameters
        ----------
        plan : TabPlan
            What the tab holds, in inner units.
        watched : bool, optional
            Whether the tab says if anything keyed has changed since the fill.
        """
        sheet = self.begin(plan)
        sheet.write_text(plan.title, "title", _TITLE)
        # paragraphs and sections keep their own distance from what is above them
        follows = not isinstance(next(iter(plan.parts), None), (Text, Section))
        if plan.sentence or follows:
            sheet.write_text(plan.sentence, "purpose")
        if watched:
            write_banner(sheet.pen, sheet.row, plan.repeated_columns, len(sheet.widths) - 1)
            sheet.row += 1
        for remark in plan.remarks:
            sheet.write_text(remark, "hint")
        write_typed_cells(self.file, sheet)
        sheet.row += follows
        for part in plan.parts:
            self._write(sheet, part)
        if plan.changes:
            write_changes(self.file, sheet.pen, sheet.row, plan.changes)
        self._fit_charts(sheet)
        set_up_page(sheet.pen.sheet, plan, self.units, sheet.page, sheet.widths)
        if plan.hidden:
            # some programs print hidden tabs too: an empty cell makes no page
            row, at = sheet.row + 1, len(sheet.widths) + 1
            sheet.pen.sheet.print_area(row, at, row, at)
            sheet.pen.sheet.hide()

    def close(self) -> RenderedTabs:
        """Draw the charts and return the workbook."""
        for sheet, plan, key, row, options in self._charts:
            chart = make_chart(self.file, plan, partial(sheet.locate, key))
            chart.set_size(options.pop("size"))
            sheet.pen.sheet.insert_chart(row, 0, chart, options)
        self.file.close()
        rows: dict[str, tuple[LongRows, ...]] = {}
        with zipfile.ZipFile(self._buffer) as archive:
            for bulk in self.bulks:
                part = f"xl/worksheets/sheet{bulk.sheet + 1}.xml"
                rows[part] = (*rows.get(part, ()), long_rows(bulk, archive.read(part)))
        return RenderedTabs(self._buffer.getvalue(), rows)

    def _write(self, sheet: Sheet, part: Block | ChartGrid | Section | Text) -> None:
        if isinstance(part, Text):
            _write_paragraph(sheet, part)
        elif isinstance(part, Section):
            self._write_section(sheet, part)
        elif isinstance(part, ChartGrid):
            self._place_charts(sheet, part)
        else:
            bulk = write_block(self.file, sheet, part)
            self.bulks += [] if bulk is None else [bulk]
        if not (isinstance(part, Block) and not part.printed):
            sheet.page.last_row = sheet.row - 1
        sheet.row += isinstance(part, (Block, ChartGrid))

    def _write_section(self, sheet: Sheet, section: Section) -> None:
        first = sheet.row
        if section.title:
            sheet.skip(10)
            sheet.begin_section(section.title, 26)
        for sentence in section.sentences:
            sheet.write_text(_keep_with_number(sentence), "sentence", 22)
        if section.table is not None:
            sheet.skip(6)
            write_table(sheet, section.key, section.table)
        for note in section.notes:
            sheet.write_text(_keep_with_number(note), "note", 16)
        if section.chart is not None:
            sheet.page.splits.add(sheet.row)
            number = sum(other is sheet for other, *_ in self._charts) + 1
            name = f"xlh_report_{sheet.plan.tab.split()[0].lower()}_{number}_{section.key}"
            plan = replace(section.chart, name=name)
            height = section.chart.height
            room = min(page_rooms(sheet.plan, self.units, sheet.widths))
            if sheet.page.pixels(first, sheet.row - 1) + height > room:
                sheet.end_piece(first)  # goes on over pages, and the chart stays whole
                first = sheet.row
            self.keep_chart(sheet, plan, sheet.row, sheet.pixels() - 6, height, 3, section.key)
            sheet.page.charts[sheet.row, sheet.row] = height
            sheet.skip(row_points(height))
        sheet.end_piece(first)

    def _fit_charts(self, sheet: Sheet) -> None:
        """Give charts whose height may follow the page the heights that suit it."""
        page = fit_charts(sheet.page, page_rooms(sheet.plan, self.units, sheet.widths))
        heights = {first: height for (first, _), height in page.charts.items()}
        for row, points in page.heights.items():
            if points != sheet.page.heights.get(row):
                sheet.set_height(row, points)
        sheet.page = page
        for of_sheet, _, _, row, options in self._charts:
            if of_sheet is sheet and row in heights:
                options["size"]["height"] = int(heights[row])

    def _place_charts(self, sheet: Sheet, grid: ChartGrid) -> None:
        """Leave the rows free that the charts will cover."""
        first = sheet.row
        if grid.title:
            sheet.begin_section(grid.title)
        if grid.sentence:
            sheet.write_text(grid.sentence, "hint")
        across = grid.across or max(1, sheet.pixels() // _CHART_WIDTH)
        step, rows = sheet.pixels() // across, -(-(grid.height + _GAP) // ROW_PIXELS)
        for number, plan in enumerate(grid.charts):
            down, along = divmod(number, across)
            place = sheet.row + down * rows
            self.keep_chart(sheet, plan, place, step - _GAP, grid.height, along * step, "")
        for _ in range(0, len(grid.charts), across):
            if sheet.plan.name:  # charts in the survey's own workbook keep their size
                sheet.page.charts[sheet.row, sheet.row + rows - 1] = grid.height
            sheet.row += rows
            sheet.end_piece(first)
            first = sheet.row

    def keep_chart(
        self, sheet: Sheet, plan: ChartPlan, row: int, width: int, height: int, left: int, key: str
    ) -> None:
        """Draw a chart of this size, in pixels, from a row and so far from the left on.

        `key` is that of the table that spans without a block belong to.
        """
        options = {
            "size": {"width": width, "height": height},
            "x_offset": left,
            "y_offset": 4,
            "object_position": 2,
            "description": clean_text(plan.description),
        }
        self._charts.append((sheet, plan, key, row, options))


def render_book(
    plans: Sequence[TabPlan],
    units: Units,
    looks: Mapping[str, dict[str, Any]] = ROLES,
    title: str = "",
) -> bytes:
    """Return a workbook of these tabs alone.

    Parameters
    ----------
    plans
        What they hold, in inner units.
    units
        The units shown.
    looks
        The looks of the roles.
    title
        What the workbook calls itself in its properties.
    """
    book = Book(units, looks, title)
    for plan in plans:
        book.add(plan)
    return book.close().whole()


def how_tab(key: str, rows: Sequence[tuple[str, str]]) -> TabPlan:
    """Return the last tab of a book: how its numbers were computed, a row a subject."""
    table = pd.DataFrame(rows, columns=["what", "said"])
    columns = (Column("what", "What", "text", width=26), Column("said", "How", "wrapped", width=96))
    block = Block("how", columns, table)
    return TabPlan(key, "How it was computed", "", (block,), frozen_headings=False, name="How")


def _widths(plan: TabPlan, units: Units) -> list[float]:
    widths = list(plan.widths)
    for block in plan.parts:
        if isinstance(block, Block):
            headings = [column.heading(units) for column in block.columns]
            for place, width in enumerate(block_widths(block, headings)):
                if place == len(widths):
                    widths.append(width)
                elif not block.stretched or place < len(block.columns) - 1:
                    widths[place] = max(widths[place], width)
    return widths or [9.0]


def _write_paragraph(sheet: Sheet, part: Text) -> None:
    first = sheet.row
    if not part.label:
        sheet.write_text(_keep_with_number(part.text), part.role, 16)
    else:
        look, last = sheet.pen.shelf.role, len(sheet.widths) - 1
        text = clean_text(_keep_with_number(part.text))
        size = sheet.pen.shelf.size(part.role)
        points = line_points(lines_in(text, sheet.pixels(1, last), size), size)
        sheet.pen.sheet.write_string(sheet.row, 0, clean_text(part.label), look("label"))
        sheet.merge(sheet.row, 1, last, text, look(part.role, align="left"))
        sheet.skip(max(30.0, points + 8))
    sheet.end_piece(first)


def _keep_with_number(text: str) -> str:
    return text.replace(" %", "\N{NO-BREAK SPACE}%")  # no line begins with the sign alone
