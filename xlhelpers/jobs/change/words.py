"""What changed between two surveys, in plain sentences, and what to look at."""

from __future__ import annotations

import math
from collections.abc import Iterator

import pandas as pd

from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.jobs.change.compare_surveys import Change, Growth
from xlhelpers.jobs.change.totals import WIDTHS_APART, Net
from xlhelpers.jobs.change.trees import (
    ALIVE,
    ALIVE_AGAIN,
    AMBIGUOUS,
    DIED,
    GONE,
    NEW,
    SHORTEST_YEARS,
    STILL_DEAD,
    Shrunk,
)
from xlhelpers.wording import plural

GROWN = {"height": "length", "diameter": "diameter"}
_SOURCES_OF_ERROR = {"height": "instruments and observers", "diameter": "observers"}
LOOK_COLUMNS = ("kind", "plot", "tree_old", "tree_new", "species", "found", "why", "do")
_FATES = (
    (ALIVE, "alive in both"),
    (DIED, "died (still standing)"),
    (STILL_DEAD, "dead in both"),
    (ALIVE_AGAIN, ALIVE_AGAIN),
    (GONE, "gone"),
    (NEW, "new"),
    (AMBIGUOUS, "ambiguous"),
)
_NO_MATTER = ("OLD: outside the town", "NEW: outside the town")
HOW = (
    (
        "Matching",
        "Within each plot, every pair of trees gets the odds that it is one tree. Number, bearing "
        "and distance from the plot centre, species, diameter and height are weighed together. "
        "Trees compete for their partners. A certainty of 80 % or more makes a match. Less is "
        "ambiguous: then the tree counts neither as growth nor as a death.",
    ),
    ("Years", "From the dates of each plot."),
    (
        "Growth",
        "New minus old, for trees alive in both surveys and cut back in neither. Diameters count "
        "only where the number of stems is the same and both were measured at the same height. "
        "Means leave out values that are doubtful in either survey or cannot be right. The "
        "sentence counts them, and the tab Trees gives the reason for each. Trees that came out "
        "smaller stay in. Without them, only errors that make trees grow would be left. Means and "
        "shares are those of the town, from the plots that count for the totals.",
    ),
    (
        "Uncertainty of a growth",
        "Of both years together, as a standard uncertainty. Heights: the instruments' part, and "
        "what different people see in one tree, 2.9 % of the height each time. Diameters: what "
        "different people read, 1.5 % of the diameter each time (Luoma et al. 2017). What people "
        "can add to a mean is worked out as if each person always saw too much or too little by "
        "that: it does not shrink with more trees, but with more people.",
    ),
    (
        "Shrunk",
        "Smaller by more than twice the uncertainty of the growth. One is probably wrong if its "
        "height is less typical for its diameter and species (McPherson, van Doorn & Peper 2016, "
        "adjusted to both surveys) and the odds that it is the wrong one are at least 3 to 1.",
    ),
    (
        "Change of totals",
        "The differences of plots measured both times are scaled up to the town, within strata, by "
        "area. The margin is Student's t times the standard error of the differences, with degrees "
        "of freedom after Satterthwaite. The ends of the change in % of OLD are worked out on the "
        "scale of logarithms, so they are not equally far from it; those of the deaths a year on "
        "that of logits. Both cover the sampling only, not errors of measurement. Crown areas are "
        "left out if the two surveys took crown widths in different ways.",
    ),
    (
        "Trees that count",
        "Living trees from the larger of both smallest diameters up. A tree without a diameter or "
        "a width is treated like the others of its plot.",
    ),
)


def write_size(value: float, quantity: str, units: Units, decimals: int = 1) -> str:
    """Return a length or a diameter with its unit."""
    record = QUANTITIES[quantity]
    return f"{value / record.factor(units):.{decimals}f} {record.unit(units)}"


