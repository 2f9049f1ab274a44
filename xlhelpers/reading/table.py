"""One keyed table: the rows of all its sheets, read field by field, one sheet below the other."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from xlhelpers.fields.record import Field, Sheet
from xlhelpers.package.parts import styles as number_formats
from xlhelpers.package.sheet.cell_set import CellSet
from xlhelpers.package.sheet.references import cell_name
from xlhelpers.reading.cell_findings import RowSpot, missing_name, refused_cell, value_at
from xlhelpers.reading.cells import Cells, ColumnRead, Refusal, Settings, read_column
from xlhelpers.reading.findings import first_few, make_finding
from xlhelpers.reading.locate import Place
from xlhelpers.reading.rows import KEYS, cells_in, find_rows, merged_cells
from xlhelpers.survey.model import BLANK, CLOSED, REFUSED, Finding, Understood

Rows = NDArray[np.int64]
FORMULA_RESULT = "result of a formula"


@dataclass(frozen=True)
class TableRead:
    """One table as read: rows, states, findings, what was understood, closing words, scales.

    `scales` lists for each field the lines on which a unit was typed behind a reading, and the
    scale that this unit belongs to.
    """

    frame: pd.DataFrame
    states: pd.DataFrame
    findings: tuple[Finding, ...] = ()
    understood: tuple[Understood, ...] = ()
    closed: Counter[str] = field(default_factory=Counter)
    scales: dict[str, dict[int, str]] = field(default_factory=dict)


def keyed_fields(record: Sheet) -> tuple[Field, ...]:
    """Return the fields of a sheet that people key, in order."""
    return tuple(item for item in record.fields if item.kind != "computed")


def read_table(record: Sheet, places: Sequence[Place], settings: Settings) -> TableRead:
    """Read one table from all sheets of its kind, in the order of the tabs.

    Parameters
    ----------
    record
        The kind of sheet.
    places
        Where its sheets stand; none gives an empty table with the right columns.
    settings
        Units and rules of the survey.
    """
    parts = [_read_place(place, settings, len(places) > 1) for place in places]
    parts = [part for part in parts if len(part.frame)] or parts[:1] or [_empty(record)]
    start, findings, scales = 0, [], {}  # type: ignore[var-annotated]
    for part in parts:
        findings += [_shift_finding(finding, start) for finding in part.findings]
        for name, column_scales in part.scales.items():
            scales.setdefault(name, {}).update({p + start: s for p, s in column_scales.items()})
        start += len(part.frame)
    return TableRead(
        pd.concat([part.frame for part in parts], ignore_index=True),
        pd.concat([part.states for part in parts], ignore_index=True),
        tuple(findings),
        tuple(item for part in parts for item in part.understood),
        sum((part.closed for part in parts), Counter()),
        scales,
    )


def _shift_finding(finding: Finding, start: int) -> Finding:
    if not start:
        return finding
    return replace(
        finding,
        lines=tuple(line + start for line in finding.lines),
        plots=tuple(plot + start for plot in finding.plots),
    )


def _frame(record: Sheet, sheet: str, rows: Rows, read: dict[str, ColumnRead]) -> TableRead:
    heads = {
        "_sheet": np.full(len(rows), sheet, dtype=object),
        "_row": rows.astype(np.int64),
    }
    columns = {name: column.values for name, column in read.items()}
    states = {name: column.states for name, column in read.items()}
    return TableRead(pd.DataFrame({**heads, **columns}), pd.DataFrame({**heads, **states}))


def _empty(record: Sheet) -> TableRead:
    nothing = Cells(np.empty(0, dtype=object))
    read = {item.name: read_column(item, nothing, Settings()) for item in keyed_fields(record)}
    return _frame(record, "", np.empty(0, dtype=np.int64), read)


@dataclass(frozen=True)
class _Masks:
    """Masks over the rows of data and all columns of the sheet; None where nothing is marked."""

    percent: NDArray[np.bool_] | None
    date: NDArray[np.bool_] | None
    formulas: NDArray[np.bool_] | None
    uncalculated: NDArray[np.bool_] | None
    merged: set[tuple[int, int]]


def _masks(place: Place, rows: Rows, merged: set[tuple[int, int]]) -> _Masks:
    grid, first = place.grid, place.heading_row + 1

    def of_styles(test: Any, extra: Any) -> NDArray[np.bool_] | None:
        marked = np.array([*(test(code) for code in grid.number_formats), False], dtype=bool)
        mask = None
        if marked.any():
            styles = np.clip(grid.styles[rows - 1], -1, len(marked) - 1)
            mask = marked[styles]
        more = cells_in(extra, grid.shape, first)
        if more is not None:
            mask = more[rows - first] if mask is None else mask | more[rows - first]
        return mask

    def of_cells(cells: Any) -> NDArray[np.bool_] | None:
        mask = cells_in(cells, grid.shape, first)
        return None if mask is None else mask[rows - first]

    return _Masks(
        of_styles(number_formats.is_percent, {}),
        of_styles(number_formats.is_date, CellSet.of(grid.iso_dates).rows_of),
        of_cells({at: rows for at, (rows, _) in grid.formulas.columns.items()}),
        of_cells(grid.uncalculated.rows_of),
        merged,
    )


def _read_place(place: Place, settings: Settings, several: bool) -> TableRead:
    data_rows = find_rows(place, settings.spellings.get("plot", {}))
    rows = data_rows.rows
    merged, areas = merged_cells(place, rows)
    masks = _masks(place, rows, merged)
    read = {
        item.name: _read_field(place, item, rows, masks, settings)
        for item in keyed_fields(place.record)
    }
    table = _frame(place.record, place.sheet, rows, read)
    findings = [
        *data_rows.findings,
        *_report_merges(place, table.frame, merged, areas),
        *_report_missing_names(place, table),
        *_report_refusals(place, table.frame, read, settings),
    ]
    closed: Counter[str] = Counter()
    for column in read.values():
        closed.update(column.closed)
    return replace(
        table,
        findings=tuple(findings),
        understood=_understood(place, rows, read),
        closed=closed,
        scales={name: dict(column.scales) for name, column in read.items() if column.scales},
    )


def _read_field(
    place: Place, item: Field, rows: Rows, masks: _Masks, settings: Settings
) -> ColumnRead:
    column = place.columns.get(item.name)
    if column is None or column > place.grid.shape[1]:
        values: NDArray[np.object_] = np.full(len(rows), None, dtype=object)
        return read_column(item, Cells(values), settings)
    at = column - 1
    values = place.grid.values[rows - 1, at]
    never = _mask_of_column(masks.uncalculated, at)
    if never is not None:
        values[never] = None
    covered_rows = [row for row, at_column in masks.merged if at_column == column]
    covered = np.flatnonzero(np.isin(rows, covered_rows))
    values[covered] = None
    cells = Cells(values, _mask_of_column(masks.percent, at), _mask_of_column(masks.date, at))
    read = read_column(item, cells, settings)
    formulas = _mask_of_column(masks.formulas, at)
    if formulas is not None:
        read.note(
            FORMULA_RESULT,
            np.flatnonzero(formulas & (read.states != REFUSED) & (read.states != BLANK)),
        )
    read.states[covered] = REFUSED
    if never is not None:
        read.states[never] = REFUSED
        read.refusals.extend(
            Refusal(int(position), "formula-uncalculated", "") for position in np.flatnonzero(never)
        )
    return read


def _mask_of_column(mask: NDArray[np.bool_] | None, at: int) -> NDArray[np.bool_] | None:
    if mask is None:
        return None
    column: NDArray[np.bool_] = mask[:, at]
    return column if column.any() else None


def _understood(place: Place, rows: Rows, read: dict[str, ColumnRead]) -> tuple[Understood, ...]:
    understood = []
    for name, column in read.items():
        at, label = place.columns.get(name, 0), place.record[name].label
        for kind, positions in column.kinds.items():
            cells = tuple(cell_name(int(rows[p]), at) for p in sorted(positions)[:3])
            understood.append(Understood(place.sheet, label, kind, len(positions), cells))
    return tuple(understood)


def _report_refusals(
    place: Place, frame: pd.DataFrame, read: dict[str, ColumnRead], settings: Settings
) -> list[Finding]:
    """Return one finding a refused cell, and one a column of formulas never calculated."""
    findings = []
    for name, column in read.items():
        item = place.record[name]
        never = [r.position for r in column.refusals if r.check == "formula-uncalculated"]
        if never:
            findings.append(_report_uncalculated(place, frame, item, never))
        findings += [
            refused_cell(RowSpot(place, frame, refusal.position), item, refusal, settings)
            for refusal in column.refusals
            if refusal.check != "formula-uncalculated"
        ]
    return findings


def _lines_or_plots(place: Place, positions: Sequence[int]) -> dict[str, Any]:
    """Return the lines or plots that a finding on some rows of the table touches."""
    of = {"line": "lines", "plot": "plots"}.get(place.record.key)
    return {of: tuple(positions)} if of else {}


def _report_uncalculated(
    place: Place, frame: pd.DataFrame, item: Field, positions: list[int]
) -> Finding:
    column = place.columns[item.name]
    rows = [int(value_at(frame, "_row", position)) for position in positions]
    cells = first_few([cell_name(row, column) for row in rows])
    count = len(rows)
    have = "1 cell in “{}” has" if count == 1 else f"{count} cells in “{{}}” have"
    return make_finding(
        "formula-uncalculated",
        f"{have.format(item.label)} a formula without a result ({cells}).",
        "Open the workbook in your spreadsheet program, save it, and fill again.",
        (("sheet", place.sheet), ("column", item.label)),
        sheet=place.sheet,
        row=rows[0],
        column=column,
        fields=(item.name,),
        evidence=tuple(place.grid.formulas.get((row, column), "") for row in rows[:20]),
        **_lines_or_plots(place, positions),
    )


def _report_merges(
    place: Place, frame: pd.DataFrame, merged: set[tuple[int, int]], areas: list[str]
) -> list[Finding]:
    if not areas:
        return []
    rows, columns = {row for row, _ in merged}, {column for _, column in merged}
    positions = [n for n, row in enumerate(frame["_row"].tolist()) if row in rows]
    row, column = min(merged)
    return [
        make_finding(
            "cell-merged",
            f"Some data cells are merged ({first_few(areas, 5)}). Cells without a clear value of "
            "their own were not read.",
            "Unmerge them and type the value in every cell it belongs to.",
            (("sheet", place.sheet),),
            sheet=place.sheet,
            row=row,
            column=column,
            fields=tuple(name for name, at in place.columns.items() if at in columns),
            evidence=tuple(areas),
            **_lines_or_plots(place, positions),
        )
    ]


def _report_missing_names(place: Place, table: TableRead) -> list[Finding]:
    findings = []
    for name in KEYS[place.record.key]:
        if name not in place.columns:
            continue
        states = table.states[name].to_numpy()
        for position in np.flatnonzero((states == BLANK) | (states == CLOSED)):
            spot = RowSpot(place, table.frame, int(position))
            findings.append(missing_name(spot, place.record[name]))
    return findings
