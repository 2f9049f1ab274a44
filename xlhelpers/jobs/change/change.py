"""Two surveys of the same plots: what became of the trees, growth, and change of the totals."""

from collections.abc import Hashable, Mapping
from pathlib import Path

from xlhelpers.errors import WorkbookError
from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.change.book import render_change
from xlhelpers.jobs.change.compare_surveys import Change, compare_surveys
from xlhelpers.jobs.change.words import looks, sentences
from xlhelpers.jobs.job import NOTHING_TO_CHECK, TO_CHECK, Done, Progress
from xlhelpers.package.places import refuse_new_book
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.safe_write import write_book
from xlhelpers.reading.outcome import compute
from xlhelpers.reading.refusals import refuse_unreadable

_LISTED_ON_SCREEN = 40


def run(old: Path, new: Path, out: Path | None, confidence: float, progress: Progress) -> Done:
    """Compare two surveys; the exit code is 1 where there is something to check."""
    comparison, units = change(old, new, out, confidence / 100)
    to_check = looks(comparison, units)
    lines = [f"Check: {_line(row)}" for row in to_check.head(_LISTED_ON_SCREEN).to_dict("records")]
    if more := len(to_check) - len(lines):
        lines.append(f"… and {more:,} more. Use --out to list them all.")
    if out is not None:
        lines.append(f"Saved {out}.")
    return Done(
        [*sentences(comparison, units), *lines],
        TO_CHECK if len(to_check) else NOTHING_TO_CHECK,
        () if out is None else (out,),
    )


def change(
    old: Path, new: Path, out: Path | None = None, confidence: float = 0.95
) -> tuple[Change, Units]:
    """Compare two surveys; write the report where a place is given.

    Parameters
    ----------
    old, new : Path
        Two surveys of the same plots; both stay as they are.
    out : Path, optional
        The report; it must not exist yet.
    confidence : float
        Of the margins, above 0.5 and below 1.

    Returns
    -------
    tuple
        The comparison, and the units of NEW, in which it is lines.

    Raises
    ------
    WorkbookError, ReadingError
        A workbook cannot be read, both are one file, they share no measured plot, or the report
        cannot be written.
    """
    problems = []
    if not 0.5 < confidence < 1:
        problems.append(f"--confidence must be above 50 and below 100, not {100 * confidence:g}.")
    if old.exists() and new.exists() and old.samefile(new):
        problems.append(f"{old} is given twice. Give both surveys.")
    for check, path in ((refuse_unreadable, old), (refuse_unreadable, new), (refuse_new_book, out)):
        try:
            if path is not None:
                check(path)
        except WorkbookError as error:
            problems.append(str(error))
    if problems:
        raise WorkbookError(" ".join(problems))
    outcomes = [compute(Package.open(path)) for path in (old, new)]
    comparison = compare_surveys(outcomes[0], outcomes[1], confidence)
    units = outcomes[1].survey.units
    if out is not None:
        write_book(out, render_change(comparison, units, (old.name, new.name)), backup=False)
    return comparison, units


def _line(row: Mapping[Hashable, str]) -> str:
    parts = [("plot", row["plot"]), ("tree", row["tree_old"] or row["tree_new"])]
    where = " ".join(f"{word} {name}" for word, name in parts if name)
    what = f"{row['kind']}: {row['found']}"
    why = f"{what} {row['why']}" if row["why"] else what
    return f"{where}: {why}" if where else why
