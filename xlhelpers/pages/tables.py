"""Draws tables: headings, bands, rows of the height that their texts need, totals, drop-downs."""

from collections.abc import Sequence

import numpy as np
import pandas as pd
from xlsxwriter import Workbook

from xlhelpers.package.sheet.references import column_letters, quote_sheet
from xlhelpers.pages.columns import BULK_FROM, Bulk, show_looks, write_column
from xlhelpers.pages.decision_columns import name_of_column
from xlhelpers.pages.plan import DOUBTFUL, Block, Cell, Column, Table
from xlhelpers.pages.sheet import Sheet
from xlhelpers.pages.text_size import (
    column_width,
    line_points,
    lines_in,
    longest_word,
    text_pixels,
)
from xlhelpers.pages.values import clean_text

# longer blocks begin each section on a page of its own
_ROWS_OF_ONE_PAGE = 24
# a column grows for its texts by this factor at most
_GROWTH = 1.5
# of longer blocks only the headings are measured
_MEASURED_ROWS = 5000
_WRAPPED = {"wrapped", "wrapped link", "entry", "entry text"}
_HEADING_SIZE = 10.0
# pixels of one step of indentation
_INDENT = 9


def block_widths(block: Block, headings: Sequence[str]) -> list[float]:
    """Return the widths of the columns of a block, in which words and short texts fit."""
    widths = []
    for column, heading in zip(block.columns, headings, strict=True):
        width = column.width
        if not column.hidden:
            needed = longest_word(heading, _HEADING_SIZE, bold=True) if block.headed else 0.0
            if column.look in {"text", "identifier", "link"} and len(block.rows) <= _MEASURED_ROWS:
                texts = map(_text_of, pd.unique(block.rows[column.key]).tolist())
                needed = max(needed, max((text_pixels(t) for t in texts), default=0.0))
            width = max(width, min(column_width(needed), width * _GROWTH))
        widths.append(width)
    return widths


def _text_of(value: object) -> str:
    text = getattr(value, "text", value)
    return "" if text is None or text != text else str(text)


def write_block(book: Workbook, sheet: Sheet, block: Block) -> Bulk | None:
    """Write a block from the next free row on; return its rows where they are left for later."""
    plan, page, first = sheet.plan, sheet.page, sheet.row
    if block.title:
        sheet.begin_section(block.title)
    if block.sentence:
        sheet.write_text(block.sentence, "hint")
    if block.rows.empty:
        sheet.write_text(block.if_empty, "purpose")
        # headings of nothing are kept only where they hold the tab together
        if not block.named and not (plan.frozen_headings and page.heading_rows is None):
            sheet.end_piece(first)
            return None
    first_heading = sheet.row
    if block.headed:
        _write_headings(book, sheet, block)
    heading_row = sheet.row - 1
    places = _places_of_rows(block, sheet.row)
    _write_sections(sheet, block)
    start, end = (places[0], places[-1]) if places else (sheet.row, sheet.row)
    for at, column in enumerate(block.columns):
        sheet.places[block.key, column.key] = [plan.tab, start, at, end, at]
    bulk = _write_rows(sheet, block, places)
    sheet.row += len(block.rows) + len(block.sections)
    if places:
        _offer_choices(sheet, block, heading_row + 1)
        if block.filtered:
            sheet.pen.sheet.autofilter(heading_row, 0, sheet.row - 1, len(block.columns) - 1)
    if block.total is not None:
        _write_total(sheet, block)
    if page.heading_rows is None and block.headed and plan.frozen_headings:
        page.heading_rows = (first_heading, heading_row)
        sheet.pen.sheet.freeze_panes(heading_row + 1, plan.frozen_columns)
    page.splits |= set(range(heading_row + 3, sheet.row - 1))
    sheet.end_piece(first)
    return bulk


def _edge(sheet: Sheet, block: Block, at: int) -> int:
    """Return the last column that a cell of a block reaches to."""
    stretched = block.stretched and at == len(block.columns) - 1
    return max(at, len(sheet.widths) - 1) if stretched else at