def write_signed(value: float, places: int) -> str:
    """Return a number with its sign, the true minus for those below zero."""
    return f"{value:+,.{places}f}".replace("-", "−")


def sentences(change: Change, units: Units) -> list[str]:
    """Return the whole comparison in plain words."""
    doubt = f"{change.doubt} So no growth or deaths per year are given."
    return [
        *([doubt] if change.doubt else []),
        _compared_plots(change),
        _fate_counts(change),
        *(_growth(one, change, units) for one in change.growths if not one.group),
        *(net_words(net, change, units) for net in change.nets),
    ]


def _compared_plots(change: Change) -> str:
    text = f"{plural(len(change.pairs.table), 'plot')} measured both times"
    if not math.isfinite(change.years):
        return f"{text}. The plots have no dates, so there are no figures per year."
    text += f", {change.years:.1f} years apart"
    years = change.pairs.table["years"].dropna()
    if years.max() - years.min() > 0.5:
        text += f" ({years.min():.1f} to {years.max():.1f})"
    if 0 <= change.years < SHORTEST_YEARS:
        text += ". That is too short for a growth per year"
    return f"{text}."


def _fate_counts(change: Change) -> str:
    whole = change.fates.iloc[0]
    counts = [f"{int(whole[fate])} {word}" for fate, word in _FATES if whole[fate]]
    text = f"Trees: {', '.join(counts)}."
    loss, low, high = change.loss
    if math.isfinite(loss):
        reach = f" (from {100 * low:.1f} % to {100 * high:.1f} %)" if high > low else ""
        text += f" Each year {100 * loss:.1f} %{reach} of the living trees died or disappeared."
    return text


def _growth(one: Growth, change: Change, units: Units) -> str:
    what, quantity = f"{one.what.capitalize()} growth", GROWN[one.what]
    if not one.trees:
        is_alive = bool((change.trees["fate"] == ALIVE).any())
        because = one.remark if is_alive else "no tree is alive in both surveys"
        return f"{what}: cannot be told ({because}). {_left_out(one)}".strip()
    margin = (
        f"± {write_size(one.margin, quantity, units, 2)}, " if math.isfinite(one.margin) else ""
    )
    text = (
        f"{what}: {write_size(one.mean, quantity, units, 2)} a year ({margin}"
        f"{plural(one.trees, 'tree')})."
    )
    if math.isfinite(one.margin) and one.observers > 0:
        text += (
            " This margin is that of the sampling. People who always see too much or too little "
            f"can add ± {write_size(one.observers, quantity, units, 2)} a year."
        )
    if math.isfinite(one.u):
        text += (
            f" For a single tree it is known to ± {write_size(one.u, quantity, units, 2)} a year, "
            f"counting the {_SOURCES_OF_ERROR[one.what]} of both years."
        )
    return " ".join(filter(None, (text, _left_out(one), one.remark)))


def _left_out(one: Growth) -> str:
    """Return how many of the trees alive both times are in no mean, and why."""
    if not one.left_out:
        return ""
    count = sum(number for _, number in one.left_out)
    reasons = ", ".join(f"{why} ({number:,})" for why, number in one.left_out)
    whole = one.trees + count
    which = f"{count:,} of the {whole:,} trees" if one.trees else f"all {plural(whole, 'tree')}"
    if whole == 1:
        which = "the one tree"
    return f"Left out: {which} alive both times: {reasons}."


