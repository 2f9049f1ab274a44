"""What the crews of the invented town would write: readings from true trees, with true errors.

The geometry is written out here and shares nothing with the program that reads the town. Crews
stand 1.0 to 1.3 tree heights back where they can, well clear of the crown, never in a carriageway
and never under a dead, split or hung top; a tree that cannot be measured from a safe place is
closed with NOT SAFE. Aims scatter less than the accuracy that is usual for their instruments and
never by more than two of their own spreads, as with a crew that takes its time.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.random import Generator
from town_places import EYE_HEIGHTS, STREET, TOOLS, Row, Tool
from town_trees import Tree, plot_generator

MARK = 1.3
"""Height above the foot of the mark that is aimed at where a hedge hides the foot [m]."""

WITH_RECORDED = ("10", "18")
"""Plots whose paper already carries a crown depth and a mean width, worked out by the crew."""

HEIGHTS_FROM = 8
"""The tree of plot 10 with which its crew began to work out heights as well."""

WITH_POSITIONS = ("1", "19", "25")
"""Plots whose trees are mapped by bearing and distance from the plot centre."""


TAGGED = "25"
"""The plot whose trees have tags, and positions from a satellite receiver."""

CENTRE = (45.0, -30.0)
"""Latitude and longitude of that plot, far out at sea: the town is nowhere."""

METRES_IN_A_DEGREE = 111_200.0


NEAR_LEVEL = 0.10
"""Up to this slope the crews stand along the contour, level with the tree [m per m]."""

WITH_POLE = ("2", "18", "25", "26")
"""Plots without wires, where a small tree is measured with the pole instead."""

POLE_REACH = 6.5


@dataclass(frozen=True)
class Stand:
    """One placing of the instrument: the observer, what is read, and how the ground lies.

    `rise` is the ground at the foot above the ground at the observer [m], `distance` level [m].
    """

    eye: float
    tool: Tool
    scale: str
    kind: str
    distance: float
    rise: float

    @property
    def eye_above_foot(self) -> float:
        """Return how far the eye is above the foot [m]."""
        return self.eye - self.rise


def stand_for(tree: Tree, plot: Row, rng: Generator, share: float | None = None) -> Stand:
    """Choose a place for one tree: `share` tree heights back, or 1.0 to 1.3 of them."""
    back = float(rng.uniform(1.0, 1.3)) if share is None else share
    least = 1.5 if share is not None else max(tree.widest / 2 + 3.0, 6.0)
    distance = round(max(back * tree.total, least), 1)
    slope = float(plot["slope"]) / 100
    if plot["distance_kind"] == "along slope":
        rise = distance * slope * float(rng.choice([-1, 1]) * rng.uniform(0.4, 0.9))
    else:
        rise = float(distance * slope * rng.uniform(-0.7, 0.7))
        rise = rise if slope > NEAR_LEVEL else float(np.clip(rise, -0.15, 0.15))
    tool = TOOLS[plot["instrument"]]
    return Stand(
        EYE_HEIGHTS[plot["crew"].split()[0]],
        replace(tool, to_bark=True) if plot.get("distance_to") == "bark" else tool,
        plot["scale"],
        plot["distance_kind"],
        distance,
        rise,
    )


def readings(tree: Tree, stand: Stand, rng: Generator) -> Row:
    """Return distance and readings of one placing as they are written on paper."""
    if stand.scale == "height":
        line = _shown_heights(tree, stand, rng)
    elif stand.kind == "straight to the foot":
        line = _straight_distances(tree, stand, rng)
    else:
        line = _angles(tree, stand, rng)
    if tree.condition == "D":
        line = {name: value for name, value in line.items() if not name.startswith("base")}
    if tree.condition != "T":
        line = {name: value for name, value in line.items() if not name.startswith("top")}
    return line


def other_scale(tree: Tree, stand: Stand, rng: Generator) -> float | None:
    """Return the tip on the instrument's other scale, None where it has one scale only."""
    others = [scale for scale in stand.tool.step if scale != stand.scale]
    if not others:
        return None
    return aim(_slope(tree, stand, tree.total), stand, rng, others[0])


def _angles(tree: Tree, stand: Stand, rng: Generator) -> Row:
    line: Row = {"distance": _distance(stand, rng)}
    line["foot_reading"] = aim(-stand.eye_above_foot / stand.distance, stand, rng)
    for name, height in _points(tree):
        line[f"{name}_reading"] = aim(_slope(tree, stand, height), stand, rng)
    if stand.kind == "along slope":
        line["slope_reading"] = aim(stand.rise / stand.distance, stand, rng)
    if tree.lean:
        line["tip_offset"] = tree.lean
    if line["foot_reading"] > 0:
        line["foot_above_eye"] = "x"
    return line


