"""What must be sentences of the estimates as a whole, in plain sentences."""

from collections.abc import Sequence

import numpy as np

from xlhelpers.estimates.design import Design
from xlhelpers.estimates.intervals import AS_GOOD_AS, MEASURED, interval_cover
from xlhelpers.estimates.scopes import Scope
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.plot_roles import EMPTY, LEFT_OUT, MISSING, OUTSIDE, PlotRoles
from xlhelpers.survey.plot_roles import MEASURED as WITH_TREES
from xlhelpers.survey.strata import Strata, area_words
from xlhelpers.wording import list_words

# above this share of the plots missing, what they hide can outweigh the margin; common practice,
# no source
_MANY_MISSING = 0.1
_CORRECTION_FROM = 0.05
UNEQUAL_ENDS = (
    "The upper end of a total is farther from the figure than the lower end, because the few plots "
    "with very many trees are easily missed."
)


def overall_words(
    outcome: Outcome, roles: PlotRoles, strata: Strata, town: Scope, confidence: float
) -> tuple[str, ...]:
    """Return the sentences, those that withhold numbers first."""
    sentences = [town.no_value, "" if town.no_value else town.no_total]
    if town.no_density not in sentences:
        sentences.append("" if town.no_value else town.no_density)
    sentences += _plot_words(roles)
    sentences += _tree_words(outcome, roles)
    if not roles.is_census:
        sentences += _sampling_words(roles, strata, town, confidence)
        sentences += lonely_words(strata, town)
    sentences += _area_words(outcome, roles, strata)
    sentences.append(
        "Crown areas are added up. Each whole crown counts on the plot of its stem, and overlaps "
        "are not removed. Crowns that overlap at random cover less, as the next row says. Trees in "
        "clumps cover less still."
    )
    return tuple(sentence for sentence in sentences if sentence)


def _plot_words(roles: PlotRoles) -> list[str]:
    table = roles.table
    counts = {
        word: int((table["counted_as"] == word).sum())
        for word in (WITH_TREES, EMPTY, MISSING, OUTSIDE, LEFT_OUT)
    }
    used = counts[WITH_TREES] + counts[EMPTY]
    sentences = []
    if roles.is_census:
        sentences.append(
            f"Every tree of {_many(used, 'plot')} was to be measured. The figures are counts and "
            "have no sampling error."
        )
    else:
        sentences.append(
            f"The figures are based on {_many(used, 'plot')}, {counts[EMPTY]} of them without any "
            "trees."
        )
    if counts[MISSING]:
        sentences.append(_missing_words(roles, counts[MISSING], used))
    if counts[OUTSIDE]:
        sentences.append(f"Not counted because outside the town: {_many(counts[OUTSIDE], 'plot')}.")
    for why, group in table[table["counted_as"] == LEFT_OUT].groupby("because", sort=False):
        sentences.append(f"{_many(len(group), 'plot')} not used: {why} ({_some(group['plot'])}).")
    return sentences


def _missing_words(roles: PlotRoles, missing: int, used: int) -> str:
    rows = roles.table[roles.table["counted_as"] == MISSING]
    reasons = "; ".join(
        f"{why}: {_some(group['plot'])}" for why, group in rows.groupby("because", sort=False)
    )
    if roles.is_census:
        return f"Not reached and not in the counts: {_many(missing, 'plot')} ({reasons})."
    sentence = (
        f"Not reached: {_many(missing, 'plot')} of the sample ({reasons}). The figures treat them "
        "like the other plots of their part of the town."
    )
    if missing > _MANY_MISSING * (missing + used):
        sentence += (
            f" That is {100 * missing / (missing + used):.0f} % of the sample. If those plots "
            "differ, the figures are wrong by more than the margins."
        )
    return sentence


def _tree_words(outcome: Outcome, roles: PlotRoles) -> list[str]:
    trees, table = outcome.trees, roles.table
    at = trees["plot_position"].to_numpy()
    counts = np.isin(np.arange(len(table) + 1), roles.used)
    elsewhere = int((~counts[at]).sum())
    sentences = []
    if elsewhere:
        sentences.append(
            f"Not in the figures: {_many(elsewhere, 'tree')} on plots that do not count or are not "
            "listed."
        )
    used = table.iloc[roles.used]
    short = (used["trees_counted"] - used["trees"]).clip(lower=0).sum()
    if short > 0:
        sentences.append(
            f"The crews counted {_many(int(short), 'tree')} more on these plots than are entered. "
            "They are not in the figures."
        )
    twice = int((trees["duplicate"].to_numpy(dtype=bool) & counts[at]).sum())
    if twice:
        sentences.append(
            f"{_many(twice, 'tree')} share a number with another tree. Each is counted."
        )
    return sentences


