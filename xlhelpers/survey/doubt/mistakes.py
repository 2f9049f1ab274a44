"""The mistakes that crews and clerks make, as suppositions: scales, units, swaps, signs, slips.

All that is one slip away in the sense of Damerau and Levenshtein is supposed and weighed, each a
mistake of its own kind. Of a digit typed for another only the first of the tip is tried, because
every number is one such slip from ninety others. A number is its digits without the decimal point
and the place of that point; blanks and 0 have no slips.

Each supposes what was right and gives the cells as they should then read. Kinds that clerks make
often have one prior, what crews do rarely a tenth of it, a slip of one kind in one column half, and
a wrong scale, which those who train crews see most, three times as much; common practice, no
source.
"""

from collections.abc import Callable, Iterator
from functools import partial
from math import log, pi
from typing import Any

import numpy as np
from numpy.typing import NDArray

from xlhelpers.fields.quantities import QUANTITIES
from xlhelpers.measure.slopes import SCALES
from xlhelpers.survey.doubt.candidates import (
    BASES,
    HOPELESS,
    Candidates,
    Doubtful,
    Mistake,
    base_name,
    candidates_of,
    lacking_of,
)
from xlhelpers.survey.doubt.crown_bases import (
    reading_at,
    suppose_ground_below,
    suppose_low_branch,
)
from xlhelpers.survey.doubt.divisions import UNKNOWN, find_division
from xlhelpers.survey.doubt.expected import HEIGHT
from xlhelpers.survey.doubt.readings import FREE_DIAMETER, FREE_DISTANCE, READ
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
    "width_widest": ("crown width", "length"),
    "width_across": ("crown width", "length"),
}
# what their mistakes are called by, and the columns of each
FIELDS: dict[str, tuple[str, ...]] = {
    **{name.removesuffix("_reading"): (name,) for name in TYPED if not name.startswith("width")},
    "width": ("width_widest", "width_across"),
}
MOST_DECIMALS = 2
# shares of the lines; common practice, no source
COMMON, LIKELY, RARE = 0.006, 0.002, 0.0002
# places that a digit may have fallen out of, from the last whole digit up
PLACES = 3
# rows, the numbers that they may have been, log of the weight of this way of slipping
Made = Iterator[tuple[Positions, Numbers, Numbers | float]]
# a 0 in front is rarely written
LOST_ZERO = -2.3


def typed_unit(doubtful: Doubtful, name: str) -> float:
    """Return the length (m) or diameter (cm) of one typed unit of a field."""
    quantity = TYPED[name][1]
    units: Any = doubtful.survey.units
    return QUANTITIES[quantity].factor(units) if quantity else 1.0


def split_digits(values: Numbers) -> tuple[Numbers, Numbers]:
    """Return typed numbers without sign and point, and how many decimals they were typed with.

    Decimals that end in 0 are not known to have been typed.
    """
    size = np.round(np.abs(np.nan_to_num(values)), 6)
    places = np.full(len(size), float(MOST_DECIMALS))
    for decimals in range(MOST_DECIMALS - 1, -1, -1):
        fits = np.abs(size * 10**decimals - np.round(size * 10**decimals)) < 1e-6
        places = np.where(fits, decimals, places)
    return np.round(size * 10**places), places


def _count_digits(values: Numbers) -> Numbers:
    """Return how many digits numbers have, at least two."""
    whole, places = split_digits(values)
    digits = np.floor(np.log10(np.maximum(whole, 1))) + 1
    return np.asarray(np.maximum(digits, np.maximum(places + 1, 2)))


def swap_digits(values: Numbers) -> Made:
    """Yield the numbers with two neighbouring digits swapped.

    A 0 that came to the front was lost when typing: 9 may be 90, and 18 may be 108.
    """
    whole, places = split_digits(values)
    for place in range(5):
        at = 10**place
        low, high = whole // at % 10, whole // (10 * at) % 10
        new = (whole + 9 * (low - high) * at) / 10**places
        # not so that a 0 would come to the front
        inside = (whole >= 10 * at) & ((low > 0) | (whole >= 100 * at))
        rows = np.flatnonzero((low != high) & inside)
        yield rows, new[rows], -np.log(_count_digits(new[rows]) - 1)
        rows = np.flatnonzero((whole >= at) & (whole < 10 * at) & (place >= places))
        yield rows, new[rows], LOST_ZERO


