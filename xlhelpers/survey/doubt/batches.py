"""Plots, days and instruments whose lines were probably all read on another scale.

One line says little; the sum over a plot of what each line gains on the other scale says much. A
single line counts for no more than a few such steps, so that no tree decides for the others.

So many wrong lines would pull the survey's curves and habits after them; all lines on such scales
are weighed by those of the other lines, of the people sheet and of the reference alone. That trees
are low everywhere may be the town's: the eye has to speak for the other scale as well.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import log

import numpy as np
from numpy.typing import NDArray

from xlhelpers.survey.checks.record import Hits
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
from xlhelpers.survey.model import CauseRecord
from xlhelpers.survey.setups.instruments import FIXED_SCALE
from xlhelpers.survey.typed.folding import Flags, Positions

SCALES: tuple[Mistake, ...] = tuple(m for m in MISTAKES if m.id.startswith("scale-"))
PRIORS = np.log([mistake.prior for mistake in SCALES])
# what one line may add or take, and the share of the lines that must gain
LEAST_GAIN, GREATEST_GAIN, SHARE_GAINING = -4.0, 6.0, 0.6
# median deviation of a plot's heights, in spreads, and share of lines without a height, from which
# on its lines are weighed
SHIFT, LOST = 0.7, 0.15


@dataclass(frozen=True)
class Batch:
    """Lines that were probably read on one other scale: which (in `SCALES`), where, how surely."""

    scale: int
    lines: Positions
    plots: tuple[int, ...]
    log_odds: float
    weighed: Weighed


def find_batches(usual: Usual, limits: Mapping[str, float], apart: Flags) -> list[Batch]:
    """Return the groups of lines on the wrong scale, whole days before single plots.

    Parameters
    ----------
    usual : Usual
        All lines as entered.
    limits : mapping
        Used are `doubt_batch_odds` and `doubt_batch_lines`.
    apart : array of bool
        Lines that are explained already.
    """
    plot = usual.setups["plot_position"].to_numpy(dtype=np.int64)
    lines = np.flatnonzero(_lines_of_shifted_plots(usual, plot) & ~apart)
    weighed = weigh_mistakes(without_repeats(usual), lines, SCALES)
    gain = np.full((len(plot), len(SCALES)), LEAST_GAIN)
    gain[lines] = _compute_gains(weighed)
    applies = np.zeros(len(plot), dtype=bool)
    applies[lines] = np.isfinite(weighed.weight).any(axis=1)
    found: list[Batch] = []
    taken = np.zeros(len(plot), dtype=bool)
    for group in (code_days(usual.survey, usual.setups), plot):
        for odds, scale, own in _judge_groups(np.where(applies, group, -1), gain, limits):
            plots = tuple(np.unique(plot[own]).tolist())
            # a day on one plot is that plot; the likeliest scale of a group comes first
            alone = group is not plot and len(plots) == 1
            if not (alone or min(plots) < 0 or taken[own].any()):
                taken[own] = True
                found.append(Batch(scale, own, plots, odds, weighed))
    return found


def _compute_gains(weighed: Weighed) -> Numbers:
    """Return what each line gains on each of `SCALES`, no more than one line may say."""
    return np.clip(weighed.weight - PRIORS, LEAST_GAIN, GREATEST_GAIN)


def _lines_of_shifted_plots(usual: Usual, plot: Positions) -> NDArray[np.bool_]:
    """Return the lines of plots whose trees are all too low or too high, or have no height."""
    # A wrong scale makes all heights of a plot wrong to one side.
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
    # the last one is for the lines without a plot; there may be no plot at all
    doubted = np.append((middle > SHIFT) | many, False)
    return np.asarray(sighted & doubted[plot], dtype=bool)


def _judge_groups(
    group: Positions, gain: Numbers, limits: Mapping[str, float]
) -> list[tuple[float, int, Positions]]:
    """Return the log odds, the scale and the lines of each sure group, the surest first."""
    inside = np.flatnonzero(group >= 0)
    if len(inside) == 0:
        return []
    own, count = group[inside], int(group.max()) + 1
    number = np.bincount(own, minlength=count)
    found = []
    for scale in range(gain.shape[1]):
        one = gain[inside, scale]
        total = np.bincount(own, one, count) + PRIORS[scale]
        gaining = np.bincount(own, one > 0, count) / np.maximum(number, 1)
        sure = (total > log(limits["doubt_batch_odds"])) & (gaining >= SHARE_GAINING)
        for each in np.flatnonzero(sure & (number >= limits["doubt_batch_lines"])):
            found.append((float(total[each]), scale, inside[own == each]))
    return sorted(found, key=lambda each: -each[0])


def batch_hits(usual: Usual, batches: Sequence[Batch]) -> Hits:
    """Return the hits of the check on plots, at the first plot of each group of lines."""
    rows = [batch.plots[0] for batch in batches]
    names = usual.survey.plots["plot"].to_numpy(dtype=object)
    hits = _hits_of_batches(usual, batches, rows)
    return replace(hits, values={"where": [_where(names, b) for b in batches], **hits.values})


def base_hits(usual: Usual, batches: Sequence[Batch]) -> Hits:
    """Return the hits of the check on instruments whose fixed-distance scale is another one."""
    rows = [int(usual.ways.instrument_position[batch.lines[0]]) for batch in batches]
    made_for = usual.ways.instruments.scale_distance[rows]
    evidence = [
        (f"made for {distance:g}", *_readings(usual, batch.lines))
        for distance, batch in zip(made_for, batches, strict=True)
    ]
    return replace(_hits_of_batches(usual, batches, rows), evidence=evidence)


def _hits_of_batches(usual: Usual, batches: Sequence[Batch], rows: list[int]) -> Hits:
    """Return hits with heights and eyes as entered and as they would be."""
    place = np.full(len(usual.setups), -1, dtype=np.int64)
    totals, eyes = [], []
    for batch in batches:
        place[batch.weighed.lines] = np.arange(len(batch.weighed.lines))
        best = batch.weighed.best[place[batch.lines], batch.scale]
        totals.append(batch.weighed.seen.total[best[best >= 0]])
        eyes.append(batch.weighed.seen.eye[best[best >= 0]])
    return Hits(
        np.array(rows, dtype=np.int64),
        {
            "count": [len(b.lines) for b in batches],
            "scale": [SCALES[b.scale].words.removeprefix("the readings are ") for b in batches],
            "now": [_average(usual.seen.total[b.lines]) for b in batches],
            "was": [_average(usual.seen.eye[b.lines]) for b in batches],
            "then": [_average(each) for each in totals],
            "eye": [_average(each) for each in eyes],
        },
        lines=[tuple(b.lines.tolist()) for b in batches],
        plots=[b.plots for b in batches],
        causes=[(_record_cause(b, each),) for b, each in zip(batches, totals, strict=True)],
    )


def _record_cause(batch: Batch, totals: Numbers) -> CauseRecord:
    """Return the other scale as a cause; the height is the average of the lines."""
    scale, height = SCALES[batch.scale], _average(totals)
    field = "scale_distance" if scale.id.startswith(OTHER_BASE) else "scale"
    known = None if math.isnan(height) else height
    return CauseRecord(scale.id, field, None, None, known, None, scale.words)


def _average(values: Numbers) -> float:
    good = values[np.isfinite(values)]
    return float(good.mean()) if len(good) else float("nan")


def _where(names: NDArray[np.object_], batch: Batch) -> str:
    plots = [str(names[plot]) for plot in batch.plots]
    if len(plots) == 1:
        return f"On plot {plots[0]},"
    return f"On plots {list_words(plots, len(plots))} (one day, one instrument),"


_OTHER_BASES = np.array([scale.id.startswith(OTHER_BASE) for scale in SCALES])
_EYE_ONLY = tuple(piece for piece in PIECES if piece != "eye")


def find_wrong_bases(usual: Usual, limits: Mapping[str, float], apart: Flags) -> list[Batch]:
    """Return the lines of instruments that fit another base better.

    Parameters
    ----------
    usual : Usual
        All lines as entered.
    limits : mapping
        Used are `doubt_batch_odds` and `doubt_batch_lines`.
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
        return []
    hidden = np.zeros(len(usual.setups), dtype=bool)
    hidden[lines] = True
    others = without_repeats(without_lines(usual, hidden, limits))
    weighed = weigh_mistakes(others, lines, SCALES)
    gain = _compute_gains(weighed)
    eye = _compute_gains(weigh_mistakes(without_pieces(others, _EYE_ONLY), lines, SCALES))
    found = []
    for own in enough.tolist():
        here = instrument[lines] == own
        scale, odds = _find_base(gain[here], eye[here])
        if odds > log(limits["doubt_batch_odds"]):
            plots = tuple(np.unique(plot[lines[here]]).tolist())
            found.append(Batch(scale, lines[here], plots, odds, weighed))
    return found


def _find_base(gain: Numbers, eye: Numbers) -> tuple[int, float]:
    """Return the base that the lines of one instrument fit best, and its log odds."""
    agree = (eye.sum(axis=0) > 0) & ((gain - eye).sum(axis=0) > 0)
    possible = _OTHER_BASES & agree & ((gain > 0).mean(axis=0) >= SHARE_GAINING)
    odds = np.where(possible, gain.sum(axis=0), -np.inf) + PRIORS
    best = int(np.argmax(odds))
    return best, float(odds[best])


def _readings(usual: Usual, lines: Positions) -> list[str]:
    """Return what lines rest on, one text a column."""
    table = usual.survey.lines.iloc[lines]
    names = ("distance", *READ, "diameter")
    return [f"{name} {' '.join(f'{value:g}' for value in table[name])}" for name in names]
