"""Filled heights of simulated sightings against the truth that they were simulated from.

A true value lies within two standard uncertainties in 95.45 % of cases where errors are normal
(JCGM 100:2008, table G.1). Trees measured with one instrument share its errors, so the share found
varies about that figure by more than independent trees would let it. The width of the band is
common practice, no source.
"""

from functools import cache

import numpy as np
import pandas as pd
import pytest

from tests.simulation.sightings import CRAFTS, Sightings, simulate
from tests.simulation.surveys import (
    as_rows,
    as_survey,
    instruments_to_key,
    population,
)
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENTS
from xlhelpers.fields.places import PEOPLE, PLOTS
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.survey import read_survey
from xlhelpers.survey.model import Survey
from xlhelpers.survey.setups.setups import compute_setups
from xlhelpers.survey.trees.trees import build_trees
from xlhelpers.template.keyed_rows import key_rows
from xlhelpers.template.make import make_template

SEED = 1
LEAST, GREATEST = 0.940, 0.970
FEWEST_TREES = 7000
UNCERTAINTY = {"total_height": "u_total", "crown_top": "u_top", "crown_base": "u_base"}
SETUPS = (1, 2, 3)


@cache
def set_up(setups: int) -> tuple[Sightings, Survey, pd.DataFrame]:
    """Simulate the population and measure it; kept, because nine checks look at three surveys."""
    height, base = population()
    seen = simulate(height, base, setups, SEED)
    survey = as_survey(seen)
    return seen, survey, compute_setups(survey)


@cache
def measured(setups: int) -> tuple[Sightings, pd.DataFrame]:
    seen, survey, lines = set_up(setups)
    return seen, build_trees(survey, lines)


def errors(setups: int, quantity: str) -> np.ndarray:
    """Return the errors of one height over all trees, in standard uncertainties."""
    seen, trees = measured(setups)
    error = trees[quantity].to_numpy() - seen.truth[quantity].to_numpy()
    return error / trees[UNCERTAINTY[quantity]].to_numpy()


def share_within_two(of: np.ndarray) -> float:
    return float((np.abs(of) <= 2).mean())


@pytest.mark.parametrize("quantity", UNCERTAINTY)
@pytest.mark.parametrize("setups", SETUPS)
def test_heights_lie_within_two_uncertainties(setups: int, quantity: str) -> None:
    of = errors(setups, quantity)
    share = share_within_two(of)
    print(f"{len(of)} trees, {setups} set-ups, {quantity}: {100 * share:.2f} %")
    assert np.isfinite(of).all()
    assert len(of) >= FEWEST_TREES
    assert LEAST <= share <= GREATEST


@pytest.mark.parametrize("setups", SETUPS)
def test_every_setup_is_in_the_mean(setups: int) -> None:
    _, trees = measured(setups)
    for point in ("n_total", "n_top", "n_base", "line_count"):
        assert (trees[point] == setups).all(), point


@pytest.mark.parametrize("quantity", UNCERTAINTY)
@pytest.mark.parametrize("setups", SETUPS)
def test_the_band_would_notice_a_wrong_uncertainty(setups: int, quantity: str) -> None:
    of = errors(setups, quantity)
    assert share_within_two(of / 0.85) < LEAST
    assert share_within_two(of / 1.15) > GREATEST


@pytest.mark.parametrize("craft", range(len(CRAFTS)), ids=lambda i: "/".join(map(str, CRAFTS[i])))
def test_no_way_of_measuring_hides_behind_the_others(craft: int) -> None:
    """The band is wider, for each way has but a seventh of the instruments."""
    _, trees = measured(1)
    own = trees["plot"].str[1:].astype(int).to_numpy() % len(CRAFTS) == (craft + 1) % len(CRAFTS)
    for quantity in UNCERTAINTY:
        of = errors(1, quantity)[own]
        print(f"{len(of)} trees, {quantity}: {100 * share_within_two(of):.1f} %")
        assert 0.92 <= share_within_two(of) <= 0.98


@pytest.mark.parametrize("setups", SETUPS)
def test_errors_that_an_instrument_repeats_are_as_large_as_its_common_part(setups: int) -> None:
    """Over the trees of one instrument the reading part averages out, the common part stays.

    So the mean error of an instrument, squared, is the common part's square and a rest; over 160
    instruments the ratio lies within about a quarter of 1, derived from the chi-square
    distribution. A common part whose square is divided by three gives 1.7 and more.
    """
    _, trees = measured(setups)
    lines = set_up(setups)[2]
    error = pd.Series(errors(setups, "total_height")).groupby(trees["instruments"])
    common = lines["tip_u_common"].groupby(lines["tree_position"]).mean() / trees["u_total"]
    of_instrument = common.groupby(trees["instruments"])
    rest = (1 - common**2).groupby(trees["instruments"]).mean() / error.size()
    ratio = (error.mean() ** 2 / (of_instrument.mean() ** 2 + rest)).mean()
    print(f"{setups} set-ups: {ratio:.2f}")
    assert 0.7 < ratio < 1.4


def _few() -> Sightings:
    height, base = population()
    chosen = np.linspace(0, len(height) - 1, 300).astype(int)
    return simulate(height[chosen], base[chosen], 2, SEED)


@pytest.mark.slow
def test_keyed_lines_give_the_same_heights() -> None:
    """The same lines through a workbook: template, keyed as a clerk would, read again."""
    seen = _few()
    package = Package.from_bytes(make_template("metric", "a4", plots=len(seen.plots), lines=600))
    key_rows(package, PEOPLE, as_rows(seen.people))
    key_rows(package, INSTRUMENTS, instruments_to_key(seen))
    key_rows(package, PLOTS, as_rows(seen.plots))
    key_rows(package, FIELD_SHEET, as_rows(seen.lines))
    read = read_survey(Package.from_bytes(package.to_bytes()))
    assert not [f for f in read.findings if f.severity == "error"]
    keyed = build_trees(read, compute_setups(read))
    survey = as_survey(seen)
    direct = build_trees(survey, compute_setups(survey))
    assert len(keyed) == len(direct) == 300
    for name in (*UNCERTAINTY, *UNCERTAINTY.values(), "crown_depth", "u_depth"):
        np.testing.assert_allclose(keyed[name], direct[name], rtol=0, atol=1e-9, err_msg=name)
    for name in ("plot", "tree", "condition", "way_total", "n_total"):
        assert keyed[name].tolist() == direct[name].tolist(), name
