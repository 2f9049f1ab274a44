"""The card of crown widths, one for each way in which a survey takes them.

How an edge is judged from below and a branch is left out is common practice, no source.
"""

import math

from xlhelpers.jobs.paper.card import Card, Numbers, write_entries
from xlhelpers.jobs.paper.crew_rules import CrewRules
from xlhelpers.jobs.paper.scene import (
    Drawing,
    Point,
    Stroke,
    Word,
    circle,
    draw_observer,
    ground,
    measure,
    shift,
    spot,
)
from xlhelpers.measure import crown_radii, crowns
from xlhelpers.survey.trees.widths import DIRECTIONS, FIXED, RADII, RADIUS_FIELDS

# the crown of the width cards: half its widest and half the width across it (m of the scene)
_LONG, _SHORT = 4.6, 3.7
_TURN = math.radians(30)  # of the widest direction from east
_RADII = (4.9, 3.6, 4.3, 3.0)  # north, east, south, west
_EDGE_STEP = (
    "Edge",
    "The outer line of the living foliage, straight above you. Look straight up, or sight along a "
    "plumb line. Leave out a single branch that reaches far past the rest.",
)
_CARE_STEP = (
    "Safe",
    "Look at the ground before you step. Never walk backward, never into the road. Never under a "
    "dead, split or hung top: leave the width blank and write NOT SAFE.",
)


def width(crew: CrewRules) -> Card:
    """Return the card of the crown widths as the rule of the survey takes them."""
    if crew.crowns.widths == RADII:
        return _four_radii(crew)
    if crew.crowns.widths == FIXED:
        return _fixed_directions(crew)
    return _widest_and_across(crew)


def _widest_and_across(crew: CrewRules) -> Card:
    numbers = Numbers(crew.units)
    first, second = numbers.length(2 * _LONG), numbers.length(2 * _SHORT)
    drawing = _seen_both_ways(
        (),
        (_chord(_TURN, _LONG), _chord(_TURN + math.pi / 2, _SHORT)),
        (
            Word((-2.2, 4.4), f"widest {numbers.show(first)}", "above"),
            Word((2.0, -4.3), f"across {numbers.show(second)}", "below"),
        ),
        "A crown from above with its widest width and the width across it, and from the side.",
    )
    return Card(
        "Crown width: widest and across",
        "This survey takes the widest width of the living crown, and the width at right angles to "
        "it.",
        (
            (
                "Widest",
                "Walk round the tree once. Choose the direction in which the crown is widest. The "
                "line need not pass the stem.",
            ),
            _EDGE_STEP,
            (
                "Tape",
                "Level, from below one edge to below the other edge. The tape ends below the edge, "
                "not at the stem.",
            ),
            ("Across", "Turn a right angle and do the same. It is never the larger one."),
            ("Write", f"Both widths, to 0.1 {numbers.unit}. {_once()}"),
            _CARE_STEP,
        ),
        drawing,
        write_entries(crew, width_widest=first, width_across=second),
        f"Mean width ({first} + {second}) / 2 = {numbers.show(crowns.mean_width(first, second))}.",
    )


def _fixed_directions(crew: CrewRules) -> Card:
    numbers = Numbers(crew.units)
    one, other = DIRECTIONS[crew.crowns.directions]
    up, level = _reach(math.pi / 2), _reach(0.0)
    first, second = numbers.length(2 * up), numbers.length(2 * level)
    by_compass = one.startswith("north")
    more = (
        (
            Stroke(((-7.8, 1.0), (-7.8, 5.0)), "measure"),
            Stroke(((-8.3, 4.1), (-7.8, 5.0), (-7.3, 4.1)), "measure"),
        )
        if by_compass
        else (ground((-7.0, -5.2), (-7.0, 5.2)), ground((-8.6, -5.2), (-8.6, 5.2)))
    )
    side = Word((-7.8, 5.4), "north" if by_compass else "street", "above")
    drawing = _seen_both_ways(
        more,
        (_chord(math.pi / 2, up), _chord(0.0, level)),
        (
            Word((0.0, 4.8), f"{one} {numbers.show(first)}", "above"),
            Word((0.0, -4.6), f"{other} {numbers.show(second)}", "below"),
            side,
        ),
        "A crown from above with its widths in two fixed directions, and from the side.",
    )
    return Card(
        f"Crown width: {one} and {other}",
        f"This survey takes crown widths in two fixed directions: {one} first, then {other}.",
        (
            (
                "Direction",
                "Use a compass. Keep iron, cars and phones away from it."
                if by_compass
                else "Take the direction of the curb or of the road's edge at the tree.",
            ),
            _EDGE_STEP,
            (
                "Tape",
                "Level, from below one edge past the stem to below the other edge. The tape ends "
                "below the edge, not at the stem.",
            ),
            (
                "Order",
                f"Write {one} first, also where it is the smaller one. Do not look for the widest "
                "direction.",
            ),
            ("Write", f"Both widths, to 0.1 {numbers.unit}. {_once()}"),
            _CARE_STEP,
        ),
        drawing,
        write_entries(crew, width_widest=first, width_across=second),
        f"Mean width ({first} + {second}) / 2 = {numbers.show(crowns.mean_width(first, second))}.",
    )


