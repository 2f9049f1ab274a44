"""Values beyond the survey's limits, and instruments too near to the tree or under its crown."""

import numpy as np

from xlhelpers.measure.slopes import angle
from xlhelpers.survey.checks.facts import Facts, Numbers, any_of, same
from xlhelpers.survey.checks.order import SAME
from xlhelpers.survey.checks.record import COMMON_PRACTICE, DEFINITION, Check, Hits, hits, where
from xlhelpers.survey.checks.scales import looks_hundredfold
from xlhelpers.survey.typed.folding import Flags


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
        "distance-zero",
        "error",
        "paper",
        "lines",
        ("distance",),
        "The distance is 0: no height can be computed from it.",
        "Look at the paper sheet and key the distance.",
        DEFINITION,
        where(distance_zero),
    ),
    Check(
        "under-crown",
        "warning",
        "again",
        "lines",
        ("distance", "width_widest", "width_across"),
        "The instrument stood {level_distance:length} from the stem, under the crown: half of its "
        "larger width is {half:length}. The tip cannot be told from a branch there.",
        _AGAIN,
        COMMON_PRACTICE,
        _under_crown_hits,
    ),
    Check(
        "too-close",
        "warning",
        "again",
        "lines",
        ("distance", "tip_reading", "foot_reading"),
        "The instrument stood {level_distance:length} from a tree of {total_height:length}: "
        "{share:percent} of its height, closer than the survey's "
        "{limit_distance_share:percent}.",
        _AGAIN,
        "NswGuidelineUndated",
        _too_close_hits,
    ),
)
_POINTS = ("foot", "base", "top", "tip")


def too_tall(facts: Facts) -> Flags:
    """Heights over the greatest height of the survey rules."""
    return facts.setup("total_height") > facts.limit("limit_height") + SAME


def shorter_than_breast_height(facts: Facts) -> Flags:
    """Trees lower than the height at which their diameter was measured."""
    total = facts.setup("total_height")
    low = (total > 0) & (total < facts.limit("breast_height") - SAME)
    at = facts.number("diameter_at")
    # a diameter taken lower down may belong to a lower tree
    low &= ~(at < total) & np.isfinite(facts.of_tree("diameter"))
    return low & ~looks_hundredfold(facts)


def too_thick(facts: Facts) -> Flags:
    """Diameters over the greatest diameter of the survey rules."""
    return facts.tree("largest_stem") > facts.limit("limit_diameter") + SAME


def too_thin(facts: Facts) -> Flags:
    """Largest stems under the smallest diameter of the survey."""
    return facts.tree("largest_stem") < facts.limit("smallest_diameter") - SAME


def too_wide(facts: Facts) -> Hits:
    """Crown widths over the greatest width of the survey rules."""
    wider = np.fmax(facts.tree("width_widest"), facts.tree("width_across"))
    return hits(wider > facts.limit("limit_width") + SAME, wider=wider)


def width_zero(facts: Facts) -> Flags:
    """Crown widths of nothing."""
    widths = facts.tree("width_widest"), facts.tree("width_across")
    living = ~same(facts.tree_text("condition"), "D")
    return any_of([width == 0 for width in widths]) & living


def across_wider(facts: Facts) -> Flags:
    """The width across larger than the widest."""
    trees = facts.tree("width_across"), facts.tree("width_widest")
    return trees[0] > trees[1] + SAME


def one_width(facts: Facts) -> Flags:
    """Trees with one crown width only, the other neither refused nor wanting a finding."""
    flags = facts.column("trees", "one_width_only").astype(np.bool_)
    if not flags.any():
        return flags
    refused = facts.refused("width_widest") | facts.refused("width_across")
    return flags & ~refused[facts.first_lines]


def _angles(facts: Facts) -> Numbers:
    slopes = np.stack([facts.setup(f"{point}_slope") for point in _POINTS])
    return np.abs(slopes)


def too_steep(facts: Facts) -> Hits:
    """Readings steeper than the greatest angle, where standing too close is not said already."""
    slopes = _angles(facts)
    steepest = np.nan_to_num(slopes).max(axis=0, initial=0.0)
    mask = (steepest > np.tan(np.radians(facts.limit("limit_angle"))) + SAME) & ~near_stem(facts)
    if not mask.any():
        return hits(mask)
    found = hits(mask, steepest=np.asarray(angle(steepest)))
    points = np.nan_to_num(slopes[:, found.rows]).argmax(axis=0)
    fields = [(f"{_POINTS[point]}_reading", "distance") for point in points]
    return Hits(found.rows, found.values, fields=fields)