def _sampling_words(roles: PlotRoles, strata: Strata, town: Scope, confidence: float) -> list[str]:
    sentences = []
    fraction = strata.table["fraction"].to_numpy()
    if (fraction >= _CORRECTION_FROM).any():
        sentences.append(
            f"Up to {100 * fraction.max():.0f} % of a part of the town was sampled. The margins "
            "allow for that."
        )
    plots = len(town.plots)
    if plots > 1:
        sentences.append(UNEQUAL_ENDS)
    share = interval_cover(plots, confidence, "total").inside
    # as it is shown, in whole percent
    if round(share, 2) < AS_GOOD_AS:
        sentences.append(
            f"In trials with towns of known trees, intervals called {100 * confidence:.0f} % "
            f"contained the true total in about {100 * share:.0f} % of surveys with {plots} plots."
        )
    elif 1 < plots < min(MEASURED):
        sentences.append(
            f"With {plots} plots the margins themselves are very uncertain. Totals are orders of "
            "magnitude."
        )
    return sentences


def lonely_words(strata: Strata, town: Scope) -> list[str]:
    """Return which strata have one plot only, what to do, and what they are joined with."""
    table = strata.table
    alone = table[(table["used"] == 1) & (table["fraction"] < 1)]
    if len(alone) == 0:
        return []
    if len(table) == 1:
        return ["Only one plot: too few to say anything about the town."]
    sentences = [
        f"Only one plot in {_some(alone['stratum'])}: too few to say. Measure another one there, "
        "or join it to another part of the town on Strata and Plots."
    ]
    if not town.no_value:
        sentences += joined_words([str(name) for name in table["stratum"]], town.design)
    return sentences


def joined_words(names: Sequence[str], design: Design) -> list[str]:
    """Return which strata are taken together for the margins, since one of them has one plot.

    Parameters
    ----------
    names : sequence of str
        The strata of the design, in its order.
    design : Design
        The plots. Without strata that are joined, or where one stays alone, nothing is returned.
    """
    alone = (design.plots == 1) & (design.fraction < 1)
    if not design.joins_lonely or design.lonely.any() or not alone.any():
        return []
    group = design.group
    return [
        f"For the margins of the town, {list_words(together)} are taken together: a part with one "
        "plot joins the part nearest in size."
        for code in sorted(set(group[alone].tolist()))
        if (together := [name for name, of in zip(names, group, strict=True) if of == code])
    ]


def _area_words(outcome: Outcome, roles: PlotRoles, strata: Strata) -> list[str]:
    sentences = []
    used = roles.table.iloc[roles.used]
    inside = outcome.survey.plots["area_inside"].to_numpy(dtype=float)
    reached = outcome.survey.plots["area_reached"].to_numpy(dtype=float)
    beyond = roles.used[(reached > inside * 1.001)[roles.used]]
    if len(beyond):
        names = _some(roles.table["plot"].iloc[beyond])
        sentences.append(
            f"On plot {names} the area walked is larger than the area inside the town. The smaller "
            "one is used."
        )
    lost = float(strata.table["not_reached"].sum())
    if lost > 0:
        share = lost / (lost + float(used["area"].sum()))
        sentences.append(
            f"{100 * share:.1f} % of the plots' area could not be walked. It is treated like the "
            "rest of its part of the town."
        )
    table = strata.table
    derived = table["area"].isna() & np.isfinite(strata.size) & strata.has_areas
    if derived.any() and not roles.is_census:
        total = float(strata.size[derived.to_numpy()].sum())
        sentences.append(
            f"No area is stated for {_some(table['stratum'][derived])}. The number of plots that "
            f"would fit times their mean area is used: {area_words(total, outcome.survey.units)}."
        )
    return sentences


def _many(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def _some(names: object, most: int = 5) -> str:
    listed = [str(name) or "(blank)" for name in names]  # type: ignore[attr-defined]
    more = f" and {len(listed) - most} more" if len(listed) > most else ""
    return ", ".join(listed[:most]) + more
