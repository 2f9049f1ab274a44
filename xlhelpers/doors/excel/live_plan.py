"""Rehearse a fill on the copy of the open workbook and list what it changes.

The plan is the same as for a closed workbook. The writer of closed workbooks carries it out on the
copy, with all its refusals. The open workbook then gets what changed there.
"""

from collections.abc import Collection, Iterator, Mapping
from dataclasses import dataclass

from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.jobs.fill.fill import set_aside, write_field_sheets
from xlhelpers.jobs.fill.formulas import together, write_formulas
from xlhelpers.jobs.fill.plan import FillPlan
from xlhelpers.live.fill import SheetFormulas
from xlhelpers.package.formulas.formula_edits import FormulaWrite
from xlhelpers.package.graft.graft_plan import free_sheet_name
from xlhelpers.package.parts.parts import SheetPart, defined_names, sheets
from xlhelpers.package.sheet.cell_set import Place
from xlhelpers.package.sheet.cell_writes import Written
from xlhelpers.package.sheet.grid import Grid, read_grid
from xlhelpers.package.sheet.grid_scan import CellError, Value
from xlhelpers.package.sheet.references import cell_name, parse_target
from xlhelpers.package.zip.container import Package
from xlhelpers.pages import our_tabs
from xlhelpers.survey.decisions.decision_words import say_decisions
from xlhelpers.survey.outcome import Outcome


@dataclass(frozen=True)
class Change:
    """One changed cell before and after; a new `formula` is without its equals sign."""

    sheet: str
    row: int
    column: int
    before: Value
    after: Value
    formula: str | None = None

    @property
    def cell(self) -> str:
        """Return the address, such as "J12"."""
        return cell_name(self.row, self.column)


@dataclass(frozen=True)
class LiveTab:
    """One result tab: its cells, its name, and the tab that it replaces.

    `in_place`: formulas of the user point at the old tab, so it stays and gets new values.
    `digest` is that of the whole tab.
    """

    key: str
    grid: Grid
    source: str
    name: str
    replaces: str | None
    in_place: bool
    digest: str


@dataclass(frozen=True)
class LivePlan:
    """Everything that the open workbook gets: cells, tabs, new names for tabs that stay."""

    outcome: Outcome
    changes: tuple[Change, ...]
    tabs: tuple[LiveTab, ...]
    renamed: Mapping[str, str]
    fingerprint: str
    notes: tuple[str, ...]


def rehearse(package: Package, plan: FillPlan, rendered: Package) -> LivePlan:
    """Carry out a plan on the copy and return what it changed.

    Parameters
    ----------
    package : Package
        The copy of the open workbook; it is changed.
    plan : FillPlan
        The plan made from it.
    rendered : Package
        The result tabs of the plan, opened.
    """
    parts = {sheet.name: sheet for sheet in sheets(package)}
    wanted = {name for name, _ in plan.field_sheets} | set(plan.formulas.sheets)
    before = {name: read_grid(package, parts[name]) for name in wanted}
    touched, done, notes = write_field_sheets(package, plan)
    formulas = write_formulas(package, plan.formulas, done)
    locked = {name for name, grid in before.items() if grid.protected}
    cells = together(touched, formulas.changed)
    changes = [
        Change(name, *change)
        for name in sorted(set(cells) - locked)
        for change in _changes(
            (before[name], read_grid(package, parts[name])),
            cells[name],
            plan.formulas.sheets.get(name),
        )
    ]
    changes = [*_entered_from_paper(plan), *changes]
    notes += [
        f"{name} is protected, so nothing was written there. Unprotect it and fill again, or close "
        "the workbook and run xlhelpers fill."
        for name in sorted(locked & set(cells))
    ]
    tabs, renamed, kept = _plan_tabs(package, plan, rendered)
    remarks = plan.outcome.ledger.remarks
    notes += [
        *plan.paper.notes,
        *say_decisions(plan.outcome.standings),
        *plan.typed.sentences,
        *formulas.notes,
        *remarks,
        *kept,
    ]
    return LivePlan(plan.outcome, tuple(changes), tabs, renamed, plan.fingerprint, tuple(notes))


def _entered_from_paper(plan: FillPlan) -> Iterator[Change]:
    """Yield the cells that got what the paper says before the plan was made."""
    for one in plan.paper.corrected:
        cell = one.cell
        yield Change(cell.sheet, cell.row, cell.column, one.before, _as_held(one.after))


def _as_held(value: Written) -> Value:
    return float(value) if isinstance(value, int) and not isinstance(value, bool) else value


def _changes(
    grids: tuple[Grid, Grid], cells: Collection[Place], edits: SheetFormulas | None
) -> Iterator[tuple[int, int, Value, Value, str | None]]:
    """Return the changed cells of a sheet, without results that formulas give by themselves."""
    before, after = grids
    texts = {}
    if edits is not None:
        texts = {
            (e.row, e.column): e.formula for e in edits.edits.edits if isinstance(e, FormulaWrite)
        }
    for row, column in cells:
        formula = texts.get((row, column))
        if formula is not None or (row, column) not in after.formulas:
            yield row, column, before.value(row, column), after.value(row, column), formula


def _plan_tabs(
    package: Package, plan: FillPlan, rendered: Package
) -> tuple[tuple[LiveTab, ...], dict[str, str], list[str]]:
    present = our_tabs.find_tabs(package)
    same = our_tabs.stored_text(package, our_tabs.FINGERPRINT_NAME) == plan.fingerprint
    if same and set(present) == set(RESULT_TABS):
        return (), {}, []
    by_number = {sheet.sheet_id: sheet.name for sheet in sheets(package)}
    olds, kept = set_aside(package, present)
    renamed = {
        by_number[sheet.sheet_id]: sheet.name
        for sheet in sheets(package)
        if sheet.name != by_number[sheet.sheet_id]
    }
    taken = {sheet.name.casefold() for sheet in sheets(package)}
    pointed_at = _pointed_at(package, {present[key].name for key in olds})
    tabs = []
    found = our_tabs.find_tabs(rendered)
    for key, sheet in ((key, found[key]) for key in RESULT_TABS if key in found):
        old = present[key].name if key in olds else None
        name = old or free_sheet_name(RESULT_TABS[key], taken)
        taken.add(name.casefold())
        digest = our_tabs.digest_tab(rendered, sheet, key).digest
        grid = read_grid(rendered, sheet)
        tabs.append(LiveTab(key, grid, sheet.name, name, old, old in pointed_at, digest))
    return tuple(tabs), renamed, kept


def _pointed_at(package: Package, tabs: set[str]) -> set[str]:
    """Return the tabs that a formula on another sheet names."""
    found: set[str] = set()
    for sheet in sheets(package):
        if sheet.name in tabs or sheet.kind != "worksheet" or not sheet.part:
            continue
        texts = [text for text in read_grid(package, sheet).formulas.texts if "!" in text]
        found |= {tab for tab in tabs if any(_names(text, tab) for text in texts)}
    return found


def _names(text: str, tab: str) -> bool:
    inside = text.casefold()
    return f"{tab.casefold()}!" in inside or f"{tab.casefold()}'!" in inside


def plain(value: Value) -> float | str | bool | None:
    """Return a value for a list; an error by its name."""
    return value.code if isinstance(value, CellError) else value


def sheet_of(package: Package, name: str) -> SheetPart | None:
    """Return the sheet at which a defined name of ours points."""
    by_name = {sheet.name: sheet for sheet in sheets(package)}
    for known in defined_names(package):
        target = parse_target(known.text) if known.name == name else None
        if target is not None and target[0] in by_name:
            return by_name[target[0]]
    return None
