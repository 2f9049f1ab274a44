"""The cards of the crown: its true top and its base.

How a branch is left out and how a level is taken to the stem is common practice, no source.
"""

import math

from xlhelpers.jobs.paper.card import Card, Numbers, Steps, write_entries, write_signed
from xlhelpers.jobs.paper.crew_rules import HALF_WAY, CrewRules
from xlhelpers.jobs.paper.height_cards import TAPE
from xlhelpers.jobs.paper.scene import (
    DISTANCE,
    EYE,
    EYE_POINT,
    Drawing,
    Point,
    Stroke,
    Word,
    circle,
    draw_observer,
    draw_tape_end,
    ground,
    measure,
    shift,
    spot,
)
from xlhelpers.measure import heights

# the broad crown of the card of the true top: middle, half width, half depth
_MIDDLE: Point = (DISTANCE + 0.35, 9.5)
_BROAD, _DEEP = 7.0, 5.5
_FARTHER = 10.0  # how much farther away the second place is


def true_top(crew: CrewRules) -> Card:
    """Return the card of the tip of a broad crown."""
    numbers = Numbers(crew.units)
    top = _MIDDLE[1] + _DEEP
    near, far = numbers.length(DISTANCE), numbers.length(DISTANCE + _FARTHER)
    foot, tip, edge = _three_readings(numbers, DISTANCE)
    foot_2, tip_2, edge_2 = _three_readings(numbers, DISTANCE + _FARTHER)
    true = heights.from_percent(tip, foot, near)
    wrong, wrong_2 = (
        heights.from_percent(edge, foot, near),
        heights.from_percent(edge_2, foot_2, far),
    )
    touch = _touching_point(DISTANCE)
    slope = _edge_slope(DISTANCE)
    over_stem = (_MIDDLE[0], EYE + slope * DISTANCE)
    second = (EYE_POINT[0] - _FARTHER, EYE)
    end = draw_tape_end((-8.2, 15.6), "tape")
    drawing = Drawing(
        (
            ground((-13.0, 0.0), (DISTANCE + 9.0, 0.0)),
            circle(_MIDDLE, _BROAD, "crown", _DEEP / _BROAD),
            Stroke(((_MIDDLE[0], 0.0), (_MIDDLE[0], 6.0)), "stem"),
            *draw_observer((0.0, 0.0)),
            *draw_observer((-_FARTHER, 0.0)),
            Stroke((EYE_POINT, (_MIDDLE[0], top)), "sight"),
            Stroke((second, (_MIDDLE[0], top)), "sight"),
            Stroke((EYE_POINT, touch), "measure"),
            Stroke((touch, over_stem), "thin"),
            Stroke(((_MIDDLE[0], top), over_stem), "thin"),
            *measure((EYE_POINT[0], -1.2), (_MIDDLE[0], -1.2)),
            *end.strokes,
        ),
        (
            *end.words,
            Word((9.0, 13.6), f"near edge {write_signed(edge)}: wrong", "left"),
            spot((_MIDDLE[0] - 1.6, top - 2.4), f"true tip {write_signed(tip)}"),
            spot(over_stem, f"read as {numbers.show(wrong)}"),
            Word((11.0, -1.3), f"level distance {numbers.show(near)}", "below"),
            Word((-_FARTHER, -0.2), f"second place, {numbers.show(far)}", "below"),
        ),
        "A broad crown: the line to its near edge passes above the true tip; the line to the true "
        "tip goes through the foliage. A second person stands farther back.",
    )
    return Card(
        "True top of a broad crown",
        "The crown is wide and round, so its near edge hides the tip. Aimed at, the near edge "
        "makes the tree too high.",
        (
            (
                "Walk",
                "Walk round the tree and find the highest shoot from far away. Remember what is "
                "next to that shoot: a fork, a gap, a dead twig.",
            ),
            (
                "Look",
                "From your place, look through the foliage to that shoot. It is above the stem or "
                "its main fork, seldom at the edge that is nearest to you.",
            ),
            ("Tape", TAPE),
            (
                "Second",
                "Measure again from a second place, farther back. If the heights differ by more "
                f"than {crew.show_length(crew.setups_differ)} or 2.5\N{NO-BREAK SPACE}%, one of "
                "them is probably the near edge.",
            ),
            ("Write", "Each place on a line of its own, with 2 under Set-up for the second."),
            ("Rules", crew.which_heights),
        ),
        drawing,
        write_entries(crew, setup="", distance=near, foot_reading=foot, tip_reading=tip),
        f"Total height {numbers.show(true)} from both. At the near edge, {write_signed(edge)} "
        f"would give {numbers.show(wrong)}, and {write_signed(edge_2)} from the second place "
        f"{numbers.show(wrong_2)}.",
        second=("2", f"{far:.1f}", write_signed(foot_2), write_signed(tip_2)),
    )


