"""What was entered on doubtful lines, with changed cells, measured as any other line is measured.

A sheet holds one row a supposed line: the typed numbers and words that a mistake may have changed.
Its heights come from the same functions as those of the survey itself.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, fields, replace
from functools import cached_property
from math import isfinite, isnan
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from xlhelpers.survey.doubt.robust import Numbers
from xlhelpers.survey.model import Survey
from xlhelpers.survey.setups.heights import sight_heights, take_aims
from xlhelpers.survey.setups.ways import Ways, resolve_ways
from xlhelpers.survey.typed.folding import Positions

READ = ("foot_reading", "base_reading", "top_reading", "tip_reading")
LINE_NUMBERS = (
    *READ,
    *("distance", "slope_reading", "mark_above_foot", "tip_offset", "base_by_pole"),
    *("base_straight", "top_straight", "tip_straight"),
    *("station_step", "second_tip_reading", "second_foot_reading"),
)
NUMBERS = (*LINE_NUMBERS, "diameter", "width_widest", "width_across")
WORDS = ("scale", "distance_kind")
FREE_DISTANCE, FREE_DIAMETER = 1, 2


@dataclass(frozen=True)
class Sheet:
    """Supposed lines: a position in the survey's lines for each, and the columns as supposed.

    `kept` marks those whose numbers were typed as the crew read them, with another mistake before
    that; `free` those whose distance (`FREE_DISTANCE`) or diameter was never typed, so that one
    that would fit was put in.
    """

    line: Positions
    columns: Mapping[str, NDArray[Any]]

    def number(self, name: str) -> Numbers:
        """Return a number column."""
        return self.columns[name]

    def take(self, rows: Positions) -> "Sheet":
        """Return some of the rows, in this order, rows may be repeated."""
        return Sheet(self.line[rows], {name: c[rows] for name, c in self.columns.items()})

    def is_same(self, one: int, other: int) -> bool:
        """Return whether two rows come to the same numbers and the same scale."""
        return bool(self.columns["scale"][one] == self.columns["scale"][other]) and all(
            map(_is_close, self._rows[one], self._rows[other])
        )

    @cached_property
    def _rows(self) -> list[list[float]]:
        rows: list[list[float]] = np.stack([self.columns[name] for name in NUMBERS], 1).tolist()
        return rows

    def __len__(self) -> int:
        """Return the number of supposed lines."""
        return len(self.line)


def _is_close(one: float, other: float) -> bool:
    """Whether two numbers are the same but for rounding, or both unknown."""
    # as numpy.isclose, in a fiftieth of the time for a single pair
    if one == other or (isnan(one) and isnan(other)):
        return True
    return isfinite(other) and abs(one - other) <= 1e-8 + 1e-5 * abs(other)


@dataclass(frozen=True)
class Measured:
    """What a sheet's readings come to: metres above the foot, NaN where there is none."""

    total: Numbers
    base: Numbers
    level: Numbers
    eye: Numbers
    diameter: Numbers
    width: Numbers

    def map(self, change: Callable[[Numbers], Numbers]) -> "Measured":
        """Return the same change of every column."""
        return Measured(**{f.name: change(getattr(self, f.name)) for f in fields(self)})


def take_sheet(
    survey: Survey, setups: pd.DataFrame, trees: pd.DataFrame, lines: Positions
) -> Sheet:
    """Return lines as they were entered.

    Parameters
    ----------
    survey, setups, trees : as in an outcome
        The entered lines, how they were read, and the trees with diameters and widths.
    lines : ndarray of int
        Positions in the survey's lines.
    """
    tree = setups["tree_position"].to_numpy()[lines]
    columns: dict[str, NDArray[Any]] = {
        name: survey.lines[name].to_numpy(dtype=float)[lines] for name in LINE_NUMBERS
    }
    columns |= {name: setups[name].to_numpy(dtype=object)[lines] for name in WORDS}
    columns["diameter"] = trees["largest_stem"].to_numpy(dtype=float)[tree]
    for name in ("width_widest", "width_across", "mean_width"):
        columns[name] = trees[name].to_numpy(dtype=float)[tree]
    # a width from four radii is in no cell, so no mistake in one is supposed
    by_radii = np.isfinite(trees["crown_offset"].to_numpy(dtype=float))[tree]
    for name in ("width_widest", "width_across"):
        columns[name] = np.where(by_radii, np.nan, columns[name])
    columns["ticked"] = survey.lines["foot_above_eye"].to_numpy(dtype=bool)[lines]
    columns["kept"] = np.zeros(len(lines), dtype=bool)
    columns["free"] = np.zeros(len(lines), dtype=np.int8)
    return Sheet(lines, columns)


def measure(survey: Survey, sheet: Sheet, ways: Ways | None = None) -> Measured:
    """Measure supposed lines.

    Parameters
    ----------
    survey : Survey
        The survey that the lines are of.
    sheet : Sheet
        The lines as supposed.
    ways : Ways, optional
        As `resolve_ways` gives them for the survey, where they are at hand.
    """
    own = _ways(ways or resolve_ways(survey), sheet)
    frame = pd.DataFrame({name: sheet.columns[name] for name in LINE_NUMBERS}, copy=False)
    supposed = replace(survey, lines=frame, states={})
    aims = take_aims(supposed, own, sheet.number("diameter"))
    heights = sight_heights(supposed, own, aims)
    pole = sheet.number("base_by_pole")
    return Measured(
        total=heights.height["tip"],
        base=np.where(np.isfinite(pole), pole, heights.height["base"]),
        level=aims.level_distance,
        eye=np.where(own.foot_by_eye, np.nan, aims.eye_above_foot),
        diameter=sheet.number("diameter"),
        width=average_widths(sheet),
    )


def average_widths(sheet: Sheet) -> Numbers:
    """Return the mean width of supposed lines, one width for both; the tree's for no width."""
    one, two = sheet.number("width_widest"), sheet.number("width_across")
    mean = (np.where(np.isnan(one), two, one) + np.where(np.isnan(two), one, two)) / 2
    known = sheet.number("mean_width")
    return np.where(np.isnan(known), np.nan, np.where(np.isnan(mean), known, mean))


def _ways(ways: Ways, sheet: Sheet) -> Ways:
    line = sheet.line
    return replace(
        ways,
        plot_position=ways.plot_position[line],
        instrument_position=ways.instrument_position[line],
        instrument=ways.instrument[line],
        scale=sheet.columns["scale"],
        distance_kind=sheet.columns["distance_kind"],
        foot_by_eye=ways.foot_by_eye[line],
        closed_text=ways.closed_text[line],
        eye_height=ways.eye_height[line],
        eye_of_plot=ways.eye_of_plot[line],
        ground=ways.ground[line],
        to_bark=ways.to_bark[line],
    )
