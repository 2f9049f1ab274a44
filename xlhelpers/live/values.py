"""Columns of cell values: blanks, numbers, texts, TRUE and FALSE, errors, side by side."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

BLANK, NUMBER, TEXT, BOOL, ERROR = range(5)
_KINDS: dict[type, int] = {type(None): BLANK, float: NUMBER, int: NUMBER, str: TEXT, bool: BOOL}
_NO_TEXT = np.array([""], dtype=object)
_NOTHING = np.zeros(1)


@dataclass(frozen=True)
class Values:
    """Cells one below the other: what each holds, with its number (0, 1 for a bool) and text.

    An array of one entry stands for as many equal ones as are wanted.
    """

    kind: NDArray[np.int8]
    number: NDArray[np.float64] = field(default_factory=lambda: _NOTHING)
    text: NDArray[np.object_] = field(default_factory=lambda: _NO_TEXT)

    @cached_property
    def lowered(self) -> NDArray[np.object_]:
        """The texts in small letters, as they are compared."""
        items = self.text.tolist()
        known = {text: text.lower() for text in set(items)}
        results = np.empty(len(items), dtype=object)
        results[:] = [known[text] for text in items]
        return results

    def __len__(self) -> int:
        """Return the number of cells."""
        return max(len(self.kind), len(self.number), len(self.text))

    def spread(self, count: int) -> Values:
        """Return the same with one entry for each of so many rows."""
        shape = (count,)
        return Values(
            np.broadcast_to(self.kind, shape),
            np.broadcast_to(self.number, shape),
            np.broadcast_to(self.text, shape),
        )

    def take(self, places: NDArray[np.int64]) -> Values:
        """Return some of the cells, each by its place from 0."""
        whole = self.spread(len(self))
        return Values(whole.kind[places], whole.number[places], whole.text[places])

    def python(self, count: int) -> NDArray[np.object_]:
        """Return float, str, bool, None, or "#VALUE!" for an error, one a row."""
        shape = (count,)
        kind = np.broadcast_to(self.kind, shape)
        results = np.full(count, None, dtype=object)
        number, text = np.broadcast_to(self.number, shape), np.broadcast_to(self.text, shape)
        results[kind == NUMBER] = number[kind == NUMBER]
        results[kind == TEXT] = text[kind == TEXT]
        results[kind == BOOL] = number[kind == BOOL].astype(bool)
        results[kind == ERROR] = "#VALUE!"
        return results


def cell_values(cells: Sequence[object] | NDArray[np.object_]) -> Values:
    """Return cells as they come from a grid: float, str, bool, None; anything else is an error."""
    items = list(cells)
    if items.count(None) == len(items):  # most columns of a field sheet
        blank = np.full(len(items), BLANK, dtype=np.int8)
        return Values(blank, np.zeros(len(items)), np.full(len(items), "", dtype=object))
    types = list(map(type, items))
    codes = {of: _KINDS.get(of, ERROR) for of in set(types)}
    kind = np.fromiter(map(codes.__getitem__, types), dtype=np.int8, count=len(types))
    number, text = np.zeros(len(items)), np.full(len(items), "", dtype=object)
    listed = np.empty(len(items), dtype=object)
    listed[:] = items
    numeric = (kind == NUMBER) | (kind == BOOL)
    number[numeric] = listed[numeric].astype(float)
    text[kind == TEXT] = listed[kind == TEXT]
    return Values(kind, number, text)


def numbers(values: Any) -> Values:
    """Return numbers; NaN and infinity become errors."""
    number = np.atleast_1d(np.asarray(values, dtype=float))
    fine = np.isfinite(number)
    kind = np.where(fine, NUMBER, ERROR).astype(np.int8)
    return Values(kind, np.where(fine, number, 0.0))


def texts(values: Any) -> Values:
    """Return texts."""
    text = np.atleast_1d(np.asarray(values, dtype=object))
    return Values(np.full(len(text), TEXT, dtype=np.int8), _NOTHING, text)


def bools(values: Any) -> Values:
    """Return TRUE and FALSE."""
    number = np.atleast_1d(np.asarray(values)).astype(float)
    return Values(np.full(len(number), BOOL, dtype=np.int8), number)


def either(*flags: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return where any of some conditions holds."""
    union = flags[0]
    for more in flags[1:]:
        union = union | more
    return union


def with_errors(value: Values, *parts: Values) -> Values:
    """Return the value with an error wherever one of its parts is an error."""
    wrong = either(*(part.kind == ERROR for part in parts))
    if not wrong.any():
        return value
    kind = np.where(wrong, ERROR, value.kind).astype(np.int8)
    return Values(kind, value.number, value.text)
