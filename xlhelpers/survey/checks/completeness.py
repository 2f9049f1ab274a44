"""Cells that are blank where a value is needed, and trees that stay without a height.

A cell that a word closes is not missing, nor is one that the reader refused: that has its own
finding. Each cause is said once: a tree without any reading does not also lack each of them.
"""

from collections.abc import Callable
from dataclasses import replace

import numpy as np

from xlhelpers.survey.checks.facts import Facts, any_of, plot_values, same
from xlhelpers.survey.checks.record import DEFINITION, Check, Hits, hits, where
from xlhelpers.survey.model import BLANK, VALUE
from xlhelpers.survey.setups.heights import POLE
from xlhelpers.survey.setups.reasons import CLOSED_BLANK
from xlhelpers.survey.typed.folding import Flags

_KEY_IT = (
    "Look at the paper sheet and key it. If it was not taken, write why in the cell: NOT SAFE, "
    "NO ACCESS, NOT SEEN, NOT ASKED or UNREADABLE."
)
_HEIGHT_CELLS = ("distance", "foot_reading", "tip_reading", "slope_reading")
_RESOLVING = ("scale", "distance_kind", "instrument")


# ---- which readings a line needs


def _heights_wanted(facts: Facts) -> Flags:
    """Lines that were measured: what is missing among their readings is missing indeed."""
    return facts.measured & ~facts.refused("condition")


def _sighted(facts: Facts) -> Flags:
    """Lines with a reading that a distance and a foot reading must go with."""
    readings = [facts.given(name) for name in ("base_reading", "top_reading", "tip_reading")]
    return any_of(readings) & ~facts.shows_height


def no_readings(facts: Facts) -> Flags:
    """Lines without any reading although every tree is to have a height."""
    if facts.rule("heights_on") == "some trees":
        return np.zeros(len(facts.survey.lines), dtype=bool)
    silent = ~facts.measured & ~facts.closed_reading & ~facts.line_closed
    return silent & facts.numbered


def distance_missing(facts: Facts) -> Flags:
    """Sighted lines without a distance."""
    sighted = _sighted(facts) | (facts.given("foot_reading") & ~facts.shows_height)
    without = np.isnan(facts.setup("total_height"))
    return facts.missing("distance") & sighted & without


def foot_missing(facts: Facts) -> Flags:
    """Sighted lines without a foot reading and without another way to the foot."""
    lone_distance = facts.given("distance") & ~facts.shows_height
    without = np.isnan(facts.setup("total_height"))
    return facts.missing("foot_reading") & (_sighted(facts) | lone_distance) & without


def base_missing(facts: Facts) -> Flags:
    """Measured living trees without any way to the crown base."""
    living = ~same(facts.condition, "D")
    # a pole or tape settles the base for all set-ups of the tree
    by_pole = facts.given("base_by_pole") | same(facts.of_tree_text("way_base"), POLE)
    without = np.isnan(facts.setup("crown_base")) & ~by_pole
    return facts.missing("base_reading") & _heights_wanted(facts) & living & without


def tip_missing(facts: Facts) -> Flags:
    """Measured trees without a reading to the tip."""
    return facts.missing("tip_reading") & _heights_wanted(facts)


def slope_missing(facts: Facts) -> Flags:
    """Distances along the slope without a slope reading of their own."""
    along = same(facts.setup_text("distance_kind"), "along slope")
    return facts.missing("slope_reading") & along & facts.given("distance") & ~facts.shows_height


# ---- what the tree's first line needs


def _first_without(facts: Facts, name: str) -> Flags:
    return facts.missing(name) & facts.first & facts.numbered


def species_missing(facts: Facts) -> Flags:
    """First lines without a species."""
    return _first_without(facts, "species") & same(facts.of_tree_text("species"), "")


def diameter_missing(facts: Facts) -> Flags:
    """First lines without a diameter."""
    return _first_without(facts, "diameter") & np.isnan(facts.of_tree("diameter"))


def widths_missing(facts: Facts) -> Flags:
    """First lines of living trees without any crown width."""
    both = _first_without(facts, "width_widest") & _first_without(facts, "width_across")
    living = ~same(facts.condition, "D") & ~facts.refused("condition")
    return both & living & np.isnan(facts.of_tree("mean_width"))


