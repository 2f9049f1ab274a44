"""The functions as plain Python: numbers, blanks, wrong cells, shapes."""

import inspect
import math
from typing import Any

import numpy as np
import pytest

from tests.doors.excel.cases import BAD_CELLS, CASES, NAMED, OPTIONAL, ROWS
from xlhelpers.doors.excel import functions
from xlhelpers.measure import stems

ARGUMENTS = [(name, argument) for name, case in CASES.items() for argument in case.columns]
NEEDED = [pair for pair in ARGUMENTS if pair[1] not in OPTIONAL]


def call(name: str, *given: Any) -> Any:
    return getattr(functions, name)(*given)


def test_every_function_has_a_case() -> None:
    assert set(CASES) == set(functions.__all__)


@pytest.mark.parametrize("name", CASES)
def test_equal_to_measure(name: str) -> None:
    case = CASES[name]
    found = call(name, *case.ranges())
    assert [len(row) for row in found] == [1] * ROWS
    assert [row[0] for row in found] == pytest.approx(case.expected, rel=1e-12)


@pytest.mark.parametrize("name", CASES)
def test_a_cell_gives_a_cell_and_the_same_number(name: str) -> None:
    case = CASES[name]
    for row in range(8):
        assert call(name, *case.cells(row)) == pytest.approx(case.expected[row], rel=1e-12)
        as_ranges = call(name, *([[cell]] for cell in case.cells(row)))
        assert as_ranges == [[pytest.approx(case.expected[row], rel=1e-12)]]


@pytest.mark.parametrize(("name", "argument"), NEEDED)
def test_each_wrong_cell_says_which_argument_and_leaves_the_others(
    name: str, argument: str
) -> None:
    case = CASES[name]
    at = list(case.columns).index(argument)
    ranges = case.ranges()
    for row, cell in enumerate(BAD_CELLS):
        ranges[at][row] = [cell]
    found = [row[0] for row in call(name, *ranges)]
    assert found[:2] == ["", ""]
    for message, shown in zip(found[2:5], ("'abc'", "#N/A", "TRUE"), strict=True):
        assert message.startswith(f"{argument}: ")
        assert shown in message
        assert len(message) <= 255
    assert found[5:] == pytest.approx(case.expected[5:], rel=1e-12)


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("12.5", 12.5),
        (" 12 ", 12.0),
        ("+4", 4.0),
        ("\u22124", -4.0),
        ("12,5", 12.5),
        ("0,125", 0.125),
        (",5", 0.5),
        ("1,5000", 1.5),
        ("1,234", None),
        ("1.234,5", None),
        ("12 m", None),
        ("12'6\"", None),
        ("1e3", None),
        ("nan", None),
        ("inf", None),
        ("1_000", None),
        ("0x10", None),
        ("١٢", None),
        ("2026-05-01", None),
        ("-", None),
        (".", None),
        (",", None),
        ("?", None),
    ],
)
def test_a_text_counts_only_where_it_holds_one_number(text: str, value: float | None) -> None:
    found = functions.convert_unit(text, "m", "m")
    if value is None:
        assert found.startswith("measured_value: ")
    else:
        assert found == value


@pytest.mark.parametrize(
    ("cell", "shown"),
    [
        (-2146826246, "error"),
        (-2146826245, "error"),
        (math.inf, "must be at most"),
        (10**400, "not a number"),
        (1e300, "must be at most"),
        (1j, "not a number"),
        ({"a": 1}, "not a number"),
        (b"12", "not a number"),
        (np.datetime64("2026-05-01"), "not a number"),
        (np.True_, "TRUE"),
        ("#SPILL!", "#SPILL!"),
        ("x" * 900, "…"),
    ],
)
def test_odd_objects_get_a_message(cell: object, shown: str) -> None:
    found = functions.crown_depth(cell, 2)
    assert isinstance(found, str)
    assert found.startswith("crown_top: ")
    assert shown in found
    assert len(found) <= 255


@pytest.mark.parametrize(
    ("found", "message"),
    [
        (functions.height_above_foot(50, -5, 0, "percent"), "distance: 0 must be above 0"),
        (functions.height_above_foot(50, -5, -3, "percent"), "distance: -3 must be above 0"),
        (functions.height_above_foot(95, -5, 20, "degrees"), functions.STEEP),
        (functions.crown_depth(3, 4), "crown_top must be above crown_base"),
        (functions.crown_depth(3, 3), "crown_top must be above crown_base"),
        (functions.height_from_straight_distances(9, 90, 9, 0),
         "point_angle: 90 must be below 90"),
        (functions.height_uncertainty(20, 40, -4, -0.1, 0.2),
         "distance_uncertainty: -0.1 must be at least 0"),
        (functions.convert_unit(3, "m", "m2"),
         "from_unit and to_unit do not measure the same quantity"),
    ],
)  # fmt: skip
def test_a_number_out_of_place_says_so(found: object, message: str) -> None:
    assert found == message


def test_an_unknown_name_lists_the_names() -> None:
    found = functions.height_above_foot(50, -5, 20, "grads")
    expected = "'grads' is not one of percent, degrees, topographic, fixed distance"
    assert found == f"reading_scale: {expected}"


