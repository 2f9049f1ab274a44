"""What a cell can hold: number, column, blank, text, out of range; and misuse."""

import decimal
import math

import numpy as np
import pandas as pd
import pytest

from xlhelpers.errors import ReadingError
from xlhelpers.measure import (
    crown_radii,
    crowns,
    distances,
    heights,
    leaf_area,
    lean,
    positions,
    sightings,
    slopes,
    solids,
    stems,
    two_stations,
    uncertainty,
    units,
)
from xlhelpers.measure.accuracy import Accuracy, Sight, aim_uncertainty

BLANKS = [None, math.nan, "", "abc", "12", True, pd.NA, pd.NaT, math.inf, 1 + 2j, b"3", [None]]

ONE_NUMBER_EACH = {
    heights.from_percent: (80, -5, 20),
    heights.from_degrees: (40, -5, 20),
    heights.from_topographic: (40, -5, 20),
    heights.from_fixed_distance_scale: (14, -1, 20, 15),
    heights.from_slant_distances: (30, 40, 20, -5),
    heights.from_stick: (10, 25, 20),
    heights.from_two_stations: (40, 30, 10),
    heights.level_distance: (20, 8),
    sightings.height_above_mark: (20, 0.8, 0.1, 2),
    sightings.height_with_eye: (20, 0.8, 1.6),
    sightings.implied_eye_height: (20, -0.08),
    distances.to_centre: (20, 0.4),
    distances.plot_radius: (400,),
    distances.plot_radius_on_slope: (400, 0.3),
    distances.smallest_standing_distance: (20, 1.6, 45),
    lean.tip_height: (20, 0.8, -0.1, 2),
    lean.height_on_lean: (20, 0.4, -0.1, 2, 16),
    lean.near_edge_bound: (8, 0.8),
    crowns.depth: (20, 4),
    crowns.ratio: (20, 4, 21),
    crowns.mean_width: (8, 9),
    crowns.projection_area: (8, 9),
    crown_radii.mean_width_from_radii: (4, 3, 2, 5),
    crown_radii.mean_width_from_radii_uncertainty: (0.3,),
    crown_radii.area_from_radii: (4, 3, 2, 5),
    crown_radii.area_from_radii_uncertainty: (4, 3, 2, 5, 0.3),
    crown_radii.offset_from_radii: (4, 3, 2, 5),
    crown_radii.offset_from_radii_uncertainty: (0.3,),
    two_stations.distance_from_first: (1.0, 0.5, -0.1, -0.05, 10),
    positions.distance_between: (51.2, 7.1, 51.3, 7.2),
    leaf_area.leaf_area: (5, 5, 0.8),
    stems.combined_diameter: (30,),
    stems.quadratic_mean_diameter: (30,),
    stems.quadratic_mean_from_basal_area: (20, 400),
    stems.basal_area: (30,),
    stems.diameter_from_girth: (100,),
    stems.height_to_diameter: (15, 30),
    slopes.slope_from_percent: (30,),
    slopes.slope_from_degrees: (30,),
    slopes.slope_from_topographic: (30,),
    slopes.slope_from_scale: (14, 20),
    slopes.angle: (0.3,),
    uncertainty.height_from_angles: (25, 40, -4, 0.1, 0.25),
    uncertainty.observer_part: (20,),
    uncertainty.combine: (0.1, 0.2, 2),
}
CASES = [pytest.param(f, a, id=f"{f.__module__}.{f.__name__}") for f, a in ONE_NUMBER_EACH.items()]


@pytest.mark.parametrize(("function", "arguments"), CASES)
def test_number_in_number_out(function, arguments):
    assert isinstance(function(*arguments), float)
    assert math.isfinite(function(*arguments))
    assert function(*map(decimal.Decimal, map(str, arguments))) == function(*arguments)


@pytest.mark.parametrize(("function", "arguments"), CASES)
def test_blank_in_blank_out_at_each_place(function, arguments):
    for place in range(len(arguments)):
        for blank in BLANKS:
            given = list(arguments)
            given[place] = blank
            assert np.all(np.isnan(function(*given))), (place, blank)


