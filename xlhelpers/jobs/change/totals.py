"""Change of the totals by paired plots: each plot is compared with itself.

The differences of plots measured both times are scaled up to the town within its strata; the
standard error is that of the differences.
"""

import math
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from xlhelpers.estimates.design import Design, Estimated, ratio, total
from xlhelpers.estimates.intervals import t_multiplier
from xlhelpers.estimates.plot_values import DEAD, MEASURES, Measure, PlotValues, plot_values
from xlhelpers.estimates.words import joined_words
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.plot_roles import plot_roles
from xlhelpers.survey.strata import strata_used
from xlhelpers.survey.trees.widths import describe_widths, widths_differ
from xlhelpers.wording import plural

Numbers = NDArray[np.float64]
COMPARED = (*MEASURES, DEAD)
# fewer pairs give a margin that is hardly more than a guess; common practice, no source
FEW = 5
CROWN_AREA = "crown-area"
WIDTHS_APART = (
    "Crown widths were taken in two ways: “{old}” in OLD and “{new}” in NEW. So crown areas cannot "
    "be compared."
)


@dataclass(frozen=True)
class PairedPlots:
    """The plots that were measured both times.

    `table` has one row a plot in the order of NEW: `plot`, `row_old` and `row_new` (rows of the
    plots sheets), `where` (row of the strata sheet of NEW), `years`, `size` (m2, the smaller of
    both areas; 1 where plots have none), `because` ("" where it counts for the totals, else why
    not). `values` are those of each survey. `sizes` and `possible` are those of the strata named
    `strata`, NaN unknown; in a census every tree was measured both times. `only` are the names of
    plots in one of both, or not measured both times, with the reason. `widths` say how OLD and
    NEW took crown widths where that differs.
    """

    table: pd.DataFrame
    values: tuple[PlotValues, PlotValues]
    strata: tuple[str, ...]
    sizes: Numbers
    possible: Numbers
    has_areas: bool
    is_census: bool
    smallest_diameter: float
    only: tuple[tuple[str, str], ...]
    widths: tuple[str, str] = ("", "")

    def compares(self, measure: Measure) -> bool:
        """Return whether a measure means the same both times: crown areas need one rule."""
        return not (measure.key == CROWN_AREA and any(self.widths))

    def values_of(self, measure: Measure) -> tuple[Numbers, Numbers]:
        """Return the values of a measure on these plots in OLD and in NEW."""
        old, new = (
            side.table[measure.key].to_numpy(float)[self.table[f"row_{name}"]]
            for name, side in zip(("old", "new"), self.values, strict=True)
        )
        if self.lacks_areas:
            # areas on one side alone: whole plots are compared
            areas = (
                side.table["area"].to_numpy(float)[self.table[f"row_{name}"]]
                for name, side in zip(("old", "new"), self.values, strict=True)
            )
            old, new = (each * area for each, area in zip((old, new), areas, strict=True))
        return old, new

    @property
    def lacks_areas(self) -> str:
        """Return which survey alone has no plot areas: "OLD", "NEW", or "" where both are alike."""
        old, new = (side.has_areas for side in self.values)
        return "" if old == new else "NEW" if old else "OLD"

    def count_left_out(self, measure: Measure, rows: NDArray[np.int64]) -> int:
        """Return how many values of a measure are left out on some of these plots, both times."""
        left_out = 0
        for name, side in zip(("old", "new"), self.values, strict=True):
            at = self.table[f"row_{name}"].to_numpy()[rows]
            left_out += int(side.table[f"{measure.key}_left_out"].to_numpy()[at].sum())
        return left_out

    @property
    def counts(self) -> NDArray[np.bool_]:
        """Return which plots count for the totals."""
        return (self.table["because"] == "").to_numpy(bool)


@dataclass(frozen=True)
class Net:
    """The change of one measure.

    `before`, `after` and `change` are per m2 (or plot), with the half-width `margin` of the
    change. `share` is the change as a share of `before`, with the ends `share_low` and
    `share_high`, which are not equally far from it. `town` is what a value per m2 is multiplied by
    for the town, NaN unknown. `remark` says why something is missing, "" if all is there.
    """

    measure: Measure
    plots: int
    before: float
    after: float
    change: float
    margin: float
    share: float
    share_low: float
    share_high: float
    town: float
    remark: str

    @property
    def is_certain(self) -> bool:
        """Return whether the change is beyond its margin."""
        return math.isfinite(self.margin) and abs(self.change) > self.margin


