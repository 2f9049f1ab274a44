"""Order from the ground up: foot, crown base, crown top, tip; the foot's sign; dead tops."""

import numpy as np

from xlhelpers.survey.checks.facts import Facts, Numbers, same
from xlhelpers.survey.checks.record import COMMON_PRACTICE, DEFINITION, Check, Hits, hits, where
from xlhelpers.survey.typed.folding import Flags

# heights that differ by less are the same number, computed in another order
SAME = 1e-9
# so many lines of a plot, and this share of them, make it one finding of the plot
FEWEST_OF_PLOT, SHARE_OF_PLOT = 3, 2 / 3


def above(facts: Facts, lower: str, upper: str) -> Flags:
    """Lines on which the lower of two points lies above the upper one.

    By their heights; where one has no height, by the readings, which grow with the height as long
    as both are sighted over one distance.
    """
    low, high = facts.setup(HEIGHTS[lower]), facts.setup(HEIGHTS[upper])
    by_height = low > high + SAME
    unknown = np.isnan(low) | np.isnan(high)
    straight = np.isfinite(facts.number("base_straight")) | np.isfinite(
        facts.number("tip_straight")
    )
    one_way = unknown & ~straight & ~facts.given("base_by_pole")
    readings = facts.number(f"{lower}_reading"), facts.number(f"{upper}_reading")
    return by_height | (one_way & (readings[0] > readings[1]))


HEIGHTS = {"base": "crown_base", "top": "crown_top", "tip": "total_height"}


def base_above_top(facts: Facts) -> Hits:
    """The crown base above the crown top, or above the tip where no crown top is known."""
    no_top = np.isnan(facts.number("top_reading"))
    mask = above(facts, "base", "top") & same(facts.condition, "T") & ~no_top
    mask |= above(facts, "base", "tip") & no_top & ~same(facts.condition, "D")
    # a tip below the foot puts every other point above it: one cause, said by its own check
    mask &= ~tip_not_above_foot(facts)
    upper = np.where(no_top, facts.setup("total_height"), facts.setup("crown_top"))
    return hits(mask, upper=upper)


def top_above_tip(facts: Facts) -> Flags:
    """The living crown top above the tip."""
    return above(facts, "top", "tip") & same(facts.condition, "T") & ~tip_not_above_foot(facts)


def tip_not_above_foot(facts: Facts) -> Flags:
    """A tip that is not above the foot; without a height, by the readings."""
    total = facts.setup("total_height")
    foot, tip = facts.number("foot_reading"), facts.number("tip_reading")
    mark = np.isfinite(facts.number("mark_above_foot")) | facts.shows_height
    straight = np.isfinite(facts.number("tip_straight"))
    by_reading = np.isnan(total) & (tip <= foot) & ~mark & ~straight
    return ((total <= SAME) | by_reading) & ~foot_plus_unticked(facts)


def _two_uncertainties(facts: Facts) -> Numbers:
    parts = facts.setup("base_u_common"), facts.setup("base_u_reading")
    return 2.0 * np.hypot(*(np.nan_to_num(part) for part in parts))


def base_below_foot(facts: Facts) -> Hits:
    """A crown base below the foot by more than two uncertainties."""
    base, allowed = facts.setup("crown_base"), _two_uncertainties(facts)
    # a foot whose minus is missing lies above all else: one cause, said by its own check
    told = tip_not_above_foot(facts) | foot_plus_unticked(facts)
    mask = (base < -allowed - SAME) & ~told
    return hits(mask, below=-base, allowed=allowed)


def base_counts_as_zero(facts: Facts) -> Hits:
    """A crown base sighted below the foot by no more than two uncertainties."""
    mask = facts.setup_flag("base_set_to_zero") & ~foot_plus_unticked(facts)
    return hits(mask, below=-facts.setup("base_sighted"), allowed=_two_uncertainties(facts))


def crown_of_no_depth(facts: Facts) -> Flags:
    """Crown base and crown top at one height."""
    depth = facts.setup("crown_top") - facts.setup("crown_base")
    return (np.abs(depth) <= SAME) & ~tip_not_above_foot(facts)


def foot_plus_unticked(facts: Facts) -> Flags:
    """A positive foot reading that no tick confirms; a mark on the stem may stand above the eye."""
    foot = facts.number("foot_reading")
    sighted = ~facts.shows_height & np.isnan(facts.number("mark_above_foot"))
    return (foot > 0) & ~facts.tick("foot_above_eye") & sighted