def _four_radii(crew: CrewRules) -> Card:
    numbers = Numbers(crew.units)
    radii = tuple(numbers.length(radius) for radius in _RADII)
    north, east, south, west = _RADII
    mean = crown_radii.mean_width_from_radii(*radii)
    offset = crown_radii.offset_from_radii(*radii)
    ends: tuple[Point, ...] = ((0.0, north), (east, 0.0), (0.0, -south), (-west, 0.0))
    places = ((0.0, north), (east, 0.0), (0.0, -south), (-west, 0.0))
    sides = ("above", "right", "below", "left")
    names = ("north", "east", "south", "west")
    words = tuple(
        spot(place, f"{name} {numbers.show(radius)}", side)
        for place, name, radius, side in zip(places, names, radii, sides, strict=True)
    )
    drawing = _seen_both_ways(
        (),
        tuple(measure((0.0, 0.0), end) for end in ends),
        words,
        "A crown from above with four radii from the centre of its stem, and from the side.",
        outline=_quarters(),
        from_stem=True,
    )
    return Card(
        "Crown width: four radii",
        "This survey takes four radii of the living crown from the centre of the stem: north, "
        "east, south, west.",
        (
            ("Direction", "Use a compass. Keep iron, cars and phones away from it."),
            _EDGE_STEP,
            (
                "Tape",
                "Level. It begins at the centre of the stem: hold it beside the stem, at its "
                "middle. It ends below the edge. Held at the bark? Add half the diameter yourself.",
            ),
            (
                "Write",
                f"North, east, south, west, to 0.1 {numbers.unit}. 0 if the crown does not "
                f"reach past the stem. {_once()}",
            ),
            _CARE_STEP,
        ),
        drawing,
        write_entries(
            crew,
            **dict(zip(RADIUS_FIELDS, radii, strict=True)),
        ),
        f"Mean width ({' + '.join(f'{radius}' for radius in radii)}) / 2 = {numbers.show(mean)}. "
        f"The crown's centre is {numbers.show(offset)} off the stem.",
    )


def _once() -> str:
    return "Once for each tree, not again at set-up 2."


def _reach(direction: float) -> float:
    """Return half the width of the drawn crown in a direction."""
    turn = direction - _TURN
    return _LONG * _SHORT / math.hypot(_SHORT * math.cos(turn), _LONG * math.sin(turn))


def _chord(direction: float, half: float) -> tuple[Stroke, ...]:
    across, up = half * math.cos(direction), half * math.sin(direction)
    return measure((-across, -up), (across, up))


def _turned_crown() -> Stroke:
    """Return the outline of the crown from above."""
    turns = (2 * math.pi * step / 72 for step in range(73))
    return Stroke(
        tuple((_reach(turn) * math.cos(turn), _reach(turn) * math.sin(turn)) for turn in turns),
        "crown",
    )


def _quarters() -> Stroke:
    """Return the outline of a crown of four quarters of ellipses."""
    north, east, south, west = _RADII
    points = []
    for step in range(73):
        across, up = math.cos(2 * math.pi * step / 72), math.sin(2 * math.pi * step / 72)
        points.append(((east if across > 0 else west) * across, (north if up > 0 else south) * up))
    return Stroke(tuple(points), "crown")


def _seen_both_ways(
    more: tuple[Stroke, ...],
    lengths: tuple[tuple[Stroke, ...], ...],
    words: tuple[Word, ...],
    description: str,
    *,
    outline: Stroke | None = None,
    from_stem: bool = False,
) -> Drawing:
    """Return a crown from above on the left, and on the right people below its edges."""
    plan = (
        *more,
        outline or _turned_crown(),
        circle((0.0, 0.0), 0.35, "bark"),
        *(stroke for length in lengths for stroke in length),
    )
    above = Drawing(plan, words, "")
    side = shift(_from_the_side(from_stem=from_stem), 17.0, -5.2)
    return Drawing((*above.strokes, *side.strokes), (*above.words, *side.words), description)


def _from_the_side(*, from_stem: bool) -> Drawing:
    """Return a tree from the side with people below the edges of its crown and the tape."""
    left, right = -_LONG, _LONG
    strokes = [
        ground((-6.5, 0.0), (6.5, 0.0)),
        circle((0.0, 6.4), _LONG, "crown", 0.8),
        Stroke(((0.0, 0.0), (0.0, 4.4)), "stem"),
        *draw_observer((right, 0.0)),
        Stroke(((right, 1.9), (right, 6.4)), "thin"),
        *measure(((0.0 if from_stem else left), -1.0), (right, -1.0)),
    ]
    words = [Word((1.0, -1.6), "level, edge to edge", "below")]
    if from_stem:
        words = [Word((1.5, -1.6), "level, from centre", "below")]
    else:
        strokes += [*draw_observer((left, 0.0)), Stroke(((left, 1.9), (left, 6.4)), "thin")]
    words.append(Word((right + 0.4, 4.0), "look straight up", "right"))
    return Drawing(tuple(strokes), tuple(words), "")
