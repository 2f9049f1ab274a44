"""The plan of a survey by plots: how many for a margin, where, and what more of them gain."""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np
import pandas as pd

from xlhelpers.jobs.plan.allocation import (
    LEAST,
    WAYS,
    Counts,
    StrataFigures,
    Way,
    margin_of,
    plots_needed,
    whole_plots,
)

_MOST_POINTS, _DAYS_BEYOND = 60, 4
_STEEP = 4.0
# share of the surveys that keep the margin with the larger number of plots
SURE = 0.9


@dataclass(frozen=True)
class Wanted:
    """The target: the margin (fraction of the mean) at a confidence, and how to get there.

    `plots_a_day` is how many plots a crew measures on one day, None where it is not stated.
    """

    margin: float
    confidence: float = 0.95
    way: Way = "optimal"
    plots_a_day: int | None = None


@dataclass(frozen=True)
class Plan:
    """A plan and its figures.

    `needed` has the plots by stratum for each way, None where no number is enough; `surely` those
    in the way that is wanted with which nine in ten surveys keep the margin. `measured` are
    the pilot's plots by stratum, None without a pilot. `curve` has one row a number of plots:
    `plots`, `days` (NaN where not stated), `margin`, and `gain`, by which one more day (or plot)
    lowers it. `after_pilot` is the margin of the pilot's plots, and that after one more day;
    `together` says which strata are joined for it.
    """

    wanted: Wanted
    figures: StrataFigures
    needed: Mapping[Way, Counts | None]
    surely: Counts | None
    measured: Counts | None
    curve: pd.DataFrame
    after_pilot: tuple[float, float] = field(default=(math.nan, math.nan))
    together: tuple[str, ...] = ()

    @property
    def chosen(self) -> Counts | None:
        """Return the plots by stratum in the way that is wanted."""
        return self.needed[self.wanted.way]

    @property
    def variation(self) -> float:
        """Return the variation that the plots of the whole have, strata weighed by size."""
        within = self.figures.weights @ self.figures.deviations
        return float(within / self.figures.mean)

    def margin(self, counts: Counts) -> float:
        """Return the margin of so many plots by stratum."""
        return margin_of(self.figures, counts, self.wanted.confidence)


def make_plan(
    figures: StrataFigures,
    wanted: Wanted,
    measured: Counts | None = None,
    joined_margin: float = math.nan,
    together: tuple[str, ...] = (),
) -> Plan:
    """Return the plan for a wanted margin.

    Parameters
    ----------
    figures : StrataFigures
        From a pilot or as stated.
    wanted : Wanted
        The margin, and how to get there.
    measured : array of int, optional
        The pilot's plots by stratum.
    joined_margin : float
        The margin of these plots where a stratum has one and is joined with another, as a
        fraction of the total; NaN where that gives none.
    together : tuple of str
        Which strata are joined, in words.
    """
    needed = {way: plots_needed(figures, wanted.margin, wanted.confidence, way) for way in WAYS}
    surely = plots_needed(figures, wanted.margin, wanted.confidence, wanted.way, SURE)
    after = (math.nan, math.nan)
    if measured is not None:
        now = margin_of(figures, measured, wanted.confidence)
        now = joined_margin if math.isnan(now) else now
        after = (now, _after_one_day(figures, wanted, measured))
    curve = _curve(figures, wanted, needed[wanted.way])
    # the first steps of the curve fall so steeply that nothing could be read from the rest
    near = (curve["margin"] <= _STEEP * wanted.margin).to_numpy()
    if near.sum() > 1:
        curve = curve[near].reset_index(drop=True)
    return Plan(wanted, figures, needed, surely, measured, curve, after, together)


def _after_one_day(figures: StrataFigures, wanted: Wanted, measured: Counts) -> float:
    """Return the margin after one more day; strata with fewer than two plots get some first."""
    if not wanted.plots_a_day:
        return margin_of(figures, measured, wanted.confidence)
    plots = int(measured.sum()) + wanted.plots_a_day
    least = np.maximum(measured, LEAST)
    more = whole_plots(plots, figures.shares(wanted.way), figures.possible, least)
    return margin_of(figures, more, wanted.confidence) if more.sum() <= plots else math.nan


def _curve(figures: StrataFigures, wanted: Wanted, chosen: Counts | None) -> pd.DataFrame:
    """Return the margin over the number of plots, day by day where the plots a day are stated."""
    # The planned number itself is always among them.
    lowest = len(figures.names) * LEAST
    highest = float(np.floor(figures.possible).sum())
    planned = int(chosen.sum()) if chosen is not None else 1000
    step = wanted.plots_a_day or 1
    last = planned + _DAYS_BEYOND * step if wanted.plots_a_day else max(2 * planned, 30)
    count = max(math.ceil(last / step), 2)
    stride = math.ceil(count / _MOST_POINTS)
    steps = np.arange(1, count + 1, stride) * step
    totals = np.unique(np.append(steps, planned if chosen is not None else steps[:1]))
    totals = totals[(totals >= min(lowest, highest)) & (totals <= highest)].astype(int)

    def margin(total: int) -> float:
        return margin_of(figures, figures.whole_plots(total, wanted.way), wanted.confidence)

    margins = np.array([margin(int(n)) for n in totals], dtype=float)
    further = np.array([margin(int(n) + step) for n in totals], dtype=float)
    days = totals / wanted.plots_a_day if wanted.plots_a_day else np.full(len(totals), np.nan)
    with np.errstate(invalid="ignore"):
        gain = margins - further
    # a margin beyond all numbers is none that could be shown
    known = ~np.isinf(margins)
    return pd.DataFrame(
        {
            "plots": totals[known].astype(float),
            "days": days[known],
            "margin": margins[known],
            "gain": gain[known],
        }
    )
