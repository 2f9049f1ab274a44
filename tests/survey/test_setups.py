"""From keyed lines to heights above the foot: ways of measuring, resolution, reasons."""

from math import atan, cos, degrees, hypot, radians, sqrt, tan

import numpy as np
import pytest

from tests.survey.make_survey import PLAIN_PLOT, REFUSED_CELL, make_survey
from xlhelpers.measure import sightings
from xlhelpers.survey.setups.setups import compute_setups

FT = 0.3048
LINE = {"plot": "1", "tree": "1", "species": "English oak"}
READ = {"distance": 20.0, "foot_reading": -8.0, "base_reading": 12.0, "tip_reading": 70.0}
EYE = {"missing_because": "EYE HEIGHT"}

ALL_KINDS = [
    {"instrument": "C1", "kind": "clinometer, percent and degrees"},
    {"instrument": "T1", "kind": "clinometer, percent and topographic"},
    {"instrument": "F1", "kind": "clinometer, scales for 15 m and 20 m", "scale_distance": 20.0},
    {
        "instrument": "F2",
        "kind": "clinometer, scales for 66 ft and 100 ft",
        "scale_distance": 66 * FT,
    },
    {"instrument": "F3", "kind": "clinometer, scales for 15 m and 20 m"},
    {"instrument": "L1", "kind": "laser with angles"},
    {"instrument": "H1", "kind": "laser that shows heights"},
    {"instrument": "P1", "kind": "pole or tape"},
    {"instrument": "X1", "kind": "home made"},
]


def setups_of(*lines, plot=None, units="metric", **tables):
    """Return the set-ups of lines that all lie on plot 1."""
    survey = make_survey(
        lines=[LINE | line for line in lines],
        plots=[PLAIN_PLOT | {"plot": "1"} | (plot or {})],
        instruments=ALL_KINDS,
        rules={"units": units},
        **tables,
    )
    return compute_setups(survey)


def one(*args, **named):
    """Return the set-up of one line."""
    return setups_of(*args, **named).iloc[0]


# line, plot, total height (m), source
PUBLISHED = [
    (
        {"distance": 50 * FT, "tip_reading": 124, "foot_reading": -16},
        {},
        70 * FT,
        "DeYoung, Forest Measurements, section 2.3, example 1",
    ),
    (
        {"distance": 100 * FT, "tip_reading": 70, "foot_reading": -34},
        {},
        104 * FT,
        "DeYoung, Forest Measurements, section 5.7, tree a",
    ),
    (
        {"distance": 66 * FT, "tip_reading": 41, "foot_reading": -9},
        {"instrument": "T1", "scale": "topographic"},
        50 * FT,
        "DeYoung, Forest Measurements, section 2.4",
    ),
    (
        {"distance": 25, "tip_reading": 48} | EYE,
        {},
        13.6,
        "instruction leaflet of an optical-reading clinometer, level ground (13.6 m)",
    ),
    (
        {
            "distance": 25,
            "tip_reading": 29,
            "foot_reading": -23,
            "slope_reading": 100 * tan(radians(9)),
        },
        {"distance_kind": "along slope"},
        52 / 100 * 25 * cos(radians(9)),
        "same leaflet, slope distance (12.8 m)",
    ),
    (
        {
            "distance": 30,
            "foot_reading": -6,
            "tip_reading": 35,
            "tip_straight": 40,
        },
        {"scale": "degrees", "distance_kind": "straight to the foot"},
        26.079,
        "derived from H = sin a1 x + sin a2 y, Environmental Data Initiative edi.1559",
    ),
    (
        {"distance": 25, "tip_reading": 17.5, "foot_reading": -1.5},
        {"instrument": "F1", "scale": "fixed distance"},
        23.75,
        "derived from H = (HT - HB) HD / BD, University of Idaho FOR 274 lecture slides",
    ),
    (
        {"distance": 33 * FT, "tip_reading": 52, "foot_reading": -6},
        {"instrument": "F2", "scale": "fixed distance"},
        29 * FT,
        "derived from the same formula, a scale for 66 ft in a metric workbook",
    ),
    (
        # a stem 20 m high that leans 10 degrees toward an observer 20 m away at the foot's level
        {
            "distance": 20,
            "foot_reading": 0,
            "tip_reading": degrees(atan(20 / (20 - 20 * tan(radians(10))))),
            "tip_offset": 20 * tan(radians(10)),
        },
        {"scale": "degrees"},
        20.0,
        "derived; Brack & Wood 1998, page HEIGHT3, says that it would be read too high",
    ),
]


