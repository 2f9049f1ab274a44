"""The workbook that a council reads: few pages, each with sentences, small tables and a chart.

It holds names of species, parts of the town and groups as they were written, and no names or
initials of people, no plots by name, no notes.
"""

from collections.abc import Iterator, Sequence

import numpy as np

from xlhelpers.estimates.remeasured import Judged
from xlhelpers.fields.quantities import QUANTITIES
from xlhelpers.jobs.report import age, methods, quality
from xlhelpers.jobs.report import sections as report_sections
from xlhelpers.jobs.report import words as words
from xlhelpers.jobs.report.better import what_would_help
from xlhelpers.jobs.report.facts import Facts
from xlhelpers.jobs.report.figures import arms_key
from xlhelpers.jobs.report.numbers import percent
from xlhelpers.jobs.report.seen import what_crews_saw
from xlhelpers.jobs.report.verdicts import by_verdict, rule
from xlhelpers.pages.looks import COUNCIL
from xlhelpers.pages.plan import Part, Section, TabPlan, Text
from xlhelpers.pages.render import render_book
from xlhelpers.pages.values import clean_text

_WIDTHS = (34.0, 12.0, 18.0, 11.0, 11.0, 20.0)
_MOST_OF_FOOTER = 100
_NO_NAME = "Tree survey"


def headlines(facts: Facts) -> tuple[tuple[str, str], ...]:
    """Return the main sentences, each with its subject; one alone where nothing is entered.

    The seventh is there only if trees have open findings.
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
    return render_book(pages(facts, judged), facts.units, COUNCIL, _name(facts))


def pages(facts: Facts, judged: Sequence[Judged] | None = None) -> tuple[TabPlan, ...]:
    """Return what the pages hold."""
    first_pages = _first_pages(facts)
    sections = {
        part.key: part for page in first_pages for part in page.parts if isinstance(part, Section)
    }
    quality_page = (
        quality.what_was_measured(facts, judged is not None),
        quality.findings(facts),
        *(() if judged is None else (quality.recheck(facts, judged),)),
    )
    rules_page = (
        methods.out_of_scope(),
        methods.rules(facts),
        methods.methods(facts, judged is not None),
    )
    first: tuple[Part, ...] = (
        *(Text(sentence, "headline", label) for label, sentence in headlines(facts)),
        *_verdicts(facts),
        Section("", "", (), notes=_notes(facts)),
        *_first_chart(sections),
    )
    return (
        _page(facts, "At a glance", _name(facts), first, _subtitle(facts)),
        *first_pages,
        _page(facts, "How well measured", "What was measured, and how well", quality_page),
        _page(facts, "Rules and methods", "Rules, methods and sources", rules_page),
        *_chart_data(sections),
    )


def _chart_data(sections: dict[str, Section]) -> tuple[TabPlan, ...]:
    """Return the hidden tab with what charts read beside the tables, none if there is nothing."""
    charts = [section.chart for section in sections.values() if section.chart is not None]
    parts = tuple(
        Section(arms_key(chart.title), chart.title, (), chart.data)
        for chart in charts
        if chart.data is not None
    )
    if not parts:
        return ()
    return (
        TabPlan(
            "",
            "Chart data",
            "",
            parts,
            frozen_headings=False,
            name="Chart data",
            hidden=True,
            upright=True,
            widths=_WIDTHS,
        ),
    )


def _page(
    facts: Facts, name: str, title: str, parts: tuple[Part, ...], sentence: str = ""
) -> TabPlan:
    footer = _name(facts)[:_MOST_OF_FOOTER].replace("&", "&&")
    return TabPlan(
        "",
        title,
        sentence,
        parts,
        frozen_headings=False,
        name=name,
        upright=True,
        widths=_WIDTHS,
        footer=f"&L{footer}&R&A, page &P of &N",
    )


def _first_pages(facts: Facts) -> tuple[TabPlan, ...]:
    if facts.mode == "nothing":
        return ()
    s = report_sections
    many = (s.how_many(facts), s.how_many_dead(facts), what_crews_saw(facts))
    tall = (s.how_tall(facts), s.how_deep_and_wide(facts), s.crown_cover(facts))
    ages = (age.young_and_old(facts), age.ages_of_species(facts), age.largest_shares(facts))
    sizes = (s.size_classes(facts), s.whose(facts))
    sure = (quality.how_sure(facts), what_would_help(facts))
    return (
        _page(facts, "Trees", "Trees, living and dead", many),
        _page(facts, "Height and crowns", "Height and crowns", tall),
        _page(facts, "Species", "Species and diversity", (s.which_species(facts),)),
        _page(facts, "Age and diversity", "Age and diversity", ages),
        _page(facts, "Sizes and groups", "Sizes, and whose trees", sizes),
        _page(facts, "Margins", "How sure we are, and what would help", sure),
    )


def _verdicts(facts: Facts) -> Iterator[Section]:
    """Yield which figure is good for what, and the rule; none where the town has no figure."""
    sentences = () if facts.mode == "nothing" else by_verdict(facts)
    if sentences:
        yield Section(
            "verdicts",
            "What are these figures good for?",
            sentences,
            notes=(rule(facts),),
        )


def _first_chart(sections: dict[str, Section]) -> Iterator[Section]:
    """Yield the chart for the first page: the first there is of the telling ones."""
    for key in ("species", "sizes", "trees", "height"):
        section = sections.get(key)
        if section is not None and section.chart is not None:
            yield Section(key, "", (), chart=section.chart)
            return


def _name(facts: Facts) -> str:
    return clean_text(facts.outcome.survey.rules.get("survey_name") or _NO_NAME)


def _subtitle(facts: Facts) -> str:
    """Return when was measured, on how many plots, and which trees count."""
    plots = facts.outcome.survey.plots
    dates = plots["date"].dropna()
    subtitle = ""
    if len(dates):
        first, last = (f"{day.day} {day:%B %Y}" for day in (dates.min(), dates.max()))
        subtitle = f"Measured on {first}. " if first == last else f"Measured {first} to {last}. "
    least = facts.outcome.survey.rules.get("smallest_diameter")
    if isinstance(least, float) and np.isfinite(least) and least > 0:
        record = QUANTITIES["diameter"]
        subtitle += (
            "Only trees with a stem diameter of at least "
            f"{least / record.factor(facts.units):.3g} {record.unit(facts.units)} at breast height "
            "count."
        )
    return subtitle


def _notes(facts: Facts) -> tuple[str, ...]:
    if facts.mode == "nothing":
        return ()
    notes = []
    if facts.has_margins:
        notes.append(
            f"“From” and “to” are the two ends of a figure ({percent(facts.confidence)}), and "
            "“give or take” is how far both are from a mean. In the charts they are the thin line "
            "at the end of a bar."
        )
    if facts.mode == "measured":
        notes.append(f"Why there is no figure for the whole town: {facts.reason}")
    return tuple(notes)
