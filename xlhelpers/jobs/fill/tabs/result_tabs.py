"""Our result tabs, a module a tab, rendered into a workbook that holds nothing else."""

from collections.abc import Callable
from typing import Any

from xlhelpers.jobs.fill.tabs.about import plan_about
from xlhelpers.jobs.fill.tabs.again import plan_again
from xlhelpers.jobs.fill.tabs.by_plot import plan_by_plot
from xlhelpers.jobs.fill.tabs.by_species import plan_by_species
from xlhelpers.jobs.fill.tabs.glance import Sources
from xlhelpers.jobs.fill.tabs.glance_sheet import draw_glance
from xlhelpers.jobs.fill.tabs.log import plan_log
from xlhelpers.jobs.fill.tabs.to_check import plan_to_check
from xlhelpers.jobs.fill.tabs.trees import plan_trees
from xlhelpers.pages.plan import Block, FillFacts, TabPlan
from xlhelpers.pages.render import Book, RenderedTabs
from xlhelpers.survey.outcome import Outcome

Planner = Callable[[Outcome, FillFacts], TabPlan]
PLANNERS: tuple[Planner, ...] = (
    plan_trees,
    plan_by_plot,
    plan_by_species,
    plan_to_check,
    plan_again,
    plan_log,
    plan_about,
)


def render_tabs(outcome: Outcome, facts: FillFacts) -> bytes:
    """Return what `make_tabs` gives as one workbook with all its rows."""
    return make_tabs(outcome, facts).whole()


def make_tabs(outcome: Outcome, facts: FillFacts) -> RenderedTabs:
    """Render the result tabs.

    Parameters
    ----------
    outcome : Outcome
        What was computed, in inner units; shown in the units of its survey.
    facts : FillFacts
        What is said about the fill.

    Returns
    -------
    RenderedTabs
        A workbook of the tabs of `RESULT_TABS` alone; the defined name of each points at its
        first cell. The same outcome and facts give the same.
    """
    units: Any = outcome.survey.units
    book = Book(units)
    read: dict[str, Block] = {}
    watched = bool(facts.keyed)
    for planner in PLANNERS:
        plan = planner(outcome, facts)
        book.add(plan, watched=watched)
        first = plan.parts[0]
        if isinstance(first, Block):
            read[plan.key] = first
        if plan.key == "to_check":
            sources = Sources(read, book.places, units)
            draw_glance(book, sources, facts.chosen, watched=watched)
    return book.close()