def _straight_distances(tree: Tree, stand: Stand, rng: Generator) -> Row:
    bark = stand.distance - tree.stems[0] / 200
    foot = np.hypot(bark, stand.eye_above_foot)
    line: Row = {"distance": _rounded(foot + _scatter(rng, stand.tool.tape), 0.1)}
    line["foot_reading"] = aim(-stand.eye_above_foot / bark, stand, rng)
    for name, height in _points(tree):
        away = stand.distance - tree.lean * height / tree.total
        straight = np.hypot(away, height - stand.eye_above_foot)
        line[f"{name}_reading"] = aim(_slope(tree, stand, height), stand, rng)
        line[f"{name}_straight"] = _rounded(straight + _scatter(rng, stand.tool.tape), 0.1)
    if line["foot_reading"] > 0:
        line["foot_above_eye"] = "x"
    return line


def _shown_heights(tree: Tree, stand: Stand, rng: Generator) -> Row:
    return {
        f"{name}_reading": _rounded(height + _scatter(rng, stand.tool.aim), 0.1)
        for name, height in _points(tree)
    }


def _points(tree: Tree) -> list[tuple[str, float]]:
    return [("base", tree.crown_base), ("top", tree.crown_top), ("tip", tree.total)]


def _slope(tree: Tree, stand: Stand, height: float) -> float:
    """Tangent of the aim at a point of the stem; a lean brings it nearer or takes it away."""
    away = stand.distance - tree.lean * height / tree.total
    return (height - stand.eye_above_foot) / away


def _distance(stand: Stand, rng: Generator) -> float:
    true = np.hypot(stand.distance, stand.rise if stand.kind == "along slope" else 0.0)
    return _rounded(true * (1 + stand.tool.stretch) + _scatter(rng, stand.tool.tape), 0.1)


def aim(slope: float, stand: Stand, rng: Generator, scale: str | None = None) -> float:
    """Read one slope on a scale: steady error, scatter, and the scale's graduation."""
    scale = scale or stand.scale
    degrees = np.degrees(np.arctan(slope)) + stand.tool.zero + _scatter(rng, stand.tool.aim)
    base = {"percent": 100.0, "topographic": 66.0, "fixed distance": stand.tool.scale_distance}
    shown = degrees if scale == "degrees" else np.tan(np.radians(degrees)) * base[scale]
    return _rounded(float(shown), stand.tool.step[scale])


def _scatter(rng: Generator, spread: float) -> float:
    return float(np.clip(rng.normal(0.0, 1.0), -2.0, 2.0)) * spread


def _rounded(value: float, step: float) -> float:
    return round(round(float(value) / step) * step, 2) + 0.0


def lines_of_plot(plot: Row, position: int, trees: list[Tree]) -> tuple[list[Row], float | None]:
    """Write the field sheet of one plot; returns its lines and the first tip on the other scale.

    Second set-ups follow their tree on every other plot, and stand at the end on the rest.
    """
    rng = plot_generator(position, 1)
    lines: list[Row] = []
    later: list[Row] = []
    other = None
    for index, tree in enumerate(trees):
        stand = stand_for(tree, plot, rng)
        line = identity_of(tree)
        if index == 0:
            other = other_scale(tree, stand, rng)
        elif tree.plot in WITH_POLE and tree.total < POLE_REACH:
            stand = replace(stand, tool=TOOLS["Pole 1"], scale="height", kind="none")
            line |= {"instrument": "Pole 1", "scale": "height", "distance_kind": "none"}
        line |= to_stem(readings(tree, stand, rng), stand, tree)
        lines.append(_worked_out(_closed(_special(line, tree, stand, index, rng), index, rng)))
        if rng.uniform() < 0.12 and "missing_because" not in lines[-1]:
            again = stand_for(tree, plot, rng)
            second = {"plot": tree.plot, "tree": tree.number, "setup": 2}
            second |= to_stem(readings(tree, again, rng), again, tree)
            for name in ("recorded_depth", "recorded_width", "recorded_height"):
                lines[-1].pop(name, None)
            (lines if position % 2 else later).append(second)
    return lines + later, other


def identity_of(tree: Tree) -> Row:
    """Return what a line says about the tree itself: species, stems, condition, crown widths."""
    line: Row = {
        "plot": tree.plot,
        "tree": tree.number,
        "species": tree.kind.species,
        "diameter": tree.stems[0],
    }
    if tree.condition:
        line["condition"] = tree.condition
    if tree.condition != "D":
        line |= {"width_widest": tree.widest, "width_across": tree.across}
    if len(tree.stems) > 1:
        line["other_stems"] = " ".join(f"{stem:g}" for stem in tree.stems[1:])
    return line