def plot_number_missing(facts: Facts) -> Flags:
    """Lines that do not say on which plot the tree stands."""
    return facts.holds("lines", "plot", BLANK)


def tree_number_missing(facts: Facts) -> Flags:
    """Lines without a tree number."""
    return facts.holds("lines", "tree", BLANK)


# ---- what the plot needs


def _plots_with_lines_in_need(facts: Facts, own: str) -> tuple[Flags, dict[int, tuple[int, ...]]]:
    """Plots with measured lines that do not bring a cell of their own."""
    lines = facts.lines_of_plots(facts.measured & (facts.text(own) == ""))
    return plot_values(facts, lines), lines


def _plot_hits(mask: Flags, lines: dict[int, tuple[int, ...]]) -> Hits:
    rows = np.flatnonzero(mask)
    touched = [lines.get(int(row), ()) for row in rows]
    counts = np.array([len(each) for each in touched])
    return Hits(rows, {"count": counts}, lines=touched)


def plot_instrument_missing(facts: Facts) -> Hits:
    """Plots with measured lines and neither an instrument nor one on each line."""
    need, lines = _plots_with_lines_in_need(facts, "instrument")
    return _plot_hits(need & facts.holds("plots", "instrument", BLANK), lines)


def plot_scale_missing(facts: Facts) -> Hits:
    """Plots whose instrument has more scales than one, and none is named."""
    lines = facts.lines_of_plots(
        facts.measured & same(facts.setup_text("scale"), "") & same(facts.text("instrument"), "")
    )
    blank = facts.holds("plots", "scale", BLANK)
    known = facts.plot_instrument >= 0
    return _plot_hits(plot_values(facts, lines) & blank & known, lines)


def plot_distance_kind_missing(facts: Facts) -> Hits:
    """Plots with distances of which nobody said how they were measured."""
    unsaid = facts.given("distance") & facts.holds("lines", "distance_kind", BLANK)
    lines = facts.lines_of_plots(unsaid & ~facts.shows_height)
    blank = facts.holds("plots", "distance_kind", BLANK)
    return _plot_hits(plot_values(facts, lines) & blank, lines)


def plot_status_missing(facts: Facts) -> Hits:
    """Plots with lines and without a status."""
    lines = facts.lines_of_plots()
    found = _plot_hits(plot_values(facts, lines) & facts.holds("plots", "status", BLANK), lines)
    # no height rests on the status
    return replace(found, lines=[()] * len(found.rows))


# ---- no height for another cause

BECAUSE = {
    "no scale": "it is not known which scale was read",
    "no instrument": "it is not known which instrument was used",
    "unknown instrument": "the instrument is not known",
    "no scale distance": "the scale is made for one distance, and that distance is not known",
    "no distance kind": "it is not known how the distance was measured",
    "angle too steep": "an angle is too steep to compute with",
    "distance too short": "the distance is shorter than the reading allows",
    "reading out of range": "a reading is not possible on its scale",
}


def _explained(facts: Facts) -> Flags:
    """Lines whose want of a height follows from a finding or a closed blank of its own."""
    cells = any_of([facts.refused(name) for name in _HEIGHT_CELLS + _RESOLVING])
    plot_cells = [facts.state("plots", name) != VALUE for name in ("instrument", "scale")]
    open_plot = any_of(
        [*plot_cells, facts.state("plots", "distance_kind") != VALUE, facts.plot_instrument < 0]
    )
    missing = (distance_missing, foot_missing, tip_missing, slope_missing)
    lines = any_of([predicate(facts) for predicate in missing])
    by_plot = facts.plot_position < 0
    if len(open_plot):
        by_plot = by_plot | open_plot[np.maximum(facts.plot_position, 0)]
    # what the plot leaves open explains nothing where the line says it itself
    by_plot = by_plot & same(facts.setup_text("scale"), "")
    closed = facts.closed_reading | facts.line_closed | (facts.number("distance") <= 0)
    return cells | lines | by_plot | closed | facts.line_instrument_unknown | ~facts.measured


