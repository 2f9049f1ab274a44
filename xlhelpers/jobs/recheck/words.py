"""What people read about trees to remeasure and remeasured trees: results, refusals, tabs."""

from collections.abc import Iterable
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from xlhelpers.estimates.remeasured import Judged, pairs_to_fail, pairs_to_pass
from xlhelpers.pages.plan import Column
from xlhelpers.wording import plural

SHARE_OUTSIDE = "--share must be above 0 and at most 1, not {share:g}."
NO_TREES = "{name} has no numbered trees to remeasure."
GIVEN_TWICE = "{path} is given twice. Give both measurements."
NOTHING_ENTERED = (
    "{name}: nothing is entered yet. Enter what the crew wrote there, then compare again."
)
NO_COMMON_TREE = (
    "{first} and {again} have no tree with the same plot and number. Check the numbers."
)
SAVED_REPORT = "Saved {out}: by crew, person and instrument, with charts and all pairs."

OBJECTIVES_TAB, PLAN_TAB = "Quality objectives", "Recheck plan"
OBJECTIVE_COLUMNS = (
    Column("key", "Quantity", "text", width=18),
    Column("tolerance", "Tolerance", "number", "number", width=11),
    Column("unit", "Unit", "text", width=12),
    Column("share", "Target share", "number", "percent", width=11),
    Column("source", "Source of both numbers", "entry", width=80),
)
SAME_WORD = "same word"
OBJECTIVES_PURPOSE = (
    "How close two measurements must be, and for what share of the trees. Type the numbers that "
    "your survey agreed on, with their source. Leave both blank for no objective."
)
OBJECTIVES_REMARK = "The report of the remeasured trees reads this tab."
PLAN_TITLE = "Trees to remeasure without seeing the first values"
PLAN_PURPOSE = "The first values are not in this workbook. Enter the second measurement here."
PLAN_COLUMNS = (
    Column("what", "What", "text", width=30),
    Column("text", "Text", "wrapped", width=90),
)

AGREEMENT_TAB, GROUPS_TAB, PAIRS_TAB, CHART_DATA_TAB = "Agreement", "By crew", "Pairs", "Chart data"
AGREEMENT_TITLE = "Remeasured trees: how well they agree"
SENTENCE_COLUMNS = (
    Column("text", "In plain words", "wrapped", width=78),
    Column("source", "Source of the objective", "wrapped", width=62),
)
GROUPS_TITLE = "Agreement by crew and instrument"
GROUPS_PURPOSE = (
    "For the first measurement. The person is the first of the crew's initials. A line without a "
    "standard deviation has too few pairs."
)
ALL_GROUPS = "all"
_N: Literal["number"] = "number"
GROUP_COLUMNS = (
    Column("label", "Quantity", "wrapped", width=18),
    Column("by", "By", "text", width=11),
    Column("group", "Who or what", "wrapped", width=22),
    Column("unit", "Unit", "text", width=7),
    Column("pairs", "Pairs", _N, "count", width=7),
    Column("left_out", "Left out", _N, "count", width=7),
    Column("bias", "Bias", _N, "number", width=8),
    Column("bias_low", "Bias, 95 % from", _N, "number", width=9),
    Column("bias_high", "to", _N, "number", width=8),
    Column("sd", "Standard deviation", _N, "number", width=9),
    Column("rmse", "Root mean square error", _N, "number", width=11),
    Column("lower", "Lower limit of agreement", _N, "number", width=11),
    Column("lower_low", "95 % from", _N, "number", width=8),
    Column("lower_high", "to", _N, "number", width=8),
    Column("upper", "Upper limit of agreement", _N, "number", width=11),
    Column("upper_low", "95 % from", _N, "number", width=8),
    Column("upper_high", "to", _N, "number", width=8),
    Column("tolerance", "Tolerance", _N, "number", width=10),
    Column("within", "Within", _N, "count", width=8),
    Column("share", "Share within", _N, "percent", width=8),
    Column("share_low", "95 % from", _N, "percent", width=8),
    Column("share_high", "to", _N, "percent", width=8),
    Column("wanted", "Objective", _N, "percent", width=10),
    Column("verdict", "Verdict", "text", width=30),
    Column("needed", "Pairs needed to pass, if all others agree", _N, "count", width=14),
)
PAIRS_TITLE = "The pairs"
PAIRS_PURPOSE = "Every tree that is in both workbooks."
PAIR_COLUMNS = (
    Column("plot", "Plot no.", "identifier", width=9),
    Column("tree", "Tree no.", "identifier", width=8),
    Column("crew", "Crew", "text", width=12),
    Column("instrument", "Instrument", "text", width=14),
    Column("doubtful", "Open finding in", "text", width=10),
    Column("left_out", "Left out", "text", width=16),
)
# the columns of one quantity in the pairs
SIDES = {"first": "first", "again": "second", "difference": "difference"}
CHART_DATA_TITLE = "What the charts are drawn from"
CHART_COLUMNS = {
    "at": "At",
    "mean": "Mean",
    "difference": "Difference",
    "bias": "Bias",
    "lower": "Lower",
    "upper": "Upper",
}
CHART_TITLE = "{label}: difference against mean"
CHART_ACROSS, CHART_UP = "Mean of both ({unit})", "First minus second ({unit})"
CHART_LINES = {
    "bias": "Bias",
    "lower": "Lower limit of agreement",
    "upper": "Upper limit of agreement",
}
CHART_POINTS = "Trees"


