"""From set-ups to trees: grouping, means over set-ups, uncertainties, stems and crowns."""

from itertools import permutations
from math import hypot, pi, sqrt

import numpy as np
import pytest
from uncertainties import ufloat, umath

from tests.survey.make_survey import PLAIN_PLOT, make_survey
from xlhelpers.measure.leaf_area import leaf_area
from xlhelpers.pages.methods import METHODS
from xlhelpers.survey.columns import TREES
from xlhelpers.survey.setups.setups import compute_setups
from xlhelpers.survey.trees.groups import group_setups
from xlhelpers.survey.trees.shading import shading_of
from xlhelpers.survey.trees.trees import build_trees

FT, INCH = 0.3048, 2.54
LINE = {"plot": "1", "tree": "1", "species": "English oak"}
READ = {"distance": 20.0, "foot_reading": -8.0, "base_reading": 12.0, "tip_reading": 70.0}


def trees_of(*lines, **tables):
    survey = make_survey(lines=[LINE | line for line in lines], **tables)
    return build_trees(survey, compute_setups(survey))


def one(*lines, **tables):
    trees = trees_of(*lines, **tables)
    assert len(trees) == 1
    return trees.iloc[0]


def groups_of(*lines):
    return group_setups(make_survey(lines=[LINE | line for line in lines]))


# lines, tree of each, whether each is a duplicate
GROUPS = [
    ("one line", [{}], [0], [0]),
    ("numbered", [{}, {"setup": 2}, {"setup": 3}], [0, 0, 0], [0, 0, 0]),
    ("blank and agreeing", [{"diameter": 30}, {"diameter": 30}], [0, 0], [0, 0]),
    ("blank with blanks", [{"diameter": 30}, {"species": ""}], [0, 0], [0, 0]),
    ("another name of the species", [{}, {"species": "quercus ROBUR"}], [0, 0], [0, 0]),
    ("another species", [{}, {"species": "Norway maple"}], [0, 1], [1, 1]),
    ("another diameter", [{"diameter": 30}, {"diameter": 31}], [0, 1], [1, 1]),
    ("another condition", [{"condition": "T"}, {"condition": "D"}], [0, 1], [1, 1]),
    ("set-up 1 keyed twice", [{"setup": 1}, {"setup": 1}], [0, 1], [1, 1]),
    ("set-up 1 and a blank", [{"setup": 1}, {}], [0, 0], [0, 0]),
    ("only further set-ups", [{"setup": 3}, {"setup": 2}], [0, 0], [0, 0]),
    (
        "set-up 2 says another diameter",
        [{"diameter": 30}, {"setup": 2, "diameter": 31}],
        [0, 0],
        [0, 0],
    ),
    ("another plot", [{}, {"plot": "2"}], [0, 1], [0, 0]),
    ("same number, typed otherwise", [{"tree": "A1"}, {"tree": " a1"}], [0, 0], [0, 0]),
    (
        "three, of which two agree",
        [{"diameter": 30}, {"diameter": 30}, {"diameter": 50}],
        [0, 0, 1],
        [1, 1, 1],
    ),
    (
        "a further set-up finds its own",
        [{}, {"species": "Norway maple"}, {"species": "Norway maple", "setup": 2}],
        [0, 1, 1],
        [1, 1, 1],
    ),
    ("no plot", [{"plot": ""}, {"plot": ""}], [0, 1], [0, 0]),
    ("no tree", [{"tree": ""}, {}, {"tree": ""}], [0, 1, 2], [0, 0, 0]),
]


@pytest.mark.parametrize(
    ("lines", "tree", "duplicate"), [g[1:] for g in GROUPS], ids=[g[0] for g in GROUPS]
)
def test_which_lines_are_one_tree(lines, tree, duplicate):
    found = groups_of(*lines)
    assert found["tree_position"].tolist() == tree
    assert found["duplicate"].tolist() == [bool(d) for d in duplicate]


@pytest.mark.parametrize("lines", [g[1] for g in GROUPS], ids=[g[0] for g in GROUPS])
def test_grouping_does_not_depend_on_the_order_of_rows(lines):
    def partition(order):
        found = groups_of(*(lines[i] for i in order))["tree_position"]
        return {frozenset(order[found.to_numpy() == t].tolist()) for t in found}

    plain = partition(np.arange(len(lines)))
    for order in permutations(range(len(lines))):
        assert partition(np.array(order)) == plain


