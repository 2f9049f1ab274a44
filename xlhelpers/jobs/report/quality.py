"""How sure the council can be: margins side by side, findings and where they stand, rechecks."""

from collections import Counter
from collections.abc import Sequence

import numpy as np
import pandas as pd

from xlhelpers.estimates.remeasured import Judged, agreement_sentence
from xlhelpers.fields.quantities import QUANTITIES
from xlhelpers.jobs.report import words as words
from xlhelpers.jobs.report.facts import Facts
from xlhelpers.jobs.report.numbers import cell_format, in_cell, percent, said_margin
from xlhelpers.jobs.report.sections import margin_heading
from xlhelpers.pages.plan import Cell, ChartPlan, Section, Table, bars
from xlhelpers.survey.decisions.carry import NO_LONGER_FOUND
from xlhelpers.survey.decisions.decisions import MENDED
from xlhelpers.survey.plot_roles import EMPTY, LEFT_OUT, MEASURED, MISSING, OUTSIDE

_COMPARED = (
    ("trees", "total", "Trees"),
    ("mean_height", "mean", "Mean height"),
    ("mean_crown_depth", "mean", "Mean crown depth"),
    ("mean_crown_width", "mean", "Mean crown width"),
    ("mean_diameter", "mean", "Mean stem diameter"),
    ("basal_area", "total", "Basal area"),
    ("crown_cover_random_overlap", "share", "Crown cover, random overlap"),
)
_BASAL_AREA = "Basal area is the area of all stems at breast height, added up."
_MANY_MISSING = 0.1
_NO_RECHECK = (
    "No trees were measured twice for a check, so nothing is said of how well a second crew would "
    "agree."
)
_COUNTED = "#,##0"
_NOT_REACHED = {
    MEASURED: "Plots measured, with trees",
    EMPTY: "Plots without trees",
    MISSING: "Plots not reached",
    OUTSIDE: "Plots outside the town",
    LEFT_OUT: "Plots that cannot be counted",
}
_HAVE = (
    ("total_height", "with a height"),
    ("crown_depth", "with a crown depth"),
    ("mean_width", "with a crown width"),
    ("diameter", "with a diameter"),
)


def how_sure(facts: Facts) -> Section:
    """Return the margins of the main figures in per cent of each, and what they leave out."""
    title = "How sure we are"
    if facts.mode == "nothing":
        return Section("sure", title, ("There are no figures to be sure of.",))
    if facts.mode == "measured":
        text = f"No margin can be given. {facts.because} {words.NOTHING_OF_THE_TOWN}"
        return Section("sure", title, (text,), notes=tuple(_measuring(facts)))
    if facts.mode == "census":
        text = (
            "Every tree was to be measured, so the figures have no sampling margin. Errors of "
            "measuring remain."
        )
        return Section("sure", title, (text,), notes=(*_missing(facts), *_measuring(facts)))
    rows = [(label, facts.town(name, kind)) for name, kind, label in _COMPARED]
    known = [(label, row) for label, row in rows if _has_margin(row)]
    table, chart = _margins(facts, known, [row for row in rows if not _has_margin(row[1])])
    sure = percent(facts.confidence)
    text = (
        f"Only some plots were measured, so every figure has a margin. Of 100 surveys like this "
        f"one, about {sure.split()[0]} would have margins that hold the true value."
    )
    return Section(
        "sure",
        title,
        (text,),
        table,
        chart,
        (_BASAL_AREA, *_few_plots(facts), *_missing(facts), *_measuring(facts)),
    )


def _has_margin(row: pd.Series) -> bool:
    return bool(np.isfinite(row["margin"]) and row["value"] > 0)