@pytest.mark.parametrize(
    ("function", "arguments"),
    [case for case in CASES if case.values[0].__name__ not in
     {"combined_diameter", "quadratic_mean_diameter"}],
)  # fmt: skip
def test_column_gives_the_numbers_of_its_lines(function, arguments):
    columns = [pd.Series([value, value * 1.01, None, "x"], dtype=object) for value in arguments]
    result = function(*columns)
    assert isinstance(result, np.ndarray)
    assert result.dtype == np.float64
    assert result[0] == function(*arguments)
    assert result[1] == function(*(value * 1.01 for value in arguments))
    assert np.isnan(result[2:]).all()
    table = function(*(np.full((2, 3), value) for value in arguments))
    assert table.shape == (2, 3)


@pytest.mark.parametrize(("function", "arguments"), CASES)
def test_inputs_are_left_alone(function, arguments):
    columns = [np.array([value, np.nan], dtype=float) for value in arguments]
    copies = [column.copy() for column in columns]
    function(*columns)
    for column, copy in zip(columns, copies, strict=True):
        np.testing.assert_array_equal(column, copy)


@pytest.mark.parametrize(("function", "arguments"), [c for c in CASES if len(c.values[1]) > 1])
def test_columns_of_different_lengths_are_misuse(function, arguments):
    given = [np.full(2 + (place == 0), value) for place, value in enumerate(arguments)]
    with pytest.raises(ReadingError, match="different lengths"):
        function(*given)


@pytest.mark.parametrize(
    ("function", "arguments"),
    [
        (heights.from_percent, (80, -5, 0)),
        (heights.from_percent, (80, -5, -20)),
        (heights.from_degrees, (90, -5, 20)),
        (heights.from_degrees, (40, -90, 20)),
        (heights.from_fixed_distance_scale, (14, -1, 20, 0)),
        (heights.from_slant_distances, (0, 40, 20, -5)),
        (heights.from_slant_distances, (30, 40, -1, -5)),
        (heights.level_distance, (20, 90)),
        (heights.level_distance, (-20, 8)),
        (heights.from_stick, (0, 25, 20)),
        (sightings.height_with_eye, (20, 0.8, 0)),
        (sightings.height_above_mark, (20, 0.8, 0.1, -1)),
        (two_stations.height_above_eye, (37.9, 30, 10)),
        (two_stations.height_above_eye, (30, 40, 10)),
        (two_stations.height_above_eye, (30, -10, 10)),
        (two_stations.height_above_eye, (30, 0, 10)),
        (two_stations.height_above_eye, (95, 40, 10)),
        (two_stations.distance_from_first, (1.0, 0.8, 0, 0, 10)),
        (two_stations.distance_from_first, (1.0, 0.5, 0, 0, 0)),
        (two_stations.distance_from_first, (1.0, 0.5, 2.0, 0, 10)),
        (positions.distance_between, (90.1, 7.1, 51.3, 7.2)),
        (distances.to_centre, (20, -1)),
        (distances.plot_radius, (0,)),
        (distances.smallest_standing_distance, (20, 1.6, 0)),
        (distances.smallest_standing_distance, (20, 1.6, 90)),
        (lean.tip_height, (20, 0.8, -0.1, 20)),
        (lean.height_on_lean, (20, 0.4, -0.1, 2, 0)),
        (crowns.depth, (4, 4)),
        (crowns.depth, (4, 5)),
        (crowns.ratio, (20, 4, 19)),
        (crowns.ratio, (20, -1, 20)),
        (crowns.mean_width, (8, 0)),
        (crown_radii.mean_width_from_radii, (4, 3, -1, 5)),
        (crown_radii.area_from_radii, (0, 0, 0, 0)),
        (crown_radii.area_from_radii_uncertainty, (4, 3, 2, 5, -0.3)),
        (crown_radii.offset_from_radii, (4, 3, 2, -5)),
        (crowns.volume, ("cone", 8, 0)),
        (stems.basal_area, (0,)),
        (stems.combined_diameter, ([10, 0],)),
        (stems.combined_diameter, ([None, None],)),
        (stems.quadratic_mean_diameter, ([],)),
        (uncertainty.height_from_angles, (25, 40, -4, -0.1, 0.25)),
        (uncertainty.height_from_angles, (25, 40, -4, 0.1, -0.25)),
        (uncertainty.combine, (0.1, 0.2, 0)),
        (leaf_area.leaf_area, (0.99, 1.5, 0.8)),
        (leaf_area.leaf_area, (12.1, 12, 0.8)),
        (leaf_area.leaf_area, (7, 14.1, 0.8)),
        (leaf_area.leaf_area, (3, 6.1, 0.8)),
        (leaf_area.leaf_area, (6.1, 3, 0.8)),
        (leaf_area.leaf_area, (5, 5, 0.66)),
        (leaf_area.leaf_area, (5, 5, 0.89)),
    ],
)
def test_impossible_values_give_nan(function, arguments):
    result = function(*arguments)
    assert isinstance(result, float)
    assert math.isnan(result)


