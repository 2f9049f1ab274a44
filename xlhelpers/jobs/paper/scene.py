"""Small line drawings as native charts: crisp on paper, without pictures or fonts of our own.

A drawing is strokes and words on a plane whose unit is the same across and up. It becomes a
scatter chart without axes; its points stand on a hidden sheet.

The unit is a metre of a scene that is the same for every survey: an eye of 1.6 m, 20 m from a
tree of 18 m. A town that works in feet sees the same picture with its own numbers.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from xlsxwriter import Workbook
from xlsxwriter.chart import Chart
from xlsxwriter.worksheet import Worksheet

from xlhelpers.pages.looks import INK, SLATE

Point = tuple[float, float]
StrokeLook = Literal[
    "ground", "stem", "crown", "dead", "sight", "measure", "person", "thin", "bark", "band"
]
Side = Literal["right", "left", "above", "below", "center"]
TapeEnd = Literal["tape", "laser"]
POINTS_TAB = "Drawing points"
_LINES: dict[StrokeLook, dict[str, Any]] = {
    "ground": {"color": "#6B5B45", "width": 2.5},
    "stem": {"color": "#5A4632", "width": 5},
    "crown": {"color": "#3F7A4C", "width": 2.5},
    "dead": {"color": INK, "width": 1.5},
    "sight": {"color": INK, "width": 1.25, "dash_type": "dash"},
    "measure": {"color": INK, "width": 1.25},
    "person": {"color": INK, "width": 2.25},
    "bark": {"color": "#5A4632", "width": 2},
    "band": {"color": INK, "width": 3.5},
    "thin": {"color": SLATE, "width": 0.75, "dash_type": "round_dot"},
}
_TYPE = 10  # points
_TWO_LINES = 1.9  # room below a point for words that a program breaks in two
_EDGE = 0.05  # share of the drawing left free on each side
_LETTER, _BREAK = 0.011, 18  # width of a letter as share of a drawing; letters before a break


@dataclass(frozen=True)
class Stroke:
    """A line through points."""

    points: tuple[Point, ...]
    look: StrokeLook


@dataclass(frozen=True)
class Word:
    """A short text on one side of a point."""

    at: Point
    text: str
    side: Side = "right"


@dataclass(frozen=True)
class Drawing:
    """Strokes and words, and what the drawing shows for those who cannot see it."""

    strokes: tuple[Stroke, ...]
    words: tuple[Word, ...]
    description: str

    def aspect(self) -> float:
        """Return height over width of the frame that just holds all of it."""
        low, high = self._corners()
        return float((high[1] - low[1]) / (high[0] - low[0]))

    def frame(self, aspect: float) -> tuple[Point, Point]:
        """Return the corners of a frame of this height over width around all of it."""
        low, high = self._corners()
        middle, span = (low + high) / 2, high - low
        width = max(span[0], span[1] / aspect)
        half = np.array([width, width * aspect]) / 2
        return tuple((middle - half).tolist()), tuple((middle + half).tolist())

    def _corners(self) -> tuple[Any, Any]:
        """Return the lower left and the upper right corner around all of it, with an edge."""
        drawn = [point for stroke in self.strokes for point in stroke.points]
        for word in self.words:
            x, y = word.at
            rise = {"below": -_TWO_LINES, "above": 0.7 * _TWO_LINES}.get(word.side, 0.0)
            drawn.append((x, y + rise))
        points = np.array(drawn)
        letter = _LETTER * float(np.ptp(points[:, 0]))
        for word in self.words:
            x, y = word.at
            long = letter * min(len(word.text), _BREAK)
            left, right = {"left": (1.0, 0.0), "right": (0.0, 1.0)}.get(word.side, (0.5, 0.5))
            drawn += [(x - left * long, y), (x + right * long, y)]
        points = np.array(drawn)
        low, high = points.min(axis=0), points.max(axis=0)
        return low - _EDGE * (high - low), high + _EDGE * (high - low)


class Points:
    """The hidden sheet that holds the points of all drawings of a book."""

    def __init__(self, book: Workbook) -> None:
        """Add the sheet to this workbook."""
        self._book = book
        self._sheet: Worksheet = book.add_worksheet(POINTS_TAB)
        self._sheet.hide()
        self._column = 0

    def chart(self, drawing: Drawing, width: int, height: int) -> Chart:
        """Return the chart of a drawing, so many pixels wide and high."""
        chart: Chart = self._book.add_chart({"type": "scatter", "subtype": "straight"})
        for stroke in drawing.strokes:
            chart.add_series(
                {
                    **self._cells(stroke.points),
                    "line": _LINES[stroke.look],
                    "marker": {"type": "none"},
                    "smooth": False,
                }
            )
        for word in drawing.words:
            chart.add_series(self._word(word))
        low, high = drawing.frame(height / width)
        for place, set_axis in enumerate((chart.set_x_axis, chart.set_y_axis)):
            set_axis(
                {
                    "min": low[place],
                    "max": high[place],
                    "visible": False,
                    "major_gridlines": {"visible": False},
                }
            )
        chart.set_legend({"none": True})
        chart.set_plotarea({"layout": {"x": 0.0, "y": 0.0, "width": 1.0, "height": 1.0}})
        chart.set_chartarea({"border": {"none": True}, "fill": {"color": "#FFFFFF"}})
        chart.show_hidden_data()
        chart.set_size({"width": width, "height": height})
        return chart

    def _word(self, word: Word) -> dict[str, Any]:
        return {
            **self._cells((word.at,)),
            "line": {"none": True},
            "marker": {"type": "none"},
            "data_labels": {
                "value": True,
                "position": word.side,
                "font": {"name": "Arial", "size": _TYPE, "color": INK},
                "custom": [{"value": word.text}],
            },
        }

    def _cells(self, points: Sequence[Point]) -> dict[str, Any]:
        across, up = self._column, self._column + 1
        for row, (x, y) in enumerate(points):
            self._sheet.write_number(row, across, x)
            self._sheet.write_number(row, up, y)
        self._column += 2
        last = len(points) - 1
        return {
            "categories": [POINTS_TAB, 0, across, last, across],
            "values": [POINTS_TAB, 0, up, last, up],
        }


DISTANCE = 20.0
EYE = 1.6
EYE_POINT: Point = (0.35, EYE)  # of a person who stands at 0
BASE_HEIGHT, TOTAL_HEIGHT = 5.2, 18.0
_CROWN_RADIUS = 4.6
_ROUND, _LOBES = 96, 13
_FLAT = Stroke(((-3.0, 0.0), (DISTANCE + 7.0, 0.0)), "ground")


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


def draw_observer(feet: Point) -> tuple[Stroke, ...]:
    """Return a person who stands there and holds an instrument to the eye."""
    x, y = feet
    head = tuple(
        (x + 0.2 * math.cos(a * math.pi / 6), y + EYE + 0.2 * math.sin(a * math.pi / 6))
        for a in range(13)
    )
    body = (
        ((x, y + EYE - 0.2), (x, y + 0.8)),
        ((x - 0.3, y), (x, y + 0.8), (x + 0.3, y)),
        ((x, y + EYE - 0.35), (x + 0.35, y + EYE - 0.3), (x + 0.35, y + EYE)),
    )
    return tuple(Stroke(points, "person") for points in (head, *body))


def ground(*points: Point) -> Stroke:
    """Return the surface of the ground through these points."""
    return Stroke(points, "ground")


def draw_aiming(
    tree: Tree,
    aimed: Sequence[float],
    words: tuple[Word, ...],
    description: str,
    more: tuple[Stroke, ...] = (),
    *,
    surface: Stroke = _FLAT,
    level_to: float | None = DISTANCE + 4.0,
) -> Drawing:
    """Return the drawing of a person who aims at points of a tree.

    Parameters
    ----------
    tree : Tree
        The tree.
    aimed : sequence of float
        Heights of the points above the foot [m of the scene].
    words, description
        As a drawing takes them.
    more : tuple of Stroke
        What else is drawn, on top.
    surface : Stroke
        The ground, level unless stated.
    level_to : float or None
        Where the level line through the eye ends; None for no such line.
    """
    level = () if level_to is None else (Stroke((EYE_POINT, (level_to, EYE_POINT[1])), "thin"),)
    sights = (Stroke((EYE_POINT, tree.at(height)), "sight") for height in aimed)
    strokes = (surface, *draw_tree(tree), *draw_observer((0.0, 0.0)), *sights, *level, *more)
    return Drawing(strokes, words, description)


def measure(start: Point, end: Point) -> tuple[Stroke, ...]:
    """Return a measured length with a mark across each end."""
    length = math.dist(start, end)
    across = (-(end[1] - start[1]) / length * 0.4, (end[0] - start[0]) / length * 0.4)
    ends = tuple(
        Stroke(((x - across[0], y - across[1]), (x + across[0], y + across[1])), "measure")
        for x, y in (start, end)
    )
    return Stroke((start, end), "measure"), *ends


def spot(at: Point, text: str, side: str = "right") -> Word:
    """Return a word beside a point, a little way off it."""
    shift = {"right": (0.4, 0.0), "left": (-0.4, 0.0), "above": (0.0, 0.3), "below": (0.0, -0.3)}
    dx, dy = shift[side]
    return Word((at[0] + dx, at[1] + dy), text, side)  # type: ignore[arg-type]


def shift(drawing: Drawing, across: float, up: float = 0.0) -> Drawing:
    """Return a drawing moved by so much."""
    strokes = tuple(
        Stroke(tuple((x + across, y + up) for x, y in stroke.points), stroke.look)
        for stroke in drawing.strokes
    )
    words = tuple(
        Word((word.at[0] + across, word.at[1] + up), word.text, word.side) for word in drawing.words
    )
    return Drawing(strokes, words, drawing.description)


def side_by_side(parts: Sequence[Drawing], spacing: float, description: str) -> Drawing:
    """Return drawings beside each other, their origins so far apart."""
    moved = [shift(part, place * spacing) for place, part in enumerate(parts)]
    return Drawing(
        tuple(stroke for part in moved for stroke in part.strokes),
        tuple(word for part in moved for word in part.words),
        description,
    )


def circle(middle: Point, radius: float, look: StrokeLook, squeeze: float = 1.0) -> Stroke:
    """Return a circle, or an ellipse whose height is so much of its width."""
    x, y = middle
    turns = (2 * math.pi * step / _ROUND for step in range(_ROUND + 1))
    return Stroke(
        tuple(
            (x + radius * math.cos(turn), y + radius * squeeze * math.sin(turn)) for turn in turns
        ),
        look,
    )


def draw_tape_end(middle: Point, how: TapeEnd) -> Drawing:
    """Return a stem seen from above with the two places where a tape can end, or the laser's one.

    `middle` is that of the stem [m of the scene].
    """
    x, y = middle
    radius, away = 1.3, 4.6
    to_bark = measure((x - away, y + 0.4), (x - math.sqrt(radius**2 - 0.4**2), y + 0.4))
    to_centre = measure((x - away, y - radius - 0.3), (x, y - radius - 0.3))
    stem = (circle(middle, radius, "stem"), circle(middle, 0.08, "person"))
    above = Word((x - 1.6, y + radius + 0.2), f"{how} ends at", "above")
    bark = Word((x - away - 0.2, y + 0.4), "bark", "left")
    below = Word((x - 1.6, y - radius - 0.7), "(seen from above)", "below")
    if how == "laser":
        return Drawing((*stem, *to_bark), (above, bark, below), "")
    words = (above, bark, below, Word((x - away - 0.2, y - radius - 0.3), "centre", "left"))
    plumb = Stroke((middle, (x, y - radius - 0.3)), "thin")
    return Drawing((*stem, *to_bark, *to_centre, plumb), words, "")
