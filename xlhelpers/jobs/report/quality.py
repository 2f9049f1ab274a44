"""How sure the council can be: margins side by side, doubtful entries, remeasured trees."""

from collections import Counter
from collections.abc import Sequence

import numpy as np
import pandas as pd

from xlhelpers.estimates.intervals import interval_cover
from xlhelpers.estimates.remeasured import Judged, agreement_sentence
from xlhelpers.jobs.report import words as words
from xlhelpers.jobs.report.facts import Facts
from xlhelpers.jobs.report.figures import margin_heading
from xlhelpers.jobs.report.numbers import (
    cell_format,
    in_cell,
    unit_in_heading,
    write_ends,
    write_margin,
)
from xlhelpers.jobs.report.verdicts import FIGURES, HEADING, ROUGH, name_figure, rule, verdict
from xlhelpers.jobs.report.verdicts import in_cell as verdict_in_cell
from xlhelpers.pages.looks import with_unit
from xlhelpers.pages.plan import Cell, ChartPlan, Section, Table, bars
from xlhelpers.survey.decisions.carry import RESOLVED
from xlhelpers.survey.plot_roles import EMPTY, LEFT_OUT, MEASURED, MISSING, OUTSIDE
from xlhelpers.survey.trees.records import CUT_BACK
from xlhelpers.wording import list_words, plural

_MARGIN = "The margin is half the distance between the two ends, in % of the figure."
_BASAL_AREA = (
    "Basal area is the area of all stems at breast height, added up: of living trees alone, or "
    "with the dead ones."
)
_MANY_MISSING = 0.1
_COUNT = "#,##0"
_PLOT_ROWS = {
    MEASURED: "Plots measured, with trees",
    EMPTY: "Plots without trees",
    MISSING: "Plots not reached",
    OUTSIDE: "Plots outside the town",
    LEFT_OUT: "Plots that cannot be used",
}
_TREE_ROWS = {
    "total_height": "Living trees with a height",
    "crown_depth": "Living trees with a crown depth",
    "mean_width": "Living trees with a crown width",
    "diameter": "Living trees with a diameter",
}
# the row of the table, and its words behind a number and for all entries
_STATUS = (
    ("Open", "still open", "are still open"),
    ("Accepted by the office", "accepted", "were accepted by the office"),
    ("Not safe to measure", "not safe to measure", "were not safe to measure"),
    (
        "Corrected, or no longer found",
        "corrected or no longer found",
        "were corrected or are no longer found",
    ),
)


def how_sure(facts: Facts) -> Section:
    """Return the margins of the main figures in % of each, and what they leave out."""
    title = "How sure are we?"
    notes = [*_missing_plots(facts), *_area_notes(facts), *_measurement_notes(facts)]
    if facts.mode == "measured":
        text = f"We cannot give a margin or a verdict. {facts.reason} {words.NO_TOWN}"
        return Section("sure", title, (text,), notes=tuple(notes))
    table, chart = _margins(facts)
    if facts.mode == "census":
        text = (
            "Every tree was to be measured, so the figures have no sampling margin. Errors of "
            "measurement remain."
        )
        return Section("sure", title, (text,), table, notes=(rule(facts), *notes))
    notes = [
        _MARGIN,
        *_in_trials(facts),
        *_not_charted(facts),
        rule(facts),
        _BASAL_AREA,
        *facts.estimates.lonely,
        *notes,
    ]
    return Section("sure", title, (words.what_margins_mean(facts),), table, chart, tuple(notes))


def _margins(facts: Facts) -> tuple[Table, ChartPlan | None]:
    """Return each figure with both ends, margin and verdict, and the chart of the margins."""
    rows = [(label, facts.town(name, kind)) for name, kind, label in FIGURES]
    known = [each for each in rows if _is_known(facts, each[1])]
    known_labels = [label for label, _ in known]
    ends = (margin_heading(facts, even=False), "Margin in %") if facts.has_margins else ()
    trials = _has_trials(facts)
    wide = ("",) if facts.has_margins and not trials else ()
    between = (*ends, "Held in trials") if trials else ends
    headings = ("Figure for the whole town", "Estimate", *between, HEADING, *wide)
    body: list[tuple[Cell | None, ...]] = []
    for label, row in known:
        quantity = row["unit_quantity"]
        cells: list[Cell | None] = list(_label_and_value(facts, label, row))
        if facts.has_margins:
            both = write_ends(row["low"], row["high"], quantity, facts.units)
            cells += [Cell(both, right=True), Cell(float(row["margin"] / row["value"]), "0 %")]
        if trials:
            cells.append(Cell(float(row["interval_held"]), "0 %"))
        cells += [Cell(verdict_in_cell(verdict(facts, row))), *(None for _ in wide)]
        body.append(tuple(cells))
    body += [
        _without_margin(facts, label, row, len(headings), trials=trials)
        for label, row in rows
        if label not in known_labels
    ]
    table = Table(headings, tuple(body))
    if len(known) < 2 or not facts.has_margins:
        return table, None
    chart = ChartPlan(
        "",
        "bars",
        "Margin in % of each figure: shorter bars are more certain",
        "Bars: the margin of each figure in % of it, as in the table above.",
        "",
        "",
        (bars("Margin", len(known), 3),),
        "0 %",
        height=140 + 34 * len(known),
    )
    return table, chart


