"""The figures that the likelihoods rest on, in one table: each with its basis, each to be changed.

A limit is looked up by name; `limits_of` lets a survey rule of the same name go before it. Those
"from the open tree data" were set on trees of six cities and proved on three others.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

COMMON_PRACTICE = "common practice, no source"
TRIED = "set on the open tree data with simulated mistakes, six cities"


@dataclass(frozen=True)
class Limit:
    """One figure, its unit in words, what it is for and what it rests on."""

    name: str
    value: float
    unit: str
    words: str
    basis: str


LIMITS: tuple[Limit, ...] = (
    Limit(
        "doubt_odds", 0.15, "odds",
        "From these odds on that a mistake was made a line is asked about.",
        TRIED,
    ),
    Limit(
        "doubt_beats_unknown", 5.0, "times",
        "A cause is named if it explains a line so many times better than a mistake of which "
        "nothing is known.",
        TRIED,
    ),
    Limit(
        "doubt_named", 0.08, "share",
        "A cause is named if it holds this share of the explanation.",
        TRIED,
    ),
    Limit(
        "doubt_settled", 0.1, "odds",
        "Below these odds of a mistake a single limit that a line exceeds is only stated.",
        TRIED,
    ),
    Limit(
        "doubt_batch_odds", 1000.0, "odds",
        "A plot or a day is asked about as a whole from these odds on.",
        TRIED,
    ),
    Limit(
        "doubt_batch_lines", 5.0, "lines",
        "Fewest lines of a group that one scale is asked about.",
        COMMON_PRACTICE,
    ),
    Limit(
        "reference_weight", 20.0, "trees",
        "The reference counts as much as so many trees of the survey's own.",
        TRIED,
    ),
    Limit(
        "habit_weight", 10.0, "lines",
        "The survey's usual habit counts as much as so many lines of a person's own.",
        TRIED,
    ),
    Limit(
        "heaping_readings", 100.0, "readings",
        "Fewest readings of one person before their last digits are counted.",
        COMMON_PRACTICE,
    ),
    Limit(
        "heaping_index", 175.0, "index",
        "From this index of final digits 0 and 5 on it is said; 100 is none, 500 all.",
        "WhippleUndated",
    ),
    Limit(
        "same_distance_lines", 8.0, "lines",
        "From so many lines on one distance for all trees of a plot is asked about.",
        COMMON_PRACTICE,
    ),
    Limit(
        "check_days", 366.0, "days",
        "An instrument check older than this is not recent.",
        COMMON_PRACTICE,
    ),
)  # fmt: skip

_VALUES = {limit.name: limit.value for limit in LIMITS}


def limits_of(rules: Mapping[str, Any]) -> dict[str, float]:
    """Return all limits by name; a survey rule of the same name goes before the table."""
    return {name: float(rules.get(name, value)) for name, value in _VALUES.items()}
