"""The card of checking an instrument: a known height, and the two-way level check."""

from xlhelpers.fields.instruments import INSTRUMENT_CHECKS
from xlhelpers.jobs.paper.card import Card, Numbers, write_signed
from xlhelpers.jobs.paper.crew_rules import CrewRules
from xlhelpers.jobs.paper.scene import (
    DISTANCE,
    EYE,
    EYE_POINT,
    Drawing,
    Stroke,
    Word,
    draw_observer,
    ground,
    measure,
    shift,
    spot,
)
from xlhelpers.measure import heights

# the wall of the drawing, the error of the instrument and the way from post to post (%)
_WALL, _ERROR, _WAY = 8.0, 1.0, 3.0
_APART = 13.0


def instrument_check(crew: CrewRules) -> Card:
    """Return the card of checking an instrument."""
    numbers = Numbers(crew.units)
    known, distance = numbers.length(_WALL), numbers.length(DISTANCE)
    lower = numbers.reading(-EYE / DISTANCE) + _ERROR
    upper = numbers.reading((_WALL - EYE) / DISTANCE) + _ERROR
    out, back = _WAY + _ERROR, -_WAY + _ERROR
    error = (out + back) / 2
    height = heights.from_percent(upper, lower, distance)
    entries = {
        "known_height": f"{known:.1f}",
        "distance": f"{distance:.1f}",
        "foot_reading": write_signed(lower),
        "tip_reading": write_signed(upper),
        "level_there": write_signed(out),
        "level_back": write_signed(back),
    }
    return Card(
        "Checking an instrument",
        "Do both checks before the season, after a fall, and when heights look wrong. Each finds "
        "what the other may miss.",
        (
            (
                "Height",
                "Mark two points on a wall, one above the other. Measure between them by tape: "
                "this is the known height.",
            ),
            (
                "Tape",
                "Level, from your eye to the wall below the upper point. The tape ends at the face "
                "of the wall. Stand at least one height away.",
            ),
            ("Read", "The lower and the upper point, on the scale that you use in the field."),
            (
                "Level",
                "Make a mark at the height of your eye on each of two posts, about 20 paces apart. "
                "Aim from the first mark at the second, then from the second at the first.",
            ),
            (
                "Write",
                f"All as read, uncorrected, for the sheet {INSTRUMENT_CHECKS.tab}. The level check "
                "also has two boxes at the top of the field sheet.",
            ),
        ),
        _draw_checks(numbers, (lower, upper), (out, back)),
        tuple((INSTRUMENT_CHECKS[name].label, value) for name, value in entries.items()),
        f"Readings give {distance} × ({upper:.0f} + {-lower:.0f}) / 100 = {numbers.show(height)}, "
        f"the tape {numbers.show(known)}. Level check: ({out:.0f} − {-back:.0f}) / 2 = "
        f"{write_signed(error)}. This instrument reads {error:g} % too high, and the known height "
        "alone does not show it.",
    )


def _draw_checks(
    numbers: Numbers, wall: tuple[float, float], level: tuple[float, float]
) -> Drawing:
    foot = (DISTANCE + 0.35, 0.0)
    known = _draw_known_height(numbers, wall, foot)
    posts = shift(_draw_level_check(level), 0.0, 11.0)
    return Drawing(
        (*known.strokes, *posts.strokes),
        (*known.words, *posts.words),
        "Above two posts with marks at the height of the eye; below a person aims at two points of "
        "a wall whose distance and height are known.",
    )


def _draw_known_height(
    numbers: Numbers, wall: tuple[float, float], foot: tuple[float, float]
) -> Drawing:
    face = foot[0]
    strokes = (
        ground((-2.0, 0.0), (DISTANCE + 4.0, 0.0)),
        Stroke((foot, (face, 10.0), (face + 2.5, 10.0), (face + 2.5, 0.0)), "bark"),
        *draw_observer((0.0, 0.0)),
        Stroke((EYE_POINT, (face, 0.0)), "sight"),
        Stroke((EYE_POINT, (face, _WALL)), "sight"),
        *measure((EYE_POINT[0], -1.0), (face, -1.0)),
        *measure((face + 3.6, 0.0), (face + 3.6, _WALL)),
    )
    words = (
        spot((face - 0.4, _WALL + 0.4), f"upper {write_signed(wall[1])}", "left"),
        spot((face - 0.6, 1.7), f"lower {write_signed(wall[0])}", "left"),
        spot((face + 3.6, _WALL / 2), f"known height {numbers.show(numbers.length(_WALL))}"),
        Word((10.0, -1.1), f"to the wall {numbers.show(numbers.length(DISTANCE))}", "below"),
    )
    return Drawing(strokes, words, "")


def _draw_level_check(level: tuple[float, float]) -> Drawing:
    rise = _APART * _WAY / 100
    strokes = (
        ground((-2.0, 0.0), (0.9, 0.0), (_APART, rise), (_APART + 2.0, rise)),
        *(Stroke(((x, up), (x, up + 2.6)), "stem") for x, up in ((0.9, 0.0), (_APART, rise))),
        Stroke(((0.9, EYE), (_APART, rise + EYE)), "sight"),
        *draw_observer((0.0, 0.0)),
        *measure((_APART + 1.0, rise), (_APART + 1.0, rise + EYE)),
    )
    words = (
        Word(
            (_APART / 2, 2.4),
            f"out {write_signed(level[0])}, back {write_signed(level[1])}",
            "above",
        ),
        spot((_APART + 1.0, rise + EYE / 2), "both at eye height"),
    )
    return Drawing(strokes, words, "")