def _has_trials(facts: Facts) -> bool:
    """Return whether any figure of the town has a share held in trials."""
    rows = (facts.town(name, kind) for name, kind, _ in FIGURES)
    return facts.has_margins and any(np.isfinite(row["interval_held"]) for row in rows)


def _in_trials(facts: Facts) -> list[str]:
    """Return what the share held in trials is, and on which side the others were."""
    if not _has_trials(facts):
        return []
    trees, mean = facts.town("trees", "total"), facts.town("mean_height", "mean")
    share = interval_cover(int(trees["plots"]), facts.confidence, "share")
    sides = [
        f"{what}{100 * above:.0f} % and {100 * below:.0f} %"
        for above, below, what in (
            (mean["interval_above"], mean["interval_below"], "means it was "),
            (share.above, share.below, "shares it was "),
        )
        if np.isfinite(above)
    ]
    above, below = (100 * float(trees[name]) for name in ("interval_above", "interval_below"))
    return [
        "“Held in trials” shows how often the true value was between such ends. It comes from "
        "thousands of surveys of invented towns where all trees are known, and gives the worst "
        f"town. Both ends of a total were too high in up to {above:.0f} % of the surveys and too "
        f"low in up to {below:.0f} %. For {', for '.join(sides)}."
    ]


def _not_charted(facts: Facts) -> list[str]:
    """Return which figures have no bar in the chart of margins, and why."""
    rows = [(label, facts.town(name, kind)) for name, kind, label in FIGURES]
    labels = [name_figure(label) for label, row in rows if not _is_known(facts, row)]
    if not labels or len(rows) - len(labels) < 2:
        return []
    return [f"Not in the chart, because there is no margin: {list_words(labels)}."]


def _label_and_value(facts: Facts, label: str, row: pd.Series) -> tuple[Cell, Cell]:
    quantity = row["unit_quantity"]
    unit = unit_in_heading(quantity, facts.units)
    number = _COUNT if row["kind"] == "total" else cell_format(quantity, facts.units)
    return (
        Cell(label),
        Cell(in_cell(row["value"], quantity, facts.units), with_unit(number, unit)),
    )


def _without_margin(
    facts: Facts, label: str, row: pd.Series, columns: int, *, trials: bool
) -> tuple[Cell | None, ...]:
    """Return the line of a figure that is not known, is 0, or has no margin."""
    if row["value"] > 0:
        dash = Cell("—", right=True)
        ends = (Cell("not known", right=True), dash, *((dash,) if trials else ()))
        last = () if trials else (None,)
        return (*_label_and_value(facts, label, row), *ends, Cell(verdict_in_cell(ROUGH)), *last)
    text = "none found" if row["value"] == 0 else words.short_reason(row)
    return (Cell(label), Cell(text), *(None for _ in range(columns - 2)))


def _is_known(facts: Facts, row: pd.Series) -> bool:
    """Return whether a figure is there, and in a sample its margin too."""
    has_margin = not facts.has_margins or np.isfinite(row["margin"])
    return bool(has_margin and row["value"] > 0)


def _missing_plots(facts: Facts) -> list[str]:
    counts = facts.plots["counted_as"].value_counts()
    missing, used = int(counts.get(MISSING, 0)), _used_plots(facts)
    if not missing:
        return []
    were = "was" if missing == 1 else "were"
    text = f"{missing} of {missing + used} plots {were} not reached ({_reasons(facts, MISSING)})."
    if facts.mode == "measured":
        return [text]
    if facts.mode == "census":
        return [f"{text} Their trees are not in these figures."]
    text += " We treat them like the others in their part of the town."
    if missing > _MANY_MISSING * (missing + used):
        text += " If they are different, the figures are less certain than the margins say."
    return [text]


