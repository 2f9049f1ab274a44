"""Properties that hold whatever the numbers."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from xlhelpers.measure import heights, lean, sightings, slopes, units

distances = st.floats(5, 60)
angles = st.floats(-60, 75)
slope_values = st.floats(-2, 4)
scales = st.sampled_from(slopes.SCALES)
quick = settings(max_examples=60, deadline=None)
UNIT_PAIRS = [
    (one, other)
    for group in (units.LENGTHS, units.AREAS, units.VOLUMES)
    for one in group
    for other in group
]


@quick
@given(distances, angles, angles, st.floats(0.01, 10))
def test_height_grows_with_the_top_reading(distance, top, foot, more):
    for way in (heights.from_degrees, heights.from_percent, heights.from_topographic):
        assert way(top + more, foot, distance) > way(top, foot, distance)


@quick
@given(distances, angles, angles)
def test_degrees_and_percent_agree(distance, top, foot):
    percents = 100 * np.tan(np.radians([top, foot]))
    assert heights.from_degrees(top, foot, distance) == pytest.approx(
        heights.from_percent(*percents, distance), abs=1e-9
    )


@quick
@given(slope_values, scales, st.floats(10, 100))
def test_reading_and_slope_round_trip(slope, scale, base):
    reading = slopes.reading_from_slope(slope, scale, base)
    assert slopes.slope(reading, scale, base) == pytest.approx(slope, abs=1e-12)


@quick
@given(slope_values, scales, st.floats(10, 100))
def test_slope_per_unit_is_the_slope_of_the_curve(slope, scale, base):
    reading = slopes.reading_from_slope(slope, scale, base)
    step = 1e-5
    rise = slopes.slope(reading + step, scale, base) - slopes.slope(reading - step, scale, base)
    assert slopes.slope_per_unit(reading, scale, base) == pytest.approx(rise / 2 / step, rel=1e-5)


@quick
@given(st.floats(-1e4, 1e4), st.sampled_from(UNIT_PAIRS))
def test_units_round_trip(value, pair):
    there = units.convert(value, *pair)
    assert units.convert(there, *reversed(pair)) == pytest.approx(value, rel=1e-14)


@quick
@given(distances, slope_values, slope_values)
def test_no_offset_equals_an_upright_stem(distance, top, foot):
    plain = sightings.height(distance, top, foot)
    assert lean.tip_height(distance, top, foot, 0) == plain
    assert lean.height_on_lean(distance, top, foot, 0, 20) == plain


@quick
@given(distances, st.floats(0, 2), st.floats(-0.3, 0.1), st.floats(-4, 4), st.floats(0.05, 1))
def test_lean_finds_the_points_of_a_straight_leaning_stem(distance, rise, foot, offset, share):
    """A stem built in the plane and sighted point by point comes back."""
    tip = 4 + 10 * rise
    eye = -distance * foot

    def seen(part):
        return (tip * part - eye) / (distance - offset * part)

    assert lean.tip_height(distance, seen(1), foot, offset) == pytest.approx(tip)
    found = lean.height_on_lean(distance, seen(share), foot, offset, tip)
    assert found == pytest.approx(tip * share, abs=1e-9)


@quick
@given(distances, slope_values, slope_values)
def test_ways_agree_on_one_upright_stem(distance, top, foot):
    plain = sightings.height(distance, top, foot)
    to_top, to_foot = distance * np.hypot(1, top), distance * np.hypot(1, foot)
    assert sightings.height_on_straight(to_top, top, to_foot, foot) == pytest.approx(
        plain, abs=1e-9
    )
    eye = sightings.implied_eye_height(distance, foot)
    assert sightings.height_above_mark(distance, top, foot, 0) == pytest.approx(plain, abs=1e-9)
    if eye > 0:
        assert sightings.height_with_eye(distance, top, eye) == pytest.approx(plain, abs=1e-9)


@quick
@given(st.floats(3, 40), st.floats(5, 40), st.floats(5, 40))
def test_two_stations_find_the_height_above_the_eye(height, near, spacing):
    angles = np.degrees(np.arctan(height / np.array([near, near + spacing])))
    found = heights.from_two_stations(*angles, spacing)
    if angles[0] - angles[1] >= 8:
        assert found == pytest.approx(height)
    else:
        assert np.isnan(found)


def test_near_edge_of_a_broad_crown_stays_inside_its_bound():
    """A flat-topped crown of half-width 5 m, seen on its near edge instead of over the stem."""
    distance, eye, top, half = 20.0, 1.6, 15.0, 5.0
    near_edge = (top - eye) / (distance - half)
    error = sightings.height(distance, near_edge, -eye / distance) - top
    assert error == pytest.approx(lean.near_edge_bound(2 * half, near_edge))
    closer_in = (top - eye) / (distance - 3)
    error = sightings.height(distance, closer_in, -eye / distance) - top
    assert 0 < error < lean.near_edge_bound(2 * half, closer_in)
