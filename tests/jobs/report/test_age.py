"""Young and old trees, species that are only one of both, and shares against a town's limits."""

from collections import Counter
from dataclasses import replace
from pathlib import Path

import pytest

from tests.jobs.report.ten_surveys import TEN, THREE_COUNTS
from xlhelpers.fields.families import families
from xlhelpers.jobs.report.age import ages_of_species, largest_shares, young_and_old
from xlhelpers.jobs.report.facts import AGE, FAMILY, GENUS, Facts, gather
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.outcome import compute


@pytest.fixture(scope="module")
def facts(tmp_path_factory: pytest.TempPathFactory) -> Facts:
    book = TEN["three strata"](tmp_path_factory.mktemp("age") / "town.xlsx")
    return gather(compute(Package.open(book)), 0.95)


def limited(facts: Facts, **rules: float) -> Facts:
    survey = facts.outcome.survey
    changed = replace(survey, rules={**survey.rules, **rules})
    return gather(replace(facts.outcome, survey=changed), 0.95)


def test_ages_are_those_of_the_diameters(facts: Facts) -> None:
    # by hand: in a plot of n trees the 1st, 4th, ... are oaks of 70 cm and more, the 2nd, 5th, ...
    # limes from 11 cm, of which the 8th of a plot is 17 cm, the 3rd, 6th, ... maples of 37 to 43 cm
    expected: Counter[str] = Counter()
    plot = 0
    for counts in THREE_COUNTS.values():
        for count in counts:
            plot += 1
            for at in range(count):
                age = ("old", "young" if 10 + at < 15 else "between young and old",
                       "between young and old")[at % 3]  # fmt: skip
                dead = (plot, at) in ((1, 2), (7, 1), (12, 5))
                expected["dead" if dead else age] += 1
    found = facts.labelled(AGE)
    assert dict(zip(found["domain"], found["trees"], strict=True)) == dict(expected)
    assert found["domain"].tolist()[0] == "young"


def test_shares_of_ages_add_up_and_are_weighted_like_all_others(facts: Facts) -> None:
    assert facts.labelled(AGE)["value"].sum() == pytest.approx(1.0)
    # a label that is the species gives the shares of the species
    species = facts.rows("share_of_trees", "share", "species").set_index("domain")
    genera = facts.labelled(GENUS).set_index("domain")
    for botanical in ("Quercus robur", "Tilia cordata", "Acer platanoides"):
        for column in ("value", "low", "high", "trees"):
            assert genera.loc[botanical.split()[0], column] == pytest.approx(
                species.loc[botanical, column]
            )


def test_the_limits_of_young_and_old_are_survey_rules(facts: Facts) -> None:
    other = limited(facts, young_below=40.0, old_from=80.0)
    counts = dict(zip(*(other.labelled(AGE)[name] for name in ("domain", "trees")), strict=True))
    assert "old" not in counts
    assert counts["young"] > 30
    assert "No old trees were found on these plots." in young_and_old(other).sentences[0]
    assert "under 40 cm thick, old means 80 cm or more" in young_and_old(other).sentences[0]
    for one, origin in (
        (facts, "common practice, with no source"),
        (other, "this town's own choice"),
    ):
        assert young_and_old(one).notes[-1].endswith(f"survey rules: {origin}.")


def test_species_by_their_count_and_none_without_a_word(facts: Facts) -> None:
    section = ages_of_species(facts)
    assert section.table is not None
    rows = [[cell.value for cell in row if cell is not None] for row in section.table.rows]
    sums = [sum(row[1:]) for row in rows]
    assert sums == sorted(sums, reverse=True)
    assert sum(sums) == 73  # 76 trees, 3 of them dead


def test_families_are_those_of_the_genera(facts: Facts) -> None:
    found = facts.labelled(FAMILY)
    assert set(found["domain"]) == {families()[genus] for genus in ("Quercus", "Tilia", "Acer")}


@pytest.mark.parametrize(
    ("limit", "words"),
    [(0.5, ": within the limit."), (0.2, ": above the limit. So are 2 more."),
     (0.4, "less than the limit, but the limit is between the two ends"),
     (0.38, "more than the limit, but the limit is between the two ends")],
)  # fmt: skip
def test_the_largest_share_against_the_limit_of_the_town(
    facts: Facts, limit: float, words: str
) -> None:
    section = largest_shares(limited(facts, limit_species=limit))
    assert section.sentences[0].startswith(
        f"The town's limit for one species is {100 * limit:g} %. English oak (Quercus robur) makes "
        "up about 39 % of the trees (from 35 % to 43 %)"
    )
    assert words in section.sentences[0]
    assert "No source is claimed for a fixed share." in section.notes[-1]


def test_without_limits_none_is_invented(facts: Facts) -> None:
    section = largest_shares(facts)
    assert section.table is not None
    limits = [row[3].value for row in section.table.rows if row[3] is not None]
    assert limits == ["no limit"] * 3
    assert section.notes[-1].startswith("This survey sets no limits for such shares.")
    assert "limit for one" not in " ".join(section.sentences)


def test_a_survey_of_another_program_keeps_its_species(tmp_path: Path) -> None:
    # a genus that is on no list has no family, and that is said
    book = TEN["one plot"](tmp_path / "town.xlsx")
    outcome = compute(Package.open(book))
    trees = outcome.trees.assign(genus=["Quercus"] * 7 + ["Arbutus"])
    section = largest_shares(gather(replace(outcome, trees=trees), 0.95))
    assert section.notes[0] == "No family is known for 1 tree. They count among all trees."