def _plots_plus_unticked(facts: Facts) -> dict[int, tuple[int, ...]]:
    """Return the plots on which most sighted feet are above the eye without a tick."""
    plus, foot = foot_plus_unticked(facts), facts.number("foot_reading")
    if not plus.any():
        return {}
    sighted = ~np.isnan(foot) & ~facts.shows_height & (facts.plot_position >= 0)
    count = np.bincount(facts.plot_position[sighted], minlength=len(facts.survey.plots))
    return {
        plot: lines
        for plot, lines in facts.lines_of_plots(plus).items()
        if len(lines) >= max(FEWEST_OF_PLOT, SHARE_OF_PLOT * count[plot])
    }


def plot_plus_unticked(facts: Facts) -> Hits:
    """Plots on which most foot readings are positive and no tick confirms them."""
    plots = _plots_plus_unticked(facts)
    groups = list(plots.values())
    counts = np.array([len(group) for group in groups])
    return Hits(np.array(list(plots), dtype=np.int64), {"count": counts}, lines=groups)


def line_plus_unticked(facts: Facts) -> Flags:
    """Positive foot readings without a tick that no finding of the whole plot names."""
    flags = foot_plus_unticked(facts)
    for lines in _plots_plus_unticked(facts).values():
        flags[list(lines)] = False
    return flags


def foot_ticked_without_plus(facts: Facts) -> Flags:
    """The tick that the foot is above the eye, with a foot reading that is not."""
    ticked = facts.tick("foot_above_eye")
    return ticked & (facts.number("foot_reading") <= 0) & ~facts.shows_height


def out_of_order(facts: Facts) -> Flags:
    """Lines that any of the checks on order has found."""
    flags = top_above_tip(facts) | tip_not_above_foot(facts) | foot_plus_unticked(facts)
    for predicate in (base_above_top, base_below_foot):
        flags[predicate(facts).rows] = True
    return flags


def ratio_impossible(facts: Facts) -> Hits:
    """A live crown ratio outside 0 to 1 that no line of the tree explains."""
    top, base = facts.tree("crown_top"), facts.tree("crown_base")
    mask = (top < base - SAME) | (top > facts.tree("total_height") + SAME) | (base < -SAME)
    if mask.any():
        told = out_of_order(facts)
        explained = np.zeros(len(mask), dtype=bool)
        explained[facts.tree_position[told]] = True
        mask &= ~explained
    return hits(mask)


