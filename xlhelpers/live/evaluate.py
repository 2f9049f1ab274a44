"""What the native formulas of a workbook give: their values from its cells, in Python."""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

from xlhelpers.fields.places import PLOTS
from xlhelpers.fields.quantities import Units
from xlhelpers.live.formulas import EARLIER, NOW, FormulaSet
from xlhelpers.live.functions import Repeats, evaluate
from xlhelpers.live.lookups import KEYED, LOOKUPS, POSITION, cells_name, figures, kinds_table
from xlhelpers.live.rule_words import RULE_WORDS, rule_headings
from xlhelpers.live.values import Values, cell_values, numbers
from xlhelpers.measure.instruments import KINDS
from xlhelpers.package.parts.parts import DefinedName
from xlhelpers.package.sheet.grid import Grid
from xlhelpers.package.sheet.references import Area, parse_cell, parse_target

Names = Mapping[str, Values]
# cells of the survey rules that the formulas read
RULE_CELLS: frozenset[str] = frozenset(
    name
    for formula in (
        *figures("metric").values(),
        *NOW.formulas.values(),
        *EARLIER.formulas.values(),
        *RULE_WORDS.values(),
        *rule_headings("metric").values(),
    )
    for name in re.findall(r"\bxlh_rule_\w+", formula)
)


def lookup_values(keyed: Names, units: Units) -> dict[str, Values]:
    """Return the values of every name that the live columns read.

    Parameters
    ----------
    keyed : mapping
        The cells of each column in `KEYED` under its name (`cells_name`), all columns of one
        sheet of one length; and the cells of `RULE_CELLS`.
    units : {"metric", "us"}
        System of the workbook's template.

    Returns
    -------
    dict
        Name -> values: those given, the kinds of instruments, the figures, the tables.
    """
    names = dict(keyed)
    names["xlh_list_instrument_kind"] = cell_values(list(KINDS))
    names |= {name: cell_values(column) for name, column in kinds_table().items()}
    for name, formula in figures(units).items():
        names[name] = evaluate(f'IFERROR({formula},"")', {}, names)
    # instruments first: the plots look them up
    for lookup in reversed(LOOKUPS):
        first = next(name for name in keyed if name.startswith(f"xlh_cells_{lookup.sheet.key}_"))
        count = len(keyed[first])
        table = {POSITION: numbers(np.arange(1.0, count + 1))}
        for name, formula in lookup.columns.items():
            table[name] = names[name] = evaluate(formula, table, names).spread(count)
    return names


def live_values(
    lines: Names,
    names: Names,
    kind: FormulaSet = NOW,
    rows: NDArray[np.int64] | None = None,
) -> dict[str, Values]:
    """Return what each formula of the field sheet gives.

    Parameters
    ----------
    lines : mapping
        The cells of `kind.cells`, one column a field, all of one length.
    names : mapping
        As `lookup_values` gives them.
    kind : FormulaSet
        The formulas of the workbook.
    rows : ndarray of int, optional
        The row of the sheet of each line, ascending; one below another if not given.

    Returns
    -------
    dict
        Field -> values, in the order of the formulas.
    """
    cells, repeats = dict(lines), Repeats(kind.formulas.values())
    for name, formula in kind.formulas.items():
        cells[name] = evaluate(formula, cells, names, repeats, rows)
    return {name: cells[name] for name in kind.formulas}


def blank_results(
    rules: Mapping[str, object], units: Units
) -> dict[str, float | str | bool | None]:
    """Return what each formula gives before anything is entered, by its field or defined name.

    Parameters
    ----------
    rules : mapping
        The defined names of the survey rules and their values.
    units : {"metric", "us"}
        System of the template.
    """
    nothing = {cells_name(sheet, field): cell_values([None]) for sheet, field in KEYED}
    given = {name: cell_values([rules.get(name)]) for name in RULE_CELLS}
    names = lookup_values(nothing | given, units)
    live = live_values({name: cell_values([None]) for name in NOW.cells}, names)
    tables = {name: names[name] for name in _calculated_names()}
    return {name: values.python(1)[0] for name, values in (tables | live).items()}


def _calculated_names() -> set[str]:
    return {name for lookup in LOOKUPS for name in lookup.columns} | set(figures("metric"))


# the defined names of the cells that the tables read
ADDED_LATER = frozenset(
    (
        cells_name(PLOTS, "distance_to"),
        cells_name(PLOTS, "foot_by"),
        "xlh_rule_crown_depth",
        "xlh_rule_crown_widths",
        "xlh_rule_width_directions",
    )
)
"""Names that earlier workbooks do not have, nor any formula that reads them."""
KEYED_NAMES = frozenset({*(cells_name(sheet, field) for sheet, field in KEYED), *RULE_CELLS})


def keyed_cells(
    names: Iterable[DefinedName], grids: Mapping[str, Grid]
) -> dict[str, Values] | None:
    """Return the cells that the tables behind the formulas read, under their defined names.

    Parameters
    ----------
    names : iterable
        The defined names of the workbook.
    grids : mapping
        The cells of its sheets by name.

    Returns
    -------
    dict or None
        None where the workbook lacks one of the names: it was made without formulas.
    """
    wanted = set(KEYED_NAMES)
    folded = {name.casefold(): grid for name, grid in grids.items()}
    cells: dict[str, Values] = {}
    for name in names:
        if name.name not in wanted or name.local_sheet is not None:
            continue
        target = named_area(name.text)
        if target is not None and target[0].casefold() in folded:
            cells[name.name] = cell_values(area_of(folded[target[0].casefold()], target[1]))
    if not set(cells) >= wanted - ADDED_LATER:
        return None
    rows = len(cells[cells_name(PLOTS, "plot")])
    for lacking in wanted - set(cells):
        cells[lacking] = cell_values([None] * (1 if lacking in RULE_CELLS else rows))
    return cells


def named_area(text: str) -> tuple[str, Area] | None:
    """Return sheet and area that a defined name points at, None where it is anything else."""
    target = parse_target(text)
    if target is None:
        return None
    sheet, row, column = target
    _, colon, last = text.rpartition(":")
    end = parse_cell(last.strip()) if colon else (row, column)
    return sheet, (row, column, *end)


def area_of(grid: Grid, area: Area) -> NDArray[np.object_]:
    """Return the cells of one column area from top to bottom; None beyond the cells in use."""
    top, column, bottom, _ = area
    cells = np.full(bottom - top + 1, None, dtype=object)
    if column <= grid.shape[1] and top <= grid.shape[0]:
        there = grid.values[top - 1 : bottom, column - 1]
        cells[: len(there)] = there
    return cells


def line_cells(
    grid: Grid,
    columns: Mapping[str, int],
    rows: NDArray[np.int64],
    kind: FormulaSet = NOW,
) -> dict[str, Values] | None:
    """Return the cells of some rows of a field sheet that the formulas read, None if any lacks.

    Parameters
    ----------
    grid : Grid
        The cells of the sheet.
    columns : mapping
        Field -> column, counted from 1.
    rows : ndarray of int
        Rows of the sheet.
    kind : FormulaSet
        The formulas of the workbook.
    """
    if not set(columns) >= kind.cells:
        return None
    inside = rows <= grid.shape[0]
    cells: dict[str, Values] = {}
    for name in kind.cells:
        column = np.full(len(rows), None, dtype=object)
        if columns[name] <= grid.shape[1]:
            column[inside] = grid.values[rows[inside] - 1, columns[name] - 1]
        cells[name] = cell_values(column)
    return cells
