"""A plan in plain sentences, for the screen and for its workbook."""

import math

from xlhelpers.estimates.rough_kinds import (
    FEW_TREES,
    FEW_TREES_PLOTS,
    MARGIN_OF_FEW_TREES,
    is_rough_kind,
)
from xlhelpers.fields.rules import RULES
from xlhelpers.jobs.plan.allocation import WAY_WORDS, WAYS, Counts
from xlhelpers.jobs.plan.make_plan import Plan
from xlhelpers.wording import list_words, plural

# with a larger margin a figure is an order of magnitude anyway
_FAIR = float(RULES["margin_fair"].default or 0.0)
HOW = (
    (
        "Margin",
        "Half the distance from the lower to the upper end of the interval, in % of the figure. "
        "The report gives the same margin for the same plots. The ends are worked out on the scale "
        "of logarithms, so the upper end is farther from the figure (Buckland et al. 2001). Mean "
        "and standard error are those of simple random plots, or of plots chosen at random in each "
        "stratum and weighted by its size. Degrees of freedom are after Satterthwaite, and at most "
        "the plots with trees less one. For the margin of a pilot, a stratum with one plot joins "
        "the one nearest in size, as in the report (Cochran 1977).",
    ),
    (
        "Number of plots",
        "The smallest whole number that keeps the target margin with the t of that same number. A "
        "fixed t of 2 gives somewhat fewer. At least two in each stratum. Half or more of such "
        "surveys keep the margin. The number for about nine in ten allows for plots that vary more "
        "than expected (Kupper & Hafner 1989), and for the few plots with very many trees. In "
        "trials with such towns, 79 to 98 of 100 surveys kept the margin with it.",
    ),
    (
        "Plots that would fit",
        "Where they are known, the finite-population correction 1 - n/N is applied.",
    ),
    ("By area alone", "Plots in proportion to the size of the strata."),
    (
        "By area and variation",
        "In proportion to size times standard deviation. This gives the smallest margin for a "
        "number of plots (Cochran 1977; USDA Forest Service, Timber Cruising, chapter 30).",
    ),
    (
        "By area, variation and cost",
        "In proportion to size times standard deviation over the root of a plot's cost. This gives "
        "the smallest margin for a sum of money or hours (Cochran 1977).",
    ),
    (
        "What the margin leaves out",
        "Errors of measurement, missed trees, and plots that could not be reached. It is the "
        "margin of the sampling only.",
    ),
    (
        "Skewed values",
        "Some plots may have much more than the others, and few of them are in a small sample. In "
        "trials with such towns, about 90 of 100 intervals called 95 % contained the true total.",
    ),
    (
        "Few trees",
        f"A number of trees from fewer than {FEW_TREES} trees on fewer than {FEW_TREES_PLOTS} "
        "plots is an order of magnitude, unless its margin is "
        f"{100 * MARGIN_OF_FEW_TREES:.0f} % or less. The report has the same rule. In some trial "
        "towns with so few trees, most surveys that missed the true number missed it on the same "
        "side.",
    ),
    (
        "Random selection",
        "Each place gets a number from the seed and its own name (SHA-256). The smallest numbers "
        "are selected in each stratum.",
    ),
    (
        "Plot radius",
        "The square root of the area divided by pi. On a slope, correct once: in the radius or in "
        "the result (USDA Forest Service, Common Stand Exam field guide, appendix I).",
    ),
)


def percent(share: float) -> str:
    """Return a margin in %, with one decimal below 20 %."""
    value = 100 * share
    return f"{value:.0f} %" if value >= 20 or value == round(value) else f"{value:.1f} %"


def say_too_few_trees(plan: Plan, trees_a_plot: float) -> list[str]:
    """Return that a number of trees stays an order of magnitude with the plots planned.

    Parameters
    ----------
    plan : Plan
        For a number of trees.
    trees_a_plot : float
        How many trees the pilot found on a plot.
    """
    if plan.chosen is None or plan.wanted.margin > _FAIR:
        return []
    plots = int(plan.chosen.sum())
    trees = plots * trees_a_plot
    if not is_rough_kind("living_trees", "total", plots, trees, plan.wanted.margin):
        return []
    enough = min(FEW_TREES_PLOTS, math.ceil(FEW_TREES / trees_a_plot))
    text = (
        f"{plural(plots, 'plot')} would have about {trees:,.0f} living trees. The report calls a "
        f"number from so few an order of magnitude, even with the margin of "
        f"{percent(plan.wanted.margin)}."
    )
    if enough <= plan.figures.possible.sum():
        text += f" With {plural(enough, 'plot')} it would not."
    return [text]


