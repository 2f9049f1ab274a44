"""Cells that are blank where a value is needed, and trees that stay without a height.

A cell with a reason for its blank is not missing, nor is one that the reader refused: that has its
own finding. Each cause has one finding: a tree without any reading has none for each of them.
"""

from dataclasses import replace

import numpy as np

from xlhelpers.survey.checks.eye_height import foot_by_eye_lines
from xlhelpers.survey.checks.facts import Facts, any_of, same, spread
from xlhelpers.survey.checks.record import Hits, hits_where
from xlhelpers.survey.model import BLANK, VALUE
from xlhelpers.survey.setups import reasons
from xlhelpers.survey.setups.heights import POLE
from xlhelpers.survey.trees.widths import NOT_MEASURED, RADII, RADIUS_FIELDS
from xlhelpers.survey.typed.folding import Flags
from xlhelpers.wording import list_words

_HEIGHT_CELLS = ("distance", "foot_reading", "tip_reading", "slope_reading")
_RESOLVING = ("scale", "distance_kind", "instrument")
# a height that is there, a blank with a reason, and causes that have a check of their own
_NAMED_ELSEWHERE = (
    reasons.FINE,
    reasons.CLOSED_BLANK,
    reasons.NO_SECOND_TIP,
    reasons.STATIONS_TOO_NEAR,
)
BECAUSE = {
    reasons.NO_SCALE: "the scale is missing",
    reasons.NO_SCALE_DISTANCE: "the scale's fixed distance is missing",
    reasons.NO_TIP: "the tip reading is missing",
    reasons.NO_FOOT: "the foot reading is missing",
    reasons.NO_EYE: "the eye height of the crew is missing",
    reasons.NO_KIND: "the kind of distance is missing",
    reasons.NO_DISTANCE_KEYED: "the distance is missing, or its kind is “none”",
    reasons.NO_SLOPE: "the slope reading is missing",
    reasons.TOO_STEEP: "an angle is too steep",
    reasons.LEANS_OVER: "the tip offset is too large for the distance",
    reasons.IMPOSSIBLE: "a reading is outside the scale, or the distance is too short for it",
}


# ---- which readings a line needs


def _measured_lines(facts: Facts) -> Flags:
    return facts.is_measured & ~facts.is_refused("condition")


def _has_sighting(facts: Facts) -> Flags:
    """Lines with a reading that a distance and a foot reading must go with."""
    readings = [facts.has_value(name) for name in ("base_reading", "top_reading", "tip_reading")]
    return any_of(readings) & ~facts.shows_height


def no_readings(facts: Facts) -> Flags:
    """Lines without any reading although every tree is to have a height, if only by eye."""
    if facts.rule("heights_on") == "some trees":
        return np.zeros(len(facts.survey.lines), dtype=bool)
    silent = ~facts.is_measured & ~facts.has_closed_reading & ~facts.has_reason
    return silent & facts.has_numbers & ~facts.has_value("height_by_eye")


def distance_missing(facts: Facts) -> Flags:
    """Sighted lines without a distance."""
    sighted = _has_sighting(facts) | (facts.has_value("foot_reading") & ~facts.shows_height)
    without = np.isnan(facts.setup("total_height"))
    return facts.is_missing("distance") & ~facts.has_value("station_step") & sighted & without


def foot_missing(facts: Facts) -> Flags:
    """Sighted lines without a foot reading and without another way to the foot."""
    lone_distance = facts.has_value("distance") & ~facts.shows_height
    without = np.isnan(facts.setup("total_height")) & ~foot_by_eye_lines(facts)
    return facts.is_missing("foot_reading") & (_has_sighting(facts) | lone_distance) & without


def base_missing(facts: Facts) -> Flags:
    """Measured living trees without any way to the crown base, where the survey asks for it."""
    if facts.rule("crown_depth") == NOT_MEASURED:
        return np.zeros(len(facts.survey.lines), dtype=bool)
    living = ~same(facts.condition, "D")
    # a pole or tape settles the base for all set-ups of the tree
    by_pole = facts.has_value("base_by_pole") | same(facts.of_tree_text("way_base"), POLE)
    without = np.isnan(facts.setup("crown_base")) & ~by_pole
    return facts.is_missing("base_reading") & _measured_lines(facts) & living & without


def tip_missing(facts: Facts) -> Flags:
    """Measured trees without a reading to the tip."""
    return facts.is_missing("tip_reading") & _measured_lines(facts)


def slope_missing(facts: Facts) -> Flags:
    """Distances along the slope without a slope reading of their own."""
    along = same(facts.setup_text("distance_kind"), "along slope") & facts.has_value("distance")
    return facts.is_missing("slope_reading") & along & ~facts.shows_height


# ---- what the tree's first line needs


def _first_without(facts: Facts, name: str) -> Flags:
    return facts.is_missing(name) & facts.is_first & facts.has_numbers


def species_missing(facts: Facts) -> Flags:
    """First lines without a species."""
    return _first_without(facts, "species") & same(facts.of_tree_text("species"), "")


def diameter_missing(facts: Facts) -> Flags:
    """First lines without a diameter."""
    return _first_without(facts, "diameter") & np.isnan(facts.of_tree("diameter"))


def widths_missing(facts: Facts) -> Flags:
    """First lines of living trees without any crown width, where the survey takes two."""
    if facts.rule("crown_widths") in (NOT_MEASURED, RADII):
        return np.zeros(len(facts.survey.lines), dtype=bool)
    both = _first_without(facts, "width_widest") & _first_without(facts, "width_across")
    living = ~same(facts.condition, "D") & ~facts.is_refused("condition")
    return both & living & np.isnan(facts.of_tree("mean_width"))


