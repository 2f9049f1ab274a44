"""What changed between two surveys, in plain sentences, and what is to be looked at."""

from __future__ import annotations

import math

import pandas as pd

from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.jobs.change.compare_surveys import Change, Growth
from xlhelpers.jobs.change.totals import Net
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

_QUANTITY = {"height": "length", "diameter": "diameter"}
LOOK_COLUMNS = ("kind", "plot", "tree_old", "tree_new", "species", "found", "why", "do")
HOW = (
    (
        "Matching",
        "Within each plot every pair of trees gets the odds that it is one tree, from "
        "number, bearing and distance from the plot centre, species, diameter and height together. "
        "Trees compete for their partners. A belief of 80 % or more makes a match; less is "
        "ambiguous, and then neither growth nor death is counted.",
    ),
    ("Years", "From the dates of the plots, each plot by itself."),
    (
        "Growth",
        "New less old, of trees alive both times; diameters only where the number of stems "
        "is the same. Means leave out trees that rest on an open finding in either survey. Trees "
        "that seem to have shrunk stay in: leaving out errors to one side alone would make trees "
        "grow. Means and shares are those of the town, from the plots that count for the totals.",
    ),
    (
        "Uncertainty of a growth",
        "Heights: the instruments' part of both measurements. Diameters: "
        "the observers' part of both, 1.5 % of the diameter (Luoma et al. 2017).",
    ),
    (
        "Shrunk",
        "Smaller by more than twice the uncertainty of both measurements, the observers' "
        "part of heights (2.9 %, Luoma et al. 2017) included. Which is likelier wrong: the one "
        "whose height is further off what is usual for its diameter and species (McPherson, van "
        "Doorn & Peper 2016, moved to the level of both surveys), three times as likely at the "
        "least.",
    ),
    (
        "Change of totals",
        "Differences of plots measured both times, carried to the town within "
        "strata by area. The margin is Student's t times the standard error of the differences, "
        "degrees of freedom after Satterthwaite. It holds the sampling alone, not errors of "
        "measurement.",
    ),
    (
        "Trees that count",
        "Living trees from the larger of both smallest diameters up. A tree "
        "without a diameter or a width is taken to be like the others of its plot.",
    ),
)


def shown(value: float, quantity: str, units: Units, decimals: int = 1) -> str:
    """Return a length or a diameter with its unit."""
    record = QUANTITIES[quantity]
    return f"{value / record.factor(units):.{decimals}f} {record.unit(units)}"


def sentences(change: Change, units: Units) -> list[str]:
    """Return the whole comparison in plain words."""
    doubt = f"{change.doubt}; growth and death by year are not said."
    return [
        *([doubt] if change.doubt else []),
        _compared(change),
        _fates(change),
        *(_growth(one, change, units) for one in change.growths if not one.group),
        *(net_words(net, change, units) for net in change.nets),
    ]


def _compared(change: Change) -> str:
    count = len(change.pairs.table)
    said = f"{count} plot{'s' if count != 1 else ''} measured both times"
    if math.isfinite(change.years):
        said += f", {change.years:.1f} years apart"
        years = change.pairs.table["years"].dropna()
        if years.max() - years.min() > 0.5:
            said += f" ({years.min():.1f} to {years.max():.1f})"
    else:
        said += "; the plots have no dates, so nothing is said by year"
    if 0 <= change.years < SHORTEST_YEARS:
        said += ", which is too short for a growth by year"
    return said + "."


def _fates(change: Change) -> str:
    whole = change.fates.iloc[0]
    died = "died and stands" if whole[DIED] == 1 else "died and stand"
    words = (
        (ALIVE, "alive both times"),
        (DIED, died),
        (STILL_DEAD, "dead both times"),
        (ALIVE_AGAIN, "alive after being dead"),
        (GONE, "gone"),
        (NEW, "new"),
        (AMBIGUOUS, "ambiguous"),
    )
    said = "Trees: " + ", ".join(
        f"{int(whole[fate])} {word}" for fate, word in words if whole[fate]
    )
    loss, margin = change.loss
    if math.isfinite(loss):
        said += f". Of the living trees {100 * loss:.1f} % a year died or went"
        if math.isfinite(margin):
            said += f" (± {100 * margin:.1f} %)"
    return said + "."


def _growth(one: Growth, change: Change, units: Units) -> str:
    what = f"Growth of the {one.what}"
    if not one.trees:
        alive = bool((change.trees["fate"] == ALIVE).any())
        return f"{what}: {one.said if alive else 'no tree is alive in both surveys'}."
    quantity = _QUANTITY[one.what]
    said = f"{what}: {shown(one.mean, quantity, units, 2)} a year"
    if math.isfinite(one.margin):
        said += f", ± {shown(one.margin, quantity, units, 2)}"
    said += f" ({one.trees} trees; one tree's growth is known to"
    said += f" ± {shown(one.u, quantity, units, 2)} a year)"
    return said + (f"; {one.said}." if one.said else ".")


def net_words(net: Net, change: Change, units: Units) -> str:
    """Return the change of one measure in words."""
    label = net.measure.label
    if not net.plots:
        return f"{label}: {net.said}."
    value, unit = net_value(net, change, units, net.change)
    places = decimals(value, net, units)
    said = f"{label}: {value:+,.{places}f} {unit}".rstrip()
    if net.margin > 0:
        half = abs(net_value(net, change, units, net.margin)[0])
        said += f", ± {half:,.{places}f}"
        if is_share_known(net):
            said += f" ({100 * net.share:+.1f} % of what stood"
            said += f", ± {100 * net.share_margin:.1f} %)" if net.after else ")"
        if not net.is_certain:
            said += "; within its margin, so no change can be told for certain"
    return said + (f"; {net.said}." if net.said else ".")


