"""Formats on cells without content, and on whole rows and columns, that somebody set on our tabs.

A new tab has cells only where it has content, so these formats have no place there. They are
counted and sealed at each fill: those that are there and were not at the last fill are somebody's.
"""

import re
from collections import Counter
from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from xlhelpers.package.formulas.follow import Move
from xlhelpers.package.graft.looks import OldLook, columns_with_format, merged_areas
from xlhelpers.package.parts.cell_looks import ASPECTS, cell_looks
from xlhelpers.package.parts.parts import SheetPart
from xlhelpers.package.sheet.cell_text import is_filled
from xlhelpers.package.sheet.grid import Grid
from xlhelpers.package.zip.container import Package
from xlhelpers.wording import list_words, plural

KINDS = ("cells", "rows", "columns")
_NAMES = {"cells": "empty cell", "rows": "whole row", "columns": "whole column"}
_BORDERS = ASPECTS.index("borders")
_ROW = re.compile(rb"<(?:\w+:)?row\b([^>]*)>")
_HAS_FORMAT = re.compile(rb'\bcustomFormat="(?:1|true)"')
_FORMAT = re.compile(rb'\bs="([0-9]+)"')


class BlankFormats:
    """Empty cells with borders, and rows and columns with a format, of one of our tabs."""

    def __init__(self, package: Package, sheet: SheetPart, grid: Grid, look: OldLook) -> None:
        """Find them in the cells of a tab and in what is set on it."""
        looks = cell_looks(package)
        unusual = {at for at, words in enumerate(looks) if words != looks[0]}
        bordered = [at for at, words in enumerate(looks) if words[_BORDERS]]
        self.cells: NDArray[np.bool_] = np.isin(grid.styles, bordered)
        for top, left, bottom, right in merged_areas(look.frame):
            self.cells[top - 1 : bottom, left - 1 : right] = False
        values = grid.values[self.cells]
        self.cells[self.cells] = ~is_filled(values) | (values == "")
        for row, column in grid.formulas:
            self.cells[row - 1, column - 1] = False
        self.rows = sum(at in unusual for at in _row_formats(package, sheet))
        columns = columns_with_format(look.frame).items()
        self.columns = [column for column, at in columns if at in unusual]

    @property
    def counts(self) -> Counter[str]:
        """How many there are of each kind."""
        cells = int(np.count_nonzero(self.cells))
        return Counter(cells=cells, rows=self.rows, columns=len(self.columns))

    def left_behind(
        self, sealed: Counter[str], new: Grid, move: Move, rows: Mapping[int, int]
    ) -> Counter[str]:
        """Return how many that came since the last fill have no place on the new tab.

        Parameters
        ----------
        sealed : Counter
            How many there were after the last fill.
        new : Grid
            The cells of the new tab.
        move : Move
            Where the columns are now.
        rows : mapping of int to int
            The new row of each old row.
        """
        placeless = 0
        for row, column in zip(*np.nonzero(self.cells), strict=True):
            at = rows.get(int(row) + 1, 0), move.columns.get(int(column) + 1, 0)
            inside = 1 <= at[0] <= new.shape[0] and 1 <= at[1] <= new.shape[1]
            placeless += not inside or new.styles[at[0] - 1, at[1] - 1] < 0
        columns = sum(column not in move.columns for column in self.columns)
        there = Counter(cells=placeless, rows=self.rows, columns=columns)
        since = self.counts - sealed
        return Counter({kind: min(there[kind], since[kind]) for kind in KINDS})


def _row_formats(package: Package, sheet: SheetPart) -> list[int]:
    rows = (match[1] for match in _ROW.finditer(package.read(sheet.part)))
    formats = (_FORMAT.search(row) for row in rows if _HAS_FORMAT.search(row))
    return [int(match[1]) for match in formats if match]


def seal_counts(counts: Counter[str]) -> str:
    """Return counts as one word."""
    return ".".join(str(counts[kind]) for kind in KINDS)


def read_counts(word: str) -> Counter[str] | None:
    """Return counts from their word, None where it is no such word."""
    if not re.fullmatch(r"[0-9]{1,9}(\.[0-9]{1,9}){2}", word):
        return None
    return Counter(dict(zip(KINDS, map(int, word.split(".")), strict=True)))


def say_blank_formats_left(tab: str, left: Counter[str]) -> list[str]:
    """Return the note about formats without content, none where all have a place."""
    counts = [plural(left[kind], _NAMES[kind]) for kind in KINDS if left[kind] > 0]
    if not counts:
        return []
    return [
        f"Borders and other formats on {list_words(counts)} of “{tab}” could not be kept, because "
        "the program writes formats only where it writes cells. The backup has them"
    ]
