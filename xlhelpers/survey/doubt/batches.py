"""Plots, days and instruments whose lines were probably all read on another scale.

One line says little; the sum over a plot of what each line gains on the other scale says much. A
single line counts for no more than a few such steps, so that no tree decides for the others.

So many wrong lines would pull the survey's curves and habits after them; all lines on such scales
are weighed by those of the other lines, of the people sheet and of the reference alone. That trees
are low everywhere may be the town's: the eye has to speak for the other scale as well. That all
eyes are off may be the ground's, which is one fact: the rest has to speak for the scale by itself.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import log

import numpy as np
from numpy.typing import NDArray

from xlhelpers.survey.checks.record import Hits
from xlhelpers.survey.checks.wording import list_words, write_value
from xlhelpers.survey.doubt.candidates import Mistake
from xlhelpers.survey.doubt.evidence import (
    PIECES,
    compute_deviations,
    log_density,
    weigh_pieces,
    weigh_unknown,
)
from xlhelpers.survey.doubt.expected import code_days
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
# that all lines of a plot were read on a scale; common practice, no source
WHOLE_PLOT = 0.008
OF_PLOTS = np.where([m.id.startswith(OTHER_BASE) for m in SCALES], PRIORS, log(WHOLE_PLOT))
# what one line may add or take, and the share of the lines that must gain
LEAST_GAIN, GREATEST_GAIN, SHARE_GAINING = -4.0, 6.0, 0.6
# another base changes heights by a fifth to a third alone: each plot of a group with such a finding
# has to gain so much by itself, as a right plot hardly ever does
LEAST_OF_BASE = 3.0
# in place of eye heights that are far below the foot on any scale
UPHILL = (
    ". Most trees stand uphill of the crew, so the eye height does not show which scale is right."
)
# how often a line has a mistake of its own beside a wrong scale
OWN_MISTAKE = log(0.05)
# what a line must gain at the least, on average, before its plot is left out of what is usual
SUSPECT = -0.5
# what the eyes may speak against another scale, a line: on rolling ground they say little, and of
# trees whose foot is above the eye nothing, as no scale puts a usual eye there
EYE_AGAINST = -1.0


@dataclass(frozen=True)
class Batch:
    """Lines that were probably read on one other scale: which (in `SCALES`), where, how surely."""

    scale: int
    lines: Positions
    plots: tuple[int, ...]
    log_odds: float
    weighed: Weighed


@dataclass(frozen=True)
class Gains:
    """What each line of a survey gains on each of `SCALES` (line x scale), and by the eye alone.

    `rest` is what all but the eye gains, `farther` by how much more than the plot's slope allows
    the scale puts the eye from its usual height (m). `counts` marks the lines that say anything,
    `fits` those that can have been read on the scale.
    """

    whole: Numbers
    eye: Numbers
    rest: Numbers
    farther: Numbers
    counts: Flags
    fits: Flags
    weighed: Weighed


def find_batches(usual: Usual, limits: Mapping[str, float], apart: Flags) -> list[Batch]:
    """Return the groups of lines on the wrong scale, whole days before single plots.

    A day is a group if its plots agree; otherwise those that do are groups of their own.

    Parameters
    ----------
    usual : Usual
        All lines as entered.
    limits : mapping
        Used are `doubt_batch_odds`, `doubt_batch_lines` and those of `expect`.
    apart : array of bool
        Lines that are explained already.
    """
    plot = usual.setups["plot_position"].to_numpy(dtype=np.int64)
    sighted = np.isfinite(usual.survey.lines["tip_reading"].to_numpy(dtype=float)) & (plot >= 0)
    lines = np.flatnonzero(sighted & ~apart)
    if len(lines) == 0:
        return []
    gains = _weigh_scales(without_repeats(usual), lines)
    hidden = np.zeros(len(plot), dtype=bool)
    hidden[lines] = _lines_of_suspects(gains, plot[lines])
    if not hidden.any():
        return []
    gains = _weigh_scales(without_repeats(without_lines(usual, hidden, limits)), lines)
    day = code_days(usual.survey, usual.setups)[lines]
    own = {**limits, "limit_eye": float(usual.survey.rules["limit_eye"])}
    return _choose_groups(gains, plot[lines], day, own)


def _choose_groups(
    gains: Gains, plot: Positions, day: Positions, limits: Mapping[str, float]
) -> list[Batch]:
    """Return the sure days whose plots agree, then the other sure plots."""
    lines = gains.weighed.lines
    agree, large = _compare_plots(gains, plot, limits)
    batches: list[Batch] = []
    taken = np.zeros(len(lines), dtype=bool)
    for group in (day, plot):
        for odds, scale, own in _judge_groups(group, gains, limits):
            here = np.unique(plot[own])
            differing = here[~agree[here, scale]]
            # a day on one plot is that plot
            if group is day and (len(here) < 2 or large[differing, scale].any()):
                continue
            own = own[gains.fits[own, scale] & ~np.isin(plot[own], differing)]
            # the likeliest scale of a group comes first
            if len(own) and not taken[own].any():
                taken[own] = True
                plots = tuple(np.unique(plot[own]).tolist())
                batches.append(Batch(scale, lines[own], plots, odds, gains.weighed))
    return batches


def _weigh_scales(usual: Usual, lines: Positions) -> Gains:
    """Return what lines gain on each scale, a mistake of their own allowed for either way."""
    weighed = weigh_mistakes(usual, lines, SCALES)
    shape = weighed.weight.shape
    whole, eye, rest, farther = (np.zeros(shape) for _ in range(4))
    plain, unknown = usual.plain[lines], usual.broad[lines] + OWN_MISTAKE
    before = np.logaddexp(plain, unknown)
    lost = np.isnan(usual.seen.total[lines])
    deviations = compute_deviations(usual.expected, weighed.sheet, weighed.seen)
    pieces = weigh_pieces(deviations)
    pieces |= {piece: np.full(len(weighed.sheet), np.nan) for piece in usual.dropped}
    broad = weigh_unknown(pieces, deviations, usual.expected, weighed.sheet) + OWN_MISTAKE
    eyes = log_density(deviations.away["eye"], deviations.spread["eye"])
    eyes_now = log_density(usual.deviations.away["eye"], usual.deviations.spread["eye"])[lines]
    away, away_now = deviations.away["eye"], usual.deviations.away["eye"][lines]
    allowed, below = _allow_for_slope(usual, lines), ~_feet_above_eye(usual, lines)
    for scale in range(len(SCALES)):
        best = weighed.best[:, scale]
        at = np.maximum(best, 0)
        # readings that the scale cannot show are a mistake of another kind, on that scale too
        own = np.where(best >= 0, broad[at], unknown) if len(broad) else unknown
        on_scale = weighed.weight[:, scale] - PRIORS[scale] + plain
        # without a height on either scale, a line says nothing
        whole[:, scale] = np.where(lost & (best < 0), 0.0, np.logaddexp(on_scale, own) - before)
        if len(broad):
            tells = (best >= 0) & below
            eye[:, scale] = np.where(tells, np.nan_to_num(eyes[at] - eyes_now), 0.0)
            marked = np.nan_to_num(pieces["eye"][at] - usual.pieces["eye"][lines])
            rest[:, scale] = np.where(best >= 0, on_scale - plain - marked, 0.0)
            worse = np.nan_to_num(np.abs(away[at]) - np.abs(away_now))
            farther[:, scale] = np.where(tells, worse - allowed, 0.0)
    whole, eye, rest = (np.clip(each, LEAST_GAIN, GREATEST_GAIN) for each in (whole, eye, rest))
    return Gains(whole, eye, rest, farther, whole != 0, weighed.best >= 0, weighed)


def _feet_above_eye(usual: Usual, lines: Positions) -> Flags:
    """Whether the feet of lines were aimed at above eye level, which they are on any scale."""
    return np.asarray(usual.survey.lines["foot_reading"].to_numpy(dtype=float)[lines] > 0)


def _allow_for_slope(usual: Usual, lines: Positions) -> Numbers:
    """Return what the slope of the plot makes over the distance (m), 0 where none is known."""
    plot = usual.setups["plot_position"].to_numpy(dtype=np.int64)[lines]
    slope = usual.survey.plots["slope"].to_numpy(dtype=float)[plot]
    return np.asarray(np.nan_to_num(np.abs(slope) * usual.seen.level[lines]))


def _lines_of_suspects(gains: Gains, plot: Positions) -> Flags:
    """Return the lines of plots that another scale might explain."""
    count = int(plot.max()) + 1
    suspect = np.zeros(count, dtype=bool)
    number = np.bincount(plot, minlength=count)
    for scale in range(len(SCALES)):
        total = np.bincount(plot, gains.whole[:, scale], count)
        fitting = np.bincount(plot, gains.fits[:, scale], count)
        suspect |= (fitting > 0) & (total > SUSPECT * number)
    return np.asarray(suspect[plot], dtype=bool)


def _judge_groups(
    group: Positions, gains: Gains, limits: Mapping[str, float]
) -> list[tuple[float, int, Positions]]:
    """Return the log odds, the scale and the lines of each sure group, the surest first."""
    inside = np.flatnonzero(group >= 0)
    if len(inside) == 0:
        return []
    own, count = group[inside], int(group.max()) + 1
    sure_groups = []
    for scale in range(len(SCALES)):
        total, number, gaining, eye = _add_up(gains, inside, own, scale, count)
        sure = total + OF_PLOTS[scale] > log(limits["doubt_batch_odds"])
        sure &= (gaining >= SHARE_GAINING * number) & (eye >= EYE_AGAINST * number)
        sure &= np.bincount(own, gains.rest[inside, scale], count) >= 0
        for each in np.flatnonzero(sure & (number >= limits["doubt_batch_lines"])):
            odds = float(total[each] + OF_PLOTS[scale])
            sure_groups.append((odds, scale, inside[own == each]))
    return sorted(sure_groups, key=lambda each: -each[0])


def _add_up(
    gains: Gains, rows: Positions, group: Positions, scale: int, count: int
) -> tuple[Numbers, Numbers, Numbers, Numbers]:
    """Return for each group the sum, the lines that say anything, those that gain, the eyes."""
    one = gains.whole[rows, scale]
    counts = gains.counts[rows, scale]
    weights = (one, counts, one > 0, gains.eye[rows, scale])
    total, number, gaining, eye = (
        np.bincount(group, weight, count).astype(float) for weight in weights
    )
    return total, number, gaining, eye


def _compare_plots(
    gains: Gains, plot: Positions, limits: Mapping[str, float]
) -> tuple[Flags, Flags]:
    """Return which plots gain on each scale by themselves, and which have enough lines.

    A scale that puts the eye farther from its usual height than the limit is not one of a plot.
    """
    count = int(plot.max()) + 1
    agree = np.zeros((count, len(SCALES)), dtype=bool)
    large = np.zeros((count, len(SCALES)), dtype=bool)
    rows = np.arange(len(plot))
    for scale in range(len(SCALES)):
        total, number, gaining, _ = _add_up(gains, rows, plot, scale, count)
        least = LEAST_OF_BASE if _OTHER_BASES[scale] else 0.0
        agree[:, scale] = (total > least) & (gaining >= SHARE_GAINING * number)
        farther = group_medians(gains.farther[:, scale], plot, count)
        agree[:, scale] &= ~(farther > limits["limit_eye"])
        large[:, scale] = number >= limits["doubt_batch_lines"]
    return agree, large


def _compute_gains(weighed: Weighed) -> Numbers:
    """Return what each line gains on each of `SCALES`, no more than one line may say."""
    return np.clip(weighed.weight - PRIORS, LEAST_GAIN, GREATEST_GAIN)


def batch_hits(usual: Usual, batches: Sequence[Batch]) -> Hits:
    """Return the hits of the check on plots, at the first plot of each group of lines."""
    rows = [batch.plots[0] for batch in batches]
    names = usual.survey.plots["plot"].to_numpy(dtype=object)
    hits = _hits_of_batches(usual, batches, rows)
    eyes = [
        UPHILL if _feet_above_eye(usual, batch.lines).mean() > 0.5 else _compare_eyes(usual, *each)
        for batch, *each in zip(batches, hits.values["eye"], hits.values["was"], strict=True)
    ]
    where = [_where(names, b) for b in batches]
    return replace(hits, values={"where": where, "eyes": eyes, **hits.values})


def _compare_eyes(usual: Usual, then: float, now: float) -> str:
    """Return the eye height that another scale would give, and the one as entered."""
    eye, was = (write_value("fine length", value, usual.survey.units) for value in (then, now))
    return f" and the eye height {eye} (now {was})."


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
    batches = []
    for own in enough.tolist():
        here = instrument[lines] == own
        scale, odds = _find_base(gain[here], eye[here])
        sure = odds > log(limits["doubt_batch_odds"])
        if sure and _do_plots_agree(gain[here, scale], plot[lines[here]], limits):
            plots = tuple(np.unique(plot[lines[here]]).tolist())
            batches.append(Batch(scale, lines[here], plots, odds, weighed))
    return batches


def _do_plots_agree(gain: Numbers, plot: Positions, limits: Mapping[str, float]) -> bool:
    """Whether every plot with enough lines gains by itself: one wrong plot accuses no other."""
    total, number = np.bincount(plot, gain), np.bincount(plot)
    return bool((total[number >= limits["doubt_batch_lines"]] > LEAST_OF_BASE).all())


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
