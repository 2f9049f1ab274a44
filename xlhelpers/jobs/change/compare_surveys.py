"""Two surveys of the same plots: what became of the trees, how they grew, what the town gained."""

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from xlhelpers.errors import ReadingError
from xlhelpers.estimates.design import ratio
from xlhelpers.jobs.change.match import Match, by_plot, features_of, match_plot, population_of
from xlhelpers.jobs.change.totals import Net, PairedPlots, frame_of, net_changes, pair_plots
from xlhelpers.jobs.change.trees import ALIVE, DIED, FATES, GONE, Shrunk, change_trees, shrunk_trees
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.typed.folding import fold

GROWTHS = ("height", "diameter")
NO_SPECIES = "(no species)"
# from so many trees on, a plot whose numbers mostly differ was numbered anew
_RENUMBERED, _OF_TREES = 0.5, 4
# with fewer matched, two surveys of different names are taken for surveys of different places
_SAME_TREES = 0.5
# with fewer yet, whatever their names are
_HARDLY_ANY = 0.25
WITHHELD = "not said, as these may be surveys of different places"


@dataclass(frozen=True)
class Growth:
    """Mean growth a year of a group of trees, "" all; metres or centimetres.

    `u` is the mean of the trees' own uncertainty, `margin` that of the sampling of plots.
    """

    what: str
    group: str
    trees: int
    mean: float
    margin: float
    u: float
    said: str


@dataclass(frozen=True)
class Change:
    """The comparison of two surveys.

    `trees` as `change_trees` gives them; `fates` counts them by species; `renumbered` are plots
    whose trees carry other numbers; `loss` is the share of living trees that died or went, a
    year, with its margin. `doubt` says why the two may not be of the same place, "" where nothing
    speaks for that; rates of growth and loss are withheld then.
    """

    pairs: PairedPlots
    trees: pd.DataFrame
    shrunk: tuple[Shrunk, ...]
    nets: tuple[Net, ...]
    growths: tuple[Growth, ...]
    fates: pd.DataFrame
    renumbered: tuple[str, ...]
    loss: tuple[float, float]
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
        One of them is blank, they have no plot in common that was measured both times, or OLD is
        the later one.
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
    known = years[np.isfinite(years)]
    middle = float(np.median(known)) if len(known) else math.nan
    found = Change(
        pairs,
        trees,
        shrunk_trees(trees, old, new),
        net_changes(pairs, confidence),
        _growths(pairs, trees, confidence),
        _fates_by_species(trees),
        _renumbered(pairs, matches),
        _loss(pairs, trees, middle, confidence),
        middle,
        confidence,
    )
    doubt = _doubt(old, new, trees)
    return _withheld(found, doubt) if doubt else found


def _refuse_blank(old: Outcome, new: Outcome) -> None:
    blank = [
        name
        for name, side in (("OLD", old), ("NEW", new))
        if side.trees.empty and not side.survey.plots["status"].isin(("measured", "no trees")).any()
    ]
    if blank:
        raise ReadingError(f"nothing is keyed in {' and '.join(blank)} yet.")


def _doubt(old: Outcome, new: Outcome, trees: pd.DataFrame) -> str:
    """Return why the two may be of different places: few trees found again, or other names too."""
    names = [str(side.survey.rules["survey_name"] or "").strip() for side in (old, new)]
    # a year in the name makes no other place
    places = [fold(re.sub(r"[0-9]+", " ", name)) for name in names]
    here = [(trees[at] >= 0).to_numpy() for at in ("at_old", "at_new")]
    fewer = min(int(side.sum()) for side in here)
    matched = int((here[0] & here[1]).sum())
    if not all(places) or places[0] == places[1]:
        if matched >= _HARDLY_ANY * fewer:
            return ""
        return (
            f"These may not be two surveys of the same plots, or the trees were numbered anew "
            f"without bearings: only {matched:,} of {fewer:,} trees were found again"
        )
    if matched >= _SAME_TREES * fewer:
        return ""
    return (
        f"These may not be two surveys of the same place: OLD is named “{names[0]}”, NEW "
        f"“{names[1]}”, and only {matched:,} of {fewer:,} trees were found "
        "again"
    )


def _withheld(found: Change, doubt: str) -> Change:
    """Return the comparison without rates of growth and loss."""
    nan = math.nan
    growths = tuple(
        Growth(one.what, one.group, 0, nan, nan, nan, WITHHELD) for one in found.growths
    )
    rates = {name: np.nan for name in found.trees.columns if name.endswith("_a_year")}
    return replace(
        found,
        growths=growths,
        loss=(math.nan, math.nan),
        doubt=doubt,
        trees=found.trees.assign(**rates),
    )


