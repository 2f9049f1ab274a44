"""Quantiles of Student's t against a printed table and scipy."""

import numpy as np
import pytest
from scipy import stats

from xlhelpers.estimates.intervals import t_multiplier

# two-sided 5 %, as standard tables print them
PRINTED = {4: 2.776, 9: 2.262, 19: 2.093, 24: 2.064, 29: 2.045, 60: 2.000, 120: 1.980}


def test_printed_table() -> None:
    found = t_multiplier(list(PRINTED), 0.95)
    assert np.round(found, 3).tolist() == list(PRINTED.values())


@pytest.mark.parametrize("confidence", [0.5, 0.8, 0.9, 0.95, 0.99])
def test_against_scipy(confidence: float) -> None:
    freedom = np.array([*range(1, 310), 1000, 10**4, 10**6])
    theirs = stats.t.ppf(0.5 + confidence / 2, freedom)
    np.testing.assert_allclose(t_multiplier(freedom, confidence), theirs, rtol=1e-10)


def test_fractions_are_cut_off_and_nothing_gives_nothing() -> None:
    found = t_multiplier([7.9, 0.5, np.nan, np.inf], 0.95)
    assert found[0] == t_multiplier(7, 0.95)[0]
    assert np.isnan(found[1:]).all()


def test_a_whole_number_left_short_by_rounding_stays_whole() -> None:
    """Sums over equal strata, as the design makes them, give 92.99999999999999 and the like."""
    whole = np.array([93.0, 99.0, 105.0, 117.0])
    short = 1 / np.array([np.full(int(n), 1 / n).dot(np.full(int(n), 1 / n)) for n in whole])
    for freedom in (np.nextafter(whole, 0), short):
        assert (t_multiplier(freedom, 0.95) == t_multiplier(whole, 0.95)).all()
