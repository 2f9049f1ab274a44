"""The tab By plot: what stands on each plot, and each plot's trees side by side."""

from typing import Any

from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.summaries import by_plot
from xlhelpers.workbook.sheet_plan import Block, Column, FillFacts, TabPlan
from xlhelpers.workbook.tabs.crown_bars import plan_bars
from xlhelpers.workbook.tabs.places import first_and_count, place_column, plots_of_findings
from xlhelpers.workbook.tabs.summary_columns import (
    SETTLED_MEANS,
    mean_columns,
    settled_columns,
    totals,
)
from xlhelpers.workbook.tabs.trees import tree_rows
from xlhelpers.workbook.tabs.values import natural_order

_MEANS = {
    "height": ("Total height", "length"),
    "crown_depth": ("Crown depth", "length"),
    "live_crown_ratio": ("Live crown ratio", "percent"),
    "diameter": ("Diameter", "diameter"),
}
_SUMS = {
    "basal_area_sum": ("Basal area", "basal area"),
    "crown_area_sum": ("Crown area", "crown area"),
    "crown_volume_sum": ("Crown volume", "volume"),
}
_COUNTS = {
    "trees_counted": "Trees counted",
    "trees": "Trees keyed",
    "species": "Species",
    "dead": "Dead trees",
    "dead_tops": "Dead tops",
    "setups": "Set-ups",
}
_PLOT, _COUNTED, _SUMMED = "The plot", "Of the trees measured", "Sums"

COLUMNS: tuple[Column, ...] = (
    Column("plot", "Plot", "identifier", width=12, band=_PLOT),
    Column("stratum", "Stratum", "identifier", width=16, band=_PLOT),
    Column("status", "Status", "text", width=11, band=_PLOT),
    *(Column(k, label, quantity="count", width=8, band=_COUNTED) for k, label in _COUNTS.items()),
    Column("share", "Share of all trees", quantity="percent", width=8, band=_COUNTED),
    *(c for key, said in _MEANS.items() for c in mean_columns(key, *said)),
    *(
        Column(key, label, quantity=quantity, width=10, band=_SUMMED)
        for key, (label, quantity) in _SUMS.items()
    ),
    *settled_columns("Open findings"),
    place_column("first_tree", "First place in Trees"),
    place_column("listed_trees", "Rows in Trees"),
    place_column("first_finding", "First place in To check"),
    place_column("listed_findings", "Findings on the plot as a whole"),
)


def plan_by_plot(outcome: Outcome, facts: FillFacts) -> TabPlan:
    """Return the plan of the tab: the table, the charts, and the figures behind them."""
    rows = by_plot(outcome)
    rows = rows.iloc[natural_order(rows["plot"].tolist())].reset_index(drop=True)
    trees = tree_rows(outcome)
    rows["first_tree"], rows["listed_trees"] = first_and_count(rows["plot"], trees["plot"])
    found = [plot for plot in plots_of_findings(outcome) if plot is not None]
    rows["first_finding"], rows["listed_findings"] = first_and_count(rows["plot"], found)
    rows["plot"] = rows["plot"].where(rows["plot"] != "", "without a plot")
    total = totals(
        rows,
        [*(k for k in _COUNTS if k != "species"), "share", "open_trees", *_SUMS],
        [*_MEANS, *SETTLED_MEANS],
        {"plot": "All plots"},
    )
    units: Any = outcome.survey.units
    charts, figures = plan_bars(trees, units)
    return TabPlan(
        "by_plot",
        "By plot",
        "Of the trees measured, one row a plot: how many trees, how tall and how large they are, "
        "and how many rest on open findings.",
        (
            Block(
                "by_plot",
                COLUMNS,
                rows,
                total=total if len(rows) else None,
                if_empty="No plot is keyed yet.",
                filtered=True,
            ),
            charts,
            figures,
        ),
        remarks=(
            "SD: standard deviation between trees; n: trees that the mean rests on. Dead trees are "
            "counted but stay out of means and crown sums.",
        ),
        frozen_columns=1,
    )