_FIRST, _FURTHER = {"setup": 1}, {"setup": 2, "species": "", "diameter": None}
_MAPLE = {"species": "Norway maple"}


@pytest.mark.parametrize(
    ("lines", "tree"),
    [
        # one number for two trees, each with two set-ups
        ([_FIRST, _FURTHER, _FIRST | _MAPLE, _FURTHER], [0, 0, 1, 1]),
        ([_FIRST, _FIRST | _MAPLE, _FURTHER, _FURTHER], [0, 1, 0, 1]),
        ([_FIRST, _FIRST | _MAPLE, _FURTHER | _MAPLE, _FURTHER], [0, 1, 1, 0]),
        # a set-up that fits both goes to the tree above it, and is never left alone
        ([{}, _MAPLE, {"species": "", "setup": 2}], [0, 1, 1]),
        ([{}, {"species": "", "setup": 2}, _MAPLE], [0, 0, 1]),
        # the diameter tells them apart, though two people measured it
        ([{"setup": 1, "diameter": 30}, {"setup": 1, "diameter": 50},
          {"setup": 2, "diameter": 49}, {"setup": 2, "diameter": 31}], [0, 1, 1, 0]),
        # three set-ups of each of two trees
        ([_FIRST, _FURTHER, _FURTHER | {"setup": 3}] * 2, [0, 0, 0, 1, 1, 1]),
    ],
)  # fmt: skip
def test_lines_of_a_number_used_twice_are_paired_into_trees(lines, tree):
    found = groups_of(*lines)
    assert found["tree_position"].tolist() == tree
    assert found["duplicate"].all()
    shown = found["setup_number"].tolist()
    assert sorted(shown) == sorted(line.get("setup", 1) for line in lines)


def test_set_up_numbers_and_first_lines():
    found = groups_of({}, {"setup": 2}, {}, {"tree": "2", "setup": 2}, {"tree": "2", "setup": 1})
    assert found["setup_number"].tolist() == [1, 2, 3, 2, 1]
    assert found["first"].tolist() == [True, False, False, False, True]


def test_trees_stand_in_the_order_of_their_first_lines():
    found = trees_of({"tree": "9", "setup": 2}, {"tree": "5"}, {"tree": "9"})
    assert found["tree"].tolist() == ["5", "9"]
    assert found["first_line"].tolist() == [1, 2]
    assert found["line_count"].tolist() == [1, 2]


def test_lines_without_plot_or_tree_are_trees_of_their_own():
    found = trees_of({"plot": ""}, {"tree": ""})
    assert found["unnumbered"].tolist() == [True, True]


def test_duplicates_keep_their_own_results():
    found = trees_of(READ | {"diameter": 30}, READ | {"diameter": 31, "tip_reading": 50})
    assert found["total_height"].tolist() == pytest.approx([15.6, 11.6])
    assert found["n_total"].tolist() == [1, 1]
    assert found["duplicate"].all()


