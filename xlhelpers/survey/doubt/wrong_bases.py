"""Instruments of which all lines look as if read on the scale for another fixed distance.

So many wrong lines would pull the survey's curves and habits after them; all lines on such scales
are weighed by those of the other lines, of the people sheet and of the reference alone. That trees
are low everywhere may be the town's: the eye has to speak for the other scale as well.
"""

from collections.abc import Mapping
from math import log

import numpy as np

from xlhelpers.survey.checks.record import NOTHING, Hits
from xlhelpers.survey.doubt.batches import SCALES, SHARE_GAINING, Batch, gains, said_of
from xlhelpers.survey.doubt.evidence import PIECES
from xlhelpers.survey.doubt.mistakes import OTHER_BASE
from xlhelpers.survey.doubt.readings import READ
from xlhelpers.survey.doubt.robust import Numbers
from xlhelpers.survey.doubt.weigh import (
    Usual,
    Weighed,
    weigh_mistakes,
    without_lines,
    without_pieces,
    without_repeats,
)
from xlhelpers.survey.folding import Flags, Positions
from xlhelpers.survey.setup_instruments import FIXED_SCALE

_OTHER_BASES = np.array([scale.id.startswith(OTHER_BASE) for scale in SCALES])
_EYE_ONLY = tuple(piece for piece in PIECES if piece != "eye")

Found = tuple[tuple[Batch, Weighed], ...]


def wrong_bases(usual: Usual, limits: Mapping[str, float], apart: Flags) -> Found:
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
    gain = gains(weighed)
    eye = gains(weigh_mistakes(without_pieces(others, _EYE_ONLY), lines, SCALES))
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
        return NOTHING
    stands = usual.ways.instruments.scale_distance
    of = [int(usual.ways.instrument_position[batch.lines[0]]) for batch, _ in found]
    each = [said_of(usual, [batch], weighed) for batch, weighed in found]
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
