"""Cards of the ways that sight angles over a level distance: one a scale, one along a slope."""

from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.paper import card
from xlhelpers.jobs.paper.card import Card, Numbers, entry, foot_entry, signed
from xlhelpers.jobs.paper.scene import (
    BASE_HEIGHT,
    DISTANCE,
    EYE,
    TOTAL_HEIGHT,
    Drawing,
    Tree,
    Word,
    draw_observer,
    draw_tree,
    eye_of,
    ground,
    level,
    measure,
    sights,
    spot,
)
from xlhelpers.measure import heights
from xlhelpers.measure.slopes import angle

STAND_BACK = (
    "As far back as the tree is high, or further, where you see foot, crown base and tip, on the "
    "level of the foot or above it. Away from traffic, and not under the crown."
)
AIM = (
    "At the foot: the highest ground that touches the stem. At the crown base: the lowest living "
    "foliage of the connected crown, carried across to the stem; never a branch that reaches "
    "toward you. At the tip: through the crown, the highest point, not the near edge."
)
_WRITE = "The sign first: the foot box has its − printed. Then the distance, and the scale ticked."


def _scene(words: tuple[Word, ...], what: str) -> Drawing:
    tree = Tree((DISTANCE + 0.35, 0.0))
    eye = eye_of((0.0, 0.0))
    below = -1.4
    return Drawing(
        (
            ground((-3.0, 0.0), (DISTANCE + 7.0, 0.0)),
            *draw_tree(tree),
            *draw_observer((0.0, 0.0)),
            *sights(eye, tree.foot, tree.at(tree.base), tree.at(tree.tip)),
            level(eye, DISTANCE + 5.5),
            *measure((eye[0], below), (tree.foot[0], below)),
        ),
        words,
        what,
    )


def _readings_scene(numbers: Numbers, readings: tuple[str, str, str]) -> Drawing:
    tree = Tree((DISTANCE + 0.35, 0.0))
    foot, base, tip = readings
    return _scene(
        (
            spot((tree.at(tree.tip)[0], tree.tip + 0.2), f"tip {tip}", "above"),
            spot((DISTANCE + 5.0, tree.base), f"crown base {base}"),
            spot((DISTANCE + 0.6, 0.7), f"foot {foot}"),
            Word((-0.3, EYE + 0.9), "eye", "left"),
            spot((DISTANCE + 5.5, EYE), "level line 0"),
            Word(
                (11.0, -1.5), f"level distance {numbers.shown(numbers.length(DISTANCE))}", "below"
            ),
        ),
        "A person sights the foot, the crown base and the tip of a tree from a level distance.",
    )


def _sighted(units: Units, scale: str, title: str, when: str, read: str) -> Card:
    numbers = Numbers(units)
    slopes = (card.FOOT_SLOPE, card.BASE_SLOPE, card.TIP_SLOPE)
    foot, base, tip = (numbers.reading(slope, scale) for slope in slopes)
    distance = numbers.length(DISTANCE)
    if scale == "fixed distance":
        args = (20.0 if units == "metric" else 66.0,)
        total, low = (
            heights.from_fixed_distance_scale(point, foot, distance, *args) for point in (tip, base)
        )
    else:
        height = {
            "percent": heights.from_percent,
            "degrees": heights.from_degrees,
            "topographic": heights.from_topographic,
        }[scale]
        total, low = (height(point, foot, distance) for point in (tip, base))
    return Card(
        title,
        when,
        STAND_BACK,
        AIM,
        read,
        _WRITE,
        _readings_scene(numbers, (signed(foot), signed(base), signed(tip))),
        (
            entry("distance", f"{distance:.1f}"),
            foot_entry(foot),
            entry("base_reading", signed(base)),
            entry("tip_reading", signed(tip)),
        ),
        f"Total height {numbers.shown(float(total))}, crown base {numbers.shown(float(low))} "
        "above the foot. The workbook works this out.",
    )


def percent(units: Units) -> Card:
    """Return the card of a clinometer read in percent."""
    return _sighted(
        units,
        "percent",
        "Clinometer, percent scale",
        "Any distance. The reading is the height above or below your eye per hundred of distance.",
        "To the whole percent, where the hair crosses the scale. Of two scales side by side, "
        "percent is the one that shows 100 where degrees show 45.",
    )


