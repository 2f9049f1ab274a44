"""The report for the council: a workbook of its own, and a PDF if LibreOffice is installed."""

from collections.abc import Sequence
from pathlib import Path

from xlhelpers.errors import WorkbookError
from xlhelpers.estimates.remeasured import DEFAULTS, Judged, is_measured, judge_pairs, pair_trees
from xlhelpers.jobs.job import FAILED, NOTHING_TO_CHECK, TO_CHECK, Done, Progress
from xlhelpers.jobs.report.annex import annex_place, render_annex
from xlhelpers.jobs.report.book import headlines, render_council_report
from xlhelpers.jobs.report.facts import Facts, gather
from xlhelpers.jobs.report.record import report_record
from xlhelpers.package.places import refuse_facts, refuse_new_book, write_facts
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.safe_write import write_book
from xlhelpers.pages.pdf import MAKING_PDF, write_pdf
from xlhelpers.reading.objectives import read_objectives
from xlhelpers.reading.outcome import compute
from xlhelpers.reading.refusals import refuse_unreadable
from xlhelpers.survey.outcome import Outcome

_LISTED = 10


def run(
    book: Path,
    out: Path | None,
    pdf: bool,
    recheck: Path | None,
    annex: bool,
    confidence: float,
    json: Path | None,
    progress: Progress,
) -> Done:
    """Write the report; the exit code is 1 if findings are open or the town has no figure."""
    out = out or book.with_name(f"{book.stem}_report.xlsx")
    if pdf and out.with_suffix(".pdf").exists():
        raise WorkbookError(
            f"{out.with_suffix('.pdf')} already exists. Choose another name, or move it."
        )
    office = annex_place(out)
    if annex:
        refuse_new_book(office)
    refuse_facts(json)
    progress("reading and computing")
    facts = report(book, out, confidence / 100, recheck)
    sentences = [f"{what}: {sentence}" for what, sentence in headlines(facts)]
    if facts.mode == "measured":
        sentences.append(f"Why there is no figure for the town: {facts.because}")
    sentences += [*_words_as_typed(facts), f"Saved {out}."]
    files = [out]
    if annex:
        write_book(office, render_annex(facts), backup=False)
        sentences.append(f"Saved {office}. It names plots and trees: keep it in the office.")
        files.append(office)
    if json is not None:
        write_facts(json, [report_record(facts)])
        sentences.append(f"Saved {json}.")
        files.append(json)
    is_whole = facts.mode in ("sample", "census") and not facts.outcome.open_findings
    code = NOTHING_TO_CHECK if is_whole else TO_CHECK
    if not pdf:
        return Done(sentences, code, tuple(files))
    progress(MAKING_PDF)
    try:
        printed = write_pdf(out)
    except WorkbookError as error:
        return Done(sentences, FAILED, tuple(files), (str(error),))
    return Done((*sentences, f"Saved {printed}."), code, (out, printed, *files[1:]))


def report(book: Path, out: Path, confidence: float = 0.95, rechecked: Path | None = None) -> Facts:
    """Write the report on a survey.

    Parameters
    ----------
    book : Path
        The workbook; it is not changed.
    out : Path
        The report; it must not exist yet.
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
            f"--confidence must be above 50 and below 100, not {100 * confidence:g}."
        )
    refuse_new_book(out)
    refuse_unreadable(book)
    outcome = compute(Package.open(book))
    judged = None if rechecked is None else _judge_remeasured(book, outcome, rechecked)
    facts = gather(outcome, confidence)
    write_book(out, render_council_report(facts, judged), backup=False)
    return facts


def _judge_remeasured(book: Path, outcome: Outcome, rechecked: Path) -> Sequence[Judged]:
    refuse_unreadable(rechecked)
    if rechecked.samefile(book):
        raise WorkbookError(
            f"--recheck {rechecked} is the survey itself. Give the workbook with the second values."
        )
    package = Package.open(rechecked)
    again = compute(package)
    objectives = read_objectives(package, again.survey.units) or DEFAULTS
    pairs = pair_trees(outcome, again, [one.key for one in objectives])
    if not is_measured(again.trees).any():
        raise WorkbookError(
            f"--recheck {rechecked.name}: nothing is entered yet. Enter what the crew wrote there, "
            "or make the report without it."
        )
    if pairs.empty:
        raise WorkbookError(
            f"{book.name} and {rechecked.name} have no tree with the same plot and number. Check "
            "the numbers."
        )
    return judge_pairs(pairs, objectives)


def _words_as_typed(facts: Facts) -> list[str]:
    """Return the words of people that the report shows, so that someone looks at them."""
    if facts.mode == "nothing":
        return []
    groups = facts.groups("share_of_trees", "share")["domain"].tolist()
    parts = facts.by_stratum("trees", "total")["domain"].tolist()
    sentences = []
    for what, names in (("groups", groups), ("parts of the town", parts)):
        if names:
            more = f" and {len(names) - _LISTED} more" if len(names) > _LISTED else ""
            listed = ", ".join(map(str, names[:_LISTED]))
            sentences.append(f"The report shows these {what} as typed: {listed}{more}.")
    return sentences
