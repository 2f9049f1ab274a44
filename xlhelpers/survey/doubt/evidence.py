"""How well readings go together: one log-likelihood a piece of evidence, summed over the pieces.

Every piece is a Student t density of a deviation from what is usual, so that a single rare value
cannot outweigh all others. Many trees have lost their top or a side of the crown, and hardly any
tree is far too tall for its stem, so that the two sides have tails of their own. A piece that is
not known counts nothing, whatever is supposed. All are densities of the numbers as typed, not of
heights and shares: what one mark of a reading changes is part of them, and so is the division that
a number was typed in.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from math import exp, lgamma, log, pi, sqrt
from typing import Any

import numpy as np

from xlhelpers.measure.instruments import HEIGHT_SCALE
from xlhelpers.survey.doubt.divisions import UNKNOWN, find_division
from xlhelpers.survey.doubt.expected import (
    EYE_WANDERS,
    HEIGHT,
    LOWEST,
    SHARE,
    WIDTH,
    Expected,
    log_of,
)
from xlhelpers.survey.doubt.readings import FREE_DIAMETER, FREE_DISTANCE, Measured, Sheet
from xlhelpers.survey.doubt.robust import Numbers
from xlhelpers.survey.setups.instruments import FIXED_SCALE
from xlhelpers.survey.typed.folding import Flags, Positions

PIECES = (HEIGHT, SHARE, WIDTH, "eye", "stand", "repeat")
# pieces that lie about one value
ABOUT_ONE = (HEIGHT, SHARE, WIDTH, "eye", "repeat", "stem")
LEAST_HEIGHT = 0.5
# what a mistake in a column may spoil
SPOILS = {
    "distance": (HEIGHT, SHARE, "eye", "stand", "repeat"),
    "foot_reading": (HEIGHT, SHARE, "eye", "stand", "repeat", "foot_reading"),
    "base_reading": (SHARE, "base_reading"),
    "tip_reading": (HEIGHT, SHARE, "stand", "repeat", "tip_reading"),
    "tip_offset": (HEIGHT, SHARE, "stand", "repeat"),
    "diameter": (HEIGHT, WIDTH, "stem", "diameter"),
    "width_widest": (HEIGHT, WIDTH, "width_widest", "width_across"),
    "width_across": (HEIGHT, WIDTH, "width_widest", "width_across"),
    "scale": (HEIGHT, SHARE, "eye", "stand", "repeat"),
}
# differences between divisions that do not make a line doubtful by themselves
LITTLE = 2.0
# how often a foot below eye level is marked as above it
MARKED_BELOW = 0.005
# degrees of freedom below and above what is usual; those of pieces of the tree fit the trees of
# seven cities (McPherson et al. 2016) best, rounded
EVEN = (5.0, 5.0)
TAILS = {HEIGHT: (5.0, 15.0), WIDTH: (5.0, 15.0), SHARE: (8.0, 4.0), "stem": (5.0, 30.0)}
# spreads of the pieces when nothing is known but that somebody typed a number
ANYTHING = {
    HEIGHT: 0.8,
    SHARE: 0.35,
    WIDTH: 0.8,
    "eye": 2.0,
    "stand": 0.8,
    "repeat": 0.6,
    "stem": 1.2,
}
# a height under breast height is no tree of the survey, a base outside the tree is no base
IMPOSSIBLE = -12.0
# metres below the foot that a crown base rarely is
LOWEST_BASE = -0.3


@dataclass(frozen=True)
class Deviations:
    """How far lines are from what is usual, by piece; NaN where a piece is not known.

    `away` and `spread` are those of the pieces that lie about one value. `mark` is the log of what
    one mark of the reading changes of such a piece, so that densities of different readings can be
    compared. `far` is the log density of the distance and `anywhere` that of a mistaken one,
    `division` that of each number's division, and `typed` that of all but distance and diameter.
    """

    away: dict[str, Numbers]
    spread: dict[str, Numbers]
    mark: dict[str, Numbers]
    far: Numbers
    anywhere: Numbers
    division: dict[str, Numbers]
    typed: Numbers


@np.errstate(all="ignore")
def compute_deviations(expected: Expected, sheet: Sheet, seen: Measured) -> Deviations:
    """Return how far measured lines are from what is usual for them."""
    line, habits = sheet.line, expected.habits
    standing, free = habits.standing, sheet.columns["free"]
    total, level = log_of(seen.total), log_of(seen.level)
    share = np.clip(seen.base / np.maximum(seen.total, 0.05), -2.0, 3.0)
    stem = np.log(np.where(seen.diameter > 0, seen.diameter, np.nan))
    away = {
        HEIGHT: total - expected.usual(HEIGHT, line, seen.diameter),
        SHARE: share - expected.usual_share(line, total),
        WIDTH: log_of(seen.width) - expected.usual(WIDTH, line, seen.diameter),
        "eye": seen.eye + habits.along[line] * seen.level - habits.eye[line],
        "stand": level - standing.level[line] - standing.rise * total,
        "repeat": total - expected.others[line],
        "stem": stem - expected.stem[line],
    }
    spread = {q: expected.spread[q][line] for q in (HEIGHT, WIDTH, SHARE)}
    _beside_width(away, spread, expected.together)
    spread["eye"] = np.hypot(EYE_WANDERS, habits.slope[line] * seen.level)
    spread["stand"] = standing.spread[line]
    spread["repeat"] = np.full(len(line), expected.repeat_spread["total"])
    spread["stem"] = expected.stem_spread[line]
    division = _weigh_divisions(expected, sheet)
    typed = sheet.number("distance") / expected.length * 100
    far, of_set = standing.log_density(line, typed, away["stand"], total, division["distance"])
    untyped = standing.log_free(line, away["stand"], total)
    with np.errstate(all="ignore"):
        odd = np.maximum(division["distance"], UNKNOWN[find_division(typed / 100)])
        anywhere = log_density(away["stand"], ANYTHING["stand"]) - np.log(typed) + odd
    mark = _measure_marks(expected, sheet, seen)
    of_stem = division["diameter"] - stem + log(expected.girth)
    mark["stem"] = np.where(free == FREE_DIAMETER, 0.0, of_stem)
    return Deviations(
        away=away | {"stand": np.where(of_set, 0.0, away["stand"])},
        spread=spread,
        mark=mark,
        far=np.where(free == FREE_DISTANCE, untyped, far),
        anywhere=anywhere,
        division=division,
        typed=_weigh_typed(expected, sheet, division),
    )


def _weigh_divisions(
    expected: Expected, sheet: Sheet, shares: Numbers | None = None
) -> dict[str, Numbers]:
    """Return the log density of the division of every typed number, 0 for a blank.

    With `shares` those of a mistake, by division, in place of the survey's own.
    """
    units = {
        "diameter": expected.girth,
        "distance": expected.length,
        "width_widest": expected.length,
        "width_across": expected.length,
    }
    densities = {}
    for name, own in expected.divisions.items():
        values = sheet.number(name) / units.get(name, 1.0)
        if shares is None:
            densities[name] = own.log_density(sheet.line, values)
        else:
            densities[name] = np.where(np.isnan(values), 0.0, shares[find_division(values)])
    return densities


@np.errstate(all="ignore")
def _measure_marks(expected: Expected, sheet: Sheet, seen: Measured) -> dict[str, Numbers]:
    """Return the log of what one mark of a reading changes of its piece, 0 without a reading."""
    scale, base = sheet.columns["scale"], expected.scale_distance[sheet.line]
    degrees = scale == "degrees"
    by_ratio = np.where(scale == "percent", 0.01, np.where(scale == "topographic", 1 / 66, np.nan))
    by_ratio = np.where(scale == FIXED_SCALE, 1 / base, by_ratio)
    level = np.log(np.maximum(seen.level, LOWEST))
    height = np.log(np.maximum(seen.total, LEAST_HEIGHT))

    def rise(name: str) -> Numbers:
        """Return the log of the metres that one mark is worth; a display shows them itself."""
        reading = sheet.number(name)
        angle = np.radians(np.where(degrees, np.clip(reading, -89.0, 89.0), 0.0))
        per_mark = np.where(degrees, np.radians(1.0) / np.cos(angle) ** 2, by_ratio)
        return np.where(scale == HEIGHT_SCALE, 0.0, level + np.log(per_mark))

    base_rise = np.where(np.isfinite(sheet.number("base_by_pole")), np.nan, rise("base_reading"))
    with np.errstate(all="ignore"):
        widths = [
            np.nan_to_num(np.log(sheet.number(name) / expected.length))
            for name in ("width_widest", "width_across")
        ]
    return {
        HEIGHT: np.nan_to_num(rise("tip_reading") - height),
        SHARE: np.nan_to_num(base_rise - height),
        "eye": np.nan_to_num(rise("foot_reading")),
        WIDTH: -widths[0] - widths[1],
    }


def _beside_width(away: dict[str, Numbers], spread: dict[str, Numbers], together: float) -> None:
    """Let a height be judged beside the crown's width, where that itself is not unusual."""
    wide = np.clip(away[WIDTH] / spread[WIDTH], -2.0, 2.0)
    known = np.isfinite(wide)
    away[HEIGHT] = away[HEIGHT] - np.where(known, together * wide, 0.0) * spread[HEIGHT]
    narrower = np.where(known, np.sqrt(1 - together * together), 1.0)
    spread[HEIGHT] = spread[HEIGHT] * narrower