_READ_AGAIN = "Look at the paper sheet: readings in the wrong boxes, a sign, or another scale?"
_BOTH = ("base_reading", "top_reading", "tip_reading", "base_by_pole", "foot_reading", "distance")
ORDER: tuple[Check, ...] = (
    Check(
        "tip-not-above-foot",
        "error",
        "paper",
        "lines",
        ("tip_reading", "foot_reading", "distance"),
        "The tip (reading {tip_reading:reading}) is not above the foot (reading "
        "{foot_reading:reading}).",
        _READ_AGAIN,
        DEFINITION,
        where(tip_not_above_foot),
    ),
    Check(
        "base-above-top",
        "error",
        "paper",
        "lines",
        _BOTH,
        "The crown base ({crown_base:length}, reading {base_reading:reading}) lies above the top "
        "of the crown ({upper:length}).",
        _READ_AGAIN,
        DEFINITION,
        base_above_top,
    ),
    Check(
        "top-above-tip",
        "error",
        "paper",
        "lines",
        ("top_reading", "tip_reading", "foot_reading", "distance"),
        "The living crown top ({crown_top:length}, reading {top_reading:reading}) lies above the "
        "tip ({total_height:length}, reading {tip_reading:reading}).",
        _READ_AGAIN,
        DEFINITION,
        where(top_above_tip),
    ),
    Check(
        "base-below-foot",
        "error",
        "paper",
        "lines",
        ("base_reading", "foot_reading", "distance"),
        "The crown base lies {below:fine length} below the foot; two uncertainties allow "
        "{allowed:fine length}.",
        _READ_AGAIN,
        DEFINITION,
        base_below_foot,
    ),
    Check(
        "base-counts-as-zero",
        "note",
        "paper",
        "lines",
        ("base_reading", "foot_reading", "distance"),
        "The crown base lies {below:fine length} below the foot, within two uncertainties "
        "({allowed:fine length}): it counts as 0.",
        "Nothing to do.",
        DEFINITION,
        base_counts_as_zero,
    ),
    Check(
        "crown-of-no-depth",
        "warning",
        "paper",
        "lines",
        _BOTH,
        "Crown base and crown top are at one height ({crown_base:length}): a crown of no depth.",
        _READ_AGAIN,
        DEFINITION,
        where(crown_of_no_depth),
    ),
    Check(
        "foot-plus-unticked",
        "error",
        "paper",
        "lines",
        ("foot_reading", "foot_above_eye"),
        "The foot reading is {foot_reading:reading}, above eye level, and “foot above eye” is not "
        "ticked.",
        "Look at the paper sheet: is the minus missing? If the foot is above the eye, key the "
        "tick.",
        COMMON_PRACTICE,
        where(line_plus_unticked),
    ),
    Check(
        "foot-plus-unticked-plot",
        "error",
        "paper",
        "plots",
        ("plot.plot", "foot_reading", "foot_above_eye"),
        "On {count:lines} of the plot the foot reading is above eye level, and “foot above eye” "
        "is not ticked.",
        "Look at the paper sheet: were the minus signs not keyed? If the crew stood below the "
        "trees, key the ticks.",
        COMMON_PRACTICE,
        plot_plus_unticked,
    ),
    Check(
        "foot-ticked-without-plus",
        "error",
        "paper",
        "lines",
        ("foot_above_eye", "foot_reading"),
        "“Foot above eye” is ticked, and the foot reading is {foot_reading:reading}.",
        "Look at the paper sheet: is it the tick or the sign?",
        COMMON_PRACTICE,
        where(foot_ticked_without_plus),
    ),
    Check(
        "ratio-impossible",
        "error",
        "paper",
        "trees",
        ("base_reading", "top_reading", "tip_reading", "base_by_pole"),
        "Over the tree's set-ups the crown reaches from {crown_base:length} to {crown_top:length} "
        "on a total height of {total_height:length}: no live crown ratio between 0 and 100 %.",
        "Look at the paper sheet: do all set-ups belong to one tree?",
        "DeYoungUndated",
        ratio_impossible,
    ),
)


def without_reading(facts: Facts) -> Flags:
    """Measured lines of condition T without a reading to the crown top."""
    dead_top = same(facts.text("condition"), "T") & facts.measured
    return dead_top & facts.missing("top_reading") & np.isnan(facts.setup("crown_top"))


def reading_without(facts: Facts) -> Flags:
    """A reading to the crown top on a tree without the condition T."""
    other = ~same(facts.condition, "T") & ~facts.refused("condition")
    return facts.given("top_reading") & other


def too_short(facts: Facts) -> Flags:
    """Dead tops shorter than the survey rules ask for."""
    length = facts.tree("dead_top_length")
    short = length < facts.limit("limit_dead_top") - SAME
    # a crown top above the tip is out of order and has its own check
    return short & (length >= 0) & same(facts.tree_text("condition"), "T")


DEAD_TOPS: tuple[Check, ...] = (
    Check(
        "dead-top-without-reading",
        "error",
        "paper",
        "lines",
        ("top_reading", "condition"),
        "The condition is T, a dead top, and there is no reading to the living crown top.",
        "Look at the paper sheet; otherwise the crown depth stays unknown until it is measured "
        "again. Nobody walks under a dead top.",
        DEFINITION,
        where(without_reading),
    ),
    Check(
        "reading-without-dead-top",
        "error",
        "paper",
        "lines",
        ("condition", "top_reading"),
        "There is a reading to the crown top ({top_reading:reading}), and the condition is not T. "
        "The reading is not used.",
        "Look at the paper sheet: is the T missing, or does the reading stand in a wrong box?",
        DEFINITION,
        where(reading_without),
    ),
    Check(
        "dead-top-short",
        "warning",
        "paper",
        "trees",
        ("top_reading", "tip_reading", "condition"),
        "The dead top is {dead_top_length:fine length} long; below {limit_dead_top:fine length} it "
        "is no dead top by the survey rules.",
        "Look at the paper sheet: the two readings, or is the top alive?",
        DEFINITION,
        where(too_short),
    ),
)
