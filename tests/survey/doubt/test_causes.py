"""Causes for numbers as they were typed: shares, widths, neighbours, divisions, equal values."""

from typing import Any

import numpy as np
import pytest

from tests.survey.doubt.causes import explain
from tests.survey.doubt.test_explain import MAPLE, about_line, lines, outcome
from tests.survey.make_survey import DEFAULT_SPECIES, make_survey
from xlhelpers.survey.doubt.explain import _join_same_values, weigh_doubts
from xlhelpers.survey.doubt.mistakes import MISTAKES
from xlhelpers.survey.doubt.weigh import weigh_mistakes
from xlhelpers.survey.evaluate import evaluate
from xlhelpers.survey.outcome import Outcome

ID = {mistake.id: mistake for mistake in MISTAKES}


def named(found: Outcome, line: int = 6) -> dict[str, str]:
    """Return the words of the causes of a line by mistake, the likeliest first."""
    return {
        cause.mistake: cause.words
        for own, causes in explain(found)
        if own == line
        for cause in causes
    }


@pytest.mark.parametrize(
    ("changed", "mistake", "words"),
    [
        ({"tip_reading": 0.93}, "reading-as-share", "0.93 should be 93"),
        ({"foot_reading": -0.09, "base_reading": 0.07, "tip_reading": 0.93},
         "readings-as-shares", "100 times too small"),
        ({"tip_reading": 9.3}, "decimal-tip", "9.3 should be 93"),
        ({"tip_reading": 930}, "decimal-tip", "930 should be 93"),
        ({"distance": 1.69}, "decimal-distance", "1.69 m should be 16.9 m"),
        ({"width_widest": 130.0}, "decimal-width", "130.0 m should be 13.0 m"),
        ({"width_across": 120.0}, "decimal-width", "120.0 m should be 12.0 m"),
        ({"width_widest": 42.7, "width_across": 39.4}, "width-other-unit", "in ft"),
        ({"foot_reading": 9, "foot_above_eye": True}, "foot-sign", "9 should be −9"),
        ({"tip_reading": 13}, "misread-tip", "13 could be"),
    ],
)  # fmt: skip
def test_the_first_cause(changed: dict[str, Any], mistake: str, words: str) -> None:
    causes = named(outcome(**changed))
    assert next(iter(causes), "") == mistake
    assert words in causes[mistake]


def test_a_slip_in_one_width_is_that_of_the_typed_width() -> None:
    """The mean of 130 and 12 is 71: the mean was never typed."""
    doubts = weigh_doubts(outcome(width_widest=130.0))
    columns = doubts.weighed.sheet.columns
    best = doubts.weighed.best[doubts.place[6], list(ID).index("decimal-width")]
    assert columns["width_widest"][best] == pytest.approx(13.0)
    assert columns["width_across"][best] == 12.0
    assert doubts.weighed.seen.width[best] == pytest.approx(12.5)


def test_the_diameter_of_the_line_above() -> None:
    rows = lines()
    rows[5]["diameter"], rows[6]["diameter"] = 11.3, 11.3
    rows[5] |= {"width_widest": 4.0, "width_across": 3.5, "distance": 7.5, "foot_reading": -21,
                "base_reading": -5, "tip_reading": 80}  # fmt: skip
    found = evaluate(make_survey(rows, species=(*DEFAULT_SPECIES, MAPLE)))
    assert "was copied from a nearby line" in named(found).get("neighbour-diameter", "")


def test_no_correction_leaves_a_decimal_where_all_readings_are_whole() -> None:
    """9.3 may be 93; that 9 was typed as 9.3 or 1.93 as 9.3 leaves what nobody reads."""
    doubts = weigh_doubts(outcome(tip_reading=9.3))
    row, tips = doubts.place[6], doubts.weighed.sheet.columns["tip_reading"]
    decimal = [
        float(doubts.weighed.weight[row, m])
        for m, best in enumerate(doubts.weighed.best[row])
        if best >= 0 and MISTAKES[m].id.endswith("-tip") and tips[best] != round(tips[best])
    ]
    best = doubts.weighed.weight[row, list(ID).index("decimal-tip")]
    assert all(best > weight + 3 for weight in decimal)


def test_causes_that_give_the_same_values_are_one() -> None:
    doubts = weigh_doubts(outcome(distance=169.0))
    lines_of = np.array([6])
    twice = (ID["decimal-distance"], ID["decimal-distance"], ID["transposed-distance"])
    weighed = weigh_mistakes(doubts.usual, lines_of, twice, 3)
    joined = _join_same_values(weighed, 0, np.array([0.4, 0.35, 0.2]))
    assert joined[0] == (0, pytest.approx(0.75))
    assert [m for m, _ in joined] in ([0], [0, 2])


def test_standing_alone_is_no_finding() -> None:
    """The same tree measured from 0.8 to 1.5 times its height, by a crew of one steady habit."""
    total = 16.9 * 1.02
    for share in (0.8, 1.5):
        far = round(total * share, 1)
        readings = {"foot_reading": round(-152 / far), "base_reading": round(100 * 1.2 / far),
                    "tip_reading": round(100 * (total - 1.52) / far)}  # fmt: skip
        assert about_line(outcome(distance=far, **readings)) == []


def test_set_distances_are_no_finding() -> None:
    """A crew that stands at 15 or 20 m whatever the tree."""
    rows = lines()
    for row in rows:
        far = 15.0 if row["distance"] < 17 else 20.0
        by = row["distance"] / far
        row |= {name: round(row[name] * by)
                for name in ("base_reading", "tip_reading")}  # fmt: skip
        row |= {"distance": far, "foot_reading": round(-160 / far)}
    found = evaluate(make_survey(rows, species=(*DEFAULT_SPECIES, MAPLE)))
    assert [f.check for f in found.findings if f.check == "unlikely-tree"] == []
