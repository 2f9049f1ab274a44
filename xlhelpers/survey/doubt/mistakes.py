"""The mistakes that crews and clerks make, as suppositions: scales, units, swaps, signs, habits.

Each supposes what was right and gives the cells as they should then read. The priors are rough
shares of the lines; common practice, no source. They matter little: a real mistake changes the
likelihood far more than they do.
"""

from collections.abc import Callable, Sequence
from math import pi

import numpy as np

from xlhelpers.measure.slopes import SCALES
from xlhelpers.survey.doubt.bases import BASES, base_name
from xlhelpers.survey.doubt.candidates import Candidates, Doubtful, Mistake, where
from xlhelpers.survey.doubt.expected import HEIGHT, SHARE
from xlhelpers.survey.doubt.readings import READ
from xlhelpers.survey.doubt.robust import Numbers
from xlhelpers.survey.doubt.slips import SLIPS
from xlhelpers.survey.setup_instruments import FIXED_SCALE

# what the ids of the mistakes about another fixed-distance scale begin with
OTHER_BASE = "scale-for-"
BASIS = "common practice, no source"
FOOT = 0.3048
_LARGEST = {"degrees": 89.0, "percent": 600.0, "topographic": 600.0}
# tries of a distance that is known to be another's, in natural logarithms of the usual one
_TRIES = np.array([-0.6, -0.45, -0.3, -0.2, -0.1, 0.0, 0.1, 0.2, 0.3, 0.45, 0.6])
# parts of what the near edge of a crown can add at most, of a height as a lean, of a dead top
_EDGE = (0.3, 0.5, 0.7, 0.9)
_LEANS = (-0.2, -0.12, 0.12, 0.2)
_DEAD = (1.2, 1.35, 1.5)


def read_in(scale: str) -> Callable[[Doubtful], Sequence[Candidates]]:
    """Suppose that the readings were taken on another scale of the instrument."""

    def suppose(doubtful: Doubtful) -> Sequence[Candidates]:
        now = doubtful.sheet.columns["scale"]
        sighted = np.isin(now, [name for name in SCALES if name != "fixed distance"])
        largest = np.max([np.abs(np.nan_to_num(doubtful.sheet.number(n))) for n in READ], axis=0)
        mask = sighted & (now != scale) & doubtful.has[scale] & (largest <= _LARGEST[scale])
        return [where(mask, {"scale": np.full(len(now), scale, dtype=object)})]

    return suppose


def read_on_base(name: str, distance: float) -> Callable[[Doubtful], Sequence[Candidates]]:
    """Suppose that the readings were taken on the instrument's scale for another distance."""

    def suppose(doubtful: Doubtful) -> Sequence[Candidates]:
        mask = (doubtful.sheet.columns["scale"] == FIXED_SCALE) & doubtful.has[name]
        by = doubtful.scale_distance / distance
        return [where(mask, {n: doubtful.sheet.number(n) * by for n in (*READ, "slope_reading")})]

    return suppose


def times(
    names: tuple[str, ...], factor: float, us_factor: float | None = None
) -> Callable[[Doubtful], Sequence[Candidates]]:
    """Suppose that cells should be a factor of what they are; another one in a us survey."""

    def suppose(doubtful: Doubtful) -> Sequence[Candidates]:
        by = factor if us_factor is None or doubtful.survey.units == "metric" else us_factor
        columns = {name: doubtful.sheet.number(name) * by for name in names}
        return [where(np.isfinite(columns[names[0]]), columns)]

    return suppose


def _shares(doubtful: Doubtful) -> Sequence[Candidates]:
    """Suppose that readings were typed with a % sign."""
    largest = np.max([np.abs(np.nan_to_num(doubtful.sheet.number(n))) for n in READ], axis=0)
    columns = {name: doubtful.sheet.number(name) * 100 for name in READ}
    return [where((largest > 0) & (largest < 6), columns)]


def _sign(doubtful: Doubtful) -> Sequence[Candidates]:
    foot = doubtful.sheet.number("foot_reading")
    return [where(np.abs(np.nan_to_num(foot)) > 0, {"foot_reading": -foot})]


def swapped(one: str, other: str) -> Callable[[Doubtful], Sequence[Candidates]]:
    """Suppose that two readings stand in each other's cell."""

    def suppose(doubtful: Doubtful) -> Sequence[Candidates]:
        a, b = doubtful.sheet.number(one), doubtful.sheet.number(other)
        return [where(np.isfinite(a) & np.isfinite(b) & (a != b), {one: b, other: a})]

    return suppose


