"""Which formula cells of a field sheet a fill touches, what it puts there, and what it reports.

A formula that is ours is never overwritten; it gets the value that it gives itself. Keyed lines
below the prepared ones get formulas of their own. A cell with anything else in it is left as it is
and reported, unless the office asks for its formula back.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.live.evaluate import line_cells, live_values
from xlhelpers.live.formulas import NOW, WITH_FILL, FormulaSet, set_of
from xlhelpers.live.syntax import digest_formula, plain, render
from xlhelpers.live.values import BLANK, Values
from xlhelpers.live.warnings import FORMER
from xlhelpers.package.formulas.formula_map import in_row, pattern
from xlhelpers.package.sheet.grid import Grid
from xlhelpers.package.sheet.references import MAX_ROW, column_letters
from xlhelpers.pages.live_differences import DifferingCells, Kind

Rows = NDArray[np.int64]
Objects = NDArray[np.object_]
Flags = NDArray[np.bool_]
# shown values that differ by less are one value, computed in another order
SAME = 1e-6


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

    `stored` are formulas that are there and get their value, `added` those written into blank cells
    of keyed lines, `restored` those that replace something; `differences` are cells to report,
    `remarks` sentences without a full stop. `first` is the first row with our formulas: new cells
    take its looks.
    """

    stored: tuple[FormulaColumn, ...] = ()
    added: tuple[FormulaColumn, ...] = ()
    restored: tuple[FormulaColumn, ...] = ()
    differences: tuple[DifferingCells, ...] = ()
    first: int = 0
    remarks: tuple[str, ...] = ()


@dataclass(frozen=True)
class FieldSheet:
    """One field sheet: its name, cells, columns by field, heading row, keyed rows, formulas."""

    name: str
    grid: Grid
    columns: Mapping[str, int]
    heading_row: int
    keyed: Rows
    kind: FormulaSet = NOW


@dataclass(frozen=True)
class _Shown:
    """What a formula gives in each of some rows, ascending."""

    rows: Rows
    values: Objects


def plan_formulas(
    sheet: FieldSheet,
    names: Mapping[str, Values],
    own: Mapping[str, Objects],
    *,
    restore: bool = False,
) -> FormulaPlan | None:
    """Plan what happens to the live columns of a field sheet and to the columns they read.

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
    kind = set_of(sheet.columns)
    if kind is None:
        return None
    sheet = replace(sheet, kind=kind)
    if gone := sorted(kind.cells - set(sheet.columns)):
        return FormulaPlan(remarks=(_remark_on_columns(sheet, gone),))
    ours = {name: _rows_with_ours(sheet, name) for name in kind.formulas}
    superseded = {name: _rows_superseded(sheet, name) for name in kind.superseded}
    there = _unite(*ours.values(), *superseded.values())
    if not len(there):
        return None
    rows = _unite(there, sheet.keyed)
    cells = line_cells(sheet.grid, sheet.columns, rows, kind)
    if cells is None:
        return None
    given = _values_of_rows(cells, names, kind, rows)
    stored, added, restored, differences = [], [], [], []
    for name, values in given.items():
        old = superseded.get(name, there[:0])
        blank, covered = _rows_without_ours(sheet, name, _unite(ours[name], old))
        results = _Shown(rows, values)
        words = _in_words(results, ours[name], _find_former(sheet, name, ours[name]))
        stored.append(FormulaColumn(name, sheet.columns[name], ours[name], words))
        # new formulas are filled down from the first one
        added.append(_new_formulas(sheet, name, blank, results, int(there[0])))
        if len(old):
            restored.append(_new_formulas(sheet, name, old, results, int(there[0])))
        if len(covered) and restore:
            restored.append(_new_formulas(sheet, name, covered, results, int(there[0])))
        if len(covered) and FIELD_SHEET[name].block == "live":
            differences += _report_covered(sheet, name, covered, restore)
        if name in own:
            at = np.searchsorted(rows, sheet.keyed)
            differences += _report_differing(sheet, name, values[at], own[name])
    return FormulaPlan(
        tuple(stored),
        tuple(column for column in added if len(column.rows)),
        tuple(restored),
        tuple(differences),
        int(there[0]),
    )


def _values_of_rows(
    cells: Mapping[str, Values], names: Mapping[str, Values], kind: FormulaSet, rows: Rows
) -> dict[str, Objects]:
    """Return what each formula gives in each row; lines without an entry are worked out once."""
    is_used = np.zeros(len(rows), dtype=bool)
    for column in cells.values():
        is_used |= column.kind != BLANK
    blank = np.flatnonzero(~is_used)[-1:]
    worked_out = _unite(np.flatnonzero(is_used), blank)
    some = {name: column.take(worked_out) for name, column in cells.items()}
    live = live_values(some, names, kind, rows[worked_out])
    # each row has its own place, and a line without an entry that of the last such line
    place = np.searchsorted(
        worked_out, np.where(is_used, np.arange(len(rows)), blank.max(initial=0))
    )
    return {name: values.python(len(worked_out))[place] for name, values in live.items()}


def _unite(*parts: NDArray[np.integer]) -> Rows:
    """Return the rows of all parts, each once, ascending."""
    flags = np.zeros(max(int(part.max(initial=-1)) for part in parts) + 1, dtype=bool)
    for part in parts:
        flags[part] = True
    return np.flatnonzero(flags)


def same_formula(one: str, other: str) -> bool:
    """Return whether two texts are one formula, however a program wrote it."""
    return plain(one) == plain(other)


def letters_of(columns: Mapping[str, int]) -> dict[str, str]:
    """Return the letters of each field's column."""
    return {name: column_letters(column) for name, column in columns.items()}


