"""The cards of the ways of measuring a height, with a drawing and a worked example each.

Every example is computed from the readings that its card shows, rounded as the instrument is read,
with the formulas of the program.
"""

from collections.abc import Sequence
from math import dist
from typing import Any

from xlhelpers.fields.choices import EYE_HEIGHT_WORDS
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.jobs.paper.card import (
    Card,
    Numbers,
    Steps,
    join_sentences,
    write_entries,
    write_signed,
)
from xlhelpers.jobs.paper.crew_rules import CrewRules
from xlhelpers.jobs.paper.scene import (
    BASE_HEIGHT,
    DISTANCE,
    EYE,
    EYE_POINT,
    TOTAL_HEIGHT,
    Drawing,
    Stroke,
    TapeEnd,
    Tree,
    Word,
    draw_aiming,
    draw_observer,
    draw_tape_end,
    draw_tree,
    ground,
    measure,
    spot,
)
from xlhelpers.measure import heights, lean, sightings
from xlhelpers.measure.slopes import angle

TAPE = (
    "To the point marked at the top of the sheet. Centre: hold the tape beside the stem, at its "
    "middle. Bark: hold it on the bark that faces you. The workbook adds half the diameter."
)
_LASER = "Never point it at people, vehicles or the sun. "
_FOOT_SLOPE = -EYE / DISTANCE
_BASE_SLOPE = (BASE_HEIGHT - EYE) / DISTANCE
_TIP_SLOPE = (TOTAL_HEIGHT - EYE) / DISTANCE
_FOOT = (DISTANCE + 0.35, 0.0)
_TREE = Tree(_FOOT)
_TAPE_PLACE = (-8.5, 13.0)
_TIP_PLACE = (_FOOT[0], TOTAL_HEIGHT + 0.2)


_LIVING_TOP = 14.0
_OF_CROWNS = ("crown base", "crown top", "crown depth")


def _stand(crew: CrewRules) -> str:
    """Return where to stand."""
    return (
        f"At least one tree height away. You must see {_points(crew)}. Stand level with the foot, "
        "or higher. Keep off the road and out from under the crown."
    )


def _aim(crew: CrewRules) -> str:
    """Return what each reading is aimed at."""
    base = (
        "Crown base: level with the stem, never a branch that reaches toward you. "
        if crew.with_base
        else ""
    )
    return (
        f"Foot: the highest ground at the stem. {base}Tip: the highest point, seen through the "
        "crown, not its near edge."
    )


def _also(crew: CrewRules, text: str) -> str:
    """Return a text about the crown base, or nothing where it is not measured."""
    return text if crew.with_base else ""


def _points(crew: CrewRules) -> str:
    """Return the points that are aimed at."""
    return "foot, crown base and tip" if crew.with_base else "foot and tip"


def _above(crew: CrewRules) -> str:
    """Return the points above the foot that are aimed at."""
    return "the crown base and the tip" if crew.with_base else "the tip"


def draw_heights(
    crew: CrewRules,
    tree: Tree,
    aimed: Sequence[float],
    words: tuple[Word, ...],
    description: str,
    more: tuple[Stroke, ...] = (),
    *,
    tape: TapeEnd | None = "tape",
    **looks: Any,
) -> Drawing:
    """Return a drawing of aiming, with where the tape ends, without crowns where none is measured.

    `aimed` are heights above the foot [m of the scene]; `tape` is None where no distance is used.
    `looks` are further arguments of `draw_aiming`.
    """
    if not crew.with_base:
        aimed = [height for height in aimed if height not in (BASE_HEIGHT, _LIVING_TOP)]
        words = tuple(word for word in words if not word.text.startswith(_OF_CROWNS))
    if tape is not None:
        end = draw_tape_end(_TAPE_PLACE, tape)
        more, words = (*more, *end.strokes), (*words, *end.words)
    return draw_aiming(tree, aimed, words, description, more, **looks)


def height_steps(
    crew: CrewRules, stand: str, aim: str, read: str, write: str, tape: str = TAPE
) -> Steps:
    """Return the five steps of measuring a height, and what the survey's rules add to them."""
    rule = join_sentences((crew.crown_base, crew.which_heights))
    texts = (stand, tape, aim, read, write, rule)
    names = ("Stand", "Tape", "Aim", "Read", "Write", "Rules")
    return tuple(zip(names, texts, strict=True))


