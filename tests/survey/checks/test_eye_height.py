"""The implied eye height against the person's own."""

import numpy as np

from tests.survey.checks.cases import Given, line, plot
from tests.survey.checks.support import findings_of, ids_of, only


def trees(plot_name: str, count: int, eye: float, factor: float = 1.0) -> list[Given]:
    """Trees seen from 17 to 25 m by an eye at this height; readings times a factor."""
    found = []
    for i in range(1, count + 1):
        distance = 17.0 + (i * 5) % 9
        readings = [factor * round(100 * (h - eye) / distance, 1) for h in (0.0, 6.0 + i, 15.0 + i)]
        named = dict(zip(("foot_reading", "base_reading", "tip_reading"), readings, strict=True))
        found.append(line(i, plot=plot_name, distance=distance, diameter=30.0 + 1.3 * i, **named))
    return found


def test_a_plot_on_the_wrong_scale_is_one_finding() -> None:
    # degrees keyed as percent make readings smaller by the ratio of the units
    lines = [*trees("1", 12, 1.6), *trees("2", 8, 1.6, factor=0.57)]
    given = {"lines": lines, "plots": [plot(), plot(plot="2")]}
    found = [f for f in findings_of(given) if f.check.startswith("eye-height")]
    assert [(f.check, f.subject) for f in found] == [("eye-height-plot", (("plot", "2"),))]
    assert found[0].lines == tuple(range(12, 20))


def test_the_own_median_goes_before_the_sheet() -> None:
    # 1.6 m on the people sheet; the person's own feet say 1.9 m, and one line 1.45 m
    lines = [*trees("1", 9, 1.9), line(10, foot_reading=-7.25, tip_reading=70.0)]
    assert "eye-height" not in ids_of({"lines": lines[:9]})
    message = only("eye-height", {"lines": [*lines[:9], lines[9] | {"foot_reading": -7.0}]}).message
    assert "eye height is usually 1.90 m" in message
    assert "eye-height" not in ids_of({"lines": lines})


def test_a_median_that_is_off_the_sheet_does_not_judge_the_right_lines() -> None:
    lines = [*trees("1", 6, 1.6), *trees("2", 12, 1.6, factor=0.57)]
    given = {"lines": lines, "plots": [plot(), plot(plot="2")]}
    assert only("eye-height-plot", given).subject == (("plot", "2"),)


def test_the_slope_of_the_plot_is_allowed_for() -> None:
    lines = [*trees("1", 8, 1.6), line(9, foot_reading=-20.0)]
    # 4.0 m against 1.6 m at 20 m: 2.4 m is more than 0.45 m and 0.09 x 20 m, not than 0.10 x 20 m
    assert "eye-height" in ids_of({"lines": lines, "plots": [plot(slope=0.09)]})
    assert "eye-height" not in ids_of({"lines": lines, "plots": [plot(slope=0.10)]})


def test_without_crew_the_plot_speaks_for_itself() -> None:
    lines = [*trees("1", 8, 1.6), line(9, foot_reading=-20.0)]
    finding = only("eye-height", {"lines": lines, "plots": [plot(crew=None)]})
    assert finding.lines == (8,)
    assert "The crew's eye height is usually" in finding.message


def test_rough_ground_widens_what_is_allowed() -> None:
    eyes = 1.6 + 0.6 * np.array([-1, 1, -0.9, 0.8, -1.1, 1.2, 0.7, -0.8, 0.9, -0.7])
    lines = [line(i, foot_reading=-5.0 * eye) for i, eye in enumerate(eyes, 1)]
    assert not {"eye-height", "eye-height-plot"} & set(ids_of({"lines": lines}))
