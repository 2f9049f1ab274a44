"""Runs a parsed command: over its workbooks, one bad one does not stop the others."""

import argparse
import json
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from xlhelpers.commands.check import check
from xlhelpers.commands.fill import fill
from xlhelpers.commands.launcher import write_launcher
from xlhelpers.commands.new import new
from xlhelpers.commands.summary import (
    as_json,
    list_findings,
    open_findings,
    plural,
    say_filled,
    say_outcome,
)
from xlhelpers.errors import WorkbookError
from xlhelpers.workbook.sniff import refuse_unfillable, refuse_unreadable

NOTHING_OPEN, OPEN_FINDINGS, FAILED = 0, 1, 2
_LISTED_ON_SCREEN = 200

# one workbook: where its filled copy goes; the exit code and the facts for --json come back
OneBook = Callable[[Path, Path | None], tuple[int, dict[str, Any]]]


def run(options: argparse.Namespace) -> int:
    """Run the command that was asked for and return the exit code."""
    if options.command == "fill":
        return _over_books(options, _fill_one)
    if options.command == "check":
        return _over_books(options, _check_one)
    try:
        if options.command == "new":
            made = new(options.book, options.units, options.paper, options.plots)
            print(f"Made {made}. Open it and start with its first tab, Guide.")
        else:
            for made in write_launcher(options.folder, options.system):
                print(f"Made {made}")
    except (WorkbookError, OSError) as error:
        return _complain(str(error))
    return NOTHING_OPEN


def _over_books(options: argparse.Namespace, one: OneBook) -> int:
    worst = NOTHING_OPEN
    facts = []
    try:
        places = _places(options.books, getattr(options, "out", None))
    except WorkbookError as error:
        return _complain(str(error))
    for number, (book, place) in enumerate(places, 1):
        if len(places) > 1:
            print(f"[{number} of {len(places)}] {book}")
        try:
            code, fact = one(book, place)
            facts.append(fact)
        except (WorkbookError, OSError) as error:
            code = _complain(str(error))
            facts.append({"book": str(book), "error": str(error)})
        worst = max(worst, code)
    if len(places) > 1:
        failed = sum("error" in fact for fact in facts)
        print(f"{plural(len(places), 'workbook')}: {failed} could not be read or written.")
    if options.json is not None:
        try:
            options.json.write_text(json.dumps(facts, indent=1, default=str), encoding="utf-8")
        except (WorkbookError, OSError) as error:
            worst = max(worst, _complain(str(error)))
    return worst


def _places(books: list[Path], out: Path | None) -> list[tuple[Path, Path | None]]:
    """Pair each workbook with the place of its filled copy."""
    if out is None:
        return [(book, None) for book in books]
    if len(books) == 1 and not out.is_dir() and out.suffix.lower() in {".xlsx", ".xlsm"}:
        if out.exists() and books[0].exists() and out.samefile(books[0]):
            raise WorkbookError(f"--out {out} is the workbook itself; leave --out away")
        return [(books[0], out)]
    names = [book.name.casefold() for book in books]
    twice = sorted({name for name in names if names.count(name) > 1})
    if twice:
        raise WorkbookError(f"two workbooks are called {twice[0]}; fill them into separate folders")
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise WorkbookError(f"--out {out} cannot be made a folder: {error.strerror}") from error
    for book in books:
        if book.exists() and book.resolve().parent == out.resolve():
            raise WorkbookError(f"--out {out} is the folder of {book.name}; choose another folder")
    return [(book, out / book.name) for book in books]


def _fill_one(book: Path, place: Path | None) -> tuple[int, dict[str, Any]]:
    refuse_unfillable(book) if place is None else refuse_unreadable(book)
    filled = fill(book, place, _progress)
    _progress("")
    for sentence in say_filled(filled):
        print(sentence)
    code = OPEN_FINDINGS if open_findings(filled.outcome) else NOTHING_OPEN
    return code, as_json(str(book), filled.outcome, filled)


def _check_one(book: Path, _: Path | None) -> tuple[int, dict[str, Any]]:
    refuse_unreadable(book)
    outcome = check(book)
    paragraphs = list_findings(outcome)
    for paragraph in paragraphs[:_LISTED_ON_SCREEN]:
        print(paragraph)
    if len(paragraphs) > _LISTED_ON_SCREEN:
        print(f"… and {len(paragraphs) - _LISTED_ON_SCREEN} more; --json FILE holds them all.")
    for sentence in say_outcome(outcome):
        print(sentence)
    return (OPEN_FINDINGS if paragraphs else NOTHING_OPEN), as_json(str(book), outcome)


def _progress(step: str) -> None:
    """Show the step on a terminal; logs and pipes stay clean."""
    if sys.stderr.isatty():
        print(f"\r\033[K{step + ' …' if step else ''}", end="", file=sys.stderr, flush=True)


def _complain(sentence: str) -> int:
    _progress("")
    print(f"xlhelpers: {sentence}", file=sys.stderr)
    return FAILED
