"""The main job: read, set-ups, trees, checks, summaries, plan, write.

Everything is computed and planned in memory; the workbook on disk is touched once, at the end,
as a whole, and only if something changed.
"""

from collections import defaultdict
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path

from xlhelpers import __version__
from xlhelpers.commands.compute import compute
from xlhelpers.commands.dates import now
from xlhelpers.errors import WorkbookError
from xlhelpers.fields.workbook import RESULT_TABS, TEMPLATE_VERSION
from xlhelpers.package.cell_edit import Refusal, edit_cells
from xlhelpers.package.container import Package
from xlhelpers.package.graft import graft_sheets, rename_sheet
from xlhelpers.package.parts import sheets, why_not_writable
from xlhelpers.package.references import cell_name
from xlhelpers.package.safe_write import write_book
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


def fill(book: Path, out: Path | None = None, progress: Progress = lambda _: None) -> Filled:
    """Fill one workbook, in place with a backup, or into another file.

    Parameters
    ----------
    book : Path
        The keyed workbook.
    out : Path, optional
        Where to put the filled copy; the workbook itself then stays as it is.
    progress : callable, optional
        Told the name of each step as it begins.

    Raises
    ------
    WorkbookError
        If the workbook cannot be read or written; it is then unchanged.
    """
    progress("reading")
    package = Package.open(book)
    refusal = why_not_writable(package)
    if refusal is not None:
        raise WorkbookError(refusal)
    progress("measuring and checking")
    outcome = compute(package)
    progress("filling the field sheet")
    changed, said = _write_field_sheets(package, outcome)
    progress("writing the summary tabs")
    tabs, kept = _write_tabs(package, outcome, book)
    result = Filled(outcome, None, None, changed, tabs, (*said, *kept))
    if not changed and not tabs and out is None:
        return result
    progress("saving")
    target = book if out is None else out
    data = package.to_bytes()
    backup = write_book(
        target,
        data,
        backup=target.exists(),
        expected=package.digest if target == book else None,
    )
    return replace(result, written_to=target, backup=backup)


def _write_field_sheets(package: Package, outcome: Outcome) -> tuple[int, list[str]]:
    """Write the result columns; return the number of cells changed and what was left out."""
    by_name = {sheet.name: sheet for sheet in sheets(package)}
    changed = 0
    touched: dict[str, frozenset[tuple[int, int]]] = {}
    said: list[str] = []
    for name, writes in field_writes(outcome):
        result = edit_cells(package, by_name[name], writes)
        changed += len(result.changed)
        if result.changed:
            touched[name] = result.changed
        said += _say_refusals(name, result.refusals)
    if changed:
        refresh_on_open(package, touched)
    for sheet, label in missing_result_columns(outcome):
        said.append(f"{sheet} has no column '{label}' any more; its results are in the Trees tab")
    return changed, said


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
) -> tuple[tuple[str, ...], list[str]]:
    """Replace our tabs if anything in them changed; return their names and what was kept."""
    facts = FillFacts(
        version=__version__,
        template_version=TEMPLATE_VERSION,
        filled_at=now().strftime("%Y-%m-%d %H:%M"),
        book_name=book.name,
    )
    scratch = render_tabs(outcome, facts)
    fingerprint = our_tabs.fingerprint(scratch, {"time": facts.filled_at, "book": facts.book_name})
    present = our_tabs.find_tabs(package)
    same = our_tabs.stored(package, our_tabs.FINGERPRINT_NAME) == fingerprint
    if same and set(present) == set(RESULT_TABS):
        return (), []
    kept = []
    replacing = {}
    for key, sheet in present.items():
        if our_tabs.seal(package, sheet) == our_tabs.stored(package, our_tabs.seal_name(key)):
            replacing[RESULT_TABS[key]] = sheet.name
        else:
            new_name = _free_name(package, f"{sheet.name[:22]} (kept)")
            rename_sheet(package, sheet.name, new_name)
            kept.append(
                f"The tab '{sheet.name}' held something that was added to it; it is kept as "
                f"'{new_name}' and a fresh tab stands beside it"
            )
    names = graft_sheets(
        package, scratch, replacing=replacing, defined=our_tabs.seals(scratch, fingerprint)
    )
    refresh_on_open(package, our_tabs.cells_of(package, names))
    return names, kept


def _free_name(package: Package, wanted: str) -> str:
    taken = {sheet.name.casefold() for sheet in sheets(package)}
    name, number = wanted, 2
    while name.casefold() in taken:
        name, number = f"{wanted} {number}", number + 1
    return name
