"""Crown widths as surveys take them: the rule, four radii, and surveys that measure no crown."""

from typing import Any

import numpy as np
import pytest

from tests.survey.checks.cases import line, plot
from tests.survey.make_survey import make_survey
from xlhelpers.measure import crown_radii
from xlhelpers.survey.evaluate import evaluate
from xlhelpers.survey.measure_again import measure_again
from xlhelpers.survey.outcome import Outcome

FIXED = {"crown_widths": "two fixed directions"}
RADII = {"radius_north": 5.0, "radius_east": 4.0, "radius_south": 3.0, "radius_west": 1.0}


def outcome_of(lines: list[dict[str, Any]], **others: Any) -> Outcome:
    return evaluate(make_survey(lines, **others))


def street(count: int, seed: int = 3) -> list[dict[str, Any]]:
    """Trees of a street whose crowns were measured north-south and east-west, in that order."""
    random = np.random.default_rng(seed)
    rows = []
    for tree in range(1, count + 1):
        one, other = np.round(random.uniform(6.0, 10.0, 2), 1).tolist()
        changed = {
            "distance": float(20 + tree % 5),
            "foot_reading": -8.0 + 0.1 * (tree % 3),
            "base_reading": 15.0 + tree % 7,
            "tip_reading": 80.0 + tree % 13,
            "diameter": 30.0 + tree % 11 + 0.3 * (tree % 4),
        }
        rows.append(line(tree, width_widest=one, width_across=other, **changed))
    return rows


def checks(outcome: Outcome) -> list[str]:
    return [finding.check for finding in outcome.findings]


def test_fixed_directions_have_no_order() -> None:
    found = outcome_of(street(60), rules=FIXED)
    assert "width-across-wider" not in checks(found)
    assert "rule-to-confirm" not in checks(found)
    assert not found.counted.in_doubt["width"].any()


def test_many_second_widths_that_are_larger_are_one_question() -> None:
    lines = street(60)
    larger = sum(row["width_across"] > row["width_widest"] for row in lines)
    for row in lines[: 40 - larger]:  # two of three
        low, high = sorted((row["width_widest"], row["width_across"]))
        row |= {"width_widest": low, "width_across": high + 0.1}
    found = outcome_of(lines)
    assert "width-across-wider" not in checks(found)
    (asked,) = [f for f in found.findings if f.check == "rule-to-confirm"]
    assert asked.severity == "warning"
    assert asked.subject == (("rule", "Crown widths are"),)
    assert "“Crown widths are” on Survey rules" in asked.message
    assert "plot 1 tree" in asked.message
    # a rule makes no width doubtful, so every tree stays in figures of growth
    assert not found.counted.in_doubt["width"].any()


def test_few_such_trees_keep_their_findings() -> None:
    lines = street(30)
    for number, row in enumerate(lines):
        low, high = sorted((row["width_widest"], row["width_across"]))
        row |= {"width_widest": high + 0.1, "width_across": low}
        if number < 12:
            row |= {"width_widest": low, "width_across": high + 0.1}
    found = checks(outcome_of(lines))
    assert found.count("width-across-wider") == 12
    assert "rule-to-confirm" not in found


def test_the_question_is_decided_anew_when_the_rule_changes() -> None:
    missing = {"width_widest": None, "width_across": None}
    lines = [row | missing for row in street(20)]
    lines = [{k: v for k, v in row.items() if v is not None} for row in lines]
    (asked,) = [f for f in outcome_of(lines).findings if f.check == "rule-to-confirm"]
    more = outcome_of(lines[:15])
    (again,) = [f for f in more.findings if f.check == "rule-to-confirm"]
    assert asked.evidence == again.evidence
    other = outcome_of(lines, rules={"crown_widths": "two fixed directions"})
    (changed,) = [f for f in other.findings if f.check == "rule-to-confirm"]
    assert changed.evidence != asked.evidence


def test_a_survey_of_heights_alone_asks_for_no_crown() -> None:
    gone = ("width_widest", "width_across", "base_reading")
    lines = [{k: v for k, v in row.items() if k not in gone} for row in street(66)]
    before = outcome_of(lines)
    assert len([f for f in before.findings if f.severity == "error"]) == 2  # one question a rule
    rules = {"crown_widths": "not measured", "crown_depth": "not measured"}
    found = outcome_of(lines, rules=rules)
    assert not [f for f in found.findings if f.severity != "note"]
    assert np.isfinite(found.trees["total_height"]).all()
    for blank in ("crown_top", "crown_base", "crown_depth", "mean_width", "projection_area"):
        assert found.trees[blank].isna().all(), blank
    assert (found.trees["way_top"] == "").all()


def test_four_radii_give_widths_area_and_place_of_the_crown() -> None:
    own = {k: v for k, v in line(**RADII).items() if not k.startswith("width_")}
    found = outcome_of([own], rules={"crown_widths": "four radii"})
    tree = found.trees.iloc[0]
    assert not [f for f in found.findings if f.severity != "note"]
    assert (tree["width_widest"], tree["width_across"]) == (8.0, 5.0)
    assert tree["mean_width"] == pytest.approx(6.5)
    assert tree["projection_area"] == pytest.approx(np.pi / 4 * (20 + 12 + 3 + 5))
    assert tree["crown_offset"] == pytest.approx(np.hypot(1.5, 1.0))
    assert tree["u_crown_offset"] == pytest.approx(0.3 / np.sqrt(2))


