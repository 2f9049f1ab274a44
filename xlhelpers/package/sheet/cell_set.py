"""Cells of one worksheet as a set: by column the rows, ascending; small even for a tall sheet."""

from __future__ import annotations

from array import array
from bisect import bisect_left
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from xlhelpers.package.sheet.references import Area

Place = tuple[int, int]


@dataclass(frozen=True, eq=False)
class CellSet(Collection[Place]):
    """Rows and columns of cells; `rows_of` gives for each column its rows, ascending."""

    rows_of: Mapping[int, Sequence[int]] = field(default_factory=dict)

    @classmethod
    def of(cls, places: Iterable[Place]) -> CellSet:
        """Gather rows and columns in any order."""
        rows: dict[int, set[int]] = defaultdict(set)
        for row, column in places:
            rows[column].add(row)
        return cls({column: sorted(column_rows) for column, column_rows in sorted(rows.items())})

    @classmethod
    def of_arrays(cls, rows: NDArray[np.int32], columns: NDArray[np.int32]) -> CellSet:
        """Gather many rows and columns, side by side, in any order."""
        if not len(rows):
            return cls()
        order = np.lexsort((rows, columns))
        rows, columns = rows[order], columns[order]
        starts = np.flatnonzero(np.diff(columns, prepend=-1))
        parts = zip(starts.tolist(), [*starts[1:].tolist(), len(rows)], strict=True)
        column_rows = {int(columns[a]): np.unique(rows[a:b]) for a, b in parts}
        return cls({at: array("i", of.tobytes()) for at, of in column_rows.items()})

    @classmethod
    def together(cls, sets: Iterable[CellSet]) -> CellSet:
        """Put several sets together; a column that stands in one of them alone is not copied."""
        rows: dict[int, list[Sequence[int]]] = defaultdict(list)
        for cells in sets:
            for column, numbers in cells.rows_of.items():
                rows[column].append(numbers)
        return cls(
            {
                column: lists[0] if len(lists) == 1 else np.unique(np.concatenate(lists)).tolist()
                for column, lists in sorted(rows.items())
            }
        )

    def __len__(self) -> int:
        """Return the number of cells."""
        return sum(map(len, self.rows_of.values()))

    def __iter__(self) -> Iterator[Place]:
        """Go through the cells, column by column."""
        return ((row, column) for column, rows in self.rows_of.items() for row in rows)

    def __contains__(self, place: object) -> bool:
        """Return whether a cell, given as row and column, is among them."""
        if not isinstance(place, tuple):
            return False
        row, column = place
        return within(self.rows_of.get(column, ()), row, row)

    def __eq__(self, other: object) -> bool:
        """Return whether the same cells are in another set."""
        if isinstance(other, CellSet | set | frozenset):
            return set(self) == set(other)
        return NotImplemented

    def bounds(self) -> Area:
        """Return the smallest area that holds all cells; there must be one."""
        rows = [rows for rows in self.rows_of.values() if rows]
        columns = [column for column, rows in self.rows_of.items() if rows]
        return min(r[0] for r in rows), min(columns), max(r[-1] for r in rows), max(columns)


def within(rows: Sequence[int], first: int, last: int) -> bool:
    """Whether one of some ascending rows lies from the first to the last."""
    index = bisect_left(rows, first)
    return index < len(rows) and rows[index] <= last
