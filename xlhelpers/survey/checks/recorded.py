"""Crown measures that a sheet already carries, against ours; and blanks that a word closes."""

import numpy as np

from xlhelpers.survey.checks.facts import Facts, Numbers
from xlhelpers.survey.checks.order import SAME
from xlhelpers.survey.checks.record import COMMON_PRACTICE, DEFINITION, NOTHING, Check, Hits, hits


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
        "recorded-depth-differs", "warning", "paper", "lines",
        ("recorded_depth", "base_reading", "top_reading", "tip_reading", "base_by_pole",
         "foot_reading", "distance"),
        "The recorded crown depth is {recorded_depth:fine length}, ours is {ours:fine length}: "
        "{apart:fine length} apart; {limit_recorded:fine length} is allowed.",
        "Look at the paper sheet and at where the recorded value comes from. Ours is shown.",
        DEFINITION, recorded_depth_differs,
    ),
    Check(
        "recorded-width-differs", "warning", "paper", "lines",
        ("recorded_width", "width_widest", "width_across"),
        "The recorded mean width is {recorded_width:fine length}, ours is {ours:fine length}: "
        "{apart:fine length} apart; {limit_recorded:fine length} is allowed.",
        "Look at the paper sheet and at where the recorded value comes from. Ours is shown.",
        DEFINITION, recorded_width_differs,
    ),
)  # fmt: skip

CLOSED: tuple[Check, ...] = (
    Check(
        "closed-blanks", "note", "crew", "survey", ("missing_because",),
        "Words close blanks, which are counted and no finding: {said}.",
        "Nothing to do.",
        COMMON_PRACTICE, closed_blanks,
    ),
)  # fmt: skip
