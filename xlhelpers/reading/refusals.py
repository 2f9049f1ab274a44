"""Whether a file may be filled at all, said in one sentence before it is opened.

Here stands what the name and the folder tell: a wrong ending, a missing file, a workbook that is
open elsewhere, a folder that cannot be written to. What the bytes tell is told on opening.
"""

from __future__ import annotations

import difflib
import os
from pathlib import Path

from xlhelpers.errors import WorkbookError
from xlhelpers.package.zip.sniffing import LOCK_PREFIX, OWNER_PREFIX, SAVE_AS, refuse_owner_file

ENDINGS = (".xlsx", ".xlsm")
_OTHER_ENDINGS = {
    ".xls": "an old Excel file (.xls)",
    ".xlsb": "a binary Excel file (.xlsb)",
    ".xltx": "a template of the spreadsheet program (.xltx)",
    ".xltm": "a template of the spreadsheet program (.xltm)",
    ".ods": "an OpenDocument file (.ods)",
    ".numbers": "a Numbers file (.numbers)",
    ".csv": "a plain list (.csv)",
    ".tsv": "a plain list (.tsv)",
}
# what can be no workbook, and what to do instead
_NAME_IT = "name the workbook instead"
_NO_WORKBOOKS = {
    ".txt": f"a plain text (.txt), not a workbook; {_NAME_IT}",
    ".htm": f"a web page (.htm), not a workbook; {_NAME_IT}",
    ".html": f"a web page (.html), not a workbook; {_NAME_IT}",
    ".pdf": f"a PDF (.pdf), not a workbook; {_NAME_IT}",
    ".zip": "a zip file (.zip); unpack it and name the workbook that was in it",
}
# names without their ending that are this much alike are offered
_CLOSE = 0.8


def refuse_unreadable(path: Path) -> None:
    """Raise where a file is no workbook by its name, or is not there.

    Parameters
    ----------
    path
        The file as it was named.

    Raises
    ------
    WorkbookError
        One sentence that says what it is and what to do.
    """
    refuse_owner_file(path)
    if path.is_dir():
        raise WorkbookError(f"{path.name} is a folder; name the workbook in it instead.")
    ending = path.suffix.casefold()
    if not path.exists():
        raise WorkbookError(_not_there(path))
    if ending in _OTHER_ENDINGS:
        raise WorkbookError(f"{path.name} is {_OTHER_ENDINGS[ending]}; {SAVE_AS}.")
    if ending in _NO_WORKBOOKS:
        raise WorkbookError(f"{path.name} is {_NO_WORKBOOKS[ending]}.")
    if ending not in ENDINGS:
        raise WorkbookError(
            f"{path.name} does not end in .xlsx or .xlsm; if it is a workbook, {SAVE_AS}."
        )


def _not_there(path: Path) -> str:
    folder = path.parent
    if not folder.is_dir():
        return f"{path.name} was not found, because there is no folder {folder}."
    try:
        others = [entry.name for entry in folder.iterdir() if entry.suffix.casefold() in ENDINGS]
    except OSError:
        others = []
    others = [name for name in others if not name.startswith((OWNER_PREFIX, LOCK_PREFIX))]
    stems = {Path(name).stem.casefold(): name for name in others}
    near = difflib.get_close_matches(path.stem.casefold(), list(stems), n=1, cutoff=_CLOSE)
    hint = f"; did you mean {stems[near[0]]}?" if near else "; see that the name is right."
    where = "this folder" if folder == Path() else str(folder)
    return f"{path.name} was not found in {where}{hint}"


def marker_beside(path: Path) -> Path | None:
    """Return the marker that another program keeps beside an open workbook, None for none."""
    for name in (
        f"{OWNER_PREFIX}{path.name}",
        f"{LOCK_PREFIX}{path.name}#",
        f"{OWNER_PREFIX}{path.name[2:]}",
    ):
        marker = path.with_name(name)
        if name != path.name and marker.exists():
            return marker
    return None


def refuse_unfillable(path: Path, command: str = "fill") -> None:
    """Raise where a workbook cannot be filled in place: open elsewhere, or a place read-only.

    Parameters
    ----------
    path
        The workbook that would be replaced.
    command
        What is to be done again afterwards, for the message.

    Raises
    ------
    WorkbookError
        One sentence that says what to do.
    """
    refuse_unreadable(path)
    marker = marker_beside(path)
    if marker is not None:
        raise WorkbookError(
            f"{path.name} is open in another program{_by_whom(marker)}; save and close it there, "
            f"then {command} again (if nobody has it open, delete {marker.name} first)."
        )
    refuse_unwritable_folder(path.parent, path.name, command)
    if not os.access(path, os.W_OK):
        raise WorkbookError(
            f"{path.name} is read-only; allow writing to it, or name another file with --out, "
            f"then {command} again."
        )


def refuse_unwritable_folder(folder: Path, name: str, command: str = "fill") -> None:
    """Raise where nothing can be written into a folder.

    Raises
    ------
    WorkbookError
        One sentence that says what to do.
    """
    if not folder.is_dir():
        raise WorkbookError(f"{name} cannot be written, because there is no folder {folder}.")
    if not os.access(folder, os.W_OK | os.X_OK):
        raise WorkbookError(
            f"{name} cannot be written, because the folder {folder} is read-only; copy the "
            f"workbook to a folder of your own, then {command} again."
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
