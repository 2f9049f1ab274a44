"""The scale that was read: does the instrument have it, is it the right one, do readings fit it."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from xlhelpers.measure.slopes import SCALES, slope, slope_per_unit
from xlhelpers.survey.checks.facts import Facts, Numbers, Texts, same
from xlhelpers.survey.checks.order import SAME
from xlhelpers.survey.checks.record import DEFINITION, NOTHING, Check, Hits, hits
from xlhelpers.survey.checks.wording import listed
from xlhelpers.survey.typed.folding import Flags, Positions

# Units of each scale that two readings of one aim may differ by: one graduation in percent and
# half a one in degrees, as 1 + 0.87 sec²(a) in percent; the same in the slope of other scales
ALLOWED_UNITS = {"percent": 1.0, "degrees": 0.5, "topographic": 1.0, "fixed distance": 1.0}
# Readings typed as shares are below this; what they would be a hundred times over is plausible
SHARE_AT_MOST = 2.0


# ---- a scale that the instrument has


def _lacking(facts: Facts, instrument: Positions, scale: Texts) -> Flags:
    """Rows whose scale is none of the known instrument's."""
    lacking = np.zeros(len(scale), dtype=bool)
    for name in (*SCALES, "height"):
        without = np.array([bool(s) and name not in s for s in facts.instruments.scales])
        lacking |= same(scale, name) & without[instrument]
    return lacking


def _says_scales(facts: Facts, instrument: Positions) -> NDArray[np.object_]:
    words = [listed(sorted(scales)) for scales in facts.instruments.scales]
    return np.array(words, dtype=object)[instrument]


def plot_scale_lacking(facts: Facts) -> Hits:
    """Plots with a scale that the plot's instrument does not have."""
    instrument, scale = facts.plot_instrument, facts.column("plots", "scale")
    found = hits(_lacking(facts, instrument, scale), scales=_says_scales(facts, instrument))
    lines = facts.lines_of_plots()
    touched = [lines.get(int(row), ()) for row in found.rows]
    return Hits(found.rows, found.values, lines=touched)


def line_scale_lacking(facts: Facts) -> Hits:
    """Lines that themselves name a scale or an instrument which do not go together."""
    own = ~same(facts.text("scale"), "") | ~same(facts.text("instrument"), "")
    if not own.any():
        return NOTHING
    instrument = facts.setup("instrument_position").astype(np.int64)
    scale = facts.setup_text("scale")
    mask = own & _lacking(facts, instrument, scale)
    return hits(
        mask,
        read=scale,
        name=facts.setup_text("instrument"),
        scales=_says_scales(facts, instrument),
    )


def scale_told(facts: Facts) -> Flags:
    """Lines that rest on a scale which the instrument does not have."""
    instrument = facts.setup("instrument_position").astype(np.int64)
    return _lacking(facts, instrument, facts.setup_text("scale"))


# ---- the plot's first tip on both scales


def _other_scale(facts: Facts, instrument: Positions, scale: Texts) -> Texts:
    """Return the other scale of instruments with two, "" where it is not clear which."""
    others = []
    for position, read in zip(instrument, scale, strict=True):
        left = facts.instruments.scales[position] - {read, "height"}
        others.append(next(iter(left)) if len(left) == 1 and read in SCALES else "")
    return np.array(others, dtype=object)


def _slopes(reading: Numbers, scale: Texts, base: Numbers) -> Numbers:
    return np.atleast_1d(np.asarray(slope(reading, scale, base)))


def _tolerance(reading: Numbers, scale: Texts, base: Numbers) -> Numbers:
    """Return the allowed units of a scale as a slope."""
    units = np.array([ALLOWED_UNITS.get(name, np.nan) for name in scale])
    per_unit: Numbers = np.atleast_1d(np.asarray(slope_per_unit(reading, scale, base)))
    return np.asarray(units * per_unit)


def _lowest_numbered(facts: Facts, lines: tuple[int, ...]) -> int:
    """Return the line of the tree with the lowest number; the first one where none is a number."""
    trees = facts.text("tree")
    numbered = [line for line in lines if str(trees[line]).isdigit()]
    return min(numbered, key=lambda line: int(trees[line]), default=lines[0])


@dataclass(frozen=True)
class _Twins:
    """One tip a plot with the scale it was read on, its twin on the other, and what they say."""

    line: Positions
    tip: Numbers
    scale: Texts
    other: Texts
    bad: Flags
    fit_swapped: Flags


def _twins(facts: Facts, line: Positions, twin: Numbers) -> _Twins:
    instrument = facts.setup("instrument_position").astype(np.int64)[line]
    base = facts.setup("scale_distance")[line]
    base = np.where(np.isnan(base), facts.instruments.scale_distance[instrument], base)
    scales = facts.setup_text("scale")[line]
    others = _other_scale(facts, instrument, scales)
    scales = np.where(same(others, ""), "", scales)
    tip = facts.number("tip_reading")[line]
    apart = np.abs(_slopes(tip, scales, base) - _slopes(twin, others, base))
    allowed = _tolerance(tip, scales, base) + _tolerance(twin, others, base)
    swapped = np.abs(_slopes(tip, others, base) - _slopes(twin, scales, base))
    fits = swapped <= _tolerance(tip, others, base) + _tolerance(twin, scales, base) + SAME
    # a reading that its scale does not reach, such as 97 degrees, agrees with nothing
    beyond = np.isnan(apart) & ~same(scales, "") & ~np.isnan(tip)
    return _Twins(line, tip, scales, others, (apart > allowed + SAME) | beyond, fits)


