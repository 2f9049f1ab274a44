"""Areas of plots that no plot can have: a number in another unit than the column's."""

import numpy as np

from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.survey.checks.facts import Facts, spread
from xlhelpers.survey.checks.record import COMMON_PRACTICE, Check, Hits
from xlhelpers.survey.sampling.plots_used import CENSUS_KIND, LEAST_AREA, strata_of
from xlhelpers.survey.sampling.strata_used import area_words

_AREAS = ("area_inside", "area_reached")
_ROUNDING = 1.001
_LARGER_UNIT: dict[Units, str] = {"metric": "hectares", "us": "acres"}


def plot_area_impossible(facts: Facts) -> Hits:
    """Plots of a few square metres (where plots are a sample), or larger than their stratum.

    An area of 0 says that nothing was reached. The first of the two areas that fails is told.
    """
    areas = np.column_stack([facts.column("plots", name).astype(float) for name in _AREAS])
    stratum = facts.column("strata", "area").astype(float)
    room = spread(np.where(stratum > 0, stratum, np.nan), strata_of(facts.survey), np.nan)
    room = room.astype(float)
    small = (areas > 0) & (areas < LEAST_AREA) & (facts.rule("survey_kind") != CENSUS_KIND)
    wrong = small | (areas > room[:, None] * _ROUNDING)
    rows = np.flatnonzero(wrong.any(axis=1))
    which = wrong[rows].argmax(axis=1)
    units: Units = "us" if facts.survey.units == "us" else "metric"
    fields = [(f"plot.{_AREAS[at]}", f"plot.{_AREAS[1 - at]}") for at in which]
    return Hits(
        rows,
        {
            "stated": [_stated(float(areas[row, at]), units)
                       for row, at in zip(rows, which, strict=True)],
            "why": [
                f"too small for a plot: {_LARGER_UNIT[units]} typed?" if small[row, at]
                else f"more than its whole stratum, {area_words(float(room[row]), units)}."
                for row, at in zip(rows, which, strict=True)
            ],
        },
        fields=fields,
    )  # fmt: skip


def _stated(area: float, units: Units) -> str:
    quantity = QUANTITIES["land area"]
    return f"{area / quantity.factor(units):,.10g} {quantity.unit(units)}"


AREAS: tuple[Check, ...] = (
    Check(
        "plot-area-impossible", "error", "paper", "plots",
        ("plot.area_inside", "plot.area_reached"),
        "The area of this plot is stated as {stated}, {why}",
        "Look at the plot's sheet and type its area in the unit of the column's heading; see that "
        "the area on the sheet Strata is right as well. All totals rest on these areas.",
        COMMON_PRACTICE, plot_area_impossible,
    ),
)  # fmt: skip
