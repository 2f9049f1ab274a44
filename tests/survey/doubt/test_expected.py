"""What is usual for a tree: by its kind and size, and by the other trees of the survey alone."""

import numpy as np
import pytest

from tests.doubt_proof.cities import trees_of
from tests.doubt_proof.measure_doubt import Trial, as_survey, make_sheets
from tests.survey.doubt.test_explain import MAPLE, lines
from tests.survey.make_survey import DEFAULT_SPECIES, make_survey
from xlhelpers.survey.doubt.expected import HEIGHT, SHARE
from xlhelpers.survey.doubt.explain import limits_of
from xlhelpers.survey.doubt.reference import reference
from xlhelpers.survey.doubt.weigh import Usual, weigh_lines
from xlhelpers.survey.model import Survey
from xlhelpers.survey.setups.setups import compute_setups
from xlhelpers.survey.trees.trees import build_trees


def usual_of(survey: Survey) -> Usual:
    setups = compute_setups(survey)
    limits = limits_of(survey.rules)
    return weigh_lines(survey, setups, build_trees(survey, setups), reference(), limits)


def usual_height(count: int, tip: float) -> float:
    """Return the usual height (m) for line 6 of so many maples, with another tip reading."""
    rows = lines(tip_reading=tip)[4 : 4 + count]
    usual = usual_of(make_survey(rows, species=(*DEFAULT_SPECIES, MAPLE)))
    at = np.array([2])
    return float(np.exp(usual.expected.usual(HEIGHT, at, usual.seen.diameter[at]))[0])


@pytest.mark.parametrize("count", [3, 6])
def test_a_height_hardly_changes_what_is_usual_for_its_own_tree(count: int) -> None:
    assert usual_height(count, 93) == pytest.approx(usual_height(count, 45), rel=0.015)


def test_the_usual_crown_base_of_low_trees_and_tall_ones() -> None:
    """Real trees: of those under 6 m the crown begins at a greater share of the height."""
    # McPherson, van Doorn & Peper 2016, Urban tree database, Modesto
    trees = trees_of("Modesto, CA")
    share = trees["base"] / trees["height"]
    low, tall = trees["height"] < 6, trees["height"] > 15
    assert share[low].median() > share[tall].median() + 0.05
    keyed = make_sheets(Trial("Modesto, CA", "rolling", 300, 0.0, 1))
    usual = usual_of(as_survey(keyed, keyed.lines))
    total = usual.seen.total
    scaled = usual.deviations.away[SHARE] / usual.deviations.spread[SHARE]
    low, tall = (float(np.nanmedian(scaled[own])) for own in (total < 6, total > 15))
    assert abs(low - tall) < 0.8
