"""4,000 surveys of towns whose every tree is known: do 95 % intervals hold the truth?"""

import numpy as np
import pytest

from tests.simulation.sampled_towns import (
    MEANS,
    TOTALS,
    make_town,
    share_held,
    survey,
    truth,
)
from xlhelpers.estimates.intervals import MEASURED, OF, interval_cover

SURVEYS = 4000


@pytest.mark.parametrize(
    ("plots", "strata"),
    [
        pytest.param(30, False, id="30 plots, one stratum"),
        pytest.param(30, True, id="30 plots, three strata", marks=pytest.mark.slow),
        pytest.param(60, False, id="60 plots, one stratum", marks=pytest.mark.slow),
        pytest.param(60, True, id="60 plots, three strata", marks=pytest.mark.slow),
        pytest.param(120, False, id="120 plots, one stratum", marks=pytest.mark.slow),
        pytest.param(120, True, id="120 plots, three strata", marks=pytest.mark.slow),
    ],
)
def test_intervals_hold_what_they_say(plots: int, strata: bool) -> None:
    """The band of 93 to 97 %; by chance the share of 4,000 surveys varies by 0.35 %."""
    found = share_held(make_town("usual"), plots, SURVEYS, strata=strata)
    for name in (*TOTALS, *MEANS[:3]):
        assert 0.93 <= found[name] <= 0.97, name
    # the share of a genus on a few streets is known worse than its plots say: the careful side
    assert found[MEANS[3]] >= 0.93


@pytest.mark.slow
def test_the_band_would_notice_a_wrong_standard_error() -> None:
    """Intervals that are a tenth too short, or a quarter too long, fall out of it."""
    town, random = make_town("usual"), np.random.default_rng(1)
    true = truth(town)[: len(TOTALS)]
    held_by = dict.fromkeys((0.9, 1.25), 0.0)
    for _ in range(SURVEYS):
        found = survey(town, 60, random, strata=False)[0]
        low, high = found.interval(0.95)
        for factor in held_by:
            reach = (high - low) / 2 * factor
            held_by[factor] += np.mean(np.abs(found.value - true) <= reach) / SURVEYS
    assert held_by[0.9] < 0.93
    assert held_by[1.25] > 0.97


def test_the_stated_curve_is_read_between_its_points_and_nowhere_else() -> None:
    assert interval_cover(10, 0.95, "total") == MEASURED[10][0]
    between = interval_cover(12, 0.95, "mean")
    assert MEASURED[15][1].inside < between.inside < MEASURED[10][1].inside
    assert MEASURED[10][1].below < between.below < MEASURED[15][1].below
    assert interval_cover(1000, 0.95, "share") == MEASURED[120][OF.index("share")]
    for plots, confidence in ((4, 0.95), (10, 0.9)):
        assert np.isnan(interval_cover(plots, confidence, "total")).all()