class TestMeans:
    def test_plain_mean_for_each_point_and_depth_from_the_means(self):
        # a second set-up without a crown base: n differs between the points
        second = READ | {"setup": 2, "tip_reading": 72, "base_reading": None}
        found = one(READ, second)
        assert found["total_height"] == pytest.approx((15.6 + 16.0) / 2)
        assert found["crown_base"] == pytest.approx(4.0)
        assert found["crown_depth"] == pytest.approx(15.8 - 4.0)
        assert found[["n_total", "n_top", "n_base"]].tolist() == [2, 2, 1]
        assert found["scatter_total"] == pytest.approx(0.4)

    def test_a_pole_goes_before_sightings(self):
        found = one(READ, READ | {"setup": 2, "base_by_pole": 3.4})
        assert found["crown_base"] == 3.4
        assert found["n_base"] == 1
        assert found["way_base"] == "pole or tape"
        assert found["n_total"] == 2

    def test_ways_and_instruments_are_named_once_each(self):
        other = {"scale": "degrees", "foot_reading": -5, "base_reading": 7, "tip_reading": 35}
        found = one(READ, READ | {"setup": 2}, READ | other | {"setup": 3})
        assert found["way_total"] == "sighted, percent; sighted, degrees"
        assert found["instruments"] == "C1"

    def test_a_tree_without_readings_has_no_height(self):
        found = one({"diameter": 20})
        assert np.isnan(found["total_height"])
        assert found["n_total"] == 0
        assert found["no_height_because"] == "no readings"
        assert found["diameter"] == 20

    def test_live_crown_ratio_of_a_published_tree(self):
        # DeYoung, Forest Measurements, section 5.7, tree a: 104 ft, crown 80 ft, 77 %
        line = {"tip_reading": 70, "foot_reading": -34, "base_reading": -10, "distance": 100 * FT}
        found = one(line)
        assert found["total_height"] / FT == pytest.approx(104)
        assert found["crown_depth"] / FT == pytest.approx(80)
        assert found["live_crown_ratio"] == pytest.approx(0.77, abs=0.005)

    def test_dead_top_length(self):
        found = one(READ | {"condition": "T", "top_reading": 52})
        assert found["dead_top_length"] == pytest.approx(3.6)
        assert np.isnan(one(READ)["dead_top_length"])


class TestUncertainty:
    def test_common_part_stays_and_reading_part_shrinks_with_one_instrument(self):
        single, double = one(READ), one(READ, READ | {"setup": 2})
        survey = make_survey(lines=[LINE | READ])
        parts = compute_setups(survey).iloc[0][["tip_u_common", "tip_u_reading"]].tolist()
        assert single["u_total"] == pytest.approx(hypot(*parts))
        assert double["u_total"] == pytest.approx(hypot(parts[0], parts[1] / sqrt(2)))

    def test_common_parts_of_two_instruments_are_independent(self):
        kind = "clinometer, percent and degrees"
        both = [{"instrument": "C1", "kind": kind}, {"instrument": "C2", "kind": kind}]
        lines = [READ, READ | {"setup": 2, "instrument": "C2"}]
        single, double = one(READ, instruments=both), one(*lines, instruments=both)
        assert double["u_total"] == pytest.approx(single["u_total"] / sqrt(2))
        assert double["instruments"] == "C1; C2"

    def test_depth_of_a_pole_base_adds_the_two_points(self):
        found = one(READ | {"base_by_pole": 3.4})
        assert found["u_depth"] == pytest.approx(hypot(found["u_top"], found["u_base"]))

    @pytest.mark.parametrize("condition", ["", "T"])
    def test_live_crown_ratio_agrees_with_a_second_witness(self, condition):
        # the package uncertainties propagates the same readings, correlations included
        meter = {"instrument": "C1", "kind": "electronic angle meter"}
        meter |= {"u_angle": 0.4, "u_zero": 0.0, "u_distance": 0.2, "u_distance_share": 0.0}
        read = {"scale": "degrees", "distance": 20.0, "foot_reading": -5.0, "base_reading": 8.0}
        read |= {"tip_reading": 38.0, "top_reading": 33.0, "condition": condition}
        found = one(read, instruments=[meter])
        aim = hypot(0.4, 0.1 / sqrt(12))
        slope = {
            name: umath.tan(umath.radians(ufloat(read[f"{name}_reading"], aim)))
            for name in ("foot", "base", "top", "tip")
        }
        top = slope["top" if condition == "T" else "tip"]
        depth = ufloat(20.0, 0.2) * (top - slope["base"])
        ratio = (top - slope["base"]) / (slope["tip"] - slope["foot"])
        assert found["u_depth"] == pytest.approx(depth.std_dev)
        assert found["live_crown_ratio"] == pytest.approx(ratio.nominal_value)
        if condition == "T":
            # what depth and height share is left out, which must not make it smaller
            assert ratio.std_dev <= found["u_ratio"] < 1.2 * ratio.std_dev
        else:
            assert found["u_ratio"] == pytest.approx(ratio.std_dev)

    def test_observers_part_stands_beside(self):
        # Luoma et al. 2017, abstract: 2.9 % of the height between observers
        assert one(READ)["observer_u"] == pytest.approx(0.029 * 15.6)

    def test_nothing_known_of_the_instrument_gives_no_uncertainty(self):
        found = one(READ, READ | {"setup": 2, "instrument": "none such"})
        assert found["total_height"] == pytest.approx(15.6)
        assert np.isnan(found["u_total"])


