"""How well readings go together: one log-likelihood a piece of evidence, summed over the pieces.

Every piece is a Student t density (five degrees of freedom) of a deviation from what is usual, so
that a single rare value cannot outweigh all others. Densities are those of ln height, ln width, the
crown base's share of the height, the implied eye height in metres and ln distance; a piece that is
not known counts nothing, whatever is supposed. The change of a reading's own density under a
supposed mistake is left out: it is less than the difference between the priors.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import lgamma, log, pi
from typing import Any

import numpy as np
from numpy.typing import NDArray

from xlhelpers.survey.doubt.expected import EYE_WANDERS, HEIGHT, SHARE, WIDTH, Expected, log_of
from xlhelpers.survey.doubt.readings import Measured
from xlhelpers.survey.doubt.robust import Numbers
from xlhelpers.survey.typed.folding import Positions

PIECES = (HEIGHT, SHARE, WIDTH, "eye", "stand", "repeat")
FREEDOM = 5.0
_CONSTANT = lgamma((FREEDOM + 1) / 2) - lgamma(FREEDOM / 2) - 0.5 * log(FREEDOM * pi)
# spreads of the pieces when nothing is known but that somebody typed a number
ANYTHING = {HEIGHT: 0.8, SHARE: 0.35, WIDTH: 0.8, "eye": 2.0, "stand": 0.8, "repeat": 0.6}
# a height under breast height is no tree of the survey, a base outside the tree is no base
IMPOSSIBLE = -12.0


@dataclass(frozen=True)
class Deviations:
    """Deviation from what is usual and its spread, by piece; NaN where a piece is not known."""

    away: dict[str, Numbers]
    spread: dict[str, Numbers]


def compute_deviations(expected: Expected, line: Positions, seen: Measured) -> Deviations:
    """Return how far measured lines are from what is usual for them."""
    total = log_of(seen.total)
    habits = expected.habits
    share = np.clip(seen.base / np.maximum(seen.total, 0.05), -2.0, 3.0)
    away = {
        HEIGHT: total - expected.usual(HEIGHT, line, seen.diameter),
        SHARE: share - expected.level[SHARE][line],
        WIDTH: log_of(seen.width) - expected.usual(WIDTH, line, seen.diameter),
        "eye": seen.eye + habits.along[line] * seen.level - habits.eye[line],
        "stand": log_of(seen.level) - habits.stand[line] - habits.stand_rise * total,
        "repeat": total - expected.others[line],
    }
    spread = {q: expected.spread[q][line] for q in (HEIGHT, SHARE, WIDTH)}
    _beside_width(away, spread, expected.together)
    spread["eye"] = np.hypot(EYE_WANDERS, habits.slope[line] * seen.level)
    spread["stand"] = habits.stand_spread[line]
    spread["repeat"] = np.full(len(line), expected.repeat_spread)
    return Deviations(away, spread)


def _beside_width(away: dict[str, Numbers], spread: dict[str, Numbers], together: float) -> None:
    """Let a height be judged beside the crown's width, where that itself is not unusual."""
    wide = np.clip(away[WIDTH] / spread[WIDTH], -2.0, 2.0)
    known = np.isfinite(wide)
    away[HEIGHT] = away[HEIGHT] - np.where(known, together * wide, 0.0) * spread[HEIGHT]
    narrower = np.where(known, np.sqrt(1 - together * together), 1.0)
    spread[HEIGHT] = spread[HEIGHT] * narrower


def log_density(away: Numbers, spread: Numbers | float) -> Numbers:
    """Return the log of the Student t density of deviations with a spread."""
    scaled = away / spread
    return np.asarray(
        _CONSTANT - np.log(spread) - 0.5 * (FREEDOM + 1) * np.log1p(scaled * scaled / FREEDOM)
    )


def weigh_pieces(deviations: Deviations) -> dict[str, Numbers]:
    """Return the log-likelihood of every piece, NaN where it is not known."""
    away, spread = deviations.away, deviations.spread
    return {piece: log_density(away[piece], spread[piece]) for piece in PIECES}


def sum_pieces(pieces: dict[str, Numbers], known: dict[str, NDArray[np.bool_]]) -> Numbers:
    """Return the sum over the pieces that are known of the line as entered.

    A piece that a supposed mistake loses makes the supposition impossible.
    """
    total = np.zeros(len(pieces[HEIGHT]))
    for piece, value in pieces.items():
        lost = known[piece] & np.isnan(value)
        total += np.where(known[piece], np.nan_to_num(value), 0.0)
        total = np.where(lost, -np.inf, total)
    return total


def penalize_impossible(seen: Measured, rules: Mapping[str, Any]) -> Numbers:
    """Return the penalty for what no tree of the survey is.

    Lower than breast height, a crown base outside the tree, or beyond a limit of the survey rules.
    """
    low = seen.total < float(rules["breast_height"])
    outside = (seen.base > seen.total) | (seen.base < -0.1 * np.maximum(seen.total, 1.0) - 0.3)
    beyond = (seen.total > float(rules["limit_height"])) | (
        seen.width > float(rules["limit_width"])
    )
    stem = (seen.diameter > float(rules["limit_diameter"])) | (
        seen.diameter < float(rules["smallest_diameter"])
    )
    half = IMPOSSIBLE / 2
    return np.asarray(IMPOSSIBLE * low + half * outside + half * beyond + half * stem)


def weigh_unknown(pieces: dict[str, Numbers], deviations: Deviations) -> Numbers:
    """Return the log-likelihood of an unknown mistake.

    Every mistake spoils some pieces and leaves the others: those of the stem, the crown base, the
    eye, or of the sight as a whole.
    """
    known = {piece: np.isfinite(value) for piece, value in pieces.items()}
    spoilt = (
        (HEIGHT, "stand", "repeat"),
        (HEIGHT, WIDTH),
        (SHARE,),
        ("eye",),
        (HEIGHT, "stand", "eye", "repeat"),
        (HEIGHT, SHARE, "stand", "eye", "repeat"),
    )
    sums = []
    for group in spoilt:
        broad = {p: log_density(deviations.away[p], ANYTHING[p]) for p in group}
        sums.append(sum_pieces(pieces | broad, known))
    return np.asarray(np.logaddexp.reduce(sums, axis=0) - log(len(spoilt)))
