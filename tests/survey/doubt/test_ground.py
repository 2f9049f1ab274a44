"""Eyes that are off together show the ground; where all else fits, a limit is only stated.

The trees are the silver maples of `test_explain`, read by an eye 1.6 m above level ground.
"""

from typing import Any

import pytest

from tests.survey.doubt.test_explain import lines
from tests.survey.doubt.test_patterns import SPECIES
from tests.survey.make_survey import make_survey
from xlhelpers.survey.evaluate import evaluate
from xlhelpers.survey.model import Finding

Rows = list[dict[str, Any]]
READ = ("foot_reading", "base_reading", "tip_reading")


def findings(rows: Rows) -> list[Finding]:
    return list(evaluate(make_survey(rows, species=SPECIES)).findings)


def open_ones(rows: Rows) -> list[Finding]:
    return [f for f in findings(rows) if f.severity != "note"]


def from_higher(rows: Rows, numbers: range, metres: float) -> Rows:
    """The same trees, some seen from ground that is so much higher than their foot."""
    rows = [dict(row) for row in rows]
    for row in rows[numbers.start : numbers.stop]:
        for name in READ:
            row[name] = round(row[name] - 100 * metres / row["distance"])
        row["foot_above_eye"] = row["foot_reading"] > 0
    return rows


@pytest.mark.parametrize("metres", [-1.1, 1.1])
def test_a_whole_plot_on_a_slope_is_no_mistake_of_each_line(metres: float) -> None:
    rows = from_higher(lines(), range(12, 24), metres)
    assert open_ones(rows) == []
    (note,) = (f for f in findings(rows) if f.check == "eye-height-plot")
    assert "The ground probably slopes there, so this is only a note." in note.message


def test_several_trees_of_a_plot_on_a_slope_are_told_of_once() -> None:
    rows = from_higher(lines(), range(12, 17), 1.1)
    found = [f for f in findings(rows) if f.check.startswith("eye-height")]
    assert [f.check for f in found] == ["eye-height-plot"]
    assert open_ones(rows) == []


def test_one_eye_that_is_off_is_still_the_line() -> None:
    rows = lines()
    rows[14]["foot_reading"] = rows[14]["foot_reading"] - 30
    assert any(14 in f.lines for f in open_ones(rows))


def test_trees_above_the_crew_as_ticked_have_no_lost_sign() -> None:
    """Five trees of a bank: the crew stood below and said so."""
    rows = from_higher(lines(), range(12, 17), -3.4)
    assert all(row["foot_above_eye"] for row in rows[12:17])
    assert not any("sign of the foot reading" in f.message for f in findings(rows))
    assert open_ones(rows) == []


@pytest.mark.parametrize(
    ("share", "check"), [(0.45, "too-close"), (0.34, "under-crown")], ids=["close", "under"]
)
def test_a_near_stand_is_only_a_note_where_all_else_fits(share: float, check: str) -> None:
    rows = lines()
    for number in (3, 15):
        row = rows[number]
        far = round(share * row["distance"], 1)
        if check == "under-crown":
            # a crown so wide that half of it reaches the stand
            row["width_widest"] = round(2 * far + 0.4, 1)
        for name in READ:
            row[name] = round(row[name] * row["distance"] / far)
        row["distance"] = far
    about = [f for f in findings(rows) if f.check == check]
    assert about
    assert [f.severity for f in about] == ["note"] * len(about)
