"""Order from the ground up: foot, crown base, crown top, tip; the foot's sign; dead tops."""

import numpy as np

from xlhelpers.survey.checks.facts import Facts, Numbers, same
from xlhelpers.survey.checks.record import Hits, hits_where
from xlhelpers.survey.trees.widths import NOT_MEASURED
from xlhelpers.survey.typed.folding import Flags

# heights that differ by less are the same number, computed in another order
SAME = 1e-9
# so many lines of a plot, and this share of them, make it one finding of the plot
FEWEST_OF_PLOT, SHARE_OF_PLOT = 3, 2 / 3


def find_above(facts: Facts, lower: str, upper: str) -> Flags:
    """Return the lines on which the lower of two points is above the upper one.

    By their heights; where one has no height, by the readings, which grow with the height as long
    as both are sighted over one distance.
    """
    low, high = facts.setup(HEIGHTS[lower]), facts.setup(HEIGHTS[upper])
    by_height = low > high + SAME
    unknown = np.isnan(low) | np.isnan(high)
    straight = np.isfinite(facts.number("base_straight")) | np.isfinite(
        facts.number("tip_straight")
    )
    one_way = unknown & ~straight & ~facts.has_value("base_by_pole")
    readings = facts.number(f"{lower}_reading"), facts.number(f"{upper}_reading")
    return by_height | (one_way & (readings[0] > readings[1]))


HEIGHTS = {"base": "crown_base", "top": "crown_top", "tip": "total_height"}


def base_above_top(facts: Facts) -> Hits:
    """The crown base above the crown top, or above the tip where no crown top is known."""
    no_top = np.isnan(facts.number("top_reading"))
    mask = find_above(facts, "base", "top") & same(facts.condition, "T") & ~no_top
    mask |= find_above(facts, "base", "tip") & no_top & ~same(facts.condition, "D")
    # a tip below the foot puts every other point above it: one cause, with its own check
    mask &= ~tip_not_above_foot(facts)
    upper = np.where(no_top, facts.setup("total_height"), facts.setup("crown_top"))
    return hits_where(mask, upper=upper)


def top_above_tip(facts: Facts) -> Flags:
    """The living crown top above the tip."""
    return find_above(facts, "top", "tip") & same(facts.condition, "T") & ~tip_not_above_foot(facts)


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
    # a foot whose minus is missing is above all else: one cause, with its own check
    reported = tip_not_above_foot(facts) | foot_plus_unticked(facts)
    mask = (base < -allowed - SAME) & ~reported
    return hits_where(mask, below=-base, allowed=allowed)


def base_counts_as_zero(facts: Facts) -> Hits:
    """A crown base sighted below the foot by no more than two uncertainties."""
    mask = facts.setup_flag("base_set_to_zero") & ~foot_plus_unticked(facts)
    return hits_where(mask, below=-facts.setup("base_sighted"), allowed=_two_uncertainties(facts))


def crown_of_no_depth(facts: Facts) -> Flags:
    """Crown base and crown top at one height."""
    depth = facts.setup("crown_top") - facts.setup("crown_base")
    return (np.abs(depth) <= SAME) & ~tip_not_above_foot(facts)


def foot_plus_unticked(facts: Facts) -> Flags:
    """A positive foot reading that no tick confirms; a mark on the stem may be above the eye."""
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


def foot_plus_unticked_plot(facts: Facts) -> Hits:
    """Plots on which most foot readings are positive and no tick confirms them."""
    plots = _plots_plus_unticked(facts)
    groups = list(plots.values())
    counts = np.array([len(group) for group in groups])
    return Hits(np.array(list(plots), dtype=np.int64), {"count": counts}, lines=groups)


def foot_plus_unticked_line(facts: Facts) -> Flags:
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
    """Lines that fail any of the checks on order."""
    flags = top_above_tip(facts) | tip_not_above_foot(facts) | foot_plus_unticked(facts)
    for predicate in (base_above_top, base_below_foot):
        flags[predicate(facts).rows] = True
    return flags


def ratio_impossible(facts: Facts) -> Hits:
    """A live crown ratio outside 0 to 1 that no line of the tree explains."""
    top, base = facts.tree("crown_top"), facts.tree("crown_base")
    mask = (top < base - SAME) | (top > facts.tree("total_height") + SAME) | (base < -SAME)
    if mask.any():
        explained = np.zeros(len(mask), dtype=bool)
        explained[facts.tree_position[out_of_order(facts)]] = True
        mask &= ~explained
    return hits_where(mask)


def dead_top_without_reading(facts: Facts) -> Flags:
    """Measured lines of condition T without a reading to the crown top, where crowns are read."""
    if facts.rule("crown_depth") == NOT_MEASURED:
        return np.zeros(len(facts.survey.lines), dtype=bool)
    dead_top = same(facts.text("condition"), "T") & facts.is_measured
    return dead_top & facts.is_missing("top_reading") & np.isnan(facts.setup("crown_top"))


def reading_without_dead_top(facts: Facts) -> Flags:
    """A reading to the crown top on a tree without the condition T."""
    other = ~same(facts.condition, "T") & ~facts.is_refused("condition")
    return facts.has_value("top_reading") & other


def dead_top_short(facts: Facts) -> Flags:
    """Dead tops shorter than the survey counts."""
    length = facts.tree("dead_top_length")
    short = length < facts.limit("limit_dead_top") - SAME
    # a crown top above the tip is out of order and has its own check
    return short & (length >= 0) & same(facts.tree_text("condition"), "T")
