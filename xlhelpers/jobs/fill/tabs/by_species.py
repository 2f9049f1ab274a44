"""The tab By species: of the trees measured, the most common species first, with two charts."""

import numpy as np
import pandas as pd

from xlhelpers.fields.quantities import QUANTITIES
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
from xlhelpers.pages.plan import (
    Block,
    ChartGrid,
    ChartPlan,
    Column,
    FillFacts,
    Series,
    Span,
    TabPlan,
)
from xlhelpers.pages.survey_columns import take_quantities
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.summaries import BY_SPECIES, by_species

GREATEST_BARS = 25
GREATEST_HEIGHTS = 12
_MEANS = {
    "height": "Total height",
    "crown_depth": "Crown depth",
    "width": "Mean crown width",
    "diameter": "Diameter",
}
_COUNTED, _SUMMED = "Of the trees measured", "Sums"
ADDED = ("left_out",)
_COLUMNS = (
    Column("species", "Species", "text", width=28, band="The species"),
    Column("common", "Common name", "text", width=24, band="The species"),
    Column("kind", "Kind", "text", width=10, band="The species"),
    Column("trees", "Trees", width=7, band=_COUNTED),
    Column("share", "Share", width=7, band=_COUNTED),
    Column("plots", "On plots", width=7, band=_COUNTED),
    Column("dead", "Dead trees", width=7, band=_COUNTED),
    Column("cut_back", "Cut back", width=7, band=_COUNTED),
    *(c for key, label in _MEANS.items() for c in mean_columns(key, label)),
    *sum_columns(_SUMMED),
    *settled_columns("Open findings"),
)
COLUMNS = take_quantities(BY_SPECIES, _COLUMNS, ADDED)


def plan_by_species(outcome: Outcome, facts: FillFacts) -> TabPlan:
    """Return the plan of the tab."""
    rows = by_species(outcome)
    rows["species"] = rows["species"].where(rows["species"] != "", "without a species")
    rows["left_out"] = say_left_out(rows)
    total = totals(
        rows,
        ["trees", "dead", "cut_back", "open_trees", "share", *DOUBTS, *SUMS, *RARE],
        [*_MEANS, *SETTLED_MEANS],
        {"species": "All species", "left_out": say_all_left_out(rows)},
    )
    block = Block(
        "by_species",
        without_unused(COLUMNS, rows),
        rows,
        total=total if len(rows) else None,
        if_empty="No tree is entered yet.",
        filtered=True,
    )
    return TabPlan(
        "by_species",
        "By species",
        "The measured trees of each species, not all trees of the town: number and size, the most "
        "common first.",
        (block, *_charts(rows, outcome)),
        remarks=(*REMARKS, "A species that is not on the list has its own row, as typed."),
        frozen_columns=1,
    )


def _charts(rows: pd.DataFrame, outcome: Outcome) -> tuple[ChartGrid, ...]:
    if rows.empty:
        return ()
    bar_count, compared = min(len(rows), GREATEST_BARS), min(len(rows), GREATEST_HEIGHTS)
    height = max(320, 110 + 20 * max(bar_count, compared))
    return (
        ChartGrid(
            (_counts_chart(rows, bar_count), _heights_chart(rows, compared, outcome)),
            across=2,
            title="Charts",
            height=height,
        ),
    )


def _counts_chart(rows: pd.DataFrame, bar_count: int) -> ChartPlan:
    first = rows.iloc[0]
    name = str(first["species"])[:40]
    which = "" if bar_count == len(rows) else f", the {bar_count} most common of {len(rows)}"
    return ChartPlan(
        "xlh_chart_trees_by_species",
        "bars",
        f"Trees by species{which}",
        f"Bar chart of the trees measured by species{which}. Most common: {name}, "
        f"{first['trees']:.0f} of {rows['trees'].sum():.0f} trees.",
        "Species",
        "Trees measured",
        (
            Series(
                "Trees measured",
                Span("by_species", "species", 0, bar_count),
                Span("by_species", "trees", 0, bar_count),
            ),
        ),
    )


def _heights_chart(rows: pd.DataFrame, compared: int, outcome: Outcome) -> ChartPlan:
    length = QUANTITIES["length"]
    units = outcome.survey.units
    unit, factor = length.unit(units), length.factor(units)
    means = rows["height_mean"].head(compared).to_numpy(float) / factor
    means_text = "; ".join(
        f"{str(species)[:40]} {mean:.1f} {unit}"
        for species, mean in zip(rows["species"].head(compared), means, strict=True)
        if np.isfinite(mean)
    )
    return ChartPlan(
        "xlh_chart_heights_by_species",
        "bars",
        f"Mean total height of the {compared} most common species"
        if compared < len(rows)
        else "Mean total height by species",
        "Bar chart of mean total heights of living trees with error bars of one standard "
        f"deviation between trees, the most common species first: {means_text or 'no height yet'}.",
        "Species",
        f"Mean total height, living trees ({unit}); line: ± 1 SD",
        (
            Series(
                "Mean total height",
                Span("by_species", "species", 0, compared),
                Span("by_species", "height_mean", 0, compared),
                spread=Span("by_species", "height_sd", 0, compared),
            ),
        ),
        greatest=_axis_end(rows.head(compared), factor),
    )


def _axis_end(rows: pd.DataFrame, factor: float) -> float | None:
    """Return an end of the axis beyond the error bars, which no program sees to by itself."""
    ends = (rows["height_mean"] + rows["height_sd"].fillna(0)).to_numpy(float) / factor
    return None if np.isnan(ends).all() else float(np.ceil(np.nanmax(ends) / 5) * 5)