class TestStems:
    def test_published_combined_diameter(self):
        # municipal instruction: stems of 5, 6 and 8 inches make the root of 125, 11 inches
        found = one({"diameter": 8 * INCH, "other_stems": f"{6 * INCH} {5 * INCH}"})
        assert found["diameter"] / INCH == pytest.approx(sqrt(125))
        assert found["stem_count"] == 3
        assert found["largest_stem"] == pytest.approx(8 * INCH)

    def test_stems_under_the_smallest_diameter_do_not_count(self):
        found = one({"diameter": 30, "other_stems": "40 4.9"}, rules={"smallest_diameter": 5.0})
        assert found["diameter"] == pytest.approx(50)
        assert found["stem_count"] == 2
        assert found["largest_stem"] == 40

    def test_a_small_tree_keeps_its_own_diameter(self):
        found = one({"diameter": 3, "other_stems": "2"})
        assert found[["diameter", "stem_count"]].tolist() == [3, 1]

    def test_height_to_diameter_takes_the_largest_stem(self):
        found = one(READ | {"diameter": 40, "other_stems": "30"})
        assert found["height_to_diameter"] == pytest.approx(15.6 / 0.40)

    def test_basal_area_of_a_published_diameter(self):
        # forester's handbook table: 12 in, 0.785 square feet
        assert one({"diameter": 12 * INCH})["basal_area"] / FT**2 == pytest.approx(
            0.785, abs=0.0005
        )


WIDTHS = {"width_widest": 8.0, "width_across": 6.0}


class TestCrowns:
    def test_mean_width_and_ellipse(self):
        found = one(WIDTHS)
        assert found["mean_width"] == 7
        assert found["projection_area"] == pytest.approx(pi / 4 * 48)
        assert not found["one_width_only"]

    @pytest.mark.parametrize("name", ["width_widest", "width_across"])
    def test_one_width_serves_twice_and_is_said(self, name):
        found = one({name: 6.0})
        assert found["mean_width"] == 6
        assert found["projection_area"] == pytest.approx(pi * 9)
        assert found["one_width_only"]

    @pytest.mark.parametrize(
        ("species", "volume"),
        # derived: factor x pi / 4 x 8 x 8 x 10, as in Zhu, Kleinn and Nolke 2021
        [
            ("Picea abies", 167.552),
            ("Quercus robur", 335.103),
            ("Acer platanoides", 335.103),
            ("Phoenix canariensis", None),
            ("no such tree", None),
        ],
    )
    def test_volume_by_the_outline_of_the_species(self, species, volume):
        line = {"distance": 20, "foot_reading": -10, "base_reading": 0, "tip_reading": 50}
        line |= {"species": species, "width_widest": 8, "width_across": 8}
        found = one(line)["volume"]
        assert np.isnan(found) if volume is None else found == pytest.approx(volume, abs=0.0005)

    def test_leaf_area_of_an_open_grown_broadleaf(self):
        # the regression of Nowak 1996 as reproduced second-hand, H 5, D 5, shading 0.83; derived
        line = {"distance": 20, "foot_reading": -10, "base_reading": 0, "tip_reading": 25}
        found = one(line | {"species": "Acer platanoides", "width_widest": 5, "width_across": 5})
        assert found["leaf_area"] == pytest.approx(89.89, abs=0.005)
        assert found["leaf_area_because"] == ""

    @pytest.mark.parametrize(
        ("line", "reason"),
        [
            ({"species": "Picea abies"}, "broadleaves only"),
            ({"species": "Phoenix canariensis"}, "broadleaves only"),
            ({"species": "no such tree"}, "the species is not on Species"),
            ({"condition": "D"}, "dead tree"),
            ({"width_widest": None, "width_across": None}, "no crown width"),
            ({"base_reading": None}, "no crown depth"),
            ({"species": "Quercus robur"}, "not confirmed by a trial for this genus"),
            (
                {"species": "Acer platanoides", "width_widest": 2.9, "width_across": 2.9},
                "not confirmed by a trial for crowns under 3 m",
            ),
            (
                {"species": "Acer platanoides", "width_widest": 30},
                "outside the range of the regression",
            ),
        ],
    )
    def test_why_there_is_no_leaf_area(self, line, reason):
        found = one(READ | WIDTHS | line)
        assert np.isnan(found["leaf_area"])
        assert found["leaf_area_because"] == reason

    def test_dead_tree_has_no_crown(self):
        found = one(READ | WIDTHS | {"condition": "D", "diameter": 20})
        crown = ["crown_top", "crown_base", "crown_depth", "live_crown_ratio", "mean_width"]
        assert found[[*crown, "projection_area", "volume"]].isna().all()
        assert found["total_height"] == pytest.approx(15.6)
        assert found["height_to_diameter"] == pytest.approx(78)

    def test_palm_has_no_height_to_diameter(self):
        assert np.isnan(
            one(READ | {"species": "Phoenix canariensis", "diameter": 40})["height_to_diameter"]
        )