def test_combined_diameter_reads_one_tree_a_row_and_skips_blanks():
    trees = pd.DataFrame({"a": [5.0, 10, None], "b": [6.0, None, None], "c": [8.0, None, None]})
    result = stems.combined_diameter(trees)
    np.testing.assert_allclose(result, [math.sqrt(125), 10, math.nan])
    assert stems.combined_diameter(10) == pytest.approx(10)


def test_slope_takes_a_scale_a_line_and_blanks():
    result = slopes.slope(
        [100, 45, 66, -5, 10, 95, 3],
        pd.Series(["percent", "degrees", "topographic", "fixed distance", None, "degrees", ""]),
        [None, None, None, 20, None, None, 20],
    )
    np.testing.assert_allclose(result, [1, 1, 1, -0.25, np.nan, np.nan, np.nan])
    assert np.isnan(slopes.slope(5, "fixed distance"))


def test_unknown_names_are_misuse():
    with pytest.raises(ReadingError, match="unknown scale 'grad'; known are percent, degrees"):
        slopes.slope([1, 2], ["percent", "grad"])
    with pytest.raises(ReadingError, match="unknown solid 'cube'"):
        crowns.volume("cube", 8, 10)
    with pytest.raises(ReadingError, match="unknown scale '5'"):
        slopes.slope(1, 5)
    with pytest.raises(ReadingError, match="'m' cannot be converted to 'm2'"):
        units.convert(1, "m", "m2")
    with pytest.raises(ReadingError):
        slopes.slope([1, 2, 3], ["percent", "degrees"])
    with pytest.raises(ReadingError):
        solids.volume_over_area(["cone", "cone"], [1, 2, 3], 1)
    with pytest.raises(ReadingError, match="rows of different lengths"):
        stems.combined_diameter([[1, 2], [3]])


def test_masked_and_mixed_columns_are_read_as_given():
    masked = np.ma.MaskedArray([10.0, 20.0], mask=[False, True])
    np.testing.assert_array_equal(slopes.slope_from_percent(masked), [0.1, np.nan])
    np.testing.assert_array_equal(slopes.slope_from_percent([10, "x", 5]), [0.1, np.nan, 0.05])


def test_accuracy_with_a_blank_gives_blank():
    sight = Sight(25, 0.8, -0.05)
    parts = uncertainty.of_sighting(sight, Accuracy(u_reading=[0.2, None]))
    assert np.isfinite(parts.reading[0])
    assert np.isnan(parts.reading[1])
    assert np.isnan(parts.common[1])
    assert np.isnan(uncertainty.of_sighting(sight, Accuracy(u_zero=-1)).common)
    assert np.isnan(aim_uncertainty(0.5, Accuracy(graduation=1)))
    assert aim_uncertainty(0.5, Accuracy(u_reading=0.2)) == pytest.approx(0.2)
