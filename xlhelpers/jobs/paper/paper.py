"""Printed paper from the workbook: field sheets, cards, the list of trees to measure again."""

from pathlib import Path
from typing import Literal

from xlhelpers.errors import WorkbookError
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.jobs.job import FAILED, Done, Progress
from xlhelpers.jobs.paper.book import again_book, cards_book, field_sheets_book
from xlhelpers.jobs.paper.crew_rules import crew_rules
from xlhelpers.jobs.paper.crown_columns import crown_rules
from xlhelpers.jobs.paper.field_page import Sizes
from xlhelpers.jobs.paper.plot_facts import PlotFacts, choose_plots, plot_facts
from xlhelpers.package.parts.parts import sheet_named
from xlhelpers.package.parts.xml_text import child, integer
from xlhelpers.package.places import refuse_out
from xlhelpers.package.sheet.sheet_bytes import frame_of
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.safe_write import write_book
from xlhelpers.pages.page_code import verify
from xlhelpers.pages.paper_page import SIZES
from xlhelpers.pages.pdf import MAKING_PDF, write_pdf
from xlhelpers.reading.outcome import check
from xlhelpers.reading.refusals import refuse_unreadable
from xlhelpers.reading.survey import read_survey
from xlhelpers.survey.model import Survey
from xlhelpers.wording import list_words, plural

Paper = Literal["a4", "letter"]


def run(
    book: Path,
    out: Path | None,
    paper: Paper | None,
    plots: str | None,
    measure_again: bool,
    cards: bool,
    empty: int | None,
    pdf: bool,
    code: str | None,
    progress: Progress,
) -> Done:
    """Write field sheets, cards or the list to measure again; with `code`, only say whose it is."""
    refuse_unreadable(book)
    if code is not None:
        return Done((whose_page(read_survey(Package.open(book)), code),))
    if out is None:
        raise WorkbookError("--out is missing. Give a name for the sheets, such as SHEETS.xlsx.")
    refuse_out(out, book)
    if measure_again + cards + (plots is not None) + (empty is not None) > 1:
        raise WorkbookError("Give only one of --plots, --measure-again, --cards and --empty.")
    progress("reading and drawing the pages")
    sentences = [f"Saved {out}. Print it at 100 % (full size)."]
    package = Package.open(book)
    paper = paper or paper_of(package)
    if measure_again:
        outcome = check(book)
        data = again_book(outcome, _sizes(paper, outcome.survey))
    else:
        survey = read_survey(package)
        sizes, wanted = _sizes(paper, survey), _read_plots(plots)
        if cards:
            data = cards_book(sizes, crew_rules(survey.rules, survey.units))
        else:
            facts = choose_plots(survey, wanted, empty)
            data = field_sheets_book(survey, sizes, facts)
            sentences.insert(0, _say_sheets(facts))
    write_book(out, data, backup=False)
    if not pdf:
        return Done(sentences, files=(out,))
    progress(MAKING_PDF)
    try:
        printed = write_pdf(out)
    except WorkbookError as error:
        return Done(sentences, FAILED, (out,), (str(error),))
    return Done((*sentences, f"Saved {printed}."), files=(out, printed))


def paper_of(package: Package) -> Paper | None:
    """Return the paper that the field sheet of a workbook is set up for, None if it is another.

    Parameters
    ----------
    package : Package
        The opened workbook.
    """
    sheet = sheet_named(package, FIELD_SHEET.tab)
    if sheet is None or not sheet.part:
        return None
    # those of custom views do not count
    page_setup = child(frame_of(package.read(sheet.part), sheet.part), "pageSetup")
    numbers: dict[int, Paper] = {SIZES["a4"].number: "a4", SIZES["letter"].number: "letter"}
    return None if page_setup is None else numbers.get(integer(page_setup.get("paperSize")))


def _say_sheets(facts: tuple[PlotFacts, ...]) -> str:
    if facts[0].plot:
        return f"Field sheets for {plural(len(facts), 'plot')}."
    return (
        f"{plural(len(facts), 'empty field sheet')}: the crew writes in the plot. Enter the plots "
        "on the sheet Plots first to have their numbers and page codes printed."
    )


def whose_page(survey: Survey, code: str) -> str:
    """Return the sentence that says which plot and page a code belongs to.

    Raises
    ------
    WorkbookError
        If it is not a code, or belongs to no plot of this workbook.
    """
    pages = [(facts.plot, verify(code, facts.plot).page) for facts in plot_facts(survey)]
    places = [f"page {page} of plot {plot}" for plot, page in pages if page]
    if not places:
        because = verify(code, "").because.removesuffix(".")
        raise WorkbookError(f"“{code}” is not a page code of this workbook: {because}.")
    return f"Code {code}: {list_words(places, 'or')}."


def _sizes(paper: Paper | None, survey: Survey) -> Sizes:
    units = survey.units
    size = SIZES[paper or ("letter" if units == "us" else "a4")]
    return Sizes(size, units, crown_rules(survey.rules))


def _read_plots(text: str | None) -> tuple[str, ...]:
    if text is None:
        return ()
    plots = tuple(part.strip() for part in text.split(",") if part.strip())
    if not plots:
        raise WorkbookError("--plots names no plot. Give their numbers, such as 1,2,5.")
    return plots
