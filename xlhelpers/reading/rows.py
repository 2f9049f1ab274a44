"""Which rows of a keyed sheet hold data: from below the headings to the last keyed cell."""

from __future__ import annotations

import re
from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from xlhelpers.package.sheet.cell_text import is_filled
from xlhelpers.package.sheet.grid import Grid
from xlhelpers.package.sheet.references import area_name
from xlhelpers.reading.findings import as_typed, first_few, make_finding
from xlhelpers.reading.locate import Place, heading_key
from xlhelpers.survey.model import Finding
from xlhelpers.survey.typed.words import fold_word, identifier_key, tidy

Bools = NDArray[np.bool_]
# the fields that name a row; a row without any of them may be a total
KEYS: dict[str, tuple[str, ...]] = {
    "line": ("plot", "tree"),
    "plot": ("plot",),
    "stratum": ("stratum",),
    "person": ("initials",),
    "instrument": ("instrument",),
    "check": ("instrument",),
    "species": ("botanical",),
}
_TOTAL = re.compile(
    r"(?:grand |sub-?)?totals?\b.*"
    r"|(?:sum|mean|average|median|count|minimum|maximum|min|max)"
    r"(?:\s*[:=].*| (?:of|all|trees|lines)\b.*)?"
)


@dataclass(frozen=True)
class DataRows:
    """The rows of data (counted from 1, top down) and the notes about rows skipped or hidden."""

    rows: NDArray[np.int64]
    findings: tuple[Finding, ...]


def keyed_columns(place: Place) -> list[int]:
    """Return the columns of the fields that people key, in the order of the record."""
    return [
        column
        for name, column in place.columns.items()
        if place.record[name].kind != "computed" and column <= place.grid.shape[1]
    ]


def cells_in(
    rows_of: Mapping[int, ArrayLike], shape: tuple[int, int], first_row: int
) -> Bools | None:
    """Return a mask, from `first_row` down, of cells given as rows by column; None for no cell."""
    mask = None
    for column, listed in rows_of.items():
        rows = np.asarray(listed, dtype=np.int64)
        rows = rows[(rows >= first_row) & (rows <= shape[0])]
        if len(rows) and column <= shape[1]:
            if mask is None:
                mask = np.zeros((shape[0] - first_row + 1, shape[1]), dtype=bool)
            mask[rows - first_row, column - 1] = True
    return mask


def find_rows(place: Place, plots: Collection[str] = ()) -> DataRows:
    """Return the rows of data of a sheet: every row with a keyed cell, blank rows skipped.

    Rows below the prepared ones and hidden rows count; a total row of the user's does not, nor
    does a row of the field sheet with nothing but its plot cell.

    Parameters
    ----------
    place
        Where the sheet stands.
    plots
        The plots that are known, in the form in which identifiers are compared.
    """
    grid, first = place.grid, place.heading_row + 1
    columns = keyed_columns(place)
    if first > grid.shape[0] or not columns:
        return DataRows(np.empty(0, dtype=np.int64), ())
    index = np.array(columns) - 1
    filled = is_filled(grid.values[first - 1 :, index])
    uncalculated = cells_in(grid.uncalculated.rows_of, grid.shape, first)
    if uncalculated is not None:
        filled |= uncalculated[:, index]
    used: Bools = np.array(filled.any(axis=1), dtype=bool)
    total, lone = np.zeros_like(used), np.zeros_like(used)
    for offset in np.flatnonzero(used & (_without_name(place, first) | _odd(place, filled, plots))):
        row = first + int(offset)
        cells = [columns[i] for i in np.flatnonzero(filled[offset])]
        if all(
            _is_blank(grid.value(row, column)) and (row, column) not in grid.uncalculated
            for column in cells
        ):
            used[offset] = False
        elif _is_total(grid, row, cells, place):
            total[offset] = True
        elif _holds_only_plot(grid, row, cells, place):
            lone[offset] = True
    repeated = used & _repeats_headings(place, first)
    rows = np.flatnonzero(used & ~total & ~lone & ~repeated) + first
    findings = [_report_skipped("total-row", place, int(n) + first) for n in np.flatnonzero(total)]
    findings += [
        _report_skipped("heading-repeated", place, int(n) + first) for n in np.flatnonzero(repeated)
    ]
    findings += _report_only_plot(place, (np.flatnonzero(lone) + first).tolist())
    return DataRows(rows, (*findings, *_report_hidden(place, rows)))


