"""The cards of the stem: its diameter at breast height, forks and several stems.

What is done on slopes, leaning stems, swellings and forks is common practice, no source.
"""

import math

from xlhelpers.fields.quantities import QUANTITIES
from xlhelpers.jobs.paper.card import Card, write_entries
from xlhelpers.jobs.paper.crew_rules import CrewRules
from xlhelpers.jobs.paper.field_page import column_number
from xlhelpers.jobs.paper.scene import (
    Drawing,
    Point,
    Stroke,
    Word,
    ground,
    measure,
    side_by_side,
    spot,
)
from xlhelpers.measure import stems

# the drawings: metres, stems drawn thicker than they are so that the band can be seen
_BREAST = 1.3
_WIDTH, _THIN, _TALL = 0.6, 0.4, 3.2
_SPACING = 4.1
_HALF_GROUND = 1.7
_DIAMETER, _OF_STEMS = 40.1, (24.0, 18.0, 9.0)


def diameter(crew: CrewRules) -> Card:
    """Return the card of the diameter of one stem."""
    at = crew.show_length(crew.breast_height)
    higher = round(crew.breast_height / QUANTITIES["length"].factor(crew.units) + 0.4, 1)
    around = round(math.pi * _stem(crew, _DIAMETER), 1)
    across = float(stems.diameter_from_girth(around))
    unit = QUANTITIES["diameter"].unit(crew.units)
    drawing = side_by_side(
        (_on_level(at), _on_slope(at), _leaning(at), _draw_swelling()),
        _SPACING,
        "Where the tape goes round the stem: on level ground, on a slope, on a leaning stem, and "
        "above a swelling.",
    )
    written = around if crew.with_girth else round(across, 1)
    return Card(
        "Diameter at breast height",
        f"Every stem of {crew.show_diameter(crew.smallest_diameter)} or more, living or dead. "
        f"Breast height is {at} above the foot, the highest ground at the stem.",
        (
            (
                "Tape",
                "Pass the tape round the bark at right angles to the stem, level on an upright "
                "one. It ends where it meets its own zero. Pull it tight and do not twist it. Pass "
                "it under climbing plants, and do not cut them.",
            ),
            ("Slope", "Measure breast height up from the ground on the uphill side."),
            (
                "Leaning",
                "Measure breast height along the stem, on the side that it leans to. Never stand "
                "under a dead, split or hung top.",
            ),
            (
                "Swelling",
                "A bump, a branch or a wound at breast height? Measure at the nearest place where "
                "the stem has its usual shape. Write that height under "
                f"“{_label(crew, 'diameter_at')}”.",
            ),
            _how_written(crew),
        ),
        drawing,
        write_entries(crew, diameter=written, diameter_at=higher),
        f"A girth of {around:.1f}\N{NO-BREAK SPACE}{unit} is a diameter of {around:.1f} / 3.1416 = "
        f"{across:.1f}\N{NO-BREAK SPACE}{unit}. This stem was measured above a swelling.",
    )


