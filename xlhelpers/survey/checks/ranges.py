"""Values beyond the survey's limits, and instruments too near to the tree or under its crown."""

from dataclasses import replace

import numpy as np

from xlhelpers.measure.slopes import angle
from xlhelpers.survey.checks.facts import Facts, Numbers, any_of, same
from xlhelpers.survey.checks.order import SAME
from xlhelpers.survey.checks.record import Hits, hits_where
from xlhelpers.survey.checks.scales import looks_hundredfold
from xlhelpers.survey.trees.widths import WIDEST
from xlhelpers.survey.typed.folding import Flags


def distance_zero(facts: Facts) -> Flags:
    """Lines whose distance is 0."""
    return (facts.number("distance") <= 0) & ~facts.shows_height


def _wider(facts: Facts) -> Numbers:
    return np.asarray(np.fmax(facts.of_tree("width_widest"), facts.of_tree("width_across")))


def under_crown(facts: Facts) -> Flags:
    """Lines measured from within half of the larger crown width."""
    wider, level = _wider(facts), facts.setup("level_distance")
    # a width over the limit has a finding of its own
    wider = np.where(wider > facts.limit("limit_width"), np.nan, wider)
    return (level > 0) & (level < wider / 2 - SAME) & _has_sighting(facts)


def too_close(facts: Facts) -> Flags:
    """Lines measured from nearer than the least share of the height, outside the crown."""
    level, total = facts.setup("level_distance"), facts.setup("total_height")
    near = (level > 0) & (level < facts.limit("limit_distance_share") * total - SAME)
    # and so has a height over the limit
    near &= total <= facts.limit("limit_height") + SAME
    return near & ~under_crown(facts) & _has_sighting(facts)


def _has_sighting(facts: Facts) -> Flags:
    return np.isfinite(facts.number("tip_reading"))


def under_crown_hits(facts: Facts) -> Hits:
    """The lines of `under_crown`, with how far the crown reaches."""
    return hits_where(under_crown(facts), half=_wider(facts) / 2)


def too_close_hits(facts: Facts) -> Hits:
    """The lines of `too_close`, with the distance as a share of the height."""
    with np.errstate(all="ignore"):
        share = facts.setup("level_distance") / facts.setup("total_height")
    return hits_where(too_close(facts), share=share)


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
    return hits_where(wider > facts.limit("limit_width") + SAME, wider=wider)


def width_zero(facts: Facts) -> Flags:
    """Crown widths of 0."""
    widths = facts.tree("width_widest"), facts.tree("width_across")
    living = ~same(facts.tree_text("condition"), "D")
    return any_of([width == 0 for width in widths]) & living


def width_across_wider(facts: Facts) -> Flags:
    """The width across larger than the widest; in fixed directions either may be the larger."""
    if facts.rule("crown_widths") != WIDEST:
        return np.zeros(len(facts.trees), dtype=bool)
    return facts.tree("width_across") > facts.tree("width_widest") + SAME


def width_one_only(facts: Facts) -> Flags:
    """Trees with one crown width only, the other blank and not refused."""
    flags = facts.column("trees", "one_width_only").astype(np.bool_)
    if not flags.any():
        return flags
    refused = facts.is_refused("width_widest") | facts.is_refused("width_across")
    return flags & ~refused[facts.first_lines]


def too_steep(facts: Facts) -> Hits:
    """Readings steeper than the greatest angle, where the distance has no finding of its own."""
    slopes = np.abs(np.stack([facts.setup(f"{point}_slope") for point in _POINTS]))
    steepest = np.nan_to_num(slopes).max(axis=0, initial=0.0)
    mask = steepest > np.tan(np.radians(facts.limit("limit_angle"))) + SAME
    mask &= ~under_crown(facts) & ~too_close(facts)
    if not mask.any():
        return hits_where(mask)
    hits = hits_where(mask, steepest=np.asarray(angle(steepest)))
    points = np.nan_to_num(slopes[:, hits.rows]).argmax(axis=0)
    return replace(hits, fields=[(f"{_POINTS[point]}_reading", "distance") for point in points])


def stems_out_of_order(facts: Facts) -> Hits:
    """Other stems larger than the one under Diameter."""
    texts, diameter = facts.text("other_stems"), facts.number("diameter")
    rows = np.flatnonzero(~same(texts, ""))
    largest = np.full(len(texts), np.nan)
    largest[rows] = [max(map(float, texts[row].split()), default=np.nan) for row in rows]
    return hits_where(largest > diameter + SAME, largest=largest)
