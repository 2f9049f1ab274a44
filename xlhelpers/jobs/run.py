"""Runs a parsed command: over its workbooks, one bad one does not stop the others."""

import argparse
import sys
from collections.abc import Callable
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import Any

from xlhelpers.errors import WorkbookError
from xlhelpers.jobs.check.worklists import Who, count_listed, say_worklist, worklist
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.jobs.fill.summary import as_json, say_filled
from xlhelpers.package.places import pair, refuse_facts, write_facts
from xlhelpers.reading.outcome import check
from xlhelpers.reading.refusals import refuse_unfillable, refuse_unreadable
from xlhelpers.survey.outcome_words import list_findings, say_outcome
from xlhelpers.wording import plural

NOTHING_OPEN, OPEN_FINDINGS, FAILED = 0, 1, 2
_LISTED_ON_SCREEN = 200
# commands with a module of their own, read only when asked for
_MODULES = (
    "paper",
    "instruments",
    "compare",
    "merge",
    "recheck",
    "export",
    "plan",
    "change",
    "report",
)
# one workbook: where its filled copy goes; the exit code and the facts for --json come back
OneBook = Callable[[Path, Path | None], tuple[int, dict[str, Any]]]


def run(options: argparse.Namespace) -> int:
    """Run the command that was asked for and return the exit code."""
    if options.command == "fill":
        return _over_books(options, partial(_fill_one, restore=options.restore_formulas))
    if options.command == "check":
        return _over_books(options, partial(_check_one, who=options.who))
    if options.command in _MODULES:
        module = import_module(f"xlhelpers.jobs.{options.command}.{options.command}")
        return int(module.run(options))
    try:
        module = import_module(f"xlhelpers.jobs.{options.command}.{options.command}")
        if options.command == "new":
            made = module.new(options.book, options.units, options.paper, options.plots)
            print(f"Made {made}. Open it and start with its first tab, Guide.")
        else:
            for made in module.write_launcher(options.folder, options.system):
                print(f"Made {made}")
    except (WorkbookError, OSError) as error:
        return _complain(str(error))
    return NOTHING_OPEN


def _over_books(options: argparse.Namespace, one: OneBook) -> int:
    worst = NOTHING_OPEN
    facts = []
    try:
        refuse_facts(options.json)
        places = pair(options.books, getattr(options, "out", None))
    except WorkbookError as error:
        return _complain(str(error))
    for number, (book, place) in enumerate(places, 1):
        if len(places) > 1:
            print(f"[{number} of {len(places)}] {book}")
        try:
            code, fact = one(book, place)
            facts.append(fact)
        except BrokenPipeError:  # whoever reads the sentences has seen enough
            raise
        except (WorkbookError, OSError) as error:
            code = _complain(_worded(book, error))
            facts.append({"book": str(book), "error": str(error)})
        worst = max(worst, code)
    if len(places) > 1:
        failed = sum("error" in fact for fact in facts)
        print(f"{plural(len(places), 'workbook')}: {failed} could not be read or written.")
    if options.json is not None:
        try:
            write_facts(options.json, facts)
        except WorkbookError as error:
            worst = max(worst, _complain(str(error)))
    return worst


def _fill_one(book: Path, place: Path | None, restore: bool = False) -> tuple[int, dict[str, Any]]:
    refuse_unfillable(book) if place is None else refuse_unreadable(book)
    filled = fill(book, place, _progress, restore_formulas=restore)
    _progress("")
    for sentence in say_filled(filled):
        print(sentence)
    code = OPEN_FINDINGS if filled.outcome.open_findings else NOTHING_OPEN
    return code, as_json(str(book), filled.outcome, filled)


def _check_one(book: Path, _: Path | None, who: Who | None = None) -> tuple[int, dict[str, Any]]:
    refuse_unreadable(book)
    outcome = check(book)
    paragraphs = list_findings(outcome) if who is None else worklist(outcome, who)
    for paragraph in paragraphs[:_LISTED_ON_SCREEN]:
        print(paragraph)
    if len(paragraphs) > _LISTED_ON_SCREEN:
        print(f"… and {len(paragraphs) - _LISTED_ON_SCREEN} more; --json FILE holds them all.")
    if who is not None:
        print(say_worklist(outcome, who, count_listed(outcome, who)))
    for sentence in (*say_outcome(outcome), *outcome.ledger.remarks):
        print(sentence)
    return (OPEN_FINDINGS if outcome.open_findings else NOTHING_OPEN), as_json(str(book), outcome)


def _worded(book: Path, error: Exception) -> str:
    """Return the sentence of an error; one of the system gets the name of the workbook."""
    if isinstance(error, OSError):
        return f"{book.name}: {error.strerror or error}; nothing was changed, try again."
    return str(error)


def _progress(step: str) -> None:
    """Show the step on a terminal; logs and pipes stay clean."""
    if sys.stderr.isatty():
        print(f"\r\033[K{step + ' …' if step else ''}", end="", file=sys.stderr, flush=True)


def _complain(sentence: str) -> int:
    _progress("")
    print(f"xlhelpers: {sentence}", file=sys.stderr)
    return FAILED
