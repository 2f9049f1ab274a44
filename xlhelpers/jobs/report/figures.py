"""A small table of estimates with its chart: figures, both ends, trees behind them, verdicts."""

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pandas as pd

from xlhelpers.jobs.report import words
from xlhelpers.jobs.report.facts import Facts, is_even
from xlhelpers.jobs.report.numbers import (
    cell_format,
    in_cell,
    percent,
    unit_in_heading,
    write_ends,
)
from xlhelpers.jobs.report.verdicts import HEADING, verdict, weaker
from xlhelpers.jobs.report.verdicts import in_cell as in_cell_words
from xlhelpers.pages.plan import BarLook, Cell, ChartPlan, Series, Span, Table, bars

NO_BREAK = "\N{NO-BREAK SPACE}"
MEASURED, DOUBTFUL = "Trees measured", "Doubtful"
# a bar whose margin is more than so many times its length shows nothing
_MOST_MARGIN = 2.0
_MOST_NAMED = 5
_AXIS_ENDS = (1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)


class Figures(NamedTuple):
    """A table, its chart, and a sentence that names the rows that the chart leaves out."""

    table: Table | None = None
    chart: ChartPlan | None = None
    note: str = ""


def _has_bar(facts: Facts, row: pd.Series) -> bool:
    if not words.is_worth_showing(facts, row):
        return False
    return not facts.has_margins or bool(row["margin"] <= _MOST_MARGIN * row["value"])


def figures(
    facts: Facts,
    frames: Sequence[pd.DataFrame],
    headings: tuple[str, ...],
    *,
    title: str,
    total: tuple[str, Sequence[pd.Series]] | None = None,
    judges_first: bool = False,
) -> Figures:
    """Return the table of one or two figures a row, its chart, and what the chart leaves out.

    Parameters
    ----------
    facts : Facts
        What the report is made from.
    frames : sequence of DataFrame
        Rows of the estimates, a frame a figure; all frames have the same rows.
    headings : tuple of str
        Of the first column, and of each figure.
    title : str
        Of the chart.
    total : tuple, optional
        Label and rows of the last line.
    judges_first : bool
        Whether the verdict is that of the first figure, and not the weakest of a row.
    """
    rows = [[frame.iloc[at] for frame in frames] for at in range(len(frames[0]))]
    has_bar = [all(_has_bar(facts, row) for row in values) for values in rows]
    charted = [values for values, has in zip(rows, has_bar, strict=True) if has]
    listed = [(str(values[0]["domain"]), values) for values in rows]
    if total is not None:
        listed.append((total[0], list(total[1])))
    if not any(words.is_worth_showing(facts, row) for _, values in listed for row in values):
        return Figures()
    body = [
        (Cell(name), *_cells_of_row(facts, values, 1 if judges_first else len(frames)))
        for name, values in listed
    ]
    table = Table(
        _headings(facts, listed[0][1], headings),
        tuple(body),
        total=total is not None and len(body) > 1,
    )
    if len(charted) * len(frames) < 2:
        return Figures(table)
    is_in_order = all(has_bar[: len(charted)])
    series, data = _series(facts, charted, headings[1:], arms_key(title), from_table=is_in_order)
    chart = _chart(facts, title, table, series, charted, data)
    missing = [name for (name, _), has in zip(listed, has_bar, strict=False) if not has]
    return Figures(table, chart, _not_charted(facts, missing))


def _headings(facts: Facts, values: Sequence[pd.Series], names: tuple[str, ...]) -> tuple[str, ...]:
    unit = unit_in_heading(values[0]["unit_quantity"], facts.units)
    columns = [names[0]]
    for row, name in zip(values, names[1:], strict=True):
        columns.append(f"{name} ({unit})" if unit else name)
        columns += [margin_heading(facts, even=is_even(row))] if facts.has_margins else []
    columns += [MEASURED, DOUBTFUL] if len(values) == 1 else []
    return (*columns, *([HEADING] if facts.mode != "measured" else []))


def _cells_of_row(
    facts: Facts, values: Sequence[pd.Series], judged: int
) -> tuple[Cell | None, ...]:
    """Return the cells behind the name: figures, trees behind one, verdict of the first."""
    cells = [cell for row in values for cell in _value_cells(facts, row)]
    if len(values) == 1:
        cells += [Cell(float(values[0]["trees"]), "#,##0"), _doubt_cell(values[0])]
    if facts.mode != "measured":
        rows = [row for row in values[:judged] if words.is_worth_showing(facts, row)]
        cells.append(Cell(in_cell_words(weaker([verdict(facts, row) for row in rows]))))
    return tuple(cells)


