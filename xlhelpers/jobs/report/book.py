"""The workbook that a council reads: few pages, each with sentences, small tables and a chart.

It holds names of species, parts of the town and groups as they were written, and no names or
initials of people, no plots by name, no notes.
"""

import io
from collections.abc import Sequence
from datetime import datetime

import numpy as np
from xlsxwriter import Workbook

from xlhelpers.estimates.remeasured import Judged
from xlhelpers.fields.quantities import QUANTITIES
from xlhelpers.jobs.report import methods, quality
from xlhelpers.jobs.report import sections as report_sections
from xlhelpers.jobs.report import words as words
from xlhelpers.jobs.report.facts import Facts
from xlhelpers.jobs.report.numbers import percent
from xlhelpers.jobs.report.page import Places, draw_charts, shelf_of, write_page
from xlhelpers.jobs.report.records import BarChart, ReportPage, Section
from xlhelpers.pages.values import clean_text

_OPTIONS = {
    "in_memory": True,
    "strings_to_formulas": False,
    "strings_to_urls": False,
    "strings_to_numbers": False,
}
_CREATED = datetime(2000, 1, 1)
_MOST_OF_FOOTER = 100
_NO_NAME = "Tree survey"


def headlines(facts: Facts) -> tuple[tuple[str, str], ...]:
    """Return the main sentences, each with its subject; one alone where nothing is keyed.

    The seventh stands only where trees rest on open findings.
    """
    first = ("How many", words.how_many(facts))
    if facts.mode == "nothing":
        return (first,)
    open_trees = words.how_sure(facts)
    return (
        first,
        ("How tall", words.how_tall(facts)),
        ("Crowns", words.how_deep_and_wide(facts)),
        ("Species", words.which_species(facts)),
        ("Dead trees", words.how_many_dead(facts)),
        ("Crown cover", words.how_much_cover(facts)),
        *((("How sure", open_trees),) if open_trees else ()),
    )


def render_council_report(facts: Facts, judged: Sequence[Judged] | None = None) -> bytes:
    """Return the report as a workbook of its own.

    Parameters
    ----------
    facts : Facts
        As `gather` gives them.
    judged : sequence of Judged, optional
        How well a second measurement agreed; without it the report says that there was none.
    """
    buffer = io.BytesIO()
    book = Workbook(buffer, _OPTIONS)
    book.set_properties({"title": _name(facts), "created": _CREATED})
    shelf = shelf_of(book)
    places: Places = {}
    footer = _name(facts)[:_MOST_OF_FOOTER].replace("&", "&&")
    papers = [
        write_page(book, page, shelf, places, facts.units, footer) for page in pages(facts, judged)
    ]
    for paper in papers:
        draw_charts(book, paper)
    book.close()
    return buffer.getvalue()


def pages(facts: Facts, judged: Sequence[Judged] | None = None) -> tuple[ReportPage, ...]:
    """Return what stands on the pages."""
    name = _name(facts)
    told = _told(facts)
    by_key = {section.key: section for page in told for section in page.sections}
    last = (
        ReportPage(
            "How well measured",
            "What was measured, and how well",
            (
                quality.what_was_measured(facts, judged is not None),
                quality.findings(facts),
                *(() if judged is None else (quality.recheck(facts, judged),)),
            ),
        ),
        ReportPage(
            "Rules and methods",
            "Rules, methods and sources",
            (methods.rules(facts), methods.methods(facts, judged is not None)),
        ),
    )
    first = ReportPage(
        "At a glance", name, (), _subtitle(facts), headlines(facts), _shown(by_key), _notes(facts)
    )
    return (first, *told, *last)


def _told(facts: Facts) -> tuple[ReportPage, ...]:
    if facts.mode == "nothing":
        return ()
    s = report_sections
    return (
        ReportPage("Trees", "Trees, living and dead", (s.how_many(facts), s.how_many_dead(facts))),
        ReportPage(
            "Height and crowns",
            "Height and crowns",
            (s.how_tall(facts), s.how_deep_and_wide(facts)),
        ),
        ReportPage("Species", "Species and diversity", (s.which_species(facts),)),
        ReportPage(
            "Sizes and groups", "Sizes, and whose trees", (s.size_classes(facts), s.whose(facts))
        ),
        ReportPage(
            "Cover and margins",
            "Crown cover, and how sure we are",
            (s.crown_cover(facts), quality.how_sure(facts)),
        ),
    )


def _shown(sections: dict[str, Section]) -> tuple[str, BarChart] | None:
    """Return the chart for the first page: the first there is of the telling ones."""
    for key in ("species", "sizes", "trees", "height"):
        section = sections.get(key)
        if section is not None and section.chart is not None:
            return key, section.chart
    return None


def _name(facts: Facts) -> str:
    return clean_text(facts.outcome.survey.rules.get("survey_name") or _NO_NAME)


def _subtitle(facts: Facts) -> str:
    """Return when was measured, on how many plots, and which trees count."""
    plots = facts.outcome.survey.plots
    dates = plots["date"].dropna()
    said = ""
    if len(dates):
        first, last = (f"{day.day} {day:%B %Y}" for day in (dates.min(), dates.max()))
        said = f"Measured on {first}. " if first == last else f"Measured {first} to {last}. "
    least = facts.outcome.survey.rules.get("smallest_diameter")
    if isinstance(least, float) and np.isfinite(least) and least > 0:
        record = QUANTITIES["diameter"]
        said += (
            f"Trees from {least / record.factor(facts.units):.3g} {record.unit(facts.units)} stem "
            "diameter at breast height."
        )
    return said


def _notes(facts: Facts) -> tuple[str, ...]:
    if facts.mode == "nothing":
        return ()
    said = []
    if facts.has_margins:
        said.append(
            f"“Give or take” is the margin that comes from measuring some plots only: of 100 such "
            f"surveys, about {percent(facts.confidence).split()[0]} would have margins that hold "
            "the true value. In the charts it is the thin line at the end of a bar."
        )
    if facts.mode == "measured":
        said.append(f"Why nothing is said of the town: {facts.because}")
    return tuple(said)