def _with_scale(crew: CrewRules, scale: str, title: str, when: str, read: str) -> Card:
    numbers = Numbers(crew.units)
    slopes = (_FOOT_SLOPE, _BASE_SLOPE, _TIP_SLOPE)
    foot, base, tip = (numbers.reading(slope, scale) for slope in slopes)
    distance = numbers.length(DISTANCE)
    if scale == "fixed distance":
        total, low = (
            heights.from_fixed_distance_scale(point, foot, distance, numbers.fixed_distance)
            for point in (tip, base)
        )
    else:
        height = {
            "percent": heights.from_percent,
            "degrees": heights.from_degrees,
            "topographic": heights.from_topographic,
        }[scale]
        total, low = (height(point, foot, distance) for point in (tip, base))
    words = (
        spot(_TIP_PLACE, f"tip {write_signed(tip)}", "above"),
        spot((DISTANCE + 5.0, BASE_HEIGHT), f"crown base {write_signed(base)}"),
        spot((DISTANCE + 0.6, 0.7), f"foot {write_signed(foot)}"),
        Word((-0.3, EYE + 0.9), "eye", "left"),
        spot((DISTANCE + 5.5, EYE), "level line 0"),
        Word((11.0, -1.5), f"level distance {numbers.show(distance)}", "below"),
    )
    drawing = draw_heights(
        crew,
        _TREE,
        (0.0, BASE_HEIGHT, TOTAL_HEIGHT),
        words,
        "A person aims at the foot, the crown base and the tip of a tree from a level distance.",
        measure((EYE_POINT[0], -1.4), (_FOOT[0], -1.4)),
        level_to=DISTANCE + 5.5,
    )
    return Card(
        title,
        when,
        height_steps(
            crew,
            _stand(crew),
            _aim(crew),
            read,
            "The sign first (− is printed for the foot), then the distance. Mark the scale.",
        ),
        drawing,
        write_entries(
            crew, distance=distance, foot_reading=foot, base_reading=base, tip_reading=tip
        ),
        f"Total height {numbers.show(total)}{_also(crew, f', crown base {numbers.show(low)}')} "
        "above the foot. The workbook computes this.",
    )


def percent(crew: CrewRules) -> Card:
    """Return the card of a clinometer read in percent."""
    return _with_scale(
        crew,
        "percent",
        "Clinometer, percent scale",
        "Any distance. The reading is how far a point is above or below your eye, per 100 of "
        "distance.",
        "The whole percent at the line. Two scales? Percent is the one that shows 100 next to 45.",
    )


def degrees(crew: CrewRules) -> Card:
    """Return the card of a clinometer read in degrees."""
    return _with_scale(
        crew,
        "degrees",
        "Clinometer, degrees scale",
        "Any distance. The reading is the angle above or below the level of your eye.",
        "The whole degree at the line, or closer if the scale allows. Degrees is the scale that "
        "shows 45 next to 100. Read the first tip of each plot on both scales. Then the office "
        "can see which one you read.",
    )


def topographic(crew: CrewRules) -> Card:
    """Return the card of a clinometer read on the topographic scale."""
    return _with_scale(
        crew,
        "topographic",
        "Clinometer, topographic scale",
        "Any distance, in any unit. The reading is how far a point is above or below your eye, "
        "per 66 of distance.",
        "The whole number at the line. This scale shows 66 where degrees show 45. Mark "
        "topographic. Do not convert to percent.",
    )


def fixed_distance(crew: CrewRules) -> Card:
    """Return the card of a scale that shows heights at one distance."""
    base = "20 m" if crew.units == "metric" else "66 ft"
    return _with_scale(
        crew,
        "fixed distance",
        "Scale made for one fixed distance",
        f"The scale in this example shows heights if you stand {base} away. At another distance, "
        "write the distance that you measured. The workbook converts the readings.",
        "The mark at the line, on the scale whose distance is on the sheet Instruments. Never mix "
        "two scales on one tree.",
    )