def radii_missing(facts: Facts) -> Hits:
    """First lines of living trees without all four radii, where the survey takes these."""
    blank = np.array([facts.is_missing(name) for name in RADIUS_FIELDS])
    mask = blank.any(axis=0) & facts.is_first & facts.has_numbers & ~facts.has_reason
    mask &= ~same(facts.condition, "D") & ~facts.is_refused("condition")
    mask &= np.isnan(facts.of_tree("mean_width")) & (facts.rule("crown_widths") == RADII)
    if not mask.any():
        return hits_where(mask)
    directions = [name.rpartition("_")[2] for name in RADIUS_FIELDS]
    missing = np.full(len(mask), "", dtype=object)
    for line in np.flatnonzero(mask).tolist():
        named = [word for word, gone in zip(directions, blank[:, line], strict=True) if gone]
        radii, are = ("radius", "is") if len(named) == 1 else ("radii", "are")
        which = f"crown {radii} {list_words(named)} {are}"
        missing[line] = "four crown radii are" if len(named) == len(directions) else which
    return hits_where(mask, missing=missing)


def radii_unasked(facts: Facts) -> Flags:
    """Trees with a crown radius in a survey whose rule says something else."""
    if facts.rule("crown_widths") == RADII:
        return np.zeros(len(facts.trees), dtype=bool)
    entered = any_of([facts.has_value(name) for name in RADIUS_FIELDS])
    trees_with_radius = np.zeros(len(facts.trees), dtype=bool)
    trees_with_radius[facts.tree_position[entered & (facts.tree_position >= 0)]] = True
    return trees_with_radius


def plot_number_missing(facts: Facts) -> Flags:
    """Lines without a plot."""
    return facts.has_state("lines", "plot", BLANK)


def tree_number_missing(facts: Facts) -> Flags:
    """Lines without a tree number."""
    return facts.has_state("lines", "tree", BLANK)


# ---- what the plot needs


def _plots_of_lines(facts: Facts, mask: Flags, blank: str) -> Hits:
    """Plots where a cell is blank that lines under a mask need."""
    lines = facts.lines_of_plots(mask)
    rows = [plot for plot in sorted(lines) if facts.has_state("plots", blank, BLANK)[plot]]
    touched = [lines[row] for row in rows]
    counts = [len(each) for each in touched]
    return Hits(np.array(rows, dtype=np.int64), {"count": counts}, lines=touched)


def plot_instrument_missing(facts: Facts) -> Hits:
    """Plots with measured lines and neither an instrument nor one on each line."""
    needing = facts.is_measured & same(facts.text("instrument"), "")
    return _plots_of_lines(facts, needing, "instrument")


def plot_scale_missing(facts: Facts) -> Hits:
    """Plots whose instrument has more scales than one, and none is named."""
    needing = facts.is_measured & same(facts.setup_text("scale"), "")
    needing &= same(facts.text("instrument"), "")
    needing &= spread(facts.plot_instrument, facts.plot_position, -1) >= 0
    return _plots_of_lines(facts, needing, "scale")


def plot_distance_kind_missing(facts: Facts) -> Hits:
    """Plots with distances whose kind is missing, on the plot and on the line."""
    needing = facts.has_value("distance") & facts.has_state("lines", "distance_kind", BLANK)
    return _plots_of_lines(facts, needing & ~facts.shows_height, "distance_kind")


def plot_status_missing(facts: Facts) -> Hits:
    """Plots with lines and without a status."""
    hits = _plots_of_lines(facts, facts.plot_position >= 0, "status")
    # no height depends on the status
    return replace(hits, lines=[()] * len(hits.rows))


# ---- no height for another cause


def _have_another_finding(facts: Facts) -> Flags:
    """Lines without a height because of a finding of its own, or of a blank with a reason."""
    cells = any_of([facts.is_refused(name) for name in _HEIGHT_CELLS + _RESOLVING])
    plot_cells = [facts.state("plots", name) != VALUE for name in ("instrument", "scale")]
    open_plot = any_of(
        [*plot_cells, facts.state("plots", "distance_kind") != VALUE, facts.plot_instrument < 0]
    )
    missing = (distance_missing, foot_missing, tip_missing, slope_missing)
    lines = any_of([predicate(facts) for predicate in missing])
    by_plot = facts.plot_position < 0
    if len(open_plot):
        by_plot = by_plot | open_plot[np.maximum(facts.plot_position, 0)]
    # what is missing for the plot does not matter where the line has its own
    by_plot = by_plot & same(facts.setup_text("scale"), "")
    closed = facts.has_closed_reading | facts.has_reason | (facts.number("distance") <= 0)
    return cells | lines | by_plot | closed | facts.line_instrument_unknown | ~facts.is_measured


def no_height(facts: Facts) -> Hits:
    """Measured lines without a height, for a cause that no other check names."""
    codes = facts.setup_text("no_height_because")
    mask = ~any_of([same(codes, code) for code in _NAMED_ELSEWHERE])
    if not mask.any():
        return hits_where(mask)
    mask &= ~_have_another_finding(facts) & np.isnan(facts.setup("total_height"))
    return hits_where(mask, because=np.array([BECAUSE.get(c, c) for c in codes], dtype=object))
