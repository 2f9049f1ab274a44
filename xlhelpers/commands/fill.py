"""The main job: read, set-ups, trees, checks, summaries, plan, write.

Everything is computed and planned in memory; the workbook on disk is touched once, at the end,
as a whole, and only if something changed.
"""

from collections import defaultdict
from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

from xlhelpers import __version__
from xlhelpers.commands.compute import compute
from xlhelpers.commands.dates import now
from xlhelpers.commands.fill_formulas import plan_formulas, together, write_formulas
from xlhelpers.errors import WorkbookError
from xlhelpers.fields.workbook import RESULT_TABS, TEMPLATE_VERSION
from xlhelpers.package.cell_edit import Refusal, edit_cells
from xlhelpers.package.cell_set import CellSet
from xlhelpers.package.container import Package
from xlhelpers.package.graft import graft_sheets, rename_sheet
from xlhelpers.package.parts import SheetPart, date1904, sheet_protected, sheets, why_not_writable
from xlhelpers.package.references import cell_name
from xlhelpers.package.safe_write import clear_leftovers, write_book
from xlhelpers.package.stale_results import refresh_on_open
from xlhelpers.survey.outcome import Outcome
from xlhelpers.workbook import our_tabs
from xlhelpers.workbook.field_writes import field_writes, missing_result_columns
from xlhelpers.workbook.sheet_plan import FillFacts
from xlhelpers.workbook.tabs import render_tabs

Progress = Callable[[str], None]


@dataclass(frozen=True)
class Filled:
    """What one fill did: where the result lies, what was written and what was not."""

    outcome: Outcome
    written_to: Path | None
    backup: Path | None
    cells_changed: int = 0
    tabs_written: tuple[str, ...] = ()
    said: tuple[str, ...] = field(default=())

    @property
    def wrote(self) -> bool:
        """Return whether a file was written."""
        return self.written_to is not None


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
        The keyed workbook.
    out : Path, optional
        Where to put the filled copy; the workbook itself then stays as it is.
    progress : callable, optional
        Told the name of each step as it begins.
    restore_formulas : bool, optional
        Whether formulas of the live columns take the place of what was typed over them.

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
    outcome = compute(package)
    progress("filling the field sheet")
    plan = plan_formulas(package, outcome, restore=restore_formulas)
    touched, said = _write_field_sheets(package, outcome, plan.live)
    formulas = write_formulas(package, plan)
    progress("writing the summary tabs")
    tabs, kept = _write_tabs(package, outcome, book)
    # a formula whose result was just stored counts as fresh
    written = together(touched, formulas.fresh) | tabs
    refresh_on_open(package, written, fresh_sheets=(*tabs, *formulas.fresh_sheets))
    changed = sum(map(len, (*touched.values(), *formulas.changed.values())))
    result = Filled(
        outcome,
        None,
        None,
        changed,
        tuple(tabs),
        (*([cut_off] if cut_off else []), *said, *formulas.said, *outcome.ledger.remarks, *kept),
    )
    if not changed and not tabs and out is None:
        return result
    progress("saving")
    data = package.to_bytes()
    backup = write_book(
        target,
        data,
        backup=target.exists(),
        expected=package.digest if target == book else None,
    )
    return replace(result, written_to=target, backup=backup)


def _write_field_sheets(
    package: Package, outcome: Outcome, live: Collection[str]
) -> tuple[dict[str, CellSet], list[str]]:
    """Write the result columns; return the cells changed by sheet and what was left out.

    On the sheets in `live` the live columns hold formulas, which write themselves.
    """
    by_name = {sheet.name: sheet for sheet in sheets(package)}
    touched: dict[str, CellSet] = {}
    said: list[str] = []
    for name, writes in field_writes(outcome, live):
        result = edit_cells(package, by_name[name], writes)
        if result.changed:
            touched[name] = result.changed
            if sheet_protected(package, by_name[name]):
                said.append(f"{name} is protected and stays so; only result cells were written")
        said += _say_refusals(name, result.refusals)
    for sheet, label in missing_result_columns(outcome):
        said.append(f"{sheet} has no column '{label}' any more; its results are in the Trees tab")
    return touched, said


def _say_refusals(sheet: str, refusals: tuple[Refusal, ...]) -> list[str]:
    by_reason: dict[str, list[str]] = defaultdict(list)
    for refusal in refusals:
        by_reason[refusal.reason].append(cell_name(refusal.row, refusal.column))
    return [
        f"{sheet}: {len(cells)} result cells were left alone ({reason}): {', '.join(cells[:3])}"
        + (" …" if len(cells) > 3 else "")
        for reason, cells in by_reason.items()
    ]


def _write_tabs(
    package: Package, outcome: Outcome, book: Path
) -> tuple[dict[str, CellSet], list[str]]:
    """Replace our tabs if anything in them changed; return their changed cells, and what was kept.

    Without a change there are no tabs in the answer.
    """
    facts = FillFacts(
        version=__version__,
        template_version=TEMPLATE_VERSION,
        filled_at=now().strftime("%Y-%m-%d %H:%M"),
        book_name=book.name,
        from_1904=date1904(package),
    )
    scratch = render_tabs(outcome, facts)
    fingerprint = our_tabs.fingerprint(scratch, {"time": facts.filled_at, "book": facts.book_name})
    present = our_tabs.find_tabs(package)
    same = our_tabs.stored(package, our_tabs.FINGERPRINT_NAME) == fingerprint
    if same and set(present) == set(RESULT_TABS):
        return {}, []
    olds, kept = _set_aside(package, present)
    rendered = Package.from_bytes(scratch, "result tabs.xlsx")
    tabs = our_tabs.find_tabs(rendered)
    new = {key: our_tabs.shown(rendered, tab, key) for key, tab in tabs.items()}
    names = graft_sheets(
        package,
        rendered,
        replacing={RESULT_TABS[key]: present[key].name for key in olds},
        defined=our_tabs.names_of(rendered) | our_tabs.seals(new, fingerprint),
    )
    written = dict(zip((sheet.name for sheet in sheets(rendered)), names, strict=True))
    return {
        written[RESULT_TABS[key]]: our_tabs.changes(olds.get(key), new[key])
        for key in RESULT_TABS
        if key in new
    }, kept


def _set_aside(
    package: Package, present: Mapping[str, SheetPart]
) -> tuple[dict[str, our_tabs.Shown], list[str]]:
    """Return what the tabs to be replaced show, by key; those with additions get new names."""
    olds, kept = {}, []
    for key, sheet in present.items():
        found = our_tabs.shown(package, sheet, key)
        if found.digest == our_tabs.stored(package, our_tabs.seal_name(key)):
            olds[key] = found
            continue
        new_name = _free_name(package, f"{sheet.name[:22]} (kept)")
        rename_sheet(package, sheet.name, new_name)
        kept.append(
            f"The tab '{sheet.name}' held something that was added to it; it is kept as "
            f"'{new_name}' and a fresh tab stands beside it"
        )
    return olds, kept


def _free_name(package: Package, wanted: str) -> str:
    taken = {sheet.name.casefold() for sheet in sheets(package)}
    name, number = wanted, 2
    while name.casefold() in taken:
        name, number = f"{wanted} {number}", number + 1
    return name
