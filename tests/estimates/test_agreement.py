"""Agreement against the published example, and verdicts against the definition."""

import math

import numpy as np
import pytest
from scipy import stats

from xlhelpers.estimates.remeasured import DEFAULTS, agreement, judge, pairs_to_fail, pairs_to_pass

# Bland & Altman 1986, Lancet i, 307-310: first readings of peak flow by two meters, 17 persons
LARGE_METER = [494, 395, 516, 434, 476, 557, 413, 442, 650, 433, 417, 656, 267, 478, 178, 423, 427]
MINI_METER = [512, 430, 520, 428, 500, 600, 364, 380, 658, 445, 432, 626, 260, 477, 259, 350, 451]


def test_published_example() -> None:
    found = agreement(np.subtract(LARGE_METER, MINI_METER), multiplier=2)
    assert found.n == 17
    # as printed: mean -2.1, SD 38.8, limits -79.7 and 75.5 (from the rounded figures)
    assert found.bias == pytest.approx(-2.1, abs=0.05)
    assert found.sd == pytest.approx(38.8, abs=0.05)
    assert found.lower == pytest.approx(-79.7, abs=0.06)
    assert found.upper == pytest.approx(75.5, abs=0.1)
    # as printed, from memory: the bias from -22.0 to 17.8, the lower limit from -114.3 to -45.1
    assert found.bias_limits == pytest.approx((-22.0, 17.8), abs=0.1)
    assert found.lower_limits == pytest.approx((-114.3, -45.1), abs=0.2)


def test_the_usual_multiplier() -> None:
    found = agreement(np.subtract(LARGE_METER, MINI_METER))
    # computed in double precision from the published data
    assert (found.lower, found.upper) == pytest.approx((-78.10, 73.86), abs=0.005)


def test_root_mean_square_error_is_bias_and_spread() -> None:
    # the identity RMSE^2 = bias^2 + variance with n as divisor; no source needed
    errors = [0.5, -0.5, 1, -0.5, 0.5, -1.5]
    found = agreement(errors)
    assert found.rmse == pytest.approx(0.8416, abs=5e-5)
    assert found.rmse**2 == pytest.approx(found.bias**2 + np.var(errors))
    assert found.sd == pytest.approx(0.9174, abs=5e-5)


def test_confidence_limits_hold_what_they_promise() -> None:
    """Simulated: the limits of the bias hold the truth in 95 of 100 surveys, those of the limit
    of agreement in nearly as many (their standard error is an approximation)."""
    rng = np.random.default_rng(20250701)
    held = np.zeros(3)
    runs = 2000
    for _ in range(runs):
        found = agreement(rng.normal(0.3, 0.8, 30))
        truths = (0.3, 0.3 - 1.96 * 0.8, 0.3 + 1.96 * 0.8)
        limits = (found.bias_limits, found.lower_limits, found.upper_limits)
        held += [low <= truth <= high for (low, high), truth in zip(limits, truths, strict=True)]
    assert held[0] / runs == pytest.approx(0.95, abs=0.015)
    assert (held[1:] / runs > 0.93).all()


def test_few_pairs() -> None:
    assert agreement([]).n == 0
    assert math.isnan(agreement([]).bias)
    one = agreement([0.4, np.nan])
    assert (one.n, one.bias) == (1, 0.4)
    assert math.isnan(one.sd)


def test_pairs_needed() -> None:
    # the smallest n with 0.9^n <= 0.05 is 29, with 0.95^n <= 0.05 is 59 (Wilks1941, from memory)
    assert pairs_to_pass(0.90) == 29
    assert pairs_to_pass(0.95) == 59
    # with misses: two more tabled sizes, 46 and 61 (one and two outside; from memory)
    assert (pairs_to_pass(0.90, 1), pairs_to_pass(0.90, 2)) == (46, 61)
    assert pairs_to_fail(0.90) == 2
    assert pairs_to_pass(float("nan")) is None


@pytest.mark.parametrize(
    ("within", "pairs", "verdict"),
    [
        (29, 29, "met"),
        (28, 28, "met so far, but too few pairs to be sure"),
        (18, 20, "met so far, but too few pairs to be sure"),
        (17, 20, "not met so far, but too few pairs to be sure"),
        (10, 20, "not met"),
        (0, 0, "no pairs"),
    ],
)
def test_verdicts(within: int, pairs: int, verdict: str) -> None:
    assert judge(within, pairs, 0.9) == verdict
    if pairs:
        # a second witness: the one-sided exact test against the share
        passes = stats.binomtest(within, pairs, 0.9, alternative="greater").pvalue <= 0.05
        fails = stats.binomtest(within, pairs, 0.9, alternative="less").pvalue < 0.05
        assert (verdict == "met", verdict == "not met") == (passes, fails)


def test_defaults_say_where_they_come_from() -> None:
    by_key = {objective.key: objective for objective in DEFAULTS}
    # Schilling, USDA Forest Service PSW-GTR-155, section 8
    assert by_key["total_height"].tolerance == 1.0
    assert by_key["diameter"].tolerance == 0.2
    assert by_key["live_crown_ratio"].tolerance == 0.05
    for objective in DEFAULTS:
        assert ("seen" in objective.source) or ("from memory" in objective.source)
        if not math.isnan(objective.share):
            assert "from memory" in objective.source
