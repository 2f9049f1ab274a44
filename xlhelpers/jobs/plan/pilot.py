"""What a pilot survey shows about the strata: mean and variation of plot values, sizes."""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from xlhelpers.errors import ReadingError
from xlhelpers.estimates.design import Estimated, linear_values, total_from_known
from xlhelpers.estimates.limits import half_width
from xlhelpers.estimates.plot_values import DEAD, Measure, Numbers, PlotValues, plot_values
from xlhelpers.estimates.scopes import scopes
from xlhelpers.estimates.words import joined_words
from xlhelpers.jobs.plan.allocation import LEAST, Counts, StrataFigures
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.plot_roles import plot_roles
from xlhelpers.survey.strata import Strata, strata_used
from xlhelpers.survey.typed.folding import Flags, fold
from xlhelpers.wording import list_words, plural

# relative standard error of a standard deviation of normal values: 1 / root(2 (n - 1))
_WELL_KNOWN = 30
LEFT_OUT_BECAUSE = "Left out because it cannot be right:"
# a plot that causes more of the variation is listed for checking, from so many plots on
_MOST_OF_ONE, _FEWEST_TO_COMPARE = 0.6, 6


@dataclass(frozen=True)
class Pilot:
    """Figures of the strata for one measure.

    `measured` is the number of pilot plots in each stratum, `rows` are their rows of the plots
    sheet. `remarks` are for information, `looks` are to be checked. `town` is the total as the
    report has it, with strata of one plot joined to others for its error; `together` says which.
    `trees_a_plot` is how many living trees a pilot plot has on average.
    """

    figures: StrataFigures
    measured: Counts
    has_areas: bool
    rows: Counts
    remarks: tuple[str, ...] = ()
    looks: tuple[str, ...] = ()
    town: Estimated | None = None
    together: tuple[str, ...] = ()
    trees_a_plot: float = math.nan

    def margin(self, confidence: float) -> float:
        """Return the margin of the pilot, as a fraction of the total; NaN where it has none."""
        if self.town is None:
            return math.nan
        with np.errstate(all="ignore"):
            error = self.town.standard_error / self.town.value
        return float(half_width(error, self.town.freedom, confidence)[0])


def pilot_of(outcome: Outcome, measure: Measure, costs: Mapping[str, float]) -> Pilot:
    """Return what a survey shows about its strata.

    Parameters
    ----------
    outcome : Outcome
        The pilot survey.
    measure : Measure
        What the plots are planned for.
    costs : mapping
        Cost of one plot by stratum, 1 where it names none.

    Raises
    ------
    ReadingError
        Nothing can be planned from it.
    """
    plots = plot_values(outcome)
    roles = plot_roles(outcome.survey, outcome.trees)
    if roles.is_census:
        raise ReadingError(
            "The survey rules say that every tree is measured, so there is no sample to plan. Give "
            "a survey of sample plots, or --variation."
        )
    strata = strata_used(outcome.survey, roles)
    names = tuple(strata.table["stratum"])
    used = plots.table[plots.table["because"] == ""]
    stratum = used["where"].to_numpy()
    counts = np.bincount(stratum, minlength=len(names))
    has_value = np.isfinite(used[measure.key].to_numpy(float))
    _refuse(outcome, plots, measure, np.bincount(stratum[has_value], minlength=len(names)))
    sizes, possible = _sizes(strata, counts)
    looks = plots.left_out()
    known = strata.table[(strata.table["problem"] != "") & (strata.table["used"] > 0)]
    looks += [f"{row['stratum']} {row['problem']}." for row in known.to_dict("records")]
    design = scopes(roles, strata)[0].design
    sums = _sums(used, measure)
    linear = linear_values(design, *sums)[1][:, 0]
    has_trees = (used["trees"] + used[DEAD.key]).to_numpy(float) > 0
    area = used["area"].to_numpy(float)
    means, rests = _rests(linear, area, stratum, len(names))
    deviations, stand_ins = _deviations(rests, stratum, counts, names)
    means = np.where(counts > 0, means, linear.sum() / area.sum())
    with_trees = _share_with_trees(has_trees, stratum, counts)
    folded = {fold(name): cost for name, cost in costs.items()}
    figures = StrataFigures(
        names,
        sizes,
        means,
        deviations,
        possible,
        np.array([folded.get(fold(name), 1.0) for name in names]),
        with_trees,
    )
    if not figures.mean > 0:
        raise ReadingError(
            f"{measure.label}: none on any plot, so there is no mean. Give --variation instead."
        )
    looks += _one_plot(used, rests, stratum, figures)
    return Pilot(
        figures,
        counts,
        plots.has_areas,
        used.index.to_numpy(),
        _remarks(used, measure, counts),
        (*looks, *stand_ins),
        total_from_known(design, *sums, has_trees),
        tuple(joined_words(names, design)),
        float(sums[2].sum() / len(used)),
    )


def _sums(used: pd.DataFrame, measure: Measure) -> tuple[Numbers, Numbers, Numbers]:
    """Return for each plot the sum of the known values, and trees with a value and in all."""
    area = used["area"].to_numpy(float)
    trees = used["trees"].to_numpy(float) * area
    known = trees - used[f"{measure.key}_lacking"].to_numpy(float)
    # plot values stand for all trees of the plot: back to those that were measured
    with np.errstate(all="ignore"):
        sums = used[measure.key].to_numpy(float) * area * known / trees
    return np.where(known > 0, sums, 0.0), known, trees


