"""What native formulas give, for all rows of a column at once.

The rules of how blanks, numbers, texts and errors go together are those of Excel and LibreOffice
for the functions that are used here.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from xlhelpers.errors import SpecificationError
from xlhelpers.live.syntax import NEAR, Node, parse
from xlhelpers.live.values import (
    BLANK,
    BOOL,
    ERROR,
    NUMBER,
    TEXT,
    Values,
    bools,
    either,
    numbers,
    texts,
    with_errors,
)


def apply_each(function: Callable[..., Any], *columns: NDArray[Any]) -> NDArray[np.object_]:
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
    results = np.empty(len(items), dtype=object)
    results[:] = [known[item] for item in items]
    return results


def as_text(value: Values) -> NDArray[np.object_]:
    """Return the text of each cell, as a function of texts takes it; "" for blanks and errors."""
    if (value.kind == TEXT).all():
        return value.text
    whole = value.spread(len(value))
    cell_texts = np.full(len(whole.kind), "", dtype=object)
    for kind, writer in ((NUMBER, "{:.15g}".format), (BOOL, lambda n: "TRUE" if n else "FALSE")):
        of_kind = whole.kind == kind
        if of_kind.any():
            cell_texts[of_kind] = apply_each(writer, whole.number[of_kind])
    is_text = whole.kind == TEXT
    cell_texts[is_text] = whole.text[is_text]
    return cell_texts


def make_text_function(function: Callable[..., Any]) -> Callable[..., Values]:
    """Make a function of the texts of its arguments, each a single Python call."""

    def apply(*parts: Values) -> Values:
        made = apply_each(function, *map(as_text, parts))
        return with_errors(texts(made), *parts)

    return apply


def make_search(sought: Callable[[str, str], int]) -> Callable[[Values, Values], Values]:
    """Make a function of where one text stands in another, from 1."""

    def apply(part: Values, whole: Values) -> Values:
        at = apply_each(sought, as_text(part), as_text(whole)).astype(float)
        return with_errors(numbers(np.where(at < 0, np.nan, at + 1)), part, whole)

    return apply


def left(value: Values, count: Values) -> Values:
    """Return the first letters of each text."""
    cut = np.frompyfunc(lambda text, length: text[: int(length)], 2, 1)
    return with_errors(texts(cut(as_text(value), count.number)), value, count)


# Numbers closer than this share count as equal in a comparison, as spreadsheets do
SAME_SHARE = 2.0**-48
_PLAIN_NUMBER = re.compile(r"[+-]?[0-9]+(?:\.[0-9]+)?")
Names = Mapping[str, Values]


@dataclass(frozen=True)
class Near:
    """The cells of a column around each row, from the highest to the lowest."""

    cells: tuple[Values, ...]


class Repeats:
    """Parts that occur several times among some formulas, so that each is worked out once."""

    def __init__(self, templates: Iterable[str]) -> None:
        """Count the parts of all formulas that are going to be worked out, each of them once."""
        self._left: Counter[Node] = Counter()
        self._found: dict[Node, Values] = {}
        for template in templates:
            self._count(parse(template))

    def _count(self, node: Node) -> None:
        if node.parts:
            self._left[node] += 1
            if self._left[node] == 1:
                for part in node.parts:
                    self._count(part)

    def take(self, node: Node) -> Values | None:
        """Return what a part gave before, None where it is to be worked out."""
        self._left[node] -= 1
        if self._left[node] <= 0:
            return self._found.pop(node, None)
        return self._found.get(node)

    def leave(self, node: Node) -> None:
        """Take note that a part is not worked out in one of its places."""
        if not node.parts:
            return
        self._left[node] -= 1
        if self._left[node] <= 0 and self._found.pop(node, None) is None:
            for part in node.parts:
                self.leave(part)

    def keep(self, node: Node, value: Values) -> None:
        """Keep what a part gives as long as it is going to be asked for."""
        if self._left[node] > 0:
            self._found[node] = value


def evaluate(
    template: str,
    cells: Names,
    names: Names,
    repeats: Repeats | None = None,
    rows: NDArray[np.int64] | None = None,
) -> Values:
    """Return what a formula gives in each row.

    Parameters
    ----------
    template : str
        Formula with named cells.
    cells : mapping
        Values of each field's column, all of one length.
    names : mapping
        Values of each defined name: one for a single cell, several for a range.
    repeats : Repeats, optional
        Of formulas, this one among them, that are worked out over the same cells and names.
    rows : ndarray of int, optional
        The row of the sheet that each cell stands in, ascending; one below another if not given.

    Raises
    ------
    SpecificationError
        The formula reads a cell or a name that is not given.
    """
    result: Values = _value(parse(template), cells, names, repeats, rows)
    return result


def near_cells(values: Values, rows: NDArray[np.int64] | None) -> Near:
    """Return the cells around each row; a row that is not at hand is blank."""
    count = len(values) if rows is None else len(rows)
    at = np.arange(count) if rows is None else rows
    whole = values.spread(count)
    cells = []
    for step in range(-NEAR, NEAR + 1):
        place = np.minimum(np.searchsorted(at, at + step), max(count - 1, 0))
        there = at[place] == at + step
        kind = np.where(there, whole.kind[place], BLANK).astype(np.int8)
        cells.append(Values(kind, whole.number[place], whole.text[place]))
    return Near(tuple(cells))


def _value(
    node: Node,
    cells: Names,
    names: Names,
    repeats: Repeats | None,
    rows: NDArray[np.int64] | None,
) -> Any:
    if node.kind == "number":
        return bools(node.value) if isinstance(node.value, bool) else numbers(node.value)
    if node.kind == "text":
        return texts(node.value)
    if node.kind in ("cell", "column", "near", "name"):
        # in place of a whole column stand its cells in the rows at hand, first to last
        known = names if node.kind == "name" else cells
        if node.value not in known:
            raise SpecificationError(f"a formula reads {node.value}, which is not there")
        values = known[str(node.value)]
        if node.kind == "column":
            return values.spread(max(map(len, cells.values())))
        return near_cells(values, rows) if node.kind == "near" else values
    known_before = None if repeats is None else repeats.take(node)
    if known_before is not None:
        return known_before

    def value(part: Node) -> Any:
        return _value(part, cells, names, repeats, rows)

    if node.kind == "function" and node.value == "IF":
        result = _choose_result(node, value, repeats)
    else:
        result = _worked_out(node, [value(part) for part in node.parts])
    if repeats is not None:
        repeats.keep(node, result)
    return result


def _choose_result(node: Node, value: Callable[[Node], Any], repeats: Repeats | None) -> Values:
    """Return what an IF gives; a result that no row takes is not worked out."""
    condition = value(node.parts[0])
    then, other = node.parts[1:]
    true, unclear = _truth(condition)
    if unclear.any() or (true.any() and not true.all()):
        return _if(condition, value(then), value(other))
    wanted, left = (then, other) if true.all() else (other, then)
    if repeats is not None:
        repeats.leave(left)
    result: Values = value(wanted)
    return result


def _worked_out(node: Node, parts: list[Values]) -> Values:
    if node.kind == "minus":
        return _arithmetic("-", numbers(0.0), parts[0])
    if node.kind == "sign":
        return _sign(str(node.value), *parts)
    return _FUNCTIONS[str(node.value)](*parts)


def _as_number(value: Values) -> Values:
    """Return the number of each cell, as arithmetic takes it; texts only where they are plain."""
    is_text = value.kind == TEXT
    kind = np.where(value.kind == ERROR, ERROR, NUMBER).astype(np.int8)
    if not is_text.any():
        return Values(kind, value.number)
    count = len(value)
    whole, is_text = value.spread(count), np.broadcast_to(is_text, (count,))
    cell_texts: list[str] = whole.text[is_text].tolist()
    known = {text: _plain_number(text) for text in set(cell_texts)}
    read = numbers([known[text] for text in cell_texts])
    kind, number = np.broadcast_to(kind, (count,)).copy(), whole.number.copy()
    kind[is_text], number[is_text] = read.kind, read.number
    return Values(kind, number)


def _plain_number(text: str) -> float:
    return float(text) if _PLAIN_NUMBER.fullmatch(text) else math.nan


def _arithmetic(sign: str, left: Values, right: Values) -> Values:
    one, other = _as_number(left), _as_number(right)
    with np.errstate(all="ignore"):
        number = {"+": np.add, "-": np.subtract, "*": np.multiply, "/": np.divide, "^": np.power}[
            sign
        ](one.number, other.number)
    return with_errors(numbers(number), one, other)


def _compare(
    left: Values, right: Values, *, in_order: bool = True
) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return where left and right are the same, and where left comes first, if that is asked."""
    # Numbers come before texts, texts before FALSE and TRUE; a blank is 0 or "".
    kinds = (
        np.where(left.kind == BLANK, np.where(right.kind == BLANK, NUMBER, right.kind), left.kind),
        np.where(right.kind == BLANK, np.where(left.kind == BLANK, NUMBER, left.kind), right.kind),
    )
    apart = np.abs(left.number - right.number)
    least = np.minimum(np.abs(left.number), np.abs(right.number))
    same = (left.number == right.number) | (apart < least * SAME_SHARE)
    first = (left.number < right.number) & ~same
    both_texts = (kinds[0] == TEXT) & (kinds[1] == TEXT)
    if both_texts.any():
        one, other = left.lowered, right.lowered
        same = np.where(both_texts, one == other, same)
        if in_order:
            first = np.where(both_texts, one < other, first)
    one_kind = kinds[0] == kinds[1]
    return one_kind & same, np.where(one_kind, first, kinds[0] < kinds[1])