@pytest.mark.parametrize(("line", "plot", "expected", "source"), PUBLISHED)
def test_total_height_agrees_with_published_values(line, plot, expected, source):
    found = one(line, plot=plot)
    assert found["total_height"] == pytest.approx(expected, abs=0.0005), source
    assert found["no_height_because"] == ""


def test_crown_base_below_the_eye_of_a_published_tree():
    # DeYoung, Forest Measurements, section 5.7, tree a: crown base reading -10 %, crown of 80 ft
    line = {"distance": 100 * FT, "tip_reading": 70, "foot_reading": -34, "base_reading": -10}
    found = one(line)
    assert found["crown_base"] / FT == pytest.approx(24)
    assert found["crown_depth"] / FT == pytest.approx(80)
    assert found["crown_top"] == found["total_height"]


def test_three_heights_of_a_plain_line():
    found = one(READ)
    assert found[["crown_base", "crown_top", "total_height", "crown_depth"]].tolist() == (
        pytest.approx([4.0, 15.6, 15.6, 11.6])
    )
    assert found["eye_above_foot"] == pytest.approx(1.6)
    assert found["tip_way"] == found["base_way"] == found["top_way"] == "sighted, percent"


def test_both_points_above_and_both_below_the_eye():
    found = setups_of(
        READ | {"tree": "1", "foot_reading": 10, "base_reading": 20, "tip_reading": 60},
        READ | {"tree": "2", "foot_reading": -60, "base_reading": -40, "tip_reading": -10},
    )
    assert found["total_height"].tolist() == pytest.approx([10.0, 10.0])
    assert found["crown_base"].tolist() == pytest.approx([2.0, 4.0])


def test_zero_is_a_reading_and_blank_is_not():
    found = setups_of(
        READ | {"tree": "1", "foot_reading": 0}, READ | {"foot_reading": None, "tree": "2"}
    )
    assert found["total_height"].iloc[0] == pytest.approx(14.0)
    assert np.isnan(found["total_height"].iloc[1])