# why a plot does not count, behind a number
_BECAUSE = {
    "later": "left for later",
    "none of its trees is entered": "with no tree entered",
    "no part of it was walked": "not walked",
    "its area is missing": "without an area",
    "it has no number": "without a number",
    "its part of the town is not on Strata": "of an unknown part of the town",
    "its area is too small for a plot: were hectares or acres typed?": "with an impossible area",
}


def _reasons(facts: Facts, role: str) -> str:
    """Return why plots are counted as they are, with their number: "2 refused, 1 not safe"."""
    because = facts.plots.loc[facts.plots["counted_as"] == role, "because"]
    counts = because.value_counts(sort=False)
    words_of = ((_BECAUSE.get(str(why), str(why)), count) for why, count in counts.items())
    return ", ".join(f"{count} {text}" for text, count in words_of)


def _area_notes(facts: Facts) -> list[str]:
    """Return what of the plots could not be walked, and which areas of the town were derived."""
    table = facts.estimates.strata
    notes = []
    lost, walked = (float(table[name].sum()) for name in ("not_reached", "area_sampled"))
    if lost > 0 and facts.mode != "measured":
        share = 100 * lost / (lost + walked)
        share_text = f"{share:.0f} %" if share >= 1 else "Less than 1 %"
        what = "We treat it like the rest of its part of the town."
        if facts.mode == "census":
            what = "Its trees are not in these figures."
        notes.append(f"{share_text} of the area of the plots could not be walked. {what}")
    derived = table["area"].isna() & table["plots_possible"].notna()
    if facts.mode == "sample" and derived.any() and (table["area_sampled"] > 0).all():
        names = list_words([str(name) for name in table.loc[derived, "stratum"]])
        notes.append(
            f"The area of {names} is not stated. We use the number of plots that would fit, times "
            "their mean area."
        )
    return notes


def _used_plots(facts: Facts) -> int:
    return int(facts.plots["counted_as"].isin((MEASURED, EMPTY)).sum())


def _measurement_notes(facts: Facts) -> list[str]:
    row = facts.town("mean_height", "mean")
    shifts = [
        f"by {write_margin(float(row[name]), 'length', facts.units)} because of the {who}"
        for name, who in (
            ("measurement_systematic", "instruments"),
            ("measurement_observer", "people who measure"),
        )
        if np.isfinite(row[name])
    ]
    notes = []
    if shifts:
        notes.append(
            f"All heights may also be too high or too low together: {' and '.join(shifts)} "
            "(standard uncertainty of the mean height). Measuring more trees does not reduce this."
        )
    checking = words.still_in_doubt(facts)
    return [*notes, f"{checking} The figures may still change."] if checking else notes


def what_was_measured(facts: Facts, rechecked: bool) -> Section:
    """Return plots by what became of them, and how many trees have which value."""
    counts = facts.plots["counted_as"].value_counts()
    trees = facts.outcome.trees
    living = trees[trees["condition"] != "D"]
    rows = {label: int(counts.get(role, 0)) for role, label in _PLOT_ROWS.items()}
    rows = {label: count for label, count in rows.items() if count}
    rows["Trees entered"] = len(trees)
    rows |= {label: int(living[name].notna().sum()) for name, label in _TREE_ROWS.items()}
    special = {
        "Trees that were cut back": trees["condition"] == CUT_BACK,
        "Diameters not measured at breast height (basal area counts them)": trees[
            ["diameter", "diameter_at"]
        ]
        .notna()
        .all(axis=1),
        "Heights estimated by eye": trees["height_by_eye"].notna(),
    }
    rows |= {label: int(flags.sum()) for label, flags in special.items() if flags.any()}
    rows["Trees measured from two or more places"] = int((trees["n_total"] > 1).sum())
    used = _used_plots(facts)
    if len(trees) == 0:
        return _nothing_measured(rows)
    text = f"The survey has {plural(len(trees), 'tree')}. The figures use {plural(used, 'plot')}."
    notes = []
    if not rechecked:
        notes.append("No trees were remeasured, so we do not know how well two crews agree.")
    inside = int(facts.town("trees", "total")["trees"])
    if 0 < inside < len(trees):
        outside = len(trees) - inside
        notes.append(
            f"{plural(outside, 'tree')} {'is' if outside == 1 else 'are'} not in the figures, "
            "because the plot cannot be used or is not listed."
        )
    if LEFT_OUT in facts.plots["counted_as"].to_numpy(dtype=object):
        reasons = _reasons(facts, LEFT_OUT)
        notes.append(f"Plots that cannot be used: {reasons}.")
    short = (facts.plots["trees_counted"] - facts.plots["trees"]).clip(lower=0)
    more = float(short[facts.plots["counted_as"].isin((MEASURED, EMPTY))].sum())
    if more > 0:
        trees_more = "tree" if more == 1 else "trees"
        notes.append(f"The crews counted {more:,.0f} more {trees_more} than are entered.")
    body = tuple((Cell(label), Cell(float(count), _COUNT)) for label, count in rows.items())
    table = Table(("", "How many"), body)
    return Section("measured", "What was measured", (text,), table, notes=tuple(notes))


