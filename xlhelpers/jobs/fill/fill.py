"""The main job: read, set-ups, trees, checks, summaries, plan, write.

Everything is computed and planned in memory; the workbook on disk is touched once, at the end,
as a whole, and only if something changed.
"""

from collections.abc import Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path

from xlhelpers.errors import WorkbookError
from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.jobs.fill.enter_paper import enter_paper
from xlhelpers.jobs.fill.field_writes import missing_result_columns
from xlhelpers.jobs.fill.formulas import together, write_formulas
from xlhelpers.jobs.fill.hand_formats import marks_go_over
from xlhelpers.jobs.fill.plan import FillPlan, plan_fill
from xlhelpers.jobs.fill.summary import (
    KEPT_TAB,
    NO_COLUMN,
    PROTECTED,
    Filled,
    fill_facts,
    note_refusals,
    say_filled,
)
from xlhelpers.jobs.fill.tab_looks import plan_looks, say_formats_unknown, seals_of_looks
from xlhelpers.jobs.fill.tab_moves import heading_row, move_of, moves_that_matter, say_followed
from xlhelpers.jobs.job import NOTHING_TO_CHECK, TO_CHECK, Done, Progress
from xlhelpers.package.formulas.follow import follow_everywhere
from xlhelpers.package.formulas.formula_edit import edit_sheet
from xlhelpers.package.formulas.stale_results import refresh_on_open
from xlhelpers.package.graft.graft import graft_sheets, rename_sheet
from xlhelpers.package.graft.looks import Look, look_of
from xlhelpers.package.parts.parts import SheetPart, sheets, why_not_writable
from xlhelpers.package.sheet.cell_edit import WriteResult, edit_cells
from xlhelpers.package.sheet.cell_set import CellSet
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.safe_write import clear_leftovers, write_book
from xlhelpers.pages import our_tabs
from xlhelpers.reading.outcome import compute
from xlhelpers.reading.refusals import refuse_unfillable, refuse_unreadable
from xlhelpers.survey.decisions.decision_words import say_decisions


def run(book: Path, out: Path | None, restore_formulas: bool, progress: Progress) -> Done:
    """Fill one workbook and say what was done."""
    refuse_unfillable(book) if out is None else refuse_unreadable(book)
    filled = fill(book, out, progress, restore_formulas=restore_formulas)
    return Done(
        say_filled(filled),
        TO_CHECK if filled.outcome.open_findings else NOTHING_TO_CHECK,
        () if filled.written_to is None else (filled.written_to,),
        facts=partial(fill_facts, book, filled),
    )


def fill(
    book: Path,
    out: Path | None = None,
    progress: Progress = lambda _: None,
    *,
    restore_formulas: bool = False,
) -> Filled:
    """Fill one workbook, in place with a backup, or into another file.

    Parameters
    ----------
    book : Path
        The workbook.
    out : Path, optional
        Where to put the filled copy; the workbook itself then stays as it is.
    progress : callable, optional
        Given the name of each step as it begins.
    restore_formulas : bool, optional
        Whether formulas of the live columns replace what was typed over them.

    Raises
    ------
    WorkbookError
        If the workbook cannot be read or written; it is then unchanged.
    """
    progress("reading")
    target = book if out is None else out
    cut_off = clear_leftovers(target)
    package = Package.open(book)
    refusal = why_not_writable(package)
    if refusal is not None:
        raise WorkbookError(refusal)
    progress("measuring and checking")
    outcome, paper = enter_paper(package, compute(package))
    plan = plan_fill(package, outcome, book.name, restore=restore_formulas, paper=paper)
    # no longer needed; it takes half as much memory as what is written
    package.forget("grid")
    filled = _write(package, plan, progress)
    del plan  # with the rows of the tabs, which are written
    if cut_off:
        filled = replace(filled, notes=(cut_off, *filled.notes))
    if not filled.cells_changed and not filled.tabs_written and out is None:
        return filled
    progress("saving")
    data = package.to_bytes()
    backup = write_book(
        target,
        data,
        backup=target.exists(),
        expected=package.digest if target == book else None,
    )
    return replace(filled, written_to=target, backup=backup)


def _write(package: Package, plan: FillPlan, progress: Progress) -> Filled:
    """Write all that was planned into the opened workbook; nothing is saved yet."""
    progress("filling the field sheet")
    touched, done, notes = write_field_sheets(package, plan)
    formulas = write_formulas(package, plan.formulas, done)
    progress("writing the summary tabs")
    tabs, followers, tab_notes = _write_tabs(package, plan)
    # a formula whose result was just stored counts as fresh
    written = together(touched, formulas.fresh, plan.paper.cells, followers) | tabs
    refresh_on_open(package, written, fresh_sheets=(*tabs, *formulas.fresh_sheets))
    locked = [PROTECTED.format(sheet=name) for name in touched if name in plan.locked]
    remarks = plan.outcome.ledger.remarks
    restored = any(cells.kind == "restored" for cells in plan.formulas.differences)
    return Filled(
        plan.outcome,
        None,
        None,
        sum(map(len, (*touched.values(), *formulas.changed.values(), plan.paper.corrected))),
        tuple(tabs),
        (
            *plan.paper.notes,
            *say_decisions(plan.outcome.standings),
            *plan.typed.sentences,
            *locked,
            *notes,
            *formulas.notes,
            *remarks,
            *tab_notes,
        ),
        typed_over=plan.typed.cells,
        replaced=bool(plan.typed.cells or plan.paper.corrected) or restored,
        corrected=plan.paper.corrected,
    )


