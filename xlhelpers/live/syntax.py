"""Native formulas as texts with named cells: taken apart, and written for one row of a sheet.

In these texts `{foot_reading}` stands for the cell of that field in the formula's own row,
`[foot_reading]` for the whole column of that field, `[~foot_reading]` for its cells from a few rows
above to a few rows below, and a word in small letters such as `xlh_unit`
for a defined name; everything else is as a spreadsheet program takes it. The same text gives the
formula in the cell and, through `functions`, the value that it has.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import lru_cache

from xlhelpers.errors import SpecificationError
from xlhelpers.package.sheet.references import MAX_ROW

# Functions that Excel 2010 and LibreOffice 7.4 know and calculate alike
SAFE_FUNCTIONS = frozenset(
    (
        *("ABS", "AND", "COUNT", "COUNTA", "FIND", "FIXED", "IF", "IFERROR", "INDEX", "INT"),
        *("ISERROR", "ISLOGICAL", "ISNUMBER", "LEFT", "LEN", "LOWER", "MATCH", "MAX", "MID", "MIN"),
        *("MOD", "N", "NOT", "OR", "PI", "RADIANS", "ROUND", "SEARCH", "SQRT", "SUBSTITUTE", "SUM"),
        *("T", "TAN", "TRIM", "UPPER", "VALUE"),
    )
)
LONGEST = 8192
NEAR = 5
"""How many rows above and below its own a formula reads where it asks for the cells near by."""
_TOKEN = re.compile(
    r"""\s*(?:(?P<text>"(?:[^"]|"")*")|(?P<number>[0-9]+(?:\.[0-9]+)?)|(?P<cell>\{[a-z_0-9]+\})"""
    r"""|(?P<column>\[[a-z_0-9]+\])|(?P<near>\[~[a-z_0-9]+\])|(?P<function>[A-Z]+)\(|(?P<word>TRUE|FALSE)"""
    r"""|(?P<name>[a-z][a-z_0-9]*)|(?P<sign><>|<=|>=|[-+*/^&=<>(),]))"""
)
_QUOTED = re.compile(r'("(?:[^"]|"")*")')
_EMPTY_CALL = re.compile(r"\b(TRUE|FALSE)\(\)")
_CELL = re.compile(r"\{([a-z_0-9]+)\}")
_COLUMN = re.compile(r"\[([a-z_0-9]+)\]")
_NEAR = re.compile(r"\[~([a-z_0-9]+)\]")
# signs from the weakest to the strongest; all of them take their left side first
_LEVELS = (("=", "<>", "<", ">", "<=", ">="), ("&",), ("+", "-"), ("*", "/"), ("^",))


@dataclass(frozen=True)
class Node:
    """One part: `kind` number, text, cell, column, near, name, function, sign or minus.

    Its hash is kept: parts are looked up often, and each would be hashed with all parts below it.
    """

    kind: str
    value: str | float | bool
    parts: tuple[Node, ...] = ()
    _hash: int = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        """Work out the hash from those of the parts."""
        object.__setattr__(self, "_hash", hash((self.kind, self.value, self.parts)))

    def __hash__(self) -> int:
        """Return the hash that was kept."""
        return self._hash


def render(template: str, columns: Mapping[str, str], row: int) -> str:
    """Return the formula for one row, without its equals sign.

    Parameters
    ----------
    template : str
        Formula with named cells.
    columns : mapping
        Letters of each field's column.
    row : int
        Row of the sheet, counted from 1.
    """
    whole = _COLUMN.sub(lambda match: f"${columns[match[1]]}:${columns[match[1]]}", template)
    first, last = max(row - NEAR, 1), min(row + NEAR, MAX_ROW)

    def near(match: re.Match[str]) -> str:
        return f"{columns[match[1]]}{first}:{columns[match[1]]}{last}"

    return _CELL.sub(lambda match: f"{columns[match[1]]}{row}", _NEAR.sub(near, whole))


def plain(formula: str) -> str:
    """Return a formula without what programs write in their own ways: blanks, TRUE() for TRUE."""
    parts = _QUOTED.split(formula)
    parts[::2] = [_EMPTY_CALL.sub(r"\1", re.sub(r"\s+", "", part)) for part in parts[::2]]
    return "".join(parts)


