"""Trees counted against trees entered, plots that nobody explains, and impossible plot areas."""

import re

import numpy as np
import pandas as pd

from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.survey.checks.facts import Facts, grouped, same, spread
from xlhelpers.survey.checks.record import COMMON_PRACTICE, DEFINITION, Check, Hits
from xlhelpers.survey.checks.wording import listed
from xlhelpers.survey.model import REFUSED
from xlhelpers.survey.plot_roles import CENSUS_KIND, LEAST_AREA, strata_of
from xlhelpers.survey.strata import area_words
from xlhelpers.survey.typed.folding import Positions, fold_column
from xlhelpers.survey.typed.words import identifier_key

# a plot of such a status has no trees keyed
UNMEASURED = ("no trees", "refused", "not safe", "outside", "later")


def _trees_of_plots(facts: Facts) -> dict[int, tuple[int, ...]]:
    heads = facts.first_lines
    plots = facts.plot_position[heads]
    there = np.flatnonzero((plots >= 0) & facts.numbered[heads])
    return grouped(plots[there], there)


def _lines_by_plot(facts: Facts) -> tuple[dict[int, tuple[int, ...]], Positions]:
    lines = facts.lines_of_plots()
    return lines, np.array(
        [len(lines.get(p, ())) for p in range(len(facts.survey.plots))], dtype=int
    )


def missing_and_extra(numbers: tuple[str, ...], counted: int) -> tuple[list[str], list[str]]:
    """Return which tree numbers are missing and which go beyond the count.

    Numbers are taken to run without gaps from 1, or from the least keyed one where that lies
    beyond the count. Where one is no whole number nothing can be named.

    Parameters
    ----------
    numbers : tuple of str
        Tree numbers as keyed.
    counted : int
        How many trees the crew counted.
    """
    if not all(re.fullmatch(r"\d{1,9}", number) for number in numbers):
        return [], []
    keyed = sorted({int(number) for number in numbers})
    start = 1 if not keyed or keyed[0] <= max(counted, 1) else keyed[0]
    wanted = range(start, start + counted)
    missing = [number for number in wanted if number not in set(keyed)]
    return list(map(str, missing)), [str(number) for number in keyed if number not in wanted]


def trees_counted(facts: Facts) -> Hits:
    """Plots where not as many trees are keyed as were counted."""
    counted = facts.column("plots", "trees_counted")
    status = facts.column("plots", "status")
    _, line_count = _lines_by_plot(facts)
    trees = _trees_of_plots(facts)
    keyed = np.array([len(trees.get(p, ())) for p in range(len(counted))], dtype=int)
    # a plot without lines has a finding of its own unless its status is "no trees"
    asked = (line_count > 0) | same(status, "no trees")
    rows = np.flatnonzero(asked & ~np.isnan(counted) & (counted != keyed))
    numbers = [tuple(map(str, facts.tree_text("tree")[list(trees.get(int(p), ()))])) for p in rows]
    return Hits(
        rows,
        {
            "counted": counted[rows],
            "keyed": keyed[rows],
            "numbers": [
                _say_numbers(*missing_and_extra(known, int(counted[row])))
                for known, row in zip(numbers, rows, strict=True)
            ],
        },
        # a count says nothing against the height of any tree
        lines=[()] * len(rows),
        evidence=[
            (f"counted {counted[row]:.0f}", "keyed " + " ".join(known))
            for known, row in zip(numbers, rows, strict=True)
        ],
    )


def _say_numbers(missing: list[str], extra: list[str]) -> str:
    said = []
    if missing:
        said.append(f"Missing: {listed(missing)}.")
    if extra:
        said.append(f"Beyond the count: {listed(extra)}.")
    return " ".join(said)


def plot_without_lines(facts: Facts) -> Hits:
    """Plots without a line and without a status that explains it; counting 0 trees does."""
    _, count = _lines_by_plot(facts)
    status = facts.column("plots", "status")
    silent = ~np.isin(status.astype(str), UNMEASURED)
    silent &= facts.state("plots", "status") != REFUSED
    names = fold_column(facts.column("plots", "plot"), identifier_key)
    # of a plot that stands twice, the first row is looked at
    named = ~same(names, "") & ~pd.Series(names).duplicated().to_numpy()
    rows = np.flatnonzero(
        (count == 0) & silent & named & (facts.column("plots", "trees_counted") != 0)
    )
    said = [f"“{word}”" if word else "blank" for word in status[rows]]
    return Hits(rows, {"said": said})


