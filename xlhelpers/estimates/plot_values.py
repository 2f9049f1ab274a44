"""What stands on each plot per unit of area: living trees, their basal area, their crowns.

The whole crown belongs to the plot of its stem. A tree without a diameter or a width is taken to
be like the others of its plot; how many those are is kept beside the value.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from xlhelpers.estimates.quantities import HECTARE_M2
from xlhelpers.fields.quantities import ACRE_M2, QUANTITIES, Units
from xlhelpers.survey.columns import Column, Table, table_of
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.plot_roles import OUTSIDE, plot_roles
from xlhelpers.survey.typed.folding import fold_column
from xlhelpers.survey.typed.words import identifier_key

Numbers = NDArray[np.float64]


@dataclass(frozen=True)
class Measure:
    """One value per unit of area; `column` is that of the trees, "" where trees are counted.

    Inside the program it is per square metre. `quantity` names the unit of the sum in
    `fields.quantities`; `needs` says what a tree must have.
    """

    key: str
    label: str
    column: str = ""
    quantity: str = "count"
    needs: str = ""
    dead: bool = False

    def find_unit_per_area(self, units: Units, has_areas: bool = True) -> tuple[str, float]:
        """Return the unit shown per area, and its factor to the inner unit; else that of a plot."""
        unit, factor = self.total_shown(units)
        per, land = ("ha", HECTARE_M2) if units == "metric" else ("acre", ACRE_M2)
        if not has_areas:
            per, land = "plot", 1.0
        return f"{unit} per {per}".strip(), factor / land

    def total_shown(self, units: Units) -> tuple[str, float]:
        """Return the unit shown of a total, and its factor to the inner unit."""
        quantity = QUANTITIES[self.quantity]
        return quantity.unit(units), quantity.factor(units)


MEASURES: tuple[Measure, ...] = (
    Measure("trees", "Living trees"),
    Measure("basal-area", "Basal area, living trees", "basal_area", "basal area", "a diameter"),
    Measure("crown-area", "Crown area", "projection_area", "crown area", "a crown width"),
)
DEAD = Measure("dead", "Dead trees standing", dead=True)
PLOT_VALUES = Table(
    (
        Column("plot", "text", "As entered."),
        Column("key", "text", "Its name in the form in which names are compared."),
        Column("stratum", "text", "As entered."),
        Column("where", "position", "Row of its stratum on Strata; 0 without strata."),
        Column("date", "date", "As entered."),
        Column("area", "number", "Area walked, 1 where plots have no areas.", "land area"),
        Column("because", "text", "Why its values do not count."),
        Column("outside", "flag", "Not in the town."),
        Column("seen", "flag", "Its trees were measured, or it has none."),
        *(
            column
            for measure in (*MEASURES, DEAD)
            for column in (
                Column(measure.key, "number", f"{measure.label} per unit of area."),
                Column(f"{measure.key}_lacking", "number", "Trees without the value.", "count"),
                Column(f"{measure.key}_left_out", "count", "Of these, left out: cannot be right."),
            )
        ),
    )
)


@dataclass(frozen=True)
class PlotValues:
    """Plots and what stands on them per unit of area, or a plot where plots have no areas.

    `table` has one row a plot of the plots sheet, with the columns PLOT_VALUES.
    """

    table: pd.DataFrame
    has_areas: bool

    def left_out(self) -> list[str]:
        """Return in words which plots do not count and why, a sentence a reason."""
        out = self.table[(self.table["because"] != "") & ~self.table["outside"]]
        return [
            f"Not used: plot {_list_names([str(name) or '(blank)' for name in plots])} ({reason})."
            for reason, plots in out.groupby("because", sort=False)["plot"]
        ]


def plot_values(outcome: Outcome, smallest_diameter: float = 0.0) -> PlotValues:
    """Return what stands on each plot of a survey.

    Parameters
    ----------
    outcome : Outcome
        The survey as computed.
    smallest_diameter : float
        Thinner trees are left out [cm]; those without a diameter stay.
    """
    plots, trees = outcome.survey.plots, outcome.counted.trees
    roles = plot_roles(outcome.survey, trees)
    count = len(plots)
    counts = np.zeros(count, dtype=bool)
    counts[roles.used] = True
    area = roles.table["area"].to_numpy(float) if roles.has_areas else np.ones(count)
    row = trees["plot_position"].to_numpy()
    known = (row >= 0) & ~(trees["diameter"].to_numpy(float) < smallest_diameter)
    columns = {
        "plot": plots["plot"].to_numpy(object),
        "key": fold_column(plots["plot"], identifier_key),
        "stratum": plots["stratum"].to_numpy(object),
        "where": roles.stratum_position,
        "date": plots["date"].to_numpy(),
        "area": area,
        "because": np.where(counts, "", roles.table["because"].to_numpy(object)),
        "outside": (roles.table["counted_as"] == OUTSIDE).to_numpy(),
    }
    keyed = np.bincount(row[row >= 0], minlength=count) > 0
    columns["seen"] = counts | (keyed & (plots["status"] == "measured").to_numpy())
    dead = (trees["condition"] == "D").to_numpy()
    for measure in (*MEASURES, DEAD):
        here = known & (dead if measure.dead else ~dead)
        value, lacking = _sum(measure, trees[here], row[here], count)
        with np.errstate(all="ignore"):
            columns[measure.key] = np.where(counts, value / area, np.nan)
        columns[f"{measure.key}_lacking"] = lacking
        gone = here & outcome.counted.lacks_column(measure.column)
        columns[f"{measure.key}_left_out"] = np.bincount(row[gone], minlength=count)
    return PlotValues(table_of(PLOT_VALUES, columns), roles.has_areas)


def _sum(
    measure: Measure, trees: pd.DataFrame, row: NDArray[np.int64], count: int
) -> tuple[Numbers, Numbers]:
    """Return the sum on each plot, trees without the value like the others, and how many those."""
    of = np.bincount(row, minlength=count).astype(float)
    if not measure.column:
        return of, np.zeros(count)
    values = trees[measure.column].to_numpy(float)
    has = np.isfinite(values)
    total = np.bincount(row[has], values[has], minlength=count)
    number = np.bincount(row[has], minlength=count)
    with np.errstate(all="ignore"):
        raised = np.where(of == 0, 0.0, total * of / number)
    return np.where((of > 0) & (number == 0), np.nan, raised), of - number


def _list_names(names: list[str]) -> str:
    return ", ".join(names[:8]) + (f" and {len(names) - 8} more" if len(names) > 8 else "")
