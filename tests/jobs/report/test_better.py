"""Plots for half a margin, against the textbook and against `plan`; field days from dates."""

import math
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from scipy import stats

from tests.town import town_outcome
from xlhelpers.estimates.intervals import FEW_PLOTS
from xlhelpers.jobs.plan.allocation import margin_of, whole_town
from xlhelpers.jobs.report.better import (
    days_for,
    half_margin_plots,
    half_margins,
    plots_a_day,
    sampled_fraction,
    what_would_help,
)
from xlhelpers.jobs.report.facts import Facts, gather

PLOTS, POSSIBLE, DEVIATION, MEAN = 12, 400, 6.0, 20.0


def row(kind: str) -> pd.Series:
    """Return a figure from plots selected at random, without parts of the town."""
    error = DEVIATION / math.sqrt(PLOTS) * math.sqrt(1 - PLOTS / POSSIBLE)
    return pd.Series(
        {
            "quantity": "mean_height" if kind == "mean" else "trees", "kind": kind, "value": MEAN,
            "standard_error": error, "degrees_of_freedom": PLOTS - 1.0,
        }
    )  # fmt: skip


def test_half_the_margin_of_a_mean_by_the_textbook() -> None:
    # Cochran (1977), section 2.6 and 4.6, from memory: variance (1 - n/N) s2 / n; t from scipy
    def half_width(n: int) -> float:
        error = math.sqrt(DEVIATION**2 / n * (1 - n / POSSIBLE))
        return float(stats.t.ppf(0.975, n - 1)) * error

    wanted = half_width(PLOTS) / 2
    by_hand = next(n for n in range(PLOTS, POSSIBLE) if half_width(n) <= wanted)
    assert half_margin_plots(row("mean"), PLOTS, PLOTS / POSSIBLE, 0.95) == by_hand
    # without the limit of plots possible more are needed
    assert half_margin_plots(row("mean"), PLOTS, 0.0, 0.95) != by_hand


def test_plan_gives_the_same_number_for_a_total() -> None:
    figures = whole_town(DEVIATION / MEAN, POSSIBLE)
    margins = {n: margin_of(figures, np.array([n])) for n in range(PLOTS, 200)}
    planned = next(n for n, margin in margins.items() if margin <= margins[PLOTS] / 2)
    assert half_margin_plots(row("total"), PLOTS, PLOTS / POSSIBLE, 0.95) == planned


def test_a_figure_without_a_margin_has_no_number() -> None:
    none = row("mean")
    none["standard_error"] = float("nan")
    assert half_margin_plots(none, PLOTS, 0.0, 0.95) is None
    assert half_margin_plots(row("mean"), PLOTS, 1.0, 0.95) is None


@pytest.fixture(scope="module")
def facts() -> Facts:
    return gather(town_outcome(), 0.95)


def test_the_sampled_share_is_plots_used_of_plots_possible(facts: Facts) -> None:
    strata = facts.outcome.survey.strata
    assert sampled_fraction(facts) == pytest.approx(26 / strata["plots_possible"].sum())


def dated(facts: Facts, days: list[str | None]) -> Facts:
    survey = facts.outcome.survey
    dates = pd.to_datetime(pd.Series([days[at % len(days)] for at in range(len(survey.plots))]))
    plots = survey.plots.assign(date=dates.to_numpy())
    return replace(facts, outcome=replace(facts.outcome, survey=replace(survey, plots=plots)))


def test_the_pace_is_plots_by_the_days_on_which_plots_were_measured(facts: Facts) -> None:
    five = dated(facts, [f"2025-05-{day}" for day in (12, 13, 14, 15, 19)])
    assert plots_a_day(five) == pytest.approx(26 / 5)
    assert days_for(11, 5.0) == 3
    assert days_for(10, 5.0) == 2
    section = what_would_help(five)
    assert section.table is not None
    assert section.table.headings[-1] == "More days"
    label, _, plots = half_margins(five)[0]
    assert label == "Trees"
    assert plots is not None
    assert f"{math.ceil((plots - 26) / (26 / 5))} more days in the field" in section.sentences[0]


def test_without_a_date_there_are_no_days_and_that_is_said(facts: Facts) -> None:
    some = dated(facts, ["2025-05-12", None])
    assert math.isnan(plots_a_day(some))
    section = what_would_help(some)
    assert section.table is not None
    assert "More days" not in section.table.headings
    assert "in the field" not in section.sentences[0]
    assert "Field days are not given, because some plots have no date." in section.notes[-1]


def test_margins_at_another_confidence_than_the_report_are_named() -> None:
    for confidence in (0.95, 0.8):
        notes = what_would_help(gather(town_outcome(), confidence)).notes
        assert ("Like the verdicts, this uses margins at 95 %." in notes[-1]) == (
            confidence != 0.95
        )


def test_nothing_is_assumed_where_no_number_of_plots_is_given() -> None:
    facts = gather(town_outcome(), 0.95)
    table = facts.estimates.table.assign(plots_with=FEW_PLOTS - 1)
    few = replace(facts, estimates=replace(facts.estimates, table=table))
    section = what_would_help(few)
    assert section.sentences[0].startswith("The figures are based on too few plots to say how many")
    assert not any("This assumes" in note for note in section.notes)
