"""Confidence limits on the plain, the log and the logit scale, against their definitions."""

import numpy as np
import pytest
from scipy import special, stats

from xlhelpers.estimates.limits import half_width, limits

T19 = float(stats.t.ppf(0.975, 19))


def test_limits_of_a_mean_are_at_equal_distances() -> None:
    low, high = limits(14.0, 0.5, 19, 0.95)
    assert (14 - low[0], high[0] - 14) == (pytest.approx(T19 / 2), pytest.approx(T19 / 2))


def test_limits_of_a_share_are_those_of_its_logit() -> None:
    """The logit, its standard error by the delta method, t of the design; scipy's functions."""
    low, high = limits(0.3, 0.06, 19, 0.95, "logit")
    reach = T19 * 0.06 / (0.3 * 0.7)
    for end, found in ((-reach, low), (reach, high)):
        assert found[0] == pytest.approx(special.expit(special.logit(0.3) + end))


@pytest.mark.parametrize("share", [0.001, 0.5, 0.999])
def test_limits_of_a_share_stay_between_nothing_and_all(share: float) -> None:
    low, high = limits(share, 0.4, 1, 0.95, "logit")
    assert 0 <= low[0] < share < high[0] <= 1


def test_limits_of_a_total_are_those_of_its_logarithm_moved_up() -> None:
    low, high = limits(1200.0, 300.0, 19, 0.95, "log")
    assert np.log([low[0], high[0]]) == pytest.approx(
        [np.log(1200) + 0.25**2 - T19 * 0.25, np.log(1200) + 0.25**2 + T19 * 0.25]
    )


def test_the_middle_is_moved_as_johnson_moves_t_for_sums_like_a_gamma() -> None:
    """Johnson1978: at t standard errors, skewness g of the mean asks for g (1 + 2 t2) / 6 of them.

    The logarithm gives t2 cv / 2; a gamma distribution has twice its coefficient of variation.
    """
    cv, t = 0.01, 2.0
    asked = 2 * cv * (1 + 2 * t**2) / 6
    low, high = limits(1.0, cv, 10**6, 2 * stats.norm.cdf(t) - 1, "log")
    given = ((high[0] - 1) + (low[0] - 1)) / 2 / cv
    assert given == pytest.approx(asked, rel=0.001)


@pytest.mark.parametrize("scale", ["plain", "log", "logit", "cover"])
def test_without_an_error_both_limits_are_the_value_and_without_freedom_there_are_none(
    scale: str,
) -> None:
    exact = limits([0.0, 0.4, 1.0], 0.0, 5, 0.95, scale)
    assert exact[0].tolist() == exact[1].tolist() == [0.0, 0.4, 1.0]
    assert np.isnan(limits(0.4, 0.1, np.nan, 0.95, scale)).all()
    assert np.isnan(limits(0.4, np.nan, 5, 0.95, scale)).all()


def test_cover_follows_the_summed_crowns() -> None:
    low, high = limits(1 - np.exp(-0.8), 0.2 * np.exp(-0.8), 19, 0.95, "cover")
    summed = limits(0.8, 0.2, 19, 0.95, "log")
    assert (low[0], high[0]) == tuple(pytest.approx(1 - np.exp(-end[0])) for end in summed)


def test_the_half_width_is_nearly_t_times_the_error_where_that_is_small() -> None:
    assert half_width(0.04, 19, 0.95)[0] == pytest.approx(T19 * 0.04, rel=0.01)
    assert half_width(0.4, 19, 0.95)[0] > 1.2 * T19 * 0.4
    assert half_width(0.0, 19, 0.95)[0] == 0
    assert np.isinf(half_width(60.0, 1, 0.95)[0])
