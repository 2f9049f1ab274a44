"""Which corrections are offered: none that argues against itself, and all that explain as well."""

import re
from typing import Any

import numpy as np
import pytest

from tests.survey.doubt.causes import explain
from tests.survey.doubt.test_explain import MAPLE, about_line, lines, outcome
from tests.survey.make_survey import DEFAULT_SPECIES, make_survey
from xlhelpers.survey.doubt.describe import Cause, merge_same_values, say_causes, write_values
from xlhelpers.survey.evaluate import evaluate
from xlhelpers.survey.model import CauseRecord
from xlhelpers.survey.outcome import Outcome

LIMIT, EYE = 1.5 * 0.3048, 1.6
_EYES = re.compile(r"eye height of ([−\d.]+) m \(now ([−\d.]+) m")


def rolling(slope: float, seed: int, **changed: Any) -> Outcome:
    """The maples on ground that rises and falls, all but the seventh."""
    random = np.random.default_rng(seed)
    rows = lines(**changed)
    for number, row in enumerate(rows):
        up = 0.0 if number == 6 else random.normal(0, slope) * 100
        for name in ("foot_reading", "base_reading", "tip_reading"):
            row[name] = round(row[name] + up)
    return evaluate(make_survey(rows, species=(*DEFAULT_SPECIES, MAPLE)))


@pytest.mark.parametrize("slope", [0.05, 0.1])
@pytest.mark.parametrize(
    "changed",
    [
        {"tip_reading": 35},
        {"distance": 60, "tip_reading": 93, "foot_reading": -3, "base_reading": 2},
    ],
)
def test_no_cause_moves_an_eye_height_beyond_the_limit(
    slope: float, changed: dict[str, float]
) -> None:
    found = about_line(rolling(slope, 0, **changed))
    assert found
    for finding in found:
        for after, before in _EYES.findall(finding.message):
            was, now = (abs(float(eye.replace("−", "-")) - EYE) for eye in (before, after))
            assert not was <= LIMIT < now, finding.message


@pytest.mark.parametrize(
    "changed", [{"tip_reading": 39}, {"distance": 55.4}, {"tip_reading": 933}, {"distance": 169.0}]
)
def test_a_cause_states_the_height_and_the_eye_height_that_it_gives(
    changed: dict[str, float],
) -> None:
    for finding in about_line(outcome(**changed)):
        assert "a height of 17.2 m" in finding.message
        assert "eye height of 1.52 m" in finding.message or "eye height (1.52 m)" in finding.message


def test_two_causes_that_explain_as_well_are_named_in_one_sentence() -> None:
    """A distance of 1.7 m may be 17.0 m, or 14.7, 15.7 … with its first digit missing."""
    together = 0
    for changed in ({"distance": 1.7}, {"distance": 1.6}, {"diameter": 14.0}, {"diameter": 5.0},
                    {"tip_reading": 9}, {"tip_reading": 150}):  # fmt: skip
        found = outcome(**changed)
        shares = [causes for line, causes in explain(found) if line == 6]
        messages = [finding.message for finding in about_line(found)]
        for message, causes in zip(messages, shares, strict=False):
            alike = len(causes) > 1 and causes[1].share >= 0.5 * causes[0].share
            assert ("either" in message) == alike
            if alike:
                together += 1
                (sentence,) = re.findall(r"ly either .*?, or .*?\. (?=[A-Z])", message)
                assert all(cause.clause in sentence for cause in causes[:2])
    assert together


def test_a_lost_digit_gives_no_exact_height() -> None:
    """4.7 cm may have been 34.7, 44.7, 54.7 and so on; 6.1 m may have been 16.1 m alone."""
    (finding,) = about_line(outcome(diameter=4.7))
    assert re.search(r"4\.7 cm could be 3\d\.7 to 6\d\.7 cm\.", finding.message)
    assert re.search(r"typically about 1\d\.\d to 2\d\.\d m tall", finding.message)
    (finding,) = about_line(outcome(distance=1.7))
    low, high = re.findall(r"1\.7 m could be ([\d.]+) to ([\d.]+) m", finding.message)[0]
    heights = [f"{1.02 * float(far):.1f}" for far in (low, high)]
    assert f"a height of {heights[0]} to {heights[1]} m" in finding.message
    (finding,) = about_line(outcome(distance=6.1))
    assert "6.1 m could be 16.1 m. That gives a height of about 16 m" in finding.message


def test_values_as_words() -> None:
    assert write_values("diameter", np.array([74.0, 47.0]), "metric") == "47.0 cm or 74.0 cm"
    assert write_values("length", np.array([14.0, 19.0, 16.0]), "metric") == "14.0 to 19.0 m"
    assert write_values("length", np.array([14.0, 19.0]), "metric", True) == "14.0 to 19.0 m"
    assert write_values("diameter", np.array([47.0, 47.0]), "metric") == "47.0 cm"


def cause(kind: str, share: float, would_be: float, field: str = "diameter") -> Cause:
    record = CauseRecord(kind, field, 7.4, would_be, 17.2, 3.0, f"it was {would_be}. That gives x")
    return Cause(kind, share, share, record, f"it was {would_be}", "That gives x", "")


def test_causes_that_give_the_same_value_are_one() -> None:
    causes = [cause("a", 0.5, 74.0), cause("b", 0.3, 74.0), cause("c", 0.2, 47.0)]
    assert [each.mistake for each in merge_same_values(causes)] == ["a", "c"]
    other = [cause("a", 0.5, 74.0), cause("b", 0.3, 74.0, "distance")]
    assert len(merge_same_values(other)) == 2


def test_a_clearly_weaker_cause_comes_second() -> None:
    both = [cause("a", 0.5, 74.0), cause("b", 0.3, 47.0)]
    assert say_causes(both)[0] == "Probably either it was 74.0, or it was 47.0."
    weaker = [cause("a", 0.8, 74.0), cause("b", 0.1, 47.0)]
    words = say_causes(weaker)
    assert words == ["Probably it was 74.0. That gives x.", "Or it was 47.0. That gives x."]
    assert say_causes([]) == []