def test_radii_go_before_widths_and_widths_serve_where_there_are_none() -> None:
    lines = [line(1, **RADII), line(2)]
    found = outcome_of(lines, rules={"crown_widths": "four radii"}).trees
    assert found["mean_width"].tolist() == pytest.approx([6.5, 8.5])
    assert np.isnan(found["crown_offset"].iloc[1])


def test_uncertainties_of_radii_agree_with_simulated_ones() -> None:
    """The propagation against 200,000 crowns with drawn errors."""
    random = np.random.default_rng(1)
    true, u = np.array([[6.0], [4.5], [3.0], [2.0]]), 0.1
    seen = true + random.normal(0.0, u, (4, 200_000))
    for own, spread in (
        (
            crown_radii.mean_width_from_radii_uncertainty(u),
            crown_radii.mean_width_from_radii(*seen),
        ),
        (
            crown_radii.area_from_radii_uncertainty(*true[:, 0], u),
            crown_radii.area_from_radii(*seen),
        ),
        (crown_radii.offset_from_radii_uncertainty(u), crown_radii.offset_from_radii(*seen)),
    ):
        assert own == pytest.approx(np.std(spread), rel=0.02)


def test_near_edge_takes_the_larger_of_two_fixed_widths() -> None:
    lines = [line(width_widest=6.0, width_across=12.0)]
    ordered = outcome_of([line(width_widest=12.0, width_across=6.0)]).trees["near_edge"].iloc[0]
    assert outcome_of(lines, rules=FIXED).trees["near_edge"].iloc[0] == pytest.approx(ordered)


@pytest.mark.parametrize(("stem", "least", "most"), [(40.0, 0.9, 1.1), (200.0, 4.5, 5.5)])
def test_a_tape_hooked_to_the_bark_and_taken_as_centre(
    stem: float, least: float, most: float
) -> None:
    """From 20 m: about 1 % too low for a stem of 40 cm, 5 % for one of 2 m."""
    row = line(diameter=stem)
    heights = [
        outcome_of([row], plots=[plot(distance_to=ends)]).trees["total_height"].iloc[0]
        for ends in ("centre", "bark")
    ]
    # the foot is aimed at on the bark, so the part below the eye is right either way
    eye = 20.0 * 0.08
    short = 100 * (1 - (heights[0] - eye) / (heights[1] - eye))
    assert least <= short <= most


def test_plots_go_before_the_instrument() -> None:
    to_bark = [{"instrument": "C1", "kind": "clinometer, percent and degrees",
                "distance_to": "bark"}]  # fmt: skip
    added = [
        evaluate(make_survey([line()], plots=[plot(distance_to=ends)], instruments=to_bark))
        .setups["distance_added"]
        .iloc[0]
        for ends in (None, "instrument", "bark", "centre")
    ]
    assert added == pytest.approx([0.2, 0.2, 0.2, 0.0])


def test_the_eye_height_of_a_plot_gives_the_foot() -> None:
    row = line(foot_reading=None)
    plots = [plot(foot_by="eye height", slope=0.05)]
    found = outcome_of([row], plots=plots)
    tree = found.trees.iloc[0]
    assert tree["total_height"] == pytest.approx(20.0 * 0.97 + 1.6)
    assert tree["way_total"] == "eye height on level ground"
    assert [f.check for f in found.findings] == ["foot-by-eye"]
    # ground of 5 % over 20 m is level within 1 m: 1 m over the root of 3, and more
    assert tree["u_total"] > 1.0 / np.sqrt(3)
    declared = outcome_of([line(foot_reading=None, missing_because="EYE HEIGHT")], plots=plots)
    assert declared.trees["u_total"].iloc[0] < tree["u_total"]
    assert declared.trees["total_height"].iloc[0] == pytest.approx(tree["total_height"])


def test_a_foot_reading_goes_before_the_eye_height_of_the_plot() -> None:
    plots = [plot(foot_by="eye height")]
    tree = outcome_of([line()], plots=plots).trees.iloc[0]
    assert tree["total_height"] == pytest.approx(21.0)


def test_without_an_eye_height_the_plot_rule_says_what_is_missing() -> None:
    plots = [plot(foot_by="eye height", crew="CD")]
    found = outcome_of([line(foot_reading=None)], plots=plots)
    assert [f.check for f in found.findings if f.severity == "error"] == ["no-height"]


def test_what_to_measure_again_follows_the_rules() -> None:
    close = line(distance=3.0, foot_reading=-53.0, base_reading=100.0, tip_reading=600.0)
    rules = {"crown_widths": "four radii", "crown_depth": "not measured"}
    found = measure_again(outcome_of([close], rules=rules))["points"].iloc[0]
    assert "crown base" not in found
    assert "both crown widths" not in found
    assert "crown base" in measure_again(outcome_of([close]))["points"].iloc[0]
