"""The tab By plot: each plot in numbers, and its trees side by side."""

from collections.abc import Mapping
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.jobs.fill.tabs.places import first_and_count, place_column, plots_of_findings
from xlhelpers.jobs.fill.tabs.summary_columns import (
    DOUBTS,
    RARE,
    REMARKS,
    SETTLED_MEANS,
    SUMS,
    mean_columns,
    say_all_left_out,
    say_left_out,
    settled_columns,
    sum_columns,
    totals,
    without_unused,
)
from xlhelpers.jobs.fill.tabs.trees import tree_rows
from xlhelpers.pages.plan import (
    DOUBTFUL,
    Block,
    ChartGrid,
    ChartPlan,
    Column,
    FillFacts,
    Series,
    SeriesLook,
    Span,
    TabPlan,
)
from xlhelpers.pages.survey_columns import take_quantities
from xlhelpers.pages.values import clean_text, natural_order
from xlhelpers.survey.counted import NOUNS
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.summaries import BY_PLOT, by_plot

GREATEST_PLOTS = 60
GREATEST_TREES = 40
# a longer name of a plot is cut in titles
_LONGEST = 40
_SENTENCE = (
    "Each bar is a tree: below the crown, the living crown, a dead top above it. A ? after the "
    "number: an open finding. Trees without a height, or with an impossible one, are not drawn."
)
_NOTHING = "No tree has a height yet."
_Bars = Mapping[str, np.ndarray]
# column -> name in the legend, look; stacked in this order
LAYERS: dict[str, tuple[str, SeriesLook]] = {
    "stem": ("Below the crown", "stem"),
    "crown": ("Living crown", "crown"),
    "dead_top": ("Dead top", "dead top"),
    "dead_tree": ("Dead tree", "dead tree"),
    "height_only": ("Height only, no crown known", "height only"),
}


def bars_of(trees: pd.DataFrame) -> pd.DataFrame:
    """Return for each tree the layers of its bar, in metres; NaN where a layer is not there.

    `trees` are in plot and tree order. Trees without a total height are left out, since there is
    nothing to draw, and so are heights that count nowhere. A crown that does not lie between foot
    and tip, or counts nowhere, is not drawn as a crown.
    """
    left_out = trees["left_out"].to_numpy(object)
    has_height, has_crown = (
        np.array([noun not in text for text in left_out], dtype=bool)
        for noun in (NOUNS["height"], NOUNS["crown"])
    )
    total = np.where(has_height, trees["total_height"].to_numpy(float), np.nan)
    base = np.maximum(trees["crown_base"].to_numpy(float), 0.0)
    top = trees["crown_top"].to_numpy(float)
    dead = (trees["condition"] == "dead").to_numpy()
    crowned = (base < top) & (top <= total + 1e-9) & ~dead & has_crown
    dead_top = np.where(crowned & (top < total - 1e-9), total - top, np.nan)
    bars = pd.DataFrame(
        {
            "plot": trees["plot"].to_numpy(object),
            "tree": _labels(trees),
            "stem": np.where(crowned, base, np.nan),
            "crown": np.where(crowned, top - base, np.nan),
            "dead_top": dead_top,
            "dead_tree": np.where(dead, total, np.nan),
            "height_only": np.where(crowned | dead, np.nan, total),
            "total": total,
        }
    )
    return bars[total > 0].reset_index(drop=True)


def _labels(trees: pd.DataFrame) -> np.ndarray:
    doubtful = trees[DOUBTFUL].to_numpy(bool)
    numbers = trees["tree"].to_numpy(object)
    return np.where(doubtful, numbers + " ?", numbers)


def plan_bars(trees: pd.DataFrame, units: Units) -> tuple[ChartGrid, Block]:
    """Return the charts of the first plots, and the block of figures that they are drawn from.

    Parameters
    ----------
    trees : DataFrame
        The rows of the tab Trees, in its order.
    units : {"metric", "us"}
        The units of the axis.
    """
    bars = bars_of(trees)
    arrays = {key: bars[key].to_numpy() for key in bars.columns}
    numbers, names = pd.factorize(arrays["plot"])
    charts: list[ChartPlan] = []
    positions: list[np.ndarray] = []
    for at, name in enumerate(names[:GREATEST_PLOTS]):
        own = np.flatnonzero(numbers == at)
        positions.append(own[:GREATEST_TREES])
        title = f"Plot {clean_text(name)[:_LONGEST]}"
        first = sum(map(len, positions[:-1]))
        drawn = {key: column[positions[-1]] for key, column in arrays.items()}
        charts.append(_chart(title, at + 1, drawn, first, len(own), units))
    rows = bars.iloc[np.concatenate(positions)].reset_index(drop=True) if positions else bars
    number = len(names)
    which = "" if number <= GREATEST_PLOTS else f", the first {GREATEST_PLOTS} of {number:,} plots"
    grid = ChartGrid(
        tuple(charts),
        across=3,
        title=f"The trees of each plot, side by side{which}",
        sentence=_SENTENCE if charts else _NOTHING,
        height=330,
    )
    return grid, _figures(rows)