def along_slope(crew: CrewRules) -> Card:
    """Return the card of a distance that was taped along the slope."""
    numbers, fall = Numbers(crew.units), -4.0
    slope = fall / DISTANCE
    along = numbers.length((DISTANCE**2 + fall**2) ** 0.5)
    drop, foot, base, tip = (
        numbers.reading(rise / DISTANCE)
        for rise in (
            fall,
            fall - EYE,
            fall + BASE_HEIGHT - EYE,
            fall + TOTAL_HEIGHT - EYE,
        )
    )
    level = heights.level_distance(along, float(angle(drop / 100)))
    tree = Tree((_FOOT[0], fall))
    mark, top = tree.at(EYE), tree.at(tree.tip)
    drawing = draw_heights(
        crew,
        tree,
        (EYE, 0.0, TOTAL_HEIGHT),
        (
            spot((mark[0] + 0.2, mark[1]), f"mark at eye height: {write_signed(drop)}"),
            Word((9.0, -3.6), f"along the slope {numbers.show(along)}", "below"),
            spot((top[0], top[1] + 0.2), f"tip {write_signed(tip)}", "above"),
            Word((5.0, EYE), "level line: 0", "above"),
        ),
        "A person uphill of a tree aims at a mark on the stem at the height of the eye.",
        measure((0.3, -0.9), (DISTANCE + 0.1, fall - 0.9)),
        surface=ground(
            (-3.0, -3.0 * slope), (0.0, 0.0), tree.foot, (DISTANCE + 6.0, fall + 6 * slope)
        ),
    )
    return Card(
        "Distance taped along a slope",
        "For places where you cannot hold the tape level. Also read the slope.",
        height_steps(
            crew,
            "Uphill of the tree if you can, at least one tree height away.",
            "First at a mark on the stem, as high above the ground as your eye: this is the slope "
            f"reading. Then at {_points(crew)} as always.",
            "All on one scale. Readings below eye level are −."
            + _also(crew, " The crown base may be − too."),
            "The taped distance as it is. Mark distance kind along slope (top of the sheet). Write "
            "the slope reading on the page Rare cases.",
        ),
        drawing,
        write_entries(
            crew,
            distance=along,
            foot_reading=foot,
            base_reading=base,
            tip_reading=tip,
            slope_reading=drop,
        ),
        f"Level distance {numbers.show(level)}, total height "
        f"{numbers.show(heights.from_percent(tip, foot, level))} (percent scale).",
    )


def straight(crew: CrewRules) -> Card:
    """Return the card of straight distances and angles."""
    numbers = Numbers(crew.units)
    points = (0.0, BASE_HEIGHT, TOTAL_HEIGHT)
    foot, base, tip = (numbers.length(dist(EYE_POINT, _TREE.at(height))) for height in points)
    down, middle, up = (
        round(float(angle(slope)), 1) for slope in (_FOOT_SLOPE, _BASE_SLOPE, _TIP_SLOPE)
    )
    drawing = draw_heights(
        crew,
        _TREE,
        points,
        (
            Word((9.0, 10.2), f"straight to the tip {numbers.show(tip)}", "left"),
            spot((DISTANCE + 5.0, BASE_HEIGHT), f"crown base {numbers.show(base)}"),
            Word((10.0, -0.2), f"straight to the foot {numbers.show(foot)}", "below"),
            spot(_TIP_PLACE, f"angle {write_signed(up)}°", "above"),
        ),
        "A person measures straight distances to the foot, the crown base and the tip.",
        tape="laser",
    )
    return Card(
        "Straight distances (laser with angles)",
        "An instrument that measures the straight distance to the point you aim at, and the angle.",
        height_steps(
            crew,
            _stand(crew),
            _LASER + f"Aim at {_points(crew)}. Aim at the tip several times and keep the "
            "longest: a twig in front makes the tree too short.",
            "Distance and angle of the same aim. Write the straight distance, not a level "
            "distance or a height that the display has computed.",
            "Mark distance kind straight to the foot (top of the sheet). Write the distance to the "
            f"foot under Distance, and those to {_above(crew)} on the page Rare cases.",
            "None. A laser measures to what it hits: the bark. If its own rule is another one, see "
            "the sheet Instruments.",
        ),
        drawing,
        write_entries(
            crew,
            distance=foot,
            foot_reading=down,
            base_reading=middle,
            tip_reading=up,
            base_straight=base,
            tip_straight=tip,
        ),
        f"Total height {numbers.show(heights.from_slant_distances(tip, up, foot, down))} "
        "(degrees). A leaning tree needs no correction here.",
    )


