"""Plots on the wrong scale: found beside other mistakes, when small, and never through their day.

A reading in degrees is the arc tangent of one in percent over 100 (definition), and no reading in
degrees is above 89. The trees are the silver maples of `test_explain`.
"""

from collections.abc import Iterable
from typing import Any

import pytest

from tests.survey.doubt.test_explain import lines
from tests.survey.doubt.test_ground import from_higher
from tests.survey.doubt.test_patterns import SPECIES, in_degrees
from tests.survey.make_survey import PLAIN_PLOT, make_survey
from xlhelpers.survey.evaluate import evaluate
from xlhelpers.survey.model import Finding

Rows = list[dict[str, Any]]


def whole_plots(rows: Rows, dates: dict[str, str] | None = None) -> list[Finding]:
    """Return the findings of plots on another scale; a plot in `dates` was measured that day."""
    names = dict.fromkeys(row["plot"] for row in rows)
    plots = [PLAIN_PLOT | {"plot": n} | ({"date": dates[n]} if dates else {}) for n in names]
    found = evaluate(make_survey(rows, plots=plots, species=SPECIES)).findings
    return [finding for finding in found if finding.check == "lines-on-other-scale"]


def accused(found: Iterable[Finding], rows: Rows) -> list[str]:
    names = list(dict.fromkeys(row["plot"] for row in rows))
    return sorted(names[plot] for finding in found for plot in finding.plots)


def swap_foot_and_tip(row: dict[str, Any]) -> None:
    row["foot_reading"], row["tip_reading"] = row["tip_reading"], row["foot_reading"]


def lose_foot_sign(row: dict[str, Any]) -> None:
    row["foot_reading"] = -row["foot_reading"]


def split(rows: Rows, size: int) -> Rows:
    """The same trees on plots of this many."""
    return [row | {"plot": str(1 + at // size), "tree": str(1 + at)} for at, row in enumerate(rows)]


@pytest.mark.parametrize("at", [(2, 5), (14, 17)], ids=["another plot", "the same plot"])
def test_other_mistakes_do_not_hide_a_plot(at: tuple[int, int]) -> None:
    rows = in_degrees(lines(), "2")
    swap_foot_and_tip(rows[at[0]])
    lose_foot_sign(rows[at[1]])
    assert accused(whole_plots(rows), rows) == ["2"]


@pytest.mark.parametrize("size", [3, 4])
def test_a_plot_of_few_trees(size: int) -> None:
    rows = in_degrees(split(lines(), size), "3")
    (finding,) = whole_plots(rows)
    assert accused([finding], rows) == ["3"]
    assert len(finding.lines) == size


@pytest.mark.parametrize("size", [4, 12])
def test_a_plot_among_right_ones_of_its_day(size: int) -> None:
    rows = in_degrees(split(lines(), size), "2")
    dates = {row["plot"]: "2024-06-03" for row in rows}
    assert accused(whole_plots(rows, dates), rows) == ["2"]


def test_readings_that_the_scale_cannot_show_speak_against_it() -> None:
    """A plot half of whose tips are above 89 was read in percent, whatever its day was read in."""
    rows = [row | {"plot": f"{k}{row['plot']}"} for k in range(3) for row in lines()]
    for plot in ("11", "12"):
        rows = in_degrees(rows, plot)
    for at in range(12):
        # short trees from far away; every second one from near
        far = 2.0 if at % 2 else 0.5
        rows[at]["distance"] = round(rows[at]["distance"] * far, 1)
        for name in ("foot_reading", "base_reading", "tip_reading"):
            rows[at][name] = round(rows[at][name] / far)
    assert sum(94 <= row["tip_reading"] <= 600 for row in rows[:12]) == 6
    dates = {row["plot"]: "2024-06-04" for row in rows}
    dates |= dict.fromkeys(("01", "11", "12"), "2024-06-03")
    found = whole_plots(rows, dates)
    assert accused(found, rows) == ["11", "12"]
    assert all("01" not in finding.message for finding in found)


def test_a_day_whose_plots_agree_is_one_finding() -> None:
    rows = [row | {"plot": f"{k}{row['plot']}"} for k in range(2) for row in lines()]
    for plot in ("11", "12"):
        rows = in_degrees(rows, plot)
    dates = {"01": "2024-06-03", "02": "2024-06-03", "11": "2024-06-04", "12": "2024-06-04"}
    (finding,) = whole_plots(rows, dates)
    assert accused([finding], rows) == ["11", "12"]
    assert "On plots 11 and 12 (one day, one instrument)," in finding.message


def test_right_plots_with_many_other_mistakes_are_not_accused() -> None:
    rows = split(lines(), 4)
    for row in rows[::4]:
        swap_foot_and_tip(row)
    for row in rows[1::4]:
        lose_foot_sign(row)
    assert whole_plots(rows, {row["plot"]: "2024-06-03" for row in rows}) == []


@pytest.mark.parametrize("lower", [4.0, 5.0, 6.0])
def test_a_plot_sighted_uphill_is_found(lower: float) -> None:
    """The feet are above the eye on any scale, so no eye height speaks against one."""
    rows = from_higher(lines(), range(12, 24), -lower)
    assert all(row["foot_reading"] > 0 for row in rows[12:])
    assert whole_plots(rows) == []
    wrong = in_degrees(rows, "2")
    (finding,) = whole_plots(wrong)
    assert accused([finding], wrong) == ["2"]
    assert "12 lines were probably read in degrees." in finding.message
    assert "Most trees stand uphill of the crew" in finding.message
    assert "eye height −" not in finding.message


def test_no_scale_is_named_that_puts_the_eye_farther_off() -> None:
    """Cut-back trees on hilly ground: in degrees 12 eyes of 1.6 m would be at 2.8 m."""
    rows = lines()
    for at in range(12):
        rows = from_higher(rows, range(at, at + 1), 2.0 if at % 2 else -2.0)
    for row in rows[12:]:
        foot = 160 / row["distance"]
        for name in ("base_reading", "tip_reading"):
            row[name] = round(0.5 * (row[name] + foot) - foot)
    assert whole_plots(rows) == []