def test_species_are_kept_as_keyed_beside_what_they_mean():
    found = trees_of({"species": "norway MAPLE"}, {"tree": "2", "species": "Quercus x nova"})
    assert found["species"].tolist() == ["norway MAPLE", "Quercus x nova"]
    assert found["botanical"].tolist() == ["Acer platanoides", ""]
    assert found["genus"].tolist() == ["Acer", "Quercus"]
    assert found["known_species"].tolist() == [True, False]


def test_values_that_the_first_line_leaves_blank_come_from_the_next():
    found = one(READ | {"species": ""}, {"setup": 2, "diameter": 25, "group": "park", **WIDTHS})
    assert found["species"] == "English oak"
    assert found["diameter"] == 25
    assert found["mean_width"] == 7
    assert found["group"] == "park"


def test_stratum_comes_from_the_plot():
    plots = [PLAIN_PLOT | {"plot": "1", "stratum": "North"}]
    assert one(READ, plots=plots)["stratum"] == "North"


def test_columns_and_an_empty_survey():
    assert tuple(trees_of(READ).columns) == TREES.names
    assert len(trees_of()) == 0


@pytest.mark.parametrize(("state", "has_area"), [("in leaf", True), ("partly", True),
                                                 ("", True), ("bare", False)])  # fmt: skip
def test_bare_trees_have_no_leaf_area(state: str, has_area: bool) -> None:
    maple = {"plot": "1", "tree": "1", "species": "Acer platanoides", "diameter": 30.0,
             "width_widest": 8.0, "width_across": 8.0, "distance": 12.0, "foot_reading": -12.5,
             "base_reading": 25.0, "tip_reading": 75.0}  # fmt: skip
    survey = make_survey([maple], plots=[PLAIN_PLOT | {"plot": "1", "leaf_state": state}])
    tree = build_trees(survey, compute_setups(survey)).iloc[0]
    assert np.isfinite(tree["leaf_area"]) == has_area
    assert tree["leaf_area_because"] == ("" if has_area else "the trees of the plot were bare")


def test_the_stated_sensitivity_of_leaf_area_is_that_of_the_formula() -> None:
    how = next(method.how for method in METHODS if method.what == "Leaf area")
    usual, more, less = (float(leaf_area(6, 6, shading)) for shading in (0.78, 0.83, 0.73))
    assert f"gives {100 * (more / usual - 1):.0f} % more" in how
    assert f"lower {100 * (1 - less / usual):.0f} % less" in how


def test_shading_factors_are_the_published_ones_in_the_range_of_the_regression() -> None:
    """A species goes before its genus, and a factor out of range gives way to the rule's."""
    published = {"Acer rubrum": 0.69, "Acer rubrum 'Red Sunset'": 0.69, "Fraxinus ornus": 0.78,
                 "Pyrus calleryana": 0.75}  # fmt: skip
    others = ["Acer platanoides", "Pyrus communis", "Tilia cordata", "Gleditsia triacanthos", ""]
    found = shading_of(np.array([*published, *others], dtype=object), 0.8)
    assert found.tolist() == [*published.values(), *[0.8] * len(others)]
