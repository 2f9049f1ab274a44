"""Lines of two keyings paired: under skipped, swapped, repeated and mistyped lines, no cascade."""

import numpy as np
import pandas as pd
import pytest

from xlhelpers.jobs.compare.keyed_twice import (
    NO_LINE,
    Pair,
    compared_cells,
    disagreements,
    pair_by_names,
    pair_lines,
)

FIELDS = ("plot", "tree", "setup", "species", "diameter", "distance", "foot", "base", "tip")


def survey(seed: int, plots: int = 8, trees: int = 12) -> pd.DataFrame:
    """Lines whose readings are alike by chance as often as those of real trees are."""
    rng = np.random.default_rng(seed)
    rows = [
        (str(plot), str(tree), "", rng.choice(["oak", "lime", "ash"]), f"{rng.integers(10, 80)}",
         f"{rng.integers(12, 30)}", f"{-rng.integers(3, 12)}", f"{rng.integers(5, 25)}",
         f"{rng.integers(40, 90)}")
        for plot in range(1, plots + 1)
        for tree in range(1, trees + 1)
    ]  # fmt: skip
    return pd.DataFrame(rows, columns=list(FIELDS), dtype=object)


@pytest.mark.parametrize("seed", range(12))
@pytest.mark.parametrize("run_on", [False, True])
def test_every_line_finds_its_own(seed: int, run_on: bool) -> None:
    rng = np.random.default_rng(1000 + seed)
    first = survey(seed)
    kept = np.flatnonzero(rng.random(len(first)) > 0.06)  # skipped lines
    order = kept.copy()
    for at in rng.integers(0, len(order) - 1, 5):  # swapped neighbours
        order[[at, at + 1]] = order[[at + 1, at]]
    second = first.iloc[order].reset_index(drop=True)
    for row in rng.integers(0, len(second), 12):  # mistyped cells
        second.loc[row, rng.choice(FIELDS[3:])] = "999"
    if run_on:  # trees numbered on as if nothing had been skipped
        second["tree"] = (second.groupby("plot").cumcount() + 1).astype(str)
    pairs = pair_lines(first, second)
    assert sorted(pair.first for pair in pairs if pair.first != NO_LINE) == list(range(len(first)))
    assert sorted(p.second for p in pairs if p.second != NO_LINE) == list(range(len(second)))
    wrong = [p for p in pairs if NO_LINE not in (p.first, p.second) and order[p.second] != p.first]
    lonely = [p for p in pairs if p.second == NO_LINE]
    assert not wrong
    assert [pair.first for pair in lonely] == sorted(set(range(len(first))) - set(kept))


def test_disagreements_and_compared_cells() -> None:
    first = pd.DataFrame({"plot": ["1", "1"], "tree": ["1", "2"], "tip": ["70", ""]}, dtype=object)
    second = pd.DataFrame({"plot": ["1"], "tree": ["1"], "tip": ["71"]}, dtype=object)
    pairs = (Pair(0, 0), Pair(1, NO_LINE))
    found = disagreements(pairs, first, second)
    assert list(found.itertuples(index=False, name=None)) == [
        (0, "tip"), (1, "plot"), (1, "tree"),
    ]  # fmt: skip
    cells = compared_cells(pairs, first, second)
    assert cells.to_numpy().tolist() == [[True, True, True], [False, False, False]]


def test_lists_are_paired_by_name_and_order() -> None:
    first = pd.DataFrame({"name": ["a", "b", "a"]}, dtype=object)
    second = pd.DataFrame({"name": ["a", "c", "a"]}, dtype=object)
    assert pair_by_names(first, second, ("name",)) == (
        Pair(0, 0), Pair(1, NO_LINE), Pair(2, 2), Pair(NO_LINE, 1),
    )  # fmt: skip


def test_nothing_to_pair() -> None:
    empty = pd.DataFrame({name: pd.Series([], dtype=object) for name in FIELDS})
    assert pair_lines(empty, empty) == ()
    assert pair_lines(survey(0, 1, 2), empty) == (Pair(0, NO_LINE), Pair(1, NO_LINE))


def test_a_long_street_is_paired_by_its_numbers() -> None:
    first = survey(3, 1, 2500)
    second = first.drop(index=range(100, 103)).iloc[::-1].reset_index(drop=True)
    pairs = pair_lines(first, second)
    both = [pair for pair in pairs if NO_LINE not in (pair.first, pair.second)]
    assert len(both) == 2497
    assert (first.iloc[[p.first for p in both]]["tree"].tolist()
            == second.iloc[[p.second for p in both]]["tree"].tolist())  # fmt: skip