@pytest.mark.parametrize("scale", ["Percent", " PERCENT ", "percent"])
def test_names_in_any_letters(scale: str) -> None:
    # DeYoung (undated), section 2.3, example 1: 124 % and -16 % at 50 ft make 70 ft
    assert functions.height_above_foot(124, -16, 50, scale) == pytest.approx(70)


def test_areas_may_be_written_with_a_raised_two() -> None:
    # NIST (2008), appendix B: 1 ha is 10 000 square metres
    assert functions.convert_unit(3, "ha", "m²") == 30_000


def test_scale_distance_counts_for_its_scale_only() -> None:
    scales = [["percent"], ["fixed distance"], ["fixed distance"], ["fixed distance"]]
    given = [["abc"], [None], ["abc"], [20]]
    found = functions.height_above_foot(40, -10, 20, scales, given)
    assert found[0] == [10.0]
    assert found[1] == [""]
    assert found[2] == ["scale_distance: 'abc' is not a number"]
    assert found[3] == [50.0]
    assert functions.level_distance(10, 0, "fixed distance") == ""


def test_the_first_wrong_argument_is_named_even_beside_a_blank() -> None:
    assert functions.crown_ratio(None, "low", "high").startswith("crown_base: 'low'")


def test_a_message_of_another_cell_is_not_quoted_again() -> None:
    message = functions.height_above_foot(50, -5, "fence", "percent")
    found = functions.crown_depth([[message], ["note: low"]], 2)
    assert found[0] == ["crown_top: the cell has a message instead of a number"]
    assert found[1] == ["crown_top: 'note: low' is not a number"]


def test_a_reading_of_zero_is_no_blank() -> None:
    assert functions.height_above_foot(50, 0, 20, "percent") == 10.0
    assert functions.height_above_foot(50, None, 20, "percent") == ""


def test_a_table_keeps_its_shape() -> None:
    tops, bases = [[10, 11, 12], [13, None, 15]], [[1, 2, 3], [4, 5, 6]]
    assert functions.crown_depth(tops, bases) == [[9, 9, 9], [9, "", 9]]
    assert functions.crown_depth(tops, 1) == [[9, 10, 11], [12, "", 14]]


def test_ranges_of_different_shapes_are_refused() -> None:
    found = functions.crown_depth([[10], [11]], [[1], [2], [3]])
    assert found == [["crown_base: 3 × 1 cells, but crown_top has 2 × 1"]]
    found = functions.height_above_foot(1, 2, 3, [["percent"]] * 2, [[20]] * 3)
    assert found == [["scale_distance: 3 × 1 cells, but reading_scale has 2 × 1"]]


@pytest.mark.parametrize("given", [[[1], [2, 3]], [[1], 2], [[], []], [[1], []]])
def test_rows_of_different_lengths_are_refused(given: object) -> None:
    found = functions.crown_depth(given, 0.5)
    assert found == [["crown_top: the rows have different lengths"]]


def test_combined_diameter_takes_a_tree_a_row() -> None:
    rows = [[30.0, 40.0, None], [None, "", None], [30, "abc", True], [30, 0, None], [12, None, 5]]
    found = functions.combined_diameter(rows)
    assert found[0] == [pytest.approx(float(stems.combined_diameter([30.0, 40.0])))]
    assert found[1] == [""]
    assert found[2] == ["stem_diameters: 'abc' is not a number"]
    assert found[3] == ["stem_diameters: 0 must be above 0"]
    assert found[4] == [pytest.approx(13.0)]


@pytest.mark.parametrize("name", CASES)
@pytest.mark.parametrize("cell", [None, "", "abc", "#N/A", True, 0, -1, 1e9, [], [[]], (), {}])
def test_no_cell_makes_a_function_raise_or_gives_nan(name: str, cell: object) -> None:
    count = len(inspect.signature(getattr(functions, name)).parameters)
    found = np.atleast_1d(np.array(call(name, *[cell] * count), dtype=object)).ravel().tolist()
    for value in found:
        assert isinstance(value, str) or math.isfinite(value)


@pytest.mark.parametrize("argument", sorted(NAMED))
def test_a_number_is_no_name(argument: str) -> None:
    name = next(name for name, found in ARGUMENTS if found == argument)
    case = CASES[name]
    cells = case.cells(0)
    cells[list(case.columns).index(argument)] = 5
    assert call(name, *cells).startswith(f"{argument}: '5' is not one of ")


@pytest.mark.parametrize("cell", [True, False, np.True_, -2146826245])
def test_one_odd_cell_among_plain_numbers(cell: object) -> None:
    found = functions.crown_depth([[10.0], [cell], [9]], 1)
    assert found[0] == [9.0]
    assert found[1][0].startswith("crown_top: ")
    assert found[2] == [8.0]


def test_a_distance_to_the_bark_gets_the_stem_for_the_point_alone() -> None:
    """12.25 m x 1.2 + 11 m x 0.145 = 16.295 m: the foot is aimed at on the bark."""
    readings = (120.0, -14.5, 11.0, "percent", None)
    assert functions.height_above_foot(*readings, 2.5) == pytest.approx(16.295)
    assert functions.height_above_foot(*readings) == pytest.approx(1.345 * 11)