def several_stems(crew: CrewRules) -> Card:
    """Return the card of forks and of trees with several stems."""
    at = crew.show_length(crew.breast_height)
    unit = QUANTITIES["diameter"].unit(crew.units)
    measured = [round(_stem(crew, one), 1) for one in _OF_STEMS]
    combined = float(stems.combined_diameter(measured))
    written = [round(one * (math.pi if crew.with_girth else 1.0), 1) for one in measured]
    squares = " + ".join(f"{one:g}²" for one in measured)
    drawing = side_by_side(
        (_fork_above(), _fork_at(), _fork_below(), _stems_apart()),
        _SPACING,
        "Where the tape goes: below a fork that is above breast height, lower where a fork swells "
        "the stem at breast height, round each stem where the fork is below it.",
    )
    return Card(
        "Forks and several stems",
        f"A stem that divides, or stems that share one root. Breast height is {at} above the foot.",
        (
            ("Above", "The stem divides above breast height: one stem. Measure at breast height."),
            (
                "At it",
                "The fork swells the stem at breast height: measure below the swelling, where the "
                f"stem is thinnest. Write that height under “{_label(crew, 'diameter_at')}”.",
            ),
            (
                "Below",
                "The stem divides below breast height: measure each stem at breast height, at "
                "right angles to it.",
            ),
            (
                "Several",
                "Stems from one root are one tree. Measure each. Leave out stems thinner than "
                f"{crew.show_diameter(crew.smallest_diameter)}.",
            ),
            (
                "Write",
                f"{_how_written(crew)[1]} The thickest stem goes under "
                f"“{_label(crew, 'diameter')}”, the others under "
                f"“{_label(crew, 'other_stems')}”, with spaces "
                "between. The tape ends at its own zero each time.",
            ),
        ),
        drawing,
        write_entries(
            crew, diameter=written[0], other_stems="  ".join(f"{one:g}" for one in written[1:])
        ),
        f"Diameters {', '.join(f'{one:g}' for one in measured)}\N{NO-BREAK SPACE}{unit} count as "
        f"one of √({squares}) = {combined:.1f}\N{NO-BREAK SPACE}{unit}. The workbook computes "
        "this.",
    )


def _stem(crew: CrewRules, centimetres: float) -> float:
    return centimetres / QUANTITIES["diameter"].factor(crew.units)


def _label(crew: CrewRules, name: str) -> str:
    return f"{column_number(name)} {crew.crowns.label(name)}"


def _how_written(crew: CrewRules) -> tuple[str, str]:
    unit = QUANTITIES["diameter"].unit(crew.units)
    if crew.with_girth:
        text = f"This survey writes the girth (circumference), to 0.1 {unit}. No diameter tape."
    else:
        text = (
            f"This survey writes the diameter, to 0.1 {unit}. Use a diameter tape, or divide the "
            "girth by 3.1416."
        )
    return "Write", text


def _trunk(foot: Point, top: Point, width: float = _WIDTH) -> tuple[Stroke, ...]:
    """Return both sides of a straight stem."""
    return tuple(
        Stroke(((foot[0] + side, foot[1]), (top[0] + 0.8 * side, top[1])), "bark")
        for side in (-width / 2, width / 2)
    )


def _band(middle: Point, width: float = _WIDTH, lean: float = 0.0) -> Stroke:
    """Return the tape round a stem; `lean` is how far the stem goes sideways a unit of height."""
    half = width / 2 + 0.12
    long = math.hypot(1.0, lean)
    across, up = half / long, -half * lean / long
    x, y = middle
    return Stroke(((x - across, y - up), (x + across, y + up)), "band")


def _ground_line(fall: float = 0.0) -> Stroke:
    return ground((-_HALF_GROUND, _HALF_GROUND * fall), (_HALF_GROUND, -_HALF_GROUND * fall))


def _panel(strokes: tuple[Stroke, ...], title: str, *words: Word) -> Drawing:
    return Drawing(strokes, (Word((0.0, -0.7), title, "below"), *words), title)


def _on_level(at: str) -> Drawing:
    strokes = (
        _ground_line(),
        *_trunk((0.0, 0.0), (0.0, _TALL)),
        _band((0.0, _BREAST)),
        *_upright(0.8, 0.0, _BREAST),
    )
    return _panel(strokes, "level ground", _beside(0.8, _BREAST / 2, at))


def _on_slope(at: str) -> Drawing:
    fall = 0.45
    high = _WIDTH / 2 * fall
    strokes = (
        _ground_line(fall),
        *_trunk((0.0, 0.0), (0.0, _TALL)),
        Stroke(((-_WIDTH / 2, high), (1.1, high)), "thin"),
        _band((0.0, high + _BREAST)),
        *_upright(0.8, high, high + _BREAST),
    )
    return _panel(strokes, "from the uphill side", _beside(0.8, high + _BREAST / 2, at))


