"""Rows that repeat the row before them but for its number, as the spare lines of a sheet do.

They are taken out before cells are looked for, and get the cells of the row that they repeat.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field

from xlhelpers.package.sheet.sheet_bytes import CELL, ROW_END

_NUMBER = re.compile(rb'\s*<row r="([1-9][0-9]{0,6})"')
# stands for the number of the row; no XML holds this character
_MARK = b"\0"


@dataclass
class Run:
    """A row, its place among the rows that remain, and the numbers of those that repeat it."""

    row: int
    place: int
    repeats: list[int] = field(default_factory=list)


def take_out_repeats(rows: bytes) -> tuple[bytes, list[Run]]:
    """Return some whole rows without those that repeat the row before, and what these repeat.

    Where the rows do not ascend, all of them stay: of two rows with one number the later counts.
    """
    *pieces, rest = rows.split(ROW_END)
    remaining: list[bytes] = []
    runs: list[Run] = []
    last, number, model = 0, b"", b""
    shape: bytes | None = None
    for piece in pieces:
        match = _NUMBER.match(piece)
        if match is None or int(match[1]) <= last:
            return rows, []
        last = int(match[1])
        if len(piece) == len(model):
            if shape is None and _without(piece, match[1]) == _without(model, number):
                shape = _shape(model, number)
            if shape and shape.replace(_MARK, match[1]) == piece:
                if not runs or runs[-1].place != len(remaining) - 1:
                    runs.append(Run(int(number), len(remaining) - 1))
                runs[-1].repeats.append(last)
                continue
        number, model, shape = match[1], piece, None
        remaining.append(piece)
    return ROW_END.join([*remaining, rest]), runs


def _without(piece: bytes, number: bytes) -> bytes:
    return piece.replace(number + b'"', b'"')


def _shape(piece: bytes, number: bytes) -> bytes:
    """Return a row with a mark for its number in all names; nothing if a cell has another one."""
    names = re.compile(rb'(<row r="|<c r="[A-Z]{1,3})' + number + rb'"')
    shape, replacements = names.subn(rb"\g<1>" + _MARK + rb'"', piece)
    return shape if replacements == piece.count(CELL) + 1 else b""