def _sign(sign: str, left: Values, right: Values) -> Values:
    if sign == "&":
        return with_errors(texts(as_text(left) + as_text(right)), left, right)
    if sign in "+-*/^":
        return _arithmetic(sign, left, right)
    same, first = _compare(left, right, in_order=sign not in ("=", "<>"))
    holds = {
        "=": same,
        "<>": ~same,
        "<": first,
        "<=": first | same,
        ">": ~(first | same),
        ">=": ~first,
    }[sign]
    return with_errors(bools(holds), left, right)


def _truth(value: Values) -> tuple[NDArray[np.bool_], NDArray[np.bool_]]:
    """Return which cells hold true, and which cannot say."""
    return value.number != 0, (value.kind == TEXT) | (value.kind == ERROR)


def _if(condition: Values, then: Values, other: Values) -> Values:
    true, unclear = _truth(condition)
    kind = np.where(unclear, ERROR, np.where(true, then.kind, other.kind))
    number = np.where(true, then.number, other.number)
    return Values(kind.astype(np.int8), number, np.where(true, then.text, other.text))


def _iferror(value: Values, other: Values) -> Values:
    return _if(bools(value.kind == ERROR), other, value)


def _make_logical(combine: Callable[..., Any]) -> Callable[..., Values]:
    def apply(*parts: Values) -> Values:
        truths, unclear = zip(*map(_truth, parts), strict=True)
        holds = truths[0]
        for more in truths[1:]:
            holds = combine(holds, more)
        wrong = either(*unclear)
        return with_errors(bools(holds), Values(np.where(wrong, ERROR, BOOL).astype(np.int8)))

    return apply


