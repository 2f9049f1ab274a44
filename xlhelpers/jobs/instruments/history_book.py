"""The history of the instruments as a workbook: checks, errors by date with a chart, what to do."""

import io
from datetime import datetime

import numpy as np
import pandas as pd
from xlsxwriter import Workbook
from xlsxwriter.worksheet import Worksheet

from xlhelpers.fields.quantities import Units
from xlhelpers.pages.columns import Pen, write_column
from xlhelpers.pages.looks import INK, LINE, FormatShelf
from xlhelpers.pages.paper_page import SIZES
from xlhelpers.pages.plan import Column
from xlhelpers.pages.values import clean_text, natural_order
from xlhelpers.survey.instrument_history import CANNOT_TELL, Spell

_FIXED_DAY = datetime(2000, 1, 1)
_DAY_ZERO = pd.Timestamp(1899, 12, 30)
_FIRST_ROW = 4
_ROWS_ABOVE_A_CHART = 5  # with more, the chart has a page of its own
_OPTIONS = {"in_memory": True, "strings_to_urls": False, "strings_to_formulas": False}
_SENTENCE = "An error of + reads too high. Nothing was corrected."
_CHECKS = (
    Column("instrument", "Instrument", "identifier", width=16),
    Column("date", "Date", "date", width=12),
    Column("person", "By", "identifier", width=8),
    Column("scale", "Scale read", "text", width=15),
    Column("way", "Kind of check", "text", width=21),
    Column("error", "Error", quantity="angle", width=10),
    Column("u_error", "± of the error", quantity="angle", width=12),
    Column("read_height", "Height read", quantity="length", width=11, more_decimals=1),
    Column("known_height", "Known height", quantity="length", width=11, more_decimals=1),
    Column("verdict", "Found", "text", width=14),
    Column("row", "Row of the sheet", "number", width=9),
)
_ERRORS = tuple(
    column for column in _CHECKS if column.key in {"instrument", "date", "error", "u_error", "way"}
)
_LINES = (
    Column("instrument", "Instrument", "identifier", width=16),
    Column("plot", "Plot", "identifier", width=10),
    Column("tree", "Tree", "identifier", width=8),
    Column("setup", "Set-up", quantity="count", width=8),
    Column("date", "Date", "date", width=12),
    Column("when", "When", "text", width=14),
    Column("total_height", "Total height", quantity="length", width=11),
    Column("corrected", "Corrected, proposed", quantity="length", width=12),
)
_WHEN = (
    "between: from the last check in order to the first out of order.\n"
    "after: until it was in order again. undated: the plot has no date."
)


def history_book(
    history: pd.DataFrame, touched: list[tuple[Spell, pd.DataFrame]], units: Units
) -> bytes:
    """Return the workbook: all checks, the errors by date with a chart, the lines touched.

    Parameters
    ----------
    history : DataFrame
        As `check_history` gives it.
    touched : list of tuple
        Each spell with its lines, as `touched_lines` gives them.
    units : {"metric", "us"}
        The units shown.
    """
    target = io.BytesIO()
    with Workbook(target, _OPTIONS) as book:
        book.set_properties({"title": "Instruments", "author": "xlhelpers", "created": _FIXED_DAY})
        shelf = FormatShelf(book, units)
        _write_table(_pen(book, "Checks", shelf, units), _CHECKS, _dated(history), _SENTENCE)
        errors = history[history["error"].notna() & (history["verdict"] != CANNOT_TELL)]
        pen = _pen(book, "Errors by date", shelf, units)
        _write_table(pen, _ERRORS, _dated(errors), "Only checks that could tell. " + _SENTENCE)
        if not errors.empty:
            _draw(book, pen.sheet, errors)
        lines = _dated(_all_lines(touched))
        _write_table(_pen(book, "Lines touched", shelf, units), _LINES, lines, _WHEN)
    return target.getvalue()


def _pen(book: Workbook, tab: str, shelf: FormatShelf, units: Units) -> Pen:
    sheet = book.add_worksheet(tab)
    sheet.hide_gridlines(2)
    sheet.set_landscape()
    sheet.set_paper(SIZES["a4" if units == "metric" else "letter"].number)
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(_FIRST_ROW - 1)
    sheet.freeze_panes(_FIRST_ROW, 0)
    sheet.set_footer("&L&A&CPage &P of &N")
    return Pen(sheet, shelf, units)