def net_words(net: Net, change: Change, units: Units) -> str:
    """Return the change of one measure in words."""
    label = net.measure.label
    if not net.plots:
        return f"{label}: cannot be told. {net.remark}"
    value, unit = net_value(net, change, units, net.change)
    places = decimals(value, net, units)
    number = f"{write_signed(value, places)} {unit}" if value else f"no change {_where(unit)}"
    text = f"{label}: {number}".rstrip()
    if net.margin > 0:
        text += f", ± {abs(net_value(net, change, units, net.margin)[0]):,.{places}f}"
    # where nothing is left there is no spread, but a share
    if is_share_known(net) and (net.margin > 0 or (net.before > 0 and not net.after)):
        ends = [f"{write_signed(100 * end, 1)} %" for end in (net.share_low, net.share_high)]
        share = f", from {ends[0]} to {ends[1]}" if has_share_ends(net) else ""
        text += f" ({write_signed(100 * net.share, 1)} % of OLD{share})"
    if net.margin > 0 and not net.is_certain:
        text += ". This is within the margin, so there may be no change"
    return f"{text}. {net.remark}".strip()


def _where(unit: str) -> str:
    return "in the town" if unit.endswith("in the town") else ""


def is_share_known(net: Net) -> bool:
    """Return whether the change as a share of OLD means anything: its margin is under 100 %.

    The margin is half the distance between both ends.
    """
    return math.isfinite(net.share) and not net.share_high - net.share_low >= 2


def has_share_ends(net: Net) -> bool:
    """Return whether the share has ends that differ as shown; where no tree is left it has none."""
    return bool(net.after) and round(net.share_high, 3) > round(net.share_low, 3)


def decimals(value: float, net: Net, units: Units) -> int:
    """Return the decimals that a value is shown with: totals whole, others one below 100.

    An area below 10 keeps one, so that a little is not shown as zero.
    """
    one_below = 100
    if math.isfinite(net.town):
        one_below = 10 if net.measure.total_shown(units)[0] else 0
    return 1 if abs(value) < one_below and value != round(value) else 0


def net_value(net: Net, change: Change, units: Units, value: float) -> tuple[float, str]:
    """Return a value per m2 as shown: for the town where its size is known, else per area."""
    if math.isfinite(net.town):
        unit, factor = net.measure.total_shown(units)
        return value * net.town / factor, f"{unit} in the town".strip()
    unit, factor = net.measure.find_unit_per_area(units, change.pairs.has_areas)
    return value / factor, unit


def looks(change: Change, units: Units) -> pd.DataFrame:
    """Return everything to look at, one row each, with LOOK_COLUMNS."""
    rows = [
        *_looks_at_surveys(change),
        *(_shrunk_tree(one, change, units) for one in change.shrunk),
        *_looks_at_trees(change.trees),
        *_open_findings(change.trees),
        *_looks_at_plots(change),
    ]
    blank = dict.fromkeys(LOOK_COLUMNS, "")
    return pd.DataFrame([blank | row for row in rows], columns=list(LOOK_COLUMNS))


def _looks_at_surveys(change: Change) -> Iterator[dict[str, str]]:
    if change.doubt:
        do = "Check that these are the right two workbooks."
        yield {"kind": "same survey?", "found": change.doubt, "do": do}
    if any(change.pairs.widths):
        old, new = change.pairs.widths
        yield {
            "kind": "crown widths",
            "found": WIDTHS_APART.format(old=old, new=new),
            "do": "If both crews took widths in the same way, correct the rule in one workbook.",
        }
    if lacking := change.pairs.lacks_areas:
        yield {
            "kind": "plot areas",
            "found": f"Only one survey has plot areas: {lacking} has none. Whole plots are "
            "compared.",
            "do": f"Enter the areas in {lacking}. A plot that was larger the second time looks "
            "like a change.",
        }


def _shrunk_tree(one: Shrunk, change: Change, units: Units) -> dict[str, str]:
    tree, quantity = change.trees.iloc[one.row], GROWN[one.what]
    before, after, less, allowed = (
        write_size(float(value), quantity, units)
        for value in (
            tree[f"{one.what}_old"],
            tree[f"{one.what}_new"],
            -one.change,
            one.allowed,
        )
    )
    finding = (
        f"{one.what.capitalize()}: {before} in OLD, {after} in NEW. It shrank by {less}. Up to "
        f"{allowed} can be measuring error."
    )
    verdict = f"{one.likelier} is probably wrong" if one.likelier else "Either may be wrong"
    return _tree(tree) | {
        "kind": "shrank",
        "found": finding,
        "why": f"{verdict}: {one.because}.",
        "do": "Check the paper sheets of both years, then measure again. Or it is another tree, or "
        "its top broke.",
    }


