"""Renders the plan of a tab into a sheet: headings, blocks, totals, charts, and the page set-up."""

from dataclasses import dataclass, field

import numpy as np
import pandas as pd
from xlsxwriter import Workbook

from xlhelpers.fields.quantities import Units
from xlhelpers.fields.workbook import RESULT_TABS, tab_name
from xlhelpers.package.sheet.references import column_letters, quote_sheet
from xlhelpers.pages.banner import write_banner, write_changes
from xlhelpers.pages.charts import CellRange, make_chart
from xlhelpers.pages.columns import BULK_FROM, Bulk, Pen, show_looks, write_column
from xlhelpers.pages.decision_columns import name_of_column
from xlhelpers.pages.looks import FormatShelf
from xlhelpers.pages.page import ROW_PIXELS, Page, set_up_page, width_in_pixels
from xlhelpers.pages.plan import DOUBTFUL, Block, ChangeTable, ChartGrid, Span, TabPlan
from xlhelpers.pages.values import clean_text, lines_of

# tab, block and column -> the cells of that column
Places = dict[tuple[str, str, str], CellRange]
_GAP = 10
_GREATEST_POINTS = 400.0
_DIGITS_OF_A_LETTER = 1.05  # columns are measured in digits; letters of a text are narrower
# longer blocks begin each section on a page of its own
_ROWS_OF_ONE_PAGE = 24


@dataclass
class _Sheet:
    """Where the writing of one tab stands."""

    pen: Pen
    plan: TabPlan
    widths: list[float]
    row: int = 0
    spans: dict[tuple[str, str], tuple[int, int]] = field(default_factory=dict)
    ends: dict[str, int] = field(default_factory=dict)
    page: Page = field(default_factory=Page)
    bulks: list[Bulk] = field(default_factory=list)

    @property
    def name(self) -> str:
        return RESULT_TABS[self.plan.key]

    @property
    def pixels_shown(self) -> int:
        """Width of the columns that are not hidden: charts stand above these only."""
        blocks = [part.columns for part in self.plan.parts if isinstance(part, Block)]
        hidden = {at for columns in blocks for at, column in enumerate(columns) if column.hidden}
        return width_in_pixels([w for at, w in enumerate(self.widths) if at not in hidden])

    def say(self, text: str, role: str, height: float | None = None) -> None:
        """Write one line of text across the tab and go on to the next row."""
        # columns that each printed page repeats would repeat the text, cut off: it begins beside
        at = self.plan.repeated_columns if role in ("purpose", "hint") else 0
        self.pen.sheet.write_string(self.row, at, clean_text(text), self.pen.shelf.role(role))
        if height is not None:
            self.set_height(self.row, height)
        self.row += 1

    def say_in_print(self, text: str, role: str) -> None:
        """Write a line of text; where only some columns are printed, wrapped to stay in them."""
        last = self.plan.printed_columns - 1
        lines = lines_of(clean_text(text), sum(self.widths[: last + 1]) * _DIGITS_OF_A_LETTER)
        if last < 1 or lines == 1:
            self.say(text, role)
            return
        look = self.pen.shelf.role(role, wrapped=True)
        self.pen.sheet.merge_range(self.row, 0, self.row, last, clean_text(text), look)
        self.set_height(self.row, 15.0 * lines)
        self.row += 1

    def set_height(self, row: int, points: float) -> None:
        """Set the height of a row, and keep it for the page breaks."""
        self.pen.sheet.set_row(row, points)
        self.page.heights[row] = points

    def begin_section(self, title: str) -> None:
        """Write the title of a part, underlined across the tab."""
        for at in range(1, len(self.widths)):
            self.pen.sheet.write_blank(self.row, at, None, self.pen.shelf.role("section"))
        self.say(title, "section", 22)

    def locate(self, span: Span) -> CellRange:
        """Return the cells of a span of a block that is already written."""
        first, column = self.spans[span.block, span.column]
        first += span.first
        return [self.name, first, column, first + max(span.count, 1) - 1, column]