def log_density(
    away: Numbers, spread: Numbers | float, tails: tuple[float, float] = EVEN
) -> Numbers:
    """Return the log of the Student t density of deviations with a spread.

    `tails` are the degrees of freedom below and above.
    """
    return _find_constant(tails) - np.log(spread) - find_distance(away, spread, tails)


def find_distance(away: Numbers, spread: Numbers | float, tails: tuple[float, float]) -> Numbers:
    """Return how much less likely deviations are than none, as logarithm."""
    scaled, (below, above) = away / spread, tails
    freedom = below if below == above else np.where(scaled < 0, below, above)
    return np.asarray(0.5 * (freedom + 1) * np.log1p(scaled * scaled / freedom))


@cache
def _find_constant(tails: tuple[float, float]) -> float:
    areas = [0.5 * sqrt(n * pi) * exp(lgamma(n / 2) - lgamma((n + 1) / 2)) for n in tails]
    return -log(sum(areas))


@np.errstate(all="ignore")
def _weigh_typed(expected: Expected, sheet: Sheet, division: dict[str, Numbers]) -> Numbers:
    """Return the log density of the divisions of readings and widths, and of the crown's shape."""
    with np.errstate(all="ignore"):
        ratio = np.log(sheet.number("width_widest") / sheet.number("width_across"))
    total = np.nan_to_num(log_density(ratio, expected.roundness))
    for name, value in division.items():
        if name not in ("distance", "diameter"):
            total = total + value
    foot, marked = sheet.number("foot_reading"), sheet.columns["ticked"]
    above = np.where(marked, log(expected.ticked), log(1 - expected.ticked))
    return total + np.where(foot > 0, above, np.where(marked, log(MARKED_BELOW), 0.0))


