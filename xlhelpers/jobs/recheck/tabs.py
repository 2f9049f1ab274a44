"""The report on trees measured twice: a sentence a quantity, tables by group, charts, pairs."""

from collections.abc import Sequence
from typing import Any, Literal

import numpy as np
import pandas as pd

from xlhelpers.estimates.remeasured import (
    GROUPS,
    Judged,
    Objective,
    agreement_sentence,
    differences,
    in_units,
    pairs_to_fail,
    pairs_to_pass,
)
from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.jobs.recheck.book import objectives_tab
from xlhelpers.pages.plan import Block, ChartGrid, ChartPlan, Column, TabPlan, points
from xlhelpers.pages.render import render_book

_CHARTED = ("total_height", "crown_base", "crown_depth", "diameter")
_N: Literal["number"] = "number"
_STATS = (
    Column("label", "Quantity", "wrapped", width=18),
    Column("by", "By", "text", width=11),
    Column("group", "Who or what", "wrapped", width=22),
    Column("unit", "Unit", "text", width=7),
    Column("pairs", "Pairs", _N, "count", width=7),
    Column("bias", "Bias", _N, "number", width=8),
    Column("bias_low", "Bias, 95 % from", _N, "number", width=9),
    Column("bias_high", "to", _N, "number", width=8),
    Column("sd", "Spread (SD)", _N, "number", width=9),
    Column("rmse", "Root mean square error", _N, "number", width=11),
    Column("lower", "Lower limit of agreement", _N, "number", width=11),
    Column("lower_low", "95 % from", _N, "number", width=8),
    Column("lower_high", "to", _N, "number", width=8),
    Column("upper", "Upper limit of agreement", _N, "number", width=11),
    Column("upper_low", "95 % from", _N, "number", width=8),
    Column("upper_high", "to", _N, "number", width=8),
    Column("tolerance", "Tolerance", _N, "number", width=10),
    Column("within", "Within", _N, "count", width=8),
    Column("share", "Share within", _N, "percent", width=8),
    Column("share_low", "95 % from", _N, "percent", width=8),
    Column("share_high", "to", _N, "percent", width=8),
    Column("wanted", "Objective", _N, "percent", width=10),
    Column("verdict", "Verdict", "text", width=30),
    Column("needed", "Pairs needed to pass, no more outside", _N, "count", width=14),
)


def _row(judged: Judged, units: Units) -> dict[str, Any]:
    objective, found = judged.objective, judged.agreement
    has_tolerance = objective.words or not np.isnan(objective.tolerance)
    nothing = np.nan

    def shown(value: float) -> float:
        return in_units(value, objective, units)

    share = judged.within / judged.pairs if judged.pairs and has_tolerance else nothing
    limits = judged.share_limits if has_tolerance else (nothing, nothing)
    unit = "" if objective.words else QUANTITIES[objective.quantity].unit(units)
    return {
        "label": objective.label,
        "by": GROUPS.get(judged.by, "all"),
        "group": judged.group,
        "unit": unit,
        "pairs": judged.pairs,
        "bias": shown(found.bias),
        "bias_low": shown(found.bias_limits[0]),
        "bias_high": shown(found.bias_limits[1]),
        "sd": shown(found.sd),
        "rmse": shown(found.rmse),
        "lower": shown(found.lower),
        "lower_low": shown(found.lower_limits[0]),
        "lower_high": shown(found.lower_limits[1]),
        "upper": shown(found.upper),
        "upper_low": shown(found.upper_limits[0]),
        "upper_high": shown(found.upper_limits[1]),
        "tolerance": shown(objective.tolerance),
        "within": float(judged.within) if has_tolerance else nothing,
        "share": share,
        "share_low": limits[0],
        "share_high": limits[1],
        "wanted": objective.share,
        "verdict": judged.verdict,
        "needed": nothing if judged.needed is None else float(judged.needed),
    }


def render_report(
    pairs: pd.DataFrame, judged: Sequence[Judged], units: Units, names: tuple[str, str, bool]
) -> bytes:
    """Return the report as a workbook of its own.

    Parameters
    ----------
    pairs
        As `pair_trees` gives them.
    judged
        As `judge_pairs` gives them.
    units
        The units shown.
    names
        The files of the first and of the second measurement, and whether the second are known
        values.
    """
    objectives = [one.objective for one in judged if not one.by]
    charted = [
        one
        for one in judged
        if not one.by and one.objective.key in _CHARTED and one.agreement.n >= 2
    ]
    tabs = [
        _summary_tab(pairs, judged, units, names, charted),
        _groups_tab(judged, units),
        _pairs_tab(pairs, objectives, units),
        objectives_tab(objectives, units),
        _chart_data(pairs, charted, units),
    ]
    return render_book(tabs, units)