def _rows_with_ours(sheet: FieldSheet, name: str) -> Rows:
    """Return the rows that hold our formula, of now or before, or are filled down from one."""
    now = _rows_of(sheet, name, sheet.kind.formulas[name])
    former = sheet.kind.in_former_words
    before = _rows_of(sheet, name, former[name]) if name in former else now[:0]
    longer = _rows_rewritten(sheet, name)
    if not len(now) + len(before) + len(longer):
        return now
    return _unite(now, before, longer, *_filled_down(sheet, name))


def _rows_rewritten(sheet: FieldSheet, name: str) -> Rows:
    """Return the rows in which one of our formulas stands as it was before it was shortened."""
    digests, letters = sheet.kind.rewritten.get(name, frozenset()), letters_of(sheet.columns)
    matches = [np.empty(0, dtype=np.int64)]
    for text, rows in sheet.grid.formulas.patterns_of_column(sheet.columns[name]):
        below = rows[rows > sheet.heading_row].astype(np.int64)
        if digests and text and len(below):
            row = int(below[0])
            if digest_formula(in_row(text, row), letters, row) in digests:
                matches.append(below)
    return np.sort(np.concatenate(matches))


def _rows_superseded(sheet: FieldSheet, name: str) -> Rows:
    """Return the rows with a formula of before that gave another result, or filled down from it."""
    old = _rows_of(sheet, name, sheet.kind.superseded[name])
    if not len(old) or len(_rows_of(sheet, name, sheet.kind.formulas[name])):
        return old
    return _unite(old, *_filled_down(sheet, name))


def _filled_down(sheet: FieldSheet, name: str) -> list[NDArray[np.int32]]:
    """Return the rows whose formula is that of a row above."""
    patterns = sheet.grid.formulas.patterns_of_column(sheet.columns[name])
    return [rows[rows > sheet.heading_row] for text, rows in patterns if text == ""]


def _rows_of(sheet: FieldSheet, name: str, formula: str) -> Rows:
    """Return the rows below the heading in which a formula is written out."""
    letters = letters_of(sheet.columns)
    wanted = plain(pattern(render(formula, letters, MAX_ROW), MAX_ROW))
    matches = [np.empty(0, dtype=np.int64)]
    for text, rows in sheet.grid.formulas.patterns_of_column(sheet.columns[name]):
        below = rows[rows > sheet.heading_row].astype(np.int64)
        if text and plain(text) == wanted:
            matches.append(below)
        elif text and len(rows) == 1:
            # a number in the formula may be that of the row by chance, but not in two rows alike
            matches += [
                below[at : at + 1]
                for at, row in enumerate(below.tolist())
                if same_formula(in_row(text, row), render(formula, letters, row))
            ]
    return np.sort(np.concatenate(matches))


