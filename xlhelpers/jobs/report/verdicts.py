"""How far a figure can be trusted: one of three verdicts, by its margin and a stated rule.

The margin is half the distance between the two ends, as a share of the figure, at 95 % whatever
confidence the report is asked for. In a count of every tree there are no ends: the share of plots
not reached, or of trees without the value, stands in for the margin if it is larger than nothing.

Two kinds of figures missed in trials what intervals are to reach: a number of trees from few
trees, and a share from few plots. They are an order of magnitude down to margins that no such
survey had (`estimates/rough_kinds.py`, `tests/simulation`).
"""

import math

import pandas as pd

from xlhelpers.estimates.intervals import FEW_PLOTS, STATED_CONFIDENCE
from xlhelpers.estimates.limits import limits
from xlhelpers.estimates.quantities import scale_of
from xlhelpers.estimates.rough_kinds import (
    FEW_TREES,
    FEW_TREES_PLOTS,
    MARGIN_OF_FEW_TREES,
    SHARES,
    is_number_of_trees,
    is_rough_kind,
)
from xlhelpers.fields.rules import OWN, RULES
from xlhelpers.jobs.report.facts import Facts
from xlhelpers.jobs.report.numbers import percent
from xlhelpers.survey.plot_roles import EMPTY, MEASURED, MISSING
from xlhelpers.wording import list_words, plural

BUDGET, FAIR, ROUGH = "good enough to budget on", "a fair idea", "an order of magnitude"
VERDICTS = (BUDGET, FAIR, ROUGH)
HEADING = "Verdict"
_OWN = OWN.lower().rstrip(".")
_IN_CELL = {BUDGET: "to budget on", FAIR: "fair idea", ROUGH: "order of magnitude", "": "none"}
# what is judged for the whole town: quantity, kind, label
FIGURES = (
    ("trees", "total", "Trees"),
    ("dead_trees", "total", "Dead trees"),
    ("mean_height", "mean", "Mean height"),
    ("mean_crown_depth", "mean", "Mean crown depth"),
    ("mean_crown_width", "mean", "Mean crown width"),
    ("mean_diameter", "mean", "Mean stem diameter"),
    ("basal_area", "total", "Basal area, living"),
    ("basal_area_with_dead", "total", "Basal area, with dead"),
    ("crown_cover_random_overlap", "share", "Land under crowns"),
)


_IN_SENTENCE = {
    "Trees": "number of trees",
    "Dead trees": "number of dead trees",
    "Basal area, living": "basal area of living trees",
    "Basal area, with dead": "basal area with dead trees",
}


def name_figure(label: str) -> str:
    """Return the label of a figure as it goes within a sentence: "mean height"."""
    return _IN_SENTENCE.get(label, label[:1].lower() + label[1:])


def relative_margin(facts: Facts, row: pd.Series) -> float:
    """Return the margin of a figure as a share of it, NaN where there is none.

    Parameters
    ----------
    facts : Facts
        What the report is made from.
    row : Series
        A row of the estimates.
    """
    value = float(row["value"])
    if not math.isfinite(value) or value <= 0 or facts.mode in ("measured", "nothing"):
        return math.nan
    if facts.mode == "census":
        return max(_plots_missing(facts), _trees_without(row))
    ends = [float(row["low"]), float(row["high"])]
    if facts.confidence != STATED_CONFIDENCE:
        scale = scale_of(str(row["quantity"]), str(row["kind"]))
        error, freedom = float(row["standard_error"]), float(row["degrees_of_freedom"])
        ends = [
            float(end[0]) for end in limits([value], [error], [freedom], STATED_CONFIDENCE, scale)
        ]
    return (ends[1] - ends[0]) / 2 / value


def verdict(facts: Facts, row: pd.Series) -> str:
    """Return one of VERDICTS, "" where the town has no figure or the figure is 0.

    Parameters
    ----------
    facts : Facts
        What the report is made from.
    row : Series
        A row of the estimates.
    """
    if not float(row["value"]) > 0 or facts.mode in ("measured", "nothing"):
        return ""
    margin = relative_margin(facts, row)
    is_few = facts.has_margins and margin != 0 and int(row["plots_with"]) < FEW_PLOTS
    if is_few or not math.isfinite(margin):
        return ROUGH
    if _is_rough_kind(facts, row, margin):
        return ROUGH
    # as it is shown, in whole percent
    rounded_margin = round(margin, 2)
    if rounded_margin <= _limit(facts, "margin_budget"):
        return BUDGET
    return FAIR if rounded_margin <= _limit(facts, "margin_fair") else ROUGH


def _is_rough_kind(facts: Facts, row: pd.Series, margin: float) -> bool:
    """Return whether a figure of a sample is an order of magnitude by its kind."""
    counts = int(row["plots"]), float(row["trees"])
    return facts.has_margins and is_rough_kind(row["quantity"], row["kind"], *counts, margin)


