"""Formulas taken apart into tokens, and the sheets, names and areas that they refer to.

Relative references are kept as such, so that the reading of a shared formula can be moved to
each of its cells. What cannot be known from the text alone counts as reading everything.
"""

from __future__ import annotations

import re
from collections.abc import Collection, Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from functools import lru_cache

from xlhelpers.package.sheet.references import (
    MAX_COLUMN,
    MAX_ROW,
    Area,
    column_number,
    sheet_prefix,
)

# The order decides: a sheet before its cell, a cell before a name.
_TOKEN = re.compile(
    r"""
      (?P<text>"(?:[^"]|"")*")
    | (?P<error>\#(?:REF!|DIV/0!|N/A|NAME\?|NULL!|NUM!|VALUE!|SPILL!|CALC!|GETTING_DATA))
    | (?P<sheet>(?:'(?:[^']|'')+'|(?:\[[^\]]+\])?[\w.\\?]+(?::[\w.\\?]+)?|\[[^\]]+\])!)
    | (?P<area>\$?[A-Za-z]{1,3}\$?[0-9]{1,7}(?::\$?[A-Za-z]{1,3}\$?[0-9]{1,7})?(?![\w.(\[]))
    | (?P<columns>\$?[A-Za-z]{1,3}:\$?[A-Za-z]{1,3}(?![\w.(\[]))
    | (?P<rows>\$?[0-9]{1,7}:\$?[0-9]{1,7}(?![\w.]))
    | (?P<number>[0-9]+\.?[0-9]*(?:[Ee][+-]?[0-9]+)?|\.[0-9]+(?:[Ee][+-]?[0-9]+)?)
    | (?P<function>[^\W\d][\w.]*(?=\())
    | (?P<name>(?:[^\W\d]|\\)[\w.\\?]*)
    | (?P<bracket>\[)
    | (?P<other>.)
    """,
    re.VERBOSE | re.DOTALL,
)


@dataclass(frozen=True)
class Token:
    """One token: its kind (text, error, sheet, area, columns, rows, number, function, name,
    bracket, other) and its text."""

    kind: str
    text: str


def tokens(formula: str) -> Iterator[Token]:
    """Tokens of a formula without its equals sign; joined they give the formula again."""
    position = 0
    while position < len(formula):
        match = _TOKEN.match(formula, position)
        if match is None:  # cannot happen: the last branch takes any character
            return
        kind = match.lastgroup or "other"
        end = match.end()
        if kind == "bracket":
            end = _closing(formula, position)
        yield Token(kind, formula[position:end])
        position = end


def _closing(formula: str, start: int) -> int:
    """Offset after the bracket that closes the one at `start`; ' escapes the next character."""
    depth, position = 0, start
    while position < len(formula):
        character = formula[position]
        if character == "'":
            position += 1
        elif character == "[":
            depth += 1
        elif character == "]":
            depth -= 1
            if depth == 0:
                return position + 1
        position += 1
    return len(formula)


def sheet_names(token_text: str) -> tuple[str, ...]:
    """Sheets that a sheet token names: one, or the first and last of several.

    Empty for a sheet of another workbook.
    """
    text = token_text[:-1]
    if text.startswith("'"):
        text = text[1:-1].replace("''", "'")
    if "[" in text:
        return ()
    return tuple(text.split(":"))


def points_into(text: str, wanted: Collection[str]) -> bool:
    """Whether a formula names one of the sheets (casefolded)."""
    folded = text.casefold()
    # most formulas name none: taking a long one apart costs much more than this look
    if "!" not in text or not any(name.replace("'", "''") in folded for name in wanted):
        return False
    return any(
        name.casefold() in wanted
        for token in tokens(text)
        if token.kind == "sheet"
        for name in sheet_names(token.text)
    )


def rename(formula: str, sheets: Mapping[str, str], names: Mapping[str, str]) -> str:
    """The formula with sheets and names (or tables) renamed; keys are casefolded.

    Texts in quotes stay as they are, and so do sheets of other workbooks.
    """
    pieces = []
    for token in tokens(formula):
        if token.kind == "sheet":
            pieces.append(_renamed_sheet(token.text, sheets))
        elif token.kind == "name":
            pieces.append(names.get(token.text.casefold(), token.text))
        else:
            pieces.append(token.text)
    return "".join(pieces)