def write_field_sheets(
    package: Package, plan: FillPlan
) -> tuple[dict[str, CellSet], dict[str, WriteResult], list[str]]:
    """Write the result columns and the live formulas of the field sheets.

    Returns the cells of the result columns that changed, by sheet; what became of the formulas,
    by sheet; and notes about what was left out.
    """
    by_name = {sheet.name: sheet for sheet in sheets(package)}
    touched: dict[str, CellSet] = {}
    done: dict[str, WriteResult] = {}
    notes: list[str] = []
    for name, writes in plan.field_sheets:
        if name in plan.formulas.sheets:
            formulas = plan.formulas.sheets[name].edits
            result, done[name] = edit_sheet(package, by_name[name], writes, formulas)
        else:
            result = edit_cells(package, by_name[name], writes)
        if result.changed:
            touched[name] = result.changed
        notes += note_refusals(name, "result cell", result.refusals)
    for sheet, label in missing_result_columns(plan.outcome):
        notes.append(NO_COLUMN.format(sheet=sheet, label=label))
    return touched, done, notes


def _write_tabs(
    package: Package, plan: FillPlan
) -> tuple[dict[str, CellSet], dict[str, CellSet], list[str]]:
    """Replace our tabs if anything in them changed.

    Returns the changed cells of our tabs, those of other sheets whose formulas followed, and notes.
    """
    # Without a change there are no tabs in the answer.
    present = our_tabs.find_tabs(package)
    same = our_tabs.stored_text(package, our_tabs.FINGERPRINT_NAME) == plan.fingerprint
    if same and set(present) == set(RESULT_TABS):
        return {}, {}, []
    before = {key: our_tabs.digest_present_tab(package, tab, key) for key, tab in present.items()}
    rendered = Package.from_bytes(plan.tabs.scratch, "result tabs.xlsx")
    old_looks = {key: look_of(package, tab) for key, tab in present.items()}
    rows = plan.tabs.rows
    new_digests = {
        key: our_tabs.digest_tab(rendered, tab, key, rows.get(tab.part, ()))
        for key, tab in our_tabs.find_tabs(rendered).items()
    }
    looks, not_carried = plan_looks(package, old_looks, before, rendered, new_digests)
    kept_names, notes = set_aside(package, present, before, looks)
    notes += [note for key, left in not_carried.items() if key not in kept_names for note in left]
    olds = {key: digest for key, digest in before.items() if key not in kept_names}
    notes += say_formats_unknown(package, olds)
    digests = {key: digest.digest for key, digest in new_digests.items()}
    changed = {
        tab.name: our_tabs.changes(olds.get(key), new_digests[key])
        for key, tab in our_tabs.find_tabs(rendered).items()
    }
    names = graft_sheets(
        package,
        rendered,
        replacing={RESULT_TABS[key]: present[key].name for key in olds},
        defined=our_tabs.names_of(rendered)
        | our_tabs.seals(digests, plan.fingerprint)
        | seals_of_looks(rendered, new_digests, rows),
        rows=rows,
        looks=looks,
    )
    written = dict(zip((sheet.name for sheet in sheets(rendered)), names, strict=True))
    ours = our_tabs.find_tabs(rendered)
    moves = {
        present[key].name: move_of(
            before[key].values,
            new_digests[key].values,
            heading_row(rendered, tab),
            name=written[tab.name],
            kept_as=kept_names.get(key, ""),
        )
        for key, tab in ours.items()
        if key in present
    }
    followed = follow_everywhere(
        package,
        moves_that_matter(moves),
        without=(*names, *kept_names.values()),
        ours={name.casefold() for name in our_tabs.names_of(rendered)},
    )
    return (
        {written[of]: changed[of] for of in written if of in changed},
        {sheet: CellSet.of(places) for sheet, places in followed.cells.items()},
        [*notes, *say_followed(followed)],
    )


def set_aside(
    package: Package,
    present: Mapping[str, SheetPart],
    digests: Mapping[str, our_tabs.TabDigest],
    looks: Mapping[str, Look],
) -> tuple[dict[str, str], list[str]]:
    """Give tabs with additions new names; return these by key, and notes.

    A tab whose marked cells all have their marks on the new tab has no additions.
    """
    kept_names, notes = {}, []
    for key, sheet in present.items():
        seal = our_tabs.stored_text(package, our_tabs.seal_name(key))
        look = looks.get(RESULT_TABS[key])
        if digests[key].digest == seal:
            continue
        if (
            look
            and seal == digests[key].unmarked
            and marks_go_over(package, digests[key].grid, look)
        ):
            continue
        kept_names[key] = _free_name(package, f"{sheet.name[:22]} (kept)")
        rename_sheet(package, sheet.name, kept_names[key])
        notes.append(KEPT_TAB.format(tab=sheet.name, kept_as=kept_names[key]))
    return kept_names, notes


def _free_name(package: Package, wanted: str) -> str:
    taken = {sheet.name.casefold() for sheet in sheets(package)}
    name, number = wanted, 2
    while name.casefold() in taken:
        name, number = f"{wanted} {number}", number + 1
    return name