def _write_headings(book: Workbook, sheet: Sheet, block: Block) -> None:
    pen, lines, before = sheet.pen, 1, None
    if any(column.band for column in block.columns):
        for at, column in enumerate(block.columns):
            band = column.band if column.band != before else ""
            pen.sheet.write_string(sheet.row, at, band, pen.shelf.role("block"))
            before = column.band
        sheet.row += 1
    for at, column in enumerate(block.columns):
        heading, last = column.heading(pen.units), _edge(sheet, block, at)
        sheet.merge(sheet.row, at, last, heading, pen.shelf.heading(column))
        if not column.hidden:
            room = sheet.pixels(at, last)
            lines = max(lines, lines_in(heading, room, _HEADING_SIZE, bold=True))
        if column.key in block.named:
            cell = f"${column_letters(at + 1)}${sheet.row + 1}"
            name = name_of_column(sheet.plan.key, column.key)
            book.define_name(name, f"={quote_sheet(sheet.plan.tab)}!{cell}")
    sheet.skip(4 + line_points(lines, _HEADING_SIZE))


def _places_of_rows(block: Block, first: int) -> list[int]:
    """Return the sheet row of each row of the block, leaving room for the bands of its sections."""
    rows = np.arange(len(block.rows))
    starts = np.array([start for start, _ in block.sections], dtype=int)
    shift = (starts[None, :] <= rows[:, None]).sum(axis=1) if len(starts) else 0
    return [int(place) for place in rows + shift + first]


def _write_sections(sheet: Sheet, block: Block) -> None:
    band, before = sheet.pen.shelf.role("block"), 0
    for number, (start, title) in enumerate(block.sections):
        row = sheet.row + start + number
        sheet.pen.sheet.write_string(row, 0, clean_text(title), band)
        for at in range(1, len(block.columns)):
            sheet.pen.sheet.write_blank(row, at, None, band)
        # the band of a section without rows stands on the page of the next one
        if before < start < len(block.rows) and len(block.rows) > _ROWS_OF_ONE_PAGE:
            sheet.page.breaks.add(row)
        before = start


def _write_rows(sheet: Sheet, block: Block, places: list[int]) -> Bulk | None:
    """Write the rows now, or return them for later where they are many."""
    pen = sheet.pen
    doubtful = np.zeros(len(block.rows), dtype=bool)
    if DOUBTFUL in block.rows:
        doubtful = block.rows[DOUBTFUL].to_numpy(bool)
    heights = _row_heights(sheet, block)
    if len(places) >= BULK_FROM and not block.stretched:
        show_looks(pen, block, places)
        sheet.page.heights |= {places[at]: heights[at] for at in np.flatnonzero(heights).tolist()}
        return Bulk(pen.sheet.index, block, places, heights, doubtful, pen.units)
    for at, column in enumerate(block.columns):
        write_column(pen, column, at, block.rows[column.key], places, doubtful)
    last = len(block.columns) - 1
    if _edge(sheet, block, last) > last:
        look = pen.shelf.role("cell_wrapped", align="left")
        for row, value in zip(places, block.rows[block.columns[last].key].tolist(), strict=True):
            sheet.merge(row, last, _edge(sheet, block, last), clean_text(value), look)
    for position in np.flatnonzero(heights).tolist():
        sheet.set_height(places[position], heights[position])
    return None


def _row_heights(sheet: Sheet, block: Block) -> np.ndarray:
    """Return heights that show wrapped texts whole, which not every program sees to; 0: usual."""
    lines = np.ones(len(block.rows), dtype=int)
    for at, column in enumerate(block.columns):
        last = _edge(sheet, block, at)
        if not column.hidden and (column.look in _WRAPPED or last > at):
            room = sheet.pixels(at, last)
            codes, texts = pd.factorize(block.rows[column.key])
            needed = np.array([lines_in(_text_of(text), room) for text in texts] + [1])
            lines = np.maximum(lines, needed[codes])
    unique, at_unique = np.unique(lines, return_inverse=True)
    points = np.array([0.0 if count == 1 else line_points(int(count)) for count in unique])
    return np.asarray(points[at_unique]) if len(lines) else np.zeros(0)


def _offer_choices(sheet: Sheet, block: Block, first: int) -> None:
    """Let cells offer the list of their column, and show its help; any word may still be typed."""
    for at, column in enumerate(block.columns):
        if column.choices:
            rule = {
                "validate": "list",
                "source": list(column.choices),
                "error_type": "warning",
                "error_title": column.label,
                "error_message": f"Choose one of these words: {', '.join(column.choices)}.",
            }
            sheet.pen.sheet.data_validation(first, at, sheet.row - 1, at, rule)
        elif column.help:
            rule = {"validate": "any", "input_title": column.label, "input_message": column.help}
            sheet.pen.sheet.data_validation(first, at, sheet.row - 1, at, rule)


