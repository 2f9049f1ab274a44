"""Densities of deviations: Student's t, with a tail of its own on each side."""

import numpy as np
import pytest
from scipy import stats

from xlhelpers.survey.doubt.evidence import TAILS, log_density
from xlhelpers.survey.doubt.expected import HEIGHT


def test_even_tails_are_those_of_student() -> None:
    away = np.array([-3.0, -0.2, 0.0, 1.0, 7.0])
    wanted = stats.t(5, scale=0.4).logpdf(away)
    assert log_density(away, 0.4) == pytest.approx(wanted)


@pytest.mark.parametrize("tails", [(5.0, 5.0), *TAILS.values()])
def test_every_density_is_one_in_all(tails: tuple[float, float]) -> None:
    away = np.linspace(-400, 400, 400_001)
    assert np.trapezoid(np.exp(log_density(away, 0.3, tails)), away) == pytest.approx(1, abs=1e-4)


def test_a_tree_far_too_tall_is_rarer_than_one_far_too_low() -> None:
    """A tree loses its top in a storm or to a saw; nothing makes it twice as tall."""
    low, tall = log_density(np.array([-4.0, 4.0]), 1.0, TAILS[HEIGHT])
    assert low > tall + 0.7
