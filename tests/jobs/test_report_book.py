"""The council's report below the command: the index of diversity, rounding, findings, texts."""

import io
import itertools
import zipfile
from dataclasses import replace
from pathlib import Path

import openpyxl
import pandas as pd
import pytest

from tests.town import town_outcome
from xlhelpers.jobs.report import verdicts
from xlhelpers.jobs.report import words as report_words
from xlhelpers.jobs.report.book import headlines, render_council_report
from xlhelpers.jobs.report.facts import Facts, gather
from xlhelpers.jobs.report.numbers import (
    round_figure,
    write_density,
    write_ends,
    write_margin,
    write_value,
)
from xlhelpers.jobs.report.quality import findings, how_sure
from xlhelpers.survey.decisions.carry import NO_LONGER_FOUND
from xlhelpers.survey.decisions.decisions import (
    CORRECTED,
    Decision,
    FindingTexts,
    Ledger,
    LogEntry,
    Standing,
)
from xlhelpers.survey.outcome import Outcome


@pytest.fixture(scope="module")
def outcome() -> Outcome:
    return town_outcome()


@pytest.fixture(scope="module")
def facts(outcome: Outcome) -> Facts:
    return gather(outcome, 0.95)


@pytest.mark.parametrize("counts", [(3, 2, 1), (4,), (1, 1), (5, 4, 3, 2)])
def test_simpsons_index_is_the_share_of_unlike_pairs(
    counts: tuple[int, ...], facts: Facts, monkeypatch: pytest.MonkeyPatch
) -> None:
    # Simpson (1949, from memory): a definition, here counted out over all pairs
    trees = [kind for kind, count in enumerate(counts) for _ in range(count)]
    pairs = list(itertools.combinations(trees, 2))
    unlike = sum(one != other for one, other in pairs) / len(pairs)
    monkeypatch.setattr(report_words, "species_rows", lambda _: pd.DataFrame({"trees": counts}))
    index, number, sentence = report_words.simpson_index(facts)
    assert index == pytest.approx(unlike, abs=1e-12)
    assert number == len(trees)
    assert f"{unlike:.2f}" in sentence


