"""Where the table of trees is on a foreign sheet: its heading rows, its units, its first line."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace

from xlhelpers.jobs.bring.foreign import ForeignSheet, Value, is_blank, text_of
from xlhelpers.jobs.bring.headings import Heading, read_heading, roles_of, unit_of
from xlhelpers.jobs.bring.vocabulary import BY_NAME, KEEP, PLOT_WORDS
from xlhelpers.survey.typed.units import TypedUnit

_SEARCHED, _MOST_ROWS = 20, 3
_LONGEST_HEADING = 60
_DEEPER = 0.4  # what one more heading row must bring, in columns understood
_WITH_UNIT = 0.2  # what the unit of a heading brings
_SPECIES = ("species", "common")
_NUMBER_AND_UNIT = re.compile(r"([+-]?[0-9]+(?:[.,][0-9]+)?) ?(?:%|°|cm|mm|m|ft|in|'|\")?")
_FEET_AND_INCHES = re.compile(r"([0-9]+) ?(?:'|ft) ?([0-9]+(?:\.[0-9]+)?) ?(?:\"|''|in)")
_IN_TAB_NAME = re.compile(
    rf"(?i)\b(?:{'|'.join(PLOT_WORDS)})[ ._#:-]*(?:no|nr|n°)?[ ._#:-]*([0-9]\w*)"
)


@dataclass(frozen=True)
class Table:
    """One table of trees: headings of its columns, the rows that they fill, the first data row.

    Rows and columns count from 0. `covered` gives the first cell of a merged area that a cell of
    the data belongs to.
    """

    sheet: ForeignSheet
    headings: tuple[Heading, ...]
    heading_rows: range
    first: int
    covered: dict[tuple[int, int], tuple[int, int]] = field(default_factory=dict)

    @property
    def signature(self) -> tuple[str, ...]:
        """Return the headings, by which two tables are of one kind."""
        return tuple(heading.text for heading in self.headings)

    def value(self, row: int, column: int) -> Value:
        """Return what a cell shows: in a merged area, what its first cell has."""
        return (
            self.sheet.rows[row][column]
            if (row, column) not in self.covered
            else (self.sheet.rows[self.covered[row, column][0]][self.covered[row, column][1]])
        )

    def rows(self) -> range:
        """Return the rows below the headings."""
        return range(self.first, len(self.sheet.rows))


def find_table(sheet: ForeignSheet) -> Table | None:
    """Find the headings of a sheet in its first rows that have anything.

    Of all places the one is taken whose headings name most columns; headings may be merged or
    take up to three rows, and units may have a row of their own.

    Returns
    -------
    Table or None
        None where no row names two columns of trees.
    """
    best: tuple[float, int, int] = (0.0, 0, 0)
    for start in range(min(_SEARCHED, len(sheet.rows))):
        for depth in range(1, _MOST_ROWS + 1):
            rows = range(start, start + depth)
            if rows.stop > len(sheet.rows) or not _may_head(sheet, rows):
                break
            score = _score(sheet, rows) - _DEEPER * (depth - 1)
            if score > best[0] + 1e-9:
                best = (score, start, depth)
    score, start, depth = best
    if score < 2:
        return None
    rows = range(start, start + depth)
    headings = [_join(pieces) for pieces in _pieces(sheet, rows)]
    first = rows.stop
    units = _units_below(sheet, first)
    if units:
        headings = [replace(h, unit=h.unit or units.get(at)) for at, h in enumerate(headings)]
        first += 1
    return Table(sheet, tuple(headings), range(start, first), first, _merged_corners(sheet, first))


def _merged_corners(sheet: ForeignSheet, first: int) -> dict[tuple[int, int], tuple[int, int]]:
    return {
        (row, column): (top, left)
        for top, left, bottom, right in sheet.merges
        if top >= first and right < sheet.width and bottom < len(sheet.rows)
        for row in range(top, bottom + 1)
        for column in range(left, right + 1)
        if (row, column) != (top, left) and column == left
    }


def number_like(value: Value) -> float | None:
    """Return a number at a glance, as one column is compared with another; None for other cells."""
    if isinstance(value, float) and not isinstance(value, bool):
        return value
    if isinstance(value, str):
        text = value.strip().replace("−", "-").replace("’", "'").replace("”", '"')
        if match := _NUMBER_AND_UNIT.fullmatch(text):
            return float(match[1].replace(",", "."))
        if match := _FEET_AND_INCHES.fullmatch(text):
            return float(match[1]) + float(match[2]) / 12
    return None


def _may_head(sheet: ForeignSheet, rows: range) -> bool:
    """Return whether the last of these rows can be a row of headings."""
    cells = [cell for cell in sheet.rows[rows.stop - 1] if not is_blank(cell)]
    if not cells or any(len(text_of(cell)) > _LONGEST_HEADING for cell in cells[:3]):
        return bool(cells) and len(rows) == 1
    numbers = [number for cell in cells if (number := number_like(cell)) is not None]
    if len(numbers) <= 0.2 * len(cells):
        return True
    # repeats 1, 2 below a merged heading, or years
    above = sum(not is_blank(cell) for cell in sheet.rows[rows.start])
    few = len(rows) > 1 and len(cells) <= 0.7 * max(above, len(_filled_texts(sheet, rows)))
    return few and all(0 < n < 10 or 1900 < n < 2100 for n in numbers)


def _filled_texts(sheet: ForeignSheet, rows: range) -> list[str]:
    return [text for text in _texts(sheet, rows) if text]


def _texts(sheet: ForeignSheet, rows: range) -> list[str]:
    """Return the heading of each column, its rows joined."""
    return [" ".join(pieces) for pieces in _pieces(sheet, rows)]


def _join(pieces: Sequence[str]) -> Heading:
    """Return the heading of a column; where the upper rows only group columns, of its last rows."""
    whole = read_heading(" ".join(pieces))
    best, score = whole, _best_share(whole)
    for start in range(1, len(pieces)):
        lower = read_heading(" ".join(pieces[start:]))
        if _best_share(lower) > score:
            best, score = lower, _best_share(lower)
    return replace(best, text=whole.text, unit=best.unit or whole.unit)


def _best_share(heading: Heading) -> float:
    return max(roles_of(heading).values(), default=0.0)


def _pieces(sheet: ForeignSheet, rows: range) -> list[list[str]]:
    """Return the heading cells of each column; a merged cell belongs to all its columns."""
    pieces: list[list[str]] = [[] for _ in range(sheet.width)]
    for row in rows:
        last = row == rows.stop - 1
        left_text = ""
        areas = {
            column: (row, left)
            for top, left, bottom, right in sheet.merges
            if top <= row <= bottom
            for column in range(left, right + 1)
            if top in rows
        }
        for column in range(sheet.width):
            text = " ".join(text_of(sheet.rows[row][column]).split())
            if not text and column in areas:
                text = " ".join(text_of(sheet.rows[row][areas[column][1]]).split())
            elif not text and not last and left_text and not _has_own_top(sheet, rows, row, column):
                # merged in another format: the heading above goes on over the cells below it
                text = left_text
            left_text = text
            if text and text not in pieces[column]:
                pieces[column].append(text)
    return pieces


def _has_own_top(sheet: ForeignSheet, rows: range, row: int, column: int) -> bool:
    """Return whether a blank cell of an upper heading row ends the heading at its left."""
    below = [sheet.rows[other][column] for other in range(row + 1, rows.stop)]
    left = [sheet.rows[other][column - 1] for other in range(row + 1, rows.stop)] if column else []
    return all(map(is_blank, below)) or all(map(is_blank, left))


def _score(sheet: ForeignSheet, rows: range) -> float:
    """Return how many columns the headings name; a role that is named again counts little."""
    score, seen = 0.0, set()
    for cells in _pieces(sheet, rows):
        heading = _join(cells) if cells else None
        roles = roles_of(heading) if heading else {}
        if not heading or not roles:
            continue
        score += _WITH_UNIT * (heading.unit is not None)
        role, share = max(roles.items(), key=lambda item: item[1])
        known = role in seen
        score += share * (0.3 if role == KEEP or known else 1.0)
        seen.add(role)
    of_trees = any(BY_NAME[role].quantity or role in _SPECIES for role in seen)
    return score if of_trees and len(seen - {KEEP}) >= 2 else 0.0


def _units_below(sheet: ForeignSheet, row: int) -> dict[int, TypedUnit]:
    """Return the units in a row below the headings; empty where it is no row of units."""
    if row >= len(sheet.rows):
        return {}
    filled = {
        column: text_of(cell).strip("()[] ")
        for column, cell in enumerate(sheet.rows[row])
        if not is_blank(cell)
    }
    units = {column: unit_of(text) for column, text in filled.items()}
    named = {column: unit for column, unit in units.items() if unit is not None}
    others = [filled[column] for column, unit in units.items() if unit is None]
    return named if named and all(text in ("-", "–", "#", "nr", "no") for text in others) else {}


def plot_in_tab_name(name: str) -> str:
    """Return the number of a plot that the name of a tab gives, "" where it gives none."""
    match = _IN_TAB_NAME.search(name)
    if match:
        return match[1]
    return name if re.fullmatch(r"[A-Za-z]?[0-9]{1,5}[A-Za-z]?", name.strip()) else ""


def plot_named(text: str) -> str:
    """Return the number of a plot where a text says just that, such as "Plot 7"; else ""."""
    match = _IN_TAB_NAME.fullmatch(text.strip())
    return match[1] if match and len(text) > len(match[1]) + 1 else ""


def plot_above(table: Table) -> tuple[str, tuple[int, int]] | None:
    """Return the number of a plot that is written above the table, and the cell with it."""
    for row in range(table.heading_rows.start):
        cells = list(_filled_cells(table.sheet.rows[row]))
        for at, (column, text) in enumerate(cells):
            match = _IN_TAB_NAME.fullmatch(text.strip())
            if match:
                return match[1], (row, column)
            if text.strip(" :.").casefold() in PLOT_WORDS[:-1] and at + 1 < len(cells):
                return cells[at + 1][1], (row, cells[at + 1][0])
    return None


def _filled_cells(row: Sequence[Value]) -> Iterator[tuple[int, str]]:
    for column, cell in enumerate(row):
        if not is_blank(cell):
            yield column, text_of(cell)