def display(crew: CrewRules) -> Card:
    """Return the card of an instrument that shows heights."""
    numbers = Numbers(crew.units)
    base, total = numbers.length(BASE_HEIGHT), numbers.length(TOTAL_HEIGHT)
    low = measure((DISTANCE + 6.6, 0.0), (DISTANCE + 6.6, BASE_HEIGHT))
    drawing = draw_heights(
        crew,
        _TREE,
        (0.0, BASE_HEIGHT, TOTAL_HEIGHT),
        (
            spot((DISTANCE + 8.2, 10.0), numbers.show(total)),
            *((spot((DISTANCE + 6.5, 2.2), numbers.show(base), "left"),) if crew.with_base else ()),
            Word((3.0, 8.0), f"display: {numbers.show(total)}", "left"),
        ),
        "A person aims at a tree; the display shows the heights above the foot.",
        (
            *(low if crew.with_base else ()),
            *measure((DISTANCE + 8.2, 0.0), (DISTANCE + 8.2, TOTAL_HEIGHT)),
        ),
        tape=None,
        level_to=None,
    )
    and_base = _also(crew, f", crown base {numbers.show(base)}")
    return Card(
        "Display that shows heights",
        "A laser or an ultrasonic meter that computes the height above the foot itself.",
        height_steps(
            crew,
            _stand(crew),
            _LASER + _aim(crew),
            "The height above the foot for each point, as shown. Let an ultrasonic meter "
            "adjust to the air temperature first. Keep away from running engines.",
            "The heights, in the boxes for readings. Mark scale height. Leave distance and foot "
            "blank.",
            "None. The instrument measures to the bark or to the transponder on it. Set the stem’s "
            "radius on it if it has such a setting.",
        ),
        drawing,
        write_entries(
            crew,
            distance="",
            foot_reading="",
            base_reading=f"{base:.1f}",
            tip_reading=f"{total:.1f}",
        ),
        f"Total height {numbers.show(total)}{and_base}, as shown.",
    )


def pole(crew: CrewRules) -> Card:
    """Return the card of a crown base measured with a pole or a tape."""
    numbers, low = Numbers(crew.units), 3.6
    foot, tip = numbers.reading(_FOOT_SLOPE), numbers.reading(_TIP_SLOPE)
    distance, crown_base = numbers.length(DISTANCE), numbers.length(low)
    end = draw_tape_end(_TAPE_PLACE, "tape")
    drawing = Drawing(
        (
            *end.strokes,
            ground((8.0, 0.0), (DISTANCE + 7.0, 0.0)),
            *draw_tree(Tree(_FOOT, base=low)),
            *draw_observer((DISTANCE - 1.6, 0.0)),
            *draw_observer((DISTANCE - 9.0, 0.0)),
            Stroke(((DISTANCE - 1.0, 0.0), (DISTANCE - 1.0, 6.4)), "measure"),
            Stroke(((DISTANCE - 8.6, EYE), (DISTANCE + 0.3, low)), "sight"),
            *measure((DISTANCE + 6.2, 0.0), (DISTANCE + 6.2, low)),
        ),
        (
            *end.words,
            spot((DISTANCE + 6.2, low / 2), f"crown base {numbers.show(crown_base)}"),
            spot((DISTANCE - 8.8, 2.4), "says stop", "above"),
            spot((DISTANCE - 1.0, 0.1), "pole, upright", "below"),
        ),
        "One person holds a pole upright beside the stem, another stands back and looks.",
    )
    return Card(
        "Pole or tape",
        "For a crown base within reach. The pole value is used; a reading is kept too.",
        height_steps(
            crew,
            "Beside the stem, on the uphill side. Never under a dead, split or hung top. Is a wire "
            "within 3 m (10 ft) of the pole, or more if local rules say so? Use the instrument "
            "instead.",
            "Hold the pole upright beside the stem, its end on the foot: the highest ground at the "
            "stem. A second person stands back and says “stop” at the crown base.",
            f"To 0.1 {numbers.unit}, at the crown base.",
            "Crown base by pole or tape, on the page Rare cases. Aim at the tip as always.",
        ),
        drawing,
        write_entries(
            crew,
            distance=distance,
            foot_reading=foot,
            base_reading="",
            tip_reading=tip,
            base_by_pole=crown_base,
        ),
        f"Crown base {numbers.show(crown_base)} as measured, total height "
        f"{numbers.show(heights.from_percent(tip, foot, distance))} (percent scale).",
    )


