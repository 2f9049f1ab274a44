"""What would make the figures better: how many plots halve a margin, and how many field days.

The new plots are taken to be spread over the parts of the town as the old ones are, and to vary
as much. With k times the plots the variance of a figure is then that of today times
(1 - k f) / (1 - f) / k, f being the share of all plots possible that was sampled (Cochran 1977,
section 2.6), and Student's t has k times the plots behind it. `plan` does the same with the
variation of each part of the town.
"""

import math

import pandas as pd

from xlhelpers.estimates.intervals import FEW_PLOTS, STATED_CONFIDENCE
from xlhelpers.estimates.limits import limits
from xlhelpers.estimates.quantities import scale_of
from xlhelpers.jobs.report.facts import Facts
from xlhelpers.jobs.report.numbers import percent
from xlhelpers.jobs.report.verdicts import FIGURES, name_figure, relative_margin
from xlhelpers.pages.plan import Cell, Section, Table
from xlhelpers.survey.plot_roles import EMPTY, MEASURED, MISSING
from xlhelpers.wording import plural

_MOST_PLOTS = 1_000_000
_TITLE = "What would make the figures better?"


def half_margin_plots(row: pd.Series, plots: int, fraction: float, confidence: float) -> int | None:
    """Return the fewest plots that halve the margin of a figure.

    Parameters
    ----------
    row : Series
        Its row of the estimates.
    plots : int
        Plots behind it today.
    fraction : float
        Share of all plots possible that was sampled, 0 unknown.
    confidence : float
        Of the margin, above 0 and below 1.

    Returns
    -------
    int or None
        All the plots there are, today's included; None where the figure has no margin or a
        million plots are not enough.

    References
    ----------
    Cochran1977
    """
    wanted = _half_width(row, plots, plots, fraction, confidence) / 2
    if not (math.isfinite(wanted) and wanted > 0 and 0 <= fraction < 1):
        return None
    low, high = plots, int(min(plots / fraction if fraction > 0 else _MOST_PLOTS, _MOST_PLOTS))
    if not _half_width(row, plots, high, fraction, confidence) <= wanted:
        return None
    while low < high:
        middle = (low + high) // 2
        if _half_width(row, plots, middle, fraction, confidence) <= wanted:
            high = middle
        else:
            low = middle + 1
    return low


def _half_width(
    row: pd.Series, plots: int, wanted: int, fraction: float, confidence: float
) -> float:
    """Return half the distance between both ends with so many plots in place of today's."""
    times = wanted / plots
    left = max(1 - times * fraction, 0.0) / (1 - fraction) if fraction < 1 else 0.0
    error = float(row["standard_error"]) * math.sqrt(left / times)
    freedom = times * (float(row["degrees_of_freedom"]) + 1) - 1
    scale = scale_of(str(row["quantity"]), str(row["kind"]))
    low, high = limits([float(row["value"])], [error], [freedom], confidence, scale)
    return float((high - low)[0]) / 2


def sampled_fraction(facts: Facts) -> float:
    """Return the share of all plots possible that was sampled, 0 where that is not known."""
    table = facts.estimates.strata
    used, fraction = (table[name].to_numpy(dtype=float) for name in ("used", "fraction"))
    if not len(table) or not (fraction > 0).all():
        return 0.0
    return min(float(used.sum() / (used / fraction).sum()), 1.0)


def plots_a_day(facts: Facts) -> float:
    """Return how many plots the survey did in a day, NaN where a plot has no date."""
    used = facts.plots["counted_as"].isin((MEASURED, EMPTY)).to_numpy(dtype=bool)
    dates = facts.outcome.survey.plots["date"][used]
    if not len(dates) or dates.isna().any():
        return math.nan
    return len(dates) / int(dates.dt.normalize().nunique())


def days_for(more: int, pace: float) -> int:
    """Return how many field days so many more plots take."""
    return math.ceil(more / pace - 1e-9)


def half_margins(facts: Facts) -> list[tuple[str, float, int | None]]:
    """Return label, margin as a share, and plots for half of it, of each figure with a margin."""
    used, fraction = _used_plots(facts), sampled_fraction(facts)
    margins: list[tuple[str, float, int | None]] = []
    for quantity, kind, label in FIGURES:
        row = facts.town(quantity, kind)
        margin = relative_margin(facts, row)
        if not (math.isfinite(margin) and margin > 0):
            continue
        is_few = int(row["plots_with"]) < FEW_PLOTS
        plots = None if is_few else half_margin_plots(row, used, fraction, STATED_CONFIDENCE)
        margins.append((label, margin, plots))
    return margins


