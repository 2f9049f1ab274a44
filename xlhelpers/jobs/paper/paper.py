"""Printed paper from the workbook: field sheets, cards, the list of trees to measure again."""

import argparse
import sys
from pathlib import Path

from xlhelpers.errors import WorkbookError
from xlhelpers.jobs.paper.book import again_book, cards_book, field_sheets_book
from xlhelpers.jobs.paper.field_page import Sizes
from xlhelpers.jobs.paper.plot_facts import plot_facts
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.safe_write import write_book
from xlhelpers.pages.page_code import verify
from xlhelpers.pages.paper_page import SIZES
from xlhelpers.pages.pdf import write_pdf
from xlhelpers.reading.outcome import check
from xlhelpers.reading.refusals import refuse_unreadable
from xlhelpers.reading.survey import read_survey
from xlhelpers.survey.model import Survey
from xlhelpers.wording import plural

DONE, FAILED = 0, 2


def run(options: argparse.Namespace) -> int:
    """Write what was asked for and return the exit code: 0 done, 2 not.

    Parameters
    ----------
    options : Namespace
        `book`, `out` (None only with `code`), `paper` ("a4", "letter" or None), `plots` (text
        or None), `measure_again`, `cards`, `pdf` and `code` (text or None).
    """
    try:
        refuse_unreadable(options.book)
        if options.code is not None:
            print(whose_page(read_survey(Package.open(options.book)), options.code))
            return DONE
        out = _place(options)
        data = _made(options)
        write_book(out, data, backup=False)
        print(f"Wrote {out}. Print it at full size, 100 %.")
        if options.pdf:
            print(f"Wrote {write_pdf(out)}.")
    except (WorkbookError, OSError) as error:
        print(f"xlhelpers: {error}", file=sys.stderr)
        return FAILED
    return DONE


def whose_page(survey: Survey, code: str) -> str:
    """Return the sentence that says which plot and page a code belongs to.

    Raises
    ------
    WorkbookError
        If it is no code, or belongs to no plot of this workbook.
    """
    verdicts = {facts.plot: verify(code, facts.plot) for facts in plot_facts(survey)}
    found = [(plot, verdict.page) for plot, verdict in verdicts.items() if verdict.page]
    if not found:
        because = next(iter(verdicts.values())).because
        if all(verdict.because == because for verdict in verdicts.values()):
            because = because.replace("another plot", "no plot of this workbook")
        raise WorkbookError(f"code {code}: {because}")
    places = " or ".join(f"page {page} of plot {plot}" for plot, page in found)
    return f"Code {code}: {places}."


def _place(options: argparse.Namespace) -> Path:
    out: Path | None = options.out
    if out is None:
        raise WorkbookError("--out SHEETS.xlsx is needed: where to write the sheets")
    if out.suffix.lower() != ".xlsx":
        raise WorkbookError(f"--out {out.name}: the sheets need a name that ends in .xlsx")
    if out.exists() and out.samefile(options.book):
        raise WorkbookError(f"--out {out} is the workbook itself; give another name")
    if sum((options.measure_again, options.cards, options.plots is not None)) > 1:
        raise WorkbookError("give one of --plots, --measure-again and --cards, not two")
    return out


def _made(options: argparse.Namespace) -> bytes:
    if options.measure_again:
        outcome = check(options.book)
        return again_book(outcome, _sizes(options, outcome.survey))
    survey = read_survey(Package.open(options.book))
    sizes = _sizes(options, survey)
    if options.cards:
        return cards_book(sizes)
    plots = _plots(options.plots)
    data = field_sheets_book(survey, sizes, plots)
    print(f"Field sheets of {plural(len(plot_facts(survey, plots)), 'plot')}.")
    return data


def _sizes(options: argparse.Namespace, survey: Survey) -> Sizes:
    units = survey.units
    return Sizes(SIZES[options.paper or ("letter" if units == "us" else "a4")], units)


def _plots(text: str | None) -> tuple[str, ...]:
    if text is None:
        return ()
    plots = tuple(part.strip() for part in text.split(",") if part.strip())
    if not plots:
        raise WorkbookError("--plots names no plot; give numbers such as 1,2,5")
    return plots
