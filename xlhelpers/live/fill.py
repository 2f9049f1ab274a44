"""What a fill writes into the formula cells of a whole workbook.

Three kinds of cells: the live columns of each field sheet, the tables behind them on the hidden
sheet, and on each plot how many lines are entered.
"""

from __future__ import annotations

import re
from array import array
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.live.evaluate import KEYED_NAMES, keyed_cells, lookup_values, named_area
from xlhelpers.live.lookups import LOOKUPS, figures
from xlhelpers.live.plan import (
    FieldSheet,
    FormulaColumn,
    FormulaPlan,
    Objects,
    plan_formulas,
    same_formula,
)
from xlhelpers.live.progress import UNCHECKED, counts_of_sum, progress_text
from xlhelpers.live.rule_words import RULE_WORDS, rule_headings, rule_text
from xlhelpers.live.values import Values
from xlhelpers.package.formulas.formula_edits import (
    FormulaEdit,
    FormulaEdits,
    FormulaWrite,
    StoredColumn,
    StoredValue,
)
from xlhelpers.package.parts.parts import DefinedName
from xlhelpers.package.sheet.cell_set import CellSet
from xlhelpers.package.sheet.cell_text import is_filled
from xlhelpers.package.sheet.grid import Grid
from xlhelpers.pages.live_differences import DifferingCells
from xlhelpers.survey.outcome import Outcome

# what another program stored may be rounded to 15 digits
ROUNDED = 1e-12
_LINES = re.compile(r"COUNTIFS\((?:'((?:[^']|'')+)'|([^'!(]+))!\$?([A-Z]+)\$?([0-9]+):")


@dataclass(frozen=True)
class SheetFormulas:
    """The edits of one sheet; `formulas` are all cells that hold a formula of ours afterwards.

    `only_ours` says that the sheet has no other formula.
    """

    edits: FormulaEdits
    formulas: CellSet
    only_ours: bool = False


@dataclass(frozen=True)
class BookPlan:
    """What a fill writes, by sheet, the field sheets with live formulas, and what it reports."""

    sheets: Mapping[str, SheetFormulas] = field(default_factory=dict)
    live: frozenset[str] = frozenset()
    differences: tuple[DifferingCells, ...] = ()
    notes: tuple[str, ...] = ()


def tabs_of_plan(names: Sequence[DefinedName], outcome: Outcome) -> set[str]:
    """Return the sheets that `plan_book` reads, of a workbook with these defined names."""
    wanted = {*KEYED_NAMES, *_table_names()}
    targets = (named_area(name.text) for name in names if name.name in wanted)
    return {
        *(target[0] for target in targets if target is not None),
        *(str(tab) for tab in outcome.survey.lines["_sheet"].unique()),
        *(tab for tab, name in outcome.survey.columns if name == "progress"),
    }


def plan_book(
    names: Sequence[DefinedName],
    grids: Mapping[str, Grid],
    outcome: Outcome,
    *,
    restore: bool = False,
) -> BookPlan:
    """Plan the formula cells of a workbook.

    Parameters
    ----------
    names : sequence
        The defined names of the workbook.
    grids : mapping
        The cells of its sheets by name.
    outcome : Outcome
        The survey as read and computed.
    restore : bool
        Whether formulas take the place of what was typed over them.

    Returns
    -------
    BookPlan
        Empty for a workbook that was made without formulas.
    """
    keyed = keyed_cells(names, grids)
    if keyed is None:
        return BookPlan()
    units = outcome.survey.units
    values = lookup_values(keyed, units)
    plans = _field_sheets(grids, outcome, values, restore)
    if not plans:
        return BookPlan()
    edits = {name: _edits(plan, grids[name]) for name, plan in plans.items()}
    for name in plans:
        columns = {
            field: at for (sheet, field), at in outcome.survey.columns.items() if sheet == name
        }
        words = _rule_words(grids[name], columns, units, values)
        edits[name] = _together(edits[name], _keep_new_results(words, grids[name]))
    edits |= _tables(names, grids, values)
    edits |= _progress(grids, outcome, plans)
    edits = {
        name: replace(sheet_edits, only_ours=grids[name].formulas.all_in(sheet_edits.formulas))
        for name, sheet_edits in edits.items()
    }
    differences = tuple(cells for plan in plans.values() for cells in plan.differences)
    notes = tuple(sentence for plan in plans.values() for sentence in plan.remarks)
    return BookPlan(edits, frozenset(plans), differences, notes)


