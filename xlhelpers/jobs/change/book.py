"""The report on two surveys of the same plots: sentences, tables, native charts, every tree."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pandas as pd

from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.jobs.change.compare_surveys import Change, is_in_doubt
from xlhelpers.jobs.change.totals import Net
from xlhelpers.jobs.change.trees import FATES
from xlhelpers.jobs.change.words import (
    GROWN,
    HOW,
    has_share_ends,
    is_share_known,
    looks,
    net_value,
    sentences,
    write_size,
)
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
from xlhelpers.wording import plural

_STEP = 0.05


def render_change(change: Change, units: Units, names: tuple[str, str]) -> bytes:
    """Return the report as a workbook of its own.

    Parameters
    ----------
    change
        As `compare_surveys` gives it.
    units
        The units write_size.
    names
        The files of OLD and NEW.
    """
    to_look_at = looks(change, units)
    tabs = [
        _main_tab(change, units, names, len(to_look_at)),
        _species_tab(change, units),
        _looks_tab(to_look_at),
        _trees_tab(change, units),
        _plots_tab(change, units),
        how_tab("change_how", HOW),
        _chart_data(change),
    ]
    return render_book(tabs, units)


def _main_tab(change: Change, units: Units, names: tuple[str, str], count: int) -> TabPlan:
    first, *more = sentences(change, units)
    to_do = "There is nothing to check."
    if count:
        to_do = f"{plural(count, 'entry', 'entries')} to check: see the tab To look at."
    return TabPlan(
        "change",
        "What changed between two surveys",
        first,
        (_net_block(change, units), _charts(change, units)),
        (
            *more,
            to_do,
            "The details are on By species, Trees and Plots. How says how figures were worked out.",
            f"OLD: {names[0]}. NEW: {names[1]}. Neither was changed.",
        ),
        frozen_headings=False,
        name="Change",
    )


def _net_block(change: Change, units: Units) -> Block:
    rows = []
    for net in change.nets:
        is_known = is_share_known(net)
        rows.append(
            {
                "label": net.measure.label,
                "unit": net_value(net, change, units, math.nan)[1],
                **{
                    key: net_value(net, change, units, getattr(net, key))[0]
                    for key in ("before", "after", "change", "margin")
                },
                "share": net.share if is_known else math.nan,
                **{
                    key: getattr(net, key) if is_known and has_share_ends(net) else math.nan
                    for key in ("share_low", "share_high")
                },
                "plots": float(net.plots),
                "remark": net.remark,
            }
        )
    # totals are whole trees and whole areas; values per area keep a decimal
    more = 0 if all(math.isfinite(net.town) for net in change.nets if net.plots) else 1
    numbers = {"before": "OLD", "after": "NEW", "change": "Change", "margin": "Margin ±"}
    columns = (
        Column("label", "What", "text", width=22),
        Column("unit", "Unit", "text", width=16),
        *(
            Column(key, label, "number", "count", width=12, more_decimals=more)
            for key, label in numbers.items()
        ),
        Column("share", "Change of OLD", "number", "percent", width=10, more_decimals=1),
        Column("share_low", "From", "number", "percent", width=9, more_decimals=1),
        Column("share_high", "to", "number", "percent", width=9, more_decimals=1),
        Column("plots", "Plots", "number", "count", width=8),
        Column("remark", "Remark", "wrapped", width=36),
    )
    least = write_size(change.pairs.smallest_diameter, "diameter", units)
    rule = (
        f"Confidence of the margins: {100 * change.confidence:.4g} %. Trees from {least} up are "
        "counted (the larger of both smallest diameters). A tree without a diameter or a width is "
        "treated like the others of its plot. The council report of one survey also counts thinner "
        "trees and plots that were measured only once, so its totals differ a little. It says how "
        "far each total can be trusted."
    )
    return Block("nets", columns, pd.DataFrame(rows), title="Change of the totals", sentence=rule)


def _charts(change: Change, units: Units) -> ChartGrid:
    known = [net for net in change.nets if is_share_known(net)]
    charts = [_net_chart(known, change)] if known else []
    charts.append(
        ChartPlan(
            "xlh_chart_change_fates",
            "columns",
            "What happened to the trees",
            "Columns, one for each fate: the number of trees.",
            "",
            "Trees",
            (_series("Trees", "fate_chart", "fate", "trees", len(FATES)),),
        )
    )
    grown = (what for what in GROWN if not _charted_trees(change, what).empty)
    return ChartGrid((*charts, *(_growth_chart(what, units) for what in grown)))


def _series(name: str, block: str, label: str, value: str, count: int) -> Series:
    labels, values = (Span(block, column, 0, count) for column in (label, value))
    return Series(name, labels, values)


def _charted_trees(change: Change, what: str) -> pd.DataFrame:
    """Return the trees with this growth, without values in doubt."""
    trees: pd.DataFrame = change.trees
    known = np.isfinite(trees[f"growth_{what}"].to_numpy(float))
    return pd.DataFrame(trees[known & ~is_in_doubt(trees, what)])


def _share_ends(known: list[Net]) -> list[tuple[float, float]]:
    """Return both ends of each share, the share itself where it has none."""
    return [
        (net.share_low, net.share_high) if has_share_ends(net) else (net.share, net.share)
        for net in known
    ]


def _net_chart(known: list[Net], change: Change) -> ChartPlan:
    # the ends of the margins decide: a program that scales by the columns alone would cut them
    ends = _share_ends(known)
    low, high = min(0.0, *(end for end, _ in ends)), max(0.0, *(end for _, end in ends))
    series = _series("Change of OLD", "net_chart", "label", "share", len(known))
    down, up = (Span("net_chart", name, 0, len(known)) for name in ("down", "up"))
    least, greatest = math.floor(low / _STEP) * _STEP, math.ceil(high / _STEP) * _STEP
    return ChartPlan(
        "xlh_chart_change_net",
        "columns",
        "Change of the totals, with its margin",
        "Columns, one for each total: its change in % of OLD. Lines reach to both ends "
        f"at {100 * change.confidence:.4g} % confidence.",
        "",
        "Change of OLD",
        (replace(series, arms=(down, up)),),
        value_format="0 %",
        least=round(least, 9),
        greatest=round(max(greatest, least + _STEP), 9),
    )


def _growth_chart(what: str, units: Units) -> ChartPlan:
    unit = QUANTITIES[GROWN[what]].unit(units)
    return ChartPlan(
        f"xlh_chart_change_{what}",
        "points",
        f"{what.capitalize()}s, new against old",
        f"Points, one for each tree alive in both surveys: its {what} in NEW against OLD. On the "
        "line there was no change. Below it a tree came out smaller. Trees with open findings "
        "are left out.",
        f"OLD ({unit})",
        f"NEW ({unit})",
        (
            points("Trees", f"{what}_points", "old", "new"),
            points("No change", f"{what}_line", "old", "new", "line"),
        ),
        category_format="0",
    )


def _chart_data(change: Change) -> TabPlan:
    known = [net for net in change.nets if is_share_known(net)]
    reach = _share_ends(known)
    nets = pd.DataFrame(
        {
            "label": [net.measure.label for net in known],
            "share": [net.share for net in known],
            "down": [net.share - low for net, (low, _) in zip(known, reach, strict=True)],
            "up": [high - net.share for net, (_, high) in zip(known, reach, strict=True)],
        }
    )
    net_columns = (
        Column("label", "What", "text", width=22),
        Column("share", "Change of OLD", "number", "percent", more_decimals=1),
        Column("down", "To the lower end", "number", "percent", more_decimals=1),
        Column("up", "To the upper end", "number", "percent", more_decimals=1),
    )
    whole = change.fates.iloc[0]
    fates = pd.DataFrame({"fate": list(FATES), "trees": [float(whole[fate]) for fate in FATES]})
    fate_columns = (Column("fate", "Fate", "text"), Column("trees", "Trees", "number", "count"))
    blocks = [
        Block("net_chart", net_columns, nets, title="Change of the totals"),
        Block("fate_chart", fate_columns, fates, title="What happened to the trees"),
    ]
    for what, quantity in GROWN.items():
        trees = _charted_trees(change, what)
        if trees.empty:
            continue
        sides = pd.DataFrame(
            {side: trees[f"{what}_{side}"].to_numpy(float) for side in ("old", "new")}
        )
        ends = [float(sides.min().min()), float(sides.max().max())]
        two = (Column("old", "OLD", "number", quantity), Column("new", "NEW", "number", quantity))
        blocks += [
            Block(f"{what}_points", two, sides, title=f"{what.capitalize()}s"),
            Block(f"{what}_line", two, pd.DataFrame({"old": ends, "new": ends})),
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
    growths = {(one.what, one.group or "all species"): one for one in change.growths}
    columns = [
        Column("species", "Species", "text", width=28),
        Column("all", "Trees", "number", "count", width=8),
        *(Column(fate, fate.capitalize(), "number", "count", width=9) for fate in FATES),
    ]
    for what, quantity in GROWN.items():
        unit = QUANTITIES[quantity].unit(units) + " a year"
        for key in ("mean", "margin", "trees"):
            rows[f"{what}_{key}"] = [
                float(getattr(growths[what, species], key))
                if (what, species) in growths
                else math.nan
                for species in rows["species"]
            ]
        rows[f"{what}_left_out"] = [
            float(sum(count for _, count in growths[what, species].left_out))
            if (what, species) in growths
            else math.nan
            for species in rows["species"]
        ]
        columns += [
            *(
                Column(f"{what}_{key}", label, "number", quantity, 10, unit=unit, more_decimals=1)
                for key, label in (("mean", f"Growth of {what}"), ("margin", "Margin ±"))
            ),
            Column(f"{what}_trees", "Trees used", "number", "count", width=8),
            Column(f"{what}_left_out", "Left out", "number", "count", width=8),
        ]
    return TabPlan(
        "change_species",
        "By species",
        "What happened to the trees, and how those alive in both surveys grew. Means leave out "
        "trees with open findings, and others that the tab Trees names. A species on one plot "
        "only has no margin.",
        (Block("species", tuple(columns), rows, filtered=True),),
        frozen_columns=1,
        name="By species",
    )


def _looks_tab(to_look_at: pd.DataFrame) -> TabPlan:
    columns = (
        Column("kind", "What", "wrapped", width=13),
        Column("plot", "Plot no.", "identifier", width=8),
        Column("tree_old", "Tree in OLD", "identifier", width=7),
        Column("tree_new", "Tree in NEW", "identifier", width=7),
        Column("species", "Species", "wrapped", width=17),
        Column("found", "Found", "wrapped", width=32),
        Column("why", "Probably wrong survey, and why", "wrapped", width=36),
        Column("do", "What to do", "wrapped", width=29),
    )
    return TabPlan(
        "change_looks",
        "To look at",
        "What does not match between the two surveys.",
        (Block("looks", columns, to_look_at, filtered=True, if_empty="Nothing to look at."),),
        name="To look at",
    )


def _trees_tab(change: Change, units: Units) -> TabPlan:
    columns: list[Column] = [
        Column("plot", "Plot no.", "identifier", width=9),
        Column("tree_old", "Tree in OLD", "identifier", width=8),
        Column("tree_new", "Tree in NEW", "identifier", width=8),
        Column("species", "Species", "text", width=26),
        Column("fate", "Fate", "text", width=11),
        Column("belief", "Match certainty", "number", "percent", width=9),
        Column("candidates", "Ambiguous", "text", width=22),
        Column("years", "Years", width=8, more_decimals=1),
    ]
    for what, quantity in GROWN.items():
        a_year = f"{QUANTITIES[quantity].unit(units)} a year"
        for name, label, width, unit, more in (
            (f"{what}_old", f"{what.capitalize()} in OLD", 9, None, 0),
            (f"{what}_new", f"{what.capitalize()} in NEW", 9, None, 0),
            (f"growth_{what}", f"Growth of {what}", 9, None, 0),
            (f"u_growth_{what}", "± of both measurements", 12, None, 1),
            (f"growth_{what}_a_year", f"Growth of {what}", 10, a_year, 1),
            (f"u_growth_{what}_a_year", "±", 10, a_year, 1),
        ):
            columns.append(
                Column(name, label, "number", quantity, width, unit=unit, more_decimals=more)
            )
        columns.append(Column(f"not_used_{what}", "Not in the mean because", "text", width=20))
    rows = pd.DataFrame(change.trees[[column.key for column in columns]])
    rows["_doubtful"] = (change.trees["open_old"] | change.trees["open_new"]).to_numpy()
    return TabPlan(
        "change_trees",
        "Every tree of the plots measured both times",
        "± is one standard uncertainty of both years together, observers included. The means leave "
        "out heights and diameters that are doubtful in either survey.",
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
        unit, factor = net.measure.find_unit_per_area(units, pairs.has_areas)
        old, new = (values / factor for values in pairs.values_of(net.measure))
        grown = new - old if pairs.compares(net.measure) else np.full(len(new), np.nan)
        for label, values in (("OLD", old), ("NEW", new), ("change", grown)):
            name, heading = f"{net.measure.key}_{label.lower()}", f"{net.measure.label}, {label}"
            rows[name] = values
            columns.append(Column(name, heading, width=12, unit=unit, more_decimals=1))
    return TabPlan(
        "change_plots",
        "The plots measured both times",
        "The margins are computed from these changes.",
        (Block("changed_plots", tuple(columns), rows, filtered=True),),
        frozen_columns=1,
        name="Plots",
    )