def render_tab(
    book: Workbook,
    plan: TabPlan,
    shelf: FormatShelf,
    units: Units,
    places: Places | None = None,
    *,
    watched: bool = False,
) -> list[Bulk]:
    """Add the tab of this plan to the workbook.

    Parameters
    ----------
    book : Workbook
        Gets the sheet and the defined name by which the tab is found again.
    plan : TabPlan
        What the tab holds, in inner units.
    shelf : FormatShelf
        The formats of the workbook.
    units : {"metric", "us"}
        The units shown.
    places : dict, optional
        Gets tab, block and column -> the cells of that column, all its rows.
    watched : bool, optional
        Whether the tab says if anything keyed has changed since the fill.

    Returns
    -------
    list of Bulk
        Long blocks, whose rows are to be inserted when the workbook is closed.
    """
    sheet = book.add_worksheet(RESULT_TABS[plan.key])
    book.define_name(tab_name(plan.key), f"={quote_sheet(RESULT_TABS[plan.key])}!$A$1")
    state = _Sheet(Pen(sheet, shelf, units), plan, _widths(plan))
    for column, width in enumerate(state.widths):
        sheet.set_column(column, column, width)
    _hide(state)
    state.say(plan.title, "title", 26)
    state.say_in_print(plan.sentence, "purpose")
    if watched:
        write_banner(state.pen, state.row, (plan.repeated_columns, len(state.widths) - 1))
        state.row += 1
    for remark in plan.remarks:
        state.say_in_print(remark, "hint")
    state.row += 1
    _write_parts(book, state)
    set_up_page(sheet, plan, units, state.page, state.widths)
    if places is not None:
        for (block, key), (first, at) in state.spans.items():
            last = max(state.ends[block], first)
            places[plan.key, block, key] = [state.name, first, at, last, at]
    return state.bulks


def _hide(state: _Sheet) -> None:
    for part in state.plan.parts:
        for at, column in enumerate(part.columns if isinstance(part, Block) else ()):
            if column.hidden:
                state.pen.sheet.set_column(at, at, column.width, None, {"hidden": True})


def _write_parts(book: Workbook, state: _Sheet) -> None:
    # charts read blocks that may stand below them, so they are drawn when all cells are placed
    waiting: list[tuple[ChartGrid, int]] = []
    for part in state.plan.parts:
        first = state.row
        if isinstance(part, Block):
            _write_block(book, state, part)
            state.page.blocks.append((first, state.row - 1))
        elif isinstance(part, ChangeTable):
            state.row = write_changes(book, state.pen, state.row, part)
            continue  # stays off the paper
        else:
            waiting.append(_reserve(state, part))
        if not (isinstance(part, Block) and not part.printed):
            state.page.last_row = state.row - 1
        state.row += 1
    for grid, row in waiting:
        _draw(book, state, grid, row)


def _widths(plan: TabPlan) -> list[float]:
    widths: list[float] = []
    for part in plan.parts:
        if isinstance(part, Block):
            for place, column in enumerate(part.columns):
                if place == len(widths):
                    widths.append(column.width)
                elif not part.stretched or place < len(part.columns) - 1:
                    widths[place] = max(widths[place], column.width)
    return widths


def _write_block(book: Workbook, state: _Sheet, block: Block) -> None:
    sheet = state.pen.sheet
    if block.title:
        state.begin_section(block.title)
    if block.sentence:
        state.say(block.sentence, "hint")
    if block.rows.empty:
        state.say(block.if_empty, "purpose")
        # headings of nothing are kept only where they hold the tab together
        if not (state.plan.frozen_headings and state.page.heading_rows is None):
            return
    first_heading = state.row
    if block.headed:
        _write_headings(state, block)
        _name_headings(book, state, block)
    places = _places(block, state.row)
    _write_sections(state, block)
    for at, column in enumerate(block.columns):
        state.spans[block.key, column.key] = (places[0] if places else state.row, at)
    state.ends[block.key] = places[-1] if places else state.row
    _write_rows(state, block, places)
    heading_row = state.row - 1
    state.row += len(block.rows) + len(block.sections)
    if places:
        _offer_choices(state, block, heading_row + 1)
    if block.filtered and places:
        sheet.autofilter(heading_row, 0, state.row - 1, len(block.columns) - 1)
    if block.total is not None:
        _write_total(state, block)
    if state.page.heading_rows is None and block.headed and state.plan.frozen_headings:
        state.page.heading_rows = (first_heading, heading_row)
        sheet.freeze_panes(heading_row + 1, state.plan.frozen_columns)