def _stems(text: str) -> list[float]:
    return [float(word) for word in text.split()]


def stems_out_of_order(facts: Facts) -> Hits:
    """Other stems larger than the one under Diameter."""
    texts, diameter = facts.text("other_stems"), facts.number("diameter")
    rows = np.flatnonzero(~same(texts, ""))
    largest = np.full(len(texts), np.nan)
    largest[rows] = [max(_stems(texts[row]), default=np.nan) for row in rows]
    return hits(largest > diameter + SAME, largest=largest)


_DIAMETER = "Look at the paper sheet: a decimal, inches or a girth? Otherwise measure it again."
RANGES: tuple[Check, ...] = (
    Check(
        "height-over-limit",
        "warning",
        "paper",
        "lines",
        ("tip_reading", "foot_reading", "distance"),
        "The total height is {total_height:length}, above the survey's limit of "
        "{limit_height:length}.",
        "Look at the paper sheet: the distance, the tip reading and the scale ticked.",
        COMMON_PRACTICE,
        where(too_tall),
    ),
    Check(
        "height-under-breast-height",
        "error",
        "paper",
        "lines",
        ("tip_reading", "foot_reading", "distance"),
        "The total height is {total_height:fine length}; a tree with a diameter at breast height "
        "reaches {breast_height:fine length} at least.",
        "Look at the paper sheet: the distance, the tip reading and the scale ticked.",
        DEFINITION,
        where(shorter_than_breast_height),
    ),
    Check(
        "angle-over-limit",
        "warning",
        "again",
        "lines",
        ("tip_reading", "base_reading", "foot_reading", "top_reading", "distance"),
        "The steepest reading is at {steepest:angle}, above the survey's limit of "
        "{limit_angle:angle}.",
        "Measure again from farther away, about one tree height; if there is no safe place, write "
        "NOT SAFE.",
        "AschenbachUndated",
        too_steep,
    ),
    Check(
        "diameter-over-limit",
        "warning",
        "paper",
        "trees",
        ("diameter", "other_stems"),
        "The diameter is {largest_stem:diameter}, above the survey's limit of "
        "{limit_diameter:diameter}.",
        _DIAMETER,
        COMMON_PRACTICE,
        where(too_thick),
    ),
    Check(
        "diameter-under-smallest",
        "warning",
        "paper",
        "trees",
        ("diameter", "other_stems"),
        "The largest stem is {largest_stem:diameter}; trees of this survey have "
        "{smallest_diameter:diameter} at least.",
        _DIAMETER,
        DEFINITION,
        where(too_thin),
    ),
    Check(
        "stems-out-of-order",
        "warning",
        "paper",
        "lines",
        ("other_stems", "diameter"),
        "Another stem ({largest:diameter}) is larger than the one under Diameter "
        "({diameter:diameter}).",
        "Look at the paper sheet; the largest stem belongs under Diameter.",
        DEFINITION,
        stems_out_of_order,
    ),
    Check(
        "width-over-limit",
        "warning",
        "paper",
        "trees",
        ("width_widest", "width_across"),
        "The crown is {wider:length} wide, above the survey's limit of {limit_width:length}.",
        "Look at the paper sheet: a decimal, or feet for metres? Otherwise measure it again.",
        COMMON_PRACTICE,
        too_wide,
    ),
    Check(
        "width-zero",
        "error",
        "paper",
        "trees",
        ("width_widest", "width_across"),
        "A crown width is 0; a living crown has a width.",
        "Look at the paper sheet; a width that was not taken stays blank, with the reason.",
        DEFINITION,
        where(width_zero),
    ),
    Check(
        "width-across-wider",
        "warning",
        "paper",
        "trees",
        ("width_across", "width_widest"),
        "The width across ({width_across:length}) is larger than the widest "
        "({width_widest:length}).",
        "Look at the paper sheet: swapped, or a slip in one of them?",
        DEFINITION,
        where(across_wider),
    ),
    Check(
        "width-one-only",
        "note",
        "paper",
        "trees",
        ("width_widest", "width_across"),
        "One crown width only: it is used for both.",
        "Nothing to do, unless the paper sheet has the other.",
        COMMON_PRACTICE,
        where(one_width),
    ),
)