def _not(value: Values) -> Values:
    true, unclear = _truth(value)
    return with_errors(bools(~true), Values(np.where(unclear, ERROR, BOOL).astype(np.int8)))


def _make_number_function(function: Callable[..., Any]) -> Callable[..., Values]:
    def apply(*parts: Values) -> Values:
        taken = [_as_number(part) for part in parts]
        with np.errstate(all="ignore"):
            number = function(*(part.number for part in taken))
        return with_errors(numbers(number), *taken)

    return apply


def _make_reducer(combine: Callable[..., Any], start: float) -> Callable[..., Values]:
    """Make a function over cells: only numbers count, and errors go through."""

    def apply(*parts: Values) -> Values:
        there = [part.kind == NUMBER for part in parts]
        total = np.full(1, start)
        for part, known in zip(parts, there, strict=True):
            total = combine(total, np.where(known, part.number, start))
        none = ~either(*there)
        return with_errors(numbers(np.where(none, 0.0, total)), *parts)

    return apply


def _make_counter(*wanted: int) -> Callable[..., Values]:
    def apply(*parts: Values) -> Values:
        return numbers(sum(np.isin(part.kind, wanted).astype(float) for part in parts))

    return apply


def _make_kind_test(wanted: int) -> Callable[[Values], Values]:
    return lambda value: bools(value.kind == wanted)


def _n(value: Values) -> Values:
    return with_errors(numbers(np.where(value.kind == TEXT, 0.0, value.number)), value)


def _t(value: Values) -> Values:
    return with_errors(texts(np.where(value.kind == TEXT, value.text, "")), value)


def _index_near(near: Near, at: Values) -> Values:
    chosen = Values(np.full(1, ERROR, dtype=np.int8))
    for number, values in enumerate(near.cells, 1):
        chosen = _if(bools((at.kind == NUMBER) & (at.number == number)), values, chosen)
    return chosen


def _match_near(sought: Values, near: Near) -> Values:
    matches = Values(np.full(1, ERROR, dtype=np.int8))
    for number, values in reversed(list(enumerate(near.cells, 1))):
        same, _ = _compare(sought, values, in_order=False)
        is_match = same & np.isin(values.kind, (NUMBER, TEXT))
        matches = _if(bools(is_match), numbers(float(number)), matches)
    return with_errors(matches, sought)


def _index(cells: Values | Near, at: Values) -> Values:
    if isinstance(cells, Near):
        return _index_near(cells, at)
    place = _as_number(at)
    position = np.floor(np.where(place.kind == ERROR, 0.0, place.number)).astype(np.int64)
    inside = (position >= 1) & (position <= len(cells))
    chosen = np.where(inside, position - 1, 0)
    whole = cells.spread(len(cells))
    kind = np.where(inside, whole.kind[chosen], ERROR).astype(np.int8)
    return Values(kind, whole.number[chosen], whole.text[chosen])


