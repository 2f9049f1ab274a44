"""The report on two surveys of the same plots: sentences, tables, native charts, every tree."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.jobs.change.compare_surveys import Change
from xlhelpers.jobs.change.totals import Net
from xlhelpers.jobs.change.trees import FATES
from xlhelpers.jobs.change.words import HOW, is_share_known, looks, net_value, sentences, shown
from xlhelpers.pages.plan import (
    Block,
    ChartGrid,
    ChartPlan,
    Column,
    Series,
    Span,
    TabPlan,
    points,
)
from xlhelpers.pages.render import how_tab, render_book

_STEP = 0.05
_QUANTITY = {"height": "length", "diameter": "diameter"}


def render_change(change: Change, units: Units, names: tuple[str, str]) -> bytes:
    """Return the report as a workbook of its own.

    Parameters
    ----------
    change
        As `compare_surveys` gives it.
    units
        The units shown.
    names
        The files of OLD and NEW.
    """
    found = looks(change, units)
    tabs = [
        _main_tab(change, units, names, len(found)),
        _species_tab(change, units),
        _looks_tab(found),
        _trees_tab(change, units),
        _plots_tab(change, units),
        how_tab("change_how", HOW),
    ]
    data = _chart_data(change, units)
    return render_book([*tabs, data], units)


def _main_tab(change: Change, units: Units, names: tuple[str, str], count: int) -> TabPlan:
    first, *more = sentences(change, units)
    asked = (
        f"{count} things are to be looked at (tab To look at)."
        if count
        else ("Nothing is to be looked at.")
    )
    return TabPlan(
        "change",
        "What changed between two surveys",
        first,
        (_net_block(change, units), _charts(change, units)),
        (*more, asked, f"OLD: {names[0]}. NEW: {names[1]}. Both stay as they are."),
        frozen_headings=False,
        name="Change",
    )


def _net_block(change: Change, units: Units) -> Block:
    rows = []
    for net in change.nets:
        unit = net_value(net, change, units, math.nan)[1]
        values = {
            key: net_value(net, change, units, value)[0]
            for key, value in (
                ("before", net.before),
                ("after", net.after),
                ("change", net.change),
                ("margin", net.margin),
            )
        }
        share = net.share if is_share_known(net) else math.nan
        # nothing stands any more: a share of all has no margin
        share_margin = net.share_margin if net.after and math.isfinite(share) else math.nan
        rows.append(
            {
                "label": net.measure.label,
                "unit": unit,
                **values,
                "share": share,
                "share_margin": share_margin,
                "plots": float(net.plots),
                "said": net.said,
            }
        )
    # totals are whole trees and whole areas; values per area keep a decimal
    more = 0 if all(math.isfinite(net.town) for net in change.nets if net.plots) else 1
    columns = (
        Column("label", "What", "text", width=22),
        Column("unit", "Unit", "text", width=16),
        Column("before", "OLD", "number", "count", width=12, more_decimals=more),
        Column("after", "NEW", "number", "count", width=12, more_decimals=more),
        Column("change", "Change", "number", "count", width=12, more_decimals=more),
        Column("margin", "Margin ±", "number", "count", width=12, more_decimals=more),
        Column("share", "Change of OLD", "number", "percent", width=10, more_decimals=1),
        Column("share_margin", "Margin ±", "number", "percent", width=10, more_decimals=1),
        Column("plots", "Plots", "number", "count", width=8),
        Column("said", "Remark", "wrapped", width=36),
    )
    return Block(
        "nets",
        columns,
        pd.DataFrame(rows),
        title="Change of the totals",
        sentence=_rule(change, units),
    )


def _rule(change: Change, units: Units) -> str:
    """Return which trees count, and why a report of one of the surveys says other totals."""
    least = shown(change.pairs.smallest_diameter, "diameter", units)
    return (
        f"Margins at {100 * change.confidence:.4g} % confidence. Counted are trees from "
        f"{least} up, the larger of both smallest diameters, and a tree without a diameter or "
        "a width is taken to be like the others of its plot; a report of one survey counts "
        "thinner trees too, takes such a tree to be like the others of the whole town, and "
        "holds plots that were measured once only, so its totals differ a little."
    )


def _charts(change: Change, units: Units) -> ChartGrid:
    charts: list[ChartPlan] = []
    known = [net for net in change.nets if is_share_known(net)]
    if known:
        charts.append(_net_chart(known, change))
    charts.append(_fates_chart())
    for what in ("height", "diameter"):
        if not _charted(change, what).empty:
            charts.append(_growth_chart(what, units))
    return ChartGrid(tuple(charts))


def _charted(change: Change, what: str) -> pd.DataFrame:
    """Return the trees with this growth that rest on no open finding."""
    trees: pd.DataFrame = change.trees
    known = np.isfinite(trees[f"growth_{what}"].to_numpy(float))
    settled = ~(trees["open_old"] | trees["open_new"]).to_numpy(bool)
    return pd.DataFrame(trees[known & settled])


def _net_chart(known: list[Net], change: Change) -> ChartPlan:
    count = len(known)
    # the ends of the margins decide: a program that scales by the columns alone would cut them
    low = min(0.0, *(net.share - _known(net.share_margin) for net in known))
    high = max(0.0, *(net.share + _known(net.share_margin) for net in known))
    least, greatest = math.floor(low / _STEP) * _STEP, math.ceil(high / _STEP) * _STEP
    series = Series(
        "Change of OLD",
        Span("net_chart", "label", 0, count),
        Span("net_chart", "share", 0, count),
        spread=Span("net_chart", "spread", 0, count),
    )
    return ChartPlan(
        "xlh_chart_change_net",
        "columns",
        "Change of the totals, with its margin",
        "Columns, one a total: its change in per cent of OLD; lines reach to the ends of the "
        f"margin at {100 * change.confidence:.4g} % confidence.",
        "",
        "Change of OLD",
        (series,),
        value_format="0%",
        least=round(least, 9),
        greatest=round(max(greatest, least + _STEP), 9),
    )


def _known(margin: float) -> float:
    return margin if math.isfinite(margin) else 0.0


def _fates_chart() -> ChartPlan:
    count = len(FATES)
    series = Series(
        "Trees", Span("fate_chart", "fate", 0, count), Span("fate_chart", "trees", 0, count)
    )
    return ChartPlan(
        "xlh_chart_change_fates",
        "columns",
        "What became of the trees",
        "Columns, one a fate: how many trees.",
        "",
        "Trees",
        (series,),
    )


def _growth_chart(what: str, units: Units) -> ChartPlan:
    unit = QUANTITIES[_QUANTITY[what]].unit(units)
    return ChartPlan(
        f"xlh_chart_change_{what}",
        "points",
        f"{what.capitalize()}s, new against old",
        f"Points, one a tree alive both times: its {what} in NEW over that in OLD. On the line "
        "nothing changed; below it a tree seems to have shrunk. Trees on open "
        "findings are left off.",
        f"OLD ({unit})",
        f"NEW ({unit})",
        (
            points("Trees", f"{what}_points", "old", "new"),
            points("No change", f"{what}_line", "old", "new", "line"),
        ),
        category_format="0",
    )


def _chart_data(change: Change, units: Units) -> TabPlan:
    known = [net for net in change.nets if is_share_known(net)]
    nets = pd.DataFrame(
        {
            "label": [net.measure.label for net in known],
            "share": [net.share for net in known],
            "spread": [net.share_margin for net in known],
        }
    )
    whole = change.fates.iloc[0]
    fates = pd.DataFrame({"fate": list(FATES), "trees": [float(whole[fate]) for fate in FATES]})
    blocks = [
        Block(
            "net_chart",
            (
                Column("label", "What", "text", width=22),
                Column("share", "Change of OLD", "number", "percent", more_decimals=1),
                Column("spread", "Margin ±", "number", "percent", more_decimals=1),
            ),
            nets,
            title="Change of the totals",
        ),
        Block(
            "fate_chart",
            (Column("fate", "Fate", "text"), Column("trees", "Trees", "number", "count")),
            fates,
            title="What became of the trees",
        ),
    ]
    for what, quantity in _QUANTITY.items():
        trees = _charted(change, what)
        if trees.empty:
            continue
        sides = pd.DataFrame(
            {side: trees[f"{what}_{side}"].to_numpy(float) for side in ("old", "new")}
        )
        ends = [float(sides.min().min()), float(sides.max().max())]
        two = (Column("old", "OLD", "number", quantity), Column("new", "NEW", "number", quantity))
        line = pd.DataFrame({"old": ends, "new": ends})
        blocks += [
            Block(f"{what}_points", two, sides, title=f"{what.capitalize()}s"),
            Block(f"{what}_line", two, line),
        ]
    return TabPlan(
        "change_charts",
        "Chart data",
        "",
        tuple(blocks),
        frozen_headings=False,
        name="Chart data",
        hidden=True,
    )


def _species_tab(change: Change, units: Units) -> TabPlan:
    rows = change.fates.copy()
    found = {(one.what, one.group or "all species"): one for one in change.growths}
    columns = [
        Column("species", "Species", "text", width=28),
        Column("all", "Trees", "number", "count", width=8),
    ]
    columns += [Column(fate, fate.capitalize(), "number", "count", width=9) for fate in FATES]
    for what, quantity in _QUANTITY.items():
        unit = QUANTITIES[quantity].unit(units) + " a year"
        for key, label in (
            ("mean", f"Growth of {what}"),
            ("margin", "Margin ±"),
            ("trees", "Trees behind it"),
        ):
            name = f"{what}_{key}"
            rows[name] = [
                float(getattr(found[what, species], key)) if (what, species) in found else math.nan
                for species in rows["species"]
            ]
            columns.append(
                Column(name, label, "number", "count", width=8)
                if key == "trees"
                else Column(name, label, "number", quantity, width=10, unit=unit, more_decimals=1)
            )
    return TabPlan(
        "change_species",
        "By species",
        "What became of the trees, and how those alive both times grew; means leave out trees on "
        "open findings. No margin where the trees of a species stand on one plot.",
        (Block("species", tuple(columns), rows, filtered=True),),
        frozen_columns=1,
        name="By species",
    )


def _looks_tab(found: pd.DataFrame) -> TabPlan:
    columns = (
        Column("kind", "What", "wrapped", width=13),
        Column("plot", "Plot no.", "identifier", width=8),
        Column("tree_old", "Tree in OLD", "identifier", width=7),
        Column("tree_new", "Tree in NEW", "identifier", width=7),
        Column("species", "Species", "wrapped", width=17),
        Column("found", "Found", "wrapped", width=32),
        Column("why", "Which is likelier wrong, and why", "wrapped", width=36),
        Column("do", "What to do", "wrapped", width=29),
    )
    return TabPlan(
        "change_looks",
        "To look at",
        "What does not fit together between the two surveys.",
        (Block("looks", columns, found, filtered=True, if_empty="Nothing to look at."),),
        (
            "At the tree: one person watches the traffic and nobody steps back while aiming; "
            "nobody walks under a dead, split or hung top; no safe place to stand, write NOT SAFE.",
        ),
        name="To look at",
    )


def _trees_tab(change: Change, units: Units) -> TabPlan:
    columns: list[Column] = [
        Column("plot", "Plot no.", "identifier", width=9),
        Column("tree_old", "Tree in OLD", "identifier", width=8),
        Column("tree_new", "Tree in NEW", "identifier", width=8),
        Column("species", "Species", "text", width=26),
        Column("fate", "Fate", "text", width=11),
        Column("belief", "Belief of the match", "number", "percent", width=9),
        Column("candidates", "Ambiguous", "text", width=22),
        Column("years", "Years", width=8, more_decimals=1),
    ]
    for what, quantity in _QUANTITY.items():
        label = what.capitalize()
        a_year = f"{QUANTITIES[quantity].unit(units)} a year"
        columns += [
            Column(f"{what}_old", f"{label} in OLD", "number", quantity, width=9),
            Column(f"{what}_new", f"{label} in NEW", "number", quantity, width=9),
            Column(f"growth_{what}", f"Growth of {what}", "number", quantity, width=9),
            Column(
                f"u_growth_{what}",
                "± of both measurements",
                "number",
                quantity,
                width=12,
                more_decimals=1,
            ),
            Column(
                f"growth_{what}_a_year",
                f"Growth of {what}",
                "number",
                quantity,
                width=10,
                unit=a_year,
                more_decimals=1,
            ),
            Column(
                f"u_growth_{what}_a_year",
                "±",
                "number",
                quantity,
                width=10,
                unit=a_year,
                more_decimals=1,
            ),
        ]
    rows: Any = change.trees[[column.key for column in columns]].copy()
    rows["_doubtful"] = (change.trees["open_old"] | change.trees["open_new"]).to_numpy()
    return TabPlan(
        "change_trees",
        "Every tree of the plots measured both times",
        "± is one standard uncertainty. Trees on an open finding in either survey are left out of "
        "the means.",
        (Block("changed_trees", tuple(columns), rows, filtered=True),),
        frozen_columns=4,
        pages_wide=2,
        name="Trees",
    )


def _plots_tab(change: Change, units: Units) -> TabPlan:
    pairs = change.pairs
    rows = pairs.table[["plot", "years"]].copy()
    rows["stratum"] = [pairs.strata[at] for at in pairs.table["where"]]
    columns = [
        Column("plot", "Plot no.", "identifier", width=9),
        Column("stratum", "Stratum", "text", width=20),
        Column("years", "Years", width=8, more_decimals=1),
    ]
    for net in change.nets:
        unit, factor = net.measure.shown(units, pairs.has_areas)
        both = [
            side.table[net.measure.key].to_numpy(float)[pairs.table[f"row_{name}"]] / factor
            for name, side in zip(("old", "new"), pairs.values, strict=True)
        ]
        for key, label, values in (
            ("old", "OLD", both[0]),
            ("new", "NEW", both[1]),
            ("change", "change", both[1] - both[0]),
        ):
            name = f"{net.measure.key}_{key}"
            rows[name] = values
            columns.append(
                Column(name, f"{net.measure.label}, {label}", width=12, unit=unit, more_decimals=1)
            )
    return TabPlan(
        "change_plots",
        "The plots measured both times",
        "The margins come from these changes.",
        (Block("changed_plots", tuple(columns), rows, filtered=True),),
        frozen_columns=1,
        name="Plots",
    )
