"""Every sentence of the report on ten surveys: what must be said, and what must never be."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.jobs.report.ten_surveys import TEN
from xlhelpers.jobs.report.book import pages
from xlhelpers.jobs.report.facts import gather
from xlhelpers.jobs.report.sections import how_many
from xlhelpers.package.zip.container import Package
from xlhelpers.pages.plan import Section, TabPlan, Text
from xlhelpers.reading.outcome import compute

# facts of each survey, counted by hand in `ten_surveys`
SENTENCES: dict[str, tuple[str, ...]] = {
    "empty": (
        "No tree is entered. There is no figure for the whole town.",
        "No tree is entered yet. No plot is entered either.",
        "Nothing is entered yet, so there was nothing to check.",
        "The value of the trees is not in this report.",
    ),
    "one plot": (
        "8 trees were measured. There is no figure for the whole town.",
        "Too few plots to say: at least two are needed.",
        "Neither young nor old trees were found on this plot.",
        "We cannot report crown cover. It needs figures for the whole town.",
        # 5 of 8 trees, 62.5 %, as the cell shows it
        "The most common stem diameter is 30 to under 45 cm, with 63 % of the trees measured.",
        "We cannot give a margin or a verdict.",
        "A figure for the whole town comes first.",
        "The crews saw no dead tree and no dead top among 8 trees.",
        "The checks found 1 missing or doubtful entry: 1 still open.",
    ),
    "one stratum with one plot": (
        "Only one plot in South: too few to say. Measure another one there",
        "For the margins of the town, North and South are taken together",
        "Not in the chart, because the margin is too wide or not known: South.",
        # 35 trees on 5 of 750 plots, 4 trees on 1 of 250
        "The town has about 6,250 trees (an order of magnitude, from",
        "such a part is joined to the part nearest in size.",
    ),
    "all dead": (
        "We cannot report heights. All trees on the sampled plots are dead.",
        "All 44 trees on these plots are dead.",
        "The most common stem diameter is 30 to under 45 cm, with about 62 % of the trees",
        "We cannot report the mean stem diameter of living trees. All trees on the sampled plots "
        "are dead.",
        "The crews saw 44 dead trees and no dead top among 44 trees.",
        "We cannot tell young trees from old ones: no living tree here has a diameter.",
    ),
    "no diameters": (
        "We cannot report diameters. No living tree here has a diameter.",
        "We cannot tell young trees from old ones: no living tree here has a diameter.",
        "No species has 5 living trees with a diameter, so none is judged.",
        "For all 44 trees, some entries are missing or doubtful.",
        "Good enough to budget on: mean height and mean crown depth.",
    ),
    "census": (
        "44 trees were counted. Every tree was to be measured, so there is no sampling margin.",
        "2 of 11 plots were not reached (1 refused, 1 not safe). Their trees are not in these "
        "figures.",
        # 100 of 3,600 m2
        "3 % of the area of the plots could not be walked. Its trees are not in these figures.",
        # 44 trees on 40 ha
        "That is 1.1 per hectare.",
        # 2 of 11 plots are 18 %: more than 10 %, less than 30 %
        "A fair idea: number of trees, mean height",
        "More plots cannot help, because every tree was to be measured.",
        "2 plots can still be measured, if they were left out for a reason that has passed.",
    ),
    "US units": (
        "That is about 145 per acre",
        "of 40 acres.",
        # 6 and 24 in are the usual ones
        "The two diameters are survey rules: common practice, with no source.",
        "Only trees with a stem diameter of at least 2 in at breast height count.",
        "Young means a stem under 6 in thick, old means 24 in or more.",
        "by under 1 foot because of the instruments",
    ),
    "three strata": (
        "We found 3 species.",
        "The crews saw 3 dead trees and 2 dead tops among 76 trees.",
        "About 200 trees are dead (an order of magnitude), but not more than",
        "No species is only young. Only old on these plots: English oak (Quercus robur), 30 trees.",
        # 76 trees on 16 plots: a smaller margin does not make it a fair idea
        "Only 76 trees were found. In some trial towns with so few,",
        "An order of magnitude: number of trees, number of dead trees and mean crown width.",
        "The pace is that of this survey: 16 plots on 8 days, 2.0 a day.",
        "Not in the chart, because the margin is too wide or not known: dead.",
    ),
    "missing widths": (
        # the third tree of the seven plots that have three or more
        "37 trees measured, 3 doubtful. 7 living trees have no crown width. We take them to be "
        "like the others.",
        # the second tree of all eight plots with trees
        "8 living trees have one crown width only. It counts for both.",
    ),
    "plots not reached": (
        "2 of 11 plots were not reached (1 refused, 1 not safe). We treat them like the others in "
        "their part of the town. If they are different, the figures are less certain than the "
        "margins say.",
        "3 % of the area of the plots could not be walked. We treat it like the rest of its part "
        "of the town.",
        "2 plots can still be measured, if they were left out for a reason that has passed.",
    ),
}
QUICK = ("empty", "one plot", "three strata", "census")
NAMES = [name if name in QUICK else pytest.param(name, marks=pytest.mark.slow) for name in TEN]
# what nobody would say, or what a program says that was not looked at
NEVER = (
    r"\bnan\b", r"\binf\b", r"\bNone\b(?! of)", r"#N", r"\b1 (?:trees|plots|days|crews|groups)\b",
    r"\b1 (?:thing|species|entry|tree|plot) are\b", r"\b[02-9]\d* (?:tree|plot|day|entry)\b",
    r"\d(?:m|cm|ft|ha|in|acres?|%)(?![\w²³])", r"  ", r"\.\.", r" \.", r"\(\)", r"about about",
    r"[Aa]t most", r"among 0 ", r"\b0 (?:dead|trees|plots)\b", r"Blank: ", r"\bChoose\b",
)  # fmt: skip


class Reports(dict[str, list[str]]):
    """All texts of the pages of a report, as they are handed to the renderer, when asked for."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def __missing__(self, name: str) -> list[str]:
        package = Package.open(TEN[name](self.folder / f"survey {len(self)}.xlsx"))
        self[name] = list(texts_of(pages(gather(compute(package), 0.95))))
        return self[name]


