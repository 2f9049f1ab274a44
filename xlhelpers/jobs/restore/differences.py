"""Which cells of two states of a workbook differ, and which of them people enter."""

from collections.abc import Iterator, Mapping
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from xlhelpers.errors import WorkbookError
from xlhelpers.package.parts.parts import SheetPart, sheets
from xlhelpers.package.sheet.grid import Grid, read_grid
from xlhelpers.package.zip.container import Package
from xlhelpers.pages.change_watch import KeyedColumn, keyed_columns
from xlhelpers.reading.survey import read_survey


class Differences(NamedTuple):
    """How many cells differ, and of those that people enter how many on each sheet."""

    cells: int
    entered: Mapping[str, int]


def count_differences(then: Package, now: Package) -> Differences:
    """Return how many cells show or contain something else in two states of a workbook.

    Cells are compared by their sheet and place. A cell with a formula on one side only differs.

    Parameters
    ----------
    then, now : Package
        Both states; which cells are entered is read from `now`, or from `then` where `now` has
        none of our sheets.
    """
    states = [_worksheets(package) for package in (then, now)]
    areas = _entered_areas(now) or _entered_areas(then)
    cells, entered = 0, {}
    for name in dict.fromkeys((*states[1], *states[0])):
        differs = _differing(
            *(_read(p, s.get(name)) for p, s in zip((then, now), states, strict=True))
        )
        cells += int(differs.sum())
        count = sum(int(part.sum()) for part in _parts(differs, areas.get(name, ())))
        if count:
            entered[name] = count
    return Differences(cells, entered)


def _worksheets(package: Package) -> dict[str, SheetPart]:
    return {part.name: part for part in sheets(package) if part.kind == "worksheet" and part.part}


def _entered_areas(package: Package) -> dict[str, list[KeyedColumn]]:
    columns: dict[str, list[KeyedColumn]] = {}
    try:
        for column in keyed_columns(package, read_survey(package)):
            columns.setdefault(column.sheet, []).append(column)
    except WorkbookError:
        return {}
    return columns


def _read(package: Package, sheet: SheetPart | None) -> Grid | None:
    return None if sheet is None else read_grid(package, sheet)


def _differing(then: Grid | None, now: Grid | None) -> NDArray[np.bool_]:
    """Return which cells differ, on the area of the larger sheet."""
    shapes = [grid.shape for grid in (then, now) if grid is not None]
    shape = (max(rows for rows, _ in shapes), max(columns for _, columns in shapes))
    contents = [_content(grid, shape) for grid in (then, now)]
    values = np.asarray(contents[0][0] != contents[1][0], dtype=bool)
    values |= contents[0][1] != contents[1][1]
    return values


def _content(
    grid: Grid | None, shape: tuple[int, int]
) -> tuple[NDArray[np.object_], NDArray[np.bool_]]:
    """Return the values of a sheet, and which cells have a formula."""
    values = np.full(shape, None, dtype=object)
    has_formula = np.zeros(shape, dtype=bool)
    if grid is not None:
        values[: grid.shape[0], : grid.shape[1]] = grid.values
        for row, column in grid.formulas:
            if row <= shape[0] and column <= shape[1]:
                has_formula[row - 1, column - 1] = True
    return values, has_formula


def _parts(
    differs: NDArray[np.bool_], columns: list[KeyedColumn] | tuple[()]
) -> Iterator[NDArray[np.bool_]]:
    for column in columns:
        yield differs[column.first - 1 :, column.column - 1 : column.column]
