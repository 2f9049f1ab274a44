"""Two surveys of the same plots: what became of the trees, growth, and change of the totals."""

import argparse
import sys
from collections.abc import Hashable, Mapping
from pathlib import Path

from xlhelpers.errors import ReadingError, WorkbookError
from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.change.book import render_change
from xlhelpers.jobs.change.compare_surveys import Change, compare_surveys
from xlhelpers.jobs.change.words import looks, sentences
from xlhelpers.package.places import refuse_new_book
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.safe_write import write_book
from xlhelpers.reading.outcome import compute
from xlhelpers.reading.refusals import refuse_unreadable

NOTHING, TO_LOOK_AT, FAILED = 0, 1, 2
_LISTED_ON_SCREEN = 40


def run(options: argparse.Namespace) -> int:
    """Compare two surveys, say it, and return the exit code: 1 where something is to look at."""
    try:
        found, units = change(options.old, options.new, options.out, options.confidence / 100)
    except (WorkbookError, ReadingError, OSError) as error:
        print(f"xlhelpers: {error}", file=sys.stderr)
        return FAILED
    for sentence in sentences(found, units):
        print(sentence)
    asked = looks(found, units)
    for row in asked.head(_LISTED_ON_SCREEN).to_dict("records"):
        print(f"To look at: {_line(row)}")
    if len(asked) > _LISTED_ON_SCREEN:
        print(f"… and {len(asked) - _LISTED_ON_SCREEN:,} more; --out lists them all.")
    if options.out is not None:
        print(f"Wrote {options.out}.")
    return TO_LOOK_AT if len(asked) else NOTHING


def change(
    old: Path, new: Path, out: Path | None = None, confidence: float = 0.95
) -> tuple[Change, Units]:
    """Compare two surveys; write the report where a place is given.

    Parameters
    ----------
    old, new : Path
        Two surveys of the same plots; both stay as they are.
    out : Path, optional
        The report; it must not be there yet.
    confidence : float
        Of the margins, above 0.5 and below 1.

    Returns
    -------
    tuple
        The comparison, and the units of NEW, in which it is shown.

    Raises
    ------
    WorkbookError, ReadingError
        A workbook cannot be read, both are one file, they share no measured plot, or the report
        cannot be written.
    """
    problems = []
    if not 0.5 < confidence < 1:
        problems.append(f"--confidence {100 * confidence:g}: give a number above 50 and below 100.")
    if old.exists() and new.exists() and old.samefile(new):
        problems.append(f"{old} is named twice; name both surveys.")
    for check, path in ((refuse_unreadable, old), (refuse_unreadable, new), (refuse_new_book, out)):
        try:
            if path is not None:
                check(path)
        except WorkbookError as error:
            problems.append(str(error))
    if problems:
        raise WorkbookError(" ".join(problems))
    outcomes = [compute(Package.open(path)) for path in (old, new)]
    found = compare_surveys(outcomes[0], outcomes[1], confidence)
    units: Units = "us" if outcomes[1].survey.units == "us" else "metric"
    if out is not None:
        write_book(out, render_change(found, units, (old.name, new.name)), backup=False)
    return found, units


def _line(row: Mapping[Hashable, str]) -> str:
    named = [("plot", row["plot"]), ("tree", row["tree_old"] or row["tree_new"])]
    where = " ".join(f"{word} {name}" for word, name in named if name)
    where += ": " if where else ""
    return f"{where}{row['kind']}: {row['found']}" + (f"; {row['why']}" if row["why"] else "")
