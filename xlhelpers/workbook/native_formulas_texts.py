"""What native formulas make of texts, for all rows of a column at once."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from xlhelpers.workbook.native_formulas_values import (
    BOOL,
    NUMBER,
    TEXT,
    Values,
    numbers,
    texts,
    with_errors,
)


def each(function: Callable[..., Any], *columns: NDArray[Any]) -> NDArray[np.object_]:
    """Return what a function gives in each row; it is called once for rows that are alike."""
    varied = [column for column in columns if len(column) > 1]
    if len(varied) == 1:
        # mostly the others are the same in all rows, which needs no pairs
        fixed = [None if len(column) > 1 else column[0] for column in columns]
        at = fixed.index(None)
        items = varied[0].tolist()
        known = {item: function(*fixed[:at], item, *fixed[at + 1 :]) for item in set(items)}
    else:
        items = list(zip(*(c.tolist() for c in np.broadcast_arrays(*columns)), strict=True))
        known = {row: function(*row) for row in set(items)}
    found = np.empty(len(items), dtype=object)
    found[:] = [known[item] for item in items]
    return found


def as_text(value: Values) -> NDArray[np.object_]:
    """Return the text of each cell, as a function of texts takes it; "" for blanks and errors."""
    if (value.kind == TEXT).all():
        return value.text
    whole = value.spread(len(value))
    found = np.full(len(whole.kind), "", dtype=object)
    for kind, shown in ((NUMBER, "{:.15g}".format), (BOOL, lambda n: "TRUE" if n else "FALSE")):
        of_kind = whole.kind == kind
        if of_kind.any():
            found[of_kind] = each(shown, whole.number[of_kind])
    is_text = whole.kind == TEXT
    found[is_text] = whole.text[is_text]
    return found


def of_text(function: Callable[..., Any]) -> Callable[..., Values]:
    """Make a function of the texts of its arguments, each a single Python call."""

    def found(*parts: Values) -> Values:
        made = each(function, *map(as_text, parts))
        return with_errors(texts(made), *parts)

    return found


def place_of_text(sought: Callable[[str, str], int]) -> Callable[[Values, Values], Values]:
    """Make a function of where one text stands in another, from 1."""

    def found(part: Values, whole: Values) -> Values:
        at = each(sought, as_text(part), as_text(whole)).astype(float)
        return with_errors(numbers(np.where(at < 0, np.nan, at + 1)), part, whole)

    return found


def left(value: Values, count: Values) -> Values:
    """Return the first letters of each text."""
    cut = np.frompyfunc(lambda text, length: text[: int(length)], 2, 1)
    return with_errors(texts(cut(as_text(value), count.number)), value, count)
