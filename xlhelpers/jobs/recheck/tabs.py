"""The report on remeasured trees: a sentence a quantity, tables by group, charts, pairs."""

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
from xlhelpers.wording import plural

_CHARTED = ("total_height", "crown_base", "crown_depth", "diameter")
_N: Literal["number"] = "number"
_STATS = (
    Column("label", "Quantity", "wrapped", width=18),
    Column("by", "By", "text", width=11),
    Column("group", "Who or what", "wrapped", width=22),
    Column("unit", "Unit", "text", width=7),
    Column("pairs", "Pairs", _N, "count", width=7),
    Column("left_out", "Left out", _N, "count", width=7),
    Column("bias", "Bias", _N, "number", width=8),
    Column("bias_low", "Bias, 95 % from", _N, "number", width=9),
    Column("bias_high", "to", _N, "number", width=8),
    Column("sd", "Standard deviation", _N, "number", width=9),
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
    Column("needed", "Pairs needed to pass, if all others agree", _N, "count", width=14),
)


def _row(judged: Judged, units: Units) -> dict[str, Any]:
    objective, agreement = judged.objective, judged.agreement
    has_tolerance = objective.words or not np.isnan(objective.tolerance)
    nothing = np.nan

    values = {
        "bias": (agreement.bias, *agreement.bias_limits),
        "lower": (agreement.lower, *agreement.lower_limits),
        "upper": (agreement.upper, *agreement.upper_limits),
    }
    measured = {
        f"{name}{end}": value
        for name, three in values.items()
        for end, value in zip(("", "_low", "_high"), three, strict=True)
    }
    measured |= {"sd": agreement.sd, "rmse": agreement.rmse, "tolerance": objective.tolerance}
    limits = judged.share_limits if has_tolerance else (nothing, nothing)
    return {
        "label": objective.label,
        "by": GROUPS.get(judged.by, "all"),
        "group": judged.group,
        "unit": "" if objective.words else QUANTITIES[objective.quantity].unit(units),
        "pairs": judged.pairs,
        "left_out": judged.left_out,
        **{name: in_units(value, objective, units) for name, value in measured.items()},
        "within": float(judged.within) if has_tolerance else nothing,
        "share": judged.within / judged.pairs if judged.pairs and has_tolerance else nothing,
        "share_low": limits[0],
        "share_high": limits[1],
        "wanted": objective.share,
        "verdict": judged.verdict,
        "needed": nothing if judged.needed is None else float(judged.needed),
    }