@pytest.fixture(scope="module")
def said(tmp_path_factory: pytest.TempPathFactory) -> Reports:
    return Reports(tmp_path_factory.mktemp("ten"))


def texts_of(plans: tuple[TabPlan, ...]) -> Iterator[str]:
    for plan in plans:
        yield from (plan.title, plan.sentence)
        for part in plan.parts:
            if isinstance(part, Text):
                yield from (part.label, part.text)
            elif isinstance(part, Section):
                yield from (part.title, *part.sentences, *part.notes)
                table = part.table
                yield from () if table is None else table.headings
                rows = () if table is None else table.rows
                cells = (cell.value for row in rows for cell in row if cell is not None)
                yield from (value for value in cells if isinstance(value, str))


@pytest.mark.parametrize("name", NAMES)
def test_what_the_report_says(name: str, said: dict[str, list[str]]) -> None:
    for sentence in SENTENCES[name]:
        assert any(sentence in text for text in said[name]), sentence


@pytest.mark.parametrize("name", NAMES)
def test_no_sentence_is_broken(name: str, said: dict[str, list[str]]) -> None:
    for text in said[name]:
        for pattern in NEVER:
            assert not re.search(pattern, text), (pattern, text)
        # a sentence begins large and ends with its full stop
        if len(text.split()) > 7 and not text.startswith(("Mean ", "Figure ")):
            assert text[0].isupper() or text[0] in "“0123456789", text


@pytest.mark.parametrize("name", [name for name in NAMES if name not in ("empty", "one plot")])
def test_every_figure_has_its_verdict_and_the_rule(name: str, said: dict[str, list[str]]) -> None:
    assert any(text.startswith("The verdict goes by the") for text in said[name])
    assert "Verdict" in said[name]
    assert {"to budget on", "fair idea", "order of magnitude"} & set(said[name])


def test_a_part_with_one_plot_is_named_where_its_trees_are_missing(
    tmp_path: Path,
) -> None:
    facts = gather(
        compute(Package.open(TEN["one stratum with one plot"](tmp_path / "a.xlsx"))), 0.95
    )
    assert any(note.startswith("Only one plot in South") for note in how_many(facts).notes)


def test_no_verdict_where_the_town_has_no_figure(said: dict[str, list[str]]) -> None:
    for name in ("empty", "one plot"):
        assert "Verdict" not in said[name]


@pytest.mark.parametrize("name", NAMES)
def test_every_report_says_what_it_leaves_out(name: str, said: dict[str, list[str]]) -> None:
    assert any("a matter of appraisal by professionals" in text for text in said[name])
    assert any(text.startswith("Tree risk is not in this report.") for text in said[name])


def test_a_count_has_no_margins(said: dict[str, list[str]]) -> None:
    assert not any("give or take" in text.lower() for text in said["census"])
