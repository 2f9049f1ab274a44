"""Order from the ground up: one cause is said once."""

import pytest

from tests.survey.checks.cases import Given, line, one
from tests.survey.checks.support import ids_of, only


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        # the minus of the foot is missing: all else would lie below the foot
        (one(foot_reading=50.0), ["foot-plus-unticked"]),
        # the tip is below the foot, and so below the crown base
        (one(tip_reading=-97.0), ["tip-not-above-foot"]),
        # the distance slipped by a decimal: the eye is off as well
        (one(distance=200.0), ["height-over-limit"]),
        # all readings are shares: the tree is lower than breast height as well
        (one(foot_reading=-0.08, base_reading=0.22, tip_reading=0.97), ["readings-hundredfold"]),
        # readings alone show the order where no height can be computed
        (one(distance="?", base_reading=98.0), ["base-above-top", "closed-blanks"]),
        # both points below the eye are nothing unusual
        (one(distance=20.0, foot_reading=-8.0, base_reading=-2.0, tip_reading=30.0), []),
    ],
)
def test_one_cause_one_finding(given: Given, expected: list[str]) -> None:
    assert ids_of(given) == expected


# DeYoung, sections 5.3 and 5.7: a crown base reading of -10 % at 100 ft is below the eye and valid
def test_a_crown_base_below_the_eye_is_valid() -> None:
    given = one(distance=30.48, foot_reading=-34.0, base_reading=-10.0, tip_reading=70.0)
    assert not {"base-below-foot", "base-above-top", "base-counts-as-zero"} & set(ids_of(given))


def test_a_plot_of_positive_foot_readings_is_one_finding() -> None:
    lines = [line(i, foot_reading=8.0 + i, tip_reading=90.0 + 3 * i) for i in range(1, 5)]
    sound = line(9, tip_reading=83.0)
    given = {"lines": [*lines, sound]}
    assert ids_of(given).count("foot-plus-unticked-plot") == 1
    assert "foot-plus-unticked" not in ids_of(given)
    finding = only("foot-plus-unticked-plot", given)
    assert (finding.lines, finding.plots, finding.severity) == ((0, 1, 2, 3), (0,), "error")
    assert finding.message.startswith(
        "On 4 lines of this plot, the foot reading is above eye level."
    )
    # two of three lines are looked at each by itself
    few = ids_of({"lines": [*lines[:2], sound]})
    assert (few.count("foot-plus-unticked"), few.count("foot-plus-unticked-plot")) == (2, 0)


def test_readings_as_shares_are_said_with_the_values_found() -> None:
    finding = only(
        "readings-hundredfold", one(foot_reading=-0.08, base_reading=0.22, tip_reading=0.97)
    )
    assert "a tree of 0.21 m. Times 100 they give 21.0 m." in finding.message
    assert "If it says 97, type that" in finding.action
