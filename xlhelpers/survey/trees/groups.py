"""Which lines of the field sheet are set-ups of one tree, and which only share its number.

A further set-up is a line whose set-up cell says 2, 3 ..., or is blank while species, diameter
and condition agree with the tree's other such lines or are blank. Where lines of one plot and tree
number contradict one another, several trees have that number. Its lines are then paired into trees:
those that agree belong together, and of several trees that a line agrees with, the one of the
nearest line above has it. Whether lines contradict one another is asked of all lines of a number at
once, so the order of rows decides nothing else but which of several equal blank set-ups is first.
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
# share of a diameter by which that of another set-up may differ
SAME_STEM = 0.1


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
    label, duplicate = number.copy(), np.zeros(len(lines), dtype=bool)
    diameter = lines["diameter"].to_numpy(dtype=float)
    of_number: dict[int, list[int]] = {}
    for line in np.flatnonzero(np.isin(number, np.unique(number[clashing]))).tolist():
        of_number.setdefault(int(number[line]), []).append(line)
    for own in of_number.values():
        several = _pair_lines(own, keyed, agreeing, diameter)
        for each in several:
            label[each] = len(lines) * 2 + each[0]
            duplicate[each] = len(several) > 1

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
    first_lines = np.full(count, -1, dtype=np.int64)
    lines = np.flatnonzero(known)
    # written last to first, so that the first line of each tree stays
    order = np.lexsort((lines, setup_number[lines]))[::-1]
    first_lines[tree_position[lines[order]]] = lines[order]
    return first_lines


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


def _pair_lines(
    lines: list[int], keyed: Values, agreeing: tuple[Positions, ...], diameter: Values
) -> list[list[int]]:
    """Return the trees of one number, each as its lines: first set-ups, then the further ones."""
    trees: list[list[int]] = []
    for line in (line for line in lines if not keyed[line] > 1):
        # a set-up 1 that was entered as such is never a further one
        alike = (
            []
            if keyed[line] == 1
            else [tree for tree in trees if all(_agree(line, other, agreeing) for other in tree)]
        )
        _join(line, alike, trees)
    firsts = [tree[0] for tree in trees]
    for line in (line for line in lines if keyed[line] > 1):
        alike = [
            tree
            for tree in trees
            if _agree(line, tree[0], agreeing[:1])
            and not any(keyed[other] == keyed[line] for other in tree)
        ]
        alike = [t for t in alike if _same_stem(diameter[line], diameter[t[0]])] or alike
        # a sheet in the order of the set-ups has them in the order of the trees
        in_order = [
            other
            for other in lines
            if keyed[other] == keyed[line] and other > max(firsts, default=0)
        ]
        _join(line, alike[:1] if len(in_order) == len(firsts) > 1 else alike, trees)
    return trees


def _agree(line: int, other: int, agreeing: tuple[Positions, ...]) -> bool:
    return all(
        codes[line] == codes[other] or BLANK_CODE in (codes[line], codes[other])
        for codes in agreeing
    )


def _same_stem(one: float, other: float) -> bool:
    """Whether two diameters may be those of one stem; a blank one may."""
    return not abs(one - other) > SAME_STEM * other


def _join(line: int, alike: list[list[int]], trees: list[list[int]]) -> None:
    """Put a line to the tree of the nearest line above, else below; without any it is its own."""
    if not alike:
        trees.append([line])
        return
    above = [tree for tree in alike if min(tree) < line]
    nearest = min(above or alike, key=lambda tree: min(abs(line - other) for other in tree))
    nearest.append(line)


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
