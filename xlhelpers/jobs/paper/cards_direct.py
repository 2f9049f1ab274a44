"""Cards of the ways without a level distance: straight distances, a display, a pole, the eye."""

from math import dist

from xlhelpers.fields.choices import EYE_HEIGHT_WORDS
from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.paper import card
from xlhelpers.jobs.paper.card import Card, Numbers, entry, foot_entry, signed
from xlhelpers.jobs.paper.cards_sighted import AIM, STAND_BACK
from xlhelpers.jobs.paper.scene import (
    BASE_HEIGHT,
    DISTANCE,
    EYE,
    TOTAL_HEIGHT,
    Drawing,
    Stroke,
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
from xlhelpers.measure import heights, sightings

_TREE = Tree((DISTANCE + 0.35, 0.0))
_EYE = eye_of((0.0, 0.0))
_LASER = "Never at people, at vehicles or at the sun. "
_FLAT = ground((-3.0, 0.0), (DISTANCE + 7.0, 0.0))


def straight(units: Units) -> Card:
    """Return the card of straight distances and angles."""
    numbers = Numbers(units)
    points = [_TREE.at(height) for height in (0.0, BASE_HEIGHT, TOTAL_HEIGHT)]
    foot, base, tip = (numbers.length(dist(_EYE, point)) for point in points)
    angles = [
        numbers.fine_degrees(slope) for slope in (card.FOOT_SLOPE, card.BASE_SLOPE, card.TIP_SLOPE)
    ]
    total = heights.from_slant_distances(tip, angles[2], foot, angles[0])
    return Card(
        "Straight distances (laser with angles)",
        "An instrument that measures straight to the point you aim at, and the angle.",
        STAND_BACK,
        _LASER + "At the foot, at the crown base and at the tip; more than once at the tip, and "
        "keep the longest: a twig in front gives a tree that is too low.",
        "Distance and angle of the same aim. Write the straight distance, not a level distance or "
        "a height that the display has worked out.",
        "Distance kind straight to the foot (head of the sheet). The distance to the foot stands "
        "in the main run, those to crown base and tip in the second block.",
        _straight_scene(numbers, (foot, base, tip), angles[2]),
        (
            entry("distance", f"{foot:.1f}"),
            foot_entry(angles[0]),
            entry("base_reading", signed(angles[1])),
            entry("tip_reading", signed(angles[2])),
            entry("base_straight", f"{base:.1f}"),
            entry("tip_straight", f"{tip:.1f}"),
        ),
        f"Total height {numbers.shown(float(total))} (degrees). A lean does no harm here.",
    )


def _straight_scene(numbers: Numbers, aims: tuple[float, float, float], up: float) -> Drawing:
    foot, base, tip = (numbers.shown(aim) for aim in aims)
    points = [_TREE.at(height) for height in (0.0, BASE_HEIGHT, TOTAL_HEIGHT)]
    return Drawing(
        (
            _FLAT,
            *draw_tree(_TREE),
            *draw_observer((0.0, 0.0)),
            *sights(_EYE, *points),
            level(_EYE, DISTANCE + 4.0),
        ),
        (
            Word((9.0, 10.2), f"straight to the tip {tip}", "left"),
            spot((DISTANCE + 5.0, BASE_HEIGHT), f"crown base {base}"),
            Word((10.0, -0.2), f"straight to the foot {foot}", "below"),
            spot((_TREE.foot[0], TOTAL_HEIGHT + 0.2), f"angle {signed(up)}°", "above"),
        ),
        "A person measures straight distances to the foot, the crown base and the tip.",
    )


def display(units: Units) -> Card:
    """Return the card of an instrument that shows heights."""
    numbers = Numbers(units)
    base, total = numbers.length(BASE_HEIGHT), numbers.length(TOTAL_HEIGHT)
    return Card(
        "Display that shows heights",
        "A laser or an ultrasonic meter that works out the height above the foot itself.",
        STAND_BACK,
        _LASER + AIM,
        "The height above the foot for each point, as shown. Let an ultrasonic meter take the "
        "temperature of the air first, and keep away from running engines.",
        "The heights in the boxes for readings, scale height ticked; distance and foot stay blank.",
        Drawing(
            (
                _FLAT,
                *draw_tree(_TREE),
                *draw_observer((0.0, 0.0)),
                *sights(_EYE, _TREE.foot, _TREE.at(BASE_HEIGHT), _TREE.at(TOTAL_HEIGHT)),
                *measure((DISTANCE + 6.6, 0.0), (DISTANCE + 6.6, BASE_HEIGHT)),
                *measure((DISTANCE + 8.2, 0.0), (DISTANCE + 8.2, TOTAL_HEIGHT)),
            ),
            (
                spot((DISTANCE + 8.2, 10.0), numbers.shown(total)),
                spot((DISTANCE + 6.5, 2.2), numbers.shown(base), "left"),
                Word((3.0, 8.0), f"display: {numbers.shown(total)}", "left"),
            ),
            "A person sights a tree; the display shows the heights above the foot.",
        ),
        (
            entry("distance", ""),
            entry("foot_reading", ""),
            entry("base_reading", f"{base:.1f}"),
            entry("tip_reading", f"{total:.1f}"),
        ),
        f"Total height {numbers.shown(total)}, crown base {numbers.shown(base)}, as shown.",
    )


def pole(units: Units) -> Card:
    """Return the card of a crown base measured with a pole or a tape."""
    numbers = Numbers(units)
    low = 3.6
    tree = Tree(_TREE.foot, base=low)
    foot = numbers.reading(card.FOOT_SLOPE, "percent")
    tip = numbers.reading(card.TIP_SLOPE, "percent")
    distance = numbers.length(DISTANCE)
    total = heights.from_percent(tip, foot, distance)
    return Card(
        "Pole or tape",
        "For a crown base that is within reach. It goes before a sighted one; both are kept.",
        "Beside the stem, on the foot's side. Not under a dead, split or hung top. With a wire "
        "within 3 m (10 ft) of the pole, or more as local rules say: use the instrument instead.",
        "Hold the pole upright beside the stem, its end on the foot: the highest ground that "
        "touches the stem. A second person stands back and says stop at the crown base.",
        f"To 0.1 {numbers.unit}, at the height of the lowest living foliage.",
        "In the second block, crown base by pole or tape. The tip is sighted as always.",
        _pole_scene(tree, numbers.shown(numbers.length(low))),
        (
            entry("distance", f"{distance:.1f}"),
            foot_entry(foot),
            entry("base_reading", ""),
            entry("tip_reading", signed(tip)),
            entry("base_by_pole", f"{numbers.length(low):.1f}"),
        ),
        f"Crown base {numbers.shown(numbers.length(low))} as measured, total height "
        f"{numbers.shown(float(total))} (percent scale).",
    )


def _pole_scene(tree: Tree, crown_base: str) -> Drawing:
    low = tree.base
    return Drawing(
        (
            ground((8.0, 0.0), (DISTANCE + 7.0, 0.0)),
            *draw_tree(tree),
            *draw_observer((DISTANCE - 1.6, 0.0)),
            *draw_observer((DISTANCE - 9.0, 0.0)),
            Stroke(((DISTANCE - 1.0, 0.0), (DISTANCE - 1.0, 6.4)), "measure"),
            Stroke(((DISTANCE - 8.6, EYE), (DISTANCE + 0.3, low)), "sight"),
            *measure((DISTANCE + 6.2, 0.0), (DISTANCE + 6.2, low)),
        ),
        (
            spot((DISTANCE + 6.2, low / 2), f"crown base {crown_base}"),
            spot((DISTANCE - 8.8, 2.4), "says stop", "above"),
            spot((DISTANCE - 1.0, 0.1), "pole, upright", "below"),
        ),
        "One person holds a pole upright beside the stem, another stands back and looks.",
    )


def eye_height(units: Units) -> Card:
    """Return the card of the eye height in place of a foot reading."""
    numbers = Numbers(units)
    eye, distance = numbers.length(EYE), numbers.length(DISTANCE)
    tip = numbers.reading(card.TIP_SLOPE, "percent")
    base = numbers.reading(card.BASE_SLOPE, "percent")
    total = sightings.height_with_eye(distance, tip / 100, eye)
    return Card(
        "Eye height in place of the foot",
        "Only where the ground is truly level and the foot cannot be seen. A foot reading is "
        "better wherever it can be had: what the ground differs goes into the height in full.",
        STAND_BACK + " Level with the foot: a car park, a lawn, not a slope.",
        "At the crown base and at the tip. Not at the foot.",
        "As always, on the scale that is ticked.",
        f"{EYE_HEIGHT_WORDS} in the second block, under left out or missing because. The eye "
        "height of the first of the crew, shoes on, must stand on the sheet People.",
        _level_scene(numbers.shown(eye), signed(tip)),
        (
            entry("distance", f"{distance:.1f}"),
            entry("foot_reading", ""),
            entry("base_reading", signed(base)),
            entry("tip_reading", signed(tip)),
            entry("missing_because", EYE_HEIGHT_WORDS),
        ),
        f"Total height {numbers.shown(float(total))} (percent scale), with the eye at "
        f"{numbers.shown(eye)}.",
    )


def _level_scene(eye: str, tip: str) -> Drawing:
    return Drawing(
        (
            _FLAT,
            *draw_tree(_TREE),
            *draw_observer((0.0, 0.0)),
            *sights(_EYE, _TREE.at(BASE_HEIGHT), _TREE.at(TOTAL_HEIGHT)),
            level(_EYE, DISTANCE + 4.0),
            *measure((-1.6, 0.0), (-1.6, EYE)),
            *measure((DISTANCE + 2.2, 0.0), (DISTANCE + 2.2, EYE)),
            Stroke(tuple((DISTANCE - 3.5 + 0.35 * i, 1.1 * (i % 2)) for i in range(9)), "crown"),
        ),
        (
            spot((-1.6, EYE / 2), f"eye {eye}", "left"),
            spot((DISTANCE + 2.2, EYE / 2), "the same"),
            Word((10.0, -0.2), "level ground; a hedge hides the foot", "below"),
            spot((_TREE.foot[0], TOTAL_HEIGHT + 0.2), f"tip {tip}", "above"),
        ),
        "A person on level ground sights a tree whose foot is hidden by a hedge.",
    )