def _write_table(pen: Pen, columns: tuple[Column, ...], rows: pd.DataFrame, sentence: str) -> None:
    pen.sheet.write_string(0, 0, pen.sheet.get_name(), pen.shelf.role("title"))
    said = sentence if len(rows) else "Nothing to show."
    for place, line in enumerate(said.split("\n"), start=1):
        pen.sheet.write_string(place, 0, line, pen.shelf.role("purpose"))
    pen.sheet.set_row(_FIRST_ROW - 1, 30)
    places = range(_FIRST_ROW, _FIRST_ROW + len(rows))
    plain = np.zeros(len(rows), dtype=bool)
    for at, column in enumerate(columns):
        pen.sheet.set_column(at, at, column.width)
        heading = column.heading(pen.units)
        pen.sheet.write_string(_FIRST_ROW - 1, at, heading, pen.shelf.heading(column))
        write_column(pen, column, at, rows[column.key], places, plain)


def _dated(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the rows with dates as the numbers of days that a workbook counts in."""
    return rows.assign(date=(pd.to_datetime(rows["date"]) - _DAY_ZERO) / pd.Timedelta(days=1))


def _all_lines(touched: list[tuple[Spell, pd.DataFrame]]) -> pd.DataFrame:
    parts = [lines.assign(instrument=spell.instrument) for spell, lines in touched]
    if not parts:
        return pd.DataFrame({column.key: [] for column in _LINES})
    whole = pd.concat(parts, ignore_index=True)
    return whole.iloc[natural_order(*(whole[c].tolist() for c in ("instrument", "plot", "tree")))]


def _draw(book: Workbook, sheet: Worksheet, errors: pd.DataFrame) -> None:
    """Draw the errors by date, one series an instrument, with their standard uncertainties."""
    chart = book.add_chart({"type": "scatter"})
    at = {column.key: place for place, column in enumerate(_ERRORS)}
    names = errors["instrument"].to_numpy()
    starts = [i for i in range(len(names)) if i == 0 or names[i] != names[i - 1]]
    marks = ("circle", "square", "triangle", "diamond", "x", "plus", "star")
    for number, (start, end) in enumerate(zip(starts, [*starts[1:], len(names)], strict=True)):
        cells = {
            key: [sheet.get_name(), _FIRST_ROW + start, at[key], _FIRST_ROW + end - 1, at[key]]
            for key in ("date", "error")
        }
        letter = chr(ord("A") + at["u_error"])
        spread = (
            f"='{sheet.get_name()}'!${letter}${_FIRST_ROW + start + 1}:${letter}${_FIRST_ROW + end}"
        )
        chart.add_series(
            {
                "name": clean_text(names[start]).lstrip("="),
                "categories": cells["date"],
                "values": cells["error"],
                "marker": {
                    "type": marks[number % len(marks)],
                    "size": 8,
                    "border": {"color": INK},
                    "fill": {"color": "#8FA9B2"},
                },
                "y_error_bars": {
                    "type": "custom",
                    "plus_values": spread,
                    "minus_values": spread,
                    "line": {"color": INK},
                },
            }
        )
    _finish(chart)
    description = "Error of each instrument by the date of its check, with its uncertainty."
    # below the table: beside it both would print at half their size
    below = _FIRST_ROW + len(errors) + 1
    if len(errors) > _ROWS_ABOVE_A_CHART:
        sheet.set_h_pagebreaks([below])
    sheet.insert_chart(below, 0, chart, {"description": description, "y_offset": 6})


def _finish(chart: object) -> None:
    grid = {"visible": True, "line": {"color": LINE, "width": 0.5}}
    chart.set_title({"name": "Error by date", "name_font": {"size": 12, "color": INK}})  # type: ignore[attr-defined]
    chart.set_x_axis(  # type: ignore[attr-defined]
        {
            "name": "Date",
            "num_format": "yyyy-mm-dd",
            "label_position": "low",
            "num_font": {"rotation": -45},
        }
    )
    chart.set_y_axis(  # type: ignore[attr-defined]
        {"name": "Error (°), + reads too high", "major_gridlines": grid, "num_format": "0.0"}
    )
    chart.set_legend({"position": "bottom"})  # type: ignore[attr-defined]
    chart.set_size({"width": 900, "height": 440})  # type: ignore[attr-defined]
