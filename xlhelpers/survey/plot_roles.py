"""Which plots of a survey speak for the town, which are missing, and which do not belong to it.

- Measured plots and plots without trees are counted, the latter as zero.
- Plots that were refused, not safe, left for later, or not keyed yet belong to the sample and are
  missing: the estimates take them to be like the other plots of their stratum, and say so.
- Plots outside the town were never part of it.
- Left out are plots that cannot be placed: without a number, listed twice, of a stratum that is
  not on the sheet, of an area that no plot has (hectares typed for square metres), or measured
  without an area where the other plots have one (a street).
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from xlhelpers.survey.columns import Column, Table, table_of
from xlhelpers.survey.model import Survey
from xlhelpers.survey.setups.instruments import Texts, Values
from xlhelpers.survey.typed.folding import Flags, Positions, codes_of, fold_column, positions_in
from xlhelpers.survey.typed.words import identifier_key

COUNTED_AS = ("measured", "no trees", "missing", "outside", "left out")
MEASURED, EMPTY, MISSING, OUTSIDE, LEFT_OUT = COUNTED_AS
UNREACHED_STATUS = ("refused", "not safe", "later")
CENSUS_KIND = "every tree"
# no plot is smaller, m2: a number below is one in hectares or acres
LEAST_AREA = 10.0
PLOT_ROLES = Table(
    (
        Column("plot", "text", "As entered."),
        Column("stratum", "text", "As entered."),
        Column("status", "text", "As entered."),
        Column("counted_as", "text", "One of COUNTED_AS."),
        Column("because", "text", "Why it does not count."),
        Column("area_inside", "number", "Inside the town.", "land area"),
        Column("area", "number", "Area walked, inside the town.", "land area"),
        Column("trees", "count", "Trees entered."),
        Column("trees_counted", "number", "Trees that the crew counted.", "count"),
    )
)


@dataclass(frozen=True)
class PlotRoles:
    """Every plot of the plots sheet and what it is counted as.

    `table` has the columns PLOT_ROLES. `stratum_position` is the row of the strata sheet (0 for
    all in a survey without strata, -1 unknown).
    """

    table: pd.DataFrame
    stratum_position: Positions
    has_areas: bool
    is_census: bool

    @property
    def used(self) -> Positions:
        """Return the positions of the plots that are counted."""
        return np.flatnonzero(self.table["counted_as"].isin((MEASURED, EMPTY)).to_numpy())


def plot_roles(survey: Survey, trees: pd.DataFrame) -> PlotRoles:
    """Decide what each plot is counted as.

    Parameters
    ----------
    survey : Survey
        The keyed tables.
    trees : DataFrame
        As `build_trees` gives them for this survey.
    """
    plots = survey.plots
    is_census = survey.rules["survey_kind"] == CENSUS_KIND
    at = trees["plot_position"].to_numpy()
    keyed = np.bincount(at[at >= 0], minlength=len(plots))
    counted_as, because = _by_status(plots, keyed)
    where = strata_of(survey)
    _leave_out(counted_as, because, where < 0, "its part of the town is not on Strata")
    area, has_areas = _areas(plots, counted_as, because, is_census)
    columns = {
        **{name: plots[name].to_numpy(dtype=object) for name in ("plot", "stratum", "status")},
        **{name: plots[name].to_numpy(dtype=float) for name in ("area_inside", "trees_counted")},
        "counted_as": counted_as,
        "because": because,
        "area": area,
        "trees": keyed,
    }
    return PlotRoles(table_of(PLOT_ROLES, columns), where, has_areas, is_census)


def _by_status(plots: pd.DataFrame, keyed: Positions) -> tuple[Texts, Texts]:
    status = plots["status"].to_numpy(dtype=object)
    empty = (keyed == 0) & ((status == "no trees") | (plots["trees_counted"].to_numpy() == 0))
    counted_as = np.where(keyed > 0, MEASURED, np.where(empty, EMPTY, MISSING)).astype(object)
    because = np.where(counted_as == MISSING, "none of its trees is entered", "").astype(object)
    unreached = np.isin(status.astype(str), UNREACHED_STATUS)
    counted_as[unreached], because[unreached] = MISSING, status[unreached]
    outside = status == "outside"
    counted_as[outside], because[outside] = OUTSIDE, "outside the town"
    code = codes_of(fold_column(plots["plot"], identifier_key))
    again = np.ones(len(plots), dtype=bool)
    again[np.unique(code, return_index=True)[1]] = False
    _leave_out(counted_as, because, again, "listed twice")
    nameless = np.array([not str(name).strip() for name in plots["plot"]], dtype=bool)
    _leave_out(counted_as, because, nameless, "it has no number")
    return counted_as, because


def _leave_out(counted_as: Texts, because: Texts, which: Flags, why: str) -> None:
    which = which & (counted_as != OUTSIDE)
    counted_as[which], because[which] = LEFT_OUT, why


def strata_of(survey: Survey) -> Positions:
    """Return the row of the strata sheet of each plot; a blank belongs to the only stratum."""
    strata, wanted = survey.strata["stratum"], survey.plots["stratum"]
    if len(strata) == 0:
        return np.zeros(len(wanted), dtype=np.int64)
    rows = positions_in(wanted, strata, identifier_key)
    if len(strata) == 1:
        rows[(wanted.to_numpy(dtype=object) == "")] = 0
    return rows


def _areas(
    plots: pd.DataFrame, counted_as: Texts, because: Texts, is_census: bool
) -> tuple[Values, bool]:
    """Return the area of each plot that was walked, and whether plots have areas at all."""
    inside = plots["area_inside"].to_numpy(dtype=float)
    # what was reached lies inside the town; the smaller of the two was measured for certain
    area = np.fmin(plots["area_reached"].to_numpy(dtype=float), inside)
    used = np.isin(counted_as.astype(str), (MEASURED, EMPTY))
    tiny = used & (area > 0) & (area < LEAST_AREA)
    if not is_census and tiny.any():
        _leave_out(
            counted_as,
            because,
            tiny,
            "its area is too small for a plot: were hectares or acres typed?",
        )
        area[tiny] = np.nan
        used &= ~tiny
    known = area[used & (area > 0)]
    if is_census or len(known) == 0:
        return area, bool(len(known)) and not np.isnan(area[used]).any()
    nothing = used & (area == 0)
    counted_as[nothing], because[nothing] = MISSING, "no part of it was walked"
    missing = np.isnan(area)
    _leave_out(counted_as, because, missing & (counted_as == MEASURED), "its area is missing")
    # an empty plot must not drop out: without it the town would seem fuller
    area[missing & (counted_as == EMPTY)] = float(np.median(known))
    return area, True
