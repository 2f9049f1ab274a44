"""The mistakes that crews and clerks make, as suppositions: scales, units, swaps, signs, slips.

All that is one slip away in the sense of Damerau and Levenshtein is supposed and weighed, each a
mistake of its own kind; a digit typed for another is left out, because every number is one such
slip from ninety others. A number is its digits without the decimal point and the place of that
point; blanks and 0 have no slips.

Each supposes what was right and gives the cells as they should then read. The priors are rough
shares of the lines; common practice, no source. They matter little: a real mistake changes the
likelihood far more than they do.
"""

from collections.abc import Callable, Iterator, Sequence
from math import pi
from typing import Any

import numpy as np

from xlhelpers.fields.quantities import QUANTITIES
from xlhelpers.measure.slopes import SCALES
from xlhelpers.survey.doubt.candidates import (
    BASES,
    Candidates,
    Doubtful,
    Mistake,
    base_name,
    candidates_of,
)
from xlhelpers.survey.doubt.expected import HEIGHT, SHARE
from xlhelpers.survey.doubt.readings import READ
from xlhelpers.survey.doubt.robust import Numbers
from xlhelpers.survey.setups.instruments import FIXED_SCALE
from xlhelpers.survey.typed.folding import Positions

# fields whose slips are supposed, the words for each, and the quantity it is typed in
TYPED: dict[str, tuple[str, str]] = {
    "distance": ("distance", "length"),
    "foot_reading": ("foot reading", ""),
    "base_reading": ("crown base reading", ""),
    "tip_reading": ("tip reading", ""),
    "diameter": ("diameter", "diameter"),
    "width": ("crown width", "length"),
}
MOST_DECIMALS = 2
# places that a digit may have fallen out of, from the last whole digit up
PLACES = 3
# rows, the numbers that they may have been, log of the weight of this way of slipping
Made = Iterator[tuple[Positions, Numbers, float]]
# a 0 in front is rarely written
LOST_ZERO = -2.3


def typed_unit(doubtful: Doubtful, name: str) -> float:
    """Return the length (m) or diameter (cm) of one typed unit of a field."""
    quantity = TYPED[name][1]
    units: Any = doubtful.survey.units
    return QUANTITIES[quantity].factor(units) if quantity else 1.0


def digits(values: Numbers) -> tuple[Numbers, Numbers]:
    """Return typed numbers without sign and point, and how many decimals they were typed with.

    Decimals that end in 0 are not known to have been typed.
    """
    size = np.round(np.abs(np.nan_to_num(values)), 6)
    places = np.full(len(size), float(MOST_DECIMALS))
    for decimals in range(MOST_DECIMALS - 1, -1, -1):
        fits = np.abs(size * 10**decimals - np.round(size * 10**decimals)) < 1e-6
        places = np.where(fits, decimals, places)
    return np.round(size * 10**places), places


def swap_digits(values: Numbers) -> Made:
    """Yield the numbers with two neighbouring digits swapped.

    A 0 that came to the front was lost when typing: 9 may be 90, and 18 may be 108.
    """
    whole, places = digits(values)
    for place in range(5):
        at = 10**place
        low, high = whole // at % 10, whole // (10 * at) % 10
        new = (whole + 9 * (low - high) * at) / 10**places
        # not so that a 0 would come to the front
        inside = (whole >= 10 * at) & ((low > 0) | (whole >= 100 * at))
        rows = np.flatnonzero((low != high) & inside)
        yield rows, new[rows], 0.0
        rows = np.flatnonzero((whole >= at) & (whole < 10 * at) & (place >= places))
        yield rows, new[rows], LOST_ZERO


def add_digit(values: Numbers) -> Made:
    """Yield the numbers with one more whole digit anywhere."""
    whole, places = digits(values)
    for up in range(PLACES + 1):
        at = 10 ** (places + up)
        left, right = whole // at, whole % at
        for digit in range(10):
            # a digit beside one of its own kind is the same number from either side
            leading = (left > 0) | (digit > 0)
            rows = np.flatnonzero((whole > 0) & (whole >= at / 10) & leading)
            yield rows, ((left * 10 * at + digit * at + right) / 10**places)[rows], 0.0