def _rests(values: Numbers, area: Numbers, stratum: Counts, strata: int) -> tuple[Numbers, Numbers]:
    """Return means per unit of area, and by how much each plot differs from its stratum's."""
    sums, areas, count = (
        np.bincount(stratum, column, minlength=strata)
        for column in (values, area, np.ones(len(area)))
    )
    with np.errstate(all="ignore"):
        means = sums / areas
        rests = (values - area * means[stratum]) / (areas / count)[stratum]
    return means, rests


def _share_with_trees(has_trees: Flags, stratum: Counts, counts: Counts) -> Numbers:
    """Return the share of the plots of each stratum that have any trees."""
    share = np.bincount(stratum, has_trees, minlength=len(counts)) / np.maximum(counts, 1)
    return np.asarray(np.where(counts > 0, share, has_trees.mean()))


def _one_plot(
    used: pd.DataFrame, rests: Numbers, stratum: Counts, figures: StrataFigures
) -> list[str]:
    """Name the plot, if any, without which most of the variation would be gone."""
    count = np.bincount(stratum, minlength=len(figures.names))
    share = (rests * figures.weights[stratum]) ** 2 / np.maximum(count - 1, 1)[stratum]
    if len(rests) < _FEWEST_TO_COMPARE or not share.sum() > 0:
        return []
    part = float(share.max() / share.sum())
    if part <= _MOST_OF_ONE:
        return []
    plot = used["plot"].iloc[int(share.argmax())]
    return [
        f"Plot {plot} causes {100 * part:.0f} % of the variation. Check it before you use this "
        "plan."
    ]


def _refuse(outcome: Outcome, plots: PlotValues, measure: Measure, counts: Counts) -> None:
    if measure.column and not np.isfinite(outcome.trees[measure.column].to_numpy(float)).any():
        why = "no tree of this survey is alive"
        if (outcome.trees["condition"] != "D").any():
            why = f"no living tree of this survey has {measure.needs}"
        raise ReadingError(f"{measure.label}: {why}. Nothing can be planned from it.")
    if not (counts >= LEAST).any():
        few = plural(int(counts.sum()), "plot")
        raise ReadingError(
            f"{measure.label}: too few plots to see how plots vary ({few} with values; two in one "
            "stratum are needed). Measure more, or give --variation. "
            f"{' '.join(plots.left_out())}".strip()
        )


def _sizes(strata: Strata, counts: Counts) -> tuple[Numbers, Numbers]:
    """Return sizes and plots possible of the strata, infinite where unknown."""
    names = strata.table["stratum"].to_numpy(object)
    possible = strata.table["plots_possible"].to_numpy(float)
    # without a stated number, as many as have room in the area
    with np.errstate(all="ignore"):
        room = counts / strata.table["fraction"].to_numpy(float)
    possible = np.where(np.isnan(possible), np.where(np.isfinite(room), room, np.inf), possible)
    if len(names) == 1:
        return np.ones(1), possible
    lacking = [str(name) for name in names[~(strata.size > 0)]]
    folded = [fold(str(name)) for name in names]
    twice = sorted({str(n) for n, key in zip(names, folded, strict=True) if folded.count(key) > 1})
    problems = [f"{list_words(twice)} is listed twice."] if twice else []
    if lacking:
        what = "an area, or the plots that would fit" if strata.has_areas else "the plots that fit"
        problems.append(f"Every stratum needs {what}. Missing: {list_words(lacking)}.")
    if problems:
        raise ReadingError(f"Sheet Strata: {' '.join(problems)}")
    return strata.size, possible


def _deviations(
    rests: Numbers, stratum: Counts, count: Counts, names: tuple[str, ...]
) -> tuple[Numbers, list[str]]:
    """Return standard deviations; with too few plots those of the others."""
    squares = np.bincount(stratum, rests**2, minlength=len(names))
    known = count >= LEAST
    deviations = np.sqrt(np.where(known, squares / np.maximum(count - 1, 1), np.nan))
    pooled = float(np.sqrt(squares[known].sum() / (count[known] - 1).sum()))
    stand_ins = []
    for at in np.flatnonzero(~known).tolist():
        deviations[at] = pooled
        if count[at] == 0:
            stand_ins.append(
                f"{names[at]}: no plot with values. The mean and variation of the other strata are "
                "used, so measure two plots there first."
            )
        else:
            stand_ins.append(
                f"{names[at]}: only one plot. The variation of the other strata is used, so "
                "measure a second plot there first."
            )
    return deviations, stand_ins


def _remarks(used: pd.DataFrame, measure: Measure, counts: Counts) -> tuple[str, ...]:
    remarks = []
    freedom = int(np.maximum(counts - 1, 0).sum())
    if freedom < _WELL_KNOWN:
        remarks.append(
            f"The pilot has {int(counts.sum())} plots, so the variation is known only to about "
            f"±{100 / np.sqrt(2 * freedom):.0f} %. Plan again when more plots are measured."
        )
    areas = used["area"].to_numpy(float)
    if areas.max() > 1.2 * areas.min():
        remarks.append("The plots have different areas. Each counts by its area, as in the report.")
    lacking = int(used[f"{measure.key}_lacking"].sum())
    if lacking:
        remarks.append(
            f"{plural(lacking, 'living tree')} without {measure.needs} count like the others of "
            "their plot."
        )
    left_out = int(used[f"{measure.key}_left_out"].sum())
    if left_out:
        what = measure.needs.removeprefix("a ")
        remarks.append(f"{LEFT_OUT_BECAUSE} {plural(left_out, what)}.")
    return tuple(remarks)
