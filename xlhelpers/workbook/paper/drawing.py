"""Small line drawings as native charts: crisp on paper, without pictures or fonts of our own.

A drawing is strokes and words on a plane whose unit is the same across and up. It becomes a
scatter chart without axes; its points stand on a hidden sheet.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from xlsxwriter import Workbook
from xlsxwriter.chart import Chart
from xlsxwriter.worksheet import Worksheet

from xlhelpers.workbook.looks import INK, SLATE

Point = tuple[float, float]
StrokeLook = Literal["ground", "stem", "crown", "dead", "sight", "measure", "person", "thin"]
Side = Literal["right", "left", "above", "below", "center"]

POINTS_TAB = "Drawing points"
_LINES: dict[StrokeLook, dict[str, Any]] = {
    "ground": {"color": "#6B5B45", "width": 2.5},
    "stem": {"color": "#5A4632", "width": 5},
    "crown": {"color": "#3F7A4C", "width": 2.5},
    "dead": {"color": INK, "width": 1.5},
    "sight": {"color": INK, "width": 1.25, "dash_type": "dash"},
    "measure": {"color": INK, "width": 1.25},
    "person": {"color": INK, "width": 2.25},
    "thin": {"color": SLATE, "width": 0.75, "dash_type": "round_dot"},
}
_TYPE = 10  # points
_TWO_LINES = 1.5  # room below a point for words that a program breaks in two
_EDGE = 0.08  # share of the drawing left free on each side, for words


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

    def frame(self, aspect: float) -> tuple[Point, Point]:
        """Return the corners of a frame of this height over width around all of it."""
        drawn = [point for stroke in self.strokes for point in stroke.points]
        below = [(word.at[0], word.at[1] - _TWO_LINES) for word in self.words
                 if word.side == "below"]  # fmt: skip
        points = np.array(drawn + below)
        low, high = points.min(axis=0), points.max(axis=0)
        low, high = low - _EDGE * (high - low), high + _EDGE * (high - low)
        middle, span = (low + high) / 2, high - low
        width = max(span[0], span[1] / aspect)
        half = np.array([width, width * aspect]) / 2
        return tuple((middle - half).tolist()), tuple((middle + half).tolist())


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
