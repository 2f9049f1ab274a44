"""One quantity of one scope in all domains of a kind: values, margins, and words."""

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.estimates.design import Estimated
from xlhelpers.estimates.domains import Domains
from xlhelpers.estimates.intervals import BY_FEW, FEW_PLOTS, STATED_CONFIDENCE, interval_cover
from xlhelpers.estimates.measuring import Parts
from xlhelpers.estimates.quantities import LABELS, scale_of
from xlhelpers.estimates.rough_kinds import is_rough_kind
from xlhelpers.estimates.scopes import Scope
from xlhelpers.survey.columns import Column, Table
from xlhelpers.survey.setups.instruments import Texts, Values
from xlhelpers.survey.typed.folding import Flags, Positions

ROWS = Table(
    (
        Column("scope_kind", "text", "town or stratum."),
        Column("scope", "text", 'Name of the stratum, "" the town.'),
        Column("domain_kind", "text", 'How trees are told apart, "" all trees.'),
        Column("domain", "text", "Which trees."),
        Column("quantity", "text", "Name of what is estimated."),
        Column("label", "text", "The same for people."),
        Column("kind", "text", "total, per area, mean or share."),
        Column("unit_quantity", "text", "Name of the unit in fields.quantities."),
        Column("value", "number", "Estimate."),
        Column("standard_error", "number", "Of the sampling."),
        Column("degrees_of_freedom", "number", "Of the interval."),
        Column("low", "number", "Lower limit of the interval."),
        Column("high", "number", "Upper limit of the interval."),
        Column("measurement_random", "number", "± from readings that differ by chance."),
        Column("measurement_systematic", "number", "± that the readings of an instrument share."),
        Column("measurement_observer", "number", "± from people who see differently."),
        Column("plots", "count", "Plots of the scope."),
        Column("plots_with", "count", "Plots with such trees."),
        Column("trees", "count", "Trees with the value."),
        Column("trees_without", "count", "Trees without it."),
        Column("open_trees", "count", "Trees with a doubtful value."),
        Column("left_out", "count", "Trees whose value cannot be and counts nowhere."),
        Column(
            "interval_held",
            "number",
            "Share of such intervals that held the truth in trials.",
            "percent",
        ),
        Column("interval_above", "number", "Share that lay wholly above it.", "percent"),
        Column("interval_below", "number", "Share that lay wholly below it.", "percent"),
        Column("words", "text", "What must be said of it."),
    )
)
TOO_FEW_PLOTS = "Too few plots to say: at least two are needed."
ONE_PLOT = "Too few plots to say: such trees were found on one plot only."
NONE_FOUND = "None on the sampled plots. That does not prove that there are none."
NO_SPREAD = "The plots do not differ in this, so there is no margin."
Rows = dict[str, Any]
# differences of this share of a value come from the arithmetic
_NOISE = 1e-9


@dataclass(frozen=True)
class Figures:
    """One quantity of one scope, for each domain, before it is judged.

    `has` counts the trees that have the value, `lacks` those of the population that do not,
    `doubtful` those whose value is in doubt, and `left_out` those of `lacks` that have one that
    cannot be; `plots_with` the plots that have any of them. `lacking`
    is what the others lack, in words. `why_not` says why there is no figure at all, `nothing`
    why there is none where no tree has the value; without it the value is then 0.
    """

    quantity: str
    kind: str
    unit_quantity: str
    domains: Domains
    has: Positions
    lacks: Positions
    doubtful: Positions
    left_out: Positions
    plots_with: Positions
    lacking: str
    nothing: str
    why_not: str
    estimated: Estimated
    measured: Parts
    plots_bearing: Positions | None = None

    @property
    def bearing(self) -> Positions:
        """Return how many plots bear the figure: for a share dead those with dead trees."""
        return self.plots_with if self.plots_bearing is None else self.plots_bearing


def estimate_rows(scope: Scope, figures: Figures, confidence: float) -> Rows:
    """Return the rows of one quantity.

    Parameters
    ----------
    scope : Scope
        Town or stratum.
    figures : Figures
        One entry a domain.
    confidence : float
        Of the intervals.

    Returns
    -------
    mapping of str to column
        The columns ROWS; a figure that cannot be defended is NaN and `words` says why.
    """
    measured = figures.measured
    value, error, why = _withhold(scope, figures)
    estimate = replace(figures.estimated, value=value, standard_error=error)
    scale = scale_of(figures.quantity, figures.kind)
    low, high = estimate.interval(confidence, scale)
    # a mean of shares, such as the live crown ratio
    if figures.unit_quantity == "percent" and scale == "plain":
        high = np.minimum(high, 1.0)
    without = np.isnan(value)
    return {
        "scope_kind": scope.kind,
        "scope": scope.name,
        "domain_kind": figures.domains.kind,
        "domain": list(figures.domains.names),
        "quantity": figures.quantity,
        "label": LABELS[figures.quantity],
        "kind": figures.kind,
        "unit_quantity": figures.unit_quantity,
        "value": value,
        "standard_error": error,
        "degrees_of_freedom": np.where(np.isnan(error), np.nan, figures.estimated.freedom),
        "low": np.maximum(low, 0.0),
        "high": high,
        "measurement_random": np.where(without, np.nan, measured.random),
        "measurement_systematic": np.where(without, np.nan, measured.systematic),
        "measurement_observer": np.where(without, np.nan, measured.observer),
        "plots": len(scope.plots),
        "plots_with": figures.plots_with,
        "trees": figures.has,
        "trees_without": figures.lacks,
        "open_trees": figures.doubtful,
        "left_out": figures.left_out,
        **_interval_cover(scope, figures, confidence, error),
        "words": _words(why, figures, without, _rough_kinds(scope, figures, estimate)),
    }


