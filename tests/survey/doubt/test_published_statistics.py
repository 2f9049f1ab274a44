"""Outliers and heaping against published examples, each with its source beside it."""

import numpy as np
import pytest
from scipy import stats

from xlhelpers.survey.doubt.heaping import (
    blended_counts,
    digit_chi_square,
    final_digits,
    half_sum_of_deviations,
    whipple_index,
)
from xlhelpers.survey.doubt.outliers import (
    dixon_q,
    grubbs,
    grubbs_critical,
    modified_z,
)

# NIST/SEMATECH e-Handbook of Statistical Methods, section 1.3.5.17 (from memory)
NIST = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57]
# Dixon & Dean (1951), the example that encyclopaedias reprint
DIXON = [0.189, 0.167, 0.187, 0.183, 0.186, 0.182, 0.181, 0.184, 0.181, 0.177]
# diameters (in) and heights (ft) of 31 felled black cherry trees, Ryan et al. (1976)
GIRTH = [8.3, 8.6, 8.8, 10.5, 10.7, 10.8, 11.0, 11.0, 11.1, 11.2, 11.3, 11.4, 11.4, 11.7, 12.0,
         12.9, 12.9, 13.3, 13.7, 13.8, 14.0, 14.2, 14.5, 16.0, 16.3, 17.3, 17.5, 17.9, 18.0, 18.0,
         20.6]  # fmt: skip
HEIGHT = [70, 65, 63, 72, 81, 83, 66, 75, 80, 75, 79, 76, 76, 69, 75, 74, 85, 86, 71, 64, 78, 80,
          74, 72, 77, 81, 82, 80, 80, 80, 87]  # fmt: skip


def test_grubbs_finds_the_outlier_of_the_handbook() -> None:
    # the handbook cuts the fourth decimal
    assert grubbs(NIST) == pytest.approx(2.4687, abs=1e-4)
    assert grubbs_critical(8, 0.05, sides=1) == pytest.approx(2.032, abs=5e-4)
    assert grubbs_critical(8, 0.05, sides=2) == pytest.approx(2.127, abs=5e-4)


def test_modified_z_of_the_same_values() -> None:
    """Iglewicz & Hoaglin (1993), cut 3.5."""
    z = modified_z(NIST)
    assert z[-1] == pytest.approx(29.96, abs=0.005)
    assert (np.abs(z) > 3.5).sum() == 1


def test_dixon_lies_between_the_two_limits_of_the_example() -> None:
    q = dixon_q(DIXON)
    assert q == pytest.approx(0.4545, abs=5e-5)
    assert 0.412 < q < 0.466


def test_no_cherry_tree_is_an_outlier() -> None:
    """Height over diameter of Ryan et al. (1976): no tree beyond 3.5, the largest is 1.66."""
    z = modified_z(12 * np.array(HEIGHT) / np.array(GIRTH))
    assert np.abs(z).max() == pytest.approx(1.66, abs=0.005)


def test_whipple_index_from_none_to_all() -> None:
    """United Nations usage: 100 for even digits, 500 if all end in 0 or 5."""
    assert whipple_index(np.full(10, 7)) == pytest.approx(100)
    assert whipple_index([9, 0, 0, 0, 0, 9, 0, 0, 0, 0]) == pytest.approx(500)
    assert np.isnan(whipple_index(np.zeros(10)))


def test_whipple_index_of_a_tree_file() -> None:
    """Crown widths of 864 white pine seedlings: 21.8 % end in 0 and 12.4 % in 5, index 170.7."""
    rest = np.full(8, (864 - 188 - 107) / 8)
    counts = np.array([188, *rest[:4], 107, *rest[4:]])
    assert counts[[0, 5]] / 864 == pytest.approx([0.218, 0.124], abs=5e-4)
    assert whipple_index(counts) == pytest.approx(170.7, abs=0.05)


def test_myers_index_from_none_to_all() -> None:
    """Myers's rule: 0 for none, 90 for all on one digit."""
    every_age = np.arange(10, 100)
    assert half_sum_of_deviations(blended_counts(every_age, 10, 8)) == pytest.approx(0, abs=1e-9)
    on_tens = np.arange(10, 100, 10)
    assert half_sum_of_deviations(blended_counts(on_tens, 10, 8)) == pytest.approx(90)


def test_chi_square_of_digits() -> None:
    counts = np.array([20, 8, 9, 11, 10, 16, 7, 6, 8, 5])
    assert digit_chi_square(counts) == pytest.approx(stats.chisquare(counts).statistic)


def test_final_digits() -> None:
    counts = final_digits([43, -5, 10, np.nan, 130], 1)
    assert counts.tolist() == [2, 0, 0, 1, 0, 1, 0, 0, 0, 0]
    assert final_digits([8.4, 12.0, 12.5], 0.1)[[0, 4, 5]].tolist() == [1, 1, 1]
