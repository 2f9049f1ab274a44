"""Plots, days and instruments of which all lines look as if read on another scale.

One line says little; the sum over a plot of what each line gains on the other scale says much. A
single line counts for no more than a few such steps, so that no tree decides for the others.

So many wrong lines would pull the survey's curves and habits after them; all lines on such scales
are weighed by those of the other lines, of the people sheet and of the reference alone. That trees
are low everywhere may be the town's: the eye has to speak for the other scale as well.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import log
from typing import Any

import numpy as np
from numpy.typing import NDArray

from xlhelpers.survey.checks.record import NO_HITS, Hits
from xlhelpers.survey.checks.wording import list_words
from xlhelpers.survey.doubt.candidates import Mistake
from xlhelpers.survey.doubt.evidence import PIECES
from xlhelpers.survey.doubt.expected import HEIGHT, code_days
from xlhelpers.survey.doubt.mistakes import MISTAKES, OTHER_BASE
from xlhelpers.survey.doubt.readings import READ
from xlhelpers.survey.doubt.robust import Numbers, group_medians
from xlhelpers.survey.doubt.weigh import (
    Usual,
    Weighed,
    weigh_mistakes,
    without_lines,
    without_pieces,
    without_repeats,
)
from xlhelpers.survey.setups.instruments import FIXED_SCALE
from xlhelpers.survey.typed.folding import Flags, Positions

SCALES: tuple[Mistake, ...] = tuple(m for m in MISTAKES if m.id.startswith("scale-"))
# what one line may add or take, and the share of the lines that must gain
LEAST_GAIN, GREATEST_GAIN, SHARE_GAINING = -4.0, 6.0, 0.6
# median deviation of a plot's heights, in spreads, and share of lines without a height, from which
# on its lines are weighed
SHIFT, LOST = 0.7, 0.15


@dataclass(frozen=True)
class Batch:
    """Lines that look as if read on one other scale: which (in `SCALES`), where, how surely."""

    scale: int
    lines: Positions
    plots: tuple[int, ...]
    log_odds: float


def find_batches(
    usual: Usual, limits: Mapping[str, float], apart: Flags
) -> tuple[tuple[Batch, ...], Weighed]:
    """Return the groups of lines on the wrong scale, whole days before single plots.

    Parameters
    ----------
    usual : Usual
        All lines as keyed.
    limits : mapping
        Looked at are `doubt_batch_odds` and `doubt_batch_lines`.
    apart : array of bool
        Lines that are explained already.
    """
    plot = usual.setups["plot_position"].to_numpy(dtype=np.int64)
    lines = np.flatnonzero(_lines_of_shifted_plots(usual, plot) & ~apart)
    weighed = weigh_mistakes(without_repeats(usual), lines, SCALES)
    prior = np.log([mistake.prior for mistake in SCALES])
    gain = np.full((len(plot), len(SCALES)), LEAST_GAIN)
    gain[lines] = _compute_gains(weighed)
    applies = np.zeros(len(plot), dtype=bool)
    applies[lines] = np.isfinite(weighed.weight).any(axis=1)
    found: list[Batch] = []
    taken = np.zeros(len(plot), dtype=bool)
    for group in (code_days(usual.survey, usual.setups), plot):
        for batch in _in_groups(np.where(applies, group, -1), gain, prior, limits):
            plots = tuple(np.unique(plot[batch.lines]).tolist())
            # a day on one plot is that plot; the likeliest scale of a group comes first
            alone = group is not plot and len(plots) == 1
            if not (alone or min(plots) < 0 or taken[batch.lines].any()):
                taken[batch.lines] = True
                found.append(replace(batch, plots=plots))
    return tuple(found), weighed


def _compute_gains(weighed: Weighed) -> Numbers:
    """Return what each line gains on each of `SCALES`, no more than one line may say."""
    prior = np.log([mistake.prior for mistake in SCALES])
    return np.clip(weighed.weight - prior, LEAST_GAIN, GREATEST_GAIN)


def _lines_of_shifted_plots(usual: Usual, plot: Positions) -> NDArray[np.bool_]:
    """Return the lines of plots whose trees are all too low or too high, or have no height.

    A wrong scale makes all heights of a plot wrong to one side; where that is not so there is
    nothing to weigh.
    """
    piece = np.where(
        np.isnan(usual.deviations.away[HEIGHT]),
        usual.deviations.away["stand"] / usual.deviations.spread["stand"],
        usual.deviations.away[HEIGHT] / usual.deviations.spread[HEIGHT],
    )
    sighted = (plot >= 0) & np.isfinite(usual.survey.lines["tip_reading"].to_numpy(dtype=float))
    count = len(usual.survey.plots)
    known = sighted & np.isfinite(piece)
    middle = np.abs(np.nan_to_num(group_medians(piece[known], plot[known], count)))
    lost = np.bincount(plot[sighted & ~known], minlength=count)
    many = lost > LOST * np.maximum(np.bincount(plot[sighted], minlength=count), 1)
    # the last one stands for the lines without a plot; there may be no plot at all
    doubted = np.append((middle > SHIFT) | many, False)
    return np.asarray(sighted & doubted[plot], dtype=bool)


def _in_groups(
    group: Positions, gain: Numbers, prior: Numbers, limits: Mapping[str, float]
) -> list[Batch]:
    inside = np.flatnonzero(group >= 0)
    if len(inside) == 0:
        return []
    own, count = group[inside], int(group.max()) + 1
    number = np.bincount(own, minlength=count)
    found = []
    for scale in range(gain.shape[1]):
        one = gain[inside, scale]
        total = np.bincount(own, one, count) + prior[scale]
        gaining = np.bincount(own, one > 0, count) / np.maximum(number, 1)
        sure = (total > log(limits["doubt_batch_odds"])) & (gaining >= SHARE_GAINING)
        for each in np.flatnonzero(sure & (number >= limits["doubt_batch_lines"])):
            found.append(Batch(scale, inside[own == each], (), float(total[each])))
    return sorted(found, key=lambda batch: -batch.log_odds)


def batch_hits(usual: Usual, found: Sequence[Batch], weighed: Weighed) -> Hits:
    """Return the hits of the check on plots, at the first plot of each group of lines."""
    if not found:
        return NO_HITS
    names = usual.survey.plots["plot"].to_numpy(dtype=object)
    return Hits(
        np.array([b.plots[0] for b in found], dtype=np.int64),
        {"where": [_where(names, b) for b in found]} | _compare_heights(usual, found, weighed),
        lines=[tuple(b.lines.tolist()) for b in found],
        plots=[b.plots for b in found],
    )


def _compare_heights(
    usual: Usual, found: Sequence[Batch], weighed: Weighed
) -> dict[str, list[Any]]:
    """Return the values of the messages: heights and eyes as entered and as they would be."""
    place = np.full(len(usual.setups), -1, dtype=np.int64)
    place[weighed.lines] = np.arange(len(weighed.lines))
    then = [weighed.best[place[b.lines], b.scale] for b in found]
    return {
        "count": [len(b.lines) for b in found],
        "scale": [SCALES[b.scale].words.removeprefix("the readings are ") for b in found],
        "now": [_middle(usual.seen.total[b.lines]) for b in found],
        "was": [_middle(usual.seen.eye[b.lines]) for b in found],
        "then": [_middle(weighed.seen.total[t[t >= 0]]) for t in then],
        "eye": [_middle(weighed.seen.eye[t[t >= 0]]) for t in then],
    }


def _middle(values: Numbers) -> float:
    good = values[np.isfinite(values)]
    return float(good.mean()) if len(good) else float("nan")


def _where(names: NDArray[np.object_], batch: Batch) -> str:
    plots = [str(names[plot]) for plot in batch.plots]
    if len(plots) == 1:
        return f"On plot {plots[0]},"
    return f"On plots {list_words(plots, len(plots))} (one day, one instrument),"


_OTHER_BASES = np.array([scale.id.startswith(OTHER_BASE) for scale in SCALES])
_EYE_ONLY = tuple(piece for piece in PIECES if piece != "eye")
Found = tuple[tuple[Batch, Weighed], ...]


def find_wrong_bases(usual: Usual, limits: Mapping[str, float], apart: Flags) -> Found:
    """Return the instruments whose lines fit another base better, with how they were weighed.

    Parameters
    ----------
    usual : Usual
        All lines as keyed.
    limits : mapping
        Looked at are `doubt_batch_odds` and `doubt_batch_lines`.
    apart : array of bool
        Lines that are explained already.
    """
    plot = usual.setups["plot_position"].to_numpy(dtype=np.int64)
    instrument = usual.ways.instrument_position
    sighted = np.isfinite(usual.seen.total) & (usual.ways.scale == FIXED_SCALE) & (plot >= 0)
    sighted &= ~apart
    count = np.bincount(instrument[sighted & (instrument >= 0)])
    enough = np.flatnonzero(count >= limits["doubt_batch_lines"])
    lines = np.flatnonzero(sighted & np.isin(instrument, enough))
    if len(lines) == 0:
        return ()
    hidden = np.zeros(len(usual.setups), dtype=bool)
    hidden[lines] = True
    others = without_repeats(without_lines(usual, hidden, limits))
    weighed = weigh_mistakes(others, lines, SCALES)
    gain = _compute_gains(weighed)
    eye = _compute_gains(weigh_mistakes(without_pieces(others, _EYE_ONLY), lines, SCALES))
    found = []
    for own in enough.tolist():
        here = instrument[lines] == own
        batch = _of_instrument(usual, lines[here], gain[here], eye[here])
        if batch.log_odds > log(limits["doubt_batch_odds"]):
            found.append((batch, weighed))
    return tuple(found)


def _of_instrument(usual: Usual, lines: Positions, gain: Numbers, eye: Numbers) -> Batch:
    """Return the base that the lines of one instrument fit best, and how surely."""
    agree = (eye.sum(axis=0) > 0) & ((gain - eye).sum(axis=0) > 0)
    possible = _OTHER_BASES & agree & ((gain > 0).mean(axis=0) >= SHARE_GAINING)
    odds = np.where(possible, gain.sum(axis=0), -np.inf)
    best = int(np.argmax(odds))
    plots = np.unique(usual.setups["plot_position"].to_numpy(dtype=np.int64)[lines])
    return Batch(best, lines, tuple(plots.tolist()), float(odds[best] + log(SCALES[best].prior)))


def base_hits(usual: Usual, found: Found) -> Hits:
    """Return the hits of the check on instruments whose fixed-distance scale is another one."""
    if not found:
        return NO_HITS
    stands = usual.ways.instruments.scale_distance
    of = [int(usual.ways.instrument_position[batch.lines[0]]) for batch, _ in found]
    each = [_compare_heights(usual, [batch], weighed) for batch, weighed in found]
    return Hits(
        np.array(of, dtype=np.int64),
        {name: [one[name][0] for one in each] for name in each[0]},
        lines=[tuple(batch.lines.tolist()) for batch, _ in found],
        plots=[batch.plots for batch, _ in found],
        evidence=[
            (f"made for {stands[own]:g}", *_readings(usual, batch.lines))
            for own, (batch, _) in zip(of, found, strict=True)
        ],
    )


def _readings(usual: Usual, lines: Positions) -> list[str]:
    """Return what lines rest on, one text a column."""
    table = usual.survey.lines.iloc[lines]
    names = ("distance", *READ, "diameter")
    return [f"{name} {' '.join(f'{value:g}' for value in table[name])}" for name in names]
