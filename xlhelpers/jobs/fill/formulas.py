"""The native formulas of a workbook while it is filled: results stored, formulas added."""

from collections.abc import Mapping
from dataclasses import dataclass, field

from xlhelpers.jobs.fill.summary import note_formulas, note_refusals
from xlhelpers.live.fill import BookPlan, plan_book, tabs_of_plan
from xlhelpers.package.formulas.formula_edit import edit_formulas
from xlhelpers.package.parts.parts import defined_names, sheets
from xlhelpers.package.sheet.cell_edit import WriteResult
from xlhelpers.package.sheet.cell_set import CellSet
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.zip.container import Package
from xlhelpers.survey.outcome import Outcome


@dataclass(frozen=True)
class FormulasFilled:
    """What was done: cells changed by sheet, every cell with a formula of ours, what to note.

    `fresh_sheets` are those without any other formula.
    """

    changed: dict[str, CellSet] = field(default_factory=dict)
    fresh: dict[str, CellSet] = field(default_factory=dict)
    fresh_sheets: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def plan_formulas(package: Package, outcome: Outcome, *, restore: bool) -> BookPlan:
    """Plan the formula cells of an opened workbook from the cells as they are typed."""
    names = defined_names(package)
    if not any(name.name.startswith("xlh_of_") for name in names):
        return BookPlan()
    wanted = {tab.casefold() for tab in tabs_of_plan(names, outcome)}
    grids = {
        part.name: read_grid(package, part)
        for part in sheets(package)
        if part.kind == "worksheet" and part.part and part.name.casefold() in wanted
    }
    return plan_book(names, grids, outcome, restore=restore)


def write_formulas(
    package: Package, plan: BookPlan, done: Mapping[str, WriteResult]
) -> FormulasFilled:
    """Write what was planned; `done` is what became of the sheets that are written already."""
    by_name = {sheet.name: sheet for sheet in sheets(package)}
    changed: dict[str, CellSet] = {}
    notes = [*plan.notes, *note_formulas(plan.differences)]
    for name, sheet in plan.sheets.items():
        result = done.get(name) or edit_formulas(package, by_name[name], sheet.edits)
        if result.changed:
            changed[name] = result.changed
        notes += note_refusals(name, "formula", result.refusals)
    fresh = {name: sheet.formulas for name, sheet in plan.sheets.items()} if changed else {}
    only_ours = tuple(name for name, sheet in plan.sheets.items() if sheet.only_ours)
    return FormulasFilled(changed, fresh, only_ours, tuple(notes))


def together(*sets: dict[str, CellSet]) -> dict[str, CellSet]:
    """Return the cells of several sets by sheet, put together."""
    names = dict.fromkeys(name for cells in sets for name in cells)
    return {
        name: CellSet.together(cells[name] for cells in sets if name in cells) for name in names
    }
