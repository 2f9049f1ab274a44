"""Set-ups of one tree that disagree, one entered twice, and values recorded elsewhere."""

from collections.abc import Callable

import numpy as np

from xlhelpers.survey.checks.facts import Facts, Numbers, grouped, same
from xlhelpers.survey.checks.order import SAME
from xlhelpers.survey.checks.record import COMMON_PRACTICE, DEFINITION, NOTHING, Check, Hits, hits
from xlhelpers.survey.typed.folding import Positions, codes_of

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
            "least": height[low],
            "most": height[high],
            "apart": height[high] - height[low],
            "allowed": allowed,
            "one": number[low],
            "other": number[high],
        },
        lines=[tuple(sorted((int(a), int(b)))) for a, b in zip(low, high, strict=True)],
    )


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
        f"repeats-disagree-{point}",
        "warning",
        "again",
        "trees",
        compares,
        f"The set-ups disagree about the {word}: {{least:length}} by set-up {{one:count}} and "
        "{most:length} by set-up {other:count}, {apart:length} apart; {allowed:length} is "
        "allowed. The mean is shown.",
        "Look at the paper sheet first; otherwise measure again from a third place, about one "
        "tree height away. If there is no safe place, write NOT SAFE.",
        "BrackWood1998",
        disagreeing(point),
    )


REPEATS: tuple[Check, ...] = (
    _check("tip", "total height", ("tip_reading", "foot_reading", "distance")),
    _check("top", "living crown top", ("top_reading", "foot_reading", "distance")),
    _check("base", "crown base", ("base_reading", "base_by_pole", "foot_reading", "distance")),
    Check(
        "setup-keyed-twice",
        "warning",
        "paper",
        "lines",
        ("tip_reading", *_SIGHTED[:-1]),
        "Distance and all readings are those of set-up {other:count} of the same tree.",
        "Look at the paper sheet: was one line keyed twice? Then delete this one.",
        COMMON_PRACTICE,
        setup_keyed_twice,
    ),
)


def _differing(facts: Facts, recorded: Numbers, ours: Numbers) -> Hits:
    apart = np.abs(recorded - ours)
    return hits(apart > facts.limit("limit_recorded") + SAME, ours=ours, apart=apart)


def recorded_depth_differs(facts: Facts) -> Hits:
    """Recorded crown depths against the line's own depth, else the tree's."""
    # also where the crown has no depth at all
    own = facts.setup("crown_top") - facts.setup("crown_base")
    ours = np.where(np.isnan(own), facts.of_tree("crown_depth"), own)
    return _differing(facts, facts.number("recorded_depth"), ours)


def recorded_width_differs(facts: Facts) -> Hits:
    """Recorded mean widths against the mean of the line's own widths, else the tree's."""
    own = (facts.number("width_widest") + facts.number("width_across")) / 2
    ours = np.where(np.isnan(own), facts.of_tree("mean_width"), own)
    return _differing(facts, facts.number("recorded_width"), ours)


def closed_blanks(facts: Facts) -> Hits:
    """How many blanks words close, once for the survey."""
    words = sorted(facts.survey.closed_words.items())
    said = tuple(f"{word} {count}" for word, count in words if count)
    if not said:
        return NOTHING
    return Hits(
        np.zeros(1, dtype=np.int64),
        {"said": [", ".join(said)]},
        subjects=[(("survey", "closed blanks"),)],
        evidence=[said],
    )


RECORDED: tuple[Check, ...] = (
    Check(
        "recorded-depth-differs",
        "warning",
        "paper",
        "lines",
        (
            "recorded_depth",
            "base_reading",
            "top_reading",
            "tip_reading",
            "base_by_pole",
            "foot_reading",
            "distance",
        ),
        "The recorded crown depth is {recorded_depth:fine length}, ours is {ours:fine length}: "
        "{apart:fine length} apart; {limit_recorded:fine length} is allowed.",
        "Look at the paper sheet and at where the recorded value comes from. Ours is shown.",
        DEFINITION,
        recorded_depth_differs,
    ),
    Check(
        "recorded-width-differs",
        "warning",
        "paper",
        "lines",
        ("recorded_width", "width_widest", "width_across"),
        "The recorded mean width is {recorded_width:fine length}, ours is {ours:fine length}: "
        "{apart:fine length} apart; {limit_recorded:fine length} is allowed.",
        "Look at the paper sheet and at where the recorded value comes from. Ours is shown.",
        DEFINITION,
        recorded_width_differs,
    ),
)
CLOSED: tuple[Check, ...] = (
    Check(
        "closed-blanks",
        "note",
        "crew",
        "survey",
        ("missing_because",),
        "Words close blanks, which are counted and no finding: {said}.",
        "Nothing to do.",
        COMMON_PRACTICE,
        closed_blanks,
    ),
)
