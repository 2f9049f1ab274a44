"""Where the cells of some plainly written rows begin and end, as offsets into their bytes."""

from __future__ import annotations

import numpy as np

from xlhelpers.package import tag_scan
from xlhelpers.package.references import MAX_COLUMN
from xlhelpers.package.tag_scan import Cells, Flags, Numbers, Tags

_SHARED = b' t="shared"'
_BLANK = len(b"/>")


class CellPlaces:
    """Cells of some whole rows; use `of`.

    For each cell `heads` is the offset just after its name and format, `opened` that after its
    opening tag, and `ends` that after all of it; `blank` says that nothing follows its head.
    """

    def __init__(self, data: bytes, tags: Tags, cells: Cells) -> None:
        """Take rows whose tags and cells were found."""
        self._bytes = np.frombuffer(data, dtype=np.uint8)
        self._tags, self._cells = tags, cells
        is_empty = tags.kinds[cells.tags] == tag_scan.CELL_EMPTY
        self.heads = cells.heads
        self.opened = tags.ends[cells.tags] + 1
        self.ends = self.opened.copy()
        self.ends[~is_empty] = tags.ends[tags.kinds == tag_scan.CELL_END] + 1
        self.blank = is_empty & (self.opened - self.heads == _BLANK)
        self._keys = cells.rows * (MAX_COLUMN + 1) + cells.columns

    @classmethod
    def of(cls, data: bytes) -> CellPlaces | None:
        """Look through some rows; None where anything but plain cells, in order, stands in them."""
        tags = tag_scan.find_tags(data)
        cells = None if tags is None else tag_scan.read_names(data, tags)
        if tags is None or cells is None or not len(cells.rows):
            return None
        found = cls(data, tags, cells)
        return found if (np.diff(found._keys) > 0).all() else None

    def find(self, rows: Numbers, column: int) -> tuple[Numbers, Flags]:
        """Places of the cells of a column among all cells, and whether each is there."""
        keys = rows * (MAX_COLUMN + 1) + column
        at = np.minimum(np.searchsorted(self._keys, keys), len(self._keys) - 1)
        return at, self._keys[at] == keys

    def formulas(self, at: Numbers) -> tuple[Numbers, Flags]:
        """Where the formulas of some cells end, and whether each cell holds a plain or shared one.

        Formulas of arrays and of data tables count as neither.
        """
        tags, data = self._tags, self._bytes
        first = np.minimum(self._cells.tags[at] + 1, len(tags.kinds) - 2)
        closed = tags.kinds[first] == tag_scan.FORMULA_EMPTY
        is_one = closed | (tags.kinds[first] == tag_scan.FORMULA)
        place = np.minimum(tags.begins[first] + len(b"<f"), len(data) - len(_SHARED))
        shared = np.ones(len(at), dtype=bool)
        for k, letter in enumerate(_SHARED):
            shared &= data[place + k] == letter
        ends = tags.ends[np.where(closed, first, first + 1)] + 1
        return ends, is_one & (shared | (data[place] == ord(">")))