def is_costed(plan: Plan) -> bool:
    """Return whether the cost of a plot differs among strata."""
    return bool((plan.figures.costs != plan.figures.costs[0]).any())


def sentences(plan: Plan, subject: str) -> list[str]:
    """Return the answer: how many plots and where, what the pilot gives, what a day buys."""
    target = f"{percent(plan.wanted.margin)} (confidence {percent(plan.wanted.confidence)})"
    start = f"{subject}: for a margin of {target}"
    if plan.chosen is None:
        answer = (
            f"{start}, a million plots are not enough. Give a wider margin, or the plots that "
            "would fit."
        )
    else:
        total = int(plan.chosen.sum())
        answer = f"{start} you need {plural(total, 'plot')}{_by_stratum(plan, plan.chosen)}."
        if total >= plan.figures.possible.sum():
            answer = f"{start} you need all {plural(total, 'plot')} that would fit."
    return [answer, *_how_surely(plan), *_other_ways(plan), *_of_pilot(plan), *_of_days(plan)]


def _how_surely(plan: Plan) -> list[str]:
    """Return how many of such surveys keep the margin, and with how many plots nine in ten do."""
    if plan.chosen is None or plan.chosen.sum() >= plan.figures.possible.sum():
        return []
    text = "Half or more of such surveys will keep this margin."
    if plan.surely is None:
        return [text]
    return [f"{text} For about nine in ten, plan {plural(int(plan.surely.sum()), 'plot')}."]


def _by_stratum(plan: Plan, counts: Counts) -> str:
    names = plan.figures.names
    if len(names) == 1:
        return ""
    each = ", ".join(f"{name} {count}" for name, count in zip(names, counts.tolist(), strict=True))
    return f", divided {WAY_WORDS[plan.wanted.way]}: {each}"


def _other_ways(plan: Plan) -> list[str]:
    if len(plan.figures.names) == 1:
        return []
    costs = plan.figures.costs if is_costed(plan) else None
    others = []
    for way in WAYS:
        counts = plan.needed[way]
        if way != plan.wanted.way and counts is not None and (way != "costs" or costs is not None):
            cost = "" if costs is None else f", at a cost of {float(counts @ costs):,.4g}"
            needed = plural(int(counts.sum()), "plot")
            others.append(f"Divided {WAY_WORDS[way]}, you would need {needed}{cost}.")
    if costs is not None and plan.chosen is not None:
        others.append(f"The planned plots cost {float(plan.chosen @ costs):,.4g}.")
    return others


def _of_pilot(plan: Plan) -> list[str]:
    if plan.measured is None:
        return []
    now, then = plan.after_pilot
    count = int(plan.measured.sum())
    pilot = f"The {plural(count, 'pilot plot')} {'gives' if count == 1 else 'give'}"
    if not math.isfinite(now):
        return [f"{pilot} no margin yet{_why_none(plan)}."]
    text = f"{pilot} a margin of {percent(now)}"
    text += ", which is enough." if now <= plan.wanted.margin else "."
    text = " ".join([text, *plan.together])
    if plan.wanted.plots_a_day and math.isfinite(then):
        day = plural(plan.wanted.plots_a_day, "plot")
        first = ", a second plot for each such part first" if plan.together else ""
        to = f"would lower it to {percent(then)}" if then < now else f"would give {percent(then)}"
        text += f" One more day ({day}{first}) {to}."
    return [text]


def _why_none(plan: Plan) -> str:
    """Return why the pilot gives no margin: a stratum without plots, or one plot alone."""
    counts = [] if plan.measured is None else plan.measured.tolist()
    empty = [name for name, count in zip(plan.figures.names, counts, strict=True) if not count]
    if empty:
        return f": {list_words(empty)} {'has' if len(empty) == 1 else 'have'} no plot"
    return ": a stratum has fewer than two plots"


def _of_days(plan: Plan) -> list[str]:
    if plan.wanted.plots_a_day is None or plan.chosen is None:
        return []
    total, day = int(plan.chosen.sum()), plan.wanted.plots_a_day
    at = plan.curve[plan.curve["plots"] == total]
    if at.empty:
        return []
    margin, gain = float(at["margin"].iloc[0]), float(at["gain"].iloc[0])
    days = plural(math.ceil(total / day), "field day")
    return [
        f"At {plural(day, 'plot')} a day that is {days}. One more day would lower the margin from "
        f"{percent(margin)} to {percent(margin - gain)}."
    ]
