"""Errors of measuring beside those of sampling: how they add up over trees, and what stays."""

from math import sqrt

import numpy as np
import pytest

from tests.estimates.make_sample import outcome_of, plot, row, tree, trees
from xlhelpers.estimates.estimates import estimate
from xlhelpers.estimates.measuring import Instruments, Measuring, error_parts, errors_of_trees

ONE = np.zeros(4, dtype=np.int64)
EACH = np.arange(4)


def known(instrument, common, person=ONE, observer=(1.0, 1.0, 1.0, 1.0)):
    readings = Instruments(
        EACH, np.ones(4), np.array(instrument), np.array(common), np.array([0.4, 0.4, 0.4, 0.4])
    )
    return Measuring({"mean_height": readings}, {"mean_height": np.array(observer)}, person)


def mean_of_four(of: Measuring, domain=ONE, domains=1):
    return error_parts(of, "mean_height", np.full(4, 0.25), domain, domains)


@pytest.mark.parametrize(
    ("instrument", "systematic"),
    [
        ([0, 0, 0, 0], 0.2),
        ([0, 0, 1, 1], sqrt(2) * 0.1),
        ([0, 1, 2, 3], 0.1),
    ],
)
def test_readings_of_one_instrument_err_together_and_those_of_several_apart(instrument, systematic):
    found = mean_of_four(known(instrument, [0.2, 0.2, 0.2, 0.2]))
    assert found.systematic[0] == pytest.approx(systematic)
    assert found.random[0] == pytest.approx(0.4 / sqrt(4))
    # all trees by one person, whatever the instrument
    assert found.observer[0] == pytest.approx(1.0)


def test_trees_of_unknown_accuracy_are_taken_to_be_like_the_others():
    of = known([0, 0, 0, 0], [0.2, np.nan, 0.2, np.nan])
    assert mean_of_four(of).systematic[0] == pytest.approx(0.2)
    of.by_name["mean_height"].reading[[1, 3]] = np.nan
    assert mean_of_four(of).random[0] == pytest.approx(0.4 / sqrt(4))


def test_nothing_is_carried_where_no_accuracy_is_known():
    found = mean_of_four(known([0, 0, 0, 0], [np.nan] * 4))
    assert np.isnan(found.systematic[0])
    assert np.isnan(
        error_parts(known(ONE, [0.2] * 4), "crown_area", ONE + 1.0, ONE, 1).systematic[0]
    )


def test_domains_carry_their_own_trees_and_parts_of_a_survey_theirs():
    of = known([0, 0, 1, 1], [0.2, 0.2, 0.6, 0.6])
    assert mean_of_four(of, np.array([0, 0, 1, 1]), 2).systematic == pytest.approx([0.1, 0.3])
    last = errors_of_trees(of, np.array([2, 3]), 4)
    found = error_parts(last, "mean_height", np.full(2, 0.5), ONE[:2], 1)
    assert found.systematic[0] == pytest.approx(0.6)
    assert found.random[0] == pytest.approx(0.4 / sqrt(2))


@pytest.mark.parametrize(
    ("quantity", "point"), [("mean_height", "tip"), ("mean_crown_depth", "depth")]
)
def test_a_mean_carries_the_parts_of_its_own_readings(quantity, point):
    outcome = outcome_of([*trees("A", 3, tip=40), *trees("B", 5, tip=60)], [plot("A"), plot("B")])
    found = row(estimate(outcome), quantity, "mean")
    common, reading = (outcome.setups[f"{point}_u_{part}"] for part in ("common", "reading"))
    assert found["measurement_systematic"] == pytest.approx(common.mean())
    assert found["measurement_random"] == pytest.approx(sqrt((reading**2).sum()) / 8)


@pytest.mark.parametrize("diameter", [20.0, None])
def test_basal_area_carries_twice_the_observers_share_of_the_diameter(diameter):
    """1.5 % of a diameter between observers (Luoma et al. 2017, abstract), 3 % of its square.

    It is that share of the total also where some trees have no diameter: they are taken to be
    like the others in this too.
    """
    lines = [*trees("A", 3), *trees("B", 2), tree("B", 3, diameter=diameter)]
    strata = [{"stratum": "North", "area": 100_000.0}]
    found = estimate(outcome_of(lines, [plot("A"), plot("B")], strata))
    basal, count = (row(found, name, "total") for name in ("basal_area", "trees"))
    assert basal["measurement_observer"] / basal["value"] == pytest.approx(0.03)
    assert np.isnan(count["measurement_observer"])