def drop_doubled(values: Numbers) -> Made:
    """Yield the numbers with one of two equal neighbouring digits left out."""
    whole, places = digits(values)
    for place in range(4):
        at = 10**place
        low, high = whole // at % 10, whole // (10 * at) % 10
        rows = np.flatnonzero((whole >= 10 * at) & (low == high))
        # a doubled decimal leaves one decimal less
        fewer = np.where(place < places, places - 1, places)
        yield rows, ((whole // (10 * at) * at + whole % at) / 10**fewer)[rows], 0.0


def move_point(values: Numbers) -> Made:
    """Yield the numbers with the point one place on and one place back."""
    rows = np.flatnonzero(np.abs(np.nan_to_num(values)) > 0)
    for factor in (0.1, 10.0):
        yield rows, np.abs(values[rows]) * factor, 0.0


def _suppose(name: str, slip: Callable[[Numbers], Made]) -> Callable[[Doubtful], Any]:
    def suppose(doubtful: Doubtful) -> Sequence[Candidates]:
        unit = typed_unit(doubtful, name)
        values = np.round(doubtful.sheet.number(name) / unit, 9)
        signs = np.sign(np.nan_to_num(values))
        made = [(rows, new * signs[rows], by) for rows, new, by in slip(values) if len(rows)]
        if not made:
            return []
        count = np.bincount(np.concatenate([rows for rows, *_ in made]), minlength=len(values))
        share = -np.log(np.maximum(count, 1))
        return [Candidates(rows, {name: new * unit}, share[rows] + by) for rows, new, by in made]

    return suppose


# a slip, its prior, what undoes it, and words for it
_KINDS: tuple[tuple[str, float, Callable[[Numbers], Made], str], ...] = (
    ("decimal", 0.0015, move_point,
     "the decimal point in the {what} is in the wrong place: {old} should be {new}"),
    ("transposed", 0.004, swap_digits,
     "two digits of the {what} are swapped: {old} should be {new}"),
    ("dropped", 0.001, add_digit,
     "a digit of the {what} is missing: {old} could be {new}"),
    ("doubled", 0.001, drop_doubled,
     "a digit of the {what} was typed twice: {old} should be {new}"),
)  # fmt: skip
SLIPS: tuple[Mistake, ...] = tuple(
    Mistake(
        f"{kind}-{name.removesuffix('_reading')}",
        prior,
        _suppose(name, slip),
        words=words.replace("{what}", what),
        look=f"Is the {what} right?",
    )
    for kind, prior, slip, words in _KINDS
    for name, (what, _) in TYPED.items()
)
# what the ids of the mistakes about another fixed-distance scale begin with
OTHER_BASE = "scale-for-"
FOOT = 0.3048
_LARGEST = {"degrees": 89.0, "percent": 600.0, "topographic": 600.0}
# tries of a distance that is known to be another's, in natural logarithms of the usual one
_TRIES = np.array([-0.6, -0.45, -0.3, -0.2, -0.1, 0.0, 0.1, 0.2, 0.3, 0.45, 0.6])
# parts of what the near edge of a crown can add at most, of a height as a lean, of a dead top
_EDGE = (0.3, 0.5, 0.7, 0.9)
_LEANS = (-0.2, -0.12, 0.12, 0.2)
_DEAD = (1.2, 1.35, 1.5)


def suppose_scale(scale: str) -> Callable[[Doubtful], Sequence[Candidates]]:
    """Suppose that the readings were taken on another scale of the instrument."""

    def suppose(doubtful: Doubtful) -> Sequence[Candidates]:
        now = doubtful.sheet.columns["scale"]
        sighted = np.isin(now, [name for name in SCALES if name != "fixed distance"])
        largest = np.max([np.abs(np.nan_to_num(doubtful.sheet.number(n))) for n in READ], axis=0)
        mask = sighted & (now != scale) & doubtful.has[scale] & (largest <= _LARGEST[scale])
        return [candidates_of(mask, {"scale": np.full(len(now), scale, dtype=object)})]

    return suppose


def suppose_base(name: str, distance: float) -> Callable[[Doubtful], Sequence[Candidates]]:
    """Suppose that the readings were taken on the instrument's scale for another distance."""

    def suppose(doubtful: Doubtful) -> Sequence[Candidates]:
        mask = (doubtful.sheet.columns["scale"] == FIXED_SCALE) & doubtful.has[name]
        by = doubtful.scale_distance / distance
        return [
            candidates_of(
                mask, {n: doubtful.sheet.number(n) * by for n in (*READ, "slope_reading")}
            )
        ]

    return suppose


def multiply(
    names: tuple[str, ...], factor: float, us_factor: float | None = None
) -> Callable[[Doubtful], Sequence[Candidates]]:
    """Suppose that cells should be a factor of what they are; another one in a us survey."""

    def suppose(doubtful: Doubtful) -> Sequence[Candidates]:
        by = factor if us_factor is None or doubtful.survey.units == "metric" else us_factor
        columns = {name: doubtful.sheet.number(name) * by for name in names}
        return [candidates_of(np.isfinite(columns[names[0]]), columns)]

    return suppose


def _shares(doubtful: Doubtful) -> Sequence[Candidates]:
    """Suppose that readings were typed with a % sign."""
    largest = np.max([np.abs(np.nan_to_num(doubtful.sheet.number(n))) for n in READ], axis=0)
    columns = {name: doubtful.sheet.number(name) * 100 for name in READ}
    return [candidates_of((largest > 0) & (largest < 6), columns)]


def _sign(doubtful: Doubtful) -> Sequence[Candidates]:
    foot = doubtful.sheet.number("foot_reading")
    return [candidates_of(np.abs(np.nan_to_num(foot)) > 0, {"foot_reading": -foot})]


def swap(one: str, other: str) -> Callable[[Doubtful], Sequence[Candidates]]:
    """Suppose that two readings are in each other's box."""

    def suppose(doubtful: Doubtful) -> Sequence[Candidates]:
        a, b = doubtful.sheet.number(one), doubtful.sheet.number(other)
        return [candidates_of(np.isfinite(a) & np.isfinite(b) & (a != b), {one: b, other: a})]

    return suppose


def _along_slope(doubtful: Doubtful) -> Sequence[Candidates]:
    """Suppose a level distance to be one along the slope that the eye's own height leaves over."""
    level = doubtful.seen.level
    eye = doubtful.expected.habits.eye[doubtful.sheet.line]
    with np.errstate(all="ignore"):
        slope = (eye - doubtful.seen.eye) / level
        shorter = doubtful.sheet.number("distance") / np.sqrt(1 + slope * slope)
    mask = (doubtful.sheet.columns["distance_kind"] == "level") & (np.abs(slope) > 0.15)
    return [candidates_of(mask & np.isfinite(shorter), {"distance": shorter})]


def _neighbour(doubtful: Doubtful) -> Sequence[Candidates]:
    """Suppose a distance that is the same as a neighbouring line's not to be this tree's own.

    The right one is not known: it is what the tree's usual height and the sighted angles give.
    """
    keyed = doubtful.sheet.number("distance")
    mask = (keyed == doubtful.above) | (keyed == doubtful.below)
    usual = np.exp(_usual_height(doubtful))
    with np.errstate(all="ignore"):
        own = keyed * usual / doubtful.seen.total
    mask = mask & np.isfinite(own) & (own > 1) & (own < 150)
    rows = np.flatnonzero(mask)
    share = -np.log(len(_TRIES))
    return [Candidates(rows, {"distance": own[rows] * np.exp(step)}, share) for step in _TRIES]


def _usual_height(doubtful: Doubtful) -> Numbers:
    return doubtful.expected.usual(HEIGHT, doubtful.sheet.line, doubtful.seen.diameter)


def _tip_at(doubtful: Doubtful, height: Numbers) -> Numbers:
    """Return the tip reading that gives a height, on the ratio scales and in degrees."""
    seen, tip = doubtful.seen, doubtful.sheet.number("tip_reading")
    return _reading_at(doubtful, height, seen.total, tip)


def _reading_at(doubtful: Doubtful, wanted: Numbers, height: Numbers, reading: Numbers) -> Numbers:
    with np.errstate(all="ignore"):
        eye, level = doubtful.seen.eye, doubtful.seen.level
        old, new = (height - eye) / level, (wanted - eye) / level
        degrees = doubtful.sheet.columns["scale"] == "degrees"
        found = np.where(degrees, np.degrees(np.arctan(new)), reading * new / old)
    return np.where(np.isfinite(found) & (np.abs(found) < 600), found, np.nan)


def _near_edge(doubtful: Doubtful) -> Sequence[Candidates]:
    """Suppose the near edge of a broad crown for the tip: at most half a width times the slope."""
    seen = doubtful.seen
    with np.errstate(all="ignore"):
        slope = (seen.total - seen.eye) / seen.level
        most = seen.width / 2 * slope
    found = []
    for part in _EDGE:
        tip = _tip_at(doubtful, seen.total - part * most)
        mask = doubtful.broad & (most > 0.05 * seen.total) & np.isfinite(tip)
        found.append(candidates_of(mask, {"tip_reading": tip}, -np.log(len(_EDGE))))
    return found


def _lean(doubtful: Doubtful) -> Sequence[Candidates]:
    straight = np.isnan(doubtful.sheet.number("tip_offset"))
    return [
        candidates_of(
            straight & (np.abs(part) * doubtful.seen.total < doubtful.seen.level / 2),
            {"tip_offset": part * doubtful.seen.total},
            -np.log(len(_LEANS)),
        )
        for part in _LEANS
    ]


def _dead_top(doubtful: Doubtful) -> Sequence[Candidates]:
    """Suppose that the living top was sighted for the tip of a tree whose top is dead."""
    found = []
    for part in _DEAD:
        tip = _tip_at(doubtful, part * doubtful.seen.total)
        found.append(candidates_of(np.isfinite(tip), {"tip_reading": tip}, -np.log(len(_DEAD))))
    return found


def _base_elsewhere(upward: bool) -> Callable[[Doubtful], Sequence[Candidates]]:
    """Suppose that the crown base is where it usually is, above or below the one sighted."""

    def suppose(doubtful: Doubtful) -> Sequence[Candidates]:
        seen, line = doubtful.seen, doubtful.sheet.line
        usual, spread = doubtful.expected.level[SHARE][line], doubtful.expected.spread[SHARE][line]
        found = []
        for away in (-1.0, 0.0, 1.0):
            wanted = np.maximum(usual + away * spread, 0.0) * seen.total
            reading = doubtful.sheet.number("base_reading")
            base = _reading_at(doubtful, wanted, seen.base, reading)
            below = seen.base < -0.3 if not upward else (seen.base < wanted) & (seen.base >= -0.3)
            pole = np.isfinite(doubtful.sheet.number("base_by_pole"))
            mask = below & np.isfinite(base) & ~pole
            found.append(candidates_of(mask, {"base_reading": base}, -np.log(3)))
        return found

    return suppose


_SCALE, _BASE = "Which scale is marked?", "Which of the instrument's scales was used?"
_BOXES, _UNIT = "Are the readings in the right boxes?", "Were distances in m or ft?"
_STEM, _CROWN = "Was the diameter in cm or inches, or is it the girth?", "Is the crown base right?"
MISTAKES: tuple[Mistake, ...] = (
    Mistake("scale-degrees", 0.004, suppose_scale("degrees"),
            words="the readings are in degrees", look=_SCALE),
    Mistake("scale-percent", 0.004, suppose_scale("percent"),
            words="the readings are in percent", look=_SCALE),
    Mistake("scale-topographic", 0.004, suppose_scale("topographic"),
            words="the readings are on the topographic scale", look=_SCALE),
    *(
        Mistake(f"{OTHER_BASE}{distance:g}-{unit}", 0.004,
                suppose_base(base_name((distance, unit)), distance),
                words=f"the readings are from the {distance:g} {unit} scale", look=_BASE)
        for distance, unit in BASES
    ),
    Mistake("distance-other-unit", 0.002, multiply(("distance",), FOOT, 1 / FOOT),
            words="the distance is in {length_unit}: {old} should be {new}", look=_UNIT),
    Mistake("readings-as-shares", 0.001, _shares,
            words="the readings are 100 times too small (typed with %)",
            look="Are the readings right?"),
    Mistake("foot-sign", 0.003, _sign,
            words="the sign of the foot reading is wrong: {old} should be {new}",
            look="Is the sign of the foot reading right?"),
    Mistake("foot-tip-swapped", 0.002, swap("foot_reading", "tip_reading"),
            words="the foot and tip readings are in each other's box", look=_BOXES),
    Mistake("base-tip-swapped", 0.002, swap("base_reading", "tip_reading"),
            words="the crown base and tip readings are in each other's box", look=_BOXES),
    Mistake("foot-base-swapped", 0.001, swap("foot_reading", "base_reading"),
            words="the foot and crown base readings are in each other's box", look=_BOXES),
    Mistake("diameter-inches", 0.001, multiply(("diameter",), 2.54, 1 / 2.54),
            words="the diameter is in {diameter_unit}: {old} should be {new}", look=_STEM),
    Mistake("diameter-girth", 0.001, multiply(("diameter",), 1 / pi),
            words="the diameter is really the girth (around the stem): {old} should be {new}",
            look=_STEM),
    Mistake("width-other-unit", 0.001, multiply(("width",), FOOT, 1 / FOOT),
            words="the crown widths are in {length_unit}", look=_UNIT),
    Mistake("slope-as-level", 0.001, _along_slope,
            words="the distance is along the slope: the level distance is {new}",
            look="How was the distance measured?"),
    Mistake("neighbour-distance", 0.01, _neighbour,
            words="the distance {old} was copied from a nearby line: about {new} would fit",
            look="Is the distance right?"),
    Mistake("near-edge", 0.001, _near_edge,
            words="{who} aimed at the near edge of the crown, not the tip",
            look="Could the crew see the tip?"),
    Mistake("lean", 0.0005, _lean,
            words="the tree leans", look="Does it mention a lean?"),
    Mistake("dead-top", 0.001, _dead_top,
            words="a dead top was not noted", look="Does it mention a dead top?"),
    Mistake("stray-branch", 0.002, _base_elsewhere(True),
            words="the crown base was read at a single low branch", look=_CROWN),
    Mistake("base-to-ground", 0.001, _base_elsewhere(False),
            words="the crown base was read at foliage below the foot, not level with the stem",
            look=_CROWN),
    *SLIPS,
)  # fmt: skip