def _series(
    facts: Facts,
    charted: Sequence[Sequence[pd.Series]],
    names: tuple[str, ...],
    key: str,
    *,
    from_table: bool,
) -> tuple[tuple[Series, ...], Table | None]:
    """Return the series of a chart, and the hidden table with what the shown one does not hold.

    Where the rows with bars are not the first ones of the table, all of it is in the hidden one.
    """
    looks: tuple[BarLook, ...] = ("crown", "height only") if len(names) > 1 else ("plain",)
    count, series = len(charted), []
    hidden: list[tuple[str, list[float | str]]] = []

    def hide(heading: str, cells: list[float | str]) -> Span:
        hidden.append((heading, cells))
        return Span(key, str(len(hidden) - 1), 0, count)

    named = Span("", "0", 0, count)
    if not from_table:
        named = hide("Name", [str(values[0]["domain"]) for values in charted])
    for which, (name, look) in enumerate(zip(names, looks, strict=True)):
        rows = [values[which] for values in charted]
        at = 1 + which * (2 if facts.has_margins else 1)
        one = bars(name, count, at, None, look)
        if not from_table:
            bar_values = [in_cell(row["value"], row["unit_quantity"], facts.units) for row in rows]
            one = replace(one, categories=named, values=hide(name, [*bar_values]))
        if facts.has_margins and is_even(rows[0]) and from_table:
            one = replace(one, spread=Span("", str(at + 1), 0, count))
        elif facts.has_margins:
            down, up = _arms(facts, rows)
            arms = (hide("To the lower end", [*down]), hide("To the upper end", [*up]))
            one = replace(one, arms=arms)
        series.append(one)
    if not hidden:
        return tuple(series), None
    body = zip(*(cells for _, cells in hidden), strict=True)
    rows_of_cells = tuple(tuple(Cell(value) for value in row) for row in body)
    return tuple(series), Table(tuple(heading for heading, _ in hidden), rows_of_cells)


def _not_charted(facts: Facts, names: Sequence[str]) -> str:
    """Return which rows of the table have no bar and why, "" where all have one."""
    if not names:
        return ""
    why = "the margin is too wide or not known" if facts.has_margins else "there is no figure"
    more = f"; and {len(names) - _MOST_NAMED} more" if len(names) > _MOST_NAMED else ""
    return f"Not in the chart, because {why}: {'; '.join(names[:_MOST_NAMED])}{more}."


def say_left_out(count: int) -> str:
    """Return ", 3 left out", "" for none."""
    return f", {count:,} left out" if count else ""


def _doubt_cell(row: pd.Series) -> Cell:
    """Return how many values are in doubt, and how many are left out where any are."""
    doubtful, left_out = int(row["open_trees"]), int(row["left_out"])
    if left_out:
        return Cell(f"{doubtful:,}{say_left_out(left_out)}", right=True)
    return Cell(float(doubtful), "#,##0")


def _value_cells(facts: Facts, row: pd.Series) -> tuple[Cell | None, ...]:
    """Return the cells of a value and, with sampling, its margin; words where there is none."""
    quantity, number = row["unit_quantity"], cell_format(row["unit_quantity"], facts.units)
    if not words.is_worth_showing(facts, row):
        text = Cell(words.short_reason(row))
        return (text, None) if facts.has_margins else (text,)
    value = Cell(in_cell(row["value"], quantity, facts.units), number)
    if not facts.has_margins:
        return (value,)
    if not np.isfinite(row["margin"]):
        return (value, Cell("not known" if row["value"] > 0 else "none found", right=True))
    if not is_even(row):
        ends = write_ends(float(row["low"]), float(row["high"]), quantity, facts.units)
        return (value, Cell(ends, right=True))
    return (value, Cell(in_cell(row["margin"], quantity, facts.units), number))


def _arms(facts: Facts, rows: Sequence[pd.Series]) -> tuple[list[float], list[float]]:
    """Return how far the lower and the upper ends are from the figures, as shown in cells."""
    if is_even(rows[0]):
        both = [in_cell(row["margin"], row["unit_quantity"], facts.units) for row in rows]
        return both, both
    down, up = (
        [
            in_cell(abs(float(row[end]) - float(row["value"])), row["unit_quantity"], facts.units)
            for row in rows
        ]
        for end in ("low", "high")
    )
    return down, up


def margin_heading(facts: Facts, *, even: bool) -> str:
    """Return the heading of a margin, or of both ends where they are not equally far away."""
    sure = percent(facts.confidence).replace(" ", NO_BREAK)
    return f"Give or{NO_BREAK}take ({sure})" if even else f"From{NO_BREAK}… to ({sure})"


def _chart(
    facts: Facts,
    title: str,
    table: Table,
    series: tuple[Series, ...],
    charted: Sequence[Sequence[pd.Series]],
    data: Table | None,
) -> ChartPlan:
    """Return the chart of the rows with bars."""
    quantity, count = charted[0][0]["unit_quantity"], len(charted)
    margins = " Thin lines show the margins." if facts.has_margins else ""
    what = " and ".join(one.name.lower() for one in series)
    axis = table.headings[1]
    if len(series) > 1:
        axis = "% of the land" if quantity == "percent" else unit_in_heading(quantity, facts.units)
    return ChartPlan(
        "",
        "bars",
        title,
        f"Bars: {what} by {table.headings[0].lower() or 'town'}. The figures are in the table "
        f"above.{margins}",
        "",
        axis,
        series,
        cell_format(quantity, facts.units).replace(".0", ""),
        _axis_end(facts, charted),
        height=min(120 + 30 * count * len(series), 370),
        data=data,
    )


def arms_key(title: str) -> str:
    """Return the key of the table with the lengths of the error bars of a chart."""
    return f"arms {title}"


def _axis_end(facts: Facts, charted: Sequence[Sequence[pd.Series]]) -> float:
    """Return the end of the axis, so that no margin is cut off: 1, 2, 2.5 or 5 times a power."""
    longest = 0.0
    for row in (row for values in charted for row in values):
        end = float(row["value"])
        if facts.has_margins:
            end = end + float(row["margin"]) if is_even(row) else float(row["high"])
        longest = max(longest, in_cell(end, row["unit_quantity"], facts.units))
    if longest <= 0:
        return 1.0
    power = 10.0 ** math.floor(math.log10(longest))
    return power * min(step for step in _AXIS_ENDS if step * power >= longest * (1 - 1e-9))
