"""Lines and columns that were copied: a row not overwritten, or cells dragged down.

Among the lines of one plot, or of one crew's day: three of distance, foot, crown base and tip
reading equal, and the diameter or both widths. On a street of equal trees such agreement comes
about by itself, so a pair counts only if chance would make one as much alike in fewer than three
of a thousand such groups, with the share of equal pairs in each agreeing column, in the group or
in the survey, whichever is the larger.
Anywhere in the survey: all that was entered, readings, diameter and widths.

A step of 0 is left alone: equal distances and equal trees are typical of a street. Small whole
readings make short runs of equal steps by themselves, so a run counts only if fewer than one in
twenty such columns would have one as rare by chance, with the share of each step in the column.
"""

from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from xlhelpers.survey.checks.facts import Facts, same
from xlhelpers.survey.checks.record import NO_HITS, Hits
from xlhelpers.survey.checks.wording import list_words
from xlhelpers.survey.typed.folding import Flags, Positions, codes_of, fold_column

READINGS = ("distance", "foot_reading", "base_reading", "tip_reading")
COLUMNS = (*READINGS, "diameter", "width_widest", "width_across")
NAMES = {
    "distance": "distance",
    "foot_reading": "foot reading",
    "base_reading": "crown base reading",
    "top_reading": "crown top reading",
    "tip_reading": "tip reading",
    "diameter": "diameter",
    "width_widest": "widest width",
    "width_across": "width across",
}
DRAGGED_COLUMNS = tuple(NAMES)
# positions in COLUMNS
DIAMETER, WIDTHS = 4, (5, 6)
# the foot reading follows from the distance and the eye, the width across from the widest
FOLLOWS = {1: 0, 6: 5}
OF_READINGS = 3
MOST_BY_CHANCE, MOST_DRAGGED_BY_CHANCE = 0.003, 0.05
Pair = tuple[int, int]
Codes = NDArray[np.int64]


def copied_lines(facts: Facts) -> Hits:
    """Lines that repeat an earlier line of another tree, at the later one."""
    codes = np.stack([_number_values(np.round(facts.number(name), 6)) for name in COLUMNS])
    group = _number_crew_days(facts)
    near = [
        pair
        for pair in _find_candidates(facts, codes, group)
        if _is_unlikely(codes, _members(facts, group, pair), pair)
    ]
    earlier_of = {later: earlier for earlier, later in sorted(_find_anywhere(facts, codes))}
    earlier_of |= {later: earlier for earlier, later in sorted(near)}
    if not earlier_of:
        return NO_HITS
    pairs = [(earlier_of[later], later) for later in sorted(earlier_of)]
    return Hits(
        np.array([later for _, later in pairs], dtype=np.int64),
        {
            "later": [_capitalize(facts.place(later)) for _, later in pairs],
            "earlier": [facts.place(earlier) for earlier, _ in pairs],
            "what": [
                list_words([NAMES[COLUMNS[at]] for at in _find_agreeing(codes, *pair)])
                for pair in pairs
            ],
        },
        lines=pairs,
    )


def _capitalize(text: str) -> str:
    return text[:1].upper() + text[1:]


def _number_values(column: NDArray[np.float64]) -> Positions:
    """Return a column as whole numbers from 0; -1 for a blank, which agrees with nothing."""
    codes = np.unique(column, return_inverse=True)[1].astype(np.int64)
    return np.where(np.isnan(column), -1, codes)


def _number_crew_days(facts: Facts) -> Positions:
    """Number the crew days; a plot without crew or date is a group of its own, no plot is -1."""
    if len(facts.survey.plots) == 0:
        return facts.plot_position
    crew = fold_column(facts.column("plots", "crew"))
    date = facts.column("plots", "date").astype("datetime64[ns]")
    own = np.arange(len(crew)) + len(crew)
    group = np.where(same(crew, "") | np.isnat(date), own, codes_of(crew, date.astype(np.int64)))
    return np.where(facts.plot_position < 0, -1, group[np.maximum(facts.plot_position, 0)])


def _find_candidates(facts: Facts, codes: Codes, group: Positions) -> set[Pair]:
    """Return pairs of lines of one group that agree in one of the combinations."""
    pairs: set[Pair] = set()
    for readings in combinations(range(len(READINGS)), OF_READINGS):
        for more in ((DIAMETER,), WIDTHS):
            pairs |= _find_alike(facts, np.vstack([group, codes[list(readings + more)]]))
    return pairs


def _find_anywhere(facts: Facts, codes: Codes) -> set[Pair]:
    """Return pairs of lines that agree in all that was entered, and enough was."""
    enough = (codes[: len(READINGS)] >= 0).sum(axis=0) >= OF_READINGS
    enough &= (codes[len(READINGS) :] >= 0).all(axis=0)
    pairs = _find_alike(facts, np.where(enough, codes + 1, -1))
    everywhere = np.arange(len(enough))
    return {pair for pair in pairs if _is_unlikely(codes, everywhere, pair)}


