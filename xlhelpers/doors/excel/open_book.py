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
from xlhelpers.doors.excel.live_writer import set_name, typed, write_cells, write_tabs
from xlhelpers.errors import WorkbookError, XlhelpersError
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
    "The workbook is not saved yet. Look through it and save it. To undo this fill, close it "
    "without saving."
)
HALF_WAY = (
    "It stopped half-way and the workbook is not saved. Close it without saving. That undoes "
    "everything. Then try again, or run xlhelpers fill."
)


@dataclass(frozen=True)
class OpenFilled:
    """What one fill of the open workbook did; `message` is what was shown on the screen."""

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
        The open workbook; the one that called, or else the active one, unless given.
    show : bool, optional
        Whether the message is shown on the screen.

    Returns
    -------
    OpenFilled
        What was done, with each cell of ours before and after. Nothing is raised.
    """
    written = False
    try:
        book = _calling() if book is None else book
        copy = copy_of(book)
        live, package = _planned(copy, book.name)
        written = True
        result = _write(book, copy, live, package)
    except XlhelpersError as error:
        result = OpenFilled(False, f"{error}{f' {HALF_WAY}' if written else ''}")
    except Exception as error:  # a macro has no room for a traceback
        result = OpenFilled(False, _unforeseen(error, written))
    if show:
        _show(book, result.message)
    return result


def _calling() -> Any:
    import xlwings

    try:
        return xlwings.Book.caller()
    except Exception:  # its own class of error, which says nothing to people at a spreadsheet
        active = xlwings.books.active if xlwings.apps else None
    if active is None:
        raise WorkbookError("No workbook is open. Open the workbook of the survey and try again.")
    return active


def _planned(copy: BookCopy, name: str) -> tuple[LivePlan, Package]:
    package = copy.package
    refusal = why_not_writable(package)
    if refusal is not None:
        raise WorkbookError(refusal)
    plan = plan_fill(package, compute(package), name, leave_live=not copy.formulas)
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
    said = say_outcome(live.outcome)
    tabs = ", ".join(tab.name for tab in live.tabs) or "none"
    said.append(
        f"{plural(len(live.changes), 'result cell')} on the field sheet changed. The tab "
        f"{LIST_TAB} lists them. Updated tabs: {tabs}."
    )
    if live.tabs and not copy.copies_sheets:
        said.append(
            "The tabs contain values only. Close the workbook and run xlhelpers fill to get their "
            "formats and formulas."
        )
    if not copy.formulas:
        said.append(
            "The spreadsheet program does not show its formulas, so the formula columns were "
            "skipped."
        )
    if not copy.formats:
        said.append("The spreadsheet program does not show its formats. 12 % counts as 0.12.")
    in_place = [tab.name for tab in live.tabs if tab.in_place]
    if in_place:
        said.append(
            f"Your own formulas use {', '.join(in_place)}, so only the values there are new. Close "
            "the workbook and run xlhelpers fill to update the formats too."
        )
    return [*said, *map(say_note, live.said), UNDO]


def _write_list(book: Any, package: Package, changes: Sequence[Change], message: str) -> None:
    """List the cells before and after on a tab of its own; what stands to the right of it stays."""
    found = sheet_of(package, LIST_NAME)
    if found is not None:
        sheet = book.sheets[found.name]
        sheet.range("A:E").clear_contents()
    else:
        name = free_sheet_name(LIST_TAB, {sheet.name.casefold() for sheet in book.sheets})
        sheet = book.sheets.add(name, after=book.sheets[-1])
        set_name(book, LIST_NAME, f"='{name}'!$A$1")
    rows: list[list[Any]] = [[line, *[None] * 4] for line in message.split("\n")]
    rows += [[None] * 5, list(LIST_HEADINGS)]
    rows += [[c.sheet, c.cell, c.before, c.after, c.formula] for c in changes]
    cells = [[typed(value) for value in row] for row in rows]
    sheet.range((1, 1), (len(cells), 5)).value = cells


def _unforeseen(error: Exception, written: bool) -> str:
    what = " ".join(str(error).split())[:300] or type(error).__name__
    then = (
        HALF_WAY if written else "Nothing was written. Close the workbook and run xlhelpers fill."
    )
    return f"xlhelpers could not finish: {what}. {then}"


def _show(book: Any, message: str) -> None:
    try:
        book.app.alert(message[:1000], title=TITLE)
    except Exception:  # no screen to show it on: the terminal is what is left
        print(message)
