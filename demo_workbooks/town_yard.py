"""The yard of the boatbuilders: a plot with what only few trees of a town need.

Its crew hooks the tape into the bark and reads no foot, because the ground is paved and level. Some
of its trees were cut back, one was estimated by eye, and two stand behind the water of a slip, so
they were measured from two stations in line. For two trees the crew worked out the height itself.
"""

from dataclasses import replace

from numpy.random import Generator
from town_crews import Stand, aim, identity_of, readings, stand_for, to_stem
from town_places import Row
from town_trees import Tree, plot_generator

CUT_BACK = ("2", "5")
BY_EYE = "3"
BEHIND_WATER = ("4", "6")
WORKED_OUT = ("8", "9")


def cut_some_back(trees: list[Tree]) -> list[Tree]:
    """Return the trees of the yard, those under its wires cut back to two thirds."""
    return [_cut_back(tree) if tree.number in CUT_BACK else tree for tree in trees]


def _cut_back(tree: Tree) -> Tree:
    total = tree.total * 2 / 3
    return replace(
        tree,
        condition="C",
        total=total,
        crown_top=total,
        crown_base=min(tree.crown_base, total / 2),
        widest=round(tree.widest * 0.6, 1),
        across=round(tree.across * 0.6, 1),
        lean=0.0,
    )


def lines_of_yard(plot: Row, position: int, trees: list[Tree]) -> list[Row]:
    """Write the field sheet of the yard: one line a tree, no foot on any."""
    rng = plot_generator(position, 1)
    lines = []
    for tree in trees:
        # paved: the eye is as high above the foot as above the ground
        stand = replace(stand_for(tree, plot, rng), rise=0.0)
        line = identity_of(tree) | to_stem(readings(tree, stand, rng), stand, tree)
        del line["foot_reading"]
        if tree.number in CUT_BACK:
            line["note"] = "cut back under the wires"
        elif tree.number == BY_EYE:
            line = _estimated(line, tree)
        elif tree.number in BEHIND_WATER:
            line = _from_two_stations(line, tree, stand, rng)
        elif tree.number in WORKED_OUT:
            level = line["distance"] + line["diameter"] / 200
            line["recorded_height"] = round(level * line["tip_reading"] / 100 + stand.eye, 2)
        line["group"] = "city tree"
        lines.append(line)
    return lines


def _estimated(line: Row, tree: Tree) -> Row:
    """Leave the tip out and give the height that the crew guessed, to the metre."""
    return {name: value for name, value in line.items() if name != "tip_reading"} | {
        "height_by_eye": float(round(tree.total)),
        "missing_because": "NOT SEEN",
        "note": "tip hidden by a crane, height by eye",
    }


def _from_two_stations(line: Row, tree: Tree, stand: Stand, rng: Generator) -> Row:
    """Measure from two stations in line: half the distance farther away, the same tip again."""
    step = round(stand.distance / 2, 1)
    slope = (tree.total - stand.eye) / (stand.distance + step)
    return {name: value for name, value in line.items() if name != "distance"} | {
        "station_step": step,
        "second_tip_reading": aim(slope, stand, rng),
        "note": "behind the water, two stations in line",
    }