def what_would_help(facts: Facts) -> Section:
    """Return for each figure of the town how many plots halve its margin, and the field days."""
    first = _first_of_all(facts)
    if facts.mode == "measured":
        text = f"A figure for the whole town comes first. {facts.reason}"
        return Section("better", _TITLE, (text,), notes=first)
    if facts.mode == "census":
        text = "More plots cannot help, because every tree was to be measured."
        if not first:
            text += " Nothing is missing."
        return Section("better", _TITLE, (text,), notes=first)
    rows, pace = half_margins(facts), plots_a_day(facts)
    if not rows:
        text = "No figure has a margin yet. Measure at least two plots in every part of the town."
        return Section("better", _TITLE, (text,), notes=first)
    used, has_days = _used_plots(facts), math.isfinite(pace)
    body: list[tuple[Cell | None, ...]] = []
    for label, margin, plots in rows:
        if plots is None:
            body.append(
                (
                    Cell(label),
                    Cell(margin, "0 %"),
                    Cell("too few plots to say"),
                    None,
                    *((None,) if has_days else ()),
                )
            )
            continue
        more = plots - used
        days = (Cell(float(days_for(more, pace)), "#,##0"),) if has_days else ()
        counts = (Cell(float(count), "#,##0") for count in (plots, more))
        body.append((Cell(label), Cell(margin, "0 %"), *counts, *days))
    headings: tuple[str, ...]
    headings = ("Figure for the whole town", "Margin in %", "Plots for half of it", "More plots")
    headings += ("More days",) if has_days else ()
    table = Table(headings, tuple(body))
    text = _main_sentence(rows, used, pace)
    is_known = any(plots is not None for _, _, plots in rows)
    notes = (*first, _how(facts, pace)) if is_known else first
    return Section("better", _TITLE, (text,), table, notes=notes)


def _main_sentence(rows: list[tuple[str, float, int | None]], used: int, pace: float) -> str:
    known = [(label, margin, plots) for label, margin, plots in rows if plots is not None]
    if not known:
        return "The figures are based on too few plots to say how many would halve a margin."
    label, margin, plots = known[0]
    more = plots - used
    text = (
        f"{plural(plots, 'plot')} in place of {used:,} would halve the margin of the "
        f"{name_figure(label)}, from {100 * margin:.0f} % to about {50 * margin:.0f} %."
    )
    if math.isfinite(pace):
        text += f" That is {plural(days_for(more, pace), 'more day')} in the field."
    return text


def _how(facts: Facts, pace: float) -> str:
    fraction = sampled_fraction(facts)
    text = (
        "This assumes that new plots are selected at random, are spread over the parts of the "
        "town as now, and vary as the measured ones do. In about half of such surveys the margin "
        "comes out somewhat larger."
    )
    if facts.confidence != STATED_CONFIDENCE:
        text += f" Like the verdicts, this uses margins at {percent(STATED_CONFIDENCE)}."
    if fraction == 0:
        text += " How many plots the town could hold is not known, so that is left out."
    if math.isfinite(pace):
        return f"{text} The pace is that of this survey: {_pace_words(facts, pace)}."
    return f"{text} Field days are not given, because some plots have no date."


def _pace_words(facts: Facts, pace: float) -> str:
    used = _used_plots(facts)
    days = round(used / pace)
    return f"{plural(used, 'plot')} on {plural(days, 'day')}, {pace:.1f} a day"


def _first_of_all(facts: Facts) -> tuple[str, ...]:
    """Return what can be had without another plot: doubtful entries, plots not reached."""
    notes = []
    doubtful = facts.trees_in_doubt
    if doubtful:
        notes.append(
            f"First check the missing or doubtful entries of {plural(doubtful, 'tree')}: that "
            "needs no new plot."
        )
    missing = int((facts.plots["counted_as"] == MISSING).sum())
    if missing:
        them = "it was" if missing == 1 else "they were"
        notes.append(
            f"{plural(missing, 'plot')} can still be measured, if {them} left out for a reason "
            "that has passed."
        )
    return tuple(notes)


def _used_plots(facts: Facts) -> int:
    return int(facts.plots["counted_as"].isin((MEASURED, EMPTY)).sum())
