"""The cells of a workbook that its native formulas read."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import numpy as np
from numpy.typing import NDArray

from xlhelpers.package.grid import Grid
from xlhelpers.package.parts import DefinedName
from xlhelpers.package.references import Area, parse_cell, parse_target
from xlhelpers.workbook.native_formulas_live import LINE_CELLS, RULE_CELLS
from xlhelpers.workbook.native_formulas_lookups import KEYED, cells_name
from xlhelpers.workbook.native_formulas_values import Values, cell_values

# the defined names of the cells that the tables read
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
    found: dict[str, Values] = {}
    for name in names:
        if name.name not in wanted or name.local_sheet is not None:
            continue
        target = named_area(name.text)
        if target is not None and target[0].casefold() in folded:
            found[name.name] = cell_values(area_of(folded[target[0].casefold()], target[1]))
    return found if set(found) == wanted else None


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
    grid: Grid, columns: Mapping[str, int], rows: NDArray[np.int64]
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
    """
    if not set(columns) >= LINE_CELLS:
        return None
    inside = rows <= grid.shape[0]
    cells: dict[str, Values] = {}
    for name in LINE_CELLS:
        column = np.full(len(rows), None, dtype=object)
        if columns[name] <= grid.shape[1]:
            column[inside] = grid.values[rows[inside] - 1, columns[name] - 1]
        cells[name] = cell_values(column)
    return cells