def _field_sheets(
    grids: Mapping[str, Grid], outcome: Outcome, values: Mapping[str, Values], restore: bool
) -> dict[str, FormulaPlan]:
    lines = outcome.survey.lines
    named = ((lines["plot"] != "") & (lines["tree"] != "")).to_numpy()
    own = own_readings(outcome)
    plans = {}
    for name in dict.fromkeys(lines["_sheet"]):
        here = np.flatnonzero((lines["_sheet"] == name).to_numpy() & named)
        here = here[np.argsort(lines["_row"].to_numpy()[here], kind="stable")]
        columns = {f: at for (tab, f), at in outcome.survey.columns.items() if tab == name}
        rows = lines["_row"].to_numpy(dtype=np.int64)[here]
        heading = _heading_row(grids[name], columns)
        sheet = FieldSheet(name, grids[name], columns, heading, rows)
        plan = plan_formulas(
            sheet, values, {f: column[here] for f, column in own.items()}, restore=restore
        )
        if plan is not None:
            plans[name] = plan
    return plans


def _heading_row(grid: Grid, columns: Mapping[str, int]) -> int:
    """Return the row above the first cell of the live columns that holds a formula."""
    wanted = {columns[name] for name in columns if FIELD_SHEET[name].block == "helper"}
    firsts = (int(grid.formulas.columns[at][0][0]) for at in wanted if at in grid.formulas.columns)
    return min(firsts, default=1) - 1


def own_readings(outcome: Outcome) -> dict[str, Objects]:
    """Return the program's own reading of each line in the unit shown, None for none.

    A crown base a little below the foot, which the program counts as at the foot, stands as
    sighted: only the program knows its uncertainty.
    """
    setups = outcome.setups
    as_sighted = setups["base_set_to_zero"].to_numpy(dtype=bool)
    base = np.where(as_sighted, setups["base_sighted"], setups["crown_base"]).astype(float)
    top = setups["crown_top"].to_numpy(dtype=float)
    depth = np.where(as_sighted & (top > base), top - base, setups["crown_depth"]).astype(float)
    inner = {
        "live_distance": setups["level_distance"].to_numpy(dtype=float),
        "live_base": base,
        "live_top": top,
        "live_total": setups["total_height"].to_numpy(dtype=float),
        "live_depth": depth,
    }
    units = outcome.survey.units
    factor = QUANTITIES["length"].factor(units)
    readings = {}
    for name, column in inner.items():
        values = (column / factor).astype(object)
        values[np.isnan(column)] = None
        readings[name] = values
    return readings


def _edits(plan: FormulaPlan, grid: Grid) -> SheetFormulas:
    columns = [_new_results(column, grid) for column in plan.stored]
    edits: list[FormulaEdit] = []
    for column in (*plan.added, *plan.restored):
        like = (plan.first, column.column)
        for (row, at, value), text in zip(_cells(column), column.texts, strict=True):
            edits.append(FormulaWrite(row, at, text, value, like, like))
    overwritten = frozenset((r, at) for c in plan.restored for r, at, _ in _cells(c))
    standing = (*plan.stored, *plan.added, *plan.restored)
    every = CellSet.together(
        CellSet({column.column: array("q", column.rows.tobytes())}) for column in standing
    )
    new_columns = tuple(column for column in columns if len(column.rows))
    return SheetFormulas(FormulaEdits(tuple(edits), new_columns, overwritten), every)


