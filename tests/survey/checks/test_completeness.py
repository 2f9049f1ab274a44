"""One finding a cause: what is missing is said once, and what is explained not at all."""

import pytest

from tests.survey.checks.cases import (
    NOTHING_READ,
    REFUSED_CELL,
    WITH_LASER,
    Given,
    line,
    on,
    one,
    plot,
)
from tests.survey.checks.support import findings_of, ids_of, only


@pytest.mark.parametrize(
    "given",
    [
        one(condition="D", base_reading=None, width_widest=None, width_across=None),
        one(**NOTHING_READ) | {"rules": {"heights_on": "some trees"}},
        one(**NOTHING_READ, missing_because="no access: locked gate"),
        {"lines": [line(), line(setup=2, species=None, diameter=None, width_widest=None,
                                width_across=None, distance=25.0, foot_reading=-6.5,
                                base_reading=17.5, tip_reading=77.5)]},
        on(line(distance=None, foot_reading=None, base_reading=6.0, tip_reading=21.0),
           instrument="L1", scale="height", distance_kind="none") | WITH_LASER,
        one(foot_reading=None, missing_because="EYE HEIGHT"),
    ],
    ids=["dead", "some trees", "reason", "further set-up", "height display", "eye height"],
)  # fmt: skip
def test_what_is_not_needed_is_not_missing(given: Given) -> None:
    assert {i for i in ids_of(given) if i != "closed-blanks"} == set()


@pytest.mark.parametrize(
    "name",
    ["plot", "tree", "species", "diameter", "distance", "foot_reading", "base_reading",
     "tip_reading", "condition"],
)  # fmt: skip
def test_a_refused_cell_is_not_missing_too(name: str) -> None:
    given = one(**{name: REFUSED_CELL})
    assert ids_of(given | {"plots": [plot()]} if name != "plot" else given | {"plots": []}) == []


@pytest.mark.parametrize(
    ("given", "expected"),
    [
        (one(**NOTHING_READ), ["no-readings"]),
        (one(distance=None), ["distance-blank"]),
        (on(instrument="C9", scale=None), ["plot-instrument-unknown"]),
        (on(instrument=None, scale=None), ["plot-instrument-blank"]),
        (on(scale=None), ["plot-scale-blank"]),
        (one(instrument="C9", scale=None), ["line-instrument-unknown"]),
        (one(distance_kind="along slope"), ["slope-reading-blank"]),
        (one(distance=0.0), ["distance-zero"]),
    ],
)
def test_one_cause_one_finding(given: Given, expected: list[str]) -> None:
    assert ids_of(given) == expected


def test_a_scale_missing_on_the_plot_touches_its_lines_but_those_with_their_own() -> None:
    finding = only("plot-scale-blank", on(line(1), line(2), line(3, scale="percent"), scale=None))
    assert (finding.lines, finding.plots) == ((0, 1), (0,))
    assert finding.message == "The scale is missing, so there is no height on 2 lines."


def test_no_height_says_why() -> None:
    finding = only("no-height", one(scale="degrees"))
    assert finding.message == "There are readings, but no height: an angle is too steep."


def test_a_missing_cell_is_pointed_at() -> None:
    (finding,) = findings_of({"lines": [line(), line(2, diameter=None, tip_reading=80.0)]})
    assert (finding.sheet, finding.row, finding.column) == ("Field sheet", 7, 6)
    assert finding.subject == (("plot", "1"), ("tree", "2"), ("set-up", "1"))
    assert finding.message == "The diameter is missing."
