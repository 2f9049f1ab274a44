"""The scale that was read: does the instrument have it, is it the right one, do readings fit it."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from xlhelpers.measure.slopes import SCALES, reading_from_slope, slope, slope_per_unit
from xlhelpers.survey.checks.facts import Facts, Numbers, Texts, same
from xlhelpers.survey.checks.order import SAME
from xlhelpers.survey.checks.record import NO_HITS, Hits, hits_where
from xlhelpers.survey.checks.wording import list_words, write_value
from xlhelpers.survey.typed.folding import Flags, Positions

# Units of each scale that two readings of one aim may differ by: one graduation in percent and
# half a one in degrees, as 1 + 0.87 sec²(a) in percent; the same in the slope of other scales
ALLOWED_UNITS = {"percent": 1.0, "degrees": 0.5, "topographic": 1.0, "fixed distance": 1.0}
# Readings typed as shares are below this; what they would be a hundred times over is plausible
SHARE_AT_MOST = 2.0


# ---- a scale that the instrument has


def _lacking(facts: Facts, instrument: Positions, scale: Texts) -> Flags:
    """Rows with a scale that the known instrument does not have."""
    lacking = np.zeros(len(scale), dtype=bool)
    for name in (*SCALES, "height"):
        without = np.array([bool(s) and name not in s for s in facts.instruments.scales])
        lacking |= same(scale, name) & without[instrument]
    return lacking


def _list_scales(facts: Facts, instrument: Positions) -> NDArray[np.object_]:
    words = [list_words(sorted(scales)) for scales in facts.instruments.scales]
    return np.array(words, dtype=object)[instrument]


def plot_scale_lacking(facts: Facts) -> Hits:
    """Plots with a scale that the plot's instrument does not have."""
    instrument, scale = facts.plot_instrument, facts.column("plots", "scale")
    lacking, scales = _lacking(facts, instrument, scale), _list_scales(facts, instrument)
    hits, lines = hits_where(lacking, scales=scales), facts.lines_of_plots()
    return replace(hits, lines=[lines.get(int(row), ()) for row in hits.rows])


def line_scale_lacking(facts: Facts) -> Hits:
    """Lines that themselves name a scale or an instrument which do not go together."""
    own = ~same(facts.text("scale"), "") | ~same(facts.text("instrument"), "")
    if not own.any():
        return NO_HITS
    instrument = facts.setup("instrument_position").astype(np.int64)
    scale = facts.setup_text("scale")
    mask = own & _lacking(facts, instrument, scale)
    return hits_where(
        mask,
        read=scale,
        name=facts.setup_text("instrument"),
        scales=_list_scales(facts, instrument),
    )


def scale_lacking(facts: Facts) -> Flags:
    """Lines read on a scale that the instrument does not have."""
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
    """One tip a plot with the scale it was read on, and its twin on the other scale.

    `expected` is what the other scale shows where the tip is right.
    """

    line: Positions
    tip: Numbers
    scale: Texts
    other: Texts
    expected: Numbers
    disagree: Flags
    fit_swapped: Flags


def _compare_twins(facts: Facts, line: Positions, twin: Numbers) -> _Twins:
    instrument = facts.setup("instrument_position").astype(np.int64)[line]
    base = facts.setup("scale_distance")[line]
    base = np.where(np.isnan(base), facts.instruments.scale_distance[instrument], base)
    scales = facts.setup_text("scale")[line]
    others = _other_scale(facts, instrument, scales)
    scales = np.where(same(others, ""), "", scales)
    tip = facts.number("tip_reading")[line]
    slopes = _slopes(tip, scales, base)
    apart = np.abs(slopes - _slopes(twin, others, base))
    allowed = _tolerance(tip, scales, base) + _tolerance(twin, others, base)
    swapped = np.abs(_slopes(tip, others, base) - _slopes(twin, scales, base))
    fits = swapped <= _tolerance(tip, others, base) + _tolerance(twin, scales, base) + SAME
    # a reading that its scale does not reach, such as 97 degrees, agrees with nothing
    beyond = np.isnan(apart) & ~same(scales, "") & ~np.isnan(tip)
    disagree = (apart > allowed + SAME) | beyond
    expected = np.atleast_1d(np.asarray(reading_from_slope(slopes, others, base)))
    return _Twins(line, tip, scales, others, expected, disagree, fits)


def first_tip_disagrees(facts: Facts) -> Hits:
    """Plots whose first tip, read on both scales, does not give one slope.

    The first tree of the paper sheet is on the plot's first line; on a sheet that somebody sorted
    it is mostly the one with the lowest number. Only where neither agrees there is a finding.
    """
    other = facts.column("plots", "other_scale_tip")
    lines = facts.lines_of_plots()
    plots = np.array([p for p in np.flatnonzero(~np.isnan(other)) if int(p) in lines], dtype=int)
    if len(plots) == 0:
        return NO_HITS
    first = np.array([lines[int(plot)][0] for plot in plots])
    lowest = np.array([_lowest_numbered(facts, lines[int(plot)]) for plot in plots])
    twins = _compare_twins(facts, lowest, other[plots])
    bad = np.flatnonzero(twins.disagree & _compare_twins(facts, first, other[plots]).disagree)
    tip, scales, others, twin = (
        column[bad] for column in (twins.tip, twins.scale, twins.other, other[plots])
    )
    return Hits(
        plots[bad],
        {
            "tip": tip,
            "scale": scales,
            "tree": facts.text("tree")[twins.line[bad]],
            "twin": [_describe_twin(twins, at, float(other[plots[at]])) for at in bad.tolist()],
        },
        lines=[lines[int(plot)] for plot in plots[bad]],
        evidence=[
            (f"tip {t:.10g} {s}", f"other scale {w:.10g} {o}")
            for t, s, w, o in zip(tip, scales, twin, others, strict=True)
        ],
    )


def _describe_twin(twins: _Twins, at: int, twin: float) -> str:
    other, expected = twins.other[at], float(twins.expected[at])
    typed = write_value("reading", twin, "metric")
    if np.isnan(expected):
        return f"In {other} it reads {typed}. One of them is outside its scale."
    should_be = write_value("reading", round(expected), "metric")
    swapped = (
        f"They match if the scales are swapped: the sheet was probably read in {other}."
        if twins.fit_swapped[at]
        else "Swapping the scales does not explain it."
    )
    return f"In {other} that should be {should_be}, but the sheet says {typed}. {swapped}"


# ---- readings a hundred times too small


def looks_hundredfold(facts: Facts) -> Flags:
    """Lines whose readings look like shares: all are small, and 100 times as much makes a tree.

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


def readings_hundredfold(facts: Facts) -> Hits:
    """Lines whose readings are probably 100 times too small, with what they would give."""
    total, tip = facts.setup("total_height"), facts.number("tip_reading")
    return hits_where(looks_hundredfold(facts), hundredfold=100 * total, tip_hundredfold=100 * tip)