def _renamed_sheet(text: str, sheets: Mapping[str, str]) -> str:
    old = sheet_names(text)
    new = tuple(sheets.get(name.casefold(), name) for name in old)
    if new == old:
        return text
    if len(new) == 1:
        return sheet_prefix(new[0]) + "!"
    return "'" + ":".join(name.replace("'", "''") for name in new) + "'!"


# Functions whose result depends on cells that their arguments do not name.
OPAQUE_FUNCTIONS = frozenset(("indirect", "cell", "getpivotdata", "evaluate", "info"))
# Functions whose result depends on other cells of the sheets that their arguments name.
WIDE_FUNCTIONS = frozenset(("offset",))
_WHOLE_SHEET = (1, 1, MAX_ROW, MAX_COLUMN)
CONSTANTS = frozenset(("true", "false"))
MAX_DEPTH = 20
_QUOTED_OR_CELL = re.compile(
    r"""'(?:[^']|'')*'|"(?:[^"]|"")*"|\[[^\]]*\]"""
    r"""|(?<![\w.$])(?:(\$?)([A-Za-z]{1,3})(\$?)([0-9]{1,7})"""
    r"""|(\$?)([A-Za-z]{1,3}):(\$?)([A-Za-z]{1,3})|(\$?)([0-9]{1,7}):(\$?)([0-9]{1,7}))"""
    r"""(?![\w.(!\[])"""
)
_OPEN_ROW = re.compile(r"(?<![\w.$\\])\$?[A-Za-z]{1,3}\0(?![\w.(!\[\0])")
_CORNER = re.compile(r"(\$?)([A-Za-z]{1,3})?(\$?)([0-9]{1,7})?")


@dataclass(frozen=True)
class Reading:
    """One area that a formula reads: sheet position, corners, and which corners move along."""

    sheet: int
    area: Area
    moves: tuple[bool, bool, bool, bool]


@dataclass(frozen=True)
class FormulaReadings:
    """All that a formula reads; `everything` where that cannot be told."""

    readings: tuple[Reading, ...]
    everything: bool


@dataclass(frozen=True)
class Book:
    """What names in formulas stand for; all keys casefolded, sheets by their position."""

    sheets: Mapping[str, int]
    names: Mapping[tuple[str, int | None], str]
    tables: Mapping[str, tuple[int, Area]]


@dataclass
class _Search:
    """One formula while its tokens go by."""

    book: Book
    sheet: int
    depth: int = 0
    readings: list[Reading] = field(default_factory=list)
    everything: bool = False
    wide: bool = False


def pattern_of(formula: str, row: int, column: int) -> str:
    """The formula with relative cells given by their distance, as it would be filled down.

    Formulas of one pattern on one sheet read the same cells, seen from where they stand.
    """

    def across(fixed: str, letters: str) -> str:
        return fixed + letters if fixed else f"[{column_number(letters) - column}]"

    def down(fixed: str, digits: str) -> str:
        return fixed + digits if fixed else f"[{int(digits) - row}]"

    def distance(match: re.Match[str]) -> str:
        if match[2] is not None:
            return across(match[1], match[2]) + down(match[3], match[4])
        if match[6] is not None:
            return across(match[5], match[6]) + ":" + across(match[7], match[8])
        if match[10] is not None:
            return down(match[9], match[10]) + ":" + down(match[11], match[12])
        return match[0]

    return _QUOTED_OR_CELL.sub(distance, formula)


def row_shape(formula: str, row: int) -> str:
    """The formula with its own row left open: a quick pattern, "" where it would not do.

    Formulas of one shape in one column read the same cells, seen from where they stand: each
    open place is the row, or the end of the row, of a relative cell.
    """
    if "!" in formula:
        return ""
    shape = formula.replace(str(row), "\0")
    return shape if _opens_rows_alone(shape) else ""


@lru_cache(maxsize=4096)
def _opens_rows_alone(shape: str) -> bool:
    return "\0" in shape and len(_OPEN_ROW.findall(shape)) == shape.count("\0")


def readings_of(formula: str, sheet: int, book: Book) -> FormulaReadings:
    """What a formula on the sheet of that position reads."""
    search = _Search(book, sheet)
    _read(formula, search)
    if search.wide:
        on = whole_sheets(dict.fromkeys(item.sheet for item in search.readings))
        return replace(on, everything=search.everything)
    return FormulaReadings(tuple(dict.fromkeys(search.readings)), search.everything)