@dataclass(frozen=True)
class PlanFacts:
    """The random selection: share, seed, and from how many trees of how many crews."""

    share: float
    seed: int
    drawn: int
    of: int
    crews: int
    with_places: bool


def say_planned(out: Path, facts: PlanFacts) -> tuple[str, ...]:
    """Return the sentences about a workbook for the second measurement."""
    return (
        f"Saved {out}: {facts.drawn} of {plural(facts.of, 'tree')} to remeasure, at least one of "
        f"each crew ({plural(facts.crews, 'crew')}). Seed {facts.seed} repeats this selection.",
        "The first values are not in this workbook. Print its field sheet for the crew, and enter "
        "what they measure there.",
    )


def describe_plan(facts: PlanFacts) -> dict[str, str]:
    """Return the rows of the tab Recheck plan: what each is about, and its text."""
    places = "by plot and tree number only; take the plot map along"
    if facts.with_places:
        places = "by bearing and distance from the plot centre"
    return {
        "Selected at random": f"{facts.drawn} of {facts.of} trees, at least one from each of the "
        f"{facts.crews} crews",
        "Share of each crew's trees": f"{facts.share:.1%}",
        "Seed": f"{facts.seed}: the same seed and share repeat this selection",
        "How to find the trees": places,
        "How to measure": "As the survey rules say, without looking at the first values. Fill in "
        "the crew, instrument and scale of each plot, then one line for each tree. Add a second "
        "set-up where the first crew would.",
        "Then": "Enter what the crew wrote, save and close this workbook. Then run “Compare "
        "remeasured trees” with the survey's workbook as “Survey” and this one as “Second "
        "measurement”. You find it in the window of xlhelpers, in LibreOffice under Tree survey – "
        "Other jobs, and on the command line as recheck report.",
    }


def say_pairs(pairs: int, names: tuple[str, str], *, known: bool) -> str:
    """Return how many trees are compared, and what a difference is."""
    second = "Known values" if known else "Second measurement"
    return (
        f"{plural(pairs, 'tree')}. First: {names[0]}. {second}: {names[1]}. Each difference is "
        "first minus second."
    )


def explain_agreement(
    doubtful: int, left_out: int, shares: Iterable[float], *, known: bool
) -> tuple[str, ...]:
    """Return the remarks on the first tab of the report.

    Parameters
    ----------
    doubtful
        How many trees have an open finding.
    left_out
        How many trees have a value that cannot be right.
    shares
        The shares of the objectives, 0 to 1.
    known
        Whether the second values are taken as true.
    """
    meaning = "Both measurements have errors. A difference contains both."
    if known:
        meaning = "The second values are taken as true, so differences are errors of the first."
    findings = (
        f"{plural(doubtful, 'tree')} {'has' if doubtful == 1 else 'have'} an open finding in one "
        f"of the workbooks (tab {PAIRS_TAB}). They are counted here, so resolve them first."
    )
    gone = (
        f"{plural(left_out, 'tree')} with a value that cannot be right (tab {PAIRS_TAB}). It is "
        "left out until you correct it, or accept it with initials."
    )
    needed = "; ".join(
        f"for {share:.0%}, {pairs_to_pass(share)} to pass if all are within and "
        f"{pairs_to_fail(share)} to fail if all are outside"
        for share in sorted(shares)
    )
    return (
        meaning,
        *([findings] if doubtful else []),
        *([gone] if left_out else []),
        f"Fewest pairs for a certain verdict: {needed or 'no objective is set'}. Certain means "
        "that the exact one-sided 95 % limit of the share is on that side.",
        "Limits of agreement: about 95 of 100 differences are between them (Bland & Altman 1986). "
        "This is about measurements, not about people. Ask first what was different on the day.",
    )


def describe_chart(judged: Judged, limits: tuple[float, float, float], unit: str) -> str:
    """Return what a chart shows, for those who do not see it; bias and both limits in `unit`."""
    bias, lower, upper = limits
    return (
        f"Points, one for each tree: first minus second {judged.objective.label.lower()} against "
        f"the mean of both, {judged.agreement.n} trees. Bias {bias:.2f} {unit}, limits of "
        f"agreement {lower:.2f} and {upper:.2f} {unit}."
    )
