"""The pieces that the drawings are put together from: ground, tree, observer, sights, measures.

The unit is a metre of a scene that is the same for every survey: an eye of 1.6 m, 20 m from a
tree of 18 m. A town that works in feet sees the same picture with its own numbers.
"""

import math
from dataclasses import dataclass

from xlhelpers.workbook.paper.drawing import Point, Stroke, StrokeLook, Word

DISTANCE = 20.0
EYE = 1.6
BASE_HEIGHT, TOTAL_HEIGHT = 5.2, 18.0
_CROWN_RADIUS = 4.6
_ROUND, _LOBES = 96, 13


@dataclass(frozen=True)
class Tree:
    """A tree: its foot, heights above the foot, where its tip stands over, its dead top."""

    foot: Point
    base: float = BASE_HEIGHT
    crown_top: float = TOTAL_HEIGHT
    tip: float = TOTAL_HEIGHT
    offset: float = 0.0

    def at(self, height: float) -> Point:
        """Return the point of the stem so high above the foot."""
        return self.foot[0] - self.offset * height / self.tip, self.foot[1] + height


def draw_tree(tree: Tree) -> tuple[Stroke, ...]:
    """Return the stem, the outline of the living crown, and the dead top where there is one."""
    middle = tree.at((tree.base + tree.crown_top) / 2)
    half = (tree.crown_top - tree.base) / 2
    lean = -tree.offset / tree.tip
    outline = []
    for step in range(_ROUND + 1):
        turn = 2 * math.pi * step / _ROUND
        up = half * math.cos(turn)
        # lobed like foliage, smooth at the two ends that are aimed at
        rough = 1 + 0.05 * math.sin(_LOBES * turn) * math.sin(turn) ** 2
        outline.append(
            (middle[0] + lean * up + _CROWN_RADIUS * rough * math.sin(turn), middle[1] + up)
        )
    strokes = [
        Stroke((tree.foot, tree.at(tree.base + 0.3 * half)), "stem"),
        Stroke(tuple(outline), "crown"),
    ]
    if tree.tip > tree.crown_top:
        strokes.append(Stroke((tree.at(tree.crown_top - half), tree.at(tree.tip)), "dead"))
        for share, side in ((0.35, 1.1), (0.6, -0.9)):
            start = tree.at(tree.crown_top + share * (tree.tip - tree.crown_top))
            strokes.append(Stroke((start, (start[0] + side, start[1] + 0.9)), "dead"))
    return tuple(strokes)


def draw_observer(feet: Point, faces: int = 1) -> tuple[Stroke, ...]:
    """Return a person who stands there and holds an instrument to the eye."""
    x, y = feet
    head = tuple(
        (x + 0.2 * math.cos(a * math.pi / 6), y + EYE + 0.2 * math.sin(a * math.pi / 6))
        for a in range(13)
    )
    body = (
        ((x, y + EYE - 0.2), (x, y + 0.8)),
        ((x - 0.3, y), (x, y + 0.8), (x + 0.3, y)),
        ((x, y + EYE - 0.35), (x + 0.35 * faces, y + EYE - 0.3), (x + 0.35 * faces, y + EYE)),
    )
    return tuple(Stroke(points, "person") for points in (head, *body))


def eye_of(feet: Point) -> Point:
    """Return where the eye of a person is who stands there."""
    return feet[0] + 0.35, feet[1] + EYE


def ground(*points: Point) -> Stroke:
    """Return the surface of the ground through these points."""
    return Stroke(points, "ground")


def sights(eye: Point, *points: Point) -> tuple[Stroke, ...]:
    """Return the lines of sight from an eye to points."""
    return tuple(Stroke((eye, point), "sight") for point in points)


def level(eye: Point, to: float) -> Stroke:
    """Return the level line through an eye."""
    return Stroke((eye, (to, eye[1])), "thin")


def measure(start: Point, end: Point, look: StrokeLook = "measure") -> tuple[Stroke, ...]:
    """Return a measured length with a mark across each end."""
    length = math.dist(start, end)
    across = (-(end[1] - start[1]) / length * 0.4, (end[0] - start[0]) / length * 0.4)
    ends = tuple(
        Stroke(((x - across[0], y - across[1]), (x + across[0], y + across[1])), look)
        for x, y in (start, end)
    )
    return Stroke((start, end), look), *ends


def spot(at: Point, text: str, side: str = "right") -> Word:
    """Return a word beside a point, a little way off it."""
    shift = {"right": (0.4, 0.0), "left": (-0.4, 0.0), "above": (0.0, 0.3), "below": (0.0, -0.3)}
    dx, dy = shift[side]
    return Word((at[0] + dx, at[1] + dy), text, side)  # type: ignore[arg-type]
