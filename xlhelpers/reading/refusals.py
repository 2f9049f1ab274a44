"""Refuses a file by its name and folder, before it is opened, and says what to do.

That is a wrong ending, a missing file, a workbook that is open elsewhere, or a folder that
cannot be written to. What only its bytes show is refused when it is opened.
"""

from __future__ import annotations

import difflib
import os
from pathlib import Path

from xlhelpers.errors import WorkbookError
from xlhelpers.package.zip.book_files import marker_beside
from xlhelpers.package.zip.sniffing import LOCK_PREFIX, OWNER_PREFIX, refuse_owner_file, refuse_pipe

ENDINGS = (".xlsx", ".xlsm")
_SAVE_AS = "Open it in your spreadsheet program and save it as .xlsx"
_OTHER_ENDINGS = {
    ".xls": "an old Excel file (.xls)",
    ".xlsb": "a binary Excel file (.xlsb)",
    ".xltx": "a template (.xltx)",
    ".xltm": "a template (.xltm)",
    ".ods": "an OpenDocument file (.ods)",
    ".numbers": "a Numbers file (.numbers)",
    ".csv": "a list (.csv)",
    ".tsv": "a list (.tsv)",
}
# what is never a workbook, and what to do instead
_NAME_IT = "Give the name of the workbook"
_NO_WORKBOOKS = {
    ".txt": f"a text file (.txt), not a workbook. {_NAME_IT}",
    ".htm": f"a web page (.htm), not a workbook. {_NAME_IT}",
    ".html": f"a web page (.html), not a workbook. {_NAME_IT}",
    ".pdf": f"a PDF (.pdf), not a workbook. {_NAME_IT}",
    ".zip": "a zip file (.zip). Unpack it and give the name of the workbook in it",
}
# names without their ending that are this much alike are offered
_CLOSE = 0.8


def refuse_unreadable(path: Path) -> None:
    """Raise where a file is not a workbook by its name, or does not exist.

    Parameters
    ----------
    path
        The file as it was given.

    Raises
    ------
    WorkbookError
        What it is, and what to do.
    """
    refuse_owner_file(path)
    if path.is_dir():
        raise WorkbookError(
            f"{path.name or path} is a folder. Give the name of the workbook in it."
        )
    ending = path.suffix.casefold()
    if not _exists(path):
        raise WorkbookError(_not_there(path))
    refuse_pipe(path)
    if ending in _OTHER_ENDINGS:
        raise WorkbookError(f"{path.name} is {_OTHER_ENDINGS[ending]}. {_SAVE_AS}.")
    if ending in _NO_WORKBOOKS:
        raise WorkbookError(f"{path.name} is {_NO_WORKBOOKS[ending]}.")
    if ending not in ENDINGS:
        raise WorkbookError(f"{path.name} does not end in .xlsx or .xlsm. {_SAVE_AS}.")


def _exists(path: Path) -> bool:
    try:
        return path.exists()
    except OSError:  # a name that no file can have
        return False


def _not_there(path: Path) -> str:
    folder = path.parent
    if not folder.is_dir():
        return f"{path.name} was not found. The folder {folder} does not exist."
    try:
        others = [entry.name for entry in folder.iterdir() if entry.suffix.casefold() in ENDINGS]
    except OSError:
        others = []
    others = [name for name in others if not name.startswith((OWNER_PREFIX, LOCK_PREFIX))]
    stems = {Path(name).stem.casefold(): name for name in others}
    near = difflib.get_close_matches(path.stem.casefold(), list(stems), n=1, cutoff=_CLOSE)
    hint = f"Did you mean {stems[near[0]]}?" if near else "Check the name."
    where = "this folder" if folder == Path() else str(folder)
    return f"{path.name} is not in {where}. {hint}"


def refuse_unfillable(path: Path, command: str = "fill") -> None:
    """Raise where a workbook cannot be filled in place: open elsewhere, or a place read-only.

    Parameters
    ----------
    path
        The workbook that would be replaced.
    command
        What to do again afterwards, for the message.

    Raises
    ------
    WorkbookError
        What is in the way, and what to do.
    """
    refuse_unreadable(path)
    marker = marker_beside(path)
    if marker is not None:
        raise WorkbookError(
            f"{path.name} is open in another program{_by_whom(marker)}. Save and close it there, "
            f"then {command} again. Not open anywhere? Delete {marker.name} in the same folder."
        )
    refuse_unwritable_folder(path.parent, path.name, command)
    if not os.access(path, os.W_OK):
        raise WorkbookError(
            f"{path.name} is read-only. Make it writable, or give another file with --out, then "
            f"{command} again."
        )


def refuse_unwritable_folder(folder: Path, name: str, command: str = "fill") -> None:
    """Raise where nothing can be written into a folder.

    Raises
    ------
    WorkbookError
        What is in the way, and what to do.
    """
    if not folder.is_dir():
        raise WorkbookError(f"{name} cannot be written. The folder {folder} does not exist.")
    if not os.access(folder, os.W_OK | os.X_OK):
        raise WorkbookError(
            f"{name} cannot be written. The folder {folder} is read-only. Copy the workbook to a "
            f"folder of your own, then {command} again."
        )


def _by_whom(marker: Path) -> str:
    """Return the user that a marker names, as " (by Ann)"; "" where it names none."""
    try:
        data = marker.read_bytes()[:400]
    except OSError:
        return ""
    if marker.name.startswith(LOCK_PREFIX):
        who = data.decode("utf-8", "replace").split(",")[0]
    else:
        who = data[1 : 1 + data[0]].decode("latin-1") if data else ""
    who = "".join(c for c in who if c.isprintable()).strip()
    return f" (by {who})" if who else ""
