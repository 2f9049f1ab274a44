"""Whether a job can run on the workbook on the screen, and what to do if not."""

from __future__ import annotations

import os
import urllib.parse
from typing import Any

import uno

FORMATS = ("Calc MS Excel 2007 XML", "Calc MS Excel 2007 VBA XML", "Calc Office Open XML")
_SAVE_AS = "Choose File – Save As and the file type “Excel 2007–365 (.xlsx)”"


def arguments_of(document: Any) -> dict[str, Any]:
    """Return how a document was opened or last saved, by name."""
    return {one.Name: one.Value for one in document.getArgs()}


def refusal(document: Any, changes_book: bool) -> str:
    """Return why a job cannot run on a document and what to do, "" if it can.

    Parameters
    ----------
    document : model of a spreadsheet document
        The workbook on the screen.
    changes_book : bool
        Whether the job writes into the workbook itself.
    """
    if not document.hasLocation() or not document.URL:
        return f"This workbook has never been saved. {_SAVE_AS}, then try again."
    name = file_name(document.URL)
    if not document.URL.startswith("file:"):
        place = urllib.parse.unquote(document.URL.split("?")[0])
        return (
            f"{name} is not on this computer, but at {place}. Choose File – Save As, save it in a "
            "folder on this computer, and try again there. Afterwards copy it back."
        )
    opened = arguments_of(document)
    if opened.get("FilterName") not in FORMATS:
        return f"{name} is not an Excel workbook (.xlsx). {_SAVE_AS}, then try again."
    if "Password" in opened or "EncryptionData" in opened:
        return (
            f"{name} has a password. Choose File – Save As, remove the tick at “Save with "
            "password”, then try again with that copy."
        )
    path = uno.fileUrlToSystemPath(document.URL)
    if not os.path.isfile(path):
        return (
            f"{name} is no longer in its folder. Save it again with File – Save As, then try again."
        )
    return _refuse_locked(document, path, name, changes_book)


def file_name(url: str) -> str:
    """Return the name of the file at an address."""
    return urllib.parse.unquote(url.split("?")[0].rstrip("/").rsplit("/", 1)[-1])


def _refuse_locked(document: Any, path: str, name: str, changes_book: bool) -> str:
    """Return why a workbook cannot be written; one that is as it was saved can always be read."""
    if not changes_book and not document.isModified():
        return ""
    other = _other_program(path, document.isReadonly())
    if other:
        return f"{name} is also open {other}. Close it there, open it again here, then try again."
    if document.isReadonly():
        if not os.access(path, os.W_OK):
            return f"You are not allowed to change {name}. Save a copy with File – Save As."
        return f"{name} was opened read-only. Close it and open it again, or work on a copy."
    if changes_book and not os.access(os.path.dirname(path), os.W_OK):
        return (
            f"The folder of {name} is read-only. Save a copy in a folder of your own with "
            "File – Save As."
        )
    if changes_book and document.isProtected():
        return (
            f"The structure of {name} is protected, so no tabs can be added. Choose Tools – "
            "Protect Spreadsheet Structure to unprotect it, then try again."
        )
    return ""


def _other_program(path: str, read_only: bool) -> str:
    """Return where else a workbook is open, "" if nowhere; our own mark does not count."""
    folder, name = os.path.split(path)
    for owner in (f"~${name}", f"~${name[2:]}"):
        if os.path.exists(os.path.join(folder, owner)):
            return "in Excel"
    marker = os.path.join(folder, f".~lock.{name}#")
    if not read_only or not os.path.exists(marker):
        return ""
    try:
        with open(marker, encoding="utf-8", errors="replace") as file:
            fields = file.read().split(",")
    except OSError:
        return "elsewhere"
    who = " ".join(filter(None, fields[:1])) or (fields[1] if len(fields) > 1 else "")
    return f"elsewhere (by {who})" if who else "elsewhere"
