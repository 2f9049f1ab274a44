"""The report for the council: a workbook of its own, and a PDF where LibreOffice is present."""

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

from xlhelpers.errors import ReadingError, WorkbookError
from xlhelpers.estimates.remeasured import DEFAULTS, Judged, is_measured, judge_pairs, pair_trees
from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.report.book import headlines, render_council_report
from xlhelpers.jobs.report.facts import Facts, gather
from xlhelpers.package.places import refuse_new_book
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.safe_write import write_book
from xlhelpers.pages.pdf import write_pdf
from xlhelpers.reading.objectives import read_objectives
from xlhelpers.reading.outcome import compute
from xlhelpers.reading.refusals import refuse_unreadable
from xlhelpers.survey.outcome import Outcome

NOTHING, TO_LOOK_AT, FAILED = 0, 1, 2
_LISTED = 10


def run(options: argparse.Namespace) -> int:
    """Write the report and return the exit code.

    0 written; 1 written, but findings are open or nothing can be said of the town; 2 not written.
    """
    out: Path = options.out or options.book.with_name(f"{options.book.stem}_report.xlsx")
    try:
        if options.pdf and out.with_suffix(".pdf").exists():
            raise WorkbookError(
                f"{out.with_suffix('.pdf')} is there already; choose another name or move it away."
            )
        facts = report(options.book, out, options.confidence / 100, options.recheck)
        for what, sentence in headlines(facts):
            print(f"{what}: {sentence}")
        if facts.mode == "measured":
            print(f"Why nothing is said of the town: {facts.because}")
        _say_words_as_typed(facts)
        print(f"Wrote {out}.")
        if options.pdf:
            print(f"Wrote {write_pdf(out)}.")
    except (WorkbookError, ReadingError, OSError) as error:
        print(f"xlhelpers: {error}", file=sys.stderr)
        return FAILED
    is_whole = facts.mode in ("sample", "census") and not facts.outcome.open_findings
    return NOTHING if is_whole else TO_LOOK_AT


def report(book: Path, out: Path, confidence: float = 0.95, rechecked: Path | None = None) -> Facts:
    """Write the report on a survey.

    Parameters
    ----------
    book : Path
        The keyed workbook; it stays as it is.
    out : Path
        The report; it must not be there yet.
    confidence : float
        Of the margins, above 0.5 and below 1.
    rechecked : Path, optional
        The second measurement of some of its trees.

    Returns
    -------
    Facts
        What the report was made from.

    Raises
    ------
    WorkbookError, ReadingError
        A workbook cannot be read, an argument is wrong, or the report cannot be written.
    """
    if not 0.5 < confidence < 1:
        raise WorkbookError(
            f"--confidence {100 * confidence:g}: give a number above 50 and below 100."
        )
    refuse_new_book(out)
    refuse_unreadable(book)
    outcome = compute(Package.open(book))
    judged = None if rechecked is None else _judged(book, outcome, rechecked)
    facts = gather(outcome, confidence)
    write_book(out, render_council_report(facts, judged), backup=False)
    return facts


def _judged(book: Path, outcome: Outcome, rechecked: Path) -> Sequence[Judged]:
    refuse_unreadable(rechecked)
    if rechecked.samefile(book):
        raise WorkbookError(f"--recheck {rechecked} is the survey itself; name the second one.")
    package = Package.open(rechecked)
    again = compute(package)
    units: Units = "us" if again.survey.units == "us" else "metric"
    objectives = read_objectives(package, units) or DEFAULTS
    pairs = pair_trees(outcome, again, [one.key for one in objectives])
    if not is_measured(again.trees).any():
        raise WorkbookError(
            f"--recheck {rechecked.name}: nothing is keyed there yet; key what the crew wrote, or "
            "leave --recheck out."
        )
    if pairs.empty:
        raise WorkbookError(
            f"{book.name} and {rechecked.name} hold no tree of the same plot and number; see that "
            "the numbers are alike."
        )
    return judge_pairs(pairs, objectives)


def _say_words_as_typed(facts: Facts) -> None:
    """Name the words of people that the report shows, so that someone looks at them."""
    if facts.mode == "nothing":
        return
    groups = facts.groups("share_of_trees", "share")["domain"].tolist()
    parts = facts.by_stratum("trees", "total")["domain"].tolist()
    for what, names in (("groups", groups), ("parts of the town", parts)):
        if names:
            more = f" and {len(names) - _LISTED} more" if len(names) > _LISTED else ""
            print(f"Shown as written, {what}: {', '.join(map(str, names[:_LISTED]))}{more}.")
