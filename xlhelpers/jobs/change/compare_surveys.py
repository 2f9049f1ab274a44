"""Two surveys of the same plots: the fate of the trees, their growth, the change of totals."""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from xlhelpers.errors import ReadingError
from xlhelpers.estimates.design import ratio, share
from xlhelpers.jobs.change.match import Match, by_plot, features_of, match_plot, population_of
from xlhelpers.jobs.change.totals import Net, PairedPlots, frame_of, net_changes, pair_plots
from xlhelpers.jobs.change.trees import ALIVE, DIED, FATES, GONE, Shrunk, change_trees, shrunk_trees
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.typed.folding import fold

Numbers = NDArray[np.float64]
GROWTHS = ("height", "diameter")
TOO_FEW = "too few trees without findings, or no dates"
NO_SPECIES = "(no species)"
# why a tree alive both times is in no mean growth, the first that applies
NOT_USED = (
    "on a plot that does not count",
    "not measured both times",
    "a value that cannot be right",
    "an open finding",
    "another number of stems",
    "no dates, or too short a time",
)
# from so many trees on, a plot whose numbers mostly differ was renumbered
_RENUMBERED, _OF_TREES = 0.5, 4
# with fewer matched, two surveys of different names are taken for surveys of different places
_SAME_TREES = 0.5
# with fewer yet, whatever their names are
_HARDLY_ANY = 0.25
WITHHELD = "these may be surveys of different places"


@dataclass(frozen=True)
class Growth:
    """Mean growth a year of a group of trees, "" all; metres or centimetres.

    `u` is the mean of the trees' own uncertainty, `margin` that of the sampling of plots.
    `left_out` counts the other trees alive both times, by why they are not in the mean.
    `observers` is what people can add to the mean if each always sees too much or too little.
    """

    what: str
    group: str
    trees: int
    mean: float
    margin: float
    u: float
    remark: str
    left_out: tuple[tuple[str, int], ...] = ()
    observers: float = math.nan


@dataclass(frozen=True)
class Change:
    """The comparison of two surveys.

    `trees` as `change_trees` gives them; `fates` counts them by species; `renumbered` are plots
    whose trees have other numbers; `loss` is the share of living trees that died or disappeared a
    year, with both ends. `doubt` says why the two may not be of the same place, "" if they
    probably are; with a doubt, rates of growth and loss are withheld.
    """

    pairs: PairedPlots
    trees: pd.DataFrame
    shrunk: tuple[Shrunk, ...]
    nets: tuple[Net, ...]
    growths: tuple[Growth, ...]
    fates: pd.DataFrame
    renumbered: tuple[str, ...]
    loss: tuple[float, float, float]
    years: float
    confidence: float
    doubt: str = ""


def compare_surveys(old: Outcome, new: Outcome, confidence: float = 0.95) -> Change:
    """Compare two surveys of the same plots.

    Parameters
    ----------
    old, new : Outcome
        Both surveys as computed; neither is changed.
    confidence : float
        Of the margins, above 0 and below 1.

    Raises
    ------
    ReadingError
        One of them is blank, no plot was measured both times, or OLD is the later one.
    """
    _refuse_blank(old, new)
    pairs = pair_plots(old, new)
    _refuse(pairs)
    first, second = features_of(old, new)
    places = by_plot(first.plot), by_plot(second.plot)
    keys = pairs.values[1].table["key"].to_numpy(object)[pairs.table["row_new"]]
    nobody = np.zeros(0, dtype=np.int64)
    sides = [(places[0].get(str(k), nobody), places[1].get(str(k), nobody)) for k in keys]
    years = pairs.table["years"].to_numpy(float)
    usual = population_of(first, second)
    matches = [
        match_plot(first, second, side, float(between), usual)
        for side, between in zip(sides, years, strict=True)
    ]
    by_row = _years_by_row(pairs)
    left = tuple(np.concatenate([nobody, *(side[i] for side in sides)]) for i in (0, 1))
    trees = change_trees(old, new, matches, (left[0], left[1]), by_row)
    counts = _count_for_totals(pairs, _plot_codes(pairs, trees))
    trees = trees.assign(
        **{f"not_used_{what}": why_not_used(trees, what, counts) for what in GROWTHS}
    )
    known = years[np.isfinite(years)]
    middle = float(np.median(known)) if len(known) else math.nan
    change = Change(
        pairs,
        trees,
        shrunk_trees(trees, old, new),
        net_changes(pairs, confidence),
        _growths(pairs, trees, confidence),
        _fates_by_species(trees),
        _plots_renumbered_as_a_whole(pairs, matches),
        _loss(pairs, trees, middle, confidence),
        middle,
        confidence,
    )
    doubt = _doubt(old, new, trees)
    return _withheld(change, doubt) if doubt else change


def _refuse_blank(old: Outcome, new: Outcome) -> None:
    blank = [
        name
        for name, side in (("OLD", old), ("NEW", new))
        if side.trees.empty and not side.survey.plots["status"].isin(("measured", "no trees")).any()
    ]
    if blank:
        raise ReadingError(f"Nothing is entered in {' and '.join(blank)} yet.")