def lines_on_unmeasured_plot(facts: Facts) -> Hits:
    """Plots with lines although their status says that nothing was measured."""
    _, count = _lines_by_plot(facts)
    status = facts.column("plots", "status")
    rows = np.flatnonzero((count > 0) & np.isin(status.astype(str), UNMEASURED))
    return Hits(rows, {"count": count[rows]}, lines=[()] * len(rows))


COUNTS: tuple[Check, ...] = (
    Check(
        "trees-counted",
        "error",
        "paper",
        "plots",
        ("plot.trees_counted", "tree"),
        "The crew counted {counted:trees}, and {keyed:count} are keyed. {numbers}",
        "Look at the paper sheets: is a sheet still to be keyed, or a number misread? Otherwise "
        "ask the crew.",
        DEFINITION,
        trees_counted,
    ),
    Check(
        "plot-without-lines",
        "error",
        "paper",
        "plots",
        ("plot.status", "plot.trees_counted"),
        "No line is keyed for this plot, and its status ({said}) does not explain that.",
        "Key the plot's sheet, or choose the status that holds: no trees, refused, not safe, "
        "outside or later.",
        DEFINITION,
        plot_without_lines,
    ),
    Check(
        "lines-on-unmeasured-plot",
        "warning",
        "crew",
        "plots",
        ("plot.status", "plot.plot"),
        "The status is “{status}”, and the field sheet has {count:lines} of this plot.",
        "Ask the crew: is the status out of date, or do the lines belong to another plot?",
        DEFINITION,
        lines_on_unmeasured_plot,
    ),
)
_AREAS = ("area_inside", "area_reached")
_ROUNDING = 1.001
_LARGER_UNIT: dict[Units, str] = {"metric": "hectares", "us": "acres"}


def plot_area_impossible(facts: Facts) -> Hits:
    """Plots of a few square metres (where plots are a sample), or larger than their stratum.

    An area of 0 says that nothing was reached. The first of the two areas that fails is told.
    """
    areas = np.column_stack([facts.column("plots", name).astype(float) for name in _AREAS])
    stratum = facts.column("strata", "area").astype(float)
    room = spread(np.where(stratum > 0, stratum, np.nan), strata_of(facts.survey), np.nan)
    room = room.astype(float)
    small = (areas > 0) & (areas < LEAST_AREA) & (facts.rule("survey_kind") != CENSUS_KIND)
    wrong = small | (areas > room[:, None] * _ROUNDING)
    rows = np.flatnonzero(wrong.any(axis=1))
    which = wrong[rows].argmax(axis=1)
    units: Units = "us" if facts.survey.units == "us" else "metric"
    fields = [(f"plot.{_AREAS[at]}", f"plot.{_AREAS[1 - at]}") for at in which]
    return Hits(
        rows,
        {
            "stated": [
                _stated(float(areas[row, at]), units) for row, at in zip(rows, which, strict=True)
            ],
            "why": [
                f"too small for a plot: {_LARGER_UNIT[units]} typed?"
                if small[row, at]
                else f"more than its whole stratum, {area_words(float(room[row]), units)}."
                for row, at in zip(rows, which, strict=True)
            ],
        },
        fields=fields,
    )


def _stated(area: float, units: Units) -> str:
    quantity = QUANTITIES["land area"]
    return f"{area / quantity.factor(units):,.10g} {quantity.unit(units)}"


AREAS: tuple[Check, ...] = (
    Check(
        "plot-area-impossible",
        "error",
        "paper",
        "plots",
        ("plot.area_inside", "plot.area_reached"),
        "The area of this plot is stated as {stated}, {why}",
        "Look at the plot's sheet and type its area in the unit of the column's heading; see that "
        "the area on the sheet Strata is right as well. All totals rest on these areas.",
        COMMON_PRACTICE,
        plot_area_impossible,
    ),
)