def to_stem(line: Row, stand: Stand, tree: Tree) -> Row:
    """Take half the stem off a distance that is measured to the bark."""
    if stand.tool.to_bark and stand.kind == "level":
        line["distance"] = _rounded(line["distance"] - tree.stems[0] / 200, 0.1)
    return line


GROUPS: dict[str, float] = {"city tree": 0.5, "front garden": 0.85, "school yard": 1.0}
"""Whose trees they are: the words, and the share of the trees up to and with each."""

GROUPS_OF_STREET: dict[str, float] = {"city tree": 0.85, "front garden": 1.0}


def _special(line: Row, tree: Tree, stand: Stand, index: int, rng: Generator) -> Row:
    """Add what only some trees need: a mark, the eye height, a pole, a position, a group."""
    draw = rng.uniform(size=5)
    level = stand.kind == "level" and abs(stand.rise) < 0.15 and not tree.lean
    if draw[0] < 0.10 and level and index:
        line["mark_above_foot"] = MARK
        slope = (MARK - stand.eye_above_foot) / stand.distance
        line["foot_reading"] = min(aim(slope, stand, rng), -stand.tool.step[stand.scale])
        line["note"] = "hedge hides the foot, aimed at a mark"
    elif draw[4] < 0.04 and level and index and tree.plot != STREET:
        del line["foot_reading"]
        line["missing_because"] = "EYE HEIGHT"
        line["note"] = "flat lawn, eye height in place of the foot"
    elif draw[1] < 0.15 and tree.crown_base < 3.5 and "base_reading" in line:
        line["base_by_pole"] = _rounded(tree.crown_base + _scatter(rng, 0.03), 0.1)
        if draw[2] < 0.5:
            del line["base_reading"]
    if tree.plot in WITH_POSITIONS:
        line["bearing"] = int(rng.integers(0, 360))
        line["centre_distance"] = _rounded(11.28 * np.sqrt(rng.uniform(0.02, 1.0)), 0.1)
    if tree.plot == TAGGED:
        line |= _tag(tree, line["bearing"], line["centre_distance"])
    groups = GROUPS_OF_STREET if tree.plot == STREET else GROUPS
    line["group"] = next(name for name, upto in groups.items() if draw[3] < upto)
    return line


def _tag(tree: Tree, bearing: float, away: float) -> Row:
    """Return the tag of a tree, and where it is."""
    angle, (latitude, longitude) = np.radians(bearing), CENTRE
    north, east = away * np.cos(angle), away * np.sin(angle)
    across = METRES_IN_A_DEGREE * np.cos(np.radians(latitude))
    return {
        "tag": f"V{int(tree.number):03d}",
        "latitude": round(latitude + float(north) / METRES_IN_A_DEGREE, 6),
        "longitude": round(longitude + float(east) / across, 6),
    }


CLOSINGS: tuple[tuple[str, tuple[str, ...]], ...] = (
    ("NOT SEEN", ("tip_reading", "tip_straight")),
    ("NO ACCESS", ("width_widest", "width_across")),
    ("NOT SAFE", ("diameter", "width_widest", "width_across", "other_stems", "base_by_pole")),
    ("NOT ASKED", ("width_across",)),
)
"""Words that close a blank, and the cells that are then left blank."""

CLOSED_SHARE = 0.04


def _closed(line: Row, index: int, rng: Generator) -> Row:
    draw, which = rng.uniform(), index % len(CLOSINGS)
    if "missing_because" in line:
        return line
    if index and draw < CLOSED_SHARE and not line.get("condition"):
        word, blanks = CLOSINGS[which]
        line = {name: value for name, value in line.items() if name not in blanks}
        line["missing_because"] = word
    elif index and draw < CLOSED_SHARE + 0.01 and "width_across" in line:
        line["width_across"] = "?" if which % 2 else "UNREADABLE"
    return line


def _worked_out(line: Row) -> Row:
    """Add the height, crown depth and mean width that some crews work out on their paper."""
    whole = {"distance", "foot_reading", "base_reading", "tip_reading", "width_widest"}
    if line["plot"] not in WITH_RECORDED or not whole <= set(line) or line.get("condition"):
        return line
    if {"base_by_pole", "tip_offset"} & set(line) or not isinstance(
        line.get("width_across"), float
    ):
        return line
    depth = line["distance"] * (line["tip_reading"] - line["base_reading"]) / 100
    width = (line["width_widest"] + line["width_across"]) / 2
    worked_out = {"recorded_depth": round(depth, 2), "recorded_width": round(width, 2)}
    if line["plot"] == "10" and int(line["tree"]) >= HEIGHTS_FROM and "mark_above_foot" not in line:
        height = line["distance"] * (line["tip_reading"] - line["foot_reading"]) / 100
        worked_out["recorded_height"] = round(height, 2)
    return {**line, **worked_out}