def _doubt(old: Outcome, new: Outcome, trees: pd.DataFrame) -> str:
    """Return why the two may be of different places: few trees found again, or other names too."""
    names = [str(side.survey.rules["survey_name"] or "").strip() for side in (old, new)]
    # names that differ by a year alone are of one place
    places = [fold(re.sub(r"[0-9]+", " ", name)) for name in names]
    old_side, new_side = ((trees[at] >= 0).to_numpy() for at in ("at_old", "at_new"))
    fewer, matched = min(old_side.sum(), new_side.sum()), int((old_side & new_side).sum())
    again = f"only {matched:,} of {fewer:,} trees were found again."
    if not all(places) or places[0] == places[1]:
        if matched >= _HARDLY_ANY * fewer:
            return ""
        return (
            "These may not be two surveys of the same plots, or the trees were renumbered without "
            f"bearings: {again}"
        )
    if matched >= _SAME_TREES * fewer:
        return ""
    return (
        f"These may not be two surveys of the same place. OLD is named “{names[0]}”, NEW is named "
        f"“{names[1]}”, and {again}"
    )


def _withheld(change: Change, doubt: str) -> Change:
    """Return the comparison without rates of growth and loss."""
    nan = math.nan
    growths = tuple(
        replace(
            one, trees=0, mean=nan, margin=nan, u=nan, remark=WITHHELD, left_out=(), observers=nan
        )
        for one in change.growths
    )
    rates = {name: np.nan for name in change.trees.columns if name.endswith("_a_year")}
    trees = change.trees.assign(**rates)
    return replace(change, growths=growths, loss=(nan, nan, nan), doubt=doubt, trees=trees)


def _refuse(pairs: PairedPlots) -> None:
    if pairs.table.empty:
        reasons = "; ".join(f"plot {name or '(blank)'}: {why}" for name, why in pairs.only[:6])
        more = f"; and {len(pairs.only) - 6} more" if len(pairs.only) > 6 else ""
        raise ReadingError(
            "No plot was measured in both surveys. Check that the plots have the same names: "
            f"{reasons}{more}."
        )
    years = pairs.table["years"].dropna()
    if len(years) and years.median() < 0:
        raise ReadingError(
            "By the dates of its plots, OLD was measured after NEW. Name them the other way round."
        )


def _years_by_row(pairs: PairedPlots) -> pd.Series:
    years = pairs.table["years"].to_numpy(float)
    index = np.concatenate([pairs.table["row_new"], -1 - pairs.table["row_old"]])
    return pd.Series(np.tile(years, 2), index=index)


def _plots_renumbered_as_a_whole(pairs: PairedPlots, matches: Sequence[Match]) -> tuple[str, ...]:
    return tuple(
        str(plot)
        for plot, match in zip(pairs.table["plot"], matches, strict=True)
        if len(match.pairs) >= _OF_TREES and match.same_number < _RENUMBERED
    )


def _plot_codes(pairs: PairedPlots, trees: pd.DataFrame) -> NDArray[np.int64]:
    """Return for each tree the row of its plot among the pairs."""
    named = {str(plot): at for at, plot in enumerate(pairs.table["plot"])}
    old = pairs.values[0].table["plot"].to_numpy(object)[pairs.table["row_old"]]
    named |= {str(plot): at for at, plot in enumerate(old) if str(plot) not in named}
    codes = [named[str(plot)] for plot in trees["plot"]]
    return np.array(codes, dtype=np.int64)


def _growths(pairs: PairedPlots, trees: pd.DataFrame, confidence: float) -> tuple[Growth, ...]:
    """Return the mean growth of all trees and by species, without values in doubt."""
    code = _plot_codes(pairs, trees)
    named = trees["species"].replace("", NO_SPECIES)
    counted = named[trees["fate"] == ALIVE].value_counts()
    groups = ["", *sorted(counted.index, key=lambda name: (-counted[name], name))]
    alive = (trees["fate"] == ALIVE).to_numpy()
    growths = []
    for what in GROWTHS:
        why = trees[f"not_used_{what}"].to_numpy(object)
        growth, u = (
            trees[f"{name}_{what}_a_year"].to_numpy(float) for name in ("growth", "u_growth")
        )
        for group in map(str, groups):
            of_group = alive & ((named == group).to_numpy() | (group == ""))
            here = of_group & (why == "")
            left_out = tuple(
                (reason, count)
                for reason in NOT_USED
                if (count := int((why[of_group] == reason).sum()))
            )
            if not here.any():
                nan = math.nan
                growths.append(Growth(what, group, 0, nan, nan, nan, TOO_FEW, left_out))
                continue
            values = growth[here]
            mean, margin = _mean(pairs, code[here], values, np.ones(len(values)), confidence)
            remark = "" if math.isfinite(margin) else "Too few plots for a margin."
            known = u[here & np.isfinite(u)]
            typical = float(np.sqrt(np.mean(known**2))) if len(known) else math.nan
            people = _observer_part(trees[here], what)
            growths.append(
                Growth(what, group, len(values), mean, margin, typical, remark, left_out, people)
            )
    return tuple(growths)