def eye_height(crew: CrewRules) -> Card:
    """Return the card of the eye height in place of a foot reading."""
    numbers = Numbers(crew.units)
    eye, distance = numbers.length(EYE), numbers.length(DISTANCE)
    base, tip = numbers.reading(_BASE_SLOPE), numbers.reading(_TIP_SLOPE)
    drawing = draw_heights(
        crew,
        _TREE,
        (BASE_HEIGHT, TOTAL_HEIGHT),
        (
            spot((-1.6, EYE / 2), f"eye {numbers.show(eye)}", "left"),
            spot((DISTANCE + 2.2, EYE / 2), "the same"),
            Word((10.0, -0.2), "level ground, a hedge", "below"),
            spot(_TIP_PLACE, f"tip {write_signed(tip)}", "above"),
        ),
        "A person on level ground aims at a tree whose foot is hidden by a hedge.",
        (
            *measure((-1.6, 0.0), (-1.6, EYE)),
            *measure((DISTANCE + 2.2, 0.0), (DISTANCE + 2.2, EYE)),
            _hedge(1.1),
        ),
    )
    return Card(
        "Eye height in place of the foot",
        "Only where the ground is truly level and you cannot see the foot. Read the foot if you "
        "can: any slope makes the height wrong by the same amount.",
        height_steps(
            crew,
            f"{_stand(crew)} Choose paved, level ground or a level lawn, not a slope.",
            f"At {_above(crew)}, not at the foot.",
            "As always, on the scale that is marked.",
            f"{EYE_HEIGHT_WORDS} at the bottom of the sheet, under "
            f"“{FIELD_SHEET['missing_because'].label}”. "
            "The sheet People must have the eye height of the first crew member, with shoes on.",
        ),
        drawing,
        write_entries(
            crew,
            distance=distance,
            foot_reading="",
            base_reading=base,
            tip_reading=tip,
            missing_because=EYE_HEIGHT_WORDS,
        ),
        f"Total height {numbers.show(sightings.height_with_eye(distance, tip / 100, eye))} "
        f"(percent scale), with the eye at {numbers.show(eye)}.",
    )


def _hedge(height: float) -> Stroke:
    return Stroke(tuple((DISTANCE - 3.5 + 0.35 * i, height * (i % 2)) for i in range(9)), "crown")


def hidden_foot(crew: CrewRules) -> Card:
    """Return the card of a mark above a hidden foot."""
    numbers, above = Numbers(crew.units), 2.0
    distance, mark = numbers.length(DISTANCE), numbers.length(above)
    aimed, base, tip = (
        numbers.reading(slope) for slope in ((above - EYE) / DISTANCE, _BASE_SLOPE, _TIP_SLOPE)
    )
    total = sightings.height_above_mark(distance, tip / 100, aimed / 100, mark)
    drawing = draw_heights(
        crew,
        _TREE,
        (above, BASE_HEIGHT, TOTAL_HEIGHT),
        (
            spot((DISTANCE + 2.0, 0.9), f"mark at {numbers.show(mark)}"),
            spot((DISTANCE + 1.6, above + 0.9), f"mark {write_signed(aimed)}"),
            spot(_TIP_PLACE, f"tip {write_signed(tip)}", "above"),
            _distance_word(numbers),
        ),
        "A hedge hides the foot; a person aims at a mark on the stem above it.",
        (_hedge(1.2), *measure((DISTANCE + 2.0, 0.0), (DISTANCE + 2.0, above))),
    )
    return Card(
        "Hidden foot",
        "A hedge, a wall or a parked car hides the foot. Aim at a mark on the stem instead.",
        height_steps(
            crew,
            _stand(crew),
            f"At the mark first, then at {_above(crew)}. The mark is a hand, a strip of tape or a "
            "knot on the stem that you both can see.",
            "The reading to the mark, and its height above the foot by tape, to 0.1 "
            f"{numbers.unit}.",
            "The reading to the mark, in the foot box. Mark ☐+ if it is above your eye. Its height "
            "above the foot goes on the page Rare cases, under mark above foot.",
        ),
        drawing,
        write_entries(
            crew,
            distance=distance,
            foot_reading=aimed,
            base_reading=base,
            tip_reading=tip,
            mark_above_foot=mark,
        ),
        f"Total height {numbers.show(total)} (percent scale).",
    )


def _distance_word(numbers: Numbers) -> Word:
    text = f"level distance {numbers.show(numbers.length(DISTANCE))}"
    return Word((10.0, -0.2), text, "below")