def _is_blank(value: object) -> bool:
    return value is None or (isinstance(value, str) and not tidy(value))


_blanks = np.frompyfunc(_is_blank, 1, 1)


def _key_columns(place: Place) -> list[int]:
    return [
        place.columns[name]
        for name in KEYS[place.record.key]
        if place.columns.get(name, place.grid.shape[1] + 1) <= place.grid.shape[1]
    ]


def _without_name(place: Place, first: int) -> Bools:
    """Return which rows lack every name, or have a word for a total instead of the first one."""
    keys = _key_columns(place)
    lacking = np.ones(place.grid.shape[0] - first + 1, dtype=bool)
    for number, column in enumerate(keys):
        cells = place.grid.values[first - 1 :, column - 1]
        blank: Bools = np.array(_blanks(cells), dtype=np.bool_)
        if number == 0:
            for offset in _texts(cells):
                blank[offset] |= bool(_TOTAL.fullmatch(fold_word(cells[offset])))
        lacking &= blank
    return lacking


def _texts(cells: NDArray[np.object_]) -> NDArray[np.intp]:
    """Return the positions of texts that begin like a word for a total."""
    starts = np.frompyfunc(
        lambda value: isinstance(value, str) and value.lstrip()[:1].casefold() in tuple("gstmac"),
        1,
        1,
    )
    return np.flatnonzero(np.asarray(starts(cells), dtype=bool))


def _is_total(grid: Grid, row: int, cells: list[int], place: Place) -> bool:
    if _is_plot_with_status(grid, row, place):
        return False
    texts = (value for value in grid.values[row - 1] if isinstance(value, str) and tidy(value))
    first = next(texts, None)
    if first is not None and _TOTAL.fullmatch(fold_word(first)):
        return True
    plot = place.columns.get("plot") if place.record.key == "line" else None
    if isinstance(grid.value(row, plot or 0), str) and (row, plot) not in grid.formulas:
        cells = [column for column in cells if column != plot]
    return bool(cells) and all((row, column) in grid.formulas for column in cells)


def _is_plot_with_status(grid: Grid, row: int, place: Place) -> bool:
    """Whether a row of the plots sheet has a name and a status that somebody typed."""
    if place.record.key != "plot":
        return False
    plot, status = (place.columns.get(name, 0) for name in ("plot", "status"))
    typed = isinstance(grid.value(row, status), str) and (row, status) not in grid.formulas
    return typed and not _is_blank(grid.value(row, plot))


def _odd(place: Place, filled: Bools, plots: Collection[str]) -> Bools:
    """Return which rows of the field sheet may be no lines, though their plot cell is filled."""
    # Nothing else is filled; or a text names no known plot, and no species stands in the row.
    odd = np.zeros(len(filled), dtype=bool)
    plot = place.columns.get("plot", 0)
    columns = keyed_columns(place)
    if place.record.key != "line" or plot not in columns:
        return odd
    odd |= filled[:, columns.index(plot)] & (filled.sum(axis=1) == 1)
    first = place.heading_row
    unknown = _unknown_texts(place.grid.values[first:, plot - 1], plots)
    species = place.columns.get("species")
    if species in columns:
        unknown &= ~filled[:, columns.index(species)]
    return odd | unknown


def _unknown_texts(cells: NDArray[np.object_], plots: Collection[str]) -> Bools:
    """Return which cells hold a text that names no known plot; each text is looked at once."""
    is_text = np.fromiter((type(cell) is str for cell in cells), dtype=bool, count=len(cells))
    unknown = np.zeros(len(cells), dtype=bool)
    codes, different = pd.factorize(cells[is_text])
    new = [bool(tidy(text)) and identifier_key(text) not in plots for text in different]
    unknown[is_text] = np.array(new, dtype=bool)[codes] if len(codes) else False
    return unknown