def degrees(units: Units) -> Card:
    """Return the card of a clinometer read in degrees."""
    return _sighted(
        units,
        "degrees",
        "Clinometer, degrees scale",
        "Any distance. The reading is the angle above or below the level line through your eye.",
        "To the whole degree, nearer where the scale allows. It shows 45 where percent "
        "shows 100. Read the plot's first tip on both scales, so that the office can "
        "tell which one was read.",
    )


def topographic(units: Units) -> Card:
    """Return the card of a clinometer read on the topographic scale."""
    return _sighted(
        units,
        "topographic",
        "Clinometer, topographic scale",
        "Any distance in any unit. The reading is the height above or below your eye per 66 of "
        "distance.",
        "To the whole unit. It shows 66 where degrees show 45. Do not turn it into percent "
        "yourself: tick topographic.",
    )


def fixed_distance(units: Units) -> Card:
    """Return the card of a scale that shows heights at one distance."""
    base = "20 m" if units == "metric" else "66 ft"
    return _sighted(
        units,
        "fixed distance",
        "Scale made for one fixed distance",
        f"The scale of this example shows heights when you stand {base} away. At another distance "
        "write the distance that you measured: the workbook scales the readings.",
        "On the scale whose distance stands on the sheet Instruments, to the mark. Never mix two "
        "scales on one tree.",
    )


def along_slope(units: Units) -> Card:
    """Return the card of a distance that was taped along the slope."""
    numbers = Numbers(units)
    fall = -4.0
    slope = fall / DISTANCE
    along = numbers.length((DISTANCE**2 + fall**2) ** 0.5)
    drop, foot, base, tip = (
        numbers.reading(value, "percent")
        for value in (
            slope,
            (fall - EYE) / DISTANCE,
            (fall + BASE_HEIGHT - EYE) / DISTANCE,
            (fall + TOTAL_HEIGHT - EYE) / DISTANCE,
        )
    )
    flat = heights.level_distance(along, float(angle(drop / 100)))
    total = heights.from_percent(tip, foot, flat)
    return Card(
        "Distance taped along a slope",
        "When the tape cannot be held level. Such a distance needs a slope reading of its own.",
        "Uphill of the tree where you can, as far back as the tree is high, or further.",
        "First at a mark on the stem as high above the ground as your eye: that is the slope "
        "reading. Then at foot, crown base and tip as always.",
        "All on one scale. Looking down, readings are −; the crown base may be − too.",
        "The taped distance as it is, distance kind along slope (head of the sheet), and the slope "
        "reading in the second block at the foot of the page.",
        _slope_scene(fall, (f"slope {signed(drop)}", numbers.shown(along), signed(tip))),
        (
            entry("distance", f"{along:.1f}"),
            foot_entry(foot),
            entry("base_reading", signed(base)),
            entry("tip_reading", signed(tip)),
            entry("slope_reading", signed(drop)),
        ),
        f"Level distance {numbers.shown(float(flat))}, total height "
        f"{numbers.shown(float(total))} (percent scale).",
    )


def _slope_scene(fall: float, texts: tuple[str, str, str]) -> Drawing:
    slope, along, tip = texts
    eye = eye_of((0.0, 0.0))
    tree = Tree((DISTANCE + 0.35, fall))
    mark = tree.at(EYE)
    steep = fall / DISTANCE
    return Drawing(
        (
            ground((-3.0, -3.0 * steep), (0.0, 0.0), tree.foot, (DISTANCE + 6.0, fall + 6 * steep)),
            *draw_tree(tree),
            *draw_observer((0.0, 0.0)),
            *sights(eye, mark, tree.foot, tree.at(tree.tip)),
            level(eye, DISTANCE + 4.0),
            *measure((0.3, -0.9), (DISTANCE + 0.1, fall - 0.9)),
        ),
        (
            spot((mark[0] + 0.2, mark[1]), f"mark at eye height: {slope}"),
            Word((9.0, -3.6), f"along the slope {along}", "below"),
            spot((tree.at(tree.tip)[0], tree.foot[1] + tree.tip + 0.2), f"tip {tip}", "above"),
            Word((5.0, EYE), "level line: 0", "above"),
        ),
        "A person uphill of a tree sights a mark on the stem at the height of the eye.",
    )
