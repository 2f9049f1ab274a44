"""Radii of round plots, level and on slopes, against a printed table."""

import numpy as np
import pytest

from xlhelpers.fields.quantities import ACRE_M2, FOOT_M
from xlhelpers.jobs.plan.draw import on_slope, radius_for_area

ACRE_FT2 = 43560


@pytest.mark.parametrize(
    ("part", "printed"),
    [(300, 6.8), (100, 11.8), (50, 16.7), (20, 26.3), (10, 37.2), (5, 52.7), (24, 24.0)],
)
def test_radii_in_feet(part: int, printed: float) -> None:
    # USDA Forest Service, Common Stand Exam field guide, appendix I, table 1; 24.0 from memory
    assert round(float(radius_for_area(ACRE_FT2 / part)), 1) == printed
    metres = float(radius_for_area(ACRE_M2 / part))
    assert round(metres / FOOT_M, 1) == printed


@pytest.mark.parametrize(
    ("area", "radius"),
    [(100, 5.64), (200, 7.98), (250, 8.92), (400, 11.28), (500, 12.62), (1000, 17.84)],
)
def test_radii_in_metres(area: float, radius: float) -> None:
    # worked out from root of area over pi, not published
    assert round(float(radius_for_area(area)), 2) == radius


@pytest.mark.parametrize(("slope", "printed"), [(0.20, 37.6), (0.30, 38.0), (0.50, 39.4)])
def test_radii_on_slopes(slope: float, printed: float) -> None:
    # USDA Forest Service, Common Stand Exam field guide, appendix I: a tenth of an acre
    assert round(float(on_slope(ACRE_FT2 / 10, slope, "radius")[0][0]), 1) == printed


@pytest.mark.parametrize("slope", [0.0, 0.09, 0.3, 1.0])
def test_corrected_once_and_the_area_is_right(slope: float) -> None:
    # seen from above the plot is an ellipse of r and r / root(1 + slope²) (AWF-Wiki, slope
    # correction): times the factor its area is the stated one, in both ways
    for corrected in ("radius", "result"):
        radius, factor = on_slope(400.0, slope, corrected)
        seen = np.pi * radius**2 / np.sqrt(1 + slope**2)
        assert (seen * factor)[0] == pytest.approx(400.0)
        level = float(radius_for_area(400.0))
        touched = (radius[0] != level, factor[0] != 1.0)
        assert touched == ((slope > 0, False) if corrected == "radius" else (False, slope > 0))