class TestWays:
    def test_straight_distance_to_the_foot_takes_its_slope_from_the_foot_reading(self):
        line = {"distance": 25, "foot_reading": -5, "tip_reading": 38}
        found = one(line, plot={"scale": "degrees", "distance_kind": "straight to the foot"})
        level = 25 * cos(radians(5))
        assert found["level_distance"] == pytest.approx(level)
        assert found["total_height"] == pytest.approx(level * (tan(radians(38)) + tan(radians(5))))

    def test_two_straight_distances_with_a_level_distance_to_the_foot(self):
        line = READ | {"tip_straight": 20 * sqrt(1.49), "base_straight": 19.0}
        found = one(line)
        assert found["total_height"] == pytest.approx(15.6)
        assert found["crown_base"] == pytest.approx(19 * 0.12 / sqrt(1 + 0.12**2) + 1.6)
        assert found["tip_way"] == "two straight distances"

    def test_mark_above_a_hidden_foot(self):
        found = one(READ | {"mark_above_foot": 1.3, "foot_reading": -1.5})
        assert found["total_height"] == pytest.approx(14.3 + 1.3)
        assert found["eye_above_foot"] == pytest.approx(1.6)

    def test_height_display_shows_the_unit_of_the_workbook_and_needs_no_distance(self):
        line = {"base_reading": 20, "tip_reading": 60}
        for units, unit in (("metric", 1.0), ("us", FT)):
            found = one(line, plot={"instrument": "H1", "scale": "height"}, units=units)
            assert found["total_height"] == pytest.approx(60 * unit)
            assert found["crown_depth"] == pytest.approx(40 * unit)
            assert found["tip_way"] == "height display"
            assert found["distance_kind"] == "none"

    def test_an_instrument_that_is_a_pole_gives_heights_by_pole(self):
        found = one({"tip_reading": 6}, plot={"instrument": "P1", "scale": "height"})
        assert found["tip_way"] == "pole or tape"

    def test_pole_goes_before_the_sighting_and_both_are_kept(self):
        found = one(READ | {"base_by_pole": 3.2})
        assert found["crown_base"] == 3.2
        assert found["base_way"] == "pole or tape"
        assert found["base_sighted"] == pytest.approx(4.0)
        assert found["base_u_reading"] < 0.06

    def test_pole_alone_needs_no_reading(self):
        found = one({"base_by_pole": 3.2})
        assert found["crown_base"] == 3.2
        assert np.isnan(found["total_height"])

    def test_eye_height_is_that_of_the_first_initials(self):
        people = [{"initials": "AB", "eye_height": 1.7}, {"initials": "CD", "eye_height": 1.5}]
        line = {"distance": 10, "tip_reading": 80, "base_reading": 10} | EYE
        found = one(line, plot={"crew": "cd, AB"}, people=people)
        assert found["total_height"] == pytest.approx(9.5)
        assert found["crown_base"] == pytest.approx(2.5)
        assert found["tip_way"] == "eye height on level ground"

    def test_eye_height_is_never_filled_in_silently(self):
        found = one({"distance": 10, "tip_reading": 80})
        assert np.isnan(found["total_height"])
        assert found["no_height_because"] == "no foot reading"

    def test_a_foot_reading_goes_before_the_declared_eye_height(self):
        assert one(READ | EYE)["tip_way"] == "sighted, percent"

    def test_distance_to_the_bark_gets_half_the_diameter_where_it_is_known(self):
        line = {"distance": 20, "foot_reading": 0, "tip_reading": 45, "instrument": "L1"}
        line |= {"scale": "degrees", "distance_kind": "level"}
        found = setups_of(line | {"tree": "1", "diameter": 60}, line | {"tree": "2"})
        assert found["distance_added"].tolist() == pytest.approx([0.3, 0.0])
        assert found["total_height"].tolist() == pytest.approx([20.3, 20.0])

    @pytest.mark.parametrize(
        ("foot", "eye", "height"), [(-14.5, 1.595, 16.295), (-35, 3.85, 18.55), (20, -2.2, 12.5)]
    )
    def test_the_foot_is_aimed_at_on_the_bark(self, foot: float, eye: float, height: float) -> None:
        """A stem of 2.5 m, 11 m to the bark, tip at 120 %: 12.25 m x 1.2 + 11 m x the foot."""
        line = {"distance": 11, "foot_reading": foot, "tip_reading": 120, "instrument": "L1"}
        line |= {"scale": "percent", "distance_kind": "level", "diameter": 250}
        found = setups_of(line)
        assert found["eye_above_foot"].tolist() == pytest.approx([eye])
        assert found["level_distance"].tolist() == pytest.approx([12.25])
        assert found["total_height"].tolist() == pytest.approx([height])
        slopes = (1.2, foot / 100)
        own = sightings.height_from_bark(11, *slopes, 2.5)
        assert found["total_height"].tolist() == pytest.approx([own])

    def test_a_straight_distance_to_the_bark_gives_the_eye_height_of_the_laser(self) -> None:
        """20 m straight to the foot at -30 degrees: the eye is 10 m above it, whatever the stem."""
        line = {"distance": 20, "foot_reading": -30, "tip_reading": 45, "instrument": "L1"}
        line |= {"scale": "degrees", "distance_kind": "straight to the foot", "diameter": 250}
        assert setups_of(line)["eye_above_foot"].tolist() == pytest.approx([10.0])

    def test_the_diameter_of_the_first_set_up_serves_the_further_ones(self):
        line = {"distance": 20, "foot_reading": 0, "tip_reading": 45, "instrument": "L1"}
        line |= {"scale": "degrees", "distance_kind": "level"}
        found = setups_of(line | {"diameter": 60}, line | {"setup": 2})
        assert found["distance_added"].tolist() == pytest.approx([0.3, 0.3])

    def test_lean_acts_on_the_crown_base_in_proportion_to_its_height(self):
        # a straight stem: tip 20 m up and 4 m toward the observer, base 5 m up and 1 m toward
        line = {
            "distance": 20,
            "foot_reading": -10,
            "base_reading": 100 * 3 / 19,
            "tip_reading": 100 * 18 / 16,
            "tip_offset": 4,
        }
        found = one(line)
        assert found["total_height"] == pytest.approx(20)
        assert found["crown_base"] == pytest.approx(5)


