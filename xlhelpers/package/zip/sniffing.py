"""What a file is that is not a workbook, said in one sentence with what to do about it."""

from __future__ import annotations

from pathlib import PurePath

from xlhelpers.errors import WorkbookError

COMPOUND_FILE = bytes.fromhex("D0CF11E0A1B11AE1")
SAVE_AS = "open it in the spreadsheet program and save it as an Excel workbook (.xlsx)"
OWNER_PREFIX = "~$"
LOCK_PREFIX = ".~lock."


def refuse_owner_file(path: PurePath) -> None:
    """Raise where the name is that of the marker that stands beside an open workbook."""
    for prefix in (OWNER_PREFIX, LOCK_PREFIX):
        if path.name.startswith(prefix):
            other = path.name.removeprefix(prefix).removesuffix("#")
            raise WorkbookError(
                f"{path.name} is not a workbook but the marker that stands beside a workbook "
                f"while it is open; use {other} instead."
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
    return WorkbookError(f"{name} {_what_it_is(data)}.")


def _what_it_is(data: bytes) -> str:
    if not data:
        return "is empty (0 bytes); fetch it again or use its backup"
    if data.startswith(COMPOUND_FILE):
        if "EncryptedPackage".encode("utf-16-le") in data:
            return (
                "is encrypted with a password; open it in the spreadsheet program, take the "
                "password off and save it, then try again"
            )
        return f"is an old Excel file (.xls); {SAVE_AS}"
    if data.startswith(b"PK"):
        return "is cut short or damaged (its end is missing); fetch it again or use its backup"
    return _what_text_it_is(data)


def _what_text_it_is(data: bytes) -> str:
    head = data[:4096].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if head.startswith((b"<html", b"<!doctype html", b"<table", b"<head", b"<body")):
        return f"is a web page (HTML) with the name of a workbook; {SAVE_AS}"
    if head.startswith(b"<"):
        return f"is an XML text, not a zipped workbook; {SAVE_AS}"
    if head.startswith(b"%pdf"):
        return "is a PDF, not a workbook; ask for the workbook itself"
    if _reads_as_text(data):
        return f"is a plain text or CSV file with the name of a workbook; {SAVE_AS}"
    return "is not a workbook (.xlsx); check that it is the right file"


def _reads_as_text(data: bytes) -> bool:
    head = data[:4096]
    if head.startswith((b"\xff\xfe", b"\xfe\xff")):
        return True
    return b"\x00" not in head and sum(byte < 9 or 13 < byte < 32 for byte in head) == 0


def no_workbook_part(name: str, parts: tuple[str, ...]) -> WorkbookError:
    """The error for a zip file in which no workbook can be found."""
    folders = {part.split("/")[0].casefold() for part in parts}
    if "xl/workbook.bin" in parts:
        what = f"is a binary workbook (.xlsb); {SAVE_AS}"
    elif "word" in folders or "ppt" in folders:
        what = "is a text document or a presentation, not a workbook; check the file"
    elif "content.xml" in folders:
        what = f"is an OpenDocument file (.ods); {SAVE_AS}"
    elif "[content_types].xml" not in folders:
        what = "is an ordinary zip file, not a workbook; unpack it if the workbook is inside"
    else:
        what = f"has no workbook part inside; {SAVE_AS}"
    return WorkbookError(f"{name} {what}.")