def add_digit(values: Numbers) -> Made:
    """Yield the numbers with one more whole digit anywhere."""
    whole, places = split_digits(values)
    digit = np.arange(10)[:, None]
    for up in range(PLACES + 1):
        at = 10 ** (places + up)
        left, right = whole // at, whole % at
        # a digit beside one of its own kind is the same number from either side
        leading = (left > 0) | (digit > 0)
        which, rows = np.nonzero((whole > 0) & (whole >= at / 10) & leading)
        new = ((left * 10 * at + digit * at + right) / 10**places)[which, rows]
        yield rows, new, -np.log(_count_digits(new))


def drop_doubled(values: Numbers) -> Made:
    """Yield the numbers with one of two equal neighbouring digits left out."""
    whole, places = split_digits(values)
    for place in range(4):
        at = 10**place
        low, high = whole // at % 10, whole // (10 * at) % 10
        rows = np.flatnonzero((whole >= 10 * at) & (low == high))
        # a doubled decimal leaves one decimal less
        fewer = np.where(place < places, places - 1, places)
        new = ((whole // (10 * at) * at + whole % at) / 10**fewer)[rows]
        yield rows, new, -np.log(_count_digits(new))


def move_point(values: Numbers) -> Made:
    """Yield the numbers with the point one place on and one place back."""
    rows = np.flatnonzero(np.abs(np.nan_to_num(values)) > 0)
    for factor in (0.1, 10.0):
        yield rows, np.abs(values[rows]) * factor, -log(2)


def suppose_slip(
    names: tuple[str, ...], slip: Callable[[Numbers], Made], doubtful: Doubtful
) -> Iterator[Candidates]:
    """Suppose that a number was typed with a slip; each number it may have been is a candidate.

    Each is as likely as the one among the places of the right number where the slip could have
    happened; `names` are the columns, and the slip may be in any one.
    """
    for name in names:
        unit = typed_unit(doubtful, name)
        worth = lacking_of(doubtful, {name: None}) + log(LIKELY / 4) + SLIP_BEYOND > HOPELESS
        at = np.flatnonzero(worth)
        if len(at) == 0:
            continue
        values = np.round(doubtful.sheet.number(name)[at] / unit, 9)
        signs = np.sign(np.nan_to_num(values))
        made = [(rows, new, np.broadcast_to(by, len(rows))) for rows, new, by in slip(values)]
        rows, new, by = (np.concatenate(each) for each in zip(*made, strict=True))
        if len(rows):
            columns = {name: new * signs[rows] * unit}
            yield Candidates(at[rows], columns, by - log(len(names)), SLIP_BEYOND)


# a slip may gain more than a line lacks, by the size of the mark
SLIP_BEYOND = 2.0


# a slip, its prior, what undoes it, and words for it
_KINDS: tuple[tuple[str, float, Callable[[Numbers], Made], str], ...] = (
    ("decimal", LIKELY / 2, move_point,
     "the decimal point in the {what} is in the wrong place: {old} should be {new}"),
    ("transposed", LIKELY / 2, swap_digits,
     "two digits of the {what} are swapped: {old} should be {new}"),
    ("dropped", LIKELY / 2, add_digit,
     "a digit of the {what} is missing: {old} could be {new}"),
    ("doubled", LIKELY / 2, drop_doubled,
     "a digit of the {what} was typed twice: {old} should be {new}"),
)  # fmt: skip
SLIPS: tuple[Mistake, ...] = tuple(
    Mistake(
        f"{kind}-{field}",
        prior,
        partial(suppose_slip, names, slip),
        words=words.replace("{what}", TYPED[names[0]][0]),
        look=f"Is the {TYPED[names[0]][0]} right?",
    )
    for kind, prior, slip, words in _KINDS
    for field, names in FIELDS.items()
)
# what the ids of the mistakes about another fixed-distance scale begin with
OTHER_BASE = "scale-for-"
FOOT = 0.3048
_LARGEST = {"degrees": 89.0, "percent": 600.0, "topographic": 600.0}
# tries of a distance that is known to be another's, in natural logarithms of the usual one
_TRIES = np.linspace(-0.6, 0.6, 9)
# part of the prior of each: it is copied from the line above or below
_SHARE_OF_TRY = log(0.5 * float(_TRIES[1] - _TRIES[0]))
# such a number need not have been typed to a hundredth, so that it may gain so much beyond the rest
TYPED_SO = 6.0
# digits that look alike when written by hand, and how often one is taken for its like
ALIKE = ((1, 4), (1, 7), (2, 7), (3, 5), (3, 8), (4, 9), (5, 6), (5, 8), (6, 8), (7, 9))
SHARE_ALIKE = 0.6
# how often a lost sign of the foot brings the mark of a foot above eye level with it
MARKED_TOO = 0.4
SIGHTED = ("foot_reading", "base_reading", "tip_reading")
LARGEST_SHARE = 3.0
# parts of what the near edge of a crown can add at most, of a height as a lean, of a dead top
_EDGE = (0.3, 0.5, 0.7, 0.9)
_LEANS = (-0.2, -0.12, 0.12, 0.2)
_DEAD = (1.2, 1.35, 1.5)


def _weigh_misreadings() -> Numbers:
    """Return how often a first digit 1 to 9 (row) is taken for another (column)."""
    like = np.zeros((10, 10))
    for one, other in ALIKE:
        like[one, other] = like[other, one] = 1.0
    anything = 1.0 - np.eye(10)
    anything[:, 0] = 0.0
    share = SHARE_ALIKE * like / np.maximum(like.sum(axis=1, keepdims=True), 1.0)
    return np.asarray(share + (1 - SHARE_ALIKE) * anything / 8)


MISREAD = _weigh_misreadings()


def _largest_reading(doubtful: Doubtful) -> Numbers:
    readings = [np.abs(np.nan_to_num(doubtful.sheet.number(name))) for name in READ]
    return np.asarray(np.max(readings, axis=0))


def _mark(name: str, like: NDArray[Any], value: int | bool) -> dict[str, NDArray[Any]]:
    return {name: np.full(len(like), value)}


def suppose_scale(scale: str, doubtful: Doubtful) -> Iterator[Candidates]:
    """Suppose that the readings were taken on another scale of the instrument."""
    now = doubtful.sheet.columns["scale"]
    angles = np.isin(now, [name for name in SCALES if name != FIXED_SCALE])
    mask = angles & (now != scale) & doubtful.has[scale]
    mask &= _largest_reading(doubtful) <= _LARGEST[scale]
    yield candidates_of(mask, {"scale": np.full(len(now), scale, dtype=object)})


def suppose_base(distance: float, unit: str, doubtful: Doubtful) -> Iterator[Candidates]:
    """Suppose that the readings were taken on the instrument's scale for another distance."""
    mask = doubtful.sheet.columns["scale"] == FIXED_SCALE
    mask = mask & doubtful.has[base_name((distance, unit))]
    by = doubtful.scale_distance / distance
    names = (*READ, "slope_reading")
    columns = {name: doubtful.sheet.number(name) * by for name in names}
    yield candidates_of(mask, columns | _mark("kept", mask, True))


def suppose_factor(
    names: tuple[str, ...], factor: float, us_factor: float, doubtful: Doubtful
) -> Iterator[Candidates]:
    """Suppose that cells should be a factor of what they are; another one in a us survey."""
    by = factor if doubtful.survey.units == "metric" else us_factor
    right = {name: doubtful.sheet.number(name) * by for name in names}
    rows = np.flatnonzero(np.any([np.isfinite(values) for values in right.values()], axis=0))
    share = np.zeros(len(rows))
    for name in names:
        number = doubtful.sheet.number(name)[rows] / typed_unit(doubtful, name)
        own = doubtful.expected.divisions[name].log_density(doubtful.sheet.line[rows], number)
        other = np.logaddexp(UNKNOWN[find_division(number)], own) - log(2)
        share += np.where(np.isnan(number), 0.0, other - own)
    columns = {name: values[rows] for name, values in right.items()}
    yield Candidates(rows, columns | _mark("kept", rows, True), share, SLIP_BEYOND)


def suppose_other_unit(doubtful: Doubtful) -> Iterator[Candidates]:
    """Suppose that a distance was typed in the unit that the survey does not use."""
    typed = doubtful.sheet.number("distance")
    right = typed * (FOOT if doubtful.survey.units == "metric" else 1 / FOOT)
    rows = np.flatnonzero(right > 0)
    # how likely the typed hundredth is, as the divisions of the other unit are not known
    number = typed[rows] / typed_unit(doubtful, "distance")
    own = doubtful.expected.divisions["distance"].log_density(doubtful.sheet.line[rows], number)
    share = np.logaddexp(UNKNOWN[find_division(number)], own) - log(2) - np.log(number * 100)
    free = np.full(len(rows), FREE_DISTANCE)
    yield Candidates(rows, {"distance": right[rows], "free": free}, share, TYPED_SO + 2)


def suppose_shares(doubtful: Doubtful) -> Iterator[Candidates]:
    """Suppose that readings were typed with a % sign."""
    largest = _largest_reading(doubtful)
    columns = {name: doubtful.sheet.number(name) * 100 for name in READ}
    yield candidates_of((largest > 0) & (largest < 6), columns)


def suppose_one_share(doubtful: Doubtful) -> Iterator[Candidates]:
    """Suppose that one reading was typed with a % sign: 0.38 for 38."""
    for name in SIGHTED:
        reading = doubtful.sheet.number(name)
        size = np.abs(np.nan_to_num(reading))
        columns = {name: np.round(reading * 100, 6)}
        yield candidates_of((size > 0) & (size < LARGEST_SHARE), columns, -np.log(len(SIGHTED)))


def suppose_misread(name: str, doubtful: Doubtful) -> Iterator[Candidates]:
    """Suppose that the first digit of a reading was taken for another, mostly for one like it."""
    reading = doubtful.sheet.number(name)
    size = np.abs(np.nan_to_num(reading))
    with np.errstate(all="ignore"):
        at = 10 ** np.floor(np.log10(np.maximum(size, 1)))
    first = np.minimum(size // at, 9).astype(np.int64)
    for digit in range(1, 10):
        rows = np.flatnonzero((size >= 1) & (first != digit))
        new = np.round((size + (digit - first) * at) * np.sign(reading), 6)[rows]
        yield Candidates(rows, {name: new}, np.log(MISREAD[digit, first[rows]]), SLIP_BEYOND)


def suppose_sign(doubtful: Doubtful) -> Iterator[Candidates]:
    """Suppose that the sign of the foot reading is wrong."""
    foot, marked = doubtful.sheet.number("foot_reading"), doubtful.sheet.columns["ticked"]
    some = np.abs(np.nan_to_num(foot)) > 0
    yield candidates_of(some & ~marked, {"foot_reading": -foot})
    columns = {"foot_reading": -foot} | _mark("ticked", foot, False)
    yield candidates_of(some & marked, columns, log(MARKED_TOO))


def suppose_swap(one: str, other: str, doubtful: Doubtful) -> Iterator[Candidates]:
    """Suppose that two readings are in each other's box."""
    a, b = doubtful.sheet.number(one), doubtful.sheet.number(other)
    yield candidates_of(np.isfinite(a) & np.isfinite(b) & (a != b), {one: b, other: a})


def suppose_along_slope(doubtful: Doubtful) -> Iterator[Candidates]:
    """Suppose a level distance to be one along the slope that the eye's own height leaves over."""
    eye = doubtful.expected.habits.eye[doubtful.sheet.line]
    with np.errstate(all="ignore"):
        slope = (eye - doubtful.seen.eye) / doubtful.seen.level
        shorter = doubtful.sheet.number("distance") / np.sqrt(1 + slope * slope)
    mask = (doubtful.sheet.columns["distance_kind"] == "level") & (np.abs(slope) > 0.15)
    columns = {"distance": shorter} | _mark("kept", mask, True)
    yield candidates_of(mask & np.isfinite(shorter), columns)


def suppose_neighbour(doubtful: Doubtful) -> Iterator[Candidates]:
    """Suppose a distance that is the same as a neighbouring line's not to be this tree's own.

    The right one is not known: it is what the tree's usual height and the measured angles give.
    """
    typed, seen = doubtful.sheet.number("distance"), doubtful.seen
    usual = np.exp(doubtful.expected.usual(HEIGHT, doubtful.sheet.line, seen.diameter))
    with np.errstate(all="ignore"):
        own = typed * usual / seen.total
    mask = (typed == doubtful.above) | (typed == doubtful.below)
    mask = mask & np.isfinite(own) & (own > 1) & (own < 150)
    for step in _TRIES:
        columns = {"distance": own * np.exp(step)} | _mark("free", mask, FREE_DISTANCE)
        yield candidates_of(mask, columns, _SHARE_OF_TRY, TYPED_SO)


def suppose_other_diameter(doubtful: Doubtful) -> Iterator[Candidates]:
    """Suppose a diameter that is the same as a neighbouring line's not to be this tree's own.

    The right one is not known: it is what goes with the tree's height.
    """
    typed = doubtful.sheet.number("diameter")
    line, seen, expected = doubtful.sheet.line, doubtful.seen, doubtful.expected
    rise = expected.rise[HEIGHT][line]
    with np.errstate(all="ignore"):
        away = np.log(seen.total) - expected.usual(HEIGHT, line, typed)
        own = typed * np.exp(away / np.maximum(rise, 0.3))
    mask = (typed == doubtful.stem_above) | (typed == doubtful.stem_below)
    mask = mask & np.isfinite(own) & (own > 1) & (own < 300)
    for step in _TRIES:
        columns = {"diameter": own * np.exp(step)} | _mark("free", mask, FREE_DIAMETER)
        yield candidates_of(mask, columns, _SHARE_OF_TRY, TYPED_SO)


def suppose_near_edge(doubtful: Doubtful) -> Iterator[Candidates]:
    """Suppose the near edge of a broad crown for the tip: at most half a width times the slope."""
    seen = doubtful.seen
    with np.errstate(all="ignore"):
        most = seen.width / 2 * ((seen.total - seen.eye) / seen.level)
    for part in _EDGE:
        tip = reading_at(doubtful, "tip", seen.total - part * most)
        mask = doubtful.broad & (most > 0.05 * seen.total) & np.isfinite(tip)
        columns = {"tip_reading": tip} | _mark("kept", mask, True)
        yield candidates_of(mask, columns, -log(len(_EDGE)))


def suppose_lean(doubtful: Doubtful) -> Iterator[Candidates]:
    """Suppose that the tip leans toward the instrument, or away from it."""
    straight, seen = np.isnan(doubtful.sheet.number("tip_offset")), doubtful.seen
    for part in _LEANS:
        mask = straight & (np.abs(part) * seen.total < seen.level / 2)
        columns = {"tip_offset": part * seen.total} | _mark("kept", mask, True)
        yield candidates_of(mask, columns, -log(len(_LEANS)))


def suppose_dead_top(doubtful: Doubtful) -> Iterator[Candidates]:
    """Suppose that the crew aimed at the living top of a tree whose top is dead."""
    for part in _DEAD:
        tip = reading_at(doubtful, "tip", part * doubtful.seen.total)
        columns = {"tip_reading": tip} | _mark("kept", tip, True)
        yield candidates_of(np.isfinite(tip), columns, -log(len(_DEAD)))


_SCALE, _BASE = "Which scale is marked?", "Which of the instrument's scales was used?"
_BOXES, _UNIT = "Are the readings in the right boxes?", "Were distances in m or ft?"
_STEM, _CROWN = "Was the diameter in cm or inches, or is it the girth?", "Is the crown base right?"
MISTAKES: tuple[Mistake, ...] = (
    Mistake("scale-degrees", COMMON, partial(suppose_scale, "degrees"),
            words="the readings are in degrees", look=_SCALE),
    Mistake("scale-percent", COMMON, partial(suppose_scale, "percent"),
            words="the readings are in percent", look=_SCALE),
    Mistake("scale-topographic", COMMON, partial(suppose_scale, "topographic"),
            words="the readings are on the topographic scale", look=_SCALE),
    *(
        Mistake(f"{OTHER_BASE}{distance:g}-{unit}", LIKELY,
                partial(suppose_base, distance, unit),
                words=f"the readings are from the {distance:g} {unit} scale", look=_BASE)
        for distance, unit in BASES
    ),
    Mistake("distance-other-unit", LIKELY, suppose_other_unit,
            words="the distance is in {length_unit}: {old} should be {new}", look=_UNIT),
    Mistake("readings-as-shares", LIKELY, suppose_shares,
            words="the readings are 100 times too small (typed with %)",
            look="Are the readings right?"),
    Mistake("reading-as-share", LIKELY, suppose_one_share,
            words="one reading is 100 times too small (typed with %): {old} should be {new}",
            look="Are the readings right?"),
    Mistake("foot-sign", LIKELY, suppose_sign,
            words="the sign of the foot reading is wrong: {old} should be {new}",
            look="Is the sign of the foot reading right?"),
    Mistake("foot-tip-swapped", LIKELY, partial(suppose_swap, "foot_reading", "tip_reading"),
            words="the foot and tip readings are in each other's box", look=_BOXES),
    Mistake("base-tip-swapped", LIKELY, partial(suppose_swap, "base_reading", "tip_reading"),
            words="the crown base and tip readings are in each other's box", look=_BOXES),
    Mistake("foot-base-swapped", LIKELY, partial(suppose_swap, "foot_reading", "base_reading"),
            words="the foot and crown base readings are in each other's box", look=_BOXES),
    Mistake("diameter-inches", LIKELY, partial(suppose_factor, ("diameter",), 2.54, 1 / 2.54),
            words="the diameter is in {diameter_unit}: {old} should be {new}", look=_STEM),
    Mistake("diameter-girth", LIKELY, partial(suppose_factor, ("diameter",), 1 / pi, 1 / pi),
            words="the diameter is really the girth (around the stem): {old} should be {new}",
            look=_STEM),
    Mistake("width-other-unit", LIKELY,
            partial(suppose_factor, ("width_widest", "width_across"), FOOT, 1 / FOOT),
            words="the crown widths are in {length_unit}", look=_UNIT),
    Mistake("slope-as-level", RARE, suppose_along_slope,
            words="the distance is along the slope: the level distance is {new}",
            look="How was the distance measured?"),
    Mistake("neighbour-distance", LIKELY, suppose_neighbour,
            words="the distance {old} was copied from a nearby line: about {new} would fit",
            look="Is the distance right?"),
    Mistake("neighbour-diameter", LIKELY, suppose_other_diameter,
            words="the diameter {old} was copied from a nearby line: about {new} would fit",
            look="Is the diameter right?"),
    Mistake("misread-tip", LIKELY, partial(suppose_misread, "tip_reading"),
            words="the first digit of the tip reading was misread: {old} could be {new}",
            look="Is the tip reading right?"),
    Mistake("near-edge", RARE, suppose_near_edge,
            words="{who} aimed at the near edge of the crown, not the tip",
            look="Could the crew see the tip?"),
    Mistake("lean", RARE, suppose_lean,
            words="the tree leans", look="Does it mention a lean?"),
    Mistake("dead-top", RARE, suppose_dead_top,
            words="a dead top was not noted", look="Does it mention a dead top?"),
    Mistake("stray-branch", RARE, suppose_low_branch,
            words="the crown base was read at a single low branch", look=_CROWN),
    Mistake("base-to-ground", LIKELY / 2, suppose_ground_below,
            words="the crown base was read at foliage below the foot, not level with the stem",
            look=_CROWN),
    *SLIPS,
)  # fmt: skip
