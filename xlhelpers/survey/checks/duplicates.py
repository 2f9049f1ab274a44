"""Numbers that stand twice: trees, set-ups, plots; and set-ups that contradict their tree."""

import numpy as np

from xlhelpers.survey.checks.facts import Facts, grouped, same
from xlhelpers.survey.checks.record import DEFINITION, NOTHING, Check, Hits
from xlhelpers.survey.checks.wording import KINDS, listed
from xlhelpers.survey.typed.folding import Positions, codes_of, fold_column
from xlhelpers.survey.typed.species_names import species_codes
from xlhelpers.survey.typed.words import identifier_key

# Standard deviation between observers of one diameter, in cm and as a share of it
OBSERVER_CM, OBSERVER_SHARE = 0.3, 0.015
# two standard deviations of a difference of two observers
OF_A_DIFFERENCE = 2 * np.sqrt(2)


def duplicate_number(facts: Facts) -> Hits:
    """Groups of different trees with one plot and tree number, at the second of them."""
    rows = np.flatnonzero(facts.setup_flag("duplicate") & facts.numbered)
    if len(rows) == 0:
        return NOTHING
    plot, tree = (fold_column(facts.text(n)[rows], identifier_key) for n in ("plot", "tree"))
    groups = list(grouped(codes_of(plot, tree), rows).values())
    heads = [[line for line in group if facts.first[line]] for group in groups]
    said = [
        f"{facts.text('species')[line] or 'species blank'} "
        f"{_diameter(facts, line)}(row {facts.number('_row')[line]})"
        for lines in heads
        for line in lines
    ]
    ends = np.cumsum([len(lines) for lines in heads])
    parts = [said[start:end] for start, end in zip(np.r_[0, ends[:-1]], ends, strict=True)]
    return Hits(
        np.array([lines[1] if len(lines) > 1 else lines[0] for lines in heads]),
        {
            "count": np.array([len(lines) for lines in heads]),
            "which": [listed(p, 4) for p in parts],
        },
        lines=groups,
        subjects=[
            (("plot", facts.text("plot")[g[0]]), ("tree", facts.text("tree")[g[0]])) for g in groups
        ],
    )


def _diameter(facts: Facts, line: int) -> str:
    value = facts.number("diameter")[line]
    if np.isnan(value):
        return ""
    return KINDS["diameter"](float(value), facts.survey.units) + " "


def setup_number_twice(facts: Facts) -> Hits:
    """A set-up number from 2 up that two lines of one tree give."""
    keyed = facts.number("setup")
    rows = np.flatnonzero((keyed > 1) & facts.numbered)
    if len(rows) < 2:
        return NOTHING
    codes = codes_of(facts.tree_position[rows], keyed[rows])
    groups = [group for group in grouped(codes, rows).values() if len(group) > 1]
    return Hits(np.array([group[1] for group in groups], dtype=int), lines=groups)


def _further(facts: Facts) -> Positions:
    """Return the further set-ups and, beside each, the first line of its tree."""
    rows = np.flatnonzero(~facts.first & facts.numbered)
    return np.stack([rows, facts.first_lines[facts.tree_position[rows]]])


def setup_other_species(facts: Facts) -> Hits:
    """Further set-ups that name another species than the first line of their tree."""
    rows, heads = _further(facts)
    if len(rows) == 0:
        return NOTHING
    codes = species_codes(facts.text("species"), facts.survey.species)
    bad = (codes[rows] >= 0) & (codes[heads] >= 0) & (codes[rows] != codes[heads])
    return _against_first(facts, rows[bad], heads[bad], "species")


def setup_other_diameter(facts: Facts) -> Hits:
    """Further set-ups whose diameter is not what two people would find on one tree."""
    rows, heads = _further(facts)
    diameter = facts.number("diameter")
    one, other = diameter[rows], diameter[heads]
    allowed = OF_A_DIFFERENCE * np.fmax(OBSERVER_CM, OBSERVER_SHARE * other)
    bad = np.abs(one - other) > allowed
    return _against_first(facts, rows[bad], heads[bad], "diameter")


def _against_first(facts: Facts, rows: Positions, heads: Positions, name: str) -> Hits:
    return Hits(
        rows,
        {"first": facts.column("lines", name)[heads]},
        lines=[(int(row), int(head)) for row, head in zip(rows, heads, strict=True)],
    )


def plot_twice(facts: Facts) -> Hits:
    """Plots that stand more than once on the plots sheet, at the second row."""
    return _listed_twice(facts, "plots", "plot")


def instrument_twice(facts: Facts) -> Hits:
    """Instruments that stand more than once on the instruments sheet, at the second row."""
    return _listed_twice(facts, "instruments", "instrument")


def _listed_twice(facts: Facts, table: str, name: str) -> Hits:
    names = fold_column(facts.column(table, name), identifier_key)
    rows = np.flatnonzero(~same(names, ""))
    groups = (
        [g for g in grouped(codes_of(names[rows]), rows).values() if len(g) > 1]
        if len(rows)
        else []
    )
    on_plot = facts.lines_of_plots() if table == "plots" else {}
    return Hits(
        np.array([group[1] for group in groups], dtype=int),
        {"count": np.array([len(group) for group in groups])},
        lines=[on_plot.get(group[0], ()) for group in groups],
        plots=groups if table == "plots" else None,
    )


_WHICH = "Look at the paper sheet: which of the two has another number?"
DUPLICATES: tuple[Check, ...] = (
    Check(
        "duplicate-number",
        "error",
        "paper",
        "lines",
        ("tree", "plot", "species", "diameter"),
        "{count:count} different trees carry this number: {which}. Each keeps its own results; "
        "they are not averaged.",
        _WHICH + " For a further set-up of one tree, key its set-up number.",
        DEFINITION,
        duplicate_number,
    ),
    Check(
        "setup-number-twice",
        "error",
        "paper",
        "lines",
        ("setup", "tree", "plot"),
        "Set-up {setup:count} of this tree stands on more than one line.",
        "Look at the paper sheet: another tree number or another set-up number?",
        DEFINITION,
        setup_number_twice,
    ),
    Check(
        "setup-other-species",
        "warning",
        "paper",
        "lines",
        ("species", "tree"),
        "This set-up says “{species}”, and the tree's first line says “{first}”.",
        "Look at the paper sheet: is it the same tree?",
        DEFINITION,
        setup_other_species,
    ),
    Check(
        "setup-other-diameter",
        "warning",
        "paper",
        "lines",
        ("diameter", "tree"),
        "This set-up says {diameter:diameter}, and the tree's first line {first:diameter}: more "
        "apart than two people find on one tree.",
        "Look at the paper sheet: is it the same tree? The first line's diameter is used.",
        "LuomaEtAl2017",
        setup_other_diameter,
    ),
    Check(
        "plot-twice",
        "error",
        "paper",
        "plots",
        ("plot.plot",),
        "The plot stands {count:count} times on the plots sheet; the first row is used.",
        "Look at the paper sheets and leave one row for each plot.",
        DEFINITION,
        plot_twice,
    ),
    Check(
        "instrument-twice",
        "error",
        "paper",
        "instruments",
        ("instrument.instrument",),
        "The instrument stands {count:count} times on the instruments sheet; the first row is "
        "used.",
        "Give each instrument one row and a name of its own.",
        DEFINITION,
        instrument_twice,
    ),
)