def _three_readings(numbers: Numbers, distance: float) -> tuple[float, float, float]:
    """Return the readings in percent to the foot, the tip and the near edge."""
    tip = (_MIDDLE[1] + _DEEP - EYE) / distance
    foot, tip, edge = (
        numbers.reading(slope) for slope in (-EYE / distance, tip, _edge_slope(distance))
    )
    return foot, tip, edge


def _edge_slope(distance: float) -> float:
    """Return the slope of the line from the eye that just touches the top of the crown."""
    rise = _MIDDLE[1] - EYE
    a, b, c = distance**2 - _BROAD**2, -2 * rise * distance, rise**2 - _DEEP**2
    return (-b + math.sqrt(b**2 - 4 * a * c)) / (2 * a)


def _touching_point(distance: float) -> Point:
    """Return the point in which that line touches the crown."""
    slope = _edge_slope(distance)
    above = EYE + slope * distance - _MIDDLE[1]
    return _MIDDLE[0] - _BROAD**2 * slope / above, _MIDDLE[1] + _DEEP**2 / above


# the lopsided crown of the card of the crown base: its lowest foliage near and far, its top
_LOW, _HIGH, _TOP = 3.6, 6.8, 14.0
_NEARER = 4.5  # of the lowest foliage, than the stem
_STRAY_BELOW = 2.1  # how far below the rest the drawn stray branch is


def base(crew: CrewRules) -> Card:
    """Return the card of the crown base."""
    numbers = Numbers(crew.units)
    half_way = crew.base == HALF_WAY
    level = (_LOW + _HIGH) / 2 if half_way else _LOW
    distance = numbers.length(DISTANCE)
    foot, reading = numbers.reading(-EYE / DISTANCE), numbers.reading((level - EYE) / DISTANCE)
    at_branch = numbers.reading((_LOW - EYE) / (DISTANCE - _NEARER))
    height = heights.from_percent(reading, foot, distance)
    wrong = heights.from_percent(at_branch, foot, distance)
    stray = ""
    if crew.gap > 0:
        stray = f", a stray branch more than {crew.show_length(crew.gap)} below the rest"
    steps: Steps = (
        ("Rules", crew.crown_base),
        (
            "Stem",
            "Read level with the stem. Find the lowest foliage, see which mark on the stem is as "
            "high, and aim at that mark: a branch toward you looks too high.",
        ),
        (
            "Not it",
            f"Shoots on the stem, leaves of a climbing plant, dead branches{stray}.",
        ),
        (
            "Slope",
            "Also on a slope, read the base level with the stem. Its height counts from the foot: "
            "the highest ground at the stem.",
        ),
        ("Tape", TAPE),
        ("Write", "The reading to the mark on the stem, with its sign."),
    )
    return Card(
        "Crown base",
        "For crowns that are lower on one side, and for trees on a slope.",
        steps,
        _draw_base(crew, level, reading, half_way=half_way),
        write_entries(crew, distance=distance, foot_reading=foot, base_reading=reading),
        f"Crown base ({reading:.0f} + {-foot:.0f}) × {distance} / 100 = {numbers.show(height)}. "
        f"Aimed at the near branch itself, {write_signed(at_branch)} would give "
        f"{numbers.show(wrong)} for that branch.",
    )


