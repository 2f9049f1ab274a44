"""What a pilot survey tells of the strata: mean and variation of plot values, sizes."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd

from xlhelpers.errors import ReadingError
from xlhelpers.estimates.plot_values import Measure, Numbers, PlotValues, plot_values
from xlhelpers.jobs.plan.allocation import LEAST, Counts, StrataFigures
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.plot_roles import plot_roles
from xlhelpers.survey.strata import Strata, strata_used
from xlhelpers.survey.typed.folding import fold

# relative standard error of a standard deviation of normal values: 1 / root(2 (n - 1))
_WELL_KNOWN = 30
# a plot that makes up more of the variation is asked about, from so many plots on
_MOST_OF_ONE, _FEWEST_TO_COMPARE = 0.6, 6


@dataclass(frozen=True)
class Pilot:
    """Figures of the strata by one measure, and how they were reached.

    `measured` is the number of pilot plots in each stratum, `rows` are their rows of the plots
    sheet; `remarks` say what is to be known,
    `looks` what is to be looked at, because something stands in for what was not measured.
    """

    figures: StrataFigures
    measured: Counts
    has_areas: bool
    rows: Counts
    remarks: tuple[str, ...] = ()
    looks: tuple[str, ...] = ()


def pilot_of(outcome: Outcome, measure: Measure, costs: Mapping[str, float]) -> Pilot:
    """Return what a survey tells of its strata.

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
        Nothing can be planned from it; all reasons at once.
    """
    plots = plot_values(outcome)
    roles = plot_roles(outcome.survey, outcome.trees)
    if roles.is_census:
        raise ReadingError(
            "The survey rules say that every tree is measured, so there is no sampling to plan; "
            "name a survey of sample plots, or state --variation."
        )
    strata = strata_used(outcome.survey, roles)
    names = tuple(strata.table["stratum"])
    values = plots.table
    used = values[(values["because"] == "") & np.isfinite(values[measure.key])]
    stratum = used["where"].to_numpy()
    counts = np.bincount(stratum, minlength=len(names))
    _refuse(outcome, plots, measure, counts)
    sizes, possible = _sizes(strata)
    looks = plots.left_out()
    looks += [
        f"{name} {problem}."
        for name, problem in zip(names, strata.table["problem"], strict=True)
        if problem and "no measured plot" not in problem
    ]
    means, deviations, patched = _figures(used[measure.key].to_numpy(float), stratum, names)
    folded = {fold(name): cost for name, cost in costs.items()}
    figures = StrataFigures(
        names,
        sizes,
        means,
        deviations,
        possible,
        np.array([folded.get(fold(name), 1.0) for name in names]),
    )
    if not figures.mean > 0:
        raise ReadingError(
            f"{measure.label}: nothing on any plot, so there is no mean to be known within a "
            "margin; state --variation instead."
        )
    alone = _alone(used[measure.key].to_numpy(float), stratum, figures)
    looks += [
        f"Plot {used['plot'].iloc[at]} alone makes up {100 * share:.0f} % of the variation: see "
        "whether it is right before planning by it."
        for at, share in alone
    ]
    return Pilot(
        figures,
        counts,
        plots.has_areas,
        used.index.to_numpy(),
        _remarks(used, measure, counts),
        (*looks, *patched),
    )


def _alone(values: Numbers, stratum: Counts, figures: StrataFigures) -> list[tuple[int, float]]:
    """Return the plot, if any, without which most of the variation would be gone."""
    count = np.bincount(stratum, minlength=len(figures.names))
    rest = (values - figures.means[stratum]) * figures.weights[stratum]
    share = rest**2 / np.maximum(count - 1, 1)[stratum]
    if len(values) < _FEWEST_TO_COMPARE or not share.sum() > 0:
        return []
    at = int(share.argmax())
    part = float(share[at] / share.sum())
    return [(at, part)] if part > _MOST_OF_ONE else []


def _refuse(outcome: Outcome, plots: PlotValues, measure: Measure, counts: Counts) -> None:
    usable = int(counts.sum())
    if measure.column and not np.isfinite(outcome.trees[measure.column].to_numpy(float)).any():
        living = int((outcome.trees["condition"] != "D").sum())
        why = (
            f"no living tree of this survey has {measure.needs}"
            if living
            else ("no tree of this survey is alive")
        )
        raise ReadingError(f"{measure.label}: {why}, so nothing can be planned from it.")
    if not (counts >= LEAST).any():
        reasons = " ".join(plots.left_out())
        few = "1 plot" if usable == 1 else f"{usable} plots"
        raise ReadingError(
            f"{measure.label}: too few plots to tell how plots vary ({few} with values; it takes "
            f"two of one stratum). Measure more, or state --variation. {reasons}".strip()
        )


def _sizes(strata: Strata) -> tuple[Numbers, Numbers]:
    """Return sizes and plots possible of the strata, infinite where unknown."""
    names = strata.table["stratum"].to_numpy(object)
    possible = strata.table["plots_possible"].to_numpy(float)
    possible = np.where(np.isnan(possible), np.inf, possible)
    if len(names) == 1:
        return np.ones(1), possible
    lacking = [str(name) for name in names[~(strata.size > 0)]]
    folded = [fold(str(name)) for name in names]
    twice = sorted({str(n) for n, key in zip(names, folded, strict=True) if folded.count(key) > 1})
    problems = [f"it names {', '.join(twice)} twice"] if twice else []
    if lacking:
        what = "an area, or the plots possible," if strata.has_areas else "the plots possible"
        problems.append(f"it needs {what} to weigh every stratum; missing for {', '.join(lacking)}")
    if problems:
        raise ReadingError(f"Sheet Strata: {'; '.join(problems)}.")
    return strata.size, possible


def _figures(
    values: Numbers, stratum: Counts, names: tuple[str, ...]
) -> tuple[Numbers, Numbers, list[str]]:
    """Return means and standard deviations; where there are too few plots, others stand in."""
    count = np.bincount(stratum, minlength=len(names))
    with np.errstate(all="ignore"):
        means = np.bincount(stratum, values, minlength=len(names)) / count
        rest = values - means[stratum]
        squares = np.bincount(stratum, rest**2, minlength=len(names))
        deviations = np.sqrt(np.where(count >= LEAST, squares / (count - 1), np.nan))
    known = count >= LEAST
    pooled = float(np.sqrt(squares[known].sum() / (count[known] - 1).sum()))
    said = []
    for at in np.flatnonzero(~known).tolist():
        deviations[at] = pooled
        if count[at] == 0:
            means[at] = float(values.mean())
            said.append(
                f"{names[at]}: no plot with values; mean and variation of the other strata "
                "stand in, so measure two plots there first."
            )
        else:
            said.append(
                f"{names[at]}: one plot only; the variation of the other strata stands in, "
                "so measure a second plot there first."
            )
    return means, deviations, said


def _remarks(used: pd.DataFrame, measure: Measure, counts: Counts) -> tuple[str, ...]:
    said = []
    freedom = int(np.maximum(counts - 1, 0).sum())
    if freedom < _WELL_KNOWN:
        said.append(
            f"The pilot has {int(counts.sum())} plots, so the variation itself is known to about "
            f"±{100 / np.sqrt(2 * freedom):.0f} % only: plan again when more plots are measured."
        )
    areas = used["area"].to_numpy(float)
    if areas.max() > 1.2 * areas.min():
        said.append(
            "The plots have unequal areas; each counts alike here, and small ones vary more."
        )
    lacking = int(used[f"{measure.key}_lacking"].sum())
    if lacking:
        said.append(
            f"{lacking} living trees without {measure.needs} are taken to be like the "
            "others of their plot."
        )
    return tuple(said)