def digest_formula(formula: str, columns: Mapping[str, str], row: int) -> str:
    """Return a short digest of the template of a row's formula, in whichever columns it is.

    Parameters
    ----------
    formula : str
        Formula of the row, without its equals sign.
    columns : mapping
        Letters of each field's column.
    row : int
        Row of the sheet, counted from 1.
    """
    fields = {letters: name for name, letters in columns.items()}
    cell = re.compile(rf"\b([A-Z]{{1,3}}){row}\b")

    def name_field(match: re.Match[str]) -> str:
        return f"{{{fields[match[1]]}}}" if match[1] in fields else match[0]

    parts = _QUOTED.split(plain(formula))
    parts[::2] = [cell.sub(name_field, part) for part in parts[::2]]
    return hashlib.sha256("".join(parts).encode()).hexdigest()[:16]


def cells_of(template: str) -> frozenset[str]:
    """Return the fields whose cells a formula reads."""
    return frozenset(_CELL.findall(template)).union(
        _COLUMN.findall(template), _NEAR.findall(template)
    )


@lru_cache(maxsize=256)
def parse(template: str) -> Node:
    """Take a formula apart.

    Raises
    ------
    SpecificationError
        It is not a formula, or uses a function that is not safe everywhere.
    """
    tokens = _tokens(template)
    node, at = _level(tokens, 0, 0)
    if at != len(tokens):
        raise SpecificationError(f"formula does not end at {tokens[at][1]}: {template}")
    return node


def _tokens(template: str) -> list[tuple[str, str]]:
    tokens, at = [], 0
    while at < len(template.rstrip()):
        match = _TOKEN.match(template, at)
        if match is None:
            raise SpecificationError(f"no formula from here: {template[at : at + 40]}")
        kind = str(match.lastgroup)
        if kind == "function" and match[kind] not in SAFE_FUNCTIONS:
            raise SpecificationError(f"{match[kind]} is not safe in every spreadsheet program")
        tokens.append((kind, match[kind]))
        at = match.end()
    return tokens


def _level(tokens: list[tuple[str, str]], at: int, level: int) -> tuple[Node, int]:
    if level == len(_LEVELS):
        return _operand(tokens, at)
    left, at = _level(tokens, at, level + 1)
    while at < len(tokens) and tokens[at][0] == "sign" and tokens[at][1] in _LEVELS[level]:
        sign = tokens[at][1]
        right, at = _level(tokens, at + 1, level + 1)
        left = Node("sign", sign, (left, right))
    return left, at


def _operand(tokens: list[tuple[str, str]], at: int) -> tuple[Node, int]:
    kind, text = tokens[at] if at < len(tokens) else ("", "the end")
    if kind == "number":
        return Node("number", float(text)), at + 1
    if kind == "text":
        return Node("text", text[1:-1].replace('""', '"')), at + 1
    if kind == "word":
        return Node("number", text == "TRUE"), at + 1
    if kind in ("cell", "column", "near"):
        return Node(kind, text[1:-1].removeprefix("~")), at + 1
    if kind == "name":
        return Node("name", text), at + 1
    if kind == "function":
        parts, at = _arguments(tokens, at + 1)
        return Node("function", text, parts), at
    if (kind, text) == ("sign", "("):
        node, at = _level(tokens, at + 1, 0)
        return node, _past(tokens, at, ")")
    if (kind, text) == ("sign", "-"):
        node, at = _operand(tokens, at + 1)
        return Node("minus", "-", (node,)), at
    raise SpecificationError(f"a formula cannot go on with {text}")


def _arguments(tokens: list[tuple[str, str]], at: int) -> tuple[tuple[Node, ...], int]:
    if tokens[at] == ("sign", ")"):
        return (), at + 1
    parts = []
    while True:
        node, at = _level(tokens, at, 0)
        parts.append(node)
        if at < len(tokens) and tokens[at] == ("sign", ","):
            at += 1
            continue
        return tuple(parts), _past(tokens, at, ")")


def _past(tokens: list[tuple[str, str]], at: int, sign: str) -> int:
    if at >= len(tokens) or tokens[at] != ("sign", sign):
        raise SpecificationError(f"a formula has no {sign}")
    return at + 1
