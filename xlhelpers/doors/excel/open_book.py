"""A job on the workbook that is open in the spreadsheet program.

The workbook is saved and closed, the job runs on the file as it does from outside, and the workbook
is opened again at the same sheet and cell. What a closed workbook cannot be is said before anything
is closed. A job that fails brings the workbook back as it was saved.
"""

import time
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from xlhelpers.errors import WorkbookError
from xlhelpers.jobs.catalog import load_job
from xlhelpers.jobs.job import FAILED
from xlhelpers.jobs.run import run_job
from xlhelpers.package.zip.book_files import backup_names, marker_beside

TITLE = "xlhelpers"
ENDINGS = (".xlsx", ".xlsm")
LONGEST_WAIT = 3.0  # seconds for a workbook to be closed
MOST_LETTERS = 1_000  # that a message on the screen may have
CLOUD_ONLY = (
    "{name} is in a cloud folder and not on this computer: its place is {place}. Save a copy in a "
    "folder on this computer, or let the cloud folder keep it here, and open that one."
)
NOT_SAVED_YET = "{name} was never saved. Save it as an .xlsx workbook, then try again."
OTHER_FORMAT = "{name} is not an .xlsx or .xlsm workbook. Save it as .xlsx, then try again."
READ_ONLY = (
    "{name} is open for reading only. Close it, see who else has it open, and open it again for "
    "writing."
)
MORE = "The tab About this fill has the rest."
AS_SAVED = "The workbook is as it was when it was saved just now."
NOT_OPENED = "The workbook is closed and could not be opened again ({what}). Open {path}."


@dataclass(frozen=True)
class OpenJob:
    """What a job on the open workbook did; `message` is the text on the screen."""

    done: bool
    message: str


def fill_open_book(book: Any = None, *, show: bool = True) -> OpenJob:
    """Fill the workbook that is open in the spreadsheet program: saved, closed, opened again.

    Parameters
    ----------
    book : xlwings.Book, optional
        The open workbook. If None, the one that called, or else the active one.
    show : bool, optional
        Show the message on the screen.

    Returns
    -------
    OpenJob
        Whether the job was done, and the text on the screen. Nothing is raised.
    """
    app = None
    try:
        book = _find_calling_book() if book is None else book
        app = book.app
        result = _run_on_file(book, app, "fill")
    except WorkbookError as error:
        result = OpenJob(False, str(error))
    except Exception as error:  # a macro has no room for a traceback
        what = " ".join(str(error).split())[:300] or type(error).__name__
        result = OpenJob(False, f"xlhelpers could not finish: {what}. Nothing was changed.")
    if show:
        _show(app, result.message)
    return result


def _find_calling_book() -> Any:
    import xlwings

    try:
        return xlwings.Book.caller()
    except Exception:  # its own class of error, which means nothing to users
        active = xlwings.books.active if xlwings.apps else None
    if active is None:
        raise WorkbookError("No workbook is open. Open the survey workbook, then try again.")
    return active


def _run_on_file(book: Any, app: Any, name: str) -> OpenJob:
    path = find_file(book)
    place = _find_place(book, app)
    book.save()
    book.close()
    _wait_until_closed(path)
    try:
        sentences, failed = _run(name, path)
    except Exception as error:  # whatever happens, the workbook comes back
        sentences, failed = [f"xlhelpers could not finish: {error}."], True
    try:
        _go_back(app.books.open(str(path)), *place)
    except Exception as error:
        what = " ".join(str(error).split())[:200] or type(error).__name__
        sentences.insert(0, NOT_OPENED.format(what=what, path=path))
    if failed:
        sentences.append(AS_SAVED)
    return OpenJob(not failed, shorten(sentences))


def _wait_until_closed(path: Path) -> None:
    """Wait until the spreadsheet program takes its marker away; the job says if it does not."""
    until = time.monotonic() + LONGEST_WAIT
    while marker_beside(path) is not None and time.monotonic() < until:
        time.sleep(0.05)


def find_file(book: Any) -> Path:
    """Return the file of an open workbook.

    Parameters
    ----------
    book : xlwings.Book
        The open workbook.

    Raises
    ------
    WorkbookError
        If it has none on this computer, has another format, or is open for reading only.
    """
    place, name = str(book.fullname), str(book.name)
    if "://" in place:
        raise WorkbookError(CLOUD_ONLY.format(name=name, place=place))
    path = Path(place)
    if not path.is_absolute():
        raise WorkbookError(NOT_SAVED_YET.format(name=name))
    if path.suffix.lower() not in ENDINGS:
        raise WorkbookError(OTHER_FORMAT.format(name=name))
    if _is_read_only(book):
        raise WorkbookError(READ_ONLY.format(name=name))
    return path


def _is_read_only(book: Any) -> bool:
    try:
        return bool(book.api.ReadOnly)
    except Exception:  # on a Mac it has another name
        try:
            return bool(book.api.read_only.get())
        except Exception:
            return False


def _find_place(book: Any, app: Any) -> tuple[str, str]:
    """Return the sheet and the cells that are selected, "" where that cannot be seen."""
    try:
        return str(book.sheets.active.name), str(app.selection.address)
    except Exception:  # a chart is selected, for example
        return "", ""


def _go_back(book: Any, sheet: str, cells: str) -> None:
    """Select the cells that were selected before; a tab that is gone is no error."""
    if sheet in [one.name for one in book.sheets]:
        book.sheets[sheet].activate()
        if cells:
            book.sheets[sheet].range(cells).select()


def _run(name: str, path: Path) -> tuple[list[str], bool]:
    """Run a job on a file with what its options are unless chosen; return what it said."""
    job = load_job(name)
    options: dict[str, Any] = {option.name: option.default for option in job.options}
    options |= {"books": [path]} if job.one_by_one else {"book": path}
    sentences: list[str] = []
    failed = False
    for done in run_job(job, options, lambda _: None):
        sentences += [*done.problems, *done.sentences]
        failed |= done.code == FAILED
    backups = [backup.name for backup in backup_names(path)]
    sentences.sort(key=lambda text: not any(backup in text for backup in backups))
    return sentences, failed


def shorten(sentences: list[str]) -> str:
    """Return the sentences, one a line, as many as a message on the screen holds.

    Parameters
    ----------
    sentences : list of str
        The most important first.
    """
    whole = "\n".join(sentences)
    if len(whole) <= MOST_LETTERS:
        return whole
    lines: list[str] = []
    for sentence in sentences:
        if len("\n".join([*lines, sentence, MORE])) > MOST_LETTERS:
            break
        lines.append(sentence)
    return "\n".join([*lines, MORE])


def _show(app: Any, message: str) -> None:
    try:
        app.alert(message, title=TITLE)
    except Exception:  # no screen, so use the terminal
        print(message)
