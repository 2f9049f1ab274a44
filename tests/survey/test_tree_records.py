"""What is written of trees beside their readings, and which trees are judged by their diameter."""

import numpy as np
import pytest

from tests.survey.checks.cases import PLACED, STATIONS, line, plot, rows, survey_of
from xlhelpers.survey.evaluate import evaluate
from xlhelpers.survey.measure_again import measure_again

# 5 m tall on a stem of 90 cm
LOW = {"diameter": 90.0, "distance": 15.0, "foot_reading": -10.5, "tip_reading": 23.0,
       "base_reading": 3.0, "width_widest": 3.0, "width_across": 2.8}  # fmt: skip


def doubted(**changes: object) -> bool:
    lines = [*rows("note", *[None] * 14)["lines"], line(30, **LOW, **changes)]
    return any(
        f.check == "unlikely-tree" and f.lines == (14,)
        for f in evaluate(survey_of({"lines": lines})).findings
    )


def test_a_low_tree_on_a_thick_stem_is_doubted_unless_a_reason_is_known() -> None:
    assert doubted()
    assert not doubted(condition="C")
    assert not doubted(diameter_at=0.3)


def test_the_first_set_up_that_has_it_counts() -> None:
    far = {"setup": 2, "distance": 25.0, "foot_reading": -6.4, "tip_reading": 77.6}
    lines = [
        line(latitude=51.2),
        line(**far, tag="7", latitude=51.21, longitude=7.1, diameter_at=1.3),
    ]
    tree = evaluate(survey_of({"lines": lines})).trees.iloc[0]
    assert tree["tag"] == "7"
    # latitude and longitude are of one line
    assert (tree["latitude"], tree["longitude"]) == (51.21, 7.1)
    assert np.isnan(tree["diameter_at"])


@pytest.mark.parametrize(
    ("area", "east", "found"),
    [
        # 100 m east at this latitude; five trees within 22 m of their middle
        (None, 0.00143, True),
        (None, 0.00060, False),
        # the edge of a plot of 1 ha is 56 m from its middle
        (10_000.0, 0.00143, False),
        (10_000.0, 0.00300, True),
    ],
)
def test_how_far_a_tree_may_be_from_its_plot(area: float | None, east: float, found: bool) -> None:
    lines = [*PLACED, line(9, latitude=51.2001, longitude=7.1 + east)]
    survey = survey_of({"lines": lines, "plots": [plot(area_inside=area)]})
    checks = [f.check for f in evaluate(survey).findings]
    assert ("position-off-plot" in checks) == found


def test_a_plot_across_the_date_line_is_in_one_place() -> None:
    lines = [line(i, latitude=-16.8, longitude=long) for i, long in enumerate(
        (179.9999, -179.9999, 179.9998, -179.9998, 180.0), 1)]  # fmt: skip
    checks = [f.check for f in evaluate(survey_of({"lines": lines})).findings]
    assert "position-off-plot" not in checks


def test_the_list_for_the_crew_names_the_tag() -> None:
    near = line(1, tag="A 17", **(STATIONS | {"second_tip_reading": 75.0}))
    places = measure_again(evaluate(survey_of({"lines": [near, line(2)]})))
    assert places["place"].tolist() == ["tag A 17"]
