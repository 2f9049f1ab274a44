"""Columns filled by dragging: one constant step, line after line.

A step of nothing is left alone: equal distances and equal trees are usual on a street. Small whole
readings make short runs of equal steps by themselves, so a run counts only if fewer than one in
twenty such columns would have one as rare by chance, with the share of each step in the column.
"""

import numpy as np
from numpy.typing import NDArray

from xlhelpers.survey.checks.facts import Facts
from xlhelpers.survey.checks.record import COMMON_PRACTICE, NOTHING, Check, Hits
from xlhelpers.survey.folding import Flags

COLUMNS = (
    "distance",
    "foot_reading",
    "base_reading",
    "top_reading",
    "tip_reading",
    "diameter",
    "width_widest",
    "width_across",
)
_LABELS = dict(
    zip(
        COLUMNS,
        ("distance", "foot reading", "crown base reading", "crown top reading", "tip reading",
         "diameter", "widest width", "width across"),
        strict=True,
    )
)  # fmt: skip
MOST_BY_CHANCE = 0.05


def dragged(facts: Facts) -> Hits:
    """Runs of one constant step in a column, at their first line."""
    follows = _follows(facts)
    fewest = max(int(facts.limit("limit_steps")), 2)
    found = []
    for name in COLUMNS:
        found += [(name, *run) for run in _runs(facts.number(name), follows, fewest)]
    if not found:
        return NOTHING
    names, starts, lengths = zip(*found, strict=True)
    ranges = [tuple(range(a, a + n + 1)) for a, n in zip(starts, lengths, strict=True)]
    values = [facts.number(name) for name in names]
    return Hits(
        np.array(starts, dtype=np.int64),
        {
            "label": [_LABELS[name] for name in names],
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


def _follows(facts: Facts) -> Flags:
    """Return which lines stand directly below the one before them."""
    sheet, row = facts.column("lines", "_sheet"), facts.column("lines", "_row")
    follows = np.zeros(len(row), dtype=np.bool_)
    follows[1:] = (sheet[1:] == sheet[:-1]) & (np.diff(row) == 1)
    return follows


def _runs(column: NDArray[np.float64], follows: Flags, fewest: int) -> list[tuple[int, int]]:
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
        if _expected(steps, int(starts[run]), int(lengths[run])) < MOST_BY_CHANCE
    ]


def _expected(steps: NDArray[np.float64], start: int, length: int) -> float:
    """Return how many runs of this length chance would make, of this step or of a rarer one."""
    elsewhere = np.delete(steps, slice(start, start + length))
    elsewhere = elsewhere[np.isfinite(elsewhere)]
    kinds, counts = np.unique(elsewhere[elsewhere != 0], return_counts=True)
    # a step that nothing else has may still be one in twice as many
    own = max(int(counts[kinds == steps[start]].sum()), 0.5)
    shares = np.append(counts[(counts <= own) & (kinds != steps[start])], own)
    return float(len(steps) * ((shares / max(len(elsewhere), 1)) ** length).sum())


DRAGGED: tuple[Check, ...] = (
    Check(
        "dragged-column", "warning", "paper", "lines", COLUMNS,
        "From {start} to {last} the {label} grows or falls by one constant step over "
        "{count:count} lines, as when a cell is dragged down.",
        "Look at the paper sheet and key these cells again.",
        COMMON_PRACTICE, dragged,
    ),
)  # fmt: skip