def _observer_part(trees: pd.DataFrame, what: str) -> float:
    """Return what people add to a mean growth a year if each always sees too much or too little.

    The trees of a person are added up as they are, persons and surveys as squares.
    """
    years = trees["years"].to_numpy(float)
    squares = 0.0
    for side in ("old", "new"):
        each = trees[f"observer_{what}_{side}"].to_numpy(float) / years / len(trees)
        by_person = pd.Series(each).groupby(trees[f"person_{side}"].to_numpy()).sum()
        squares += float((by_person**2).sum())
    return math.sqrt(squares)


def why_not_used(trees: pd.DataFrame, what: str, counts: NDArray[np.bool_]) -> NDArray[np.object_]:
    """Return for each tree why it is in no mean growth: one of NOT_USED, "" where it is in it.

    Parameters
    ----------
    trees : DataFrame
        As `change_trees` gives them.
    what : str
        One of GROWTHS.
    counts : array of bool
        Which trees are on plots that count. Trees that are not alive both times have "".
    """
    alive = (trees["fate"] == ALIVE).to_numpy()
    sides = ("old", "new")
    unknown = trees[[f"{what}_{side}" for side in sides]].isna().any(axis=1).to_numpy()
    stems = (trees["stems_old"] != trees["stems_new"]).to_numpy() & (what == "diameter")
    left_out = np.array(
        [
            any(what in texts.split(", ") for texts in both)
            for both in zip(*(trees[f"left_out_{side}"] for side in sides), strict=True)
        ],
        dtype=bool,
    )
    years = ~np.isfinite(trees[f"growth_{what}_a_year"].to_numpy(float))
    reasons = (~counts, unknown, left_out, is_in_doubt(trees, what), stems, years)
    return np.select([~alive, *reasons], ["", *NOT_USED], "").astype(object)


def is_in_doubt(trees: pd.DataFrame, what: str) -> NDArray[np.bool_]:
    """Return which trees have a height or a diameter in doubt in either survey."""
    return (trees[f"doubt_{what}_old"] | trees[f"doubt_{what}_new"]).to_numpy(bool)


def _mean(
    pairs: PairedPlots, code: NDArray[np.int64], values: Numbers, of: Numbers, confidence: float
) -> tuple[float, float]:
    """Return the ratio of two sums over trees, and its margin, NaN where plots are too few."""
    # `code` is the row of each tree's plot among the pairs.
    rows = np.flatnonzero(pairs.counts)
    if not len(rows):
        return float(values.sum() / of.sum()), math.nan
    count = len(pairs.table)
    sums = [np.bincount(code, column, minlength=count)[rows] for column in (values, of)]
    mean = ratio(frame_of(pairs, rows).design, sums[0], sums[1])
    low, high = mean.interval(confidence)
    return float(mean.value[0]), float(high[0] - low[0]) / 2


def _count_for_totals(pairs: PairedPlots, code: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Return which trees are on plots that count; all, where no plot does."""
    return pairs.counts[code] if pairs.counts.any() else np.ones(len(code), dtype=bool)


def _fates_by_species(trees: pd.DataFrame) -> pd.DataFrame:
    """Return the number of trees of each fate, all first, then by species."""
    named = trees["species"].replace("", NO_SPECIES)
    counts = pd.crosstab(named, trees["fate"]).reindex(columns=list(FATES), fill_value=0)
    counts["all"] = counts.sum(axis=1)
    counts = counts.sort_values("all", ascending=False, kind="stable")
    whole = counts.sum().to_frame("all species").T
    return pd.concat([whole, counts]).rename_axis("species").reset_index()


def _loss(
    pairs: PairedPlots, trees: pd.DataFrame, years: float, confidence: float
) -> tuple[float, float, float]:
    """Return the share of living trees of OLD that died or disappeared a year, and both ends."""
    nothing = (math.nan, math.nan, math.nan)
    code = _plot_codes(pairs, trees)
    counts = _count_for_totals(pairs, code)
    trees, code = trees[counts], code[counts]
    fate, was_dead = trees["fate"], (trees["condition_old"] == "D")
    went = ((fate == DIED) | ((fate == GONE) & ~was_dead)).to_numpy(bool)
    living = ((fate == ALIVE).to_numpy(bool) | went).astype(np.float64)
    if not living.any() or not years > 0:
        return nothing
    rows = np.flatnonzero(pairs.counts)
    lost_share = float(went.sum() / living.sum())
    ends = [math.nan, math.nan]
    if len(rows):
        count = len(pairs.table)
        sums = [np.bincount(code, column, minlength=count)[rows] for column in (went, living)]
        part = share(frame_of(pairs, rows).design, sums[0], sums[1])
        lost_share = float(part.value[0])
        ends = [float(end[0]) for end in part.interval(confidence, "logit")]
    a_year, low, high = (1 - (1 - each) ** (1 / years) for each in (lost_share, *ends))
    return a_year, low, high