class TestCrownBaseNearTheFoot:
    def test_within_two_uncertainties_it_counts_as_the_foot(self):
        found = one(READ | {"base_reading": -8.5})
        assert found["base_sighted"] == pytest.approx(-0.1)
        assert found["crown_base"] == 0
        assert found["base_set_to_zero"]

    def test_lower_it_stays_negative(self):
        found = one(READ | {"base_reading": -10})
        assert found["crown_base"] == pytest.approx(-0.4)
        assert not found["base_set_to_zero"]

    def test_without_a_known_accuracy_nothing_is_set_to_zero(self):
        found = one(READ | {"base_reading": -8.1, "instrument": "X1"})
        assert found["crown_base"] == pytest.approx(-0.02)
        assert np.isnan(found["tip_u_reading"])


class TestCondition:
    def test_dead_top_takes_the_crown_top_from_its_own_reading(self):
        found = one(READ | {"condition": "T", "top_reading": 52})
        assert found["crown_top"] == pytest.approx(12.0)
        assert found["total_height"] == pytest.approx(15.6)
        assert found["crown_depth"] == pytest.approx(8.0)

    def test_dead_top_without_the_reading_has_no_crown_top(self):
        found = one(READ | {"condition": "T"})
        assert np.isnan(found["crown_top"])
        assert np.isnan(found["crown_depth"])
        assert found["total_height"] == pytest.approx(15.6)

    def test_crown_top_reading_without_dead_top_is_kept_beside(self):
        found = one(READ | {"top_reading": 52})
        assert found["crown_top"] == found["total_height"]
        assert found["top_sighted"] == pytest.approx(12.0)

    def test_dead_tree_has_a_height_and_no_crown(self):
        found = one(READ | {"condition": "D", "base_by_pole": 2})
        assert found["total_height"] == pytest.approx(15.6)
        assert found[["crown_base", "crown_top", "crown_depth"]].isna().all()
        assert found["base_way"] == found["top_way"] == ""


class TestResolution:
    def test_the_line_goes_before_the_plot(self):
        line = READ | {"instrument": "T1", "scale": "topographic", "distance_kind": "along slope"}
        found = one(line | {"slope_reading": 0})
        assert found[["instrument", "scale", "distance_kind"]].tolist() == [
            "T1",
            "topographic",
            "along slope",
        ]
        assert found["total_height"] == pytest.approx(20 * 78 / 66)

    def test_blank_distance_kind_means_level(self):
        assert one(READ, plot={"distance_kind": ""})["distance_kind"] == "level"

    def test_the_only_scale_of_the_instrument_fills_a_blank(self):
        plot = {"instrument": "F1", "scale": ""}
        assert one(READ, plot=plot)["scale"] == "fixed distance"
        assert one(READ, plot={"scale": ""})["no_height_because"] == "no scale"

    def test_an_own_instrument_without_the_plots_scale_takes_its_only_one(self):
        found = one({"tip_reading": 12, "instrument": "h1"})
        assert found["scale"] == "height"
        assert found["total_height"] == 12

    def test_a_refused_or_closed_entry_is_not_replaced_by_the_plots(self):
        for entry in (REFUSED_CELL, "?"):
            assert one(READ | {"scale": entry})["scale"] == ""
            assert one(READ | {"distance_kind": entry})["no_height_because"] == "no distance kind"

    def test_unknown_plot_and_instrument(self):
        found = one(READ | {"plot": "99", "scale": "percent", "instrument": "none such"})
        assert found["plot_position"] == found["instrument_position"] == -1
        assert found["instrument"] == "none such"
        assert found["total_height"] == pytest.approx(15.6)
        assert np.isnan(found["tip_u_common"])


