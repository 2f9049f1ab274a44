"""Opens the window, or says what is missing for it."""

from collections.abc import Sequence
from importlib.util import find_spec
from pathlib import Path

from xlhelpers.errors import WorkbookError
from xlhelpers.jobs.job import Done, Progress

NO_TKINTER = (
    "The window needs tkinter, which this Python does not have. Install it (Debian, Ubuntu: sudo "
    "apt install python3-tk; Fedora: sudo dnf install python3-tkinter; macOS with Homebrew: brew "
    "install python-tk), then try again."
)
NO_SCREEN = (
    "The window cannot open, because there is no screen here ({why}). Use the commands instead."
)


def has_tkinter() -> bool:
    """Return whether this Python has tkinter; it is not loaded."""
    return find_spec("_tkinter") is not None and find_spec("tkinter") is not None


def run(books: Sequence[Path] | None, progress: Progress) -> Done:
    """Open the window and return when it is closed.

    Raises
    ------
    WorkbookError
        Tkinter or a screen is missing, with what to do.
    """
    if not has_tkinter():
        raise WorkbookError(NO_TKINTER)
    import tkinter

    from xlhelpers.doors.window.main_window import open_window

    try:
        open_window([book.absolute() for book in books or ()])
    except tkinter.TclError as error:
        if "display" not in str(error):
            raise
        raise WorkbookError(NO_SCREEN.format(why=error)) from error
    return Done()