def _new_results(column: FormulaColumn, grid: Grid) -> StoredColumn:
    """Return the results of a column that are not stored yet."""
    before = grid.values[column.rows - 1, column.column - 1]
    new = is_filled(column.values)
    # most of them are alike, and comparing is slow one by one
    is_alike = np.asarray(before == column.values, dtype=bool)
    types = list(map(type, column.values.tolist()))
    if bool in types:  # which equals 0 or 1
        is_alike &= np.fromiter((of is not bool for of in types), bool, len(is_alike))
    new[is_alike] = False
    for at in np.flatnonzero(is_filled(before) & ~is_alike).tolist():
        new[at] = not _same(before[at], column.values[at])
    never = np.asarray(grid.uncalculated.rows_of.get(column.column, ()), dtype=np.int64)
    new |= np.isin(column.rows, never)
    return StoredColumn(column.column, column.rows[new], column.values[new])


def _cells(column: FormulaColumn) -> list[tuple[int, int, float | str | bool | None]]:
    rows, values = column.rows.tolist(), column.values.tolist()
    return [(row, column.column, value) for row, value in zip(rows, values, strict=True)]


def _rule_words(
    grid: Grid, columns: Mapping[str, int], units: Units, values: Mapping[str, Values]
) -> list[StoredValue]:
    """Return the results of headings, and words above them, that follow the survey rules."""
    return [
        StoredValue(row, columns[name], rule_text(ours, values))
        for name, ours in (*RULE_WORDS.items(), *rule_headings(units).items())
        if name in columns
        for row, text in grid.formulas.of_column(columns[name])
        if same_formula(text, ours)
    ]


def _together(one: SheetFormulas, other: SheetFormulas) -> SheetFormulas:
    """Return the edits of both, each of other cells."""
    edits = replace(one.edits, edits=(*one.edits.edits, *other.edits.edits))
    return SheetFormulas(edits, CellSet.together((one.formulas, other.formulas)))


def _table_names() -> set[str]:
    return {name for lookup in LOOKUPS for name in lookup.columns} | set(figures("metric"))


def _tables(
    names: Sequence[DefinedName], grids: Mapping[str, Grid], values: Mapping[str, Values]
) -> dict[str, SheetFormulas]:
    """Return the results of the tables on the hidden sheet."""
    wanted = _table_names()
    columns: dict[str, list[FormulaColumn]] = {}
    for name in names:
        target = named_area(name.text) if name.name in wanted else None
        if target is None or target[0] not in grids:
            continue
        sheet, (top, column, bottom, _) = target
        rows, _ = grids[sheet].formulas.columns.get(column, (np.empty(0, dtype=np.int64), None))
        rows = rows[(rows >= top) & (rows <= bottom)].astype(np.int64)
        if not len(rows):
            continue
        results = values[name.name].python(bottom - top + 1)[rows - top]
        columns.setdefault(sheet, []).append(FormulaColumn(name.name, column, rows, results, ()))
    return {
        sheet: _keep_new_columns(sheet_columns, grids[sheet])
        for sheet, sheet_columns in columns.items()
    }


def _keep_new_columns(columns: Sequence[FormulaColumn], grid: Grid) -> SheetFormulas:
    """Keep the results of whole columns that are not stored yet."""
    new = tuple(column for item in columns if len((column := _new_results(item, grid)).rows))
    every = CellSet.together(CellSet({c.column: array("q", c.rows.tobytes())}) for c in columns)
    return SheetFormulas(FormulaEdits((), new), every)


def _keep_new_results(edits: Sequence[FormulaEdit], grid: Grid) -> SheetFormulas:
    """Keep the results that are not stored yet."""
    new = tuple(edit for edit in edits if not _is_stored(edit, grid))
    return SheetFormulas(FormulaEdits(new), CellSet.of((e.row, e.column) for e in edits))


def _is_stored(edit: FormulaEdit, grid: Grid) -> bool:
    if (edit.row, edit.column) in grid.uncalculated:
        return False
    return _same(grid.value(edit.row, edit.column), edit.value)


def _same(before: object, value: object) -> bool:
    if isinstance(before, float) and isinstance(value, float):
        return abs(before - value) <= ROUNDED * max(1.0, abs(value))
    return type(before) is type(value) and before == value


def _key(value: object) -> str:
    """Return what a count of equal cells compares: a number and the same one as a text agree."""
    if isinstance(value, float):
        return f"{value:.15g}"
    text = str(value).lower()
    return f"{float(text):.15g}" if re.fullmatch(r"[+-]?[0-9]+(?:\.[0-9]+)?", text) else text


