"""Set-ups of one tree that disagree about a height, and a set-up that was keyed twice."""

from collections.abc import Callable

import numpy as np

from xlhelpers.survey.checks.facts import Facts, Numbers, grouped, same
from xlhelpers.survey.checks.order import SAME
from xlhelpers.survey.checks.record import COMMON_PRACTICE, NOTHING, Check, Hits
from xlhelpers.survey.folding import Positions, codes_of

# two positions agree to this share of the height
AGREEMENT = 0.025
_COLUMNS = {"tip": "total_height", "top": "crown_top", "base": "crown_base"}


def disagreeing(point: str) -> Callable[[Facts], Hits]:
    """Return the predicate for one point: the lowest and the highest set-up are compared."""

    def fails(facts: Facts) -> Hits:
        several = facts.of_tree("line_count") > 1
        height = facts.setup(_COLUMNS[point])
        if point == "top":
            # the top of a sound crown is its tip, which has its own check
            several = several & same(facts.condition, "T")
        lines = np.flatnonzero(several & np.isfinite(height))
        lines = lines[np.lexsort((height[lines], facts.tree_position[lines]))]
        tree = facts.tree_position[lines]
        if len(lines) < 2:
            return NOTHING
        starts = np.flatnonzero(np.r_[True, tree[1:] != tree[:-1]])
        ends = np.r_[starts[1:], len(lines)] - 1
        low, high = lines[starts], lines[ends]
        apart = height[high] - height[low]
        allowed = _allowed(facts, point, low, high)
        bad = np.flatnonzero((apart > allowed + SAME) & (low != high))
        return _pair_hits(facts, point, low[bad], high[bad], allowed[bad])

    return fails


def _allowed(facts: Facts, point: str, low: Positions, high: Positions) -> Numbers:
    """Return the largest of the rule's length, 2.5 % of the height and two uncertainties."""
    total: Numbers = np.fmax(facts.setup("total_height")[low], facts.setup("total_height")[high])
    parts = [facts.setup(f"{point}_u_{part}") for part in ("common", "reading")]
    squares = np.nan_to_num(parts[0]) ** 2 + np.nan_to_num(parts[1]) ** 2
    spread = 2 * np.sqrt(squares[low] + squares[high])
    least: Numbers = np.full(len(low), facts.limit("limit_repeat"))
    return np.asarray(np.maximum(np.maximum(np.nan_to_num(AGREEMENT * total), spread), least))


def _pair_hits(facts: Facts, point: str, low: Positions, high: Positions, allowed: Numbers) -> Hits:
    height = facts.setup(_COLUMNS[point])
    number = facts.setup("setup_number")
    return Hits(
        facts.tree_position[low],
        {
            "least": height[low], "most": height[high], "apart": height[high] - height[low],
            "allowed": allowed, "one": number[low], "other": number[high],
        },
        lines=[tuple(sorted((int(a), int(b)))) for a, b in zip(low, high, strict=True)],
    )  # fmt: skip


_SIGHTED = ("distance", "foot_reading", "base_reading", "top_reading", "tip_reading")


def setup_keyed_twice(facts: Facts) -> Hits:
    """Lines that repeat distance and readings of another line of their tree to the digit."""
    several = facts.of_tree("line_count") > 1
    values = np.stack([facts.number(name) for name in _SIGHTED])
    rows = np.flatnonzero(several & (np.isfinite(values).sum(axis=0) >= 3))
    if len(rows) < 2:
        return NOTHING
    columns = [np.nan_to_num(column, nan=-1e9) for column in values[:, rows]]
    codes = codes_of(facts.tree_position[rows], *columns)
    groups = [group for group in grouped(codes, rows).values() if len(group) > 1]
    number = facts.setup("setup_number")
    return Hits(
        np.array([group[1] for group in groups], dtype=int),
        {"other": np.array([number[group[0]] for group in groups])},
        lines=groups,
    )


def _check(point: str, word: str, compares: tuple[str, ...]) -> Check:
    return Check(
        f"repeats-disagree-{point}", "warning", "again", "trees", compares,
        f"The set-ups disagree about the {word}: {{least:length}} by set-up {{one:count}} and "
        "{most:length} by set-up {other:count}, {apart:length} apart; {allowed:length} is "
        "allowed. The mean is shown.",
        "Look at the paper sheet first; otherwise measure again from a third place, about one "
        "tree height away. If there is no safe place, write NOT SAFE.",
        "BrackWood1998", disagreeing(point),
    )  # fmt: skip


REPEATS: tuple[Check, ...] = (
    _check("tip", "total height", ("tip_reading", "foot_reading", "distance")),
    _check("top", "living crown top", ("top_reading", "foot_reading", "distance")),
    _check("base", "crown base", ("base_reading", "base_by_pole", "foot_reading", "distance")),
    Check(
        "setup-keyed-twice", "warning", "paper", "lines", ("tip_reading", *_SIGHTED[:-1]),
        "Distance and all readings are those of set-up {other:count} of the same tree.",
        "Look at the paper sheet: was one line keyed twice? Then delete this one.",
        COMMON_PRACTICE, setup_keyed_twice,
    ),
)  # fmt: skip
