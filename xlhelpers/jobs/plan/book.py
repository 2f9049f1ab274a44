"""The workbook of a plan: the answer in words, plots by stratum, a curve, and the draw."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.fields.quantities import ACRE_M2, Units
from xlhelpers.jobs.plan.allocation import WAY_WORDS, WAYS
from xlhelpers.jobs.plan.draw import Corrected, on_slope
from xlhelpers.jobs.plan.make_plan import Plan, Wanted
from xlhelpers.jobs.plan.tables import Places
from xlhelpers.jobs.plan.words import HOW, is_costed, percent, sentences
from xlhelpers.pages.plan import (
    Block,
    ChartGrid,
    ChartPlan,
    Column,
    Look,
    PointLook,
    TabPlan,
    points,
)
from xlhelpers.pages.render import how_tab, render_book
from xlhelpers.wording import plural

_PLAIN = re.compile(r"-?[0-9]{1,12}(?:\.[0-9]+)?")
_SLOPES = np.arange(0, 1.01, 0.1)


@dataclass(frozen=True)
class Selection:
    """The selection: from which list, the seed, and the places (as `draw_places` gives them)."""

    places: Places
    seed: int
    rows: pd.DataFrame
    left_out: int = 0


@dataclass(frozen=True)
class PlanBook:
    """All that the workbook of a plan shows.

    `subject` is what was planned for; `unit` and `factor` those of its means, "" where only a
    variation was given. `measures` has a row a measure of the pilot: `label`, `unit`, `mean`,
    `variation`, `now` (margin of the pilot), `plots` (NaN where none), `said`. `radius` is the
    area (m2) of a round plot and what is corrected on slopes.
    """

    plan: Plan
    source: str
    subject: str
    units: Units
    unit: str = ""
    factor: float = 1.0
    remarks: tuple[str, ...] = ()
    looks: tuple[str, ...] = ()
    measures: pd.DataFrame | None = None
    drawn: Selection | None = None
    radius: tuple[float, Corrected] | None = None


def render_plan(book: PlanBook) -> bytes:
    """Return the plan as a workbook of its own."""
    tabs = [_plan_tab(book), _curve_tab(book)]
    if book.measures is not None:
        tabs.append(_measures_tab(book.measures, book.plan.wanted))
    if book.drawn is not None:
        tabs.append(_selection_tab(book.drawn))
    if book.radius is not None:
        tabs.append(_radius_tab(*book.radius, book.units))
    return render_book([*tabs, how_tab("plan_how", HOW), _chart_data(book)], book.units)


def _plan_tab(book: PlanBook) -> TabPlan:
    answer, *more = sentences(book.plan, book.subject)
    return TabPlan(
        "plan",
        "What to sample",
        answer,
        (_strata_block(book), ChartGrid((_chart(book),))),
        (
            *more,
            f"Based on {book.source}. The margin is half the distance between the two ends of the "
            "interval, in % of the figure. The upper end is the farther one.",
            *book.remarks,
            *(f"Check: {look}" for look in book.looks),
        ),
        frozen_headings=False,
        name="Plan",
    )


def _strata_block(book: PlanBook) -> Block:
    columns, wanted = _strata_columns(book), book.plan.wanted
    sentence = ""
    if len(book.plan.figures.names) > 1:
        sentence = (
            "Each column of plots keeps the margin. They differ in how the plots are divided among "
            f"the strata. Planned: {WAY_WORDS[wanted.way]}."
        )
    return Block(
        "strata",
        columns,
        _strata_rows(book)[[column.key for column in columns]],
        title=f"Plots needed for a margin of {percent(wanted.margin)}",
        sentence=sentence,
    )


def _strata_rows(book: PlanBook) -> pd.DataFrame:
    """Return a row a stratum, and one of all where there are several."""
    plan, figures = book.plan, book.plan.figures
    count = len(figures.names)
    with np.errstate(all="ignore"):
        columns: dict[str, Any] = {
            "stratum": list(figures.names),
            "share": figures.weights,
            "possible": np.where(np.isinf(figures.possible), np.nan, figures.possible),
            "measured": _floats(plan.measured, count),
            "mean": figures.means / book.factor,
            "sd": figures.deviations / book.factor,
            "variation": figures.deviations / figures.means,
            "cost": figures.costs,
            **{way: _floats(plan.needed[way], count) for way in WAYS},
        }
    columns["more"] = np.maximum(columns[plan.wanted.way] - columns["measured"], 0.0)
    rows = pd.DataFrame(columns)
    if count == 1:
        return rows
    summed = ("share", "possible", "measured", "more", *WAYS)
    whole: dict[str, Any] = {key: rows[key].sum(min_count=count) for key in summed}
    whole |= {
        "stratum": "all strata",
        "mean": figures.mean / book.factor,
        "variation": plan.variation,
    }
    return pd.concat([rows, pd.DataFrame([whole])], ignore_index=True)


def _strata_columns(book: PlanBook) -> tuple[Column, ...]:
    plan, unit = book.plan, book.unit
    costed, has_pilot = is_costed(plan), plan.measured is not None
    alone = len(plan.figures.names) == 1
    columns = [
        Column("stratum", "Stratum", "text", width=24),
        Column("share", "Share of the town", "number", "percent", width=10),
        Column("possible", "Plots that would fit", "number", "count", width=10),
    ]
    if has_pilot:
        columns.append(Column("measured", "Pilot plots", "number", "count", width=10))
    if unit:
        columns += [
            Column("mean", "Mean", unit=unit, width=12, more_decimals=1),
            Column("sd", "Standard deviation of plots", unit=unit, width=12, more_decimals=1),
        ]
    columns.append(Column("variation", "Variation of plots", "number", "percent", width=11))
    if costed:
        columns.append(Column("cost", "Cost of a plot", width=9, more_decimals=2))
    for way in WAYS:
        is_planned = way == plan.wanted.way
        if is_planned or (not alone and (way != "costs" or costed)):
            label = WAY_WORDS[way].capitalize() + (" (planned)" if is_planned else "")
            label = "Plots needed" if alone else label
            columns.append(Column(way, label, "number", "count", width=13))
    if has_pilot:
        columns.append(Column("more", "Still to measure", "number", "count", width=10))
    return tuple(columns)


def _floats(counts: np.ndarray | None, count: int) -> np.ndarray:
    return np.full(count, np.nan) if counts is None else counts.astype(float)


def _measures_tab(measures: pd.DataFrame, wanted: Wanted) -> TabPlan:
    columns = (
        Column("label", "What", "text", width=18),
        Column("mean", "Mean", "number", width=10, more_decimals=1),
        Column("unit", "Unit", "text", width=12),
        Column("variation", "Variation of plots", "number", "percent", width=11),
        Column("now", "Pilot margin", "number", "percent", width=11, more_decimals=1),
        Column("plots", "Plots needed", "number", "count", width=10),
        Column("said", "Remark", "wrapped", width=60),
    )
    return TabPlan(
        "plan_values",
        "The same margin for other figures of the town",
        f"Plots needed for a margin of {percent(wanted.margin)} of each, divided "
        f"{WAY_WORDS[wanted.way]}. One survey serves them all: the figure that needs most plots "
        "decides.",
        (Block("measures", columns, measures),),
        ("Living trees only. Crown area is the sum of the crowns. Overlaps count twice.",),
        name="Other values",
    )


def _curve_tab(book: PlanBook) -> TabPlan:
    plan = book.plan
    per_day = plan.wanted.plots_a_day
    step = f"One more day ({plural(per_day, 'plot')})" if per_day else "One more plot"
    columns = [Column("plots", "Plots", "number", "count", width=20)]
    if per_day:
        columns.append(Column("days", "Days", "number", width=20, more_decimals=1))
    columns += [
        Column("margin", "Margin", "number", "percent", width=20, more_decimals=1),
        Column("gain", f"{step} lowers it by", "number", "percent", width=30, more_decimals=2),
    ]
    curve = plan.curve[[column.key for column in columns]]
    return TabPlan(
        "plan_margins",
        "Margin by number of plots",
        "" if len(plan.figures.names) == 1 else f"Plots divided {WAY_WORDS[plan.wanted.way]}.",
        (Block("curve", tuple(columns), curve),),
        name="Margin by plots",
    )


def _marks(plan: Plan) -> list[tuple[str, str, PointLook, list[float], list[float]]]:
    """Return what the chart shows beside the curve: key, name, look, plots and margins."""
    curve = plan.curve
    ends = [curve["plots"].min(), curve["plots"].max()] if len(curve) else [0.0, 1.0]
    marks: list[tuple[str, str, PointLook, list[float], list[float]]] = [
        ("wanted", "Target", "dashed line", ends, [plan.wanted.margin] * 2)
    ]
    if plan.chosen is not None:
        at = [float(plan.chosen.sum())]
        marks.append(("planned", "Plan", "diamond", at, [plan.margin(plan.chosen)]))
    if plan.measured is not None and math.isfinite(plan.after_pilot[0]):
        at = [float(plan.measured.sum())]
        marks.append(("pilot", "Pilot", "square", at, [plan.after_pilot[0]]))
    return marks


def _chart_data(book: PlanBook) -> TabPlan:
    two = (
        Column("plots", "Plots", "number", "count"),
        Column("margin", "Margin", "number", "percent", more_decimals=1),
    )
    blocks = [
        Block(key, two, pd.DataFrame({"plots": at, "margin": margins}), title=name)
        for key, name, _, at, margins in _marks(book.plan)
    ]
    return TabPlan(
        "plan_charts",
        "Chart data",
        "",
        tuple(blocks),
        frozen_headings=False,
        name="Chart data",
        hidden=True,
    )


def _chart(book: PlanBook) -> ChartPlan:
    curve = points("Margin", "curve", "plots", "margin", "line")
    marks = (
        points(name, key, "plots", "margin", look) for key, name, look, *_ in _marks(book.plan)
    )
    return ChartPlan(
        "xlh_chart_plan_margin",
        "points",
        f"{book.subject}: margin by number of plots",
        "A falling line: the margin in % of the mean by number of plots, with the target of "
        f"{percent(book.plan.wanted.margin)} as a dashed line. "
        f"{sentences(book.plan, book.subject)[0]}",
        "Plots",
        "Margin",
        (curve, *marks),
        "0 %",
        category_format="0",
    )


def _selection_tab(drawn: Selection) -> TabPlan:
    table = drawn.places.table
    columns = [Column("drawn", "Order of selection", "number", "count", width=9)]
    rows = pd.DataFrame({"drawn": drawn.rows["drawn"].to_numpy(float)})
    for at, heading in enumerate(table.headings):
        texts = [table.rows[place][at] for place in drawn.rows["place"]]
        decimals = _decimals(texts)
        look: Look = "identifier" if decimals < 1 else "number"
        width = min(max([len(heading), *map(len, texts)]) + 3, 40)
        rows[f"c{at}"] = pd.Series(texts, dtype=object if decimals < 1 else float)
        columns.append(
            Column(
                f"c{at}",
                heading or f"column {at + 1}",
                look,
                width=max(width, 12),
                more_decimals=max(decimals, 0),
            )
        )
    pilot_note = (
        f" Not listed: {plural(drawn.left_out, 'pilot plot')} that you keep."
        if drawn.left_out
        else ""
    )
    return TabPlan(
        "plan_drawn",
        "Plots chosen at random",
        f"{len(rows)} of {len(table.rows)} places of {table.name}, seed {drawn.seed}.{pilot_note}",
        (
            Block(
                "drawn",
                tuple(columns),
                rows,
                filtered=True,
                if_empty="There is no plot left to choose.",
            ),
        ),
        (
            "The same seed and list give the same places, whatever the order of the rows. A larger "
            "sample contains the smaller one. Visit all places: leaving out those that are hard to "
            "reach distorts the result. Enter a place outside the town as outside. Do not replace "
            "it by one nearby.",
            "Before anyone sets out, check which places are beside traffic, under wires or on "
            "private ground. No safe place to work? The crew writes NOT SAFE.",
        ),
        name="Plots drawn",
    )


def _decimals(texts: Sequence[str]) -> int:
    """Return the decimals of plain numbers, 0 if all are whole, -1 if one is not a number."""
    if not all(_PLAIN.fullmatch(text) for text in texts if text):
        return -1
    return min(max((len(text.partition(".")[2]) for text in texts), default=0), 9)


def _radius_tab(area: float, corrected: Corrected, units: Units) -> TabPlan:
    radius, factor = on_slope(area, _SLOPES, corrected)
    rows = pd.DataFrame({"slope": _SLOPES, "radius": radius, "factor": factor})
    columns = [
        Column("slope", "Slope", "number", "percent", width=40),
        Column(
            "radius",
            "Radius along the ground",
            "number",
            "length",
            width=40,
            more_decimals=1,
        ),
    ]
    if corrected == "radius":
        words = (
            "Corrected once, in the radius: lay out the longer radius along the ground on all "
            "sides. Leave the results as they are."
        )
    else:
        words = (
            "Corrected once, in the result: lay out the radius of level ground on all sides. "
            "Multiply every value per unit of area of that plot."
        )
        columns.append(
            Column(
                "factor", "Multiply values per unit of area by", "number", width=40, more_decimals=3
            )
        )
    size = f"{area:,.0f} m²" if units == "metric" else f"{area / ACRE_M2:.4g} acres"
    return TabPlan(
        "plan_radius",
        f"Radius of a round plot of {size}",
        words,
        (Block("radius", tuple(columns), rows[[column.key for column in columns]]),),
        (
            "Never correct both. Correct neither if the tape is held level in every direction.",
            "Slope is the steepest slope of the plot. Seen from above, a round plot laid along a "
            "slope is an ellipse. A radius times (1 + slope²)^¼ gives it the area of the level "
            "plot.",
        ),
        name="Plot radius",
    )


def not_drawn(drawn: Selection, counts: Sequence[int], names: Sequence[str]) -> list[str]:
    """Return a sentence for each stratum with too few places on the list."""
    short = []
    for name, count in zip(names, counts, strict=True):
        chosen = int((drawn.rows["stratum"] == name).sum())
        if chosen < count:
            short.append(
                f"{drawn.places.table.name} has only {plural(chosen, 'place')} of the {count} "
                f"planned for {name}."
            )
    return short
