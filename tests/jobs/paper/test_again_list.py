"""The list of trees to measure again, as it is printed for the crew."""

from dataclasses import replace

import pytest

from tests.jobs.books import GOOD
from tests.jobs.paper.printed import assert_fits_its_paper, open_book, pages
from tests.jobs.tabs.make_outcome import FACTS
from tests.survey.make_survey import make_survey
from xlhelpers.errors import WorkbookError
from xlhelpers.jobs.fill.tabs.again import plan_again
from xlhelpers.jobs.paper.book import again_book
from xlhelpers.jobs.paper.field_page import Sizes
from xlhelpers.pages.paper_page import SIZES
from xlhelpers.pages.plan import Block
from xlhelpers.survey.decisions.decisions import Decision, Ledger, standing
from xlhelpers.survey.evaluate import evaluate
from xlhelpers.survey.measure_again import measure_again
from xlhelpers.survey.outcome import Outcome


def disagreeing(count: int) -> Outcome:
    """Trees whose second set-up comes out 8 m higher, each on a plot of its own.

    The office looked at the paper sheets and sends the crew.
    """
    lines = []
    for plot in range(1, count + 1):
        first = {**GOOD, "plot": str(plot), "tree": "7", "diameter": 30.0 + plot}
        lines += [first, {**first, "setup": 2.0, "distance": 22.0, "tip_reading": 110.0}]
    outcome = evaluate(make_survey(lines))
    sent = Decision(word="measure again", initials="CD")
    return replace(
        outcome, ledger=Ledger(tuple(standing(finding, sent) for finding in outcome.findings))
    )


@pytest.mark.parametrize("paper", SIZES)
@pytest.mark.parametrize("count", [1, 25])
def test_every_entry_is_printed_once_in_the_order_of_the_plots(paper: str, count: int) -> None:
    outcome = disagreeing(count)
    entries = measure_again(outcome)
    assert len(entries) >= count
    book = open_book(again_book(outcome, Sizes(SIZES[paper], "metric")))
    sheet = book["Measure again"]
    assert_fits_its_paper(sheet)
    cells = [str(c.value) for row in sheet.iter_rows() for c in row if c.value]
    for identity in entries["id"]:
        assert cells.count(identity) == 1
    plots = [str(sheet.cell(r, 1).value) for r in range(1, sheet.max_row + 1)]
    numbers = [int(plot) for plot in plots if plot.isdigit()]
    assert numbers == sorted(numbers)
    assert sum("Foot" in cell for cell in cells) == len(entries)
    assert sum("☐ NOT SAFE" in cell for cell in cells) == len(entries)
    assert sum(cell.startswith("Initials") for cell in cells) == len(entries)


def test_an_entry_is_never_cut_by_the_end_of_a_page() -> None:
    book = open_book(again_book(disagreeing(25), Sizes(SIZES["letter"], "us")))
    sheet = book["Measure again"]
    every = pages(sheet)
    assert len(every) > 1
    for number, page in enumerate(every, 1):
        first = [str(c.value) for c in sheet[page[0]] if c.value]
        assert first[0].startswith("Measure again")
        assert f"{number} of {len(every)}" in first[-1]
        last = [str(c.value) for c in sheet[page[-1]] if c.value]
        assert last[0].startswith("TAKE CARE")
        assert str(sheet.cell(page[-2], 1).value) == "Scale"


def test_nothing_to_measure_again_is_said() -> None:
    with pytest.raises(WorkbookError, match="There is nothing to measure again"):
        again_book(evaluate(make_survey()), Sizes(SIZES["a4"], "metric"))


def test_the_crew_reads_what_to_do_at_the_tree_and_nothing_for_the_office() -> None:
    outcome = disagreeing(3)
    tab = plan_again(outcome, FACTS)
    (rows,) = (part.rows for part in tab.parts if isinstance(part, Block))
    assert all(text.startswith("Measure again: distance, foot,") for text in rows["action"])
    assert not any("paper sheet" in text for text in (*rows["action"], *rows["found"]))
    sheet = open_book(again_book(outcome, Sizes(SIZES["a4"], "metric")))["Measure again"]
    printed = [str(c.value) for row in sheet.iter_rows() for c in row if c.value]
    assert not any("paper sheet" in text for text in printed)
    short = [text for text in printed if text.startswith("Measure distance, foot,")]
    assert len(short) == len(measure_again(outcome)) == 3
    assert max(map(len, short)) < 200
