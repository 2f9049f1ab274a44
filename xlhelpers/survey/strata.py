"""The strata with their sizes and their plots, and what does not add up in them."""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.survey.columns import Column, Table
from xlhelpers.survey.model import Survey
from xlhelpers.survey.plot_roles import COUNTED_AS, EMPTY, MEASURED, PlotRoles
from xlhelpers.survey.setups.instruments import Texts, Values
from xlhelpers.survey.typed.folding import Positions

WHOLE = "the whole town"
# plots cut by the edge let a grid hold somewhat more plots than fit into the area
_FEWEST, _MOST = 0.8, 1.25
_ROUNDING = 1.001
# where plots differ in area, the mean of a few is allowed about t standard errors; their scatter is
# known badly, so it is taken to be no less than this part of the mean; common practice, no source
_LEAST_SCATTER, _STANDARD_ERRORS = 0.3, 2.0
STRATA = Table(
    (
        Column("stratum", "text", "Name, or the whole town."),
        Column("area", "number", "As stated.", "land area"),
        Column("plots_possible", "number", "As stated.", "count"),
        *(Column(word, "count", f"Plots that count as {word}.") for word in COUNTED_AS),
        Column("used", "count", "Plots with measured trees or without trees."),
        Column("area_sampled", "number", "Area walked of the used plots.", "land area"),
        Column("not_reached", "number", "Area of the used plots not walked.", "land area"),
        Column("fraction", "number", "Sampled share, 0 unknown.", "percent"),
        Column("problem", "text", "What does not add up."),
    )
)


@dataclass(frozen=True)
class Strata:
    """The strata of a survey.

    `table` has one row a stratum, with the columns STRATA. `size` is what totals are carried to:
    the area (m2), or the number of plots where plots have no areas; NaN unknown.
    """

    table: pd.DataFrame
    size: Values
    has_areas: bool


def strata_used(survey: Survey, roles: PlotRoles) -> Strata:
    """Gather the plots by stratum and look whether areas and numbers of plots agree."""
    names = survey.strata["stratum"].to_numpy(dtype=object)
    area, possible = (
        _positive_or_nan(survey.strata[c].to_numpy(dtype=float)) for c in ("area", "plots_possible")
    )
    if len(names) == 0:
        names, area, possible = (
            np.array([WHOLE], dtype=object),
            np.full(1, np.nan),
            np.full(1, np.nan),
        )
    names = np.where(names == "", WHOLE, names)
    table = pd.DataFrame({"stratum": names, "area": area, "plots_possible": possible})
    where, counted_as = roles.stratum_position, roles.table["counted_as"].to_numpy(dtype=object)
    for word in COUNTED_AS:
        at = where[(counted_as == word) & (where >= 0)]
        table[word] = np.bincount(at, minlength=len(names))
    table["used"] = table[MEASURED] + table[EMPTY]
    _add_areas(table, roles)
    size = _sizes(table, roles)
    table["fraction"] = _fractions(table, roles)
    table["problem"] = _problems(table, roles, survey.units)
    return Strata(table, size, roles.has_areas)


def area_words(area: float, units: Units) -> str:
    """Return an area of land in words: 12.50 ha, or acres."""
    quantity = QUANTITIES["stratum area"]
    return f"{area / quantity.factor(units):,.2f} {quantity.unit(units)}"


def _positive_or_nan(values: Values) -> Values:
    """Return the values with NaN for what is not above zero."""
    return np.where(values > 0, values, np.nan)


def _add_areas(table: pd.DataFrame, roles: PlotRoles) -> None:
    at, plots = roles.stratum_position[roles.used], roles.table.iloc[roles.used]
    walked, inside = plots["area"].to_numpy(), plots["area_inside"].to_numpy()
    rows = len(table)
    table["area_sampled"] = np.bincount(at, np.nan_to_num(walked), minlength=rows)
    lost = np.nan_to_num(np.maximum(inside - walked, 0.0))
    table["not_reached"] = np.bincount(at, lost, minlength=rows)


def _mean_inside(table: pd.DataFrame, roles: PlotRoles) -> Values:
    """Return the mean area inside the town of the used plots of each stratum, NaN unknown."""
    at = roles.stratum_position[roles.used]
    plots = roles.table.iloc[roles.used]
    inside = np.fmax(plots["area_inside"].to_numpy(), plots["area"].to_numpy())
    sums = np.bincount(at, inside, minlength=len(table))
    with np.errstate(all="ignore"):
        return np.asarray(sums / table["used"].to_numpy())


def _slack_of_mean(table: pd.DataFrame, roles: PlotRoles) -> Values:
    """Return how far the mean area of the used plots may be off by chance, as a part of it."""
    at, plots = roles.stratum_position[roles.used], roles.table.iloc[roles.used]
    inside = np.fmax(plots["area_inside"].to_numpy(), plots["area"].to_numpy())
    count = table["used"].to_numpy()
    mean = _mean_inside(table, roles)
    with np.errstate(all="ignore"):
        rest = np.bincount(at, (inside / mean[at] - 1) ** 2, minlength=len(table))
        scatter = np.sqrt(rest / (count - 1))
        scatter = np.where(scatter < 1 - 1 / _ROUNDING, 0.0, np.fmax(scatter, _LEAST_SCATTER))
        errors = _STANDARD_ERRORS + 10 / np.maximum(count - 1, 1) ** 2
        return np.asarray(np.where(scatter > 0, errors * scatter / np.sqrt(count), 0.0))


def _sizes(table: pd.DataFrame, roles: PlotRoles) -> Values:
    area, possible = table["area"].to_numpy(), table["plots_possible"].to_numpy()
    if not roles.has_areas:
        return np.asarray(area if roles.is_census else possible)
    return np.asarray(np.where(np.isnan(area), possible * _mean_inside(table, roles), area))


def _fractions(table: pd.DataFrame, roles: PlotRoles) -> Values:
    by_count = table["used"].to_numpy() / table["plots_possible"].to_numpy()
    by_area = table["area_sampled"].to_numpy() / table["area"].to_numpy()
    by_area = by_area if roles.has_areas else np.full(len(table), np.nan)
    fraction = np.where(np.isnan(by_count), by_area, by_count)
    return np.asarray(np.clip(np.nan_to_num(fraction), 0.0, 1.0))


def _problems(table: pd.DataFrame, roles: PlotRoles, units: Units) -> Texts:
    problems = np.full(len(table), "", dtype=object)
    if roles.is_census:
        return problems
    usual: Values | Positions = np.full(len(table), np.nan)
    slack = np.zeros(len(table))
    if roles.has_areas:
        usual, slack = _mean_inside(table, roles), _slack_of_mean(table, roles)
    for at, row in enumerate(table.to_dict("records")):
        area, possible = row["area"], row["plots_possible"]
        share = possible * usual[at] / area
        if row["used"] == 0:
            problems[at] = "has no measured plot"
        elif row["area_sampled"] > area * _ROUNDING and roles.has_areas:
            problems[at] = (
                f"has a stated area of {area_words(area, units)}, but its plots alone have "
                f"{area_words(row['area_sampled'], units)}"
            )
        elif row["used"] > possible:
            problems[at] = (
                f"has {row['used']} measured plots, but only {possible:.0f} would fit as stated"
            )
        elif share * (1 + slack[at]) < _FEWEST or share / (1 + slack[at]) > _MOST:
            problems[at] = (
                f"has a stated area of {area_words(area, units)}, but the {possible:,.0f} plots "
                f"that would fit have {area_words(possible * usual[at], units)}"
            )
    return problems