def why_rough(facts: Facts, row: pd.Series) -> str:
    """Return why a figure with a smaller margin is an order of magnitude, "" where that is none.

    Parameters
    ----------
    facts : Facts
        What the report is made from.
    row : Series
        A row of the estimates.
    """
    margin = relative_margin(facts, row)
    is_explained = int(row["plots_with"]) < FEW_PLOTS or not (
        round(margin, 2) <= _limit(facts, "margin_fair")
    )
    if is_explained or verdict(facts, row) != ROUGH or not _is_rough_kind(facts, row, margin):
        return ""
    if is_number_of_trees(str(row["quantity"])):
        noun = str(row["quantity"]).replace("_", " ").removesuffix("s")
        return (
            f"Only {plural(int(row['trees']), noun)} {'was' if row['trees'] == 1 else 'were'} "
            "found. In some trial towns with so few, most surveys that missed the true number "
            "missed it on the same side."
        )
    return (
        f"This share is from {plural(int(row['plots']), 'plot')}. In trials with so few, shares "
        "with such a small margin were mostly luck."
    )


# of two kinds of figures, behind the rule for all
RULE_OF_KINDS = (
    f"A number of trees from fewer than {FEW_TREES} trees on fewer than {FEW_TREES_PLOTS} plots is "
    f"an order of magnitude with a margin of more than {percent(MARGIN_OF_FEW_TREES)}. So is a "
    "share of the trees with more than "
    + " and with more than ".join(
        f"{percent(margin)} from {most} plots or fewer" for most, margin in SHARES
    )
    + ". In some trial towns, most surveys that missed the true number missed it on the same side, "
    "and small margins of shares were mostly luck. These limits are this project's own rule."
)


def weaker(verdicts: list[str]) -> str:
    """Return the weakest of some verdicts; one that is missing does not count."""
    return max((one for one in verdicts if one), key=VERDICTS.index, default="")


def in_cell(one: str) -> str:
    """Return a verdict in a few words, for a cell."""
    return _IN_CELL[one]


def by_verdict(facts: Facts) -> tuple[str, ...]:
    """Return a sentence for each verdict that a figure of the town has, the best first."""
    labels: dict[str, list[str]] = {one: [] for one in VERDICTS}
    for quantity, kind, label in FIGURES:
        town_verdict = verdict(facts, facts.town(quantity, kind))
        if town_verdict:
            labels[town_verdict].append(name_figure(label))
    return tuple(
        f"{one[:1].upper()}{one[1:]}: {list_words(names)}."
        for one, names in labels.items()
        if names
    )


def rule(facts: Facts) -> str:
    """Return the rule of the verdicts, and what each of its limits rests on."""
    budget, fair = (_limit(facts, name) for name in ("margin_budget", "margin_fair"))
    measure = "margin in %" if facts.has_margins else "share of plots or trees that is missing"
    text = (
        f"The verdict goes by the {measure}: up to {percent(budget)} a figure is {BUDGET}, up to "
        f"{percent(fair)} it is {FAIR}. With more it is {ROUGH}."
    )
    few = f" and {FEW_PLOTS} plots" if facts.has_margins else ""
    if facts.has_margins:
        text += f" A figure from fewer than {FEW_PLOTS} plots, or without a margin, is one too."
        text += " One from few trees or few plots needs a smaller margin (see the methods)."
        if facts.confidence != STATED_CONFIDENCE:
            text += f" Verdicts always use margins at {percent(STATED_CONFIDENCE)}."
    return f"{text} {_basis(facts, budget, fair, few)}"


def _basis(facts: Facts, budget: float, fair: float, few: str) -> str:
    """Return what the limits of the verdicts rest on; one that was changed is the town's own."""
    usual = "common practice, with no source"
    if budget != RULES["margin_budget"].default:
        usual = "this town's own choice"
    if fair == RULES["margin_fair"].default:
        verb = "are" if few else "is"
        return f"The limit of {percent(budget)} is {usual}. {percent(fair)}{few} {verb} {_OWN}."
    more = f" {few.removeprefix(' and ')} is {_OWN}." if few else ""
    return (
        f"The limit of {percent(budget)} is {usual}. {percent(fair)} is this town's own choice."
        f"{more}"
    )


def _limit(facts: Facts, name: str) -> float:
    value = facts.outcome.survey.rules.get(name)
    is_number = isinstance(value, float) and math.isfinite(value)
    return float(value if is_number else RULES[name].default)  # type: ignore[arg-type]


def _plots_missing(facts: Facts) -> float:
    counts = facts.plots["counted_as"].value_counts()
    missing = float(counts.get(MISSING, 0))
    return missing / max(missing + float(counts.get(MEASURED, 0) + counts.get(EMPTY, 0)), 1.0)


def _trees_without(row: pd.Series) -> float:
    without = float(row["trees_without"])
    return without / max(without + float(row["trees"]), 1.0)