def _margins(
    facts: Facts, known: Sequence[tuple[str, pd.Series]], others: Sequence[tuple[str, pd.Series]]
) -> tuple[Table, ChartPlan | None]:
    body: list[tuple[Cell | None, ...]] = []
    for label, row in known:
        quantity, number = row["unit_quantity"], cell_format(row["unit_quantity"], facts.units)
        unit = QUANTITIES[quantity].unit(facts.units)
        shown = f"{label} ({unit})" if unit not in ("", "%") else label
        number = _COUNTED if row["kind"] == "total" else number
        body.append(
            (
                Cell(shown),
                Cell(in_cell(row["value"], quantity, facts.units), number),
                Cell(in_cell(row["margin"], quantity, facts.units), number),
                Cell(float(row["margin"] / row["value"]), "0%"),
            )
        )
    body += [(Cell(label), Cell(words.short_reason(row)), None, None) for label, row in others]
    headings = (
        "Figure for the whole town",
        "Estimate",
        margin_heading(facts),
        "In % of the figure",
    )
    if len(known) < 2:
        return Table(headings, tuple(body)), None
    title = "Margins in per cent of each figure: the shorter, the surer"
    chart = ChartPlan(
        "",
        "bars",
        title,
        "Bars: the margin of each figure in per cent of it, as in the table above.",
        "",
        "give or take, in % of the figure",
        (bars("Margin", len(known), 3),),
        "0%",
        height=110 + 26 * len(known),
    )
    return Table(headings, tuple(body)), chart


def _few_plots(facts: Facts) -> list[str]:
    row = facts.town("trees", "total")
    held = float(row["interval_held"])
    if not np.isfinite(held):
        return []
    return [
        f"With {int(row['plots'])} plots the margins are somewhat too narrow: in trials with towns "
        f"of known trees, margins called {percent(facts.confidence)} held the true total in about "
        f"{100 * held:.0f} of 100 surveys."
    ]


def _missing(facts: Facts) -> list[str]:
    counts = facts.plots["counted_as"].value_counts()
    missing = int(counts.get(MISSING, 0))
    used = int(counts.get(MEASURED, 0) + counts.get(EMPTY, 0))
    if not missing:
        return []
    of = f"{missing} of {missing + used} plots were not reached"
    if facts.mode == "census":
        return [f"{of}; their trees are not in the figures."]
    text = f"{of}; the figures take them to be like the others of their part of the town."
    if missing > _MANY_MISSING * (missing + used):
        text += " If they differ, the figures are off by more than the margins say."
    return [text]


def _measuring(facts: Facts) -> list[str]:
    row = facts.town("mean_height", "mean")
    shifts = [
        f"{who} by {said_margin(float(row[name]), 'length', facts.units)}"
        for name, who in (
            ("measurement_systematic", "instruments"),
            ("measurement_observer", "differences between the people who measure"),
        )
        if np.isfinite(row[name])
    ]
    said = []
    if shifts:
        said.append(
            f"Beside this, all heights could be shifted alike, {' and '.join(shifts)} (standard "
            "uncertainty of the mean height); more trees do not lessen that."
        )
    trees = facts.town("trees", "total")
    if trees["open_trees"]:
        said.append(
            f"{int(trees['open_trees']):,} of the {int(trees['trees']):,} trees rest on readings "
            "with findings that are still open; what they turn out to be may change the figures."
        )
    return said


def what_was_measured(facts: Facts, rechecked: bool) -> Section:
    """Return plots by what became of them, and how many trees have which value."""
    counts = facts.plots["counted_as"].value_counts()
    rows = [(label, int(counts.get(word, 0))) for word, label in _NOT_REACHED.items()]
    rows = [row for row in rows if row[1]]
    trees = facts.outcome.trees
    living = trees[trees["condition"] != "D"]
    rows.append(("Trees keyed", len(trees)))
    rows += [(f"Living trees {label}", int(living[name].notna().sum())) for name, label in _HAVE]
    rows.append(("Trees sighted from more than one place", int((trees["n_total"] > 1).sum())))
    used = int(counts.get(MEASURED, 0) + counts.get(EMPTY, 0))
    text = f"The survey holds {len(trees):,} trees; {used:,} plots are counted."
    notes = [] if rechecked else [_NO_RECHECK]
    inside = int(facts.town("trees", "total")["trees"])
    if 0 < inside < len(trees):
        notes.append(
            f"{len(trees) - inside:,} keyed trees stand on plots that cannot be counted, or on "
            "none that is listed; they are in no figure of the pages before."
        )
    short = (facts.plots["trees_counted"] - facts.plots["trees"]).clip(lower=0)
    more = float(short[facts.plots["counted_as"].isin((MEASURED, EMPTY))].sum())
    if more > 0:
        notes.append(f"The crews counted {more:,.0f} trees more on these plots than are keyed.")
    body = tuple((Cell(label), Cell(float(count), _COUNTED)) for label, count in rows)
    return Section(
        "measured", "What was measured", (text,), Table(("", "How many"), body), notes=tuple(notes)
    )


