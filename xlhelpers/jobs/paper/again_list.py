"""The list for the crew: each tree to measure again, where it is, and boxes to write into."""

from collections.abc import Sequence
from dataclasses import replace
from functools import partial

import numpy as np
import pandas as pd
from xlsxwriter import Workbook

from xlhelpers.errors import WorkbookError
from xlhelpers.fields.cautions import SHORT_CAUTIONS
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.jobs.paper.field_page import Sizes
from xlhelpers.pages.paper_page import (
    ROW,
    Box,
    Line,
    Page,
    Shelf,
    height_of_text,
    points_down,
    shared_out,
    text_line,
    units_across,
    write_pages,
)
from xlhelpers.pages.values import natural_order
from xlhelpers.survey.measure_again import measure_again
from xlhelpers.survey.outcome import Outcome

TAB = "Measure again"
_WIDTHS = {
    "Plot": 8,
    "Tree": 6,
    "Set-up": 5,
    "Species": 20,
    "Where it is": 20,
    "Stand back at least": 11,
    "Code": 9,
}
_STRETCHED = "Where it is"
_HINT = (
    "Measure the distance and all readings again, from a new place if you can. Write them here. "
    "The office enters them as another set-up, or in place of the wrong line, and fills again. No "
    "safe place to stand? Mark NOT SAFE. The office finds the code on the tab To check."
)


def write_again_list(book: Workbook, shelf: Shelf, outcome: Outcome, sizes: Sizes) -> None:
    """Write the list on a tab of a book.

    Raises
    ------
    WorkbookError
        There is nothing to measure again.
    """
    rows = measure_again(outcome)
    if rows.empty:
        raise WorkbookError("There is nothing to measure again, so there is no list to print.")
    rows = rows.iloc[natural_order(rows["plot"].tolist(), rows["tree"].tolist())]
    across = units_across(sizes.paper, landscape=True)
    entries = [_entry(row, across, sizes.units) for _, row in rows.iterrows()]
    pages = _paginate(entries, sizes, across)
    write_pages(book.add_worksheet(TAB), pages, sizes.paper, shelf, landscape=True)


def _paginate(entries: Sequence[Page], sizes: Sizes, across: int) -> list[Page]:
    """Share the entries out over pages; none is cut."""
    frame = _frame(across, 1, 1, len(entries))
    room = points_down(sizes.paper, landscape=True) - sum(line.height for line in frame)
    shared: list[list[Line]] = []
    left = 0.0
    for entry in entries:
        needed = sum(line.height for line in entry)
        if not shared or needed > left:
            shared.append([])
            left = room
        shared[-1] += entry
        left -= needed
    return [
        (*frame_top, *lines, frame_foot)
        for number, lines in enumerate(shared, start=1)
        for *frame_top, frame_foot in [_frame(across, number, len(shared), len(entries))]
    ]


def _frame(across: int, page: int, pages: int, count: int) -> Page:
    title = f"Measure again: {count} " + ("entry" if count == 1 else "entries")
    head = (
        Box(across - 34, title, look="title"),
        Box(24, "Date, crew"),
        Box(10, "Page", f"{page} of {pages}"),
    )
    headings = tuple(
        Box(width, label, look="heading")
        for label, width in zip(_WIDTHS, _widths(across), strict=True)
    )
    return (
        Line(ROW * 1.2, head),
        text_line(_HINT, across, "hint"),
        Line(ROW, headings),
        text_line(SHORT_CAUTIONS, across, "caution"),
    )


def _widths(across: int) -> tuple[int, ...]:
    return shared_out(list(_WIDTHS.values()), across, list(_WIDTHS).index(_STRETCHED))


def _entry(row: pd.Series, across: int, units: Units) -> Page:
    texts = (
        str(row["plot"]),
        str(row["tree"]),
        str(row["setup"]),
        str(row["species"] or row["about"]),
        str(row["place"]),
        _away(float(row["stand_away"]), units),
        str(row["id"]),
    )
    widths = _widths(across)
    needed = max(height_of_text(text, width, 11) for width, text in zip(widths, texts, strict=True))
    boxes = map(partial(Box, look="strong_wrapped"), widths, texts)
    message = text_line(f"Measure {row['points']}. {row['found']}", across, "box_wrapped")
    return Line(max(ROW, needed), tuple(boxes)), message, _writing_line(across)


def _away(metres: float, units: Units) -> str:
    if not np.isfinite(metres):
        return ""
    length = QUANTITIES["length"]
    return f"{np.ceil(metres / length.factor(units) - 1e-9):.0f} {length.unit(units)}"


def _writing_line(across: int) -> Line:
    names = ("distance", "foot_reading", "base_reading", "top_reading", "tip_reading")
    labels = [FIELD_SHEET[name].label.removesuffix(" reading") for name in names]
    labels[1] += " −        ☐+"
    boxes = [Box(7, "Scale", look="box"), *(Box(11, label) for label in labels)]
    boxes.append(Box(7, "", "☐ done", value_look="small_ticks"))
    boxes.append(Box(10, "", "☐ NOT SAFE", value_look="small_ticks"))
    boxes.append(Box(6, "Initials"))
    widths = shared_out([box.width for box in boxes], across, 1)
    sized = (replace(box, width=width) for box, width in zip(boxes, widths, strict=True))
    return Line(ROW * 1.1, tuple(sized))
