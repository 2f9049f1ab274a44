"""Numbers that are used twice: trees, set-ups, plots; and set-ups that contradict their tree."""

import numpy as np

from xlhelpers.survey.checks.facts import Facts, group_members, same
from xlhelpers.survey.checks.record import NO_HITS, Hits
from xlhelpers.survey.checks.wording import list_words, write_value
from xlhelpers.survey.typed.folding import Positions, codes_of, fold_column
from xlhelpers.survey.typed.species_names import species_codes
from xlhelpers.survey.typed.words import identifier_key

# Standard deviation between observers of one diameter, in cm and as a share of it
OBSERVER_CM, OBSERVER_SHARE = 0.3, 0.015
# two standard deviations of a difference of two observers
OF_A_DIFFERENCE = 2 * np.sqrt(2)


def duplicate_number(facts: Facts) -> Hits:
    """Groups of different trees with one plot and tree number, at the second of them."""
    rows = np.flatnonzero(facts.setup_flag("duplicate") & facts.has_numbers)
    if len(rows) == 0:
        return NO_HITS
    plot, tree = (fold_column(facts.text(n)[rows], identifier_key) for n in ("plot", "tree"))
    groups = list(group_members(codes_of(plot, tree), rows).values())
    heads = [[line for line in group if facts.is_first[line]] for group in groups]
    return Hits(
        np.array([lines[1] if len(lines) > 1 else lines[0] for lines in heads]),
        {
            "count": np.array([len(lines) for lines in heads]),
            "which": [list_words([_describe(facts, n) for n in lines], 4) for lines in heads],
        },
        lines=groups,
        subjects=[
            (("plot", facts.text("plot")[g[0]]), ("tree", facts.text("tree")[g[0]])) for g in groups
        ],
    )


def _describe(facts: Facts, line: int) -> str:
    """Return a tree as "Acer platanoides 39.9 cm (row 38)"."""
    words = [facts.text("species")[line] or "no species"]
    diameter = float(facts.number("diameter")[line])
    if not np.isnan(diameter):
        words.append(write_value("diameter", diameter, facts.survey.units))
    return " ".join((*words, f"(row {facts.number('_row')[line]})"))


def setup_number_twice(facts: Facts) -> Hits:
    """A set-up number from 2 up that two lines of one tree give."""
    keyed = facts.number("setup")
    rows = np.flatnonzero((keyed > 1) & facts.has_numbers)
    if len(rows) < 2:
        return NO_HITS
    codes = codes_of(facts.tree_position[rows], keyed[rows])
    groups = [group for group in group_members(codes, rows).values() if len(group) > 1]
    return Hits(np.array([group[1] for group in groups], dtype=int), lines=groups)


def _repeats_and_first_lines(facts: Facts) -> Positions:
    """Return the lines after the first of each tree and, beside each, that first line."""
    rows = np.flatnonzero(~facts.is_first & facts.has_numbers)
    return np.stack([rows, facts.first_lines[facts.tree_position[rows]]])


def setup_other_species(facts: Facts) -> Hits:
    """Set-ups that name another species than the first line of their tree."""
    rows, heads = _repeats_and_first_lines(facts)
    if len(rows) == 0:
        return NO_HITS
    codes = species_codes(facts.text("species"), facts.survey.species)
    bad = (codes[rows] >= 0) & (codes[heads] >= 0) & (codes[rows] != codes[heads])
    return _compare_with_first(facts, rows[bad], heads[bad], "species")


def setup_other_diameter(facts: Facts) -> Hits:
    """Set-ups whose diameter differs from their tree's by more than two observers do."""
    rows, heads = _repeats_and_first_lines(facts)
    diameter = facts.number("diameter")
    one, other = diameter[rows], diameter[heads]
    allowed = OF_A_DIFFERENCE * np.fmax(OBSERVER_CM, OBSERVER_SHARE * other)
    bad = np.abs(one - other) > allowed
    return _compare_with_first(facts, rows[bad], heads[bad], "diameter")


def _compare_with_first(facts: Facts, rows: Positions, heads: Positions, name: str) -> Hits:
    lines = [(int(row), int(head)) for row, head in zip(rows, heads, strict=True)]
    return Hits(rows, {"first": facts.column("lines", name)[heads]}, lines=lines)


def plot_twice(facts: Facts) -> Hits:
    """Plots that are listed more than once on the plots sheet, at the second row."""
    return _find_listed_twice(facts, "plots", "plot")


def instrument_twice(facts: Facts) -> Hits:
    """Instruments that are listed more than once on the instruments sheet, at the second row."""
    return _find_listed_twice(facts, "instruments", "instrument")


def _find_listed_twice(facts: Facts, table: str, name: str) -> Hits:
    names = fold_column(facts.column(table, name), identifier_key)
    rows = np.flatnonzero(~same(names, ""))
    codes = codes_of(names[rows]) if len(rows) else rows
    groups = [group for group in group_members(codes, rows).values() if len(group) > 1]
    on_plot = facts.lines_of_plots() if table == "plots" else {}
    return Hits(
        np.array([group[1] for group in groups], dtype=int),
        {"count": np.array([len(group) for group in groups])},
        lines=[on_plot.get(group[0], ()) for group in groups],
        plots=groups if table == "plots" else None,
    )