def _write_rows(state: _Sheet, block: Block, places: list[int]) -> None:
    """Write the rows now, or note them for later where they are many."""
    pen = state.pen
    doubtful = (
        block.rows[DOUBTFUL].to_numpy(bool)
        if DOUBTFUL in block.rows
        else np.zeros(len(block.rows), dtype=bool)
    )
    heights = _row_heights(state, block)
    if len(places) >= BULK_FROM and not block.stretched:
        show_looks(pen, block, places)
        state.page.heights |= {places[at]: heights[at] for at in np.flatnonzero(heights).tolist()}
        state.bulks.append(Bulk(pen.sheet.index, block, places, heights, doubtful, pen.units))
        return
    for at, column in enumerate(block.columns):
        write_column(pen, column, at, block.rows[column.key], places, doubtful)
    if block.stretched:
        _stretch(state, block, places)
    for position in np.flatnonzero(heights).tolist():
        state.set_height(places[position], heights[position])


def _write_headings(state: _Sheet, block: Block) -> None:
    pen = state.pen
    if any(column.band for column in block.columns):
        before = None
        for at, column in enumerate(block.columns):
            shown = column.band if column.band != before else ""
            pen.sheet.write_string(state.row, at, shown, pen.shelf.role("block"))
            before = column.band
        state.row += 1
    state.set_height(state.row, _heading_points(block, state))
    for at, column in enumerate(block.columns):
        pen.sheet.write_string(state.row, at, column.heading(pen.units), pen.shelf.heading(column))
    if block.stretched:
        last, edge = len(block.columns) - 1, len(state.widths) - 1
        if edge > last:
            heading = block.columns[last].heading(pen.units)
            look = pen.shelf.role("heading")
            pen.sheet.merge_range(state.row, last, state.row, edge, "", look)
            pen.sheet.write_string(state.row, last, heading, look)
    state.row += 1


def _name_headings(book: Workbook, state: _Sheet, block: Block) -> None:
    """Give headings the names by which their columns are found again."""
    for at, column in enumerate(block.columns):
        if column.key in block.named:
            cell = f"${column_letters(at + 1)}${state.row}"
            name = name_of_column(state.plan.key, column.key)
            book.define_name(name, f"={quote_sheet(state.name)}!{cell}")


def _offer_choices(state: _Sheet, block: Block, first: int) -> None:
    """Let the cells of columns with choices offer their list; another word may still be typed."""
    for at, column in enumerate(block.columns):
        if column.choices:
            rule = {
                "validate": "list",
                "source": list(column.choices),
                "error_type": "warning",
                "error_title": column.label,
                "error_message": f"The words are: {', '.join(column.choices)}.",
            }
            state.pen.sheet.data_validation(first, at, state.row - 1, at, rule)


def _heading_points(block: Block, state: _Sheet) -> float:
    width = state.widths.copy()
    if block.stretched:
        width[len(block.columns) - 1] = sum(state.widths[len(block.columns) - 1 :])
    lines = max(
        lines_of(column.heading(state.pen.units), width[at] - 1)
        for at, column in enumerate(block.columns)
        if not column.hidden
    )
    return 6 + 13.5 * lines


