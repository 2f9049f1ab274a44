"""Figures that are an order of magnitude by their kind: at the limits, and where they are not.

That the limits take in what misses in trials is held by `tests/simulation/test_town_intervals.py`.
"""

import pytest

from xlhelpers.estimates.quantities import CROWN_COVER, CROWN_COVER_OVERLAP
from xlhelpers.estimates.rough_kinds import is_rough_kind

NAN = float("nan")


@pytest.mark.parametrize(
    ("quantity", "kind", "plots", "trees", "margin", "expected"),
    [
        ("trees", "total", 99, 199, 0.2, True),
        ("trees", "per area", 99, 199, 0.2, True),
        ("living_trees", "total", 99, 199, 0.2, True),
        ("dead_trees", "total", 99, 199, 0.2, True),
        ("trees", "total", 100, 199, 0.2, False),
        ("trees", "total", 99, 200, 0.2, False),
        ("trees", "total", 99, 199, 0.154, False),  # shown as 15 %
        ("trees", "total", 99, 199, 0.156, True),
        ("trees", "total", 99, 199, NAN, False),
        ("share_dead", "share", 30, 500, 0.21, True),
        ("share_of_trees", "share", 30, 500, 0.21, True),
        ("share_of_trees", "share", 31, 500, 0.21, False),
        ("share_of_trees", "share", 30, 500, 0.2, False),
        ("share_of_trees", "share", 14, 500, 0.11, True),
        ("share_of_trees", "share", 14, 500, 0.1, False),
        # sums of sizes reach the aim, and the cover of the land is one of them
        ("basal_area", "total", 20, 50, 0.2, False),
        (CROWN_COVER, "share", 20, 50, 0.2, False),
        (CROWN_COVER_OVERLAP, "share", 20, 50, 0.2, False),
        ("mean_height", "mean", 20, 50, 0.2, False),
    ],
)
def test_the_limits(
    quantity: str, kind: str, plots: int, trees: float, margin: float, expected: bool
) -> None:
    assert is_rough_kind(quantity, kind, plots, trees, margin) is expected