def whole_sheets(positions: Iterable[int]) -> FormulaReadings:
    """Return readings of every cell of some sheets."""
    still = (False, False, False, False)
    readings = tuple(Reading(position, _WHOLE_SHEET, still) for position in positions)
    return FormulaReadings(readings, everything=False)


def _read(formula: str, search: _Search) -> None:
    scope: tuple[int, ...] | None = None
    table_before = False
    for token in tokens(formula):
        if token.kind == "sheet":
            scope = _scope(token, search)
            continue
        if token.kind in ("area", "columns", "rows"):
            for sheet in (search.sheet,) if scope is None else scope:
                search.readings.append(_reading(token.text, sheet))
        elif token.kind == "name":
            _read_name(token.text, scope, search)
        elif token.kind == "bracket" and not table_before:
            _read_tables_here(search)
        elif token.kind == "function":
            bare = token.text.casefold().removeprefix("_xlfn.").removeprefix("_xlws.")
            search.everything |= bare in OPAQUE_FUNCTIONS
            search.wide |= bare in WIDE_FUNCTIONS
        elif token.kind == "other" and token.text in ":#":
            # A range or a spill whose end is calculated: it stays on the sheet where it begins.
            search.wide = True
        table_before = token.kind == "name"
        scope = None


def _scope(token: Token, search: _Search) -> tuple[int, ...]:
    """Positions of the sheets that a prefix names; empty for another workbook or a lost sheet."""
    positions = [search.book.sheets.get(name.casefold()) for name in sheet_names(token.text)]
    known = [position for position in positions if position is not None]
    if len(known) == 2:
        return tuple(range(min(known), max(known) + 1))
    return tuple(known)


def _reading(text: str, sheet: int) -> Reading:
    first, _, last = text.partition(":")
    start, end = _corner(first), _corner(last or first)
    (row_1, moves_row_1), (column_1, moves_column_1) = start
    (row_2, moves_row_2), (column_2, moves_column_2) = end
    return Reading(
        sheet,
        (row_1 or 1, column_1 or 1, row_2 or MAX_ROW, column_2 or MAX_COLUMN),
        (
            moves_row_1 and row_1 is not None,
            moves_column_1 and column_1 is not None,
            moves_row_2 and row_2 is not None,
            moves_column_2 and column_2 is not None,
        ),
    )


def _corner(text: str) -> tuple[tuple[int | None, bool], tuple[int | None, bool]]:
    """Row and column of a corner, each with whether it is relative."""
    match = _CORNER.fullmatch(text)
    if match is None:
        return (None, False), (None, False)
    letters, digits = match[2], match[4]
    row_fixed = "$" in (match[3] or "") or (letters is None and match[1] == "$")
    row = (int(digits) if digits else None, not row_fixed)
    column = (column_number(letters) if letters else None, match[1] != "$")
    return row, column


def _read_name(name: str, scope: tuple[int, ...] | None, search: _Search) -> None:
    key = name.casefold()
    if key in CONSTANTS or scope == ():
        return
    if key in search.book.tables:
        sheet, area = search.book.tables[key]
        search.readings.append(Reading(sheet, area, (False, False, False, False)))
        return
    places = (search.sheet,) if scope is None else scope
    text = next(
        (search.book.names[key, place] for place in places if (key, place) in search.book.names),
        search.book.names.get((key, None)),
    )
    if text is None:
        return  # an error, or a variable of LET or LAMBDA, whose cells stand in the formula
    if search.depth >= MAX_DEPTH:
        search.everything = True
        return
    inner = _Search(search.book, places[0], search.depth + 1)
    _read(text, inner)
    search.readings += inner.readings
    search.everything |= inner.everything
    # A relative reference in a name means another cell at each place where the name is used.
    search.wide |= inner.wide or any(any(item.moves) for item in inner.readings)


def _read_tables_here(search: _Search) -> None:
    """A column in brackets without a table name belongs to a table on the same sheet."""
    for sheet, area in search.book.tables.values():
        if sheet == search.sheet:
            search.readings.append(Reading(sheet, area, (False, False, False, False)))