@np.errstate(all="ignore")
def weigh_pieces(deviations: Deviations) -> dict[str, Numbers]:
    """Return the log-likelihood of every piece, NaN where it is not known."""
    away, spread, mark = deviations.away, deviations.spread, deviations.mark
    pieces = {
        piece: log_density(away[piece], spread[piece], TAILS.get(piece, EVEN))
        + mark.get(piece, 0.0)
        for piece in ABOUT_ONE
    }
    pieces["stand"] = np.where(np.isnan(away["stand"]), np.nan, deviations.far)
    pieces["typed"] = deviations.typed
    return pieces


def keep_marks(
    deviations: Deviations, entered: Deviations, line: Positions, as_entered: Flags
) -> Deviations:
    """Return deviations of supposed lines; where `as_entered`, the typed numbers stay."""
    mark = {
        piece: np.where(as_entered, entered.mark[piece][line], value)
        for piece, value in deviations.mark.items()
    }
    typed = np.where(as_entered, entered.typed[line], deviations.typed)
    far = np.where(as_entered, entered.far[line], deviations.far)
    return replace(deviations, mark=mark, typed=typed, far=far)


@np.errstate(all="ignore")
def find_lacking(
    expected: Expected, sheet: Sheet, deviations: Deviations, known: dict[str, Flags]
) -> dict[str, Numbers]:
    """Return about how much likelier each line as entered could be, by piece and by column."""
    away, spread, division = deviations.away, deviations.spread, deviations.division
    better = {
        piece: find_distance(away[piece], spread[piece], TAILS.get(piece, EVEN))
        for piece in ABOUT_ONE
    }
    typed = sheet.number("distance") / expected.length * 100
    best = expected.habits.standing.best(sheet.line, typed, division["distance"])
    better["stand"] = np.maximum(best - deviations.far - LITTLE, 0.0)
    gains = {piece: np.where(known[piece], value, 0.0) for piece, value in better.items()}
    for name, own in expected.divisions.items():
        if name != "distance":
            gains[name] = np.maximum(own.best(sheet.line) - division[name] - LITTLE, 0.0)
    foot, marked = sheet.number("foot_reading"), sheet.columns["ticked"]
    wrong = np.where(marked, foot <= 0, foot > 0)
    gains["foot_reading"] = gains["foot_reading"] + np.where(wrong, -log(MARKED_BELOW), 0.0)
    return gains


def sum_pieces(pieces: dict[str, Numbers], known: dict[str, Flags]) -> Numbers:
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
    below = IMPOSSIBLE / 3 * (seen.base < LOWEST_BASE)
    return np.asarray(below + IMPOSSIBLE * low + half * outside + half * beyond + half * stem)


@np.errstate(all="ignore")
def weigh_unknown(
    pieces: dict[str, Numbers], deviations: Deviations, expected: Expected, sheet: Sheet
) -> Numbers:
    """Return the log-likelihood of an unknown mistake.

    Every mistake spoils some pieces and leaves the others: those of the stem, the crown base, the
    eye, or of the sight as a whole.
    """
    known = {piece: np.isfinite(value) for piece, value in pieces.items()}
    spoilt = (
        (HEIGHT, "stand", "repeat"),
        (HEIGHT, WIDTH, "stem"),
        (SHARE,),
        ("eye",),
        (WIDTH,),
        (HEIGHT, "stand", "eye", "repeat"),
        (HEIGHT, SHARE, "stand", "eye", "repeat"),
    )
    division, mark = _weigh_divisions(expected, sheet, UNKNOWN), deviations.mark
    names = [name for name in division if name != "distance"]
    odd = np.max([division[name] - deviations.division[name] for name in names], axis=0)
    sums = []
    for group in spoilt:
        broad = {
            p: deviations.anywhere
            if p == "stand"
            else log_density(deviations.away[p], ANYTHING[p]) + mark.get(p, 0.0)
            for p in group
        }
        sums.append(sum_pieces(pieces | broad, known))
    return np.asarray(np.logaddexp.reduce(sums, axis=0) - log(len(spoilt)) + np.maximum(odd, 0.0))
