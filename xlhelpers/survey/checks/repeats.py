"""Set-ups of one tree that disagree, one entered twice, and values from another source."""

from collections.abc import Callable

import numpy as np

from xlhelpers.survey.checks.facts import Facts, Numbers, group_members, same
from xlhelpers.survey.checks.order import SAME
from xlhelpers.survey.checks.record import NO_HITS, Hits, hits_where
from xlhelpers.survey.typed.folding import Positions, codes_of

# two positions agree to this share of the height
AGREEMENT = 0.025
SIGHTED = ("distance", "foot_reading", "base_reading", "top_reading", "tip_reading")
_COLUMNS = {"tip": "total_height", "top": "crown_top", "base": "crown_base"}


def compare_setups(point: str) -> Callable[[Facts], Hits]:
    """Return the predicate for one point: the lowest and the highest set-up are compared."""

    def find_trees(facts: Facts) -> Hits:
        several = facts.of_tree("line_count") > 1
        height = facts.setup(_COLUMNS[point])
        if point == "top":
            # the top of a sound crown is its tip, which has its own check
            several = several & same(facts.condition, "T")
        lines = np.flatnonzero(several & np.isfinite(height))
        lines = lines[np.lexsort((height[lines], facts.tree_position[lines]))]
        tree = facts.tree_position[lines]
        if len(lines) < 2:
            return NO_HITS
        starts = np.flatnonzero(np.r_[True, tree[1:] != tree[:-1]])
        ends = np.r_[starts[1:], len(lines)] - 1
        low, high = lines[starts], lines[ends]
        allowed = _allow(facts, point, low, high)
        bad = (height[high] - height[low] > allowed + SAME) & (low != high)
        low, high, allowed = low[bad], high[bad], allowed[bad]
        number = facts.setup("setup_number")
        return Hits(
            facts.tree_position[low],
            {
                "least": height[low],
                "most": height[high],
                "apart": height[high] - height[low],
                "allowed": allowed,
                "one": number[low],
                "other": number[high],
            },
            lines=[tuple(sorted((int(a), int(b)))) for a, b in zip(low, high, strict=True)],
        )

    return find_trees


def _allow(facts: Facts, point: str, low: Positions, high: Positions) -> Numbers:
    """Return the largest of the rule's length, 2.5 % of the height and two uncertainties."""
    total: Numbers = np.fmax(facts.setup("total_height")[low], facts.setup("total_height")[high])
    parts = [facts.setup(f"{point}_u_{part}") for part in ("common", "reading")]
    squares = np.nan_to_num(parts[0]) ** 2 + np.nan_to_num(parts[1]) ** 2
    spread = 2 * np.sqrt(squares[low] + squares[high])
    allowed = np.maximum(np.nan_to_num(AGREEMENT * total), spread)
    return np.asarray(np.maximum(allowed, facts.limit("limit_repeat")))


def setup_keyed_twice(facts: Facts) -> Hits:
    """Lines that repeat distance and readings of another line of their tree to the digit."""
    several = facts.of_tree("line_count") > 1
    values = np.stack([facts.number(name) for name in SIGHTED])
    rows = np.flatnonzero(several & (np.isfinite(values).sum(axis=0) >= 3))
    if len(rows) < 2:
        return NO_HITS
    columns = [np.nan_to_num(column, nan=-1e9) for column in values[:, rows]]
    codes = codes_of(facts.tree_position[rows], *columns)
    groups = [group for group in group_members(codes, rows).values() if len(group) > 1]
    number = facts.setup("setup_number")
    return Hits(
        np.array([group[1] for group in groups], dtype=int),
        {"other": np.array([number[group[0]] for group in groups])},
        lines=groups,
    )


def recorded_depth_differs(facts: Facts) -> Hits:
    """Recorded crown depths against the line's own depth, else the tree's."""
    # also where the crown depth is 0
    own = facts.setup("crown_top") - facts.setup("crown_base")
    computed = np.where(np.isnan(own), facts.of_tree("crown_depth"), own)
    return _compare_recorded(facts, facts.number("recorded_depth"), computed)


def recorded_height_differs(facts: Facts) -> Hits:
    """Recorded total heights against the line's own height, else the tree's."""
    own = facts.setup("total_height")
    computed = np.where(np.isnan(own), facts.of_tree("total_height"), own)
    return _compare_recorded(facts, facts.number("recorded_height"), computed)


def recorded_width_differs(facts: Facts) -> Hits:
    """Recorded mean widths against the mean of the line's own widths, else the tree's."""
    own = (facts.number("width_widest") + facts.number("width_across")) / 2
    by_radii = np.isfinite(facts.of_tree("crown_offset"))
    computed = np.where(np.isnan(own) | by_radii, facts.of_tree("mean_width"), own)
    return _compare_recorded(facts, facts.number("recorded_width"), computed)


def _compare_recorded(facts: Facts, recorded: Numbers, computed: Numbers) -> Hits:
    apart = np.abs(recorded - computed)
    return hits_where(apart > facts.limit("limit_recorded") + SAME, computed=computed)


def closed_blanks(facts: Facts) -> Hits:
    """How many blanks have each of the reasons, once for the survey."""
    words = sorted(facts.survey.closed_words.items())
    counts = tuple(f"{word} {count}" for word, count in words if count)
    if not counts:
        return NO_HITS
    return Hits(
        np.zeros(1, dtype=np.int64),
        {"counts": [", ".join(counts)]},
        subjects=[(("survey", "closed blanks"),)],
        evidence=[counts],
    )
