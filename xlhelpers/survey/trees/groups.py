"""Which lines of the field sheet are set-ups of one tree, and which only share its number.

A further set-up is a line whose set-up cell says 2, 3 ..., or is blank while species, diameter
and condition agree with the tree's other such lines or are blank. Any other repeat of a plot and
tree number is a duplicate: each line concerned is a tree of its own and is never averaged.
Whether lines agree is asked of all lines of a number at once, so the order of rows decides
nothing but which of several equal blank set-ups counts as the first.
"""

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from xlhelpers.survey.columns import GROUPS, table_of
from xlhelpers.survey.model import Survey
from xlhelpers.survey.typed.folding import Flags, Positions, codes_of, fold_column
from xlhelpers.survey.typed.species_names import species_codes
from xlhelpers.survey.typed.words import identifier_key

Values = NDArray[np.float64]
BLANK_CODE = -1


def group_setups(survey: Survey) -> pd.DataFrame:
    """Say for each line which tree it belongs to.

    Parameters
    ----------
    survey : Survey
        Looked at are plot, tree, set-up, species, diameter and condition of the lines.

    Returns
    -------
    DataFrame
        Aligned to `survey.lines`, with the columns GROUPS. Trees are numbered from 0 in the order
        of their first lines.
    """
    lines = survey.lines
    plot, tree = (fold_column(lines[name], identifier_key) for name in ("plot", "tree"))
    unnumbered = (plot == "") | (tree == "")
    keyed = lines["setup"].to_numpy(dtype=float)
    position = np.arange(len(lines))
    number = np.where(unnumbered, len(lines) + position, codes_of(plot, tree))
    agreeing = _agreeing_columns(survey)

    clashing = _mark_clashes(number, keyed, agreeing)
    label = np.where(clashing, 2 * len(lines) + position, number)
    duplicate = clashing.copy()
    for line in _find_left_over(number, keyed, clashing):
        label[line] = _head_of(line, number, keyed, clashing, agreeing)
        duplicate[line] = True

    setup_number = _setup_numbers(label, keyed)
    tree_position, first = _in_order(label, setup_number)
    columns = {
        "tree_position": tree_position,
        "first": first,
        "setup_number": setup_number,
        "duplicate": duplicate,
        "unnumbered": unnumbered,
    }
    return table_of(GROUPS, columns, lines.index)


def first_known(tree_position: Positions, setup_number: Positions, known: Flags) -> Positions:
    """Return for each tree its first line (in set-up order) where something is known.

    Parameters
    ----------
    tree_position, setup_number : arrays of int
        As `group_setups` gives them.
    known : array of bool
        Lines on which the value is known.

    Returns
    -------
    ndarray of int
        One position in the lines for each tree; -1 where no line knows it.
    """
    count = int(tree_position.max()) + 1 if len(tree_position) else 0
    found = np.full(count, -1, dtype=np.int64)
    lines = np.flatnonzero(known)
    # written last to first, so that the first line of each tree stays
    order = np.lexsort((lines, setup_number[lines]))[::-1]
    found[tree_position[lines[order]]] = lines[order]
    return found


def _agreeing_columns(survey: Survey) -> tuple[Positions, ...]:
    """Return codes of species, diameter and condition, -1 where the cell is blank."""
    lines = survey.lines
    diameter = np.round(lines["diameter"].to_numpy(dtype=float), 6)
    condition = fold_column(lines["condition"])
    condition_codes = np.where(condition == "", BLANK_CODE, pd.factorize(condition)[0])
    return (
        species_codes(lines["species"], survey.species),
        pd.factorize(diameter)[0].astype(np.int64),
        condition_codes.astype(np.int64),
    )


def _mark_clashes(number: Positions, keyed: Values, agreeing: tuple[Positions, ...]) -> Flags:
    """Mark the lines of one number and set-up that contradict one another; blank is set-up 1."""
    pool = codes_of(number, np.where(np.isnan(keyed), 1.0, keyed))
    pools = int(pool.max()) + 1 if len(pool) else 0
    # a set-up 1 that was keyed as such twice cannot be a further set-up
    clash = np.bincount(pool[keyed == 1], minlength=pools) > 1
    for codes in agreeing:
        greatest = np.full(pools, BLANK_CODE, dtype=np.int64)
        least = np.full(pools, np.iinfo(np.int64).max)
        known = codes != BLANK_CODE
        np.maximum.at(greatest, pool[known], codes[known])
        np.minimum.at(least, pool[known], codes[known])
        clash |= (greatest != BLANK_CODE) & (least != greatest)
    return np.asarray(clash[pool], dtype=bool) if pools else np.zeros(0, dtype=bool)


def _find_left_over(number: Positions, keyed: Values, clashing: Flags) -> list[int]:
    """Return the further set-ups of a number whose first set-up stands there more than once."""
    doubtful = np.unique(number[clashing & ~(keyed > 1)])
    return np.flatnonzero(np.isin(number, doubtful) & ~clashing).tolist()


def _head_of(
    line: int, number: Positions, keyed: Values, clashing: Flags, agreeing: tuple[Positions, ...]
) -> int:
    """Return the label of the one first set-up that a line agrees with, else one of its own."""
    heads = np.flatnonzero((number == number[line]) & clashing & ~(keyed > 1))
    for codes in agreeing:
        same = (codes[heads] == codes[line]) | (codes[heads] == BLANK_CODE)
        heads = heads if codes[line] == BLANK_CODE else heads[same]
    return 2 * len(number) + (int(heads[0]) if len(heads) == 1 else line)


def _setup_numbers(label: Positions, keyed: Values) -> Positions:
    """Number the blank set-ups: the first is 1 where no line says so, others follow the rest."""
    trees = codes_of(label)
    count = int(trees.max()) + 1 if len(trees) else 0
    given = np.isfinite(keyed)
    greatest = np.ones(count)
    np.maximum.at(greatest, trees[given], keyed[given])
    says_one = np.bincount(trees[keyed == 1], minlength=count) > 0
    blanks = np.flatnonzero(~given)
    order = blanks[np.argsort(trees[blanks], kind="stable")]
    _, start, size = np.unique(trees[order], return_index=True, return_counts=True)
    rank = np.arange(len(order)) - np.repeat(start, size)
    numbers = np.where(given, keyed, 0.0)
    tree = trees[order]
    numbers[order] = np.where(
        (rank == 0) & ~says_one[tree], 1, greatest[tree] + rank + says_one[tree]
    )
    return numbers.astype(np.int64)


def _in_order(label: Positions, setup_number: Positions) -> tuple[Positions, Flags]:
    """Return each line's tree, numbered in the order of first lines, and the first lines."""
    trees = codes_of(label)
    first = np.zeros(len(label), dtype=bool)
    if len(label) == 0:
        return trees, first
    heads = first_known(trees, setup_number, np.ones(len(label), dtype=bool))
    first[heads] = True
    rank = np.empty(len(heads), dtype=np.int64)
    rank[np.argsort(heads)] = np.arange(len(heads))
    return rank[trees], first
