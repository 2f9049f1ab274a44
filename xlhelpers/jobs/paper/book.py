"""The workbooks to print: which pages, on what paper."""

import io
from collections.abc import Callable, Sequence
from datetime import datetime

from xlsxwriter import Workbook

from xlhelpers.errors import WorkbookError
from xlhelpers.jobs.paper.again_list import write_again_list
from xlhelpers.jobs.paper.card_page import write_cards
from xlhelpers.jobs.paper.cards import cards_for, keys_in_use
from xlhelpers.jobs.paper.crew_rules import CrewRules, crew_rules
from xlhelpers.jobs.paper.field_page import Sizes, field_page, pages_wanted
from xlhelpers.jobs.paper.plot_facts import PlotFacts
from xlhelpers.jobs.paper.rare_page import TITLE, rare_page, rare_pages_wanted
from xlhelpers.pages.page_code import MOST_PAGES
from xlhelpers.pages.paper_page import Shelf, write_pages
from xlhelpers.survey.model import Survey
from xlhelpers.survey.outcome import Outcome

_FIXED_DAY = datetime(2000, 1, 1)
# widths count in digits of this type, which every system has, or one like it
BOOK_OPTIONS = {
    "in_memory": True,
    "strings_to_urls": False,
    "default_format_properties": {"font_name": "Arial", "font_size": 10},
}
_LONGEST_TAB = 31


def field_sheets_book(survey: Survey, sizes: Sizes, plots: Sequence[PlotFacts]) -> bytes:
    """Return field sheets, one tab a plot, the page of rare cases, and the cards in use.

    Parameters
    ----------
    survey : Survey
        The survey as keyed.
    sizes : Sizes
        Paper and units.
    plots : sequence of PlotFacts
        The plots, also empty ones.

    Raises
    ------
    WorkbookError
        If a plot needs more pages than a code can count.
    """
    repeats = float(survey.rules["repeats_wanted"])

    def write(book: Workbook, shelf: Shelf) -> None:
        taken: set[str] = set()
        for facts in plots:
            name = f"Plot {facts.plot}" if facts.plot else "Empty sheet"
            sheet = book.add_worksheet(_tab(name, taken))
            pages = _pages(facts, sizes, repeats)
            write_pages(sheet, pages, sizes.paper, shelf, landscape=True)
        sheet = book.add_worksheet(_tab(TITLE, taken))
        write_pages(sheet, [rare_page(sizes)], sizes.paper, shelf, landscape=True)
        rules = crew_rules(survey.rules, sizes.units)
        write_cards(book, shelf, sizes, rules, keys_in_use(survey))

    return _book("Field sheets", write)


def cards_book(sizes: Sizes, rules: CrewRules) -> bytes:
    """Return all cards that the rules of a survey ask for, one tab each."""
    return _book(
        "Cards", lambda book, shelf: write_cards(book, shelf, sizes, rules, cards_for(rules))
    )


def again_book(outcome: Outcome, sizes: Sizes) -> bytes:
    """Return the list of trees to measure again."""
    return _book("Measure again", lambda book, shelf: write_again_list(book, shelf, outcome, sizes))


def _pages(facts: PlotFacts, sizes: Sizes, repeats: float) -> Sequence[tuple]:
    runs = pages_wanted(facts, sizes, repeats)
    count = runs + rare_pages_wanted(facts, sizes, repeats)
    if count > MOST_PAGES:
        raise WorkbookError(
            f"Plot {facts.plot}: {facts.trees} trees need {count} pages, but {MOST_PAGES} is the "
            "most. Check Trees counted on Plots, or divide the plot."
        )
    return [
        *(field_page(facts, sizes, page, count) for page in range(1, runs + 1)),
        *(rare_page(sizes, facts, page, count) for page in range(runs + 1, count + 1)),
    ]


def _book(title: str, write: Callable[[Workbook, Shelf], None]) -> bytes:
    target = io.BytesIO()
    with Workbook(target, BOOK_OPTIONS) as book:
        book.set_properties({"title": title, "author": "xlhelpers", "created": _FIXED_DAY})
        write(book, Shelf(book))
    return target.getvalue()


def _tab(name: str, taken: set[str]) -> str:
    """Return a name that a tab can have and that no other tab has."""
    clean = "".join("-" if sign in "[]:*?/\\" or not sign.isprintable() else sign for sign in name)
    clean = clean.strip("'").strip()
    tab, number = clean[:_LONGEST_TAB], 1
    while tab.casefold() in taken:
        number += 1
        ending = f" ({number})"
        tab = clean[: _LONGEST_TAB - len(ending)] + ending
    taken.add(tab.casefold())
    return tab
