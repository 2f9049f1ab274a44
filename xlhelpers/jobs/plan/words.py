"""A plan in plain sentences, for the screen and for its workbook."""

import math

from xlhelpers.jobs.plan.allocation import WAYS, Counts, Way
from xlhelpers.jobs.plan.make_plan import Plan

_SHORT: dict[Way, str] = {
    "proportional": "by size alone",
    "optimal": "by size and variation",
    "costs": "by size, variation and cost",
}
HOW = (
    (
        "Margin",
        "Student's t times the standard error of the mean, over the mean. Mean and standard "
        "error are those of simple random plots, or of plots drawn at random in each stratum and "
        "weighed by its size; degrees of freedom after Satterthwaite.",
    ),
    (
        "Number of plots",
        "The smallest whole number that keeps the wanted margin with the t of that "
        "same number; a fixed t of 2 gives somewhat fewer. At least two in each stratum.",
    ),
    (
        "Plots possible",
        "Where they are known, the finite-population correction 1 - n/N is applied.",
    ),
    ("By size", "Plots in proportion to the size of the strata."),
    (
        "By size and variation",
        "In proportion to size times standard deviation: the least margin "
        "for a number of plots (Cochran 1977; USDA Forest Service, Timber Cruising, chapter 30).",
    ),
    (
        "By size, variation and cost",
        "In proportion to size times standard deviation over the root "
        "of a plot's cost: the least margin for a sum of money or hours (Cochran 1977).",
    ),
    (
        "What a margin leaves out",
        "Errors of measurement, trees missed, and plots that could not be "
        "reached. It is the margin of the sampling alone.",
    ),
    (
        "Skewed values",
        "With few plots and a few that hold much more than the others, margins come "
        "out too narrow. From about 30 plots on they can be trusted.",
    ),
    (
        "The draw",
        "Each place gets a number from the seed and its own name (SHA-256); the smallest "
        "are drawn in each stratum.",
    ),
    (
        "Plot radius",
        "Root of area over pi. On a slope the correction is made once: in the radius "
        "or in the result (USDA Forest Service, Common Stand Exam field guide, appendix I).",
    ),
)


def percent(share: float) -> str:
    """Return a margin in per cent, with one decimal below 20 %."""
    value = 100 * share
    return f"{value:.0f} %" if value >= 20 or value == round(value) else f"{value:.1f} %"


def is_costed(plan: Plan) -> bool:
    """Return whether the cost of a plot differs among strata."""
    return bool((plan.figures.costs != plan.figures.costs[0]).any())


def plots(count: int) -> str:
    """Return a number of plots in words."""
    return "1 plot" if count == 1 else f"{count:,} plots"


def sentences(plan: Plan, subject: str) -> list[str]:
    """Return the answer: how many plots and where, what the pilot gives, what a day buys."""
    wanted = f"±{percent(plan.wanted.margin)} (confidence {percent(plan.wanted.confidence)})"
    if plan.chosen is None:
        said = [
            f"{subject}: {wanted} takes more than a million plots; state a wider margin, or "
            "the plots possible."
        ]
    else:
        total = int(plan.chosen.sum())
        said = [f"{subject}: {wanted} takes {plots(total)}{_by_stratum(plan, plan.chosen)}."]
        if total >= plan.figures.possible.sum():
            said[0] = f"{subject}: {wanted} takes all {plots(total)} that are possible."
    said += _other_ways(plan) + _of_pilot(plan) + _of_days(plan)
    return said


def _by_stratum(plan: Plan, counts: Counts) -> str:
    names = plan.figures.names
    if len(names) == 1:
        return ""
    each = ", ".join(f"{name} {count}" for name, count in zip(names, counts.tolist(), strict=True))
    return f", allocated {_SHORT[plan.wanted.way]}: {each}"


def _other_ways(plan: Plan) -> list[str]:
    if len(plan.figures.names) == 1:
        return []
    costed = is_costed(plan)
    said = []
    for way in WAYS:
        counts = plan.needed[way]
        if way != plan.wanted.way and counts is not None and (way != "costs" or costed):
            cost = f", at a cost of {float(counts @ plan.figures.costs):,.4g}" if costed else ""
            said.append(f"Allocated {_SHORT[way]} it would take {plots(int(counts.sum()))}{cost}.")
    chosen = plan.chosen
    if costed and chosen is not None:
        total = float(chosen @ plan.figures.costs)
        said.append(f"The plots planned cost {total:,.4g}.")
    return said


def _of_pilot(plan: Plan) -> list[str]:
    if plan.measured is None:
        return []
    now, then = plan.after_pilot
    count = int(plan.measured.sum())
    if not math.isfinite(now):
        return [f"The pilot's {plots(count)} give no margin yet: a stratum has fewer than two."]
    said = f"The pilot's {plots(count)} give ±{percent(now)}"
    if now <= plan.wanted.margin:
        said += ", which is enough"
    if plan.wanted.plots_a_day:
        said += f"; one more day ({plots(plan.wanted.plots_a_day)}) would bring ±{percent(then)}"
    return [said + "."]


def _of_days(plan: Plan) -> list[str]:
    if plan.wanted.plots_a_day is None or plan.chosen is None:
        return []
    total, day = int(plan.chosen.sum()), plan.wanted.plots_a_day
    at = plan.curve[plan.curve["plots"] == total]
    if at.empty:
        return []
    margin, gain = float(at["margin"].iloc[0]), float(at["gain"].iloc[0])
    days = math.ceil(total / day)
    return [
        f"The {plots(total)} take {days} field day{'s' if days > 1 else ''} of {plots(day)}; one "
        f"more day after that brings ±{percent(margin)} to ±{percent(margin - gain)}."
    ]
