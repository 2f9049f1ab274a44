"""Crown bases that were aimed at somewhere else: at one low branch, or at the ground below.

Who aims at the ground under the crown, or at foliage that lies on it, aims at a point between the
crew and the stem. Where the ground slopes evenly from the crew to the stem, the sight then meets
the stem's place below its foot by e d / (L - d): e the eye height, L the level distance and d how
far before the stem the point lies. So the width of the crown says how far below the foot it can be.
"""

from collections.abc import Iterator
from math import log

import numpy as np

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.survey.doubt.candidates import Candidates, Doubtful, candidates_of
from xlhelpers.survey.doubt.evidence import LOWEST_BASE, TAILS, log_density
from xlhelpers.survey.doubt.expected import SHARE, WIDTH, log_of
from xlhelpers.survey.doubt.robust import Numbers
from xlhelpers.survey.typed.folding import Flags

# where the point lies before the stem, as a share of the crown's radius: middle and spread; common
# practice, no source
AIMED_AT, AIMED_WITHIN = 0.7, 0.3
# metres by which the ground is uneven, and up to which such a sight may lie above the foot
UNEVEN, HIGHEST = 0.15, 0.1
# tries of a base that is not known, in spreads of the usual share
_TRIES = (-1.0, 0.0, 1.0)


def reading_at(doubtful: Doubtful, point: str, wanted: Numbers) -> Numbers:
    """Return the tip or base reading that gives a height, on the ratio scales and in degrees.

    Parameters
    ----------
    doubtful : Doubtful
        The lines.
    point : str
        ``tip`` or ``base``.
    wanted : ndarray
        Heights above the foot (m).

    Returns
    -------
    ndarray
        NaN where no reading gives it.
    """
    seen, reading = doubtful.seen, doubtful.sheet.number(f"{point}_reading")
    height = seen.total if point == "tip" else seen.base
    with np.errstate(all="ignore"):
        old, new = (height - seen.eye) / seen.level, (wanted - seen.eye) / seen.level
        degrees = doubtful.sheet.columns["scale"] == "degrees"
        new_reading = np.where(degrees, np.degrees(np.arctan(new)), reading * new / old)
    most = FIELD_SHEET[f"{point}_reading"].high
    return np.where(np.isfinite(new_reading) & (np.abs(new_reading) < most), new_reading, np.nan)


def _is_sighted(doubtful: Doubtful) -> Flags:
    return np.isnan(doubtful.sheet.number("base_by_pole"))


def _base_at(doubtful: Doubtful, away: float) -> Numbers:
    """Return the base reading that puts the base so many spreads from its usual share."""
    seen, line, expected = doubtful.seen, doubtful.sheet.line, doubtful.expected
    usual = expected.usual_share(line, log_of(seen.total))
    share = np.maximum(usual + away * expected.spread[SHARE][line], 0.0)
    return reading_at(doubtful, "base", share * seen.total)


def suppose_low_branch(doubtful: Doubtful) -> Iterator[Candidates]:
    """Suppose a base above the ground to be one low branch, and the base about where it usually is.

    Parameters
    ----------
    doubtful : Doubtful
        The lines.
    """
    seen = doubtful.seen
    usual = doubtful.expected.usual_share(doubtful.sheet.line, log_of(seen.total))
    spread = doubtful.expected.spread[SHARE][doubtful.sheet.line]
    for away in _TRIES:
        base = _base_at(doubtful, away)
        low = (seen.base < (usual + away * spread) * seen.total) & (seen.base >= LOWEST_BASE)
        columns = {"base_reading": base, "kept": np.ones(len(base), dtype=bool)}
        mask = low & np.isfinite(base) & _is_sighted(doubtful)
        yield candidates_of(mask, columns, -log(len(_TRIES)))


def suppose_ground_below(doubtful: Doubtful) -> Iterator[Candidates]:
    """Suppose that the base was aimed at the ground under the crown.

    Parameters
    ----------
    doubtful : Doubtful
        The lines.
    """
    seen, line, expected = doubtful.seen, doubtful.sheet.line, doubtful.expected
    base = _base_at(doubtful, 0.0)
    with np.errstate(all="ignore"):
        width = np.where(
            seen.width > 0, seen.width, np.exp(expected.usual(WIDTH, line, seen.diameter))
        )
        below = -seen.base / expected.habits.eye[line]
        part = seen.level * below / (1 + below) / (width / 2)
        per_metre = seen.level / (1 + below) ** 2 / expected.habits.eye[line] / (width / 2)
        spread = np.hypot(AIMED_WITHIN, UNEVEN * per_metre)
        aimed = log_density(part - AIMED_AT, spread) + np.log(per_metre * seen.total)
    # the typed reading is as likely as this aim, whatever the base itself is
    share = aimed - log_density(np.zeros(len(line)), expected.spread[SHARE][line], TAILS[SHARE])
    mask = (seen.base < HIGHEST) & np.isfinite(base) & np.isfinite(share) & _is_sighted(doubtful)
    rows = np.flatnonzero(mask)
    columns = {"base_reading": base[rows], "kept": np.ones(len(rows), dtype=bool)}
    yield Candidates(rows, columns, share[rows])
