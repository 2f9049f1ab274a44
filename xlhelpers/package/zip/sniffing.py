"""Messages for files that are not workbooks: what the file is, and what to do."""

from __future__ import annotations

from pathlib import Path, PurePath

from xlhelpers.errors import DamagedError, WorkbookError

COMPOUND_FILE = bytes.fromhex("D0CF11E0A1B11AE1")
SAVE_AS = "Open it in your spreadsheet program and save it as an Excel workbook (.xlsx)"
GET_AGAIN = "Get it again from where it came"
REPAIR = "Open it in your spreadsheet program, let it repair the file, and save it under a new name"
OWNER_PREFIX = "~$"
LOCK_PREFIX = ".~lock."


def refuse_owner_file(path: PurePath) -> None:
    """Raise if this is the lock file that a spreadsheet program makes for an open workbook."""
    for prefix in (OWNER_PREFIX, LOCK_PREFIX):
        if path.name.startswith(prefix):
            other = path.name.removeprefix(prefix).removesuffix("#")
            there = Path(path).with_name(other).exists()
            use = f"Use {other}" if there else "Give the name of the workbook"
            raise WorkbookError(f"{path.name} is a lock file, not a workbook. {use}.")


def refuse_pipe(path: Path) -> None:
    """Raise if this is a pipe or a device, which may never end; a missing file is no such thing."""
    if path.exists() and not path.is_file() and not path.is_dir():
        raise WorkbookError(
            f"{path.name} is a pipe or a device, not a file on a disk. Save the workbook as a file "
            "and give the name of that."
        )


def not_a_workbook(name: str, data: bytes) -> WorkbookError:
    """The error for a file that has no zip directory.

    Parameters
    ----------
    name
        File name for the message.
    data
        The whole file.
    """
    kind = DamagedError if not data or data.startswith(b"PK") else WorkbookError
    return kind(f"{name} {_what_it_is(data)}.")


def _what_it_is(data: bytes) -> str:
    if not data:
        return f"is empty (0 bytes). {GET_AGAIN}"
    if data.startswith(COMPOUND_FILE):
        if "EncryptedPackage".encode("utf-16-le") in data:
            return (
                "is protected with a password. Open it in your spreadsheet program, remove the "
                "password, save it, and try again"
            )
        return f"is an old Excel file (.xls). {SAVE_AS}"
    if data.startswith(b"PK"):
        return f"is damaged (its end is missing). {GET_AGAIN}"
    return _what_text_it_is(data)


def _what_text_it_is(data: bytes) -> str:
    head = data[:4096].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if head.startswith((b"<html", b"<!doctype html", b"<table", b"<head", b"<body")):
        return f"is a web page (HTML), not a workbook. {SAVE_AS}"
    if head.startswith(b"<"):
        return f"is an XML text, not a workbook. {SAVE_AS}"
    if head.startswith(b"%pdf"):
        return "is a PDF, not a workbook. Ask for the workbook itself"
    if _reads_as_text(data):
        return f"is a plain text or CSV file, not a workbook. {SAVE_AS}"
    return "is not a workbook (.xlsx). Check that it is the right file"


def _reads_as_text(data: bytes) -> bool:
    head = data[:4096]
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return True
    return b"\x00" not in head and sum(byte < 9 or 13 < byte < 32 for byte in head) == 0


def no_workbook_part(name: str, parts: tuple[str, ...]) -> WorkbookError:
    """The error for a zip file in which no workbook can be found."""
    folders = {part.split("/")[0].casefold() for part in parts}
    if "xl/workbook.bin" in parts:
        what = f"is a binary workbook (.xlsb). {SAVE_AS}"
    elif "word" in folders or "ppt" in folders:
        what = (
            "is a text document or a presentation, not a workbook. Check that it is the right file"
        )
    elif "content.xml" in folders:
        what = f"is an OpenDocument file (.ods). {SAVE_AS}"
    elif "[content_types].xml" not in folders:
        what = "is an ordinary zip file, not a workbook. If the workbook is inside, unpack it first"
    else:
        what = f"has no workbook inside. {SAVE_AS}"
    return WorkbookError(f"{name} {what}.")