def is_share_known(net: Net) -> bool:
    """Return whether the change as a share of OLD says anything: its margin is under 100 %."""
    return math.isfinite(net.share) and not net.share_margin >= 1


def decimals(value: float, net: Net, units: Units) -> int:
    """Return the decimals that a value is shown with: totals whole, others one below 100.

    An area below 10 keeps one, so that little is not said to be nothing.
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
    unit, factor = net.measure.shown(units, change.pairs.has_areas)
    return value / factor, unit


def looks(change: Change, units: Units) -> pd.DataFrame:
    """Return everything that is to be looked at, one row a thing, with LOOK_COLUMNS."""
    trees = change.trees
    both = (trees["at_old"] >= 0) & (trees["at_new"] >= 0)
    rows = []
    if change.doubt:
        rows.append(
            _row(
                "same survey?", found=change.doubt, do="See that the right two workbooks are named."
            )
        )
    rows += [_shrunk_row(one, change, units) for one in change.shrunk]
    for which, kind, found, do in (
        (
            trees["fate"] == ALIVE_AGAIN,
            "alive again",
            "dead in OLD, alive in NEW",
            "See which condition is right, or whether another tree stands there.",
        ),
        (
            both & (trees["species_old"] != trees["species_new"]),
            "other species",
            "",
            "See which name is right.",
        ),
        (
            trees["fate"] == AMBIGUOUS,
            "ambiguous",
            "",
            "Settle it with the plot's sheets of both years, or at the tree.",
        ),
    ):
        rows += _of_trees(trees[which], kind, found, do)
    doubtful = int((trees["open_old"] | trees["open_new"]).sum())
    if doubtful:
        found = (
            f"{doubtful:,} of {len(trees):,} trees rest on open findings in OLD or NEW; they "
            "count in the totals, not in the means"
        )
        do = "Settle them first: a wrong reading looks like a change."
        rows.append(_row("open findings", found=found, do=do))
    return pd.DataFrame([*rows, *_of_plots(change)], columns=list(LOOK_COLUMNS))


def _of_plots(change: Change) -> list[dict[str, str]]:
    rows = [
        _row(
            "numbered anew",
            plot=plot,
            found="most trees carry other numbers in NEW; they were "
            "matched by place, species and size",
            do="See that this is so.",
        )
        for plot in change.renumbered
    ]
    rows += [
        _row("plot not compared", plot=plot, found=why, do="Nothing is said of this plot.")
        for plot, why in change.pairs.only
        if why not in _NO_MATTER
    ]
    table = change.pairs.table
    rows += [
        _row(
            "not in the totals",
            plot=str(plot),
            found=why,
            do="Its trees are compared; key what is missing, and it counts.",
        )
        for plot, why in zip(table["plot"], table["because"], strict=True)
        if why
    ]
    rows += [
        _row(
            "no date",
            plot=str(plot),
            found="OLD or NEW has no date for this plot",
            do="Key the date: without it there is no growth by year.",
        )
        for plot in table["plot"][table["years"].isna()]
    ]
    return rows


_OUTSIDE = ("OLD: outside the town", "NEW: outside the town")
_NO_MATTER = (*_OUTSIDE, "NEW: outside the town; OLD: outside the town")


def _row(kind: str, **cells: str) -> dict[str, str]:
    return dict.fromkeys(LOOK_COLUMNS, "") | {"kind": kind} | cells


def _shrunk_row(one: Shrunk, change: Change, units: Units) -> dict[str, str]:
    tree, quantity = change.trees.iloc[one.row], _QUANTITY[one.what]
    before, after = (
        shown(float(tree[f"{one.what}_{side}"]), quantity, units) for side in ("old", "new")
    )
    found = (
        f"{one.what} {before} in OLD, {after} in NEW: {shown(-one.change, quantity, units)} "
        f"less; both measurements allow {shown(one.allowed, quantity, units)}"
    )
    likelier = f"{one.likelier} is likelier wrong" if one.likelier else "which is wrong is open"
    return _row(
        "shrank",
        plot=str(tree["plot"]),
        tree_old=str(tree["tree_old"]),
        tree_new=str(tree["tree_new"]),
        species=str(tree["species"]),
        found=found,
        why=f"{likelier}: {one.because}",
        do="Look at the paper of both years; then measure again. Or another tree stands there, or "
        "its top broke.",
    )


def _of_trees(trees: pd.DataFrame, kind: str, found: str, do: str) -> list[dict[str, str]]:
    rows = []
    for tree in trees.to_dict("records"):
        said = found or str(tree["candidates"])
        if kind == "other species":
            said = f"{tree['species_old'] or 'no species'} in OLD, {tree['species_new'] or 'none'} "
            said += "in NEW"
        rows.append(
            _row(
                kind,
                plot=str(tree["plot"]),
                tree_old=str(tree["tree_old"]),
                tree_new=str(tree["tree_new"]),
                species=str(tree["species"]),
                found=said,
                do=do,
            )
        )
    return rows