def _find_former(sheet: FieldSheet, name: str, rows: Rows) -> Flags:
    """Return which of our formulas have the words of before; one filled down has its head's."""
    none = np.zeros(len(rows), dtype=bool)
    if name not in sheet.kind.in_former_words:
        return none
    before = _rows_of(sheet, name, sheet.kind.in_former_words[name])
    if not len(before):
        return none
    heads = _unite(before, _rows_of(sheet, name, sheet.kind.formulas[name]))
    head = heads[np.maximum(np.searchsorted(heads, rows, side="right") - 1, 0)]
    return np.isin(head, before)


def _in_words(results: _Shown, rows: Rows, former: Flags) -> Objects:
    """Return the values of some rows, in the words of before where the formula has them."""
    values = results.values[np.searchsorted(results.rows, rows)]
    for at in np.flatnonzero(former).tolist():
        values[at] = FORMER.get(values[at], values[at])
    return values


def _new_formulas(
    sheet: FieldSheet, name: str, rows: Rows, results: _Shown, first: int
) -> FormulaColumn:
    """Return our formula in some rows, in the words of the one in the first row."""
    former = _find_former(sheet, name, np.array([first]))
    texts_of = sheet.kind.in_former_words if former[0] else sheet.kind.formulas
    formula, letters = texts_of[name], letters_of(sheet.columns)
    texts = [render(formula, letters, row) for row in rows.tolist()]
    values = _in_words(results, rows, np.repeat(former, len(rows)))
    return FormulaColumn(name, sheet.columns[name], rows, values, texts)


def _rows_without_ours(sheet: FieldSheet, name: str, ours: Rows) -> tuple[Rows, Rows]:
    """Return the keyed rows whose cell is blank, and those whose cell holds something else."""
    column = sheet.columns[name]
    rest = sheet.keyed[~np.isin(sheet.keyed, ours)]
    if not len(rest):
        return rest, rest
    formulas, _ = sheet.grid.formulas.columns.get(column, (np.empty(0, dtype=np.int32), None))
    filled = [sheet.grid.value(row, column) is not None for row in rest.tolist()]
    there = np.isin(rest, formulas) | np.array(filled, dtype=bool)
    return rest[~there], rest[there]


def _remark_on_columns(sheet: FieldSheet, gone: Sequence[str]) -> str:
    labels = ", ".join(f"“{FIELD_SHEET[name].label}”" for name in gone)
    return (
        f"{sheet.name}: the formulas were not changed, because they need {labels}, which "
        f"{'is' if len(gone) == 1 else 'are'} missing. Use the values on Trees"
    )


def _report_differing(
    sheet: FieldSheet, name: str, given: Objects, own: Objects
) -> list[DifferingCells]:
    """Return where a formula gives less or something else than the program reads."""
    kinds: dict[Kind, list[int]] = {"less": [], "other": []}
    numbers, readings = _numbers(given), _numbers(own)
    agree = np.abs(numbers - readings) <= SAME * np.maximum(1.0, np.abs(readings))
    for at in np.flatnonzero(~agree).tolist():
        is_empty = given[at] in (None, "")
        if given[at] != WITH_FILL and not (is_empty and own[at] is None):
            kinds["less" if is_empty else "other"].append(int(sheet.keyed[at]))
    return [_difference(sheet, name, np.array(rows), kind) for kind, rows in kinds.items() if rows]


def _report_covered(
    sheet: FieldSheet, name: str, rows: Rows, restored: bool
) -> list[DifferingCells]:
    """Return the cells with another formula than ours, or with what was typed."""
    if restored:
        return [_difference(sheet, name, rows, "restored")]
    formulas, _ = sheet.grid.formulas.columns.get(sheet.columns[name], (rows[:0], None))
    another = np.isin(rows, formulas)
    kinds: dict[Kind, Rows] = {"another": rows[another], "left": rows[~another]}
    return [
        _difference(sheet, name, of_kind, kind) for kind, of_kind in kinds.items() if len(of_kind)
    ]


def _difference(sheet: FieldSheet, name: str, rows: Rows, kind: Kind) -> DifferingCells:
    return DifferingCells(sheet.name, FIELD_SHEET[name].label, sheet.columns[name], rows, kind)


def _numbers(cells: Objects) -> NDArray[np.float64]:
    """Return the numbers among some cells, NaN for the others."""
    items = (item if isinstance(item, float) else np.nan for item in cells.tolist())
    return np.fromiter(items, dtype=float, count=len(cells))
