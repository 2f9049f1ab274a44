"""Plots whose ground puts the eye equally high, or low, over several trees.

One wrong foot reading moves one eye. Where the eyes of several trees of a plot are off together
and the heights fit, the crew stood above the trees or below them.
"""

from dataclasses import replace

import numpy as np

from xlhelpers.survey.checks.facts import group_members
from xlhelpers.survey.doubt.expected import HEIGHT
from xlhelpers.survey.doubt.robust import Numbers
from xlhelpers.survey.doubt.weigh import Usual
from xlhelpers.survey.typed.folding import Positions

# lines that show the ground of a plot, as a share of its lines too
FEWEST, SHARE = 3, 1 / 3
# metres and spreads from which on an eye is off
LEAST_RISE, OFF = 0.3, 2.0
# how far such eyes scatter at the most, as a share of the rise
SCATTER = 0.5
# spreads by which heights may be off together and still fit
HEIGHTS_FIT = 1.0


def heights_fit(usual: Usual, lines: Positions) -> bool:
    """Whether the heights of lines, taken together, are what is usual for their trees.

    Parameters
    ----------
    usual : Usual
        All lines as entered.
    lines : ndarray of int
        Positions in the lines.
    """
    away, spread = usual.deviations.away[HEIGHT], usual.deviations.spread[HEIGHT]
    scaled = (away / spread)[lines]
    known = scaled[np.isfinite(scaled)]
    return len(known) >= FEWEST and bool(abs(np.median(known)) < HEIGHTS_FIT)


def level_ground(usual: Usual) -> Usual:
    """Return all lines with the eye that the other trees of their plot put there as the usual one.

    Parameters
    ----------
    usual : Usual
        All lines as entered.

    Returns
    -------
    Usual
        The same object where no plot's ground shows.
    """
    rise = find_rises(usual)
    if not rise.any():
        return usual
    habits = usual.expected.habits
    habits = replace(habits, eye=habits.eye + rise)
    return replace(usual, expected=replace(usual.expected, habits=habits))


def find_rises(usual: Usual) -> Numbers:
    """Return for each line how much higher its plot's ground puts the eye (m), 0 for none."""
    plot = usual.setups["plot_position"].to_numpy(dtype=np.int64)
    away, spread = usual.deviations.away["eye"], usual.deviations.spread["eye"]
    known = np.isfinite(away) & (plot >= 0)
    number = np.bincount(plot[known], minlength=len(usual.survey.plots))
    off = known & (np.abs(away) > np.maximum(OFF * spread, LEAST_RISE))
    rise = np.zeros(len(plot))
    for side in (1.0, -1.0):
        lines = np.flatnonzero(off & (np.sign(away) == side))
        for at, group in group_members(plot[lines], lines).items():
            own = np.array(group)
            middle = float(np.median(away[own]))
            own = own[np.abs(away[own] - middle) <= max(SCATTER * abs(middle), LEAST_RISE)]
            if len(own) >= max(FEWEST, SHARE * number[at]) and heights_fit(usual, own):
                rise[own] = middle
    return rise
