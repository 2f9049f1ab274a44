"""Areas of plots in the wrong unit."""

import dataclasses

import pytest

from tests.survey.checks.cases import on, survey_of
from tests.survey.checks.support import ids_of, only
from xlhelpers.survey.checks.counts import plot_area_impossible
from xlhelpers.survey.checks.facts import Facts
from xlhelpers.survey.setups.setups import compute_setups
from xlhelpers.survey.trees.trees import build_trees

NORTH = {"strata": [{"stratum": "North", "area": 20_000.0}]}
ID = "plot-area-impossible"


def test_hectares_in_the_box_of_square_metres() -> None:
    finding = only(ID, on(area_inside=0.04, area_reached=0.04))
    assert finding.message == (
        "The plot area is 0.04 m². That is too small for a plot. Was it typed in hectares?"
    )
    assert finding.fields[0] == "area_inside"
    # no height rests on the area
    assert (finding.lines, finding.plots) == ((), (0,))


def test_acres_in_the_box_of_square_feet() -> None:
    survey = survey_of(on(area_inside=0.1 * 0.3048**2))
    survey = dataclasses.replace(survey, rules={**survey.rules, "units": "us"})
    assert survey.units == "us"
    setups = compute_setups(survey)
    hits = plot_area_impossible(Facts(survey, setups, build_trees(survey, setups)))
    assert list(hits.values["typed"]) == ["0.1 ft²"]
    assert list(hits.values["why"]) == ["That is too small for a plot. Was it typed in acres?"]


def test_a_plot_larger_than_its_stratum() -> None:
    finding = only(ID, on(area_inside=400.0, area_reached=40_000.0, stratum="north") | NORTH)
    assert finding.message == (
        "The plot area is 40,000 m². That is more than the whole stratum, 2.00 ha."
    )
    assert finding.fields[0] == "area_reached"


@pytest.mark.parametrize(
    "given",
    [
        on(area_inside=20_000.0, stratum="North") | NORTH,
        on(area_inside=10.0),
        on(area_inside=400.0, area_reached=0.0),
        on(area_inside=40_000.0, stratum="North") | {"strata": [{"stratum": "North"}]},
        # in a survey of every tree a small piece of land is no plot of a sample
        on(area_inside=5.0) | {"rules": {"survey_kind": "every tree"}},
    ],
)
def test_areas_that_can_be(given: dict[str, object]) -> None:
    assert ID not in ids_of(given)