def _match(sought: Values, cells: Values | Near, _: Values) -> Values:
    """Return the first cell of the same kind that holds the same; texts without capitals."""
    if isinstance(cells, Near):
        return _match_near(sought, cells)
    first: dict[object, int] = {}
    whole = cells.spread(len(cells))
    rows = zip(whole.kind.tolist(), whole.number.tolist(), whole.text.tolist(), strict=True)
    for at, (kind, number, text) in enumerate(rows, 1):
        if kind in (NUMBER, TEXT):
            first.setdefault(text.lower() if kind == TEXT else number, at)

    def place(kind: int, number: float, text: str) -> float:
        key: object = text.lower() if kind == TEXT else number if kind in (NUMBER, BLANK) else None
        return first.get(key, math.nan)

    places = np.frompyfunc(place, 3, 1)(sought.kind, sought.number, sought.text)
    return with_errors(numbers(np.asarray(places, dtype=float)), sought)


def _half_up(number: NDArray[np.float64], places: NDArray[np.float64]) -> NDArray[np.float64]:
    scale = 10.0**places
    return np.sign(number) * np.floor(np.abs(number) * scale * (1 + SAME_SHARE) + 0.5) / scale


def _write_fixed(number: Values, places: Values, _: Values) -> Values:
    rounded = _half_up(_as_number(number).number, places.number)
    made = np.frompyfunc(lambda value, digits: f"{value:.{int(digits)}f}", 2, 1)
    return with_errors(texts(made(rounded, places.number)), number)


def _substitute(whole: Values, old: Values, new: Values, which: Values | None = None) -> Values:
    """Return each text with a part replaced: everywhere, or only the first where 1 is given."""
    count = -1 if which is None else 1
    made = apply_each(
        lambda text, part, other: text.replace(part, other, count) if part else text,
        *map(as_text, (whole, old, new)),
    )
    return with_errors(texts(made), whole, old, new)


def _mid(value: Values, first: Values, count: Values) -> Values:
    cut = np.frompyfunc(lambda text, at, n: text[int(at) - 1 : int(at) - 1 + int(n)], 3, 1)
    return with_errors(texts(cut(as_text(value), first.number, count.number)), value, first, count)


def _read_digits(value: Values) -> Values:
    """Return the number of a text of digits; any other text is an error, which few programs do."""
    cell_texts = as_text(value).tolist()
    known = {text: float(text) if text.isdecimal() else math.nan for text in set(cell_texts)}
    return with_errors(numbers([known[text] for text in cell_texts]), value)


def _pi() -> Values:
    return numbers(math.pi)


_FUNCTIONS: dict[str, Callable[..., Values]] = {
    "ABS": _make_number_function(np.abs),
    "AND": _make_logical(np.logical_and),
    "COUNT": _make_counter(NUMBER),
    "COUNTA": _make_counter(NUMBER, TEXT, BOOL, ERROR),
    "FIND": make_search(lambda part, whole: whole.find(part)),
    "FIXED": _write_fixed,
    "IF": _if,
    "IFERROR": _iferror,
    "INDEX": _index,
    "INT": _make_number_function(np.floor),
    "ISERROR": _make_kind_test(ERROR),
    "ISLOGICAL": _make_kind_test(BOOL),
    "ISNUMBER": _make_kind_test(NUMBER),
    "LEFT": left,
    "LEN": lambda value: with_errors(numbers([len(t) for t in as_text(value)]), value),
    "LOWER": make_text_function(str.lower),
    "MATCH": _match,
    "MAX": _make_reducer(np.maximum, -math.inf),
    "MID": _mid,
    "MIN": _make_reducer(np.minimum, math.inf),
    "MOD": _make_number_function(np.mod),
    "N": _n,
    "NOT": _not,
    "OR": _make_logical(np.logical_or),
    "PI": _pi,
    "RADIANS": _make_number_function(np.radians),
    "ROUND": _make_number_function(_half_up),
    "SEARCH": make_search(lambda part, whole: whole.lower().find(part.lower())),
    "SQRT": _make_number_function(np.sqrt),
    "SUBSTITUTE": _substitute,
    "SUM": _make_reducer(np.add, 0.0),
    "T": _t,
    "TAN": _make_number_function(np.tan),
    "TRIM": make_text_function(lambda text: " ".join(part for part in text.split(" ") if part)),
    "UPPER": make_text_function(str.upper),
    "VALUE": _read_digits,
}