def pair_plots(old: Outcome, new: Outcome) -> PairedPlots:
    """Return the plots that were measured in both surveys.

    Trees below the larger of both smallest diameters do not count on either side.
    """
    smallest = max(float(side.survey.rules["smallest_diameter"]) for side in (old, new))
    values = (plot_values(old, smallest), plot_values(new, smallest))
    first, second = (side.table for side in values)
    has_areas = values[0].has_areas and values[1].has_areas
    row_old = {key: at for at, key in reversed(list(enumerate(first["key"]))) if key}
    rows, only, seen = [], [], set()
    for at, plot in enumerate(second.to_dict("records")):
        key, before = plot["key"], row_old.get(plot["key"], -1)
        if before < 0 or key in seen:
            only.append((str(plot["plot"]), "not in OLD" if before < 0 else "twice in NEW"))
            continue
        seen.add(key)
        reasons = [
            f"{side}: {why}"
            for side, why in (("NEW", plot["because"]), ("OLD", first["because"].iloc[before]))
            if why
        ]
        if plot["seen"] and first["seen"].iloc[before]:
            rows.append((str(plot["plot"]), before, at, "; ".join(reasons)))
        else:
            only.append((str(plot["plot"]), "; ".join(reasons)))
    only += [
        (str(first["plot"].iloc[at]), "not in NEW")
        for key, at in row_old.items()
        if key not in seen
    ]
    table = pd.DataFrame(rows, columns=["plot", "row_old", "row_new", "because"])
    table["where"] = second["where"].to_numpy()[table["row_new"]]
    areas, days = (
        [
            side[name].to_numpy()[table[row]]
            for side, row in ((first, "row_old"), (second, "row_new"))
        ]
        for name in ("area", "date")
    )
    table["size"] = np.fmin(*areas).astype(float) if has_areas else np.ones(len(table))
    between = pd.to_datetime(days[1]) - pd.to_datetime(days[0])
    table["years"] = between.days.to_numpy(float) / 365.25
    roles = [plot_roles(side.survey, side.trees) for side in (old, new)]
    strata = strata_used(new.survey, roles[1])
    possible = strata.table["plots_possible"].to_numpy(float)
    return PairedPlots(
        table,
        values,
        tuple(strata.table["stratum"].astype(str)),
        strata.size if has_areas else possible,
        possible,
        has_areas,
        all(side.is_census for side in roles),
        smallest,
        tuple(only),
        _widths_apart(old, new),
    )


def _widths_apart(old: Outcome, new: Outcome) -> tuple[str, str]:
    """Return how both surveys took crown widths, "" and "" where that is the same."""
    rules = (old.survey.rules, new.survey.rules)
    if not widths_differ(*rules):
        return "", ""
    return describe_widths(rules[0]), describe_widths(rules[1])


@dataclass(frozen=True)
class Frame:
    """What the pairs are carried to: the design, its plots (rows of the pairs), the town.

    `remarks` say what could not be done, and which strata are joined; `lonely` are strata with a
    single plot and nothing to join.
    """

    design: Design
    rows: NDArray[np.int64]
    town: float
    remarks: tuple[str, ...]
    lonely: tuple[str, ...]