def _looks_at_trees(trees: pd.DataFrame) -> Iterator[dict[str, str]]:
    both = (trees["at_old"] >= 0) & (trees["at_new"] >= 0)
    for _, tree in trees[trees["fate"] == ALIVE_AGAIN].iterrows():
        yield _tree(tree) | {
            "kind": ALIVE_AGAIN,
            "found": "Dead in OLD, alive in NEW.",
            "do": "Check which condition is right. It may also be another tree.",
        }
    for _, tree in trees[both & (trees["species_old"] != trees["species_new"])].iterrows():
        old, new = tree["species_old"] or "no species", tree["species_new"] or "no species"
        yield _tree(tree) | {
            "kind": "other species",
            "found": f"{old} in OLD, {new} in NEW.",
            "do": "Check which name is right.",
        }
    for _, tree in trees[trees["fate"] == AMBIGUOUS].iterrows():
        yield _tree(tree) | {
            "kind": AMBIGUOUS,
            "found": f"The tree {tree['candidates']}.",
            "do": "Compare the plot's sheets of both years, or look at the tree.",
        }


def _tree(tree: pd.Series) -> dict[str, str]:
    return {name: str(tree[name]) for name in ("plot", "tree_old", "tree_new", "species")}


def _open_findings(trees: pd.DataFrame) -> Iterator[dict[str, str]]:
    doubtful = int((trees["open_old"] | trees["open_new"]).sum())
    if doubtful:
        yield {
            "kind": "open findings",
            "found": f"{doubtful:,} of the {plural(len(trees), 'tree')} have open findings in OLD "
            "or NEW. They count in the totals. A doubtful height or diameter is in no mean.",
            "do": "Resolve them first: a wrong reading looks like a change.",
        }
    left_out = int(((trees["left_out_old"] != "") | (trees["left_out_new"] != "")).sum())
    if left_out:
        yield {
            "kind": "left out",
            "found": f"{plural(left_out, 'tree')} with a value that cannot be right in OLD or NEW. "
            "Such a value is in no mean and no total.",
            "do": "Correct it, or accept it with initials on To check.",
        }


def _looks_at_plots(change: Change) -> Iterator[dict[str, str]]:
    for plot in change.renumbered:
        yield {
            "kind": "renumbered",
            "plot": plot,
            "found": "Most trees have other numbers in NEW. They were matched by place, species "
            "and size.",
            "do": "Check that this is right.",
        }
    for plot, why in change.pairs.only:
        if not set(why.split("; ")) <= set(_NO_MATTER):
            do = "There are no results for this plot."
            reason = _same_reason(why)
            yield {"kind": "plot not compared", "plot": plot, "found": reason, "do": do}
    table = change.pairs.table
    for plot, why in zip(table["plot"], table["because"], strict=True):
        if why:
            do = "Its trees are compared. Enter what is missing, and the plot counts."
            reason = _same_reason(why)
            yield {"kind": "not in the totals", "plot": str(plot), "found": reason, "do": do}
    for plot in table["plot"][table["years"].isna()]:
        yield {
            "kind": "no date",
            "plot": str(plot),
            "found": "OLD or NEW has no date for this plot.",
            "do": "Enter the date. Without it there is no growth per year.",
        }


def _same_reason(why: str) -> str:
    """Return why a plot is left out, once where both surveys have the same reason."""
    sides = why.split("; ")
    reasons = {side.partition(": ")[2] for side in sides}
    return f"OLD and NEW: {reasons.pop()}." if len(sides) > len(reasons) else f"{why}."
