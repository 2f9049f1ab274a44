"""The council's report on surveys that lack something: words, not numbers, and no empty chart."""

import re
from collections.abc import Callable
from pathlib import Path

import pytest

from tests.jobs.reports import NORTH, SOUTH, cells, charted, reported, row_of, texts, town

NOBODY_KNOWS = "There is no figure for the whole town."
NO_AREAS = {"area_inside": None, "area_reached": None}
NO_SIZES = [{"stratum": "North"}, {"stratum": "South"}]
LACKING: dict[str, tuple[Callable[[Path], Path], int, str]] = {
    "a stratum without plots": (lambda p: town(p, (NORTH, ())), 1, "South has no measured plot"),
    "one plot only": (lambda p: town(p, ((8,), ()), strata=None), 1, NOBODY_KNOWS),
    "one plot a stratum": (lambda p: town(p, ((8,), (5,))), 1,
                           "Only one plot in North, South: too few to say. Measure another one"),
    "no strata": (lambda p: town(p, strata=None), 1, "The area is not stated"),
    "no sizes": (lambda p: town(p, strata=NO_SIZES), 1,
                 NOBODY_KNOWS),
    "all dead": (lambda p: town(p, tree={"condition": "D"}), 0, "are dead."),
    "no diameters": (lambda p: town(p, tree={"diameter": None}), 1,
                     "We cannot report diameters."),
    "no plot areas": (lambda p: town(p, plots=NO_AREAS), 0,
                      "The town has about 5,810 trees"),
    "nothing keyed": (lambda p: town(p, ((), ())), 1, "No tree is entered."),
    "census": (lambda p: town(p, rules={"survey_kind": "every tree"}), 0,
               "44 trees were counted. Every tree was to be measured"),
}  # fmt: skip

# of these a quicker test says more: the ten surveys, or one below
LONG = ("one plot only", "census")


@pytest.mark.parametrize(
    "case", [pytest.param(c, marks=pytest.mark.slow) if c in LONG else c for c in LACKING]
)
def test_bad_input_gives_words(
    case: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    make, code, words = LACKING[case]
    found, report = reported(make(tmp_path / "town.xlsx"))
    assert found == code, capsys.readouterr()
    said = texts(report)
    assert any(words in text for text in said)
    for text in said:
        assert not re.search(r"\bnan\b|\binf\b|\bNone\b(?! of)|#N", text), text
    for references in charted(report):
        for values in references:
            assert values
            assert all(value is not None for value in values)
            is_names = isinstance(values[0], str)
            assert all(isinstance(value, str) == is_names for value in values)


def test_the_trees_measured_are_not_the_town(tmp_path: Path) -> None:
    _, report = reported(town(tmp_path / "town.xlsx", strata=None))
    said = {row[0]: row[1] for row in cells(report)["At a glance"] if row[1]}
    assert said["How many"] == f"44 trees were measured. {NOBODY_KNOWS}"
    assert said["How tall"].startswith("The living trees measured are on average")
    assert "give or take" not in " ".join(texts(report)).lower()
    assert "needs figures for the whole town" in said["Crown cover"]


def test_a_census_has_no_margin(tmp_path: Path) -> None:
    _, report = reported(town(tmp_path / "town.xlsx", rules={"survey_kind": "every tree"}))
    assert "give or take" not in " ".join(texts(report)).lower()
    assert row_of(cells(report)["Trees"], "Whole town")[1] == sum(NORTH + SOUTH)


def test_groups_on_one_plot_are_pooled(tmp_path: Path) -> None:
    _, report = reported(town(tmp_path / "town.xlsx", strata=None))
    assert row_of(cells(report)["Sizes and groups"], "city")[2] == 8 + 7 + 5 + 4 + 3
    alone = town(tmp_path / "one.xlsx", ((8,), ()), strata=None)
    _, report = reported(alone)
    assert "city" not in texts(report)
    assert row_of(cells(report)["Sizes and groups"], "groups found on one plot only")[2] == 8
