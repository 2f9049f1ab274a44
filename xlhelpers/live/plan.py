"""Which formula cells of a field sheet a fill touches, what it puts there, and what it says.

A formula that is ours is never overwritten; it gets the value that it gives itself. Keyed lines
below the prepared ones get formulas of their own. A cell in which something else stands is left
as it is and said, unless the office asks for its formula back.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.live.evaluate import LINE_CELLS, line_cells, live_values
from xlhelpers.live.formulas import FORMULAS, WITH_FILL
from xlhelpers.live.syntax import render
from xlhelpers.live.values import Values
from xlhelpers.package.formulas.formula_map import in_row, pattern
from xlhelpers.package.sheet.grid import Grid
from xlhelpers.package.sheet.references import MAX_ROW, column_letters
from xlhelpers.pages.live_differences import Kind, ToldCells

Rows = NDArray[np.int64]
Objects = NDArray[np.object_]
# shown values that differ by less are one value, computed in another order
SAME = 1e-6
_QUOTED = re.compile(r'("(?:[^"]|"")*")')
_EMPTY_CALL = re.compile(r"\b(TRUE|FALSE)\(\)")


@dataclass(frozen=True)
class FormulaColumn:
    """One column of formulas: rows, what each gives, and its text where it is to be written."""

    name: str
    column: int
    rows: Rows
    values: Objects
    texts: Sequence[str] = ()


@dataclass(frozen=True)
class FormulaPlan:
    """What a fill does to the formulas of one field sheet.

    `stored` are formulas that stand and get their value, `added` those written into blank cells of
    keyed lines, `restored` those that replace something; `told` are cells to be told of, `said`
    sentences without a stop. `first` is the first row that holds our formulas: new cells take its
    looks.
    """

    stored: tuple[FormulaColumn, ...]
    added: tuple[FormulaColumn, ...]
    restored: tuple[FormulaColumn, ...]
    told: tuple[ToldCells, ...]
    first: int
    said: tuple[str, ...] = ()


@dataclass(frozen=True)
class FieldSheet:
    """One field sheet: its name, cells, columns by field, heading row, and keyed rows."""

    name: str
    grid: Grid
    columns: Mapping[str, int]
    heading_row: int
    keyed: Rows


def plan_formulas(
    sheet: FieldSheet,
    names: Mapping[str, Values],
    own: Mapping[str, Objects],
    *,
    restore: bool = False,
) -> FormulaPlan | None:
    """Plan what happens to the live columns of a field sheet and to the columns they rest on.

    Parameters
    ----------
    sheet : FieldSheet
        The sheet; `keyed` are its rows with a plot and a tree.
    names : mapping
        Values of the defined names, as `lookup_values` gives them.
    own : mapping
        Live field -> the program's own reading of each keyed row in the unit that is shown,
        None for none.
    restore : bool
        Whether a formula takes the place of what was typed over it.

    Returns
    -------
    FormulaPlan or None
        None where the sheet holds none of our formulas.
    """
    if not set(FORMULAS) <= set(sheet.columns):
        return None
    if gone := sorted(LINE_CELLS - set(sheet.columns)):
        return FormulaPlan((), (), (), (), 0, (_say_gone(sheet, gone),))
    ours = {name: _ours(sheet, name) for name in FORMULAS}
    standing = np.unique(np.concatenate(list(ours.values())))
    if not len(standing):
        return None
    rows = np.union1d(standing, sheet.keyed)
    cells = line_cells(sheet.grid, sheet.columns, rows)
    if cells is None:
        return None
    given = {name: found.python(len(rows)) for name, found in live_values(cells, names).items()}
    stored, added, restored, told = [], [], [], []
    for name, values in given.items():
        blank, covered = _not_ours(sheet, name, ours[name])
        pick = _picker(sheet, name, rows, values)
        stored.append(pick(ours[name], written=False))
        added.append(pick(blank, written=True))
        if len(covered) and restore:
            restored.append(pick(covered, written=True))
        if len(covered) and FIELD_SHEET[name].block == "live":
            told += _covered(sheet, name, covered, restore)
        if name in own:
            told += _differing(sheet, name, values[np.searchsorted(rows, sheet.keyed)], own[name])
    return FormulaPlan(
        tuple(stored),
        tuple(c for c in added if len(c.rows)),
        tuple(restored),
        tuple(told),
        int(standing[0]),
    )


def same_formula(one: str, other: str) -> bool:
    """Return whether two texts are one formula, however a program wrote it."""
    return _plain(one) == _plain(other)


def _plain(formula: str) -> str:
    parts = _QUOTED.split(formula)
    parts[::2] = [_EMPTY_CALL.sub(r"\1", re.sub(r"\s+", "", part)) for part in parts[::2]]
    return "".join(parts)


def letters_of(columns: Mapping[str, int]) -> dict[str, str]:
    """Return the letters of each field's column."""
    return {name: column_letters(column) for name, column in columns.items()}


