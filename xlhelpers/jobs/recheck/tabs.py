"""The report on remeasured trees: a sentence a quantity, tables by group, charts, pairs."""

from collections.abc import Sequence
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.estimates.remeasured import (
    GROUPS,
    Judged,
    Objective,
    agreement_sentence,
    differences,
    in_units,
)
from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.jobs.recheck import words
from xlhelpers.jobs.recheck.book import objectives_tab
from xlhelpers.pages.plan import Block, ChartGrid, ChartPlan, Column, TabPlan, points
from xlhelpers.pages.render import render_book

_CHARTED = ("total_height", "crown_base", "crown_depth", "diameter")


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
        "by": GROUPS.get(judged.by, words.ALL_GROUPS),
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
    doubtful = int((pairs["doubtful"] != "").sum())
    left_out = int((pairs["left_out"] != "").sum())
    shares = {one.share for one in objectives if one.is_set}
    tabs = [
        _summary_tab(
            _sentences_block(judged, units),
            charts,
            words.say_pairs(len(pairs), names, known=known),
            words.explain_agreement(doubtful, left_out, shares, known=known),
        ),
        _groups_tab(judged, units),
        _pairs_tab(pairs, objectives, units),
        objectives_tab(objectives, units),
        _chart_data(pairs, charted),
    ]
    return render_book(tabs, units)


def _summary_tab(
    block: Block, charts: tuple[ChartPlan, ...], purpose: str, remarks: tuple[str, ...]
) -> TabPlan:
    return TabPlan(
        "agreement",
        words.AGREEMENT_TITLE,
        purpose,
        (block, *((ChartGrid(charts),) if charts else ())),
        remarks,
        frozen_headings=False,
        name=words.AGREEMENT_TAB,
    )


def _sentences_block(judged: Sequence[Judged], units: Units) -> Block:
    rows = pd.DataFrame(
        [
            {"text": agreement_sentence(one, units), "source": one.objective.source}
            for one in judged
            if not one.by
        ]
    )
    return Block("sentences", words.SENTENCE_COLUMNS, rows)


def _groups_tab(judged: Sequence[Judged], units: Units) -> TabPlan:
    rows = pd.DataFrame(
        [_row(one, units) for one in judged if one.pairs or not one.by],
        columns=[column.key for column in words.GROUP_COLUMNS],
    )
    return TabPlan(
        "agreement_groups",
        words.GROUPS_TITLE,
        words.GROUPS_PURPOSE,
        (Block("groups", words.GROUP_COLUMNS, rows, filtered=True),),
        frozen_columns=3,
        pages_wide=2,
        name=words.GROUPS_TAB,
    )


def _pairs_tab(pairs: pd.DataFrame, objectives: Sequence[Objective], units: Units) -> TabPlan:
    columns = list(words.PAIR_COLUMNS)
    rows = pairs[[column.key for column in columns]].copy()
    for objective in objectives:
        key = objective.key
        for side, word in words.SIDES.items():
            name, label = f"{key}_{side}", f"{objective.label}, {word}"
            is_difference = side == "difference"
            if not objective.words:
                width = 10 if is_difference else 9
                column = Column(name, label, "number", objective.quantity, width, more_decimals=1)
            elif not is_difference:
                column = Column(name, label, "text", width=20)
            else:
                continue
            rows[name] = differences(pairs, objective) if is_difference else pairs[name]
            columns.append(column)
    return TabPlan(
        "agreement_pairs",
        words.PAIRS_TITLE,
        words.PAIRS_PURPOSE,
        (Block("pairs", tuple(columns), rows, filtered=True),),
        frozen_columns=2,
        pages_wide=2,
        name=words.PAIRS_TAB,
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
        columns = [_chart_column("at", quantity)]
        for name in ("bias", "lower", "upper"):
            lines[name] = getattr(agreement, name)
            columns.append(_chart_column(name, quantity))
        blocks += [
            Block(
                f"{key}_points",
                (_chart_column("mean", quantity), _chart_column("difference", quantity)),
                both,
                title=one.objective.label,
            ),
            Block(f"{key}_lines", tuple(columns), lines),
        ]
    # hidden, so that nobody prints hundreds of rows of points by mistake
    return TabPlan(
        "agreement_charts",
        words.CHART_DATA_TITLE,
        "",
        tuple(blocks),
        frozen_headings=False,
        name=words.CHART_DATA_TAB,
        hidden=True,
    )


def _chart_column(name: str, quantity: str) -> Column:
    return Column(name, words.CHART_COLUMNS[name], "number", quantity, more_decimals=2)


def _chart(one: Judged, units: Units) -> ChartPlan:
    objective, agreement = one.objective, one.agreement
    key, unit = objective.key, QUANTITIES[objective.quantity].unit(units)
    bias, lower, upper = (
        in_units(v, objective, units) for v in (agreement.bias, agreement.lower, agreement.upper)
    )
    lines = tuple(
        points(label, f"{key}_lines", "at", name, "line" if name == "bias" else "dashed line")
        for name, label in words.CHART_LINES.items()
    )
    return ChartPlan(
        f"xlh_chart_agreement_{key}",
        "points",
        words.CHART_TITLE.format(label=objective.label),
        words.describe_chart(one, (bias, lower, upper), unit),
        words.CHART_ACROSS.format(unit=unit),
        words.CHART_UP.format(unit=unit),
        (points(words.CHART_POINTS, f"{key}_points", "mean", "difference"), *lines),
        "0.0",
    )
