"""Set-ups of one tree that disagree."""

import pytest

from tests.survey.checks.cases import Given, line, on
from tests.survey.checks.support import ids_of

FINE = {
    "instrument": "L1",
    "kind": "laser that shows heights",
    "u_angle": 0.0,
    "u_zero": 0.0,
    "u_distance": 0.01,
    "u_distance_share": 0.0,
}


def heights(*shown: float) -> Given:
    """One tree, shown by a display of small uncertainty from several places."""
    lines = [
        line(setup=i, distance=None, foot_reading=None, base_reading=6.0, tip_reading=height)
        for i, height in enumerate(shown, 1)
    ]
    given = on(*lines, instrument="L1", scale="height", distance_kind="none")
    return given | {"instruments": [FINE]}


# Brack & Wood 1998: heights from two positions agree to about 2.5 %, and 1 m is acceptable for a
# tree of 40 m
@pytest.mark.parametrize(
    ("shown", "found"),
    [
        ((40.0, 41.0), False),
        ((40.0, 41.1), True),
        ((41.0, 40.0), False),
        ((10.0, 10.5), False),
        ((10.0, 10.6), True),
        ((40.0, 40.5, 41.2), True),
        ((40.0, 40.5, 41.0), False),
    ],
)
def test_two_positions(shown: tuple[float, ...], found: bool) -> None:
    assert ("repeats-disagree-tip" in ids_of(heights(*shown))) == found


def test_two_uncertainties_are_allowed() -> None:
    given = heights(10.0, 10.8)
    assert "repeats-disagree-tip" in ids_of(given)
    wide = {"instruments": [FINE | {"u_distance": 0.3}]}
    assert "repeats-disagree-tip" not in ids_of(given | wide)
