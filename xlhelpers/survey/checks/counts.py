"""Trees counted against trees entered, plots that nobody explains, and impossible plot areas."""

import re

import numpy as np
import pandas as pd

from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.survey.checks.facts import Facts, group_members, same, spread
from xlhelpers.survey.checks.record import Hits
from xlhelpers.survey.checks.wording import list_words
from xlhelpers.survey.plot_roles import CENSUS_KIND, LEAST_AREA, strata_of
from xlhelpers.survey.strata import area_words
from xlhelpers.survey.typed.folding import Flags, Positions, fold_column
from xlhelpers.survey.typed.words import identifier_key

# a plot of such a status has no trees entered
UNMEASURED = ("no trees", "refused", "not safe", "outside", "later")


def _count_lines(facts: Facts) -> Positions:
    lines = facts.lines_of_plots()
    return np.array([len(lines.get(p, ())) for p in range(len(facts.survey.plots))], dtype=int)


def _is_unmeasured(facts: Facts) -> Flags:
    return np.isin(facts.column("plots", "status").astype(str), UNMEASURED)


def missing_and_extra(numbers: tuple[str, ...], counted: int) -> tuple[list[str], list[str]]:
    """Return which tree numbers are missing and which go beyond the count.

    Numbers are taken to run without gaps from 1, or from the least entered one where that is
    beyond the count. Where one is no whole number nothing can be named.

    Parameters
    ----------
    numbers : tuple of str
        Tree numbers as typed.
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
    """Plots where not as many trees are entered as were counted."""
    counted = facts.column("plots", "trees_counted")
    plot_of = facts.plot_position[facts.first_lines]
    there = np.flatnonzero((plot_of >= 0) & facts.has_numbers[facts.first_lines])
    trees = group_members(plot_of[there], there)
    keyed = np.array([len(trees.get(p, ())) for p in range(len(counted))], dtype=int)
    # a plot without lines has a finding of its own unless its status is "no trees"
    checked = (_count_lines(facts) > 0) | same(facts.column("plots", "status"), "no trees")
    rows = np.flatnonzero(checked & ~np.isnan(counted) & (counted != keyed))
    numbers = [tuple(map(str, facts.tree_text("tree")[list(trees.get(int(p), ()))])) for p in rows]
    pairs = list(zip(rows, numbers, strict=True))
    return Hits(
        rows,
        {
            "counted": counted[rows],
            "keyed": keyed[rows],
            "numbers": [_name_numbers(known, int(counted[row])) for row, known in pairs],
        },
        # a count says nothing against the height of any tree
        lines=[()] * len(rows),
        evidence=[
            (f"counted {counted[row]:.0f}", "keyed " + " ".join(known)) for row, known in pairs
        ],
    )


def _name_numbers(known: tuple[str, ...], counted: int) -> str:
    parts = zip(("Missing", "Not in the count"), missing_and_extra(known, counted), strict=True)
    return " ".join(
        f"{what}: tree{'s' if len(numbers) > 1 else ''} {list_words(numbers)}."
        for what, numbers in parts
        if numbers
    )


def plot_without_lines(facts: Facts) -> Hits:
    """Plots without a line and without a status that explains it; counting 0 trees does."""
    status = facts.column("plots", "status")
    explained = _is_unmeasured(facts) | facts.is_refused("status", "plots")
    explained |= facts.column("plots", "trees_counted") == 0
    names = fold_column(facts.column("plots", "plot"), identifier_key)
    # of a plot that is listed twice, the first row counts
    named = ~same(names, "") & ~pd.Series(names).duplicated().to_numpy()
    rows = np.flatnonzero((_count_lines(facts) == 0) & ~explained & named)
    return Hits(rows, {"status": [f"“{word}”" if word else "blank" for word in status[rows]]})


def lines_on_unmeasured_plot(facts: Facts) -> Hits:
    """Plots with lines although their status says that nothing was measured."""
    count = _count_lines(facts)
    rows = np.flatnonzero((count > 0) & _is_unmeasured(facts))
    return Hits(rows, {"count": count[rows]}, lines=[()] * len(rows))


_AREAS = ("area_inside", "area_reached")
_ROUNDING = 1.001
_LARGER_UNIT: dict[Units, str] = {"metric": "hectares", "us": "acres"}


def plot_area_impossible(facts: Facts) -> Hits:
    """Plots of a few square metres (where plots are a sample), or larger than their stratum.

    An area of 0 says that no part was walked. Of two areas that fail the first is named.
    """
    areas = np.column_stack([facts.column("plots", name).astype(float) for name in _AREAS])
    stratum = facts.column("strata", "area").astype(float)
    room = spread(np.where(stratum > 0, stratum, np.nan), strata_of(facts.survey), np.nan)
    room = room.astype(float)
    small = (areas > 0) & (areas < LEAST_AREA) & (facts.rule("survey_kind") != CENSUS_KIND)
    wrong = small | (areas > room[:, None] * _ROUNDING)
    rows = np.flatnonzero(wrong.any(axis=1))
    which = wrong[rows].argmax(axis=1)
    units = facts.survey.units
    land = QUANTITIES["land area"]
    typed = areas[rows, which] / land.factor(units)
    too_small = f"That is too small for a plot. Was it typed in {_LARGER_UNIT[units]}?"
    return Hits(
        rows,
        {
            "typed": [f"{area:,.10g} {land.unit(units)}" for area in typed],
            "why": [
                too_small
                if small[row, at]
                else f"That is more than the whole stratum, {area_words(float(room[row]), units)}."
                for row, at in zip(rows, which, strict=True)
            ],
        },
        fields=[(f"plot.{_AREAS[at]}", f"plot.{_AREAS[1 - at]}") for at in which],
    )