def render_report(
    pairs: pd.DataFrame,
    judged: Sequence[Judged],
    units: Units,
    names: tuple[str, str],
    *,
    known: bool,
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
        The files of the first and of the second measurement.
    known
        Whether the second values are taken as true.
    """
    objectives = [one.objective for one in judged if not one.by]
    charted = [
        one
        for one in judged
        if not one.by and one.objective.key in _CHARTED and one.agreement.n >= 2
    ]
    charts = tuple(_chart(one, units) for one in charted)
    tabs = [
        _summary_tab(
            _sentences_block(judged, units), charts, _summary(pairs, judged, names, known)
        ),
        _groups_tab(judged, units),
        _pairs_tab(pairs, objectives, units),
        objectives_tab(objectives, units),
        _chart_data(pairs, charted),
    ]
    return render_book(tabs, units)


def _summary_tab(block: Block, charts: tuple[ChartPlan, ...], remarks: Sequence[str]) -> TabPlan:
    return TabPlan(
        "agreement",
        "Remeasured trees: how well they agree",
        remarks[0],
        (block, *((ChartGrid(charts),) if charts else ())),
        tuple(remarks[1:]),
        frozen_headings=False,
        name="Agreement",
    )


def _sentences_block(judged: Sequence[Judged], units: Units) -> Block:
    rows = pd.DataFrame(
        [
            {"text": agreement_sentence(one, units), "source": one.objective.source}
            for one in judged
            if not one.by
        ]
    )
    columns = (
        Column("text", "In plain words", "wrapped", width=78),
        Column("source", "Source of the objective", "wrapped", width=62),
    )
    return Block("sentences", columns, rows)


def _summary(
    pairs: pd.DataFrame, judged: Sequence[Judged], names: tuple[str, str], known: bool
) -> list[str]:
    """Return the sentences at the head of the first tab."""
    shares = {one.objective.share for one in judged if not one.by and one.objective.is_set}
    needed = "; ".join(
        f"for {share:.0%}, {pairs_to_pass(share)} to pass if all are within and "
        f"{pairs_to_fail(share)} to fail if all are outside"
        for share in sorted(shares)
    )
    second, meaning = (
        "Second measurement",
        "Both measurements have errors. A difference contains both.",
    )
    if known:
        second = "Known values"
        meaning = "The second values are taken as true, so differences are errors of the first."
    sentences = [
        f"{plural(len(pairs), 'tree')}. First: {names[0]}. {second}: {names[1]}. Each difference "
        "is first minus second.",
        meaning,
    ]
    doubtful = int((pairs["doubtful"] != "").sum())
    if doubtful:
        sentences.append(
            f"{plural(doubtful, 'tree')} {'has' if doubtful == 1 else 'have'} an open finding in "
            "one of the workbooks (tab Pairs). They are counted here, so resolve them first."
        )
    left_out = int((pairs["left_out"] != "").sum())
    if left_out:
        sentences.append(
            f"{plural(left_out, 'tree')} with a value that cannot be right (tab Pairs). It is left "
            "out until you correct it, or accept it with initials."
        )
    return [
        *sentences,
        f"Fewest pairs for a certain verdict: {needed or 'no objective is set'}. Certain means "
        "that the exact one-sided 95 % limit of the share is on that side.",
        "Limits of agreement: about 95 of 100 differences are between them (Bland & Altman 1986). "
        "This is about measurements, not about people. Ask first what was different on the day.",
    ]


def _groups_tab(judged: Sequence[Judged], units: Units) -> TabPlan:
    rows = pd.DataFrame(
        [_row(one, units) for one in judged if one.pairs or not one.by],
        columns=[column.key for column in _STATS],
    )
    return TabPlan(
        "agreement_groups",
        "Agreement by crew and instrument",
        "For the first measurement. The person is the first of the crew's initials. A line without "
        "a standard deviation has too few pairs.",
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
    if (pairs["left_out"] != "").any():
        columns.append(Column("left_out", "Left out", "text", width=16))
    rows = pairs[["plot", "tree", "crew", "instrument", "doubtful", "left_out"]].copy()
    for objective in objectives:
        key = objective.key
        sides = {"first": "first", "again": "second"} | (
            {} if objective.words else {"difference": "difference"}
        )
        for side, word in sides.items():
            name, label = f"{key}_{side}", f"{objective.label}, {word}"
            if objective.words:
                column = Column(name, label, "text", width=20)
            else:
                width = 10 if side == "difference" else 9
                column = Column(name, label, "number", objective.quantity, width, more_decimals=1)
            rows[name] = differences(pairs, objective) if side == "difference" else pairs[name]
            columns.append(column)
    return TabPlan(
        "agreement_pairs",
        "The pairs",
        "Every tree that is in both workbooks.",
        (Block("pairs", tuple(columns), rows, filtered=True),),
        frozen_columns=2,
        pages_wide=2,
        name="Pairs",
    )


def _chart_data(pairs: pd.DataFrame, charted: Sequence[Judged]) -> TabPlan:
    blocks: list[Block] = []
    for one in charted:
        key, quantity, agreement = one.objective.key, one.objective.quantity, one.agreement
        values = differences(pairs, one.objective)
        known = np.isfinite(values)
        mean = (pairs[f"{key}_first"] + pairs[f"{key}_again"]).to_numpy(float)[known] / 2
        both = pd.DataFrame({"mean": mean, "difference": values[known]})
        lines = pd.DataFrame({"at": [mean.min(), mean.max()]})
        columns = [Column("at", "At", "number", quantity, more_decimals=2)]
        for name in ("bias", "lower", "upper"):
            lines[name] = getattr(agreement, name)
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
    # hidden, so that nobody prints hundreds of rows of points by mistake
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
    objective, agreement = one.objective, one.agreement
    key, unit = objective.key, QUANTITIES[objective.quantity].unit(units)
    bias, lower, upper = (
        in_units(v, objective, units) for v in (agreement.bias, agreement.lower, agreement.upper)
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
        f"Points, one for each tree: first minus second {objective.label.lower()} against the mean "
        f"of both, {agreement.n} trees. Bias {bias:.2f} {unit}, limits of agreement {lower:.2f} "
        f"and {upper:.2f} {unit}.",
        f"Mean of both ({unit})",
        f"First minus second ({unit})",
        (points("Trees", f"{key}_points", "mean", "difference"), *lines),
        "0.0",
    )
