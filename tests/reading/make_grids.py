"""Grids built by hand, and surveys read from them, for the tests of the reading."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any

import numpy as np

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.fields.places import PLOTS
from xlhelpers.fields.record import Sheet
from xlhelpers.fields.rules import RULES
from xlhelpers.package.formulas.formula_map import FormulaMap
from xlhelpers.package.sheet.cell_set import CellSet
from xlhelpers.package.sheet.grid import Grid
from xlhelpers.reading.survey import locate_sheets, read_located
from xlhelpers.survey.model import Survey

FORMATS = ("General", "0%", "d-mmm", "yyyy-mm-dd")
PERCENT, SHORT_DATE, ISO_DATE = 1, 2, 3
Place = tuple[int, int]

MAIN = tuple(field.name for field in FIELD_SHEET.fields if field.block == "main")
PLOT_ROW = {"plot": 1.0, "status": "measured", "instrument": "C1", "scale": "percent"}
LINE = {
    "plot": 1.0, "tree": 1.0, "species": "Acer platanoides", "diameter": 30.0,
    "width_widest": 8.0, "width_across": 7.0, "distance": 20.0, "foot_reading": -8.0,
    "base_reading": 15.0, "tip_reading": 60.0,
}  # fmt: skip


def make_grid(
    rows: Sequence[Sequence[Any]],
    *,
    styles: Mapping[Place, int] | None = None,
    formulas: Mapping[Place, str] | None = None,
    uncalculated: Iterable[Place] = (),
    hidden: Iterable[int] = (),
    filtered: bool = False,
    merges: Sequence[tuple[int, int, int, int]] = (),
) -> Grid:
    """A grid from rows of values; short rows are filled up with blanks."""
    width = max((len(row) for row in rows), default=0)
    values = np.full((len(rows), width), None, dtype=object)
    for number, row in enumerate(rows):
        values[number, : len(row)] = row
    formats = np.zeros(values.shape, dtype=np.int32)
    for (row, column), style in (styles or {}).items():
        formats[row - 1, column - 1] = style
    return Grid(
        values=values,
        styles=formats,
        formulas=FormulaMap.of(formulas or {}),
        uncalculated=CellSet.of(uncalculated),
        hidden_rows=frozenset(hidden),
        filtered=filtered,
        merges=tuple(merges),
        number_formats=FORMATS,
    )


def sheet_rows(
    record: Sheet,
    lines: Sequence[Mapping[str, Any]],
    *,
    units: Any = "metric",
    names: Sequence[str] | None = None,
) -> list[list[Any]]:
    """The rows of a sheet: headings in row 1, then one row a mapping."""
    fields = [record[name] for name in names] if names else list(record.fields)
    heading = [field.heading(units) for field in fields]
    return [heading, *([line.get(field.name) for field in fields] for line in lines)]


def column_of(name: str, record: Sheet = FIELD_SHEET) -> int:
    """The column of a field in `sheet_rows`, counted from 1."""
    return [field.name for field in record.fields].index(name) + 1


def rules_grid(**values: Any) -> Grid:
    """A sheet of survey rules known by its labels, with the values given."""
    rows: list[list[Any]] = [["Survey rules"]]
    rows += [[field.label, values.get(field.name)] for field in RULES.fields]
    return make_grid(rows)


def read_grids(grids: Mapping[str, Grid], from_1904: bool = False) -> Survey:
    """The survey in sheets without names, known by their headings."""
    return read_located(locate_sheets(grids, {}), from_1904)


def read_lines(
    *lines: Mapping[str, Any],
    rules: Mapping[str, Any] | None = None,
    plots: Sequence[Mapping[str, Any]] = (PLOT_ROW,),
    instruments: Sequence[Mapping[str, Any]] = ({"instrument": "C1", "kind": "clinometer"},),
    **marks: Any,
) -> Survey:
    """The survey in a field sheet with these lines; `marks` as for `make_grid`."""
    known = {"units": "metric", **(rules or {})}
    units = "us" if known["units"] == "us" else "metric"
    return read_grids(
        {
            "Field sheet": make_grid(sheet_rows(FIELD_SHEET, lines, units=units), **marks),
            "Plots": make_grid(sheet_rows(PLOTS, plots, units=units)),
            "Survey rules": rules_grid(**known),
            "Instruments": make_grid(sheet_rows(INSTRUMENTS, instruments, units=units)),
        }
    )


def checks_of(survey: Survey) -> list[str]:
    """The ids of the findings, without the notes that sheets without names bring."""
    return [f.check for f in survey.findings if f.check != "sheet-by-headings"]


def kinds_of(survey: Survey, label: str) -> dict[str, tuple[int, tuple[str, ...]]]:
    """What was understood in a column of the field sheet: kind, count and first cells."""
    return {
        said.kind: (said.count, said.first_cells)
        for said in survey.understood
        if said.column_label == label and said.sheet == "Field sheet"
    }