def test_one_tree_has_no_index(facts: Facts, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(report_words, "species_rows", lambda _: pd.DataFrame({"trees": [1]}))
    index, _, sentence = report_words.simpson_index(facts)
    assert index != index
    assert "no index" in sentence


@pytest.mark.parametrize(
    ("value", "quantity", "units", "text"),
    [
        (4321.4, "count", "metric", "4,320"),
        (121_419.0, "count", "metric", "121,000"),
        (14.234, "length", "metric", "14.2 m"),
        (14.234, "length", "us", "47 feet"),
        (0.03, "length", "metric", "under 0.1 m"),
        (0.3, "length", "us", "1 foot"),
        (0.756, "percent", "metric", "76 %"),
        (0.004, "percent", "metric", "less than 1 %"),
        (42.18, "diameter", "us", "16.6 inches"),
    ],
)
def test_numbers_in_sentences(value: float, quantity: str, units: str, text: str) -> None:
    assert write_value(value, quantity, "us" if units == "us" else "metric") == text


def test_margins_in_sentences() -> None:
    assert write_margin(943.1, "count", "metric") == "940"
    assert write_margin(0.061, "percent", "metric") == "6 points"
    assert write_margin(0.012, "percent", "metric") == "1 point"
    assert write_margin(0.002, "percent", "metric") == "less than 1 point"
    assert round_figure(0.0) == 0


def test_both_ends_of_a_total_are_named_and_never_in_its_place(facts: Facts) -> None:
    row = facts.town("trees", "total").copy()
    row[["value", "low", "high", "margin"]] = 100.0, 82.0, 125.0, 21.5
    assert report_words.give_or_take(facts, row, "trees") == "about 100 trees (from 82 to 125)"
    # an end that is as far away as nothing at all says little: the upper one does
    row[["value", "low", "high", "margin"]] = 1470.0, 310.0, 3050.0, 1500.0
    assert report_words.give_or_take(facts, row, "trees") == (
        "about 1,470 trees (an order of magnitude), but not more than 3,050"
    )
    row[["low", "high", "margin"]] = 1200.0, 1800.0, 300.0
    assert report_words.give_or_take(facts, row) == "about 1,470 (from 1,200 to 1,800)"
    # a wide margin makes an order of magnitude, and so do few plots
    row[["low", "high", "margin"]] = 900.0, 2400.0, 750.0
    assert report_words.give_or_take(facts, row, "trees") == (
        "about 1,470 trees (an order of magnitude, from 900 to 2,400)"
    )


def test_a_mean_has_one_margin(facts: Facts) -> None:
    row = facts.town("mean_height", "mean").copy()
    row[["value", "margin"]] = 14.2, 0.83
    assert report_words.give_or_take(facts, row, "tall") == "about 14.2 m tall, give or take 0.8 m"


def test_95_of_100_is_said_only_where_trials_show_it(outcome: Outcome) -> None:
    for held, confidence, words in (
        (0.95, 0.95, "In about 95 of 100 such surveys the true value is between them."),
        (0.89, 0.95, "the true total was between them in about 89 of 100 surveys"),
        (float("nan"), 0.9, "The upper end of a total is the farther one."),
    ):
        facts = gather(outcome, confidence)
        facts.estimates.table["interval_held"] = held
        said = report_words.what_margins_mean(facts)
        assert words in said
        assert ("95 of 100" in said) == (held == 0.95)
    few = gather(outcome, 0.95)
    few.estimates.table["plots_with"] = 4
    # so few were not tried
    for held in (0.73, float("nan")):
        few.estimates.table["interval_held"] = held
        assert "orders of magnitude" in report_words.what_margins_mean(few)


def test_findings_are_counted_by_where_they_stand(outcome: Outcome) -> None:
    stands = list(outcome.standings)
    opened = [at for at, standing in enumerate(stands) if standing.is_open]
    stands[opened[0]] = Standing("accepted", "accepted")
    stands[opened[1]] = Standing("not safe", "closed")
    stands[opened[2]] = Standing("reopened", "reopened")
    log = tuple(
        LogEntry(Decision(texts=FindingTexts(severity=severity)), became, "2025-06-01")
        for severity, became in (
            ("error", "mended"), ("warning", NO_LONGER_FOUND), ("note", CORRECTED),
            ("error", "other"),
        )
    )  # fmt: skip
    decided = replace(outcome, ledger=Ledger(tuple(stands), log))
    section = findings(gather(decided, 0.95))
    assert section.table is not None
    together = [row[3].value for row in section.table.rows if row[3] is not None]
    assert together == [len(opened) - 2, 1, 1, 2]
    assert (
        f"{len(opened) - 2:,} still open, 1 accepted, 1 not safe to measure" in section.sentences[0]
    )


def test_texts_of_the_workbook_are_never_run(outcome: Outcome, tmp_path: Path) -> None:
    survey = outcome.survey
    name = "=HYPERLINK(1) & <r>Oak</r>\x07"
    changed = replace(survey, rules={**survey.rules, "survey_name": name})
    trees = outcome.trees.assign(group="=1+1 & @SUM(A1)")
    data = render_council_report(gather(replace(outcome, survey=changed, trees=trees), 0.95))
    book = openpyxl.load_workbook(io.BytesIO(data))
    assert all(cell.data_type != "f" for sheet in book for row in sheet.iter_rows() for cell in row)
    assert str(book["At a glance"]["A1"].value).startswith("=HYPERLINK(1) & <r>")
    with zipfile.ZipFile(io.BytesIO(data)) as archive:
        assert b"<f>" not in b"".join(
            archive.read(part) for part in archive.namelist() if "/worksheets/" in part
        )


def test_the_same_survey_gives_the_same_bytes(facts: Facts) -> None:
    assert render_council_report(facts) == render_council_report(facts)
    assert len(headlines(facts)) == 7


def test_a_share_from_few_plots_is_rough_unless_its_margin_is_smaller(outcome: Outcome) -> None:
    """A narrow share is not called rough because other shares held too seldom in trials."""
    facts = gather(outcome, 0.95)
    row = facts.town("share_dead", "share").copy()
    for low, high, words, more in (
        (0.48, 0.52, verdicts.BUDGET, verdicts.BUDGET),
        (0.40, 0.60, verdicts.FAIR, verdicts.FAIR),
        (0.37, 0.63, verdicts.ROUGH, verdicts.FAIR),
        (0.32, 0.68, verdicts.ROUGH, verdicts.ROUGH),
    ):
        row[["value", "low", "high", "margin", "plots_with"]] = 0.5, low, high, (high - low) / 2, 12
        for plots in (16, 20, 30, 31):
            row["plots"] = plots
            expected = words if plots <= 30 else more
            assert verdicts.verdict(facts, row) == expected
            said = report_words.give_or_take(facts, row)
            assert ("an order of magnitude" in said) == (expected == verdicts.ROUGH)
            assert bool(verdicts.why_rough(facts, row)) == (expected != more)


def test_each_row_of_the_margins_says_how_often_such_ends_held(outcome: Outcome) -> None:
    """Both sides of the misses are named, and nothing at a confidence that was not tried."""
    facts = gather(outcome, 0.95)
    section = how_sure(facts)
    assert section.table is not None
    assert section.table.headings[4] == "Held in trials"
    trees = facts.town("trees", "total")
    first = section.table.rows[0][4]
    assert first is not None
    assert first.value == pytest.approx(trees["interval_held"])
    above, below = (100 * trees[name] for name in ("interval_above", "interval_below"))
    wanted = f"too high in up to {above:.0f} % of the surveys and too low in up to {below:.0f} %"
    assert any(wanted in note for note in section.notes)
    untried = how_sure(gather(outcome, 0.9))
    assert untried.table is not None
    assert "Held in trials" not in untried.table.headings
    assert not any("in trials" in note for note in untried.notes)


def test_crowns_that_add_up_to_several_times_the_land_are_shown(facts: Facts) -> None:
    """Once a margin of the whole land and more was "too few plots to say" whatever the figure."""
    row = facts.town("crown_cover", "share").copy()
    for value, margin, is_shown in ((3.3, 1.2, True), (0.9, 1.2, False), (0.9, 0.95, True)):
        row[["value", "margin"]] = value, margin
        assert report_words.is_worth_showing(facts, row) == is_shown


def test_a_sentence_rounds_as_a_cell_does() -> None:
    """A spreadsheet program shows 0.625 as 63 %, and Python would write 62 %."""
    assert write_value(0.625, "percent", "metric") == "63 %"
    assert write_value(8.25, "length", "metric") == "8.3 m"
    assert write_ends(0.125, 0.385, "percent", "metric") == "13\N{EN DASH}39 %"
    assert [write_density(value) for value in (1.12, 9.96, 152.3)] == ["1.1", "10", "152"]
