"""Crown bases aimed at elsewhere: the ground under the crown lies below the foot by geometry."""

import numpy as np
import pytest

from tests.survey.doubt.test_causes import named
from tests.survey.doubt.test_explain import outcome
from xlhelpers.survey.doubt.crown_bases import suppose_ground_below, suppose_low_branch
from xlhelpers.survey.doubt.explain import limits_of
from xlhelpers.survey.doubt.reference import reference
from xlhelpers.survey.doubt.weigh import _take_doubtful, weigh_lines

EYE, DISTANCE, RADIUS = 1.6, 16.9, 6.25


def ground_reading(part: float) -> float:
    """Return the percent at which the ground is seen this part of the radius before the stem."""
    return -100 * EYE / (DISTANCE - part * RADIUS)


def log_shares(suppose, base: float, **changed: float) -> np.ndarray:
    found = outcome(base_reading=base, **changed)
    survey = found.survey
    usual = weigh_lines(survey, found.setups, found.trees, reference(), limits_of(survey.rules))
    doubtful = _take_doubtful(usual, np.array([6]))
    shares = [np.broadcast_to(c.share, len(c.rows)) for c in suppose(doubtful)]
    return np.concatenate(shares)


@pytest.mark.parametrize("part", [0.5, 0.7, 1.0])
def test_the_ground_under_the_crown_is_named(part: float) -> None:
    """At half the radius it lies 0.36 m below the foot, at the edge of the crown 0.94 m."""
    causes = named(outcome(base_reading=round(ground_reading(part), 1)))
    assert next(iter(causes), "") == "base-to-ground"


def test_ground_that_no_crown_reaches_is_not_likely() -> None:
    near = log_shares(suppose_ground_below, ground_reading(0.7))
    far = log_shares(suppose_ground_below, ground_reading(2.2))
    assert near[0] > far[0] + 3


def test_a_base_in_the_tree_is_no_ground() -> None:
    assert len(log_shares(suppose_ground_below, 7.0)) == 0


def test_a_low_branch_lies_below_the_usual_base() -> None:
    assert len(log_shares(suppose_low_branch, -7.0)) > 0
    assert len(log_shares(suppose_low_branch, 60.0)) == 0