def _summary_tab(
    pairs: pd.DataFrame,
    judged: Sequence[Judged],
    units: Units,
    names: tuple[str, str, bool],
    charted: Sequence[Judged],
) -> TabPlan:
    whole = [one for one in judged if not one.by]
    rows = pd.DataFrame(
        [{"said": agreement_sentence(one, units), "source": one.objective.source} for one in whole]
    )
    columns = (
        Column("said", "In plain words", "wrapped", width=78),
        Column("source", "Where the objective comes from", "wrapped", width=62),
    )
    first, second, is_known = names
    of = "known values" if is_known else "second measurement"
    least = sorted(
        {
            (
                one.objective.share,
                pairs_to_pass(one.objective.share),
                pairs_to_fail(one.objective.share),
            )
            for one in whole
            if one.objective.is_set
        }
    )
    needed = "; ".join(
        f"{share:.0%}: {to_pass} to pass with all within, {to_fail} to fail with all outside"
        for share, to_pass, to_fail in least
    )
    charts = tuple(_chart(one, units) for one in charted)
    whose = (
        "The second values are taken as true, so the differences are errors of the first."
        if is_known
        else "Both measurements have errors; a difference holds those of both."
    )
    return TabPlan(
        "agreement",
        "Trees measured twice: how well they agree",
        f"{len(pairs):,} trees. First: {first}. {of.capitalize()}: {second}. Every difference is "
        "first minus second.",
        (Block("sentences", columns, rows), *((ChartGrid(charts),) if charts else ())),
        (
            whose,
            f"{int((pairs['doubtful'] != '').sum())} of the trees rest on an open finding in one "
            "workbook or the other (tab Pairs); they are counted here, so settle those first.",
            "Pairs needed before anyone can be said to pass or fail, at the least: "
            f"{needed or 'none'}. Certain: the exact one-sided 95 % limit of the share lies on "
            "that side.",
            "Limits of agreement: 95 of 100 differences are expected between them (Bland & Altman "
            "1986). This is about measurements, not about people: ask first what was different on "
            "the day.",
        ),
        frozen_headings=False,
        name="Agreement",
    )


def _groups_tab(judged: Sequence[Judged], units: Units) -> TabPlan:
    rows = pd.DataFrame(
        [_row(one, units) for one in judged if one.pairs or not one.by],
        columns=[column.key for column in _STATS],
    )
    return TabPlan(
        "agreement_groups",
        "Agreement by crew and instrument",
        "Of the first measurement; the person is the first of the crew's initials. Lines without "
        "spread have too few pairs.",
        (Block("groups", _STATS, rows, filtered=True),),
        frozen_columns=3,
        pages_wide=2,
        name="By crew",
    )


def _pairs_tab(pairs: pd.DataFrame, objectives: Sequence[Objective], units: Units) -> TabPlan:
    columns = [
        Column("plot", "Plot no.", "identifier", width=9),
        Column("tree", "Tree no.", "identifier", width=8),
        Column("crew", "Crew", "text", width=12),
        Column("instrument", "Instrument", "text", width=14),
        Column("doubtful", "Open finding in", "text", width=10),
    ]
    rows = pairs[["plot", "tree", "crew", "instrument", "doubtful"]].copy()
    for objective in objectives:
        key = objective.key
        for side, label in (("first", "first"), ("again", "second")):
            name = f"{key}_{side}"
            rows[name] = pairs[name]
            columns.append(
                Column(name, f"{objective.label}, {label}", "text", width=20)
                if objective.words
                else Column(
                    name,
                    f"{objective.label}, {label}",
                    "number",
                    objective.quantity,
                    width=9,
                    more_decimals=1,
                )
            )
        if not objective.words:
            rows[f"{key}_difference"] = differences(pairs, objective)
            columns.append(
                Column(
                    f"{key}_difference",
                    f"{objective.label}, difference",
                    "number",
                    objective.quantity,
                    width=10,
                    more_decimals=1,
                )
            )
    return TabPlan(
        "agreement_pairs",
        "The pairs",
        "Every tree that both workbooks hold.",
        (Block("pairs", tuple(columns), rows, filtered=True),),
        frozen_columns=2,
        pages_wide=2,
        name="Pairs",
    )


def _chart_data(pairs: pd.DataFrame, charted: Sequence[Judged], units: Units) -> TabPlan:
    blocks: list[Block] = []
    for one in charted:
        key, quantity, found = one.objective.key, one.objective.quantity, one.agreement
        values = differences(pairs, one.objective)
        known = np.isfinite(values)
        mean = (pairs[f"{key}_first"] + pairs[f"{key}_again"]).to_numpy(float)[known] / 2
        both = pd.DataFrame({"mean": mean, "difference": values[known]})
        lines = pd.DataFrame({"at": [mean.min(), mean.max()]})
        columns = [Column("at", "At", "number", quantity, more_decimals=2)]
        for name in ("bias", "lower", "upper"):
            lines[name] = getattr(found, name)
            columns.append(Column(name, name.capitalize(), "number", quantity, more_decimals=2))
        blocks += [
            Block(
                f"{key}_points",
                (
                    Column("mean", "Mean", "number", quantity, more_decimals=2),
                    Column("difference", "Difference", "number", quantity, more_decimals=2),
                ),
                both,
                title=one.objective.label,
            ),
            Block(f"{key}_lines", tuple(columns), lines),
        ]
    # the charts show it all the same, and nobody prints hundreds of rows of points by mistake
    return TabPlan(
        "agreement_charts",
        "What the charts are drawn from",
        "",
        tuple(blocks),
        frozen_headings=False,
        name="Chart data",
        hidden=True,
    )


def _chart(one: Judged, units: Units) -> ChartPlan:
    objective, found = one.objective, one.agreement
    key, unit = objective.key, QUANTITIES[objective.quantity].unit(units)
    bias, lower, upper = (
        in_units(v, objective, units) for v in (found.bias, found.lower, found.upper)
    )
    lines = tuple(
        points(label, f"{key}_lines", "at", name, "line" if name == "bias" else "dashed line")
        for name, label in (
            ("bias", "Bias"),
            ("lower", "Lower limit of agreement"),
            ("upper", "Upper limit of agreement"),
        )
    )
    return ChartPlan(
        f"xlh_chart_agreement_{key}",
        "points",
        f"{objective.label}: difference against mean",
        f"Points, one a tree: first minus second {objective.label.lower()} against the mean of "
        f"both, {found.n} trees; bias {bias:.2f} {unit}, limits of agreement {lower:.2f} and "
        f"{upper:.2f} {unit}.",
        f"Mean of both ({unit})",
        f"First minus second ({unit})",
        (points("Trees", f"{key}_points", "mean", "difference"), *lines),
        "0.0",
    )
