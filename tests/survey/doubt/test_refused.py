"""Numbers outside every possible range get a cause in words, like any other doubtful number."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from tests.survey.doubt.test_explain import MAPLE, lines
from tests.survey.make_survey import DEFAULT_SPECIES, REFUSED_CELL, make_survey
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.survey.evaluate import evaluate
from xlhelpers.survey.model import Finding

# field, what was typed, what it should be: the reading refuses each of them
REFUSED: list[tuple[str, float, float]] = [
    ("tip_reading", 930, 93), ("tip_reading", 940, 94), ("tip_reading", 880, 88),
    ("tip_reading", 933, 93), ("tip_reading", 944, 94), ("tip_reading", 993, 93),
    ("tip_reading", 640, 64), ("tip_reading", 1000, 100), ("tip_reading", 994, 94),
    ("tip_reading", 860, 86), ("tip_reading", 870, 87), ("tip_reading", 911, 91),
    ("tip_reading", 1020, 102),
    ("width_widest", 130, 13.0), ("width_widest", 122, 12.2), ("width_widest", 95, 9.5),
    ("width_widest", 140, 14.0), ("width_widest", 113, 13.0), ("width_widest", 133, 13.0),
    ("width_across", 120, 12.0), ("width_across", 118, 11.8), ("width_across", 98, 9.8),
    ("width_across", 112, 12.0), ("width_across", 131, 13.1),
    ("distance", 0.4, 4.0),
]  # fmt: skip


def finding_on(field: str, typed: float, **others: Any) -> Finding:
    """Return the finding on one refused number of the seventh maple."""
    survey = make_survey(
        lines(**{field: REFUSED_CELL}, **others), species=(*DEFAULT_SPECIES, MAPLE)
    )
    label = FIELD_SHEET[field].label
    refused = Finding(
        "value-impossible", "error", "paper", (("plot", "1"), ("tree", "7"), ("set-up", "1")),
        f"{label} is “{typed:g}”. It must be another number.", "Check the paper sheet.",
        fields=(field,), sheet="Field sheet", row=12, column=9, lines=(6,),
        evidence=(f"{typed:g}",),
    )  # fmt: skip
    found = evaluate(replace(survey, findings=(refused,))).findings
    (finding,) = [each for each in found if each.check == "value-impossible"]
    return finding


def low_tree(field: str) -> dict[str, float]:
    """What else is on the line of a tree that these values go with."""
    if field == "distance":
        return {"diameter": 8.0, "width_widest": 2.4, "width_across": 2.2,
                "foot_reading": -39, "base_reading": -12, "tip_reading": 100}  # fmt: skip
    return {}


@pytest.mark.parametrize(("field", "typed", "right"), REFUSED)
def test_a_refused_number_gets_its_cause(field: str, typed: float, right: float) -> None:
    finding = finding_on(field, typed, **low_tree(field))
    assert finding.causes, finding.message
    assert right in [cause.would_be for cause in finding.causes]
    assert f"{typed:g}" in finding.message


def test_the_words_name_the_number_and_what_it_gives() -> None:
    """64 % and −9 % at 16.9 m: 12.3 m."""
    finding = finding_on("tip_reading", 640)
    assert "640 should be 64. That gives a height of 12.3 m" in finding.message
    assert finding.causes[0].total_height == pytest.approx(0.73 * 16.9)


def test_no_cause_leaves_an_impossible_eye_height() -> None:
    """-72 for -720 would put the eye 12 m above the foot."""
    assert finding_on("foot_reading", -720).causes == ()


def test_a_number_that_no_single_mistake_makes_gets_no_cause() -> None:
    finding = finding_on("tip_reading", 5_021_777)
    assert finding.causes == ()
    assert finding.message.endswith("It must be another number.")


def test_the_other_findings_stay_as_they_are() -> None:
    species = (*DEFAULT_SPECIES, MAPLE)
    rows = lines(tip_reading=REFUSED_CELL)
    rows[3] |= {"distance": 169.0}
    plain = make_survey(rows, species=species)
    before = [f for f in evaluate(plain).findings if f.lines != (6,)]
    refused = Finding(
        "value-impossible", "error", "paper", (("plot", "1"), ("tree", "7"), ("set-up", "1")),
        "m", "a", fields=("tip_reading",), lines=(6,), evidence=("640",),
    )  # fmt: skip
    after = evaluate(replace(plain, findings=(refused,))).findings
    assert [f for f in after if f.lines != (6,)] == before
    assert np.isnan(evaluate(replace(plain, findings=(refused,))).trees["total_height"].iloc[6])