def _progress(
    grids: Mapping[str, Grid], outcome: Outcome, plans: Mapping[str, FormulaPlan]
) -> dict[str, SheetFormulas]:
    """Return the results of the formulas on Plots that count the lines entered."""
    columns, results = outcome.survey.columns, {}
    for (tab, name), column in columns.items():
        if name != "progress" or tab not in grids or (tab, "trees_counted") not in columns:
            continue
        grid = grids[tab]
        plot_at, counted_at = columns[tab, "plot"], columns[tab, "trees_counted"]
        formulas = list(grid.formulas.of_column(column))
        counts = _counts(grids, formulas[0][1], outcome, plans) if formulas else None
        if counts is None:
            continue
        edits: list[FormulaEdit] = []
        for row, formula in formulas:
            plot, counted = grid.value(row, plot_at), grid.value(row, counted_at)
            text = ""
            if plot not in (None, ""):
                key, known = _key(plot), counted if isinstance(counted, float) else None
                # a formula that is filled down has no text of its own
                text = counts.text(key, known, formula or formulas[0][1])
            edits.append(StoredValue(row, column, text))
        for helper, numbers in (("helper_lines", counts.lines), ("helper_sum", counts.sums)):
            for row, _ in grid.formulas.of_column(columns.get((tab, helper), 0)):
                plot = grid.value(row, plot_at)
                edits.append(
                    StoredValue(row, columns[tab, helper], float(numbers[_key(plot)]))
                    if plot not in (None, "")
                    else StoredValue(row, columns[tab, helper], 0.0)
                )
        results[tab] = _keep_new_results(edits, grid)
    return results


@dataclass(frozen=True)
class _Counts:
    """By plot: trees by their set-ups, lines with a warning, lines, sums of what lines state."""

    entered: Counter[str]
    to_check: Counter[str]
    lines: Counter[str]
    sums: Counter[str]

    def text(self, plot: str, counted: float | None, formula: str) -> str:
        """Return what the formula of a plot gives."""
        if UNCHECKED not in formula:
            return progress_text(self.entered[plot], counted, self.to_check[plot], formula)
        entered, to_check, there = counts_of_sum(self.sums[plot])
        unchecked = self.lines[plot] - there
        if unchecked > 0:
            entered = self.entered[plot]
        return progress_text(entered, counted, to_check, formula, unchecked)


def _counts(
    grids: Mapping[str, Grid], formula: str, outcome: Outcome, plans: Mapping[str, FormulaPlan]
) -> _Counts | None:
    """Return by plot what the formulas on Plots count."""
    target = _LINES.search(formula)
    if target is None:
        return None
    sheet = str(target[1] or target[2]).replace("''", "'")
    if sheet not in plans:
        return None
    columns, first = outcome.survey.columns, int(target[4])
    grid, plan = grids[sheet], plans[sheet]
    count = len(grid.values[first - 1 :])

    def cells(name: str) -> list[object]:
        at = columns.get((sheet, name), grid.shape[1] + 1) - 1
        inside = at < grid.shape[1]
        values: list[object] = grid.values[first - 1 :, at].tolist() if inside else [None] * count
        for column in (*plan.stored, *plan.added, *plan.restored):
            if column.name == name:
                for row, _, value in _cells(column):
                    if 0 <= row - first < count:
                        values[row - first] = value
        return values

    plots, setups, warnings = cells("plot"), cells("setup"), cells("live_warning")
    counts = _Counts(Counter(), Counter(), Counter(), Counter())
    # with their types, because TRUE equals 1 here and not in a count
    keys = {(type(cell), cell): _key(cell) for cell in (*plots, *setups)}
    lines = zip(plots, setups, warnings, cells("helper_count"), strict=True)
    for plot, setup, warning, stated in lines:
        if plot not in (None, ""):
            name = keys[type(plot), plot]
            counts.entered[name] += setup in (None, "") or keys[type(setup), setup] == "1"
            counts.to_check[name] += isinstance(warning, str) and warning != ""
            counts.lines[name] += 1
            counts.sums[name] += int(stated) if isinstance(stated, float) else 0
    return counts