def _holds_only_plot(grid: Grid, row: int, cells: list[int], place: Place) -> bool:
    if place.record.key != "line":
        return False
    return [c for c in cells if not _is_blank(grid.value(row, c))] == [place.columns.get("plot")]


def _repeats_headings(place: Place, first: int) -> Bools:
    repeated = np.ones(place.grid.shape[0] - first + 1, dtype=bool)
    keys = _key_columns(place)
    for column in keys:
        heading = place.grid.value(place.heading_row, column)
        cells = place.grid.values[first - 1 :, column - 1]
        repeated &= np.asarray(cells == heading, dtype=bool) & bool(heading_key(heading))
    return repeated if len(keys) == len(KEYS[place.record.key]) else np.zeros_like(repeated)


def _report_skipped(check: str, place: Place, row: int) -> Finding:
    names = f"the {place.record.row_word}'s name"
    if place.record.key == "line":
        names = "plot, tree and species"
    is_total = check == "total-row"
    what = "a total row" if is_total else "the headings once more"
    return make_finding(
        check,
        f"Row {row} of “{place.sheet}” looks like {what}, so it was skipped.",
        f"If it is data, type {names} there. If not, do nothing.",
        (("sheet", place.sheet), ("row", "total" if is_total else "heading")),
        sheet=place.sheet,
        row=row,
        column=1,
    )


def _report_only_plot(place: Place, rows: list[int]) -> list[Finding]:
    """Return one finding on the rows that hold nothing but their plot cell."""
    if not rows:
        return []
    column = place.columns["plot"]
    typed = tuple(as_typed(place.grid.value(row, column)) for row in rows)
    names = first_few([f"“{text}”" for text in dict.fromkeys(typed)])
    what = f"Row {rows[0]} has an entry only under Plot ({names}), so it was skipped."
    if len(rows) > 1:
        what = (
            f"{len(rows)} rows have an entry only under Plot ({names} in rows {first_few(rows)}), "
            "so they were skipped."
        )
    return [
        make_finding(
            "row-only-plot",
            what,
            "Clear them, or enter the tree." if len(rows) > 1 else "Clear it, or enter the tree.",
            (("sheet", place.sheet), ("row", "plot only")),
            sheet=place.sheet,
            row=rows[0],
            column=column,
            fields=("plot",),
            evidence=typed[:20],
        )
    ]


def _report_hidden(place: Place, rows: NDArray[np.int64]) -> list[Finding]:
    hidden = rows[np.isin(rows, np.fromiter(place.grid.hidden_rows, dtype=np.int64))].tolist()
    if not hidden:
        return []
    are, they = ("is", "It was") if len(hidden) == 1 else ("are", "They were")
    by = " by a filter or by hand" if place.grid.filtered else ""
    return [
        make_finding(
            "rows-hidden",
            f"{len(hidden)} of {len(rows)} rows of “{place.sheet}” {are} hidden{by} (row "
            f"{first_few(hidden)}). {they} read too.",
            "Delete them if they do not belong to the survey.",
            (("sheet", place.sheet), ("row", "hidden")),
            sheet=place.sheet,
            row=hidden[0],
        )
    ]


def merged_cells(place: Place, rows: NDArray[np.int64]) -> tuple[set[tuple[int, int]], list[str]]:
    """Return the cells that a merge leaves without a value of their own, and the merged areas.

    Only merges that hold something and touch a keyed cell of a data row count. Where a merge
    spans one column, its first cell keeps its value; where it spans several, none can be read.
    """
    keyed = set(keyed_columns(place))
    covered: set[tuple[int, int]] = set()
    areas = []
    for top, left, bottom, right in place.grid.merges:
        if bottom <= place.heading_row or _is_blank(place.grid.value(top, left)):
            continue
        columns = [column for column in range(left, right + 1) if column in keyed]
        touched = rows[(rows >= top) & (rows <= bottom)].tolist() if columns else []
        cells = {(row, column) for row in touched for column in columns}
        cells -= set() if right > left else {(top, left)}
        if cells:
            areas.append(area_name((top, left, bottom, right)))
            covered |= cells
    return covered, areas
