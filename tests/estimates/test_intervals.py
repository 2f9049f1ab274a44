"""Confidence limits and quantiles against published tables and a second witness, scipy."""

import pytest
from scipy import stats

from xlhelpers.estimates.intervals import clopper_pearson, exact_limit, t_cdf, t_quantile, wilson

# Newcombe1998: Statistics in Medicine 17, 857-872, table I (from memory): count, of, Wilson's
# score limits, exact limits
NEWCOMBE = (
    (81, 263, (0.2553, 0.3662), (0.2527, 0.3676)),
    (15, 148, (0.0624, 0.1605), (0.0578, 0.1617)),
    (0, 20, (0.0, 0.1611), (0.0, 0.1684)),
    (1, 29, (0.0061, 0.1718), (0.0009, 0.1776)),
)


@pytest.mark.parametrize(("count", "of", "score", "exact"), NEWCOMBE)
def test_published_limits(count: int, of: int, score: tuple, exact: tuple) -> None:
    assert wilson(count, of) == pytest.approx(score, abs=6e-5)
    assert clopper_pearson(count, of) == pytest.approx(exact, abs=6e-5)


@pytest.mark.parametrize("of", [1, 2, 7, 30, 400])
@pytest.mark.parametrize("share", [0.0, 0.03, 0.5, 0.9, 1.0])
def test_limits_against_a_second_witness(of: int, share: float) -> None:
    count = round(of * share)
    found = stats.binomtest(count, of)
    for method, ours in (("wilson", wilson), ("exact", clopper_pearson)):
        theirs = found.proportion_ci(method=method)
        assert ours(count, of) == pytest.approx((theirs.low, theirs.high), abs=1e-9)


@pytest.mark.parametrize("freedom", [1, 2, 3, 4, 5, 16, 17, 99, 1000])
@pytest.mark.parametrize("chance", [0.6, 0.9, 0.975, 0.995, 0.025])
def test_student(freedom: int, chance: float) -> None:
    value = t_quantile(chance, freedom)
    assert value == pytest.approx(stats.t.ppf(chance, freedom), rel=1e-7)
    assert t_cdf(value, freedom) == pytest.approx(chance, abs=1e-10)


def test_nothing_gives_no_limits() -> None:
    assert str(wilson(0, 0)) == str(clopper_pearson(0, 0)) == "(nan, nan)"
    assert exact_limit(0, 5, 0.05, is_lower=True) == 0.0
    assert exact_limit(5, 5, 0.05, is_lower=False) == 1.0