def _refuse(pairs: PairedPlots) -> None:
    if pairs.table.empty:
        shown = "; ".join(f"plot {name or '(blank)'}: {why}" for name, why in pairs.only[:6])
        more = f"; and {len(pairs.only) - 6} more" if len(pairs.only) > 6 else ""
        raise ReadingError(
            "no plot was measured in both surveys; see that plots carry the same "
            f"names. {shown}{more}."
        )
    years = pairs.table["years"].dropna()
    if len(years) and years.median() < 0:
        raise ReadingError(
            "by the dates of its plots OLD was measured after NEW; name them the other way round."
        )


def _years_by_row(pairs: PairedPlots) -> pd.Series:
    years = pairs.table["years"].to_numpy(float)
    index = np.concatenate([pairs.table["row_new"], -1 - pairs.table["row_old"]])
    return pd.Series(np.tile(years, 2), index=index)


def _renumbered(pairs: PairedPlots, matches: Sequence[Match]) -> tuple[str, ...]:
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
    """Return the mean growth of all trees and by species, of trees on no open finding."""
    code = _plot_codes(pairs, trees)
    settled = ~(trees["open_old"] | trees["open_new"]).to_numpy() & _counts(pairs, code)
    named = trees["species"].replace("", NO_SPECIES)
    species = named.to_numpy(object)
    counted = named[trees["fate"] == ALIVE].value_counts()
    groups = ["", *sorted(counted.index, key=lambda name: (-counted[name], name))]
    found = []
    for what in GROWTHS:
        growth = trees[f"growth_{what}_a_year"].to_numpy(float)
        u = trees[f"u_growth_{what}_a_year"].to_numpy(float)
        for group in groups:
            here = np.isfinite(growth) & settled & ((species == group) | (group == ""))
            found.append(
                _growth(
                    what,
                    str(group),
                    growth[here],
                    u[here],
                    _Clusters(pairs, code[here], confidence),
                )
            )
    return tuple(found)


@dataclass(frozen=True)
class _Clusters:
    """The plots that some trees stand on."""

    pairs: PairedPlots
    code: NDArray[np.int64]
    confidence: float

    def mean(self, values: NDArray[np.float64], of: NDArray[np.float64]) -> tuple[float, float]:
        """Return the ratio of two sums over trees, and its margin, NaN where plots are too few."""
        rows = counted_rows(self.pairs)
        if not len(rows):
            return float(values.sum() / of.sum()), math.nan
        count = len(self.pairs.table)
        sums = [np.bincount(self.code, column, minlength=count)[rows] for column in (values, of)]
        found = ratio(frame_of(self.pairs, rows).design, sums[0], sums[1])
        low, high = found.interval(self.confidence)
        return float(found.value[0]), float(high[0] - low[0]) / 2


def counted_rows(pairs: PairedPlots) -> NDArray[np.int64]:
    """Return the rows of the pairs that count for the totals."""
    return np.flatnonzero((pairs.table["because"] == "").to_numpy())


def _counts(pairs: PairedPlots, code: NDArray[np.int64]) -> NDArray[np.bool_]:
    """Return which trees stand on plots that count; all, where no plot does."""
    counts = (pairs.table["because"] == "").to_numpy(bool)
    return counts[code] if counts.any() else np.ones(len(code), dtype=bool)


def _growth(
    what: str, group: str, growth: NDArray[np.float64], u: NDArray[np.float64], plots: _Clusters
) -> Growth:
    if not len(growth):
        why = {"height": "no height", "diameter": "no diameter"}[what]
        said = f"{why} both times on a settled tree, or no dates of plots"
        return Growth(what, group, 0, math.nan, math.nan, math.nan, said)
    mean, margin = plots.mean(growth, np.ones(len(growth)))
    said = "" if math.isfinite(margin) else "too few plots for a margin"
    known = u[np.isfinite(u)]
    typical = float(np.sqrt(np.mean(known**2))) if len(known) else math.nan
    return Growth(what, group, len(growth), mean, margin, typical, said)


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
) -> tuple[float, float]:
    """Return the share of the living trees of OLD that died or went in a year, and its margin."""
    code = _plot_codes(pairs, trees)
    trees, code = trees[_counts(pairs, code)], code[_counts(pairs, code)]
    fate, was_dead = trees["fate"], (trees["condition_old"] == "D")
    went = ((fate == DIED) | ((fate == GONE) & ~was_dead)).to_numpy(bool)
    stood = ((fate == ALIVE).to_numpy(bool) | went).astype(np.float64)
    lost = went.astype(np.float64)
    if not stood.any() or not years > 0:
        return math.nan, math.nan
    share, margin = _Clusters(pairs, code, confidence).mean(lost, stood)
    a_year = 1 - (1 - share) ** (1 / years)
    # the margin goes through the same curve, by its slope
    slope = (1 - share) ** (1 / years - 1) / years if share < 1 else 1.0
    return a_year, margin * slope
