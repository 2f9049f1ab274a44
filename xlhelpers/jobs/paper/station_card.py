"""The card of two stations in line with a tree, for a distance that cannot be measured."""

from math import atan, degrees

from xlhelpers.jobs.paper.card import Card, Numbers, write_entries, write_signed
from xlhelpers.jobs.paper.crew_rules import CrewRules
from xlhelpers.jobs.paper.height_cards import draw_heights, height_steps
from xlhelpers.jobs.paper.scene import (
    BASE_HEIGHT,
    DISTANCE,
    EYE,
    EYE_POINT,
    TOTAL_HEIGHT,
    Drawing,
    Stroke,
    Tree,
    Word,
    draw_observer,
    ground,
    measure,
    spot,
)
from xlhelpers.measure import heights, two_stations

# how much farther away the second station is (m of the scene)
_STEP = 12.0
_WATER = (7.0, 17.0)  # where it begins and ends
_TREE = Tree((DISTANCE + 0.35, 0.0))


def in_line(crew: CrewRules) -> Card:
    """Return the card of two stations in line with the tree."""
    numbers = Numbers(crew.units)
    step = numbers.length(_STEP)
    foot, base, tip = (
        numbers.reading((height - EYE) / DISTANCE) for height in (0.0, BASE_HEIGHT, TOTAL_HEIGHT)
    )
    foot_2, tip_2 = (
        numbers.reading((height - EYE) / (DISTANCE + _STEP)) for height in (0.0, TOTAL_HEIGHT)
    )
    total, one_lower = (_height((tip, second, foot, foot_2), step) for second in (tip_2, tip_2 - 1))
    apart = degrees(atan(tip / 100) - atan(tip_2 / 100))
    points = "foot, crown base and tip" if crew.with_base else "foot and tip"
    return Card(
        "Two stations in line",
        "Water, a fence or private ground is in the way, so you cannot measure the distance.",
        height_steps(
            crew,
            f"Station 1: where you see {points}. Station 2: on the same line, about half the "
            "distance nearer or farther. Never step back while aiming. Keep off the road.",
            f"From station 1: {points}. From station 2: the foot again, and the same tip. Find it "
            "by a mark next to it, such as a fork.",
            "All on one scale, as precisely as you can. The two angles to the tip must differ by "
            f"{two_stations.SMALLEST_DIFFERENCE:.0f}° or more. If not, make the step longer.",
            "Leave Distance blank. Step, tip reading 2 and foot reading 2 go on the page Rare "
            "cases.",
            "Level, from station 1 to station 2. It starts and ends where the instrument was. "
            "Never lay it across a road.",
        ),
        _draw(crew, numbers, (tip, tip_2), step),
        write_entries(
            crew,
            distance="",
            foot_reading=foot,
            base_reading=base,
            tip_reading=tip,
            station_step=step,
            second_tip_reading=tip_2,
            second_foot_reading=foot_2,
        ),
        f"Total height {numbers.show(total)} (percent scale); the angles to the tip differ by "
        f"{apart:.0f}°. If the second tip reading were one lower, the height would be "
        f"{numbers.show(one_lower)}.",
    )


def _height(readings: tuple[float, float, float, float], step: float) -> float:
    """Return the height from two tips and two feet in percent."""
    tip, tip_2, foot, foot_2 = (reading / 100 for reading in readings)
    distance = two_stations.distance_from_first(tip, tip_2, foot, foot_2, step)
    return float(heights.from_percent(readings[0], readings[2], float(distance)))


def _draw(crew: CrewRules, numbers: Numbers, tips: tuple[float, float], step: float) -> Drawing:
    second = (EYE_POINT[0] - _STEP, EYE)
    top = _TREE.at(TOTAL_HEIGHT)
    first_tip, second_tip = (write_signed(tip) for tip in tips)
    words = (
        spot((top[0], top[1] + 0.2), f"tip {first_tip} and {second_tip}", "above"),
        Word((8.6, 14.4), f"{two_stations.SMALLEST_DIFFERENCE:.0f}° or more", "left"),
        Word((0.0, -0.4), "station 1", "below"),
        Word((-_STEP, -0.4), "station 2", "below"),
        Word((-_STEP / 2, -2.2), f"step {numbers.show(step)}", "below"),
        Word((12.0, -1.2), "water", "below"),
    )
    left, right = _WATER
    bed = ((left, 0.0), (left + 1.0, -1.0), (right - 1.0, -1.0), (right, 0.0))
    return draw_heights(
        crew,
        _TREE,
        (0.0, BASE_HEIGHT, TOTAL_HEIGHT),
        words,
        "Two people in line with a tree, one behind the other, aim at its tip and its foot. The "
        "step between them is measured.",
        (
            *draw_observer((-_STEP, 0.0)),
            Stroke((second, top), "sight"),
            Stroke((second, _TREE.foot), "sight"),
            *measure((second[0], -1.9), (EYE_POINT[0], -1.9)),
            Stroke(((left + 0.3, -0.3), (right - 0.3, -0.3)), "thin"),
        ),
        tape=None,
        level_to=None,
        surface=ground((-_STEP - 2.0, 0.0), *bed, (DISTANCE + 7.0, 0.0)),
    )
