"""Heaped last digits against published examples, each with its source beside it."""

import numpy as np
import pytest

from xlhelpers.survey.doubt.patterns import (
    final_digits,
    whipple_index,
)


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


def test_final_digits() -> None:
    counts = final_digits([43, -5, 10, np.nan, 130], 1)
    assert counts.tolist() == [2, 0, 0, 1, 0, 1, 0, 0, 0, 0]
    assert final_digits([8.4, 12.0, 12.5], 0.1)[[0, 4, 5]].tolist() == [1, 1, 1]