def _figures(rows: pd.DataFrame) -> Block:
    columns = (
        Column("plot", "Plot", "identifier"),
        Column("tree", "Tree", "text"),
        *(Column(key, name, quantity="length") for key, (name, _) in LAYERS.items()),
    )
    return Block(
        "bars",
        columns,
        rows,
        title="Figures behind the charts",
        sentence="The charts above show these cells. They are not printed.",
        if_empty=_NOTHING,
        printed=False,
    )


def _chart(
    title: str, number: int, drawn: _Bars, first: int, trees: int, units: Units
) -> ChartPlan:
    """Return the chart of a plot: the trees drawn, from the row `first` of the figures on."""
    count = len(drawn["tree"])
    labels = Span("bars", "tree", first, count)
    series = tuple(
        Series(name, labels, Span("bars", key, first, count), look)
        for key, (name, look) in LAYERS.items()
        if not np.isnan(drawn[key]).all()
    )
    some = "" if count == trees else f", first {count} of {trees} trees"
    unit = QUANTITIES["length"].unit(units)
    return ChartPlan(
        f"xlh_chart_plot_{number}",
        "stacked columns",
        f"{title}{some}",
        _description(title, drawn, units),
        "Tree",
        f"Height above the foot ({unit})",
        series,
    )


def _description(title: str, drawn: _Bars, units: Units) -> str:
    length = QUANTITIES["length"]
    unit, factor = length.unit(units), length.factor(units)
    tallest = int(drawn["total"].argmax())
    kinds = {
        "a living crown": "crown",
        "a dead top": "dead_top",
        "no living crown (dead)": "dead_tree",
        "a height only": "height_only",
    }
    counted = {what: int((~np.isnan(drawn[key])).sum()) for what, key in kinds.items()}
    drawn_kinds = ", ".join(f"{n} with {what}" for what, n in counted.items() if n)
    return (
        f"{title}: {len(drawn['tree'])} trees as bars ({drawn_kinds}). The tallest is tree "
        f"{drawn['tree'][tallest]} with {drawn['total'][tallest] / factor:.1f} {unit}."
    )


_MEANS = {
    "height": "Total height",
    "crown_depth": "Crown depth",
    "live_crown_ratio": "Live crown ratio",
    "diameter": "Diameter",
}
_COUNTS = {
    "trees_counted": "Trees counted",
    "trees": "Trees entered",
    "species": "Species",
    "dead": "Dead trees",
    "dead_tops": "Dead tops",
    "cut_back": "Cut back",
    "setups": "Set-ups",
}
_PLOT, _COUNTED, _SUMMED = "The plot", "Of the trees measured", "Sums"
# what the tab adds to the table of the plots
ADDED = ("left_out", "first_tree", "listed_trees", "first_finding", "listed_findings")
_COLUMNS = (
    Column("plot", "Plot", "identifier", width=12, band=_PLOT),
    Column("stratum", "Stratum", "identifier", width=16, band=_PLOT),
    Column("status", "Status", "text", width=11, band=_PLOT),
    *(Column(k, label, width=8, band=_COUNTED) for k, label in _COUNTS.items()),
    Column("share", "Share of trees", width=8, band=_COUNTED),
    *(c for key, label in _MEANS.items() for c in mean_columns(key, label)),
    *sum_columns(_SUMMED),
    *settled_columns("Open findings"),
    place_column("first_tree", "First place in Trees"),
    place_column("listed_trees", "Rows in Trees"),
    place_column("first_finding", "First place in To check"),
    place_column("listed_findings", "Findings on the plot as a whole"),
)
COLUMNS = take_quantities(BY_PLOT, _COLUMNS, ADDED)


def plan_by_plot(outcome: Outcome, facts: FillFacts) -> TabPlan:
    """Return the plan of the tab: the table, the charts, and the figures behind them."""
    rows = by_plot(outcome)
    rows = rows.iloc[natural_order(rows["plot"].tolist())].reset_index(drop=True)
    trees = tree_rows(outcome)
    rows["first_tree"], rows["listed_trees"] = first_and_count(rows["plot"], trees["plot"])
    plots = [plot for plot in plots_of_findings(outcome) if plot is not None]
    rows["first_finding"], rows["listed_findings"] = first_and_count(rows["plot"], plots)
    rows["plot"] = rows["plot"].where(rows["plot"] != "", "without a plot")
    rows["left_out"] = say_left_out(rows)
    total = totals(
        rows,
        [*(k for k in _COUNTS if k != "species"), "share", "open_trees", *DOUBTS, *SUMS, *RARE],
        [*_MEANS, *SETTLED_MEANS],
        {"plot": "All plots", "left_out": say_all_left_out(rows)},
    )
    units: Any = outcome.survey.units
    charts, figures = plan_bars(trees, units)
    return TabPlan(
        "by_plot",
        "By plot",
        "The measured trees of each plot: number, size, open findings.",
        (
            Block(
                "by_plot",
                without_unused(COLUMNS, rows),
                rows,
                total=total if len(rows) else None,
                if_empty="No plot is entered yet.",
                filtered=True,
            ),
            charts,
            figures,
        ),
        remarks=REMARKS,
        frozen_columns=1,
    )
