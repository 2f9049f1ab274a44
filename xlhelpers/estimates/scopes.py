"""What is estimated together: the whole town, and each of its strata."""

from dataclasses import dataclass, replace

import numpy as np

from xlhelpers.estimates.design import Design
from xlhelpers.survey.plot_roles import PlotRoles
from xlhelpers.survey.strata import WHOLE, Strata
from xlhelpers.survey.typed.folding import Positions

TOWN, STRATUM = "town", "stratum"
NO_SIZE = (
    "The area is not stated. Enter it on Strata (one line is enough), or enter how many plots "
    "would fit."
)
NO_PLOT_AREAS = "There is no area to work with. Enter the area inside the town for each plot."
NO_PLOTS = "No plot was measured."


@dataclass(frozen=True)
class Scope:
    """Plots that are estimated together.

    `plots` are positions on the plots sheet in the order of the design. `land` is the area that
    totals are carried to (m2, NaN unknown). `no_value`, `no_total` and `no_density` say in words
    why there is no number of any kind, no total, nothing by area ("" where there is).
    """

    kind: str
    name: str
    design: Design
    plots: Positions
    land: float
    no_value: str = ""
    no_total: str = ""
    no_density: str = ""


def scopes(roles: PlotRoles, strata: Strata) -> list[Scope]:
    """Return the town and, where there are several, its strata."""
    table = strata.table
    everything = _scope(roles, strata, np.arange(len(table)))
    joined = replace(everything.design, joins_lonely=True)
    everything = replace(everything, kind=TOWN, name="", design=joined)
    if len(table) == 1:
        return [everything]
    parts = [_scope(roles, strata, np.array([at])) for at in range(len(table))]
    return [everything, *parts]


def _scope(roles: PlotRoles, strata: Strata, which: Positions) -> Scope:
    used = roles.used
    place = np.full(len(strata.table), -1, dtype=np.int64)
    place[which] = np.arange(len(which))
    code = place[roles.stratum_position[used]]
    plots, code = used[code >= 0], code[code >= 0]
    size = np.ones(len(plots))
    if strata.has_areas:
        size = roles.table["area"].to_numpy()[plots]
    total_size, fraction = strata.size[which], strata.table["fraction"].to_numpy()[which]
    sampled = np.bincount(code, size, minlength=len(which))
    # without a stated size a single stratum still gives means and values by area
    known = np.isfinite(total_size) & bool(len(plots))
    design = Design(
        code, size, np.where(known, total_size, sampled), fraction, is_census=roles.is_census
    )
    name = str(strata.table["stratum"].iloc[which[0]])
    scope = Scope(STRATUM, name, design, plots, _land(roles, strata, which, sampled))
    return _with_reasons(scope, strata, which, bool(known.all()))


def _land(roles: PlotRoles, strata: Strata, which: Positions, sampled: Positions) -> float:
    """Return the area that belongs to the totals, m2."""
    stated = strata.table["area"].to_numpy()[which]
    if roles.is_census:
        if np.isfinite(stated).all():
            return float(stated.sum())
        return float(sampled.sum()) if strata.has_areas else np.nan
    if not strata.has_areas:
        return float(stated.sum())
    size = strata.size[which]
    return float(np.where(np.isfinite(size), size, sampled).sum())


def _with_reasons(scope: Scope, strata: Strata, which: Positions, known: bool) -> Scope:
    table = strata.table.iloc[which]
    faults = [
        f"{'Stratum ' + name if name != WHOLE else 'The town'} {problem}."
        for name, problem in zip(table["stratum"], table["problem"], strict=True)
        if problem
    ]
    carried = known or strata.has_areas or scope.design.is_census
    no_density = "" if carried and scope.land > 0 else NO_PLOT_AREAS
    if len(scope.plots) == 0:
        return replace(scope, no_value=NO_PLOTS)
    if scope.design.is_census:
        return replace(scope, no_density=no_density)
    no_total = "" if known else NO_SIZE
    if len(which) == 1:
        return replace(scope, no_total=" ".join(faults) or no_total, no_density=no_density)
    # several strata are weighed by their sizes, so nothing can be said without them
    return replace(
        scope, no_value=" ".join(faults) or no_total, no_total=no_total, no_density=no_density
    )