def leaning(crew: CrewRules) -> Card:
    """Return the card of a leaning tree."""
    numbers, lean_out = Numbers(crew.units), 3.0
    tree = Tree(_FOOT, offset=lean_out)
    distance, offset = numbers.length(DISTANCE), numbers.length(lean_out)
    foot, base, tip = (
        numbers.reading(slope)
        for slope in (
            _FOOT_SLOPE,
            (tree.base - EYE) / (DISTANCE - lean_out * tree.base / tree.tip),
            (TOTAL_HEIGHT - EYE) / (DISTANCE - lean_out),
        )
    )
    total = lean.tip_height(distance, tip / 100, foot / 100, offset)
    top = tree.at(tree.tip)
    drawing = draw_heights(
        crew,
        tree,
        (0.0, tree.tip),
        (
            spot((DISTANCE + 1.0, -2.6), f"tip offset +{numbers.show(offset)}"),
            Word((10.0, -2.7), f"level distance {numbers.show(distance)}", "below"),
            spot((top[0], TOTAL_HEIGHT + 0.2), f"tip {write_signed(tip)}", "above"),
            spot((top[0] - 0.1, 4.0), "plumb line", "left"),
        ),
        "A tree leans toward the person; a plumb line drops from its tip to the ground.",
        (
            Stroke((top, (top[0], 0.0)), "thin"),
            *measure((top[0], -1.0), (tree.foot[0], -1.0)),
            *measure((EYE_POINT[0], -2.6), (tree.foot[0], -2.6)),
        ),
    )
    return Card(
        "Leaning tree",
        "The tip is more than a step nearer to you than the foot, or farther away. If the tree "
        "leans to your left or right, do nothing special.",
        height_steps(
            crew,
            "Best where the tree leans to your left or right: then there is no tip offset. "
            "Never under the lean.",
            _aim(crew),
            "As always. Then tape, level, from the foot to the point on the ground below the tip. "
            "Find that point by aiming from the side. Never go under a dead, split or hung top: "
            "write a note instead.",
            "Tip offset on the page Rare cases: + toward you, − away from you.",
        ),
        drawing,
        write_entries(
            crew,
            distance=distance,
            foot_reading=foot,
            base_reading=base,
            tip_reading=tip,
            tip_offset=f"+{offset:.1f}",
        ),
        f"Total height {numbers.show(total)} (percent scale). Without the offset it would be "
        f"{numbers.show(heights.from_percent(tip, foot, distance))}.",
    )


def dead_top(crew: CrewRules) -> Card:
    """Return the card of a tree whose top is dead."""
    numbers, living = Numbers(crew.units), _LIVING_TOP
    distance = numbers.length(DISTANCE)
    foot, base, top, tip = (
        numbers.reading(slope)
        for slope in (_FOOT_SLOPE, _BASE_SLOPE, (living - EYE) / DISTANCE, _TIP_SLOPE)
    )
    total, crown_top = (heights.from_percent(point, foot, distance) for point in (tip, top))
    drawing = draw_heights(
        crew,
        Tree(_FOOT, crown_top=living),
        (0.0, BASE_HEIGHT, living, TOTAL_HEIGHT),
        (
            spot((DISTANCE + 6.4, 9.6), "crown depth"),
            spot((DISTANCE + 2.0, living + 1.0), f"crown top {write_signed(top)}"),
            spot(_TIP_PLACE, f"tip {write_signed(tip)}, dead", "above"),
            _distance_word(numbers),
        ),
        "A tree with a dead top; a person aims at foot, crown base, crown top and tip.",
        measure((DISTANCE + 6.4, BASE_HEIGHT), (DISTANCE + 6.4, living)) if crew.with_base else (),
    )
    of_crown = _also(crew, ", the crown base, the crown top (the highest living shoot)")
    and_top = _also(crew, f", crown top {numbers.show(crown_top)}")
    return Card(
        "Dead top",
        f"At least the top {crew.show_length(crew.dead_top)} of a living tree is dead. For a dead "
        "tree, write condition D and no crown readings.",
        height_steps(
            crew,
            f"{_stand(crew)} Nobody walks under a dead, split or hung top, not even for a "
            "diameter.",
            f"At the foot{of_crown} and the tip, living or dead.",
            "All readings on one scale. Use binoculars if leaves are hard to see.",
            f"T under condition{_also(crew, ', and the crown top reading. Write both')}. "
            "For a tree that was cut back (topped, pollarded, under wires) write C, and "
            f"read {_points(crew)} only.",
        ),
        drawing,
        write_entries(
            crew,
            condition="T",
            distance=distance,
            foot_reading=foot,
            base_reading=base,
            top_reading=top,
            tip_reading=tip,
        ),
        f"Total height {numbers.show(total)}{and_top} (percent scale).",
    )
