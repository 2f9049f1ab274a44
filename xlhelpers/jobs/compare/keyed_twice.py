"""Two entries of the same paper: which lines belong together, and where they differ.

A line that one person skipped, or two that were swapped, must not make every later line differ.
Lines are therefore paired by plot, tree and set-up if the rest of the line agrees, then in their
order by how alike they are, then by likeness alone.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from xlhelpers.fields.record import Field, Sheet
from xlhelpers.survey.model import CLOSED, REFUSED
from xlhelpers.survey.typed.folding import Positions
from xlhelpers.survey.typed.words import closing_word, fold_word, identifier_key

Codes = NDArray[np.int64]
_NAMING = ("plot", "tree", "setup")
# shares of equal cells among those that either has; chosen here, by trial on surveys
_BEARS_OUT, _ALIKE_IN_ORDER, _ALIKE_ALONE, _ALIKE_ELSEWHERE = 0.5, 0.3, 0.6, 0.75
# a line of another number that is so much more alike casts doubt on the number
_MUCH_MORE_ALIKE = 0.2
_MOST_COMPARISONS = 4_000_000
NO_LINE = -1


@dataclass(frozen=True)
class Pair:
    """A row of the first entry and one of the second; NO_LINE where there is none."""

    first: int
    second: int


def comparable(
    sheet: Sheet, rows: pd.DataFrame, states: pd.DataFrame, typed: pd.DataFrame
) -> pd.DataFrame:
    """Return one table as texts that are equal exactly where the cells mean the same; "" blank.

    Parameters
    ----------
    sheet : Sheet
        The record of the sheet.
    rows, states, typed : DataFrame
        The table as read, the state of each cell, and the cells as typed.
    """
    columns = {}
    for item in sheet.fields:
        if item.kind == "computed":
            continue
        texts = _meanings(item, rows[item.name])
        state = states[item.name].to_numpy()
        for at in np.flatnonzero((state == CLOSED) | (state == REFUSED)).tolist():
            cell = typed[item.name].iloc[at]
            text = "" if cell is None else str(cell)
            texts[at] = (closing_word(text) if state[at] == CLOSED else "") or fold_word(text)
        columns[item.name] = texts
    return pd.DataFrame(columns, dtype=object)


def _meanings(item: Field, values: pd.Series) -> list[str]:
    if item.kind == "number":
        numbers = values.to_numpy(float)
        return ["" if np.isnan(n) else f"{n + 0.0:.9g}" for n in numbers.tolist()]
    if item.kind == "date":
        return ["" if pd.isna(day) else f"{day:%Y-%m-%d}" for day in values]
    if item.kind == "tick":
        return ["x" if flag else "" for flag in values.tolist()]
    folding = identifier_key if item.kind == "identifier" else fold_word
    known: dict[str, str] = {}
    return [known.setdefault(text, folding(text)) for text in map(str, values)]


def pair_lines(first: pd.DataFrame, second: pd.DataFrame) -> tuple[Pair, ...]:
    """Return which lines of two entries belong together.

    Parameters
    ----------
    first, second : DataFrame
        The lines as `comparable` gives them, in the order of the sheets.

    Returns
    -------
    tuple of Pair
        Every line once, in the order of the first entry; those that only the second has come
        after the line before them.
    """
    likeness = _Likeness(first, second)
    by_plot = [_positions(frame["plot"]) for frame in (first, second)]
    pairs: list[Pair] = []
    left: tuple[list[int], list[int]] = ([], [])
    for plot in dict.fromkeys((*by_plot[0], *by_plot[1])):
        here = (by_plot[0].get(plot, []), by_plot[1].get(plot, []))
        matches, *rest = _pair_plot(likeness, *here)
        pairs += matches
        for side, lines in zip(left, rest, strict=True):
            side += lines
    matches, rest_first, rest_second = _by_likeness(likeness, *left, _ALIKE_ELSEWHERE)
    pairs += matches
    pairs += [Pair(line, NO_LINE) for line in rest_first]
    return _in_order(pairs, rest_second)


def _positions(keys: pd.Series) -> dict[Any, list[int]]:
    positions: dict[Any, list[int]] = {}
    for at, key in enumerate(keys):
        positions.setdefault(key, []).append(at)
    return positions


class _Likeness:
    """How alike lines of two entries are: the share of equal cells among those either has."""

    def __init__(self, first: pd.DataFrame, second: pd.DataFrame) -> None:
        """Turn the texts of both into numbers; 0 stands for a blank."""
        self.first, self.second = first, second
        self.codes: list[Codes] = [
            np.zeros((len(frame), len(first.columns)), dtype=np.int64) for frame in (first, second)
        ]
        for at, name in enumerate(first.columns):
            both = np.concatenate([first[name].to_numpy(), second[name].to_numpy()])
            codes, texts = pd.factorize(both)
            blank = np.flatnonzero(texts == "")
            codes = np.where(np.isin(codes, blank), 0, codes + 1)
            self.codes[0][:, at], self.codes[1][:, at] = codes[: len(first)], codes[len(first) :]
        names = list(first.columns)
        self.data = [at for at, name in enumerate(names) if name not in _NAMING]
        self.with_tree = [at for at, name in enumerate(names) if name not in ("plot",)]

    def table(
        self, lines: Sequence[int], others: Sequence[int], columns: Sequence[int]
    ) -> NDArray[np.float64]:
        """Return the likeness of each of the lines with each of the others, 0 to 1."""
        one = self.codes[0][np.ix_(lines, columns)][:, None, :]
        two = self.codes[1][np.ix_(others, columns)][None, :, :]
        either = (one > 0) | (two > 0)
        equal = (one == two) & either
        count = either.sum(axis=2)
        return np.asarray(np.where(count > 0, equal.sum(axis=2) / np.maximum(count, 1), 0.0))

    def key(self, side: int, line: int) -> tuple[str, str]:
        """Return tree and set-up of a line; a blank set-up is the first."""
        frame = (self.first, self.second)[side]
        return frame["tree"].iloc[line], frame["setup"].iloc[line] or "1"


Found = tuple[list[Pair], list[int], list[int]]


def _pair_plot(likeness: _Likeness, lines: list[int], others: list[int]) -> Found:
    keyed, lines, others = _by_key(likeness, lines, others, _BEARS_OUT)
    aligned, lines, others = _align(likeness, lines, others)
    alike, lines, others = _by_likeness(likeness, lines, others, _ALIKE_ALONE)
    named, lines, others = _by_key(likeness, lines, others, -1.0)
    return [*keyed, *aligned, *alike, *named], lines, others


def _by_key(likeness: _Likeness, lines: list[int], others: list[int], at_least: float) -> Found:
    """Pair lines of one tree and set-up that are listed once in each, if the rest agrees."""
    places: list[dict[tuple[str, str], list[int]]] = [{}, {}]
    for side, listed in enumerate((lines, others)):
        for place, line in enumerate(listed):
            places[side].setdefault(likeness.key(side, line), []).append(place)
    named = [
        (mine[0], places[1][key][0])
        for key, mine in places[0].items()
        if key[0] and len(mine) == len(places[1].get(key, [])) == 1
    ]
    if at_least >= 0 and named and len(lines) * len(others) <= _MOST_COMPARISONS:
        table = likeness.table(lines, others, likeness.data)
        best = (table.max(axis=1), table.max(axis=0))
        named = [
            (i, j)
            for i, j in named
            if table[i, j] >= max(at_least, max(best[0][i], best[1][j]) - _MUCH_MORE_ALIKE)
        ]
    elif at_least >= 0:  # too many for a look at all others
        named = [
            (i, j)
            for i, j in named
            if likeness.table([lines[i]], [others[j]], likeness.data)[0, 0] >= at_least
        ]
    pairs = [Pair(lines[i], others[j]) for i, j in named]
    return pairs, *_rest(pairs, lines, others)


def _rest(pairs: list[Pair], lines: list[int], others: list[int]) -> tuple[list[int], list[int]]:
    mine, theirs = {pair.first for pair in pairs}, {pair.second for pair in pairs}
    return [x for x in lines if x not in mine], [x for x in others if x not in theirs]


def _align(likeness: _Likeness, lines: list[int], others: list[int]) -> Found:
    """Pair lines in their order so that the likeness over all pairs is greatest."""
    if not lines or not others or len(lines) * len(others) > _MOST_COMPARISONS:
        return [], lines, others
    gain = likeness.table(lines, others, likeness.with_tree) - _ALIKE_IN_ORDER
    best = np.zeros((len(lines) + 1, len(others) + 1))
    for i in range(len(lines)):
        paired = best[i, :-1] + np.maximum(gain[i], 0.0)
        best[i + 1, 1:] = np.maximum.accumulate(np.maximum(best[i, 1:], paired))
    pairs, i, j = [], len(lines), len(others)
    while i and j:
        if best[i, j] == best[i - 1, j]:
            i -= 1
        elif best[i, j] == best[i, j - 1]:
            j -= 1
        else:
            i, j = i - 1, j - 1
            pairs.append(Pair(lines[i], others[j]))
    return pairs, *_rest(pairs, lines, others)


def _by_likeness(
    likeness: _Likeness, lines: list[int], others: list[int], at_least: float
) -> Found:
    """Pair the most alike first, wherever they are."""
    if not lines or not others or len(lines) * len(others) > _MOST_COMPARISONS:
        return [], lines, others
    table = likeness.table(lines, others, likeness.with_tree)
    order = np.argsort(-table, axis=None, kind="stable")
    order = order[table.ravel()[order] >= at_least]
    taken: tuple[set[int], set[int]] = (set(), set())
    pairs = []
    for i, j in zip(*np.unravel_index(order, table.shape), strict=True):
        if i not in taken[0] and j not in taken[1]:
            taken[0].add(int(i))
            taken[1].add(int(j))
            pairs.append(Pair(lines[int(i)], others[int(j)]))
    return pairs, *_rest(pairs, lines, others)


def _in_order(pairs: list[Pair], only_second: list[int]) -> tuple[Pair, ...]:
    partner = {pair.second: pair.first for pair in pairs if pair.second != NO_LINE}
    places = []
    for line in only_second:
        before = max((s for s in partner if s < line), default=None)
        places.append((-1 if before is None else partner[before], line))
    keyed = [((pair.first, 0, 0), pair) for pair in pairs]
    keyed += [((first, 1, line), Pair(NO_LINE, line)) for first, line in places]
    return tuple(pair for _, pair in sorted(keyed, key=lambda item: item[0]))


def pair_by_names(
    first: pd.DataFrame, second: pd.DataFrame, names: Sequence[str]
) -> tuple[Pair, ...]:
    """Return which rows of two lists belong together: the same names, in the same order of them."""
    places: list[dict[Any, int]] = []
    for frame in (first, second):
        keys = [tuple(row) for row in frame[list(names)].itertuples(index=False, name=None)]
        seen: dict[Any, int] = {}
        numbered = {}
        for at, key in enumerate(keys):
            seen[key] = seen.get(key, 0) + 1
            numbered[key, seen[key]] = at
        places.append(numbered)
    every = dict.fromkeys((*places[0], *places[1]))
    return tuple(Pair(places[0].get(k, NO_LINE), places[1].get(k, NO_LINE)) for k in every)


def disagreements(pairs: Sequence[Pair], first: pd.DataFrame, second: pd.DataFrame) -> pd.DataFrame:
    """Return every differing cell.

    Returns
    -------
    DataFrame
        `pair` (position in `pairs`) and `field`, in the order of the pairs and the columns; of a
        row that only one entry has, its filled cells.
    """
    mine, theirs = _codes_of_pairs(pairs, first, second)
    at, column = np.nonzero(mine != theirs)
    return pd.DataFrame({"pair": at, "field": np.asarray(first.columns, dtype=object)[column]})


def compared_cells(
    pairs: Sequence[Pair], first: pd.DataFrame, second: pd.DataFrame
) -> pd.DataFrame:
    """Return for each pair of rows which cells were compared: those that either entry fills."""
    mine, theirs = _codes_of_pairs(pairs, first, second)
    both = np.array(
        [pair.first != NO_LINE and pair.second != NO_LINE for pair in pairs], dtype=bool
    )
    filled = ((mine != "") | (theirs != "")) & both[:, None]
    return pd.DataFrame(filled, columns=first.columns)


def _codes_of_pairs(
    pairs: Sequence[Pair], first: pd.DataFrame, second: pd.DataFrame
) -> tuple[NDArray[np.object_], NDArray[np.object_]]:
    sides = []
    for frame, line in ((first, [p.first for p in pairs]), (second, [p.second for p in pairs])):
        blank = np.full((1, len(frame.columns)), "", dtype=object)
        padded = np.vstack([frame.to_numpy(dtype=object), blank])
        sides.append(padded[np.array(line, dtype=np.int64)] if line else padded[:0])
    return sides[0], sides[1]


def line_on_page(frame: pd.DataFrame) -> Positions:
    """Return the running number of each line within its plot, in the order of the sheet."""
    return np.asarray(frame.groupby("plot", sort=False).cumcount() + 1, dtype=np.int64)


NAMES: Mapping[str, tuple[str, ...]] = {
    "plots": ("plot",),
    "strata": ("stratum",),
    "people": ("initials",),
    "instruments": ("instrument",),
    "instrument_checks": ("instrument", "date"),
    "species": ("botanical",),
}