def no_height(facts: Facts) -> Hits:
    """Measured lines without a height, for a cause that no other check names."""
    codes = facts.setup_text("no_height_because")
    mask = ~same(codes, "") & ~same(codes, CLOSED_BLANK)
    if not mask.any():
        return hits(mask)
    mask &= ~_explained(facts) & np.isnan(facts.setup("total_height"))
    return hits(mask, because=np.array([BECAUSE.get(c, c) for c in codes], dtype=object))


def _cell(check: str, name: str, message: str, predicate: Callable[[Facts], Flags]) -> Check:
    return Check(
        check, "error", "paper", "lines", (name,), message, _KEY_IT, DEFINITION, where(predicate)
    )


LINES: tuple[Check, ...] = (
    Check(
        "plot-blank",
        "error",
        "paper",
        "lines",
        ("plot", "tree"),
        "The plot is blank, so the line belongs to no plot. It is not taken as the line above.",
        "Key the plot on every line.",
        DEFINITION,
        where(plot_number_missing),
    ),
    Check(
        "tree-blank",
        "error",
        "paper",
        "lines",
        ("tree", "plot"),
        "The tree number is blank, so the line belongs to no tree.",
        "Look at the paper sheet and key the tree's number.",
        DEFINITION,
        where(tree_number_missing),
    ),
    _cell("species-blank", "species", "The species is blank.", species_missing),
    _cell("diameter-blank", "diameter", "The diameter is blank.", diameter_missing),
    Check(
        "widths-blank",
        "error",
        "paper",
        "lines",
        ("width_widest", "width_across"),
        "Both crown widths are blank.",
        _KEY_IT,
        DEFINITION,
        where(widths_missing),
    ),
    Check(
        "no-readings",
        "error",
        "paper",
        "lines",
        ("tip_reading", "distance", "foot_reading", "base_reading"),
        "The line has no distance and no reading, so the tree has no height from it. The survey "
        "rules ask for the height of every tree.",
        _KEY_IT,
        DEFINITION,
        where(no_readings),
    ),
    _cell("distance-blank", "distance", "The distance is blank: no height.", distance_missing),
    _cell("foot-blank", "foot_reading", "The foot reading is blank: no height.", foot_missing),
    _cell("base-blank", "base_reading", "The crown base reading is blank.", base_missing),
    _cell("tip-blank", "tip_reading", "The tip reading is blank: no total height.", tip_missing),
    _cell(
        "slope-reading-blank",
        "slope_reading",
        "The distance was measured along the slope, and the slope reading is blank: no height.",
        slope_missing,
    ),
    Check(
        "no-height",
        "error",
        "paper",
        "lines",
        ("tip_reading", "distance", "foot_reading", "scale", "instrument", "distance_kind"),
        "There are readings and no height: {because}.",
        "Look at the paper sheet: distance, scale ticked, kind of distance and instrument.",
        DEFINITION,
        no_height,
    ),
)
PLOTS: tuple[Check, ...] = (
    Check(
        "plot-status-blank",
        "warning",
        "crew",
        "plots",
        ("plot.status",),
        "The plot has no status; {count:lines} keyed for it.",
        "Choose the status: measured, unless the crew says otherwise.",
        DEFINITION,
        plot_status_missing,
    ),
    Check(
        "plot-instrument-blank",
        "error",
        "paper",
        "plots",
        ("plot.instrument",),
        "No instrument is named for the plot, nor on the line itself ({count:lines}).",
        "Look at the head of the paper sheet, or ask the crew, which instrument it was.",
        DEFINITION,
        plot_instrument_missing,
    ),
    Check(
        "plot-scale-blank",
        "error",
        "paper",
        "plots",
        ("plot.scale", "plot.instrument"),
        "It is not said which scale was read: {count:lines} without a height.",
        "Look at the paper sheet: which scale is ticked? Otherwise ask the crew.",
        DEFINITION,
        plot_scale_missing,
    ),
    Check(
        "plot-distance-kind-blank",
        "warning",
        "paper",
        "plots",
        ("plot.distance_kind",),
        "It is not said how the distances were measured; they are taken as level ({count:lines}).",
        "Look at the paper sheet: level, along the slope, or straight to the foot?",
        DEFINITION,
        plot_distance_kind_missing,
    ),
)