def first_tip_disagrees(facts: Facts) -> Hits:
    """Plots whose first tip, read on both scales, does not give one slope.

    The first tree of the paper sheet stands on the plot's first line; on a sheet that somebody
    sorted it is mostly the one with the lowest number. Only where neither agrees is it said.
    """
    other = facts.column("plots", "other_scale_tip")
    lines = facts.lines_of_plots()
    plots = np.array([p for p in np.flatnonzero(~np.isnan(other)) if int(p) in lines], dtype=int)
    if len(plots) == 0:
        return NOTHING
    first = np.array([lines[int(plot)][0] for plot in plots])
    lowest = np.array([_lowest_numbered(facts, lines[int(plot)]) for plot in plots])
    found = _twins(facts, lowest, other[plots])
    bad = np.flatnonzero(found.bad & _twins(facts, first, other[plots]).bad)
    tip, twin, swapped = found.tip[bad], other[plots[bad]], found.fit_swapped[bad]
    scales, others = found.scale[bad], found.other[bad]
    says = np.where(
        swapped, "They agree the other way round: ", "Neither way round do they agree; "
    )
    return Hits(
        plots[bad],
        {
            "tip": tip,
            "twin": twin,
            "scale": scales,
            "other": others,
            "tree": facts.text("tree")[found.line[bad]],
            "hint": [
                f"{text}{'the sheet was then read in ' + o if f else 'look at both'}."
                for text, o, f in zip(says, others, swapped, strict=True)
            ],
        },
        lines=[lines[int(plot)] for plot in plots[bad]],
        evidence=[
            (f"tip {t:.10g} {s}", f"other scale {w:.10g} {o}")
            for t, s, w, o in zip(tip, scales, twin, others, strict=True)
        ],
    )


# ---- readings a hundred times too small


def looks_hundredfold(facts: Facts) -> Flags:
    """Lines whose readings look like shares: all are small and a hundred times over make a tree.

    A tree with a diameter at breast height is higher than that; readings below 2 on a percent or
    degree scale show less than that from any usual distance.
    """
    names = ("foot_reading", "base_reading", "top_reading", "tip_reading")
    readings = np.stack([facts.number(name) for name in names])
    scale = facts.setup_text("scale")
    small = (np.nan_to_num(np.abs(readings)) < SHARE_AT_MOST).all(axis=0)
    total = facts.setup("total_height")
    shares = small & (total > 0) & (total < facts.limit("breast_height"))
    shares &= 100 * total >= facts.limit("breast_height")
    return shares & (same(scale, "percent") | same(scale, "degrees"))


def _hundredfold_hits(facts: Facts) -> Hits:
    total, tip = facts.setup("total_height"), facts.number("tip_reading")
    return hits(looks_hundredfold(facts), hundredfold=100 * total, tip_hundredfold=100 * tip)


_WHICH = "Look at the paper sheet: which scale is ticked, and which instrument is named?"
SCALES_READ: tuple[Check, ...] = (
    Check(
        "plot-scale-lacking",
        "error",
        "paper",
        "plots",
        ("plot.scale", "plot.instrument"),
        "The plot's readings are said to be in {scale}, which instrument {instrument} does not "
        "have (it has {scales}).",
        _WHICH,
        DEFINITION,
        plot_scale_lacking,
    ),
    Check(
        "line-scale-lacking",
        "error",
        "paper",
        "lines",
        ("scale", "instrument"),
        "The readings are said to be in {read}, which instrument {name} does not have (it has "
        "{scales}).",
        _WHICH,
        DEFINITION,
        line_scale_lacking,
    ),
    Check(
        "first-tip-other-scale",
        "error",
        "paper",
        "plots",
        ("plot.other_scale_tip", "plot.scale", "tip_reading"),
        "The first tip (tree {tree}) is {tip:reading} in {scale} and {twin:reading} in {other}: "
        "the two are not one slope. {hint}",
        "Look at the paper sheet: which scale is ticked? All heights of the plot rest on it.",
        "Identity",
        first_tip_disagrees,
    ),
    Check(
        "readings-hundredfold",
        "error",
        "paper",
        "lines",
        ("tip_reading", "foot_reading", "base_reading", "top_reading"),
        "All readings are below 2 and give a tree of {total_height:fine length}; a hundred times "
        "as large they give {hundredfold:length}: {tip_reading:reading} may be "
        "{tip_hundredfold:reading}.",
        "Look at the paper sheet; if it says {tip_hundredfold:reading}, key the readings so, "
        "without a % sign.",
        DEFINITION,
        _hundredfold_hits,
    ),
)
