"""The formulas of one worksheet by cell, each kept once: small even for a tall sheet.

A formula filled down differs from row to row by the number of its row alone. Each is kept with a
mark in the place of that number, so that a filled column has one text.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from xlhelpers.package.sheet.cell_set import CellSet, Place
from xlhelpers.package.sheet.sheet_bytes import plain

Integers = NDArray[np.int32]
# stands for the number of the formula's own row; no XML holds this character
ROW_MARK = "\0"
_MARK = ROW_MARK.encode()
# as some programs store what was typed
CONSTANTS = frozenset({"TRUE()", "FALSE()", "TRUE", "FALSE"})


def pattern(text: str, row: int) -> str:
    """Return the formula of a row with a mark for the number of its row, wherever it stands."""
    return text.replace(str(row), ROW_MARK)


def in_row(text: str, row: int) -> str:
    """Return the formula that a pattern is in a row."""
    return text.replace(ROW_MARK, str(row))


@dataclass(frozen=True, eq=False)
class FormulaMap(Mapping[Place, str]):
    """Row and column to the text of a formula; the last one where a cell comes twice.

    `columns` gives for each column its rows, ascending, and the places of their patterns in
    `texts`.
    """

    columns: Mapping[int, tuple[Integers, Integers]]
    texts: Sequence[str]

    @classmethod
    def of(cls, formulas: Mapping[Place, str]) -> FormulaMap:
        """Gather formulas given one by one."""
        collector = FormulaCollector()
        for (row, column), text in formulas.items():
            collector.add_one(row, column, text)
        return collector.to_map()

    def __getitem__(self, place: Place) -> str:
        """Return the formula of a cell."""
        rows, numbers = self.columns[place[1]]
        at = int(np.searchsorted(rows, place[0]))
        if at >= len(rows) or rows[at] != place[0]:
            raise KeyError(place)
        return in_row(self.texts[int(numbers[at])], place[0])

    def __len__(self) -> int:
        """Return the number of cells with a formula."""
        return sum(len(rows) for rows, _ in self.columns.values())

    def __iter__(self) -> Iterator[Place]:
        """Go through the cells, column by column."""
        return ((row, at) for at, (rows, _) in self.columns.items() for row in rows.tolist())

    def all_in(self, cells: CellSet) -> bool:
        """Whether every formula stands in one of some cells, or is TRUE or FALSE and no more."""
        constant = [at for at, text in enumerate(self.texts) if text in CONSTANTS]
        return all(
            bool((np.isin(rows, cells.rows_of.get(column, ())) | np.isin(numbers, constant)).all())
            for column, (rows, numbers) in self.columns.items()
        )

    def of_column(self, column: int) -> Iterator[tuple[int, str]]:
        """Go through the rows of a column that hold a formula, with their texts."""
        if column in self.columns:
            rows, numbers = self.columns[column]
            for row, number in zip(rows.tolist(), numbers.tolist(), strict=True):
                yield row, in_row(self.texts[number], row)

    def patterns_of_column(self, column: int) -> Iterator[tuple[str, Integers]]:
        """Go through the different patterns of a column, each with the rows that it stands in."""
        if column in self.columns:
            rows, numbers = self.columns[column]
            for number in np.unique(numbers).tolist():
                yield self.texts[number], rows[numbers == number]


class FormulaCollector:
    """Formulas gathered while a sheet is read."""

    def __init__(self) -> None:
        """Start empty."""
        self._numbers: dict[str, int] = {}
        self._spellings: dict[bytes, int] = {}
        self._portions: list[tuple[Integers, Integers, Integers]] = []
        self._waiting: list[tuple[int, int, int]] = []

    def add_one(self, row: int, column: int, text: str) -> None:
        """Add one formula."""
        self._waiting.append((row, column, self._number(pattern(text, row))))

    def add(self, rows: NDArray[np.int64], columns: NDArray[np.int64], texts: list[bytes]) -> None:
        """Add many formulas as they stand in the file."""
        pairs = zip(texts, rows.tolist(), strict=True)
        self._add(rows, columns, np.array([self._number_of(*pair) for pair in pairs], np.int32))

    def add_blank(self, rows: NDArray[np.int64], columns: NDArray[np.int64]) -> None:
        """Add further cells of shared formulas, often most of a sheet: they have no text."""
        self._add(rows, columns, np.full(len(rows), self._number("") if len(rows) else 0))

    def _add(
        self, rows: NDArray[np.int64], columns: NDArray[np.int64], numbers: NDArray[np.integer]
    ) -> None:
        if len(rows):
            arrays = (rows, columns, numbers)
            self._portions.append(tuple(item.astype(np.int32) for item in arrays))  # type: ignore[arg-type]

    def _number_of(self, text: bytes, row: int) -> int:
        if b"&#" in text:
            # a sign given by its number, which may look like that of the row
            return self._number(pattern(plain(text), row))
        spelling = text.replace(b"%d" % row, _MARK)
        number = self._spellings.get(spelling)
        if number is None:
            # one text stands for a column filled down, however often its formula is written out
            number = self._spellings[spelling] = self._number(pattern(plain(text), row))
        return number

    def _number(self, text: str) -> int:
        return self._numbers.setdefault(text, len(self._numbers))

    def to_map(self) -> FormulaMap:
        """All formulas."""
        if self._waiting:
            waiting = np.array(self._waiting, dtype=np.int32).T
            self._portions.append((waiting[0], waiting[1], waiting[2]))
            self._waiting = []
        if not self._portions:
            return FormulaMap({}, ())
        rows, columns, numbers = map(np.concatenate, zip(*self._portions, strict=True))
        order = np.lexsort((np.arange(len(rows)), rows, columns))
        rows, columns, numbers = rows[order], columns[order], numbers[order]
        last = np.ones(len(rows), dtype=bool)
        last[:-1] = (rows[1:] != rows[:-1]) | (columns[1:] != columns[:-1])
        rows, columns, numbers = rows[last], columns[last], numbers[last]
        starts = np.flatnonzero(np.diff(columns, prepend=-1))
        parts = zip(starts.tolist(), [*starts[1:].tolist(), len(rows)], strict=True)
        column_formulas = {int(columns[a]): (rows[a:b], numbers[a:b]) for a, b in parts}
        return FormulaMap(column_formulas, tuple(self._numbers))