def is_rough(kind: str, plots_with: int) -> bool:
    """Return whether a total or a share is no more than an order of magnitude."""
    return kind != "mean" and 0 < plots_with < FEW_PLOTS


def stack_rows(tables: list[Rows]) -> pd.DataFrame:
    """Return the rows of all quantities, in order, as one table with the columns ROWS."""
    lengths = [len(table["words"]) for table in tables]
    columns = {}
    for name in ROWS.names:
        pieces = [table[name] for table in tables]
        if isinstance(pieces[0], str | int):
            columns[name] = np.repeat(np.array(pieces, dtype=object), lengths)
        else:
            columns[name] = np.concatenate([np.asarray(piece) for piece in pieces])
    return pd.DataFrame(columns).astype({"plots": int})


def _withhold(scope: Scope, figures: Figures) -> tuple[Values, Values, Texts]:
    """Return values and errors without what cannot be defended, and why it is left out."""
    value, error = figures.estimated.value.copy(), figures.estimated.standard_error.copy()
    why = np.full(len(value), "", dtype=object)
    if figures.why_not:
        why[:] = figures.why_not
        return np.full(len(value), np.nan), np.full(len(value), np.nan), why
    empty = figures.has == 0
    if figures.nothing:
        value[empty], error[empty], why[empty] = np.nan, np.nan, figures.nothing
    if scope.design.is_census:
        return value, np.where(np.isnan(value), np.nan, error), why
    is_whole = bool((scope.design.fraction >= 1).all())
    # one plot in a stratum says too little even where it has none
    none = (value == 0) & (not scope.design.lonely.any())
    flat = ~np.isnan(value) & ((error <= _NOISE * np.abs(value)) | none) & (not is_whole)
    error = np.where(flat, np.nan, error)
    why = np.where(flat, np.where(value == 0, NONE_FOUND, NO_SPREAD), why).astype(object)
    lost = ~np.isnan(value) & np.isnan(error) & ~flat
    value[lost] = np.nan
    too_few = scope.design.lonely.any() or (scope.design.plots == 0).any()
    why[lost] = TOO_FEW_PLOTS if too_few else ONE_PLOT
    return value, error, why


def _interval_cover(
    scope: Scope, figures: Figures, confidence: float, error: Values
) -> dict[str, Values]:
    """Return what such intervals did in trials: by all plots, or by those that bear a mean."""
    is_mean, is_share = (
        scale_of(figures.quantity, figures.kind) == scale for scale in ("plain", "logit")
    )
    of = "mean" if is_mean else "share" if is_share else "total"
    plots = figures.plots_with if is_mean else np.full(len(error), len(scope.plots))
    each = [interval_cover(int(n), confidence, of) for n in plots.tolist()]
    cover = np.array(each, dtype=float).reshape(len(error), len(BY_FEW))
    if not is_mean:
        few = np.where(np.isnan(cover), np.nan, np.array(BY_FEW))
        cover = np.where((figures.bearing < FEW_PLOTS)[:, None], few, cover)
    unknown = np.isnan(error) | scope.design.is_census
    cover = np.where(unknown[:, None], np.nan, cover)
    return dict(zip(("interval_held", "interval_above", "interval_below"), cover.T, strict=True))


def _rough_kinds(scope: Scope, figures: Figures, estimate: Estimated) -> list[bool]:
    """Return which figures are orders of magnitude by their kind."""
    quantity, kind, plots = figures.quantity, figures.kind, len(scope.plots)
    if scope.design.is_census:
        return [False] * len(estimate.value)
    low, high = estimate.interval(STATED_CONFIDENCE, scale_of(quantity, kind))
    with np.errstate(all="ignore"):
        margins = ((high - low) / 2 / estimate.value).tolist()
    counts = zip(figures.has.tolist(), margins, strict=True)
    return [is_rough_kind(quantity, kind, plots, trees, margin) for trees, margin in counts]


def _words(why: Texts, figures: Figures, without: Flags, rough_kinds: list[bool]) -> list[str]:
    sentences = []
    counts = zip(
        *(why, figures.has, figures.lacks, figures.doubtful, figures.left_out),
        *(figures.plots_with, figures.bearing, without, rough_kinds),
        strict=True,
    )
    for reason, has, lacks, doubtful, left_out, plots, bearing, nothing, is_rough_one in counts:
        remarks = [reason] if reason else []
        if lacks and has and not nothing:
            them = "has no {}. It is" if lacks == 1 else "have no {}. They are"
            remarks.append(
                f"{lacks} of {lacks + has} {them.format(figures.lacking)} treated like the others."
            )
        if left_out:
            what = (
                "value that cannot be right and was"
                if left_out == 1
                else ("values that cannot be right and were")
            )
            remarks.append(f"These include {left_out} {what} left out.")
        if doubtful and not nothing:
            verb = "has" if doubtful == 1 else "have"
            what = figures.lacking or "name, number or plot"
            remarks.append(f"{doubtful} of {lacks + has} {verb} a doubtful {what}.")
        if figures.domains.kind and not nothing and 0 < plots < FEW_PLOTS:
            remarks.append(
                f"Such trees were found on {plots} {'plot' if plots == 1 else 'plots'} only."
            )
        if (is_rough_one or is_rough(figures.kind, bearing)) and not nothing and not reason:
            remarks.append("This is an order of magnitude.")
        sentences.append(" ".join(remarks))
    return sentences
