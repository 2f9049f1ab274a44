"""Order, places, units and evidence of findings."""

import dataclasses

from tests.survey.checks.cases import REFUSED_CELL, line, one, plot, survey_of
from tests.survey.checks.support import findings_of, only
from xlhelpers.fields.rules import US_DEFAULTS
from xlhelpers.survey.checks.run import natural, run_checks
from xlhelpers.survey.decisions.identity import finding_id, fingerprint
from xlhelpers.survey.model import Finding
from xlhelpers.survey.setups.setups import compute_setups
from xlhelpers.survey.trees.trees import build_trees


def test_order_is_that_of_the_table_then_of_plots_and_trees_as_people_count() -> None:
    lines = [
        line("10", plot="2", diameter=None),
        line("9", plot="2", diameter=None, tip_reading=80.0),
        line("1", plot="10", species=None, tip_reading=70.0),
        line("1", plot="9", diameter=None, tip_reading=60.0),
    ]
    found = [(f.check, f.subject[0][1], f.subject[1][1]) for f in findings_of({"lines": lines})]
    assert found == [
        ("species-blank", "10", "1"),
        ("diameter-blank", "2", "9"),
        ("diameter-blank", "2", "10"),
        ("diameter-blank", "9", "1"),
    ]
    assert sorted(["10", "B2", "9", "B10", ""], key=natural) == ["", "9", "10", "B2", "B10"]


def test_values_are_shown_in_the_surveys_own_units() -> None:
    given = one(tip_reading=-2.0, base_reading=-5.0, distance=60 * 0.3048) | {"rules": US_DEFAULTS}
    finding = only("height-under-breast-height", given)
    assert finding.message == (
        "The total height is 3.60 ft, below breast height (4.50 ft). But the tree has a diameter "
        "there."
    )
    assert finding.evidence == ("Tip reading -2", "Foot reading -8", "Distance 60")


def test_moving_a_mistake_moves_the_finding() -> None:
    for wrong in range(3):
        lines = [line(i, tip_reading=70.0 + i) for i in range(1, 4)]
        lines[wrong]["foot_reading"] = 8.0
        finding = only("foot-plus-unticked", {"lines": lines})
        assert (finding.lines, finding.row, finding.column) == ((wrong,), 6 + wrong, 10)


def test_identity_stays_and_the_fingerprint_follows_the_readings() -> None:
    first = only("foot-plus-unticked", one(foot_reading=8.0))
    moved = only("foot-plus-unticked", {"lines": [line(2, tip_reading=60.0),
                                                  line(1, foot_reading=8.0)]})  # fmt: skip
    changed = only("foot-plus-unticked", one(foot_reading=9.0))
    assert finding_id(first) == finding_id(moved) == finding_id(changed)
    assert fingerprint(first) == fingerprint(moved) != fingerprint(changed)


def test_a_finding_of_a_plot_points_into_the_plots_sheet() -> None:
    plots = [plot(plot="2", status="no trees"), plot(status="refused")]
    finding = only("lines-on-unmeasured-plot", {"plots": plots})
    assert (finding.sheet, finding.row, finding.column) == ("Plots", 7, 3)
    assert (finding.lines, finding.plots) == ((), (1,))


def test_a_refused_or_closed_cell_is_not_asked_about_again() -> None:
    survey = survey_of(one(diameter=REFUSED_CELL, tip_reading="NOT SAFE"))
    setups = compute_setups(survey)
    found = run_checks(survey, setups, build_trees(survey, setups))
    assert [finding.check for finding in found] == ["closed-blanks"]


def test_what_the_reading_asks_about_a_cell_is_not_asked_again() -> None:
    given = survey_of(one(tree=None, diameter=300.0))
    cell = {"sheet": "Field sheet", "row": 6, "column": 2}
    told = Finding("read", "error", "paper", (("plot", "1"),), "No tree.", "Key it.", **cell)
    noted = dataclasses.replace(told, severity="note")
    for finding, expected in (
        (told, ["diameter-over-limit"]),
        (noted, ["tree-blank", "diameter-over-limit"]),
    ):
        survey = dataclasses.replace(given, findings=(finding,))
        setups = compute_setups(survey)
        found = run_checks(survey, setups, build_trees(survey, setups))
        assert [f.check for f in found] == expected