REASONS = [
    ({}, {}, "no readings"),
    ({"tip_reading": None}, {}, "no tip reading"),
    ({"foot_reading": None}, {}, "no foot reading"),
    ({"distance": None}, {}, "no distance"),
    ({"distance_kind": "none"}, {}, "no distance"),
    ({"distance_kind": "along slope"}, {}, "no slope reading"),
    ({"tip_reading": "NOT SAFE"}, {}, "a reason is given (NOT SAFE …)"),
    (
        {"foot_reading": None, "missing_because": "no access"},
        {},
        "a reason is given (NOT SAFE …)",
    ),
    ({"tip_reading": REFUSED_CELL}, {}, "an entry could not be read"),
    ({"scale": "degrees", "tip_reading": 95}, {}, "angle too steep"),
    ({"instrument": "F3", "scale": "fixed distance"}, {}, "no scale distance"),
    ({"foot_reading": None} | EYE, {"crew": "ZZ"}, "no eye height"),
    ({"tip_offset": 25}, {}, "tip offset too large"),
]


@pytest.mark.parametrize(("line", "plot", "reason"), REASONS)
def test_why_there_is_no_height(line, plot, reason):
    found = one((READ if line else {}) | line, plot=plot)
    assert np.isnan(found["total_height"])
    assert found["no_height_because"] == reason


class TestUncertainty:
    def test_level_sighting_agrees_with_the_law_of_propagation(self):
        # JCGM 100:2008, section 5.1.2, for D 25 m (u 0.1 m), +40 and -4 degrees (u 0.25 degrees
        # each, here with the graduation inside): 0.234 m, derived
        meter = {
            "instrument": "E1",
            "kind": "electronic angle meter",
            "u_angle": sqrt(0.25**2 - 0.1**2 / 12),
            "u_zero": 0.0,
            "u_distance": 0.1,
            "u_distance_share": 0.0,
        }
        survey = make_survey(
            lines=[LINE | {"distance": 25, "tip_reading": 40, "foot_reading": -4}],
            plots=[PLAIN_PLOT | {"plot": "1", "instrument": "E1", "scale": "degrees"}],
            instruments=[meter],
        )
        found = compute_setups(survey).iloc[0]
        assert found["tip_u_common"] == 0
        assert found["tip_u_reading"] == pytest.approx(0.234, abs=0.0005)

    def test_every_way_has_both_parts(self):
        straight = {"distance_kind": "straight to the foot"}
        along = {"distance_kind": "along slope", "slope_reading": 5}
        ways = [
            {},
            straight,
            along,
            {"mark_above_foot": 1.0},
            {"tip_offset": 1.0},
            {"tip_straight": 24.0, "base_straight": 20.0},
            {"foot_reading": None} | EYE,
            {"instrument": "H1", "scale": "height"},
        ]
        found = setups_of(*(READ | way | {"tree": str(i)} for i, way in enumerate(ways)))
        names = [
            f"{p}_u_{part}"
            for p in ("tip", "top", "base", "depth")
            for part in ("common", "reading")
        ]
        assert (found[names] > 0).all(axis=None)

    def test_foot_cancels_out_of_the_crown_depth(self):
        # on level aims a sighted depth knows nothing of the foot: only two aims and the distance
        found = one(READ | {"foot_reading": -60})
        of_two_points = hypot(found["tip_u_reading"], found["base_u_reading"])
        assert found["depth_u_reading"] < 0.8 * of_two_points


def test_an_empty_survey_gives_empty_set_ups():
    assert len(compute_setups(make_survey())) == 0


def test_set_ups_are_aligned_to_the_lines():
    survey = make_survey(lines=[LINE | READ | {"tree": str(i)} for i in range(5)])
    assert compute_setups(survey).index.equals(survey.lines.index)