def _along_slope(doubtful: Doubtful) -> Sequence[Candidates]:
    """Suppose a level distance to be one along the slope that the eye's own height leaves over."""
    level = doubtful.seen.level
    eye = doubtful.expected.habits.eye[doubtful.sheet.line]
    with np.errstate(all="ignore"):
        slope = (eye - doubtful.seen.eye) / level
        shorter = doubtful.sheet.number("distance") / np.sqrt(1 + slope * slope)
    mask = (doubtful.sheet.columns["distance_kind"] == "level") & (np.abs(slope) > 0.15)
    return [where(mask & np.isfinite(shorter), {"distance": shorter})]


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
        found.append(where(mask, {"tip_reading": tip}, -np.log(len(_EDGE))))
    return found


def _lean(doubtful: Doubtful) -> Sequence[Candidates]:
    straight = np.isnan(doubtful.sheet.number("tip_offset"))
    return [
        where(
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
        found.append(where(np.isfinite(tip), {"tip_reading": tip}, -np.log(len(_DEAD))))
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
            found.append(where(mask, {"base_reading": base}, -np.log(3)))
        return found

    return suppose


_SCALE = "which scale is ticked?"
_BASE = "on which of its scales was the instrument read?"
_UNIT = "which unit were the distances taped in?"
_STEM = "is it inches, or a girth?"

MISTAKES: tuple[Mistake, ...] = (
    *(
        Mistake(f"scale-{scale}", f"read {word}", _SCALE, 0.004, BASIS, read_in(scale))
        for scale, word in (
            ("degrees", "in degrees"),
            ("percent", "in percent"),
            ("topographic", "on the topographic scale"),
        )
    ),
    *(
        Mistake(
            f"{OTHER_BASE}{distance:g}-{unit}", f"read on the scale for {distance:g} {unit}",
            _BASE, 0.004, BASIS, read_on_base(base_name((distance, unit)), distance),
        )
        for distance, unit in BASES
    ),
    Mistake(
        "distance-other-unit", "with the distance taken in the other unit, {new} for {old},",
        _UNIT, 0.002, BASIS, times(("distance",), FOOT, 1 / FOOT),
    ),
    Mistake(
        "readings-as-shares", "with the readings a hundred times over, as when a % sign is typed,",
        "the readings.", 0.001, BASIS, _shares,
    ),
    Mistake(
        "foot-sign", "with the foot reading {new} for {old}", "the sign of the foot reading.",
        0.003, BASIS, _sign,
    ),
    Mistake(
        "foot-tip-swapped", "with foot and tip readings in each other's place",
        "the boxes of the readings.", 0.002, BASIS, swapped("foot_reading", "tip_reading"),
    ),
    Mistake(
        "base-tip-swapped", "with crown base and tip readings in each other's place",
        "the boxes of the readings.", 0.002, BASIS, swapped("base_reading", "tip_reading"),
    ),
    Mistake(
        "foot-base-swapped", "with foot and crown base readings in each other's place",
        "the boxes of the readings.", 0.001, BASIS, swapped("foot_reading", "base_reading"),
    ),
    Mistake(
        "diameter-inches", "with the diameter {new} for {old}, inches for centimetres,",
        _STEM, 0.001, BASIS, times(("diameter",), 2.54, 1 / 2.54),
    ),
    Mistake(
        "diameter-girth", "with the diameter {new} for {old}, if that is the girth,",
        _STEM, 0.001, BASIS, times(("diameter",), 1 / pi),
    ),
    Mistake(
        "width-other-unit", "with the crown widths taken in the other unit", _UNIT, 0.001, BASIS,
        times(("width",), FOOT, 1 / FOOT),
    ),
    Mistake(
        "slope-as-level", "with the distance taken as one along the slope, {new} level,",
        "how was the distance measured?", 0.001, BASIS, _along_slope,
    ),
    Mistake(
        "neighbour-distance", "with a distance of about {new} (the one keyed, {old}, is also that "
        "of a neighbouring line)",
        "the distance.", 0.01, BASIS, _neighbour,
    ),
    Mistake(
        "near-edge", "with the near edge of the crown sighted for the tip",
        "was the tip seen?", 0.001, BASIS, _near_edge,
    ),
    Mistake("lean", "with a tip that leans", "is a lean noted?", 0.0005, BASIS, _lean),
    Mistake(
        "dead-top", "with a dead top left out", "is a dead top noted?", 0.001, BASIS, _dead_top,
    ),
    Mistake(
        "stray-branch", "with a base on a stray low branch left out", "the crown base.",
        0.002, BASIS, _base_elsewhere(True),
    ),
    Mistake(
        "base-to-ground", "with the crown base taken at the stem and not on the ground below",
        "the crown base.", 0.001, BASIS, _base_elsewhere(False),
    ),
    *SLIPS,
)  # fmt: skip