def _draw_base(crew: CrewRules, level: float, reading: float, *, half_way: bool) -> Drawing:
    numbers, stem = Numbers(crew.units), DISTANCE + 0.35
    with_stray = 0 < crew.gap <= _STRAY_BELOW
    end = draw_tape_end((5.0, 11.0), "tape")
    outline = (
        (stem - 0.6, _LOW + 0.9),
        (stem - _NEARER, _LOW),
        (stem - 5.6, 6.4),
        (stem - 4.8, 10.0),
        (stem - 2.2, 13.0),
        (stem, _TOP),
        (stem + 2.4, 13.0),
        (stem + 4.4, 10.4),
        (stem + 4.8, 8.0),
        (stem + 3.6, _HIGH),
        (stem + 0.6, _HIGH + 0.6),
        (stem - 0.6, _LOW + 0.9),
    )
    levels = [Stroke(((stem - _NEARER, _LOW), (stem + 6.0, _LOW)), "thin")]
    if half_way:
        levels = [
            Stroke(((stem - _NEARER, _LOW), (stem + 6.0, _LOW)), "thin"),
            Stroke(((stem, _HIGH), (stem + 6.0, _HIGH)), "thin"),
            Stroke(((stem - 0.6, level), (stem + 6.0, level)), "thin"),
        ]
    shoots = tuple(
        Stroke(((stem, up), (stem + side, up + 0.5)), "crown")
        for up, side in ((2.2, 0.7), (2.6, -0.7), (2.9, 0.6))
    )
    branch = ((stem, 1.1), (stem + 3.2, 1.5), (stem + 3.9, 1.2), (stem + 3.2, 1.5))
    stray = (Stroke(branch, "crown"),) if with_stray else ()
    label = "half-way" if half_way else "crown base"
    uneven = Drawing(
        (
            ground((-2.0, 0.0), (stem + 7.0, 0.0)),
            Stroke(_smooth_line(outline), "crown"),
            Stroke(((stem, 0.0), (stem, 9.0)), "stem"),
            *levels,
            *shoots,
            *stray,
            *draw_observer((0.0, 0.0)),
            Stroke((EYE_POINT, (stem, level)), "sight"),
            *measure((EYE_POINT[0], -1.0), (stem, -1.0)),
            *end.strokes,
        ),
        (
            *end.words,
            spot((stem + 6.0, level), f"{label} {write_signed(reading)}"),
            spot((stem + 0.8, 2.4), "shoots: no"),
            *((spot((stem + 4.0, 1.2), "stray branch: no"),) if with_stray else ()),
            Word((10.0, -1.1), f"level distance {numbers.show(numbers.length(DISTANCE))}", "below"),
        ),
        "",
    )
    slope = shift(_base_on_slope(), stem + 22.0)
    return Drawing(
        (*uneven.strokes, *slope.strokes),
        (*uneven.words, *slope.words),
        "On the left a crown that is lower on one side: its base is read level with the stem. "
        "Shoots do not count. On the right a tree on a slope.",
    )


def _smooth_line(points: tuple[Point, ...]) -> tuple[Point, ...]:
    """Return a smooth line through points (Catmull and Rom)."""
    curve: list[Point] = []
    for place in range(len(points) - 1):
        before, start = points[max(place - 1, 0)], points[place]
        end, after = points[place + 1], points[min(place + 2, len(points) - 1)]
        for step in range(6):
            t = step / 6
            weights = (
                (-t + 2 * t**2 - t**3) / 2,
                (2 - 5 * t**2 + 3 * t**3) / 2,
                (t + 4 * t**2 - 3 * t**3) / 2,
                (t**3 - t**2) / 2,
            )
            near = tuple(zip(weights, (before, start, end, after), strict=True))
            curve.append((sum(w * p[0] for w, p in near), sum(w * p[1] for w, p in near)))
    return (*curve, points[-1])


def _base_on_slope() -> Drawing:
    fall, low = 0.4, 4.4
    foot = 0.3
    outline = (
        (-0.5, low + 0.8),
        (-4.0, low + 1.4),
        (-4.6, 8.0),
        (-2.4, 11.6),
        (0.0, 12.6),
        (2.4, 11.6),
        (4.6, 8.0),
        (4.2, low),
        (0.5, low + 0.8),
    )
    strokes = (
        ground((-6.0, 6.0 * fall), (6.0, -6.0 * fall)),
        Stroke(((0.0, 0.0), (0.0, 8.0)), "stem"),
        Stroke(_smooth_line(outline), "crown"),
        Stroke(((4.2, low), (-6.0, low)), "thin"),
        Stroke(((0.0, foot), (-1.5, foot)), "thin"),
        *measure((-1.5, foot), (-1.5, low)),
    )
    words = (
        Word((0.0, 13.0), "slope: the same level", "above"),
        Word((0.6, -2.6), "height from the foot up", "below"),
    )
    return Drawing(strokes, words, "")