def _nothing_measured(rows: dict[str, int]) -> Section:
    """Return the plots of a survey without trees, by what became of them."""
    title, text = "What was measured", "No tree is entered yet."
    plots = {label: count for label, count in rows.items() if label in _PLOT_ROWS.values()}
    if not plots:
        return Section("measured", title, (f"{text} No plot is entered either.",))
    body = tuple((Cell(label), Cell(float(count), _COUNT)) for label, count in plots.items())
    return Section("measured", title, (text,), Table(("", "How many"), body))


def findings(facts: Facts) -> Section:
    """Return the status of the errors and warnings, and how many were corrected."""
    title, rows = "Missing or doubtful entries", _status(facts)
    sums = [errors + warnings for errors, warnings in rows]
    if not sum(sums):
        text = "The checks found no missing or doubtful entries."
        if len(facts.outcome.survey.lines) == 0:
            text = "Nothing is entered yet, so there was nothing to check."
        return Section("findings", title, (text,))
    body = tuple(
        (Cell(label), *(Cell(float(count), _COUNT) for count in (*row, sum(row))))
        for (label, _, _), row in zip(_STATUS, rows, strict=True)
    )
    chart = ChartPlan(
        "",
        "bars",
        "Missing or doubtful entries by status",
        "Bars: how many findings are open, accepted, not safe to measure and corrected, as in the "
        "table above.",
        "",
        "Findings",
        (bars("Findings", len(body), 3),),
        "0",
        height=240,
    )
    table = Table(("Status", "Errors", "Warnings", "Total"), body)
    return Section("findings", title, (_findings_sentence(sums),), table, chart)


def _findings_sentence(sums: Sequence[int]) -> str:
    total = sum(sums)
    named = [(count, *each[1:]) for count, each in zip(sums, _STATUS, strict=True) if count]
    entries = "entry" if total == 1 else "entries"
    start = f"The checks found {total:,} missing or doubtful {entries}"
    if len(named) == 1 and total > 1:
        return f"{start}. All {named[0][2]}."
    return f"{start}: {', '.join(f'{count:,} {short}' for count, short, _ in named)}."


def _status(facts: Facts) -> list[tuple[int, int]]:
    """Return the errors and warnings of each status."""
    outcome = facts.outcome
    states: Counter[tuple[str, str]] = Counter(
        (standing.state, finding.severity)
        for finding, standing in zip(outcome.findings, outcome.standings, strict=True)
    )
    states.update(
        ("corrected", entry.decision.texts.severity)
        for entry in outcome.ledger.log
        if entry.became in RESOLVED
    )
    return [
        (
            sum(states[state, "error"] for state in group),
            sum(states[state, "warning"] for state in group),
        )
        for group in (("open", "reopened"), ("accepted",), ("not safe",), ("corrected",))
    ]


def recheck(facts: Facts, judged: Sequence[Judged]) -> Section:
    """Return how well a second measurement agreed, in one sentence a quantity."""
    whole = [one for one in judged if not one.by and one.pairs]
    most = max((one.pairs for one in whole), default=0)
    text = f"{words.count_found(most)} remeasured, to see how well both measurements agree."
    body: tuple[tuple[Cell | None, ...], ...] = tuple(
        (
            Cell(one.objective.label),
            Cell(float(one.pairs), _COUNT),
            Cell(agreement_sentence(one, facts.units)),
            None,
            None,
            None,
        )
        for one in whole
    )
    table = Table(("Quantity", "Pairs", "How well they agree", "", "", ""), body, small=True)
    return Section("recheck", "Remeasured trees", (text,), table if body else None)
