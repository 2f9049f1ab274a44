"""Where results go: new workbooks and filled copies of `--out`, and the facts of `--json`."""

import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from xlhelpers.errors import WorkbookError
from xlhelpers.package.whole_file import write_whole

_BOOKS = (".xlsx", ".xlsm")
_NEVER_FACTS = (*_BOOKS, ".xls", ".ods", ".bak")
Places = list[tuple[Path, Path | None]]


def pair(books: Sequence[Path], out: Path | None) -> Places:
    """Pair each workbook with the place of its filled copy; None for filling in place.

    Parameters
    ----------
    books : sequence of Path
        The workbooks as they were given.
    out : Path, optional
        A file for one workbook, or a folder for any number; a missing folder is made.

    Raises
    ------
    WorkbookError
        If two copies would have one place, or a copy would replace a workbook.
    """
    if out is None:
        return [(book, None) for book in books]
    if out.suffix and not out.is_dir():
        return [(books[0], _one_file(books, out))]
    names = [book.name.casefold() for book in books]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise WorkbookError(
            f"Two workbooks are called {twice[0]}. Fill them into separate folders."
        )
    for book in books:
        if book.exists() and book.resolve().parent == out.resolve():
            raise WorkbookError(f"--out {out} is the folder of {book.name}. Choose another folder.")
    _make_folder(out)
    return [(book, out / book.name) for book in books]


def _one_file(books: Sequence[Path], out: Path) -> Path:
    if len(books) > 1:
        raise WorkbookError(f"--out {out} is one file. Give a folder for several workbooks.")
    if out.suffix.casefold() != books[0].suffix.casefold() and books[0].suffix in _BOOKS:
        raise WorkbookError(
            f"--out {out} must end in {books[0].suffix}, like the workbook. Or give a folder."
        )
    if out.exists() and books[0].exists() and out.samefile(books[0]):
        raise WorkbookError(
            "--out names the workbook itself. Give another name, or leave it out to fill the "
            "workbook in place."
        )
    _make_folder(out.parent)
    return out


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise WorkbookError(f"The folder {folder} cannot be made: {error.strerror}.") from error


def refuse_new_book(path: Path, option: str = "--out ") -> None:
    """Raise where a new workbook cannot have this place.

    Parameters
    ----------
    path : Path
        The place.
    option : str
        The option that gives it, followed by a blank, for the sentence.

    Raises
    ------
    WorkbookError
        It has another ending, exists already, or its folder does not.
    """
    if path.suffix.lower() != ".xlsx":
        raise WorkbookError(f"{option}{path} must be a name that ends in .xlsx.")
    if path.exists():
        raise WorkbookError(f"{option}{path} already exists. Choose another name, or move it.")
    if not path.absolute().parent.is_dir():
        raise WorkbookError(
            f"{option}{path}: the folder {path.parent} does not exist. Make it first."
        )


def refuse_out(out: Path, book: Path) -> None:
    """Raise where a workbook made from another, or made again, cannot have this place.

    Raises
    ------
    WorkbookError
        It has another ending, or is the workbook that it is made from.
    """
    if out.suffix.lower() != ".xlsx":
        raise WorkbookError(f"--out {out} must be a name that ends in .xlsx.")
    if out.exists() and out.samefile(book):
        raise WorkbookError("--out names the workbook itself. Give another name.")


def refuse_facts(path: Path | None) -> None:
    """Raise where `--json` names a workbook or a folder that is not there.

    Raises
    ------
    WorkbookError
        With what to name instead; nothing has been read or written yet.
    """
    if path is None:
        return
    if path.suffix.casefold() in _NEVER_FACTS or path.is_dir():
        raise WorkbookError(f"--json {path} cannot be used. Give a file name such as facts.json.")
    if not path.parent.is_dir():
        raise WorkbookError(
            f"--json {path}: the folder {path.parent} does not exist. Make it first."
        )


def write_facts(path: Path, facts: Sequence[dict[str, Any]]) -> None:
    """Write the facts of a run for other programs.

    Raises
    ------
    WorkbookError
        If the file cannot be written.
    """
    try:
        write_whole(path, json.dumps(facts, indent=1, default=str).encode())
    except OSError as error:
        raise WorkbookError(f"--json {path} could not be written: {error.strerror}.") from error