def _leaning(at: str) -> Drawing:
    lean = -0.4  # to the left, a unit of height
    long = math.hypot(1.0, lean)
    up = _BREAST / long
    foot: Point = (0.7, 0.0)
    aside = 0.75
    start, end = (foot[0] - aside, 0.0), (foot[0] - aside + lean * up, up)
    strokes = (
        _ground_line(),
        *_trunk(foot, (foot[0] + lean * _TALL, _TALL)),
        _band((foot[0] + lean * up, up), lean=lean),
        Stroke((start, end), "measure"),
        *(
            Stroke(((x - 0.12, y + 0.12 * lean), (x + 0.12, y - 0.12 * lean)), "measure")
            for x, y in (start, end)
        ),
    )
    word = Word(((start[0] + end[0]) / 2 - 0.1, up / 2), at, "left")
    return _panel(strokes, "along the stem", word)


def _draw_swelling() -> Drawing:
    side = ((0.3, 0.0), (0.3, 0.9), (0.52, 1.15), (0.52, 1.35), (0.28, 1.6), (0.25, _TALL))
    other = tuple((-x, y) for x, y in side)
    strokes = (
        _ground_line(),
        Stroke(side, "bark"),
        Stroke(other, "bark"),
        _band((0.0, 1.75)),
        *_upright(0.95, 0.0, 1.75),
    )
    return _panel(strokes, "past a swelling", _beside(0.95, 0.8, "write it"))


def _forked_stem(fork: float, foot_width: float = _WIDTH) -> tuple[Stroke, ...]:
    """Return a stem that divides at this height."""
    half, reach = foot_width / 2, 0.3 * (_TALL - fork)
    middle = (0.0, fork + 0.35)
    return (
        Stroke(((-half, 0.0), (-half, fork), (-half - reach, _TALL)), "bark"),
        Stroke(((half, 0.0), (half, fork), (half + reach, _TALL)), "bark"),
        Stroke(((-reach - half + _THIN, _TALL), middle, (reach + half - _THIN, _TALL)), "bark"),
    )


def _fork_above() -> Drawing:
    strokes = (_ground_line(), *_forked_stem(1.9), _band((0.0, _BREAST)))
    return _panel(strokes, "fork above: one")


def _fork_at() -> Drawing:
    side = ((0.28, 0.0), (0.28, 0.8), (0.5, 1.2), (0.55, 1.4), (0.95, _TALL))
    other = tuple((-x, y) for x, y in side)
    inner = ((-0.55, _TALL), (0.0, 1.8), (0.55, _TALL))
    strokes = (
        _ground_line(),
        *(Stroke(points, "bark") for points in (side, other, inner)),
        _band((0.0, 0.75), 0.56),
        *_upright(0.95, 0.0, 0.75),
    )
    return _panel(strokes, "fork swells it", _beside(0.95, 0.4, "write it"))


def _fork_below() -> Drawing:
    fork, half, reach = 0.5, 0.35, 0.3 * (_TALL - 0.5)
    left = -half - reach * (_BREAST - fork) / (_TALL - fork) + _THIN / 2
    strokes = (
        _ground_line(),
        *_forked_stem(fork, 2 * half),
        _band((left, _BREAST), _THIN, lean=-0.3),
        _band((-left, _BREAST), _THIN, lean=0.3),
    )
    return _panel(strokes, "fork below: each")


def _stems_apart() -> Drawing:
    strokes: tuple[Stroke, ...] = (_ground_line(),)
    for foot, lean, width in ((-0.55, -0.22, 0.42), (0.0, 0.0, 0.32), (0.5, 0.25, 0.22)):
        strokes += _trunk((foot, 0.0), (foot + lean * _TALL, _TALL), width)
        strokes += (_band((foot + lean * _BREAST, _BREAST), 0.9 * width, lean),)
    return _panel(strokes, "one root: each stem")


def _upright(x: float, low: float, high: float) -> tuple[Stroke, ...]:
    """Return a measured height; its end marks are short."""
    line, *_ = measure((x, low), (x, high))
    return (
        line,
        *(Stroke(((x - 0.12, y), (x + 0.12, y)), "measure") for y in (low, high)),
    )


def _beside(x: float, y: float, text: str) -> Word:
    return spot((x - 0.25, y), text)