def frame_of(pairs: PairedPlots, rows: NDArray[np.int64]) -> Frame:
    """Return the design of some of the pairs.

    Parameters
    ----------
    pairs : PairedPlots
        All pairs.
    rows : array of int
        Which of them count.
    """
    where, size = pairs.table["where"].to_numpy()[rows], pairs.table["size"].to_numpy()[rows]
    if pairs.is_census:
        alike = np.zeros(len(rows), dtype=np.int64)
        every = Design(alike, size, np.array([size.sum()]), np.ones(1), is_census=True)
        why = "Every tree was measured both times, so there is no sampling margin."
        return Frame(every, rows, float(size.sum()), (why,), ())
    counts = np.bincount(where, minlength=len(pairs.strata))
    here = np.flatnonzero(counts)
    remarks = []
    empty = [name for name, count in zip(pairs.strata, counts, strict=True) if not count]
    if empty and len(pairs.strata) > 1:
        remarks.append(f"No plot of {', '.join(empty)} was measured both times, so it is left out.")
    sizes = pairs.sizes[here]
    if not (sizes > 0).all() and len(here) > 1:
        remarks.append("The strata have no areas, so all plots count alike.")
        here, where, counts = np.zeros(1, int), np.zeros(len(rows), int), np.array([len(rows)])
        sizes = np.array([np.nan])
    code = np.searchsorted(here, where)
    known = sizes > 0
    sampled = np.bincount(code, size, minlength=len(here))
    by_plots = counts[here] / pairs.possible[here] if known.all() else np.full(len(here), np.nan)
    with np.errstate(all="ignore"):
        fraction = np.where(np.isfinite(by_plots), by_plots, sampled / sizes)
    fraction = np.where(known, np.clip(np.nan_to_num(fraction), 0.0, 1.0), 0.0)
    total_size = np.where(known, sizes, sampled)
    design = Design(code, size, total_size, fraction, joins_lonely=True)
    remarks += joined_words([pairs.strata[at] for at in here], design)
    lonely = tuple(pairs.strata[at] if len(pairs.strata) > 1 else "" for at in here[design.lonely])
    town = float(sizes.sum()) if known.all() else math.nan
    return Frame(design, rows, town, tuple(remarks), lonely)


def net_changes(pairs: PairedPlots, confidence: float) -> tuple[Net, ...]:
    """Return the change of every measure.

    Parameters
    ----------
    pairs : PairedPlots
        The plots.
    confidence : float
        Of the margins, above 0 and below 1.
    """
    return tuple(_net(pairs, measure, confidence) for measure in COMPARED)


def _net(pairs: PairedPlots, measure: Measure, confidence: float) -> Net:
    before, after = pairs.values_of(measure)
    rows = np.flatnonzero(np.isfinite(before) & np.isfinite(after))
    counted, nan = int(pairs.counts.sum()), math.nan
    if not len(rows) or not pairs.compares(measure):
        nothing = "No plot counts for the totals."
        if not pairs.compares(measure):
            nothing = WIDTHS_APART.format(old=pairs.widths[0], new=pairs.widths[1])
        elif counted:
            nothing = f"No plot has a tree with {measure.needs} both times."
        return Net(measure, 0, nan, nan, nan, nan, nan, nan, nan, nan, nothing)
    frame = frame_of(pairs, rows)
    size = frame.design.size
    columns = np.column_stack([before[rows], after[rows], after[rows] - before[rows]])
    # a plot without change stands for its part of the town like any other
    totals = total(frame.design, columns * size[:, None], np.ones_like(columns))
    totals = totals.scale_by(1 / float(frame.design.total_size.sum()))
    part = ratio(frame.design, columns[:, 1] * size, columns[:, 0] * size)
    # both sums are above 0, and so is their ratio
    low, high = (float(end[0]) - 1 for end in part.interval(confidence, "log"))
    remarks = list(frame.remarks)
    if pairs.lacks_areas:
        remarks.insert(0, f"{pairs.lacks_areas} has no plot areas, so whole plots are compared.")
    if counted > len(rows):
        remarks.append(f"{counted - len(rows)} plots are left out: no tree has {measure.needs}.")
    remarks += _few(frame, len(rows))
    if left_out := pairs.count_left_out(measure, rows):
        what = measure.needs.removeprefix("a ")
        remarks.append(f"Left out because it cannot be right: {plural(left_out, what)}.")
    old, new, change = (float(value) for value in totals.value)
    return Net(
        measure,
        len(rows),
        old,
        new,
        change,
        _margin(totals, 2, confidence),
        float(part.value[0]) - 1,
        low,
        high,
        frame.town,
        " ".join(remarks),
    )


def _margin(estimated: Estimated, at: int, confidence: float) -> float:
    error = float(estimated.standard_error[at])
    times = t_multiplier(estimated.freedom[at], confidence)[0]
    return 0.0 if error == 0 else float(error * times)


def _few(frame: Frame, plots: int) -> list[str]:
    if frame.design.is_census:
        return []
    if plots == 1:
        return ["Only one plot was measured both times. This is its change, without a margin."]
    if frame.lonely:
        names = ", ".join(frame.lonely)
        return [f"No margin: {names} has only one plot that was measured both times."]
    if plots < FEW:
        return [f"Only {plots} plots: the margin is hardly more than a guess."]
    return []