def _find_alike(facts: Facts, columns: Codes) -> set[Pair]:
    """Return the pairs of neighbours among the lines of different trees that agree throughout."""
    rows = np.flatnonzero((columns >= 0).all(axis=0))
    if len(rows) < 2:
        return set()
    key = np.zeros(len(rows), dtype=np.uint64)
    for column in columns[:, rows]:
        # mixing by an odd factor; equality is tested again on the columns themselves
        key = (key ^ column.astype(np.uint64)) * np.uint64(0x9E3779B97F4A7C15)
        key ^= key >> np.uint64(29)
    order = np.argsort(key, kind="stable")
    near = np.flatnonzero(key[order][1:] == key[order][:-1])
    one, other = rows[order[near]], rows[order[near + 1]]
    alike = (columns[:, one] == columns[:, other]).all(axis=0)
    alike &= facts.tree_position[one] != facts.tree_position[other]
    return set(zip(one[alike].tolist(), other[alike].tolist(), strict=True))


def _members(facts: Facts, group: Positions, pair: Pair) -> Positions:
    """Return the lines of the plot that both are on, else those of their crew's day."""
    plots = facts.plot_position
    if plots[pair[0]] == plots[pair[1]]:
        return np.flatnonzero(plots == plots[pair[0]])
    return np.flatnonzero(group == group[pair[0]])


def _is_unlikely(codes: Codes, members: Positions, pair: Pair) -> bool:
    """Whether chance hardly makes so much agreement among some lines."""
    agreeing = set(_find_agreeing(codes, *pair).tolist())
    # these follow from the one before them and are no evidence of their own
    for follows, leads in FOLLOWS.items():
        if leads in agreeing:
            agreeing.discard(follows)
    expected = len(members) * (len(members) - 1) / 2
    for column in sorted(agreeing):
        rates = [_share_equal(codes[column][members]), _share_equal(codes[column])]
        expected *= max(rates)
    return bool(expected < MOST_BY_CHANCE)


def _share_equal(column: Positions) -> float:
    """Return the share of equal pairs, without the one pair that is judged."""
    counts = np.unique(column, return_counts=True)[1]
    equal = (counts * (counts - 1) / 2).sum() - 1
    return float(max(equal, 0.5) / (len(column) * (len(column) - 1) / 2))


def _find_agreeing(codes: Codes, one: int, other: int) -> NDArray[np.int64]:
    return np.flatnonzero((codes[:, one] == codes[:, other]) & (codes[:, one] >= 0))


def dragged_columns(facts: Facts) -> Hits:
    """Runs of one constant step in a column, at their first line."""
    follows = _directly_below(facts)
    fewest = max(int(facts.limit("limit_steps")), 2)
    runs = []
    for name in DRAGGED_COLUMNS:
        runs += [(name, *run) for run in _find_runs(facts.number(name), follows, fewest)]
    if not runs:
        return NO_HITS
    names, starts, lengths = zip(*runs, strict=True)
    ranges = [tuple(range(a, a + n + 1)) for a, n in zip(starts, lengths, strict=True)]
    values = [facts.number(name) for name in names]
    return Hits(
        np.array(starts, dtype=np.int64),
        {
            "label": [NAMES[name] for name in names],
            "count": np.array(lengths) + 1,
            "start": [facts.place(run[0]) for run in ranges],
            "last": [facts.place(run[-1]) for run in ranges],
        },
        lines=ranges,
        fields=[(name,) for name in names],
        evidence=[
            tuple(f"{v:.10g}" for v in column[list(run)])
            for column, run in zip(values, ranges, strict=True)
        ],
    )


def _directly_below(facts: Facts) -> Flags:
    """Return which lines are directly below the one before them."""
    sheet, row = facts.column("lines", "_sheet"), facts.column("lines", "_row")
    follows = np.zeros(len(row), dtype=np.bool_)
    follows[1:] = (sheet[1:] == sheet[:-1]) & (np.diff(row) == 1)
    return follows


def _find_runs(column: NDArray[np.float64], follows: Flags, fewest: int) -> list[tuple[int, int]]:
    """Return start and number of steps of each run that is long and unlikely enough."""
    steps = np.where(follows[1:], np.round(np.diff(column), 6), np.nan)
    # an equal, non-zero step after a step
    equal = (steps[1:] == steps[:-1]) & (steps[1:] != 0)
    ends = np.diff(np.r_[0, equal.astype(np.int8), 0])
    starts, stops = np.flatnonzero(ends == 1), np.flatnonzero(ends == -1)
    lengths = stops - starts + 1
    long = np.flatnonzero(lengths >= fewest)
    return [
        (int(starts[run]), int(lengths[run]))
        for run in long
        if _expect_runs(steps, int(starts[run]), int(lengths[run])) < MOST_DRAGGED_BY_CHANCE
    ]


def _expect_runs(steps: NDArray[np.float64], start: int, length: int) -> float:
    """Return how many runs of this length chance would make, of this step or of a rarer one."""
    elsewhere = np.delete(steps, slice(start, start + length))
    elsewhere = elsewhere[np.isfinite(elsewhere)]
    kinds, counts = np.unique(elsewhere[elsewhere != 0], return_counts=True)
    # a step that nothing else has may still be one in twice as many
    own = max(int(counts[kinds == steps[start]].sum()), 0.5)
    shares = np.append(counts[(counts <= own) & (kinds != steps[start])], own)
    return float(len(steps) * ((shares / max(len(elsewhere), 1)) ** length).sum())
