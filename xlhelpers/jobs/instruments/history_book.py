"""The history of the instruments as a workbook: checks, errors by date with a chart, what to do."""

from itertools import pairwise

import pandas as pd

from xlhelpers.fields.quantities import Units
from xlhelpers.pages.looks import DATE_FORMAT
from xlhelpers.pages.plan import (
    Block,
    ChartGrid,
    ChartPlan,
    Column,
    Part,
    PointLook,
    Series,
    Span,
    TabPlan,
)
from xlhelpers.pages.render import render_book
from xlhelpers.pages.values import clean_text, natural_order
from xlhelpers.survey.instrument_history import CANNOT_TELL, Spell

_DAY_ZERO = pd.Timestamp(1899, 12, 30)
_MARKS: tuple[PointLook, ...] = (
    "circle",
    "square",
    "triangle",
    "diamond",
    "x",
    "plus",
    "star",
)
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
    errors = _number_days(history[history["error"].notna() & (history["verdict"] != CANNOT_TELL)])
    tabs = (
        _tab("Checks", "checks", _CHECKS, _number_days(history), _SENTENCE),
        _tab(
            "Errors by date", "errors", _ERRORS, errors, "Only checks that could tell. " + _SENTENCE
        ),
        _tab("Lines touched", "lines", _LINES, _number_days(_all_lines(touched)), _WHEN),
    )
    return render_book(tabs, units, title="Instruments")


def _tab(
    name: str, key: str, columns: tuple[Column, ...], rows: pd.DataFrame, sentence: str
) -> TabPlan:
    parts: tuple[Part, ...] = (Block(key, columns, rows),)
    if key == "errors" and len(rows):
        # below the table: beside it both would print at half their size
        parts += (ChartGrid((_chart(rows),), across=1, height=440),)
    return TabPlan("", name, sentence, parts, name=name)


def _number_days(rows: pd.DataFrame) -> pd.DataFrame:
    """Return the rows with dates as the numbers of days that a workbook counts in."""
    return rows.assign(date=(pd.to_datetime(rows["date"]) - _DAY_ZERO) / pd.Timedelta(days=1))


def _all_lines(touched: list[tuple[Spell, pd.DataFrame]]) -> pd.DataFrame:
    parts = [lines.assign(instrument=spell.instrument) for spell, lines in touched]
    if not parts:
        return pd.DataFrame({column.key: [] for column in _LINES})
    whole = pd.concat(parts, ignore_index=True)
    return whole.iloc[natural_order(*(whole[c].tolist() for c in ("instrument", "plot", "tree")))]


def _chart(errors: pd.DataFrame) -> ChartPlan:
    """Return the errors by date, one series an instrument, with their standard uncertainties."""
    names = errors["instrument"].to_numpy()
    starts = [i for i in range(len(names)) if i == 0 or names[i] != names[i - 1]]
    series = []
    for number, (start, end) in enumerate(pairwise([*starts, len(names)])):
        date, error, u_error = (
            Span("errors", key, start, end - start) for key in ("date", "error", "u_error")
        )
        name = clean_text(names[start]).lstrip("=")
        series.append(Series(name, date, error, _MARKS[number % len(_MARKS)], u_error))
    return ChartPlan(
        "xlh_chart_errors_by_date",
        "points",
        "Error by date",
        "Error of each instrument by the date of its check, with its uncertainty.",
        "Date",
        "Error (°), + reads too high",
        tuple(series),
        "0.0",
        category_format=DATE_FORMAT,
    )
