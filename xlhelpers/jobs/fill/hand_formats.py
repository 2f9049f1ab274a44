"""Formats of cells that the office set by hand on our tabs, and where they go on the new tabs.

A cell is the same one where its row is the same row and its column has the same heading. Whether
anything was set is known from the digests that the last fill left for each aspect of a look.
"""

from collections import Counter, defaultdict
from collections.abc import Collection

import numpy as np
from numpy.typing import NDArray

from xlhelpers.package.formulas.follow import Move
from xlhelpers.package.graft.looks import CellFormats, Look
from xlhelpers.package.parts.cell_looks import ASPECTS, CellLook, cell_looks
from xlhelpers.package.sheet.grid import Grid
from xlhelpers.package.zip.container import Package
from xlhelpers.pages.our_tabs import mark_formats
from xlhelpers.wording import plural

SetFormat = tuple[int, frozenset[str]]
_PLAIN: CellLook = ("",) * len(ASPECTS)
# programs give a number format to a formula that has none, by what it results in
_CODE = ASPECTS.index("code")


def aspects_set(sealed: str, now: str) -> frozenset[str]:
    """Return the aspects that somebody changed, from the digests of two states of a tab."""
    pairs = [*zip(ASPECTS, sealed.split("-"), now.split("-"), strict=False)]
    # a workbook of an earlier version has no such digests
    whole = len(pairs) == len(ASPECTS) and sealed.count("-") == now.count("-")
    return frozenset(aspect for aspect, one, other in pairs if whole and one != other)


class FormatComparison:
    """The cells of an old tab beside those of the new one."""

    def __init__(
        self, package: Package, old: Grid, rendered: Package, new: Grid, aspects: frozenset[str]
    ) -> None:
        """Compare these aspects of the looks of two tabs."""
        self.old, self.new = old, new
        self._looks = cell_looks(package), cell_looks(rendered)
        self._aspects = aspects
        self._of_column: dict[tuple[int, frozenset[str]], set[CellLook]] = {}
        self._known: dict[tuple[int, int], frozenset[str]] = {}

    def _look(self, of: int, number: int) -> CellLook:
        looks = self._looks[of]
        return looks[number] if 0 <= number < len(looks) else _PLAIN

    def difference(self, old: int, new: int, *, is_formula: bool = False) -> frozenset[str]:
        """Return the aspects in which an old format is not as the new one."""
        if old == new == 0:
            return frozenset()
        if is_formula and not self._look(1, new)[_CODE]:
            return self.difference(old, new) - {"code"}
        if (old, new) not in self._known:
            looks = zip(ASPECTS, self._look(0, old), self._look(1, new), strict=True)
            differ = {aspect for aspect, one, other in looks if one != other}
            self._known[old, new] = self._aspects & differ
        return self._known[old, new]

    def is_foreign(self, old: int, column: int, *, is_formula: bool = False) -> bool:
        """Whether no cell of a column of the new tab looks like this, in the aspects compared."""
        aspects = self._aspects - {"code"} if is_formula else self._aspects
        if (column, aspects) not in self._of_column:
            used = np.unique(self.new.styles[:, column - 1]).tolist()
            looks = {_part(self._look(1, number), aspects) for number in used}
            self._of_column[column, aspects] = looks
        look = _part(self._look(0, old), aspects)
        return old > 0 and look not in self._of_column[column, aspects]


def _part(look: CellLook, aspects: Collection[str]) -> CellLook:
    return tuple(word for aspect, word in zip(ASPECTS, look, strict=True) if aspect in aspects)


def carry_formats(
    comparison: FormatComparison,
    move: Move,
    rows: dict[int, int],
    same: Collection[int],
) -> tuple[CellFormats, int]:
    """Return the formats that go over by their new cells, and how many cells lose theirs.

    Parameters
    ----------
    comparison : FormatComparison
        Both tabs.
    move : Move
        Where the columns are now.
    rows : dict of int to int
        The new row of each old row.
    same : collection of int
        The old rows with the same content; others only have the same key.
    """
    old, new = comparison.old, comparison.new
    cell_formats: dict[tuple[int, int], SetFormat] = {}
    # by new column and by the program's own format of a cell
    seen: dict[tuple[int, int], Counter[SetFormat]] = defaultdict(Counter)
    lost: Counter[tuple[int, int]] = Counter()
    for row_at, column_at in zip(*np.nonzero(old.styles >= 0), strict=True):
        row, column, style = int(row_at) + 1, int(column_at) + 1, int(old.styles[row_at, column_at])
        place = rows.get(row, 0), move.columns.get(column, 0)
        base, is_formula = _style(new, *place), (row, column) in old.formulas
        if base < 0:
            filled = old.value(row, column) is not None
            # a column that is gone is compared with the first one
            if filled and comparison.is_foreign(style, place[1] or 1, is_formula=is_formula):
                lost[place[1], style] += 1
            continue
        aspects = comparison.difference(style, base, is_formula=is_formula)
        if row not in same and not comparison.is_foreign(style, place[1]):
            # the program may have given another look to a row that changed
            aspects = frozenset()
        if aspects:
            cell_formats[place] = style, aspects
        seen[place[1], base][style, aspects] += 1
    for (column, base), formats in seen.items():
        (style, aspects), count = formats.most_common(1)[0]
        if len(formats) == 1 and count > 1 and aspects:
            # what a whole column has goes to its new rows too
            lost.pop((column, style), 0)
            for row in (np.flatnonzero(new.styles[:, column - 1] == base) + 1).tolist():
                cell_formats.setdefault((row, column), (style, aspects))
    return cell_formats, sum(lost.values())


def _style(grid: Grid, row: int, column: int) -> int:
    inside = 1 <= row <= grid.shape[0] and 1 <= column <= grid.shape[1]
    return int(grid.styles[row - 1, column - 1]) if inside else -1


def marks_go_over(package: Package, grid: Grid, look: Look) -> bool:
    """Whether every cell that somebody marked with a colour has its mark on the new tab."""
    marked: NDArray[np.bool_] = np.isin(grid.styles, mark_formats(package))
    for row, column in zip(*np.nonzero(marked), strict=True):
        place = look.rows.get(int(row) + 1, 0), look.move.columns.get(int(column) + 1, 0)
        style, aspects = look.formats.get(place, (-1, frozenset()))
        if style != int(grid.styles[row, column]) or "ground" not in aspects:
            return False
    return True


def say_formats_left(tab: str, count: int) -> str:
    """Return the note about formats that could not go over to the new tab."""
    one = count == 1
    return (
        f"Formats set by hand on {plural(count, 'cell')} of “{tab}” (bold, decimal places and the "
        f"like) could not be kept: {'its row or column is' if one else 'their rows or columns are'}"
        " no longer there. The backup has them"
    )