def _ours(sheet: FieldSheet, name: str) -> Rows:
    """Return the rows that hold our formula; those filled down from one of ours count."""
    column, letters = sheet.columns[name], letters_of(sheet.columns)
    wanted = _plain(pattern(render(FORMULAS[name], letters, MAX_ROW), MAX_ROW))
    found: list[Rows] = []
    filled_down = np.empty(0, dtype=np.int64)
    for text, rows in sheet.grid.formulas.patterns_of_column(column):
        below = rows[rows > sheet.heading_row].astype(np.int64)
        if text == "":
            filled_down = below
        elif _plain(text) == wanted:
            found.append(below)
        elif len(rows) == 1:
            # a number in the formula may be that of the row by chance, but not in two rows alike
            same = [
                same_formula(in_row(text, row), render(FORMULAS[name], letters, row))
                for row in below.tolist()
            ]
            found.append(below[np.array(same, dtype=bool)])
    if not sum(map(len, found)):
        return np.empty(0, dtype=np.int64)
    return np.sort(np.concatenate([*found, filled_down]))


def _not_ours(sheet: FieldSheet, name: str, ours: Rows) -> tuple[Rows, Rows]:
    """Return the keyed rows whose cell is blank, and those in which something else stands."""
    column = sheet.columns[name]
    rest = sheet.keyed[~np.isin(sheet.keyed, ours)]
    if not len(rest):
        return rest, rest
    formulas, _ = sheet.grid.formulas.columns.get(column, (np.empty(0, dtype=np.int32), None))
    held = [sheet.grid.value(row, column) is not None for row in rest.tolist()]
    there = np.isin(rest, formulas) | np.array(held, dtype=bool)
    return rest[~there], rest[there]


def _picker(
    sheet: FieldSheet, name: str, rows: Rows, values: Objects
) -> Callable[..., FormulaColumn]:
    letters = letters_of(sheet.columns)

    def pick(wanted: Rows, *, written: bool) -> FormulaColumn:
        texts = [render(FORMULAS[name], letters, int(row)) for row in wanted] if written else []
        chosen = values[np.searchsorted(rows, wanted)]
        return FormulaColumn(name, sheet.columns[name], wanted, chosen, texts)

    return pick


def _say_gone(sheet: FieldSheet, gone: Sequence[str]) -> str:
    labels = ", ".join(f"'{FIELD_SHEET[name].label}'" for name in gone)
    these = "this column is" if len(gone) == 1 else "these columns are"
    return (
        f"{sheet.name}: the live formulas were left as they are, because they read {labels} and "
        f"{these} gone; the tab Trees holds what can be computed without"
    )


def _differing(sheet: FieldSheet, name: str, given: Objects, own: Objects) -> list[ToldCells]:
    """Return where a formula gives less or something else than the program reads."""
    kinds: dict[Kind, list[int]] = {"less": [], "other": []}
    numbers, readings = _numbers(given), _numbers(own)
    agree = np.abs(numbers - readings) <= SAME * np.maximum(1.0, np.abs(readings))
    for at in np.flatnonzero(~agree).tolist():
        formula, nothing = given[at], given[at] in (None, "")
        if formula != WITH_FILL and not (nothing and own[at] is None):
            kinds["less" if nothing else "other"].append(int(sheet.keyed[at]))
    return [_told(sheet, name, np.array(rows), kind) for kind, rows in kinds.items() if rows]


def _covered(sheet: FieldSheet, name: str, rows: Rows, restored: bool) -> list[ToldCells]:
    """Return where something else stands than our formula: another one, or what was typed."""
    if restored:
        return [_told(sheet, name, rows, "restored")]
    formulas, _ = sheet.grid.formulas.columns.get(sheet.columns[name], (rows[:0], None))
    another = np.isin(rows, formulas)
    kinds: dict[Kind, Rows] = {"another": rows[another], "left": rows[~another]}
    return [_told(sheet, name, of_kind, kind) for kind, of_kind in kinds.items() if len(of_kind)]


def _told(sheet: FieldSheet, name: str, rows: Rows, kind: Kind) -> ToldCells:
    return ToldCells(sheet.name, FIELD_SHEET[name].label, sheet.columns[name], rows, kind)


def _numbers(cells: Objects) -> NDArray[np.float64]:
    """Return the numbers among some cells, NaN for the others."""
    items = (item if isinstance(item, float) else np.nan for item in cells.tolist())
    return np.fromiter(items, dtype=float, count=len(cells))
