"""What may be done to the formulas of a worksheet, as records."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from xlhelpers.package.cell_set import Place
from xlhelpers.package.cell_writes import Written

NO_FORMULA = "holds no formula"
ARRAY = "belongs to an array formula"
NO_ROW = "lies in a row that does not exist"


@dataclass(frozen=True)
class StoredValue:
    """The stored result of a formula that is in the cell already; the formula stays as it is."""

    row: int
    column: int
    value: Written


@dataclass(frozen=True)
class StoredColumn:
    """The stored results of formulas of one column that are there already; rows ascending."""

    column: int
    rows: NDArray[np.int64]
    values: NDArray[np.object_]


@dataclass(frozen=True)
class FormulaWrite:
    """A formula (without equals sign) with the value that it gives.

    A new cell takes the format of `style_like`. Where the cell `fill_from` holds a formula that
    several cells share, the new cell becomes one of these.
    """

    row: int
    column: int
    formula: str
    value: Written
    style_like: Place | None = None
    fill_from: Place | None = None


FormulaEdit = StoredValue | FormulaWrite


@dataclass(frozen=True)
class FormulaEdits:
    """All edits of one sheet: one by one, and results by whole columns, no cell in both.

    `overwritten` are cells whose own formula may give way to another.
    """

    edits: Sequence[FormulaEdit] = ()
    columns: Sequence[StoredColumn] = ()
    overwritten: frozenset[Place] = frozenset()


def every_edit(wanted: FormulaEdits) -> list[FormulaEdit]:
    """Each edit by itself, by row and column."""
    found: dict[Place, FormulaEdit] = {}
    for item in wanted.columns:
        for row, value in zip(item.rows.tolist(), item.values.tolist(), strict=True):
            found[row, item.column] = StoredValue(row, item.column, value)
    found |= {(edit.row, edit.column): edit for edit in wanted.edits}
    return [found[place] for place in sorted(found)]