def findings(facts: Facts) -> Section:
    """Return where the errors and warnings stand, and how many were mended."""
    title = "What did not fit together"
    rows = _standing(facts)
    still_open, accepted, unsafe, mended = (errors + warnings for _, errors, warnings in rows)
    total = still_open + accepted + unsafe + mended
    if not total:
        text = "The checks found nothing that does not fit together."
        if len(facts.outcome.survey.lines) == 0:
            text = "Nothing is keyed yet, so there was nothing to check."
        return Section("findings", title, (text,))
    things = "thing that does" if total == 1 else "things that do"
    counts = [f"{n:,}" if n else "none" for n in (still_open, accepted, unsafe, mended)]
    text = (
        f"The checks found {total:,} {things} not fit together: {counts[0]} still open, "
        f"{counts[1]} accepted, {counts[2]} closed as not safe to measure, {counts[3]} mended or "
        "no longer found."
    )
    body = tuple(
        (Cell(label), *(Cell(float(n), _COUNTED) for n in (errors, warnings, errors + warnings)))
        for label, errors, warnings in rows
    )
    chart = ChartPlan(
        "",
        "bars",
        "Findings and where they stand",
        "Bars: how many findings are open, accepted, closed and mended, as in the table above.",
        "",
        "Findings",
        (bars("Findings", len(body), 3),),
        "0",
        height=190,
    )
    headings = ("Where it stands", "Errors", "Warnings", "Together")
    return Section("findings", title, (text,), Table(headings, body), chart)


def _standing(facts: Facts) -> list[tuple[str, int, int]]:
    """Return (where it stands, errors, warnings): open, accepted, not safe, mended."""
    outcome = facts.outcome
    stands: Counter[tuple[str, str]] = Counter(
        (standing.state, finding.severity)
        for finding, standing in zip(outcome.findings, outcome.standings, strict=True)
    )
    left: Counter[str] = Counter(
        entry.decision.told.severity
        for entry in outcome.ledger.log
        if entry.became in (MENDED, NO_LONGER_FOUND) and entry.decision.told.severity != "note"
    )

    def both(*states: str) -> tuple[int, int]:
        errors, warnings = (
            sum(stands[state, severity] for state in states) for severity in ("error", "warning")
        )
        return errors, warnings

    return [
        ("Open", *both("open", "reopened")),
        ("Accepted by the office", *both("accepted")),
        ("Closed as not safe to measure", *both("not safe")),
        ("Mended, or no longer found", left["error"], left.total() - left["error"]),
    ]


def recheck(facts: Facts, judged: Sequence[Judged]) -> Section:
    """Return how well a second measurement agreed, in one sentence a quantity."""
    whole = [one for one in judged if not one.by and one.pairs]
    most = max((one.pairs for one in whole), default=0)
    said = f"{words.counted(most)} measured a second time, to see how well both agree."
    body: tuple[tuple[Cell | None, ...], ...] = tuple(
        (
            Cell(one.objective.label),
            Cell(float(one.pairs), _COUNTED),
            Cell(agreement_sentence(one, facts.units)),
            None,
            None,
        )
        for one in whole
    )
    table = Table(("Quantity", "Pairs", "How well they agree", "", ""), body, small=True)
    return Section("recheck", "Measured again", (said,), table if body else None)