def _write_total(sheet: Sheet, block: Block) -> None:
    pen, total = sheet.pen, block.total or {}
    for at, column in enumerate(block.columns):
        value, look = total.get(column.key), pen.shelf.total(column)
        if isinstance(value, (int, float, np.integer, np.floating)) and np.isfinite(value):
            pen.sheet.write_number(sheet.row, at, float(value) / column.factor(pen.units), look)
        elif isinstance(value, str):
            pen.sheet.write_string(sheet.row, at, clean_text(value), look)
        else:
            pen.sheet.write_blank(sheet.row, at, None, look)
    sheet.row += 1


def write_typed_cells(book: Workbook, sheet: Sheet) -> None:
    """Write the cells of a tab that somebody types into for the whole tab, a row each."""
    pen, plan = sheet.pen, sheet.plan
    # narrow columns: a label over two, its cell over three, and what is said behind
    for number, cell in enumerate(plan.typed):
        look = pen.shelf.cell(Column("", "", cell.look))
        sheet.merge(sheet.row, 0, 1, cell.label, pen.shelf.role("text_bold_line"))
        pen.sheet.merge_range(sheet.row, 2, sheet.row, 4, "", look)
        if isinstance(cell.value, float):
            pen.sheet.write_number(sheet.row, 2, cell.value, look)
        elif cell.value:
            pen.sheet.write_string(sheet.row, 2, clean_text(cell.value), look)
        if number == 0 and plan.beside:
            pen.sheet.write_string(sheet.row, 5, plan.beside, pen.shelf.role("hint"))
        book.define_name(cell.name, f"={quote_sheet(plan.tab)}!$C${sheet.row + 1}")
        sheet.row += 1


def write_table(sheet: Sheet, key: str, table: Table) -> None:
    """Write a table whose cells have formats of their own, from the next free row on."""
    _write_plain_headings(sheet, table)
    last = sheet.row + len(table.rows) - 1
    for at in range(len(table.headings)):
        sheet.places[key, str(at)] = [sheet.plan.tab, sheet.row, at, last, at]
    if table.small:
        sheet.page.splits |= set(range(sheet.row + 1, last + 1))
    for row in table.rows:
        look = "small" if table.small else "cell"
        _write_cells(sheet, row, "total" if table.total and sheet.row == last else look)


def _write_plain_headings(sheet: Sheet, table: Table) -> None:
    shelf, lines = sheet.pen.shelf, 1
    for at, heading in enumerate(table.headings):
        cells = (row[at] for row in table.rows)
        is_text = all(
            cell is None or (isinstance(cell.value, str) and not cell.right) for cell in cells
        )
        last = at
        while heading and last + 1 < len(table.headings) and not table.headings[last + 1]:
            last += 1
        if heading or at == 0:
            indented = is_text and at > 0
            look = shelf.role("heading_text" if is_text else "heading", indented=indented)
            sheet.merge(sheet.row, at, last, clean_text(heading), look)
            room = sheet.pixels(at, last) - _INDENT * indented
            lines = max(lines, lines_in(heading, room, _HEADING_SIZE, bold=True))
    sheet.skip(4 + line_points(lines, _HEADING_SIZE))


def _write_cells(sheet: Sheet, row: Sequence[Cell | None], look: str) -> None:
    shelf, lines = sheet.pen.shelf, 1
    for at, cell in enumerate(row):
        if cell is None:
            continue
        if not isinstance(cell.value, str):
            shape = shelf.role(look, cell.number, "right")
            sheet.pen.sheet.write_number(sheet.row, at, cell.value, shape)
            continue
        last = at
        while last + 1 < len(row) and row[last + 1] is None:
            last += 1
        words = f"{look}_words"
        # a text behind a number must not touch it
        indented = at > 0 and not cell.right
        shape = shelf.role(words, align="right" if cell.right else "left", indented=indented)
        sheet.merge(sheet.row, at, last, clean_text(cell.value), shape)
        room, bold = sheet.pixels(at, last) - _INDENT * indented, shelf.is_bold(words)
        lines = max(lines, lines_in(cell.value, room, shelf.size(words), bold=bold))
    size = shelf.size(f"{look}_words")
    sheet.skip(max(18.0, line_points(lines, size) + 2))
