"""Cells of plainly written rows, found with array operations over the bytes.

All tags of some whole rows are found at once and told apart by their first letters. Which tag may
follow which is a table; where anything else stands, nothing is read here.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Bytes = NDArray[np.uint8]
Numbers = NDArray[np.int64]
Flags = NDArray[np.bool_]
# The kinds of tags; "empty" closes itself.
(
    ROW,
    ROW_EMPTY,
    ROW_END,
    CELL,
    CELL_EMPTY,
    CELL_END,
    VALUE,
    VALUE_EMPTY,
    VALUE_END,
    FORMULA,
    FORMULA_EMPTY,
    FORMULA_END,
    INLINE,
    INLINE_END,
    TEXT,
    TEXT_EMPTY,
    TEXT_END,
) = range(17)
_NAMES = {
    b"row ": ROW,
    b"/row": ROW_END,
    b"c r=": CELL,
    b"/c>": CELL_END,
    b"v>": VALUE,
    b"/v>": VALUE_END,
    b"f>": FORMULA,
    b"f ": FORMULA,
    b"f/>": FORMULA,
    b"/f>": FORMULA_END,
    b"is>": INLINE,
    b"/is>": INLINE_END,
    b"t>": TEXT,
    b"t xm": TEXT,
    b"t/>": TEXT,
    b"/t>": TEXT_END,
    b"v/>": VALUE,
    b"v xm": VALUE,
}
_WORDS = np.array([int.from_bytes(name, "little") for name in _NAMES], dtype=np.uint32)
_MASKS = np.array([(1 << (8 * len(name))) - 1 for name in _NAMES], dtype=np.uint32)
_KINDS_BY_NAME = np.array(list(_NAMES.values()), dtype=np.int8)
_LIKELY = np.zeros(2**16, dtype=np.int8)
_LIKELY[_WORDS & np.uint32(0xFFFF)] = np.arange(len(_NAMES))
_EMPTY = {
    ROW: ROW_EMPTY,
    CELL: CELL_EMPTY,
    FORMULA: FORMULA_EMPTY,
    VALUE: VALUE_EMPTY,
    TEXT: TEXT_EMPTY,
}
_CELLS = {CELL, CELL_EMPTY}
_FOLLOWS = {
    ROW: _CELLS | {ROW_END},
    ROW_EMPTY: {ROW, ROW_EMPTY},
    ROW_END: {ROW, ROW_EMPTY},
    CELL: {VALUE, VALUE_EMPTY, FORMULA, FORMULA_EMPTY, INLINE, CELL_END},
    CELL_EMPTY: _CELLS | {ROW_END},
    CELL_END: _CELLS | {ROW_END},
    VALUE: {VALUE_END},
    VALUE_EMPTY: {CELL_END},
    VALUE_END: {CELL_END},
    FORMULA: {FORMULA_END},
    FORMULA_EMPTY: {VALUE, VALUE_EMPTY, CELL_END},
    FORMULA_END: {VALUE, VALUE_EMPTY, CELL_END},
    INLINE: {TEXT, TEXT_EMPTY},
    TEXT_EMPTY: {INLINE_END},
    TEXT: {TEXT_END},
    TEXT_END: {INLINE_END},
    INLINE_END: {CELL_END},
}
_ALLOWED = np.zeros((17, 17), dtype=bool)
for _first, _second in ((a, b) for a, others in _FOLLOWS.items() for b in others):
    _ALLOWED[_first, _second] = True
_WITH_TEXT = np.isin(np.arange(17), (VALUE, FORMULA, TEXT))
_SPACES = np.isin(np.arange(256), np.frombuffer(b" \t\r\n", dtype=np.uint8))
KINDS = (b'n"', b's"', b'b"', b'e"', b'str"', b'inlineStr"')
NUMBER, SHARED, BOOLEAN, ERROR, PLAIN_TEXT, INLINE_TEXT = range(6)
MARGIN = 64


@dataclass(frozen=True)
class Tags:
    """Tags of some rows: where each begins and ends (at its < and its >), and its kind."""

    begins: Numbers
    ends: Numbers
    kinds: NDArray[np.int8]

    def spans(self, kind: int) -> tuple[Numbers, Numbers]:
        """Where the text after each tag of a kind begins and ends."""
        at = np.flatnonzero(self.kinds == kind)
        return self.ends[at] + 1, self.begins[at + 1]


@dataclass(frozen=True)
class Cells:
    """Cells of some rows in their order: row, column, format (0 for none), kind of value."""

    rows: Numbers
    columns: Numbers
    styles: Numbers
    kinds: NDArray[np.int8]


def find_tags(rows: bytes) -> Tags | None:
    """All tags of some whole rows; None where anything but plain cells stands among them."""
    data = np.frombuffer(rows + b"\x00" * MARGIN, dtype=np.uint8)
    control = data[: len(rows)][data[: len(rows)] < ord(" ")]
    if (~_SPACES[control] | (control == ord("\r"))).any():
        return None
    begins, ends = np.flatnonzero(data == ord("<")), np.flatnonzero(data == ord(">"))
    if len(begins) != len(ends) or not len(begins):
        return None
    if not ((begins < ends).all() and (ends[:-1] < begins[1:]).all()):
        return None
    kinds = _kinds(data, begins, ends)
    if kinds is None or not _ALLOWED[kinds[:-1], kinds[1:]].all():
        return None
    if kinds[0] not in (ROW, ROW_EMPTY) or kinds[-1] not in (ROW_EMPTY, ROW_END):
        return None
    return Tags(begins, ends, kinds) if _text_in_place(data, begins, ends, kinds) else None


def _kinds(data: Bytes, begins: Numbers, ends: Numbers) -> NDArray[np.int8] | None:
    words = np.zeros(len(begins), dtype=np.uint32)
    for k in range(4):
        words |= data[begins + (1 + k)].astype(np.uint32) << np.uint32(8 * k)
    # the first two signs tell which name it can be
    likely = _LIKELY[words & np.uint32(0xFFFF)]
    kinds = np.where(words & _MASKS[likely] == _WORDS[likely], _KINDS_BY_NAME[likely], np.int8(-1))
    empty = data[ends - 1] == ord("/")
    for kind, closed in _EMPTY.items():
        kinds[empty & (kinds == kind)] = closed
    return None if (kinds < 0).any() else kinds


def _text_in_place(data: Bytes, begins: Numbers, ends: Numbers, kinds: NDArray[np.int8]) -> bool:
    """Whether text stands only within values, formulas and texts; space may stand elsewhere."""
    gaps = begins[1:] - ends[:-1] - 1
    odd = np.flatnonzero((gaps > 0) & ~_WITH_TEXT[kinds[:-1]])
    starts, lengths = ends[odd] + 1, gaps[odd]
    if len(odd) and lengths.max() > MARGIN:
        return False
    inside = range(int(lengths.max(initial=0)))
    return bool(begins[0] == 0) and all(
        (_SPACES[data[starts + k]] | (lengths <= k)).all() for k in inside
    )


def read_names(rows: bytes, tags: Tags) -> Cells | None:
    """Name, format and type of every cell; None where a cell has anything else."""
    data = np.frombuffer(rows + b"\x00" * MARGIN, dtype=np.uint8)
    at = np.flatnonzero((tags.kinds == CELL) | (tags.kinds == CELL_EMPTY))
    place = tags.begins[at] + len(b'<c r="')
    columns, place = _letters(data, place)
    numbers, place = _digits(data, place, 7)
    good = (columns > 0) & (numbers > 0) & (data[place] == ord('"'))
    place = place + 1
    styled = _stands(data, place, b' s="')
    styles, after = _digits(data, place + 4, 6)
    good &= ~styled | ((after > place + 4) & (data[after] == ord('"')))
    place, styles = np.where(styled, after + 1, place), np.where(styled, styles, 0)
    typed = np.flatnonzero(_stands(data, place, b' t="'))
    kinds, after = np.zeros(len(at), dtype=np.int8), place.copy()
    for kind, word in enumerate(KINDS):
        of_kind = typed[_stands(data, place[typed] + 4, word)]
        kinds[of_kind] = kind
        after[of_kind] += 4 + len(word)
    # a type that is not known leaves its cell unfinished
    good &= (after + (tags.kinds[at] == CELL_EMPTY)) == tags.ends[at]
    return Cells(numbers, columns, styles, kinds) if good.all() else None


def _stands(data: Bytes, place: Numbers, word: bytes) -> Flags:
    """Where a word stands at a place."""
    matches = np.ones(len(place), dtype=bool)
    for k, letter in enumerate(word):
        matches &= data[place + k] == letter
    return matches


def _letters(data: Bytes, place: Numbers) -> tuple[Numbers, Numbers]:
    """Number of the column whose letters stand at a place, and the place after them."""
    columns, going = np.zeros(len(place), dtype=np.int64), np.ones(len(place), dtype=bool)
    for _ in range(3):
        letters = data[place]
        going = going & (letters >= ord("A")) & (letters <= ord("Z"))
        if not going.any():
            break
        columns = np.where(going, columns * 26 + letters - 64, columns)
        place = place + going
    return columns, place


def _digits(data: Bytes, place: Numbers, most: int) -> tuple[Numbers, Numbers]:
    """The whole number that stands at a place, and the place after it."""
    numbers, going = np.zeros(len(place), dtype=np.int64), np.ones(len(place), dtype=bool)
    for _ in range(most):
        digits = data[place]
        going = going & (digits >= ord("0")) & (digits <= ord("9"))
        if not going.any():
            break
        numbers = np.where(going, numbers * 10 + digits - 48, numbers)
        place = place + going
    return numbers, place
