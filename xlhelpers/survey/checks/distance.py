"""Where the instrument stood: too near to the tree, or under its crown."""

import numpy as np

from xlhelpers.survey.checks.facts import Facts
from xlhelpers.survey.checks.order import SAME
from xlhelpers.survey.checks.record import COMMON_PRACTICE, DEFINITION, Check, Hits, hits, where
from xlhelpers.survey.folding import Flags


def distance_zero(facts: Facts) -> Flags:
    """A distance of nothing to a tree that was sighted."""
    return (facts.number("distance") <= 0) & ~facts.shows_height


def under_crown(facts: Facts) -> Flags:
    """Lines sighted from within half of the larger crown width."""
    wider = np.fmax(facts.of_tree("width_widest"), facts.of_tree("width_across"))
    level = facts.setup("level_distance")
    # a width over the limit has a finding of its own
    wider = np.where(wider > facts.limit("limit_width"), np.nan, wider)
    return (level > 0) & (level < wider / 2 - SAME) & _sighted(facts)


def too_close(facts: Facts) -> Flags:
    """Lines sighted from nearer than the least share of the height, outside the crown."""
    level, total = facts.setup("level_distance"), facts.setup("total_height")
    near = (level > 0) & (level < facts.limit("limit_distance_share") * total - SAME)
    # and so has a height over the limit
    near &= total <= facts.limit("limit_height") + SAME
    return near & ~under_crown(facts) & _sighted(facts)


def near_stem(facts: Facts) -> Flags:
    """Lines that one of the two checks on nearness finds."""
    return under_crown(facts) | too_close(facts)


def _sighted(facts: Facts) -> Flags:
    """Lines whose tip was sighted, with or without a height display."""
    return np.isfinite(facts.number("tip_reading"))


def _under_crown_hits(facts: Facts) -> Hits:
    wider = np.fmax(facts.of_tree("width_widest"), facts.of_tree("width_across"))
    return hits(under_crown(facts), half=wider / 2)


def _too_close_hits(facts: Facts) -> Hits:
    with np.errstate(all="ignore"):
        share = facts.setup("level_distance") / facts.setup("total_height")
    return hits(too_close(facts), share=share)


# how far that is, the list for the truck says, from the height that the tree may have
_AGAIN = (
    "If the paper sheet has this distance too, measure again from farther away, at least one tree "
    "height and clear of the crown; if there is no safe place, write NOT SAFE."
)

DISTANCE: tuple[Check, ...] = (
    Check(
        "distance-zero", "error", "paper", "lines", ("distance",),
        "The distance is 0: no height can be computed from it.",
        "Look at the paper sheet and key the distance.",
        DEFINITION, where(distance_zero),
    ),
    Check(
        "under-crown", "warning", "again", "lines",
        ("distance", "width_widest", "width_across"),
        "The instrument stood {level_distance:length} from the stem, under the crown: half of its "
        "larger width is {half:length}. The tip cannot be told from a branch there.",
        _AGAIN, COMMON_PRACTICE, _under_crown_hits,
    ),
    Check(
        "too-close", "warning", "again", "lines", ("distance", "tip_reading", "foot_reading"),
        "The instrument stood {level_distance:length} from a tree of {total_height:length}: "
        "{share:percent} of its height, closer than the survey's "
        "{limit_distance_share:percent}.",
        _AGAIN, "NswGuidelineUndated", _too_close_hits,
    ),
)  # fmt: skip