def _places(block: Block, first: int) -> list[int]:
    """Return the sheet row of each row of the block, leaving room for the bands of its sections."""
    rows = np.arange(len(block.rows))
    starts = np.array([start for start, _ in block.sections], dtype=int)
    shift = (starts[None, :] <= rows[:, None]).sum(axis=1) if len(starts) else 0
    return [int(place) for place in rows + shift + first]


def _write_sections(state: _Sheet, block: Block) -> None:
    pen = state.pen
    for number, (start, title) in enumerate(block.sections):
        row = state.row + start + number
        band = pen.shelf.role("block")
        pen.sheet.write_string(row, 0, clean_text(title), band)
        for at in range(1, len(block.columns)):
            pen.sheet.write_blank(row, at, None, band)
        if 0 < start < len(block.rows) and len(block.rows) > _ROWS_OF_ONE_PAGE:
            state.page.breaks.append(row)


def _stretch(state: _Sheet, block: Block, places: list[int]) -> None:
    """Let the last column of a block reach to the right edge of the tab."""
    pen, last = state.pen, len(block.columns) - 1
    if len(state.widths) - 1 == last:
        return
    look = pen.shelf.role("cell_wrapped", align="left")
    for row, value in zip(places, block.rows[block.columns[last].key].tolist(), strict=True):
        text = clean_text(value)
        pen.sheet.merge_range(row, last, row, len(state.widths) - 1, "", look)
        pen.sheet.write_string(row, last, text, look)


def _row_heights(state: _Sheet, block: Block) -> np.ndarray:
    """Return heights that show wrapped texts whole, which not every program sees to; 0: usual."""
    lines = np.ones(len(block.rows), dtype=int)
    for at, column in enumerate(block.columns):
        if column.look in {"wrapped", "entry"}:
            stretched = block.stretched and at == len(block.columns) - 1
            width = sum(state.widths[at:]) if stretched else state.widths[at]
            codes, texts = pd.factorize(block.rows[column.key])
            needed = np.array([lines_of(str(text), width) for text in texts] + [1])
            lines = np.maximum(lines, needed[codes])
    return np.where(lines > 1, np.minimum(15.0 * lines, _GREATEST_POINTS), 0.0)


def _write_total(state: _Sheet, block: Block) -> None:
    assert block.total is not None  # asked by the caller
    pen = state.pen
    for at, column in enumerate(block.columns):
        value = block.total.get(column.key)
        look = pen.shelf.total(column)
        if isinstance(value, (int, float, np.integer, np.floating)) and np.isfinite(value):
            pen.sheet.write_number(state.row, at, float(value) / column.factor(pen.units), look)
        elif isinstance(value, str):
            pen.sheet.write_string(state.row, at, clean_text(value), look)
        else:
            pen.sheet.write_blank(state.row, at, None, look)
    state.row += 1


def _reserve(state: _Sheet, grid: ChartGrid) -> tuple[ChartGrid, int]:
    """Keep the rows that the charts will cover; return where they begin."""
    state.page.chart_title_row = state.row
    state.begin_section(grid.title)
    if grid.sentence:
        state.say(grid.sentence, "hint")
    first = state.row
    rows_of_chart = -(-(grid.height + _GAP) // ROW_PIXELS)
    for _ in range(0, len(grid.charts), grid.across):
        state.page.chart_rows.append(state.row)
        state.row += rows_of_chart
    state.page.chart_pixels = rows_of_chart * ROW_PIXELS
    return grid, first


def _draw(book: Workbook, state: _Sheet, grid: ChartGrid, first: int) -> None:
    step = state.pixels_shown // grid.across
    rows_of_chart = -(-(grid.height + _GAP) // ROW_PIXELS)
    for number, plan in enumerate(grid.charts):
        down, along = divmod(number, grid.across)
        options = {
            "x_offset": along * step,
            "y_offset": 4,
            "object_position": 2,
            "description": clean_text(plan.description),
        }
        chart = make_chart(book, plan, state.locate)
        chart.set_size({"width": step - _GAP, "height": grid.height})
        state.pen.sheet.insert_chart(first + down * rows_of_chart, 0, chart, options)
