"""Cards of the trees that need more than three readings: hidden foot, lean, dead top."""

from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.paper import card
from xlhelpers.jobs.paper.card import Card, Numbers, entry, foot_entry, signed
from xlhelpers.jobs.paper.cards_sighted import AIM, STAND_BACK
from xlhelpers.jobs.paper.scene import (
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
from xlhelpers.measure import heights, lean, sightings

_EYE = eye_of((0.0, 0.0))
_FOOT = (DISTANCE + 0.35, 0.0)
_MARK = 2.0
_FLAT = ground((-3.0, 0.0), (DISTANCE + 7.0, 0.0))


def hidden_foot(units: Units) -> Card:
    """Return the card of a mark above a hidden foot."""
    numbers = Numbers(units)
    distance, mark = numbers.length(DISTANCE), numbers.length(_MARK)
    aimed, base, tip = (
        numbers.reading(slope, "percent")
        for slope in ((_MARK - EYE) / DISTANCE, card.BASE_SLOPE, card.TIP_SLOPE)
    )
    total = sightings.height_above_mark(distance, tip / 100, aimed / 100, mark)
    return Card(
        "Hidden foot",
        "A hedge, a wall or a parked car hides the foot: aim at a mark on the stem instead.",
        STAND_BACK,
        "At the mark first, then at crown base and tip. The mark is a hand, a strip of tape or a "
        "knot that both of you know, on the stem.",
        f"The reading to the mark, and its height above the foot by tape, to 0.1 {numbers.unit}.",
        "The reading to the mark in the foot box: mark it + with the tick if it lies above your "
        "eye. Its height above the foot in the second block, mark above foot.",
        _hidden_scene((numbers.shown(mark), signed(aimed), signed(tip), numbers.shown(distance))),
        (
            entry("distance", f"{distance:.1f}"),
            foot_entry(aimed),
            entry("base_reading", signed(base)),
            entry("tip_reading", signed(tip)),
            entry("mark_above_foot", f"{mark:.1f}"),
        ),
        f"Total height {numbers.shown(float(total))} (percent scale).",
    )


def _hidden_scene(texts: tuple[str, str, str, str]) -> Drawing:
    mark, aimed, tip, away = texts
    tree = Tree(_FOOT)
    hedge = tuple((DISTANCE - 3.5 + 0.35 * i, 1.2 * (i % 2)) for i in range(9))
    return Drawing(
        (
            _FLAT,
            *draw_tree(tree),
            *draw_observer((0.0, 0.0)),
            *sights(_EYE, tree.at(_MARK), tree.at(tree.base), tree.at(tree.tip)),
            level(_EYE, DISTANCE + 4.0),
            Stroke(hedge, "crown"),
            *measure((DISTANCE + 2.0, 0.0), (DISTANCE + 2.0, _MARK)),
        ),
        (
            spot((DISTANCE + 2.0, 0.8), f"mark above foot {mark}"),
            spot((DISTANCE + 1.6, _MARK + 0.9), f"mark {aimed}"),
            spot((_FOOT[0], TOTAL_HEIGHT + 0.2), f"tip {tip}", "above"),
            Word((10.0, -0.2), f"level distance {away}", "below"),
        ),
        "A hedge hides the foot; a person sights a mark on the stem above it.",
    )


def leaning(units: Units) -> Card:
    """Return the card of a leaning tree."""
    numbers = Numbers(units)
    lean_out = 3.0
    tree = Tree(_FOOT, offset=lean_out)
    away = DISTANCE - lean_out
    distance, offset = numbers.length(DISTANCE), numbers.length(lean_out)
    foot, base, tip = (
        numbers.reading(slope, "percent")
        for slope in (
            card.FOOT_SLOPE,
            (tree.base - EYE) / (DISTANCE - lean_out * tree.base / tree.tip),
            (TOTAL_HEIGHT - EYE) / away,
        )
    )
    total = lean.tip_height(distance, tip / 100, foot / 100, offset)
    return Card(
        "Leaning tree",
        "When the tip stands more than a step to your side of the foot, or away from you. A lean "
        "sideways needs nothing: stand so that the tree leans to your left or right if you can.",
        "Best at right angles to the lean; then write no tip offset. Not under the lean.",
        AIM,
        "As always. Then tape, level, from the foot to the spot on the ground below the tip, found "
        "by sighting from the side. Not under a dead, split or hung top: write a note instead.",
        "Tip offset in the second block: + toward you, − away from you.",
        _leaning_scene(tree, (numbers.shown(offset), numbers.shown(distance), signed(tip))),
        (
            entry("distance", f"{distance:.1f}"),
            foot_entry(foot),
            entry("base_reading", signed(base)),
            entry("tip_reading", signed(tip)),
            entry("tip_offset", f"+{offset:.1f}"),
        ),
        f"Total height {numbers.shown(float(total))} (percent scale). Without the offset it would "
        f"come out as {numbers.shown(float(heights.from_percent(tip, foot, distance)))}.",
    )


def _leaning_scene(tree: Tree, texts: tuple[str, str, str]) -> Drawing:
    offset, away, tip = texts
    tip_at = tree.at(tree.tip)
    return Drawing(
        (
            _FLAT,
            *draw_tree(tree),
            *draw_observer((0.0, 0.0)),
            *sights(_EYE, tree.foot, tip_at),
            level(_EYE, DISTANCE + 4.0),
            Stroke((tip_at, (tip_at[0], 0.0)), "thin"),
            *measure((tip_at[0], -1.0), (tree.foot[0], -1.0)),
            *measure((_EYE[0], -2.6), (tree.foot[0], -2.6)),
        ),
        (
            spot((DISTANCE + 1.0, -2.6), f"tip offset +{offset}, toward you"),
            Word((10.0, -2.7), f"level distance {away}", "below"),
            spot((tip_at[0], TOTAL_HEIGHT + 0.2), f"tip {tip}", "above"),
            spot((tip_at[0] - 0.1, 4.0), "plumb line", "left"),
        ),
        "A tree leans toward the person; a plumb line drops from its tip to the ground.",
    )


def dead_top(units: Units) -> Card:
    """Return the card of a tree whose top is dead."""
    numbers = Numbers(units)
    living = 14.0
    tree = Tree(_FOOT, crown_top=living)
    distance = numbers.length(DISTANCE)
    foot, base, top, tip = (
        numbers.reading(slope, "percent")
        for slope in (card.FOOT_SLOPE, card.BASE_SLOPE, (living - EYE) / DISTANCE, card.TIP_SLOPE)
    )
    total, crown_top = (heights.from_percent(point, foot, distance) for point in (tip, top))
    limit = "1 m" if units == "metric" else "3 ft"
    return Card(
        "Dead top",
        f"The highest {limit} or more of a living tree is dead. A dead tree has condition D and "
        "no crown readings.",
        STAND_BACK + " Nobody walks under a dead, split or hung top, not for a diameter either.",
        "At the foot, the crown base, the crown top (the highest living shoot), and the tip, "
        "living or dead.",
        "Four readings on one scale. With glasses if leaves are hard to see.",
        "T under condition, and the crown top reading. One without the other is asked about.",
        _dead_scene(tree, (signed(top), signed(tip), numbers.shown(distance))),
        (
            entry("condition", "T"),
            entry("distance", f"{distance:.1f}"),
            foot_entry(foot),
            entry("base_reading", signed(base)),
            entry("top_reading", signed(top)),
            entry("tip_reading", signed(tip)),
        ),
        f"Total height {numbers.shown(float(total))}, crown top {numbers.shown(float(crown_top))} "
        "(percent scale).",
    )


def _dead_scene(tree: Tree, texts: tuple[str, str, str]) -> Drawing:
    top, tip, away = texts
    living = tree.crown_top
    return Drawing(
        (
            _FLAT,
            *draw_tree(tree),
            *draw_observer((0.0, 0.0)),
            *sights(_EYE, tree.foot, tree.at(tree.base), tree.at(living), tree.at(tree.tip)),
            level(_EYE, DISTANCE + 4.0),
            *measure((DISTANCE + 6.4, tree.base), (DISTANCE + 6.4, living)),
        ),
        (
            spot((DISTANCE + 6.4, 9.6), "crown depth"),
            spot((DISTANCE + 2.0, living + 1.0), f"crown top {top}"),
            spot((_FOOT[0], TOTAL_HEIGHT + 0.2), f"tip {tip}, dead", "above"),
            Word((10.0, -0.2), f"level distance {away}", "below"),
        ),
        "A tree with a dead top; a person sights foot, crown base, crown top and tip.",
    )
