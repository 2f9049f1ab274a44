"""One button in the spreadsheet program: fill the workbook that is open.

`fill_open_book` is what a macro calls through RunPython. It computes and plans as a fill from
outside does and writes into the open workbook, which is never saved: closing it without saving
undoes everything. Whatever goes wrong becomes a sentence on the screen.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from xlhelpers.doors.excel.book_copy import BookCopy, copy_of
from xlhelpers.doors.excel.live_plan import Change, LivePlan, rehearse, sheet_of
from xlhelpers.doors.excel.live_writer import protect_text, set_name, write_cells, write_tabs
from xlhelpers.errors import WorkbookError, XlhelpersError
from xlhelpers.jobs.fill.enter_paper import PaperEntries, enter_paper
from xlhelpers.jobs.fill.plan import plan_fill
from xlhelpers.jobs.fill.summary import say_note
from xlhelpers.package.graft.graft_plan import free_sheet_name
from xlhelpers.package.parts.parts import why_not_writable
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.outcome import compute
from xlhelpers.survey.outcome_words import say_outcome
from xlhelpers.wording import plural

TITLE = "xlhelpers"
LIST_TAB, LIST_NAME = "Before and after", "xlh_before_after"
LIST_HEADINGS = ("Sheet", "Cell", "Before", "After", "Formula")
UNDO = (
    "The workbook is not saved yet. Look through it and save it, or close it without saving to "
    "undo this fill."
)
HALF_WAY = (
    "The fill stopped half-way. The workbook is not saved. Close it without saving, which undoes "
    "everything, and run xlhelpers fill."
)


@dataclass(frozen=True)
class OpenFilled:
    """What one fill of the open workbook did; `message` is the text on the screen."""

    done: bool
    message: str
    changes: tuple[Change, ...] = ()
    tabs: tuple[str, ...] = ()
    open_findings: int = 0


def fill_open_book(book: Any = None, *, show: bool = True) -> OpenFilled:
    """Fill the workbook that is open in the spreadsheet program, and do not save it.

    Parameters
    ----------
    book : xlwings.Book, optional
        The open workbook. If None, the one that called, or else the active one.
    show : bool, optional
        Show the message on the screen.

    Returns
    -------
    OpenFilled
        What was done, with each changed cell before and after. Nothing is raised.
    """
    written = False
    try:
        book = _calling_book() if book is None else book
        copy = copy_of(book)
        live, package = _plan(copy, book.name)
        written = True
        result = _write(book, copy, live, package)
    except XlhelpersError as error:
        result = OpenFilled(False, f"{error}{f' {HALF_WAY}' if written else ''}")
    except Exception as error:  # a macro has no room for a traceback
        result = OpenFilled(False, _describe_error(error, written))
    if show:
        _show(book, result.message)
    return result


def _calling_book() -> Any:
    import xlwings

    try:
        return xlwings.Book.caller()
    except Exception:  # its own class of error, which means nothing to users
        active = xlwings.books.active if xlwings.apps else None
    if active is None:
        raise WorkbookError("No workbook is open. Open the survey workbook, then try again.")
    return active


def _plan(copy: BookCopy, name: str) -> tuple[LivePlan, Package]:
    package = copy.package
    refusal = why_not_writable(package)
    if refusal is not None:
        raise WorkbookError(refusal)
    outcome, paper = compute(package), PaperEntries()
    if copy.formulas:  # else a formula might be typed over
        outcome, paper = enter_paper(package, outcome)
    plan = plan_fill(package, outcome, name, leave_live=not copy.formulas, paper=paper)
    rendered = Package.from_bytes(plan.tabs.whole(), "result tabs.xlsx")
    return rehearse(package, plan, rendered), rendered


def _write(book: Any, copy: BookCopy, live: LivePlan, rendered: Package) -> OpenFilled:
    write_cells(book, live.changes)
    write_tabs(book, live, rendered, whole=copy.copies_sheets)
    message = "\n".join(_sentences(copy, live))
    _write_list(book, copy.package, live.changes, message)
    tabs = tuple(tab.name for tab in live.tabs)
    return OpenFilled(True, message, live.changes, tabs, len(live.outcome.open_findings))


def _sentences(copy: BookCopy, live: LivePlan) -> list[str]:
    sentences = say_outcome(live.outcome)
    tabs = ", ".join(tab.name for tab in live.tabs) or "none"
    sentences.append(
        f"{plural(len(live.changes), 'cell')} changed. The tab {LIST_TAB} lists each one. "
        f"New result tabs: {tabs}."
    )
    if live.tabs and not copy.copies_sheets:
        sentences.append(
            "The tabs contain values only. For formats, and for formulas that choose a plot and "
            "watch for changes, close the workbook and run xlhelpers fill."
        )
    if not copy.formulas:
        sentences.append(
            "This spreadsheet program does not show formulas, so the formula columns were skipped. "
            "What is typed under Paper says waits for xlhelpers fill."
        )
    if not copy.formats:
        sentences.append(
            "This spreadsheet program does not show formats. A number typed with % counts as its "
            "value."
        )
    in_place = [tab.name for tab in live.tabs if tab.in_place]
    if in_place:
        sentences.append(
            f"Your formulas point at {', '.join(in_place)}, so only the values are new there. For "
            "new formats too, close the workbook and run xlhelpers fill."
        )
    return [*sentences, *map(say_note, live.notes), UNDO]


def _write_list(book: Any, package: Package, changes: Sequence[Change], message: str) -> None:
    """List the changed cells on a tab; what the user has to the right of the list is kept."""
    existing = sheet_of(package, LIST_NAME)
    if existing is not None:
        sheet = book.sheets[existing.name]
        sheet.range("A:E").clear_contents()
    else:
        name = free_sheet_name(LIST_TAB, {sheet.name.casefold() for sheet in book.sheets})
        sheet = book.sheets.add(name, after=book.sheets[-1])
        set_name(book, LIST_NAME, f"='{name}'!$A$1")
    rows: list[list[Any]] = [[line, *[None] * 4] for line in message.split("\n")]
    rows += [[None] * 5, list(LIST_HEADINGS)]
    rows += [[c.sheet, c.cell, c.before, c.after, c.formula] for c in changes]
    cells = [[protect_text(value) for value in row] for row in rows]
    sheet.range((1, 1), (len(cells), 5)).value = cells


def _describe_error(error: Exception, written: bool) -> str:
    what = " ".join(str(error).split())[:300] or type(error).__name__
    then = (
        HALF_WAY if written else "Nothing was written. Close the workbook and run xlhelpers fill."
    )
    return f"xlhelpers could not finish: {what}. {then}"


def _show(book: Any, message: str) -> None:
    try:
        book.app.alert(message[:1000], title=TITLE)
    except Exception:  # no screen, so use the terminal
        print(message)
