"""Whole columns of values and of formula results put into a plainly written sheet by offsets.

Where each cell begins and ends is found by array operations over some rows at a time; what is new
is put between what stays. A row in which anything takes a closer look goes to the row stream.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from xlhelpers.package.cell_places import CellPlaces
from xlhelpers.package.cell_writes import ColumnWrites, Piece, Stored, Written, tails_of
from xlhelpers.package.edit_state import EditState
from xlhelpers.package.formula_edit import FormulaRows, Result, RowEdit, results_of
from xlhelpers.package.references import Area
from xlhelpers.package.row_stream import RowStream
from xlhelpers.package.sheet_bytes import SheetBytes, whole_rows
from xlhelpers.package.tag_scan import Flags, Numbers
from xlhelpers.package.zip_entries import PORTION, QUICK_FROM, Packed, Packer


class RowSplicer:
    """One worksheet while whole columns are written into it."""

    def __init__(
        self, sheet: SheetBytes, state: EditState, values: ColumnWrites, also: FormulaRows
    ) -> None:
        """`state` keeps the values that changed, `also` the results; both begin empty."""
        self._sheet, self._state, self._also = sheet, state, also
        self._like = values.style_like_row
        likes = () if self._like is None else ((self._like, c) for c in values.columns)
        self._stream = RowStream(sheet, state, frozenset(likes), also)
        rows = np.asarray(values.rows, dtype=np.int64)
        order = np.argsort(rows, kind="stable")
        self._rows = rows[order]
        self._values = {
            column: np.asarray(values.columns[column], dtype=object)[order]
            for column in sorted(values.columns)
        }
        self._single = also.single()
        self._any_slow = False

    def fits(self) -> bool:
        """Whether every row that is written to exists."""
        stored = [item.rows for item in self._also.wanted.columns]
        wanted = np.concatenate([self._rows, *stored, np.array([*self._single], dtype=np.int64)])
        return bool(np.isin(wanted, np.array(self._sheet.numbers, dtype=np.int64)).all())

    def write(self, box: Area) -> bytes | Packed | None:
        """The sheet with everything written, deflated; None where nothing changes.

        Raises
        ------
        UnusualSheet
            A row to be written is spelt in a way that only the tree understands.
        """
        sheet, first, position = self._sheet, 0, self._sheet.start
        out = Packer(quick=len(sheet.data) > QUICK_FROM)
        out.write(self._stream.widened_head(box))
        for rows in whole_rows(sheet.data, sheet.start, sheet.end):
            last = bisect_left(sheet.starts, position + len(rows))
            out.write(self._edited(rows, position, slice(first, last)))
            position, first = position + len(rows), last
        changed = (self._state.rows_of, self._also.changed)
        if not any(changed):
            return None
        for found in [of for cells in changed for of in cells.values()] if self._any_slow else ():
            found.sort()
        for start in range(sheet.end, len(sheet.data), PORTION):
            out.write(sheet.data[start : start + PORTION])
        return self._also.finish(out.finish())

    def _edited(self, data: bytes, offset: int, here: slice) -> bytes:
        """Some rows, those of the sheet's rows `here`, with everything written."""
        numbers = self._sheet.numbers[here]
        if not len(numbers):
            return data
        work = _Splices(data, is_open=self._state.open_ground)
        bounds = (numbers[0], numbers[-1] + 1)
        among = slice(*np.searchsorted(self._rows, bounds))
        for column, values in self._values.items():
            work.take_values(column, self._rows[among], values[among])
        for item in self._also.wanted.columns:
            among = slice(*np.searchsorted(item.rows, bounds))
            work.take_results(item.column, item.rows[among], item.values[among])
        work.slow.update(row for row in self._single if bounds[0] <= row < bounds[1])
        work.note(self._state.rows_of, self._also.changed)
        for row in sorted(work.slow):
            self._look_closely(work, row, offset)
        return work.done()

    def _look_closely(self, work: _Splices, row: int, offset: int) -> None:
        self._any_slow, sheet = True, self._sheet
        edits = {edit[0]: edit for edit in work.edits_of(row)} | self._single.get(row, {})
        pieces = work.pieces_of(row, self._like)
        new = self._stream.rewritten(row, pieces, [edits[column] for column in sorted(edits)])
        if new is not None:
            at = sheet.index(row)
            start, end = sheet.place_of(at) - offset, sheet.place_of(at + 1) - offset
            work.put_row(row, start, end, new)


@dataclass(frozen=True)
class _Cuts:
    """What is taken out of some rows, from where to where, and what is put there."""

    rows: Numbers
    starts: Numbers
    ends: Numbers
    texts: list[bytes]


class _Splices:
    """Some rows while columns are written into them; `slow` are those that take a closer look."""

    def __init__(self, data: bytes, *, is_open: bool) -> None:
        self._data = data
        self._is_open = is_open
        self._places = CellPlaces.of(data)
        self._values: dict[int, tuple[Numbers, list[Stored], list[bytes]]] = {}
        self._results: dict[int, tuple[Numbers, list[Written], list[Result]]] = {}
        self._cuts: list[_Cuts] = []
        self._whole: list[_Cuts] = []
        self._written: list[tuple[bool, int, Numbers]] = []
        self.slow: set[int] = set()

    def take_values(self, column: int, rows: Numbers, values: NDArray[np.object_]) -> None:
        """Write values into blank cells."""
        stored, tails = tails_of(values.tolist())
        self._values[column] = (rows, stored, tails)
        places = self._places
        if places is None:
            self.slow.update(rows.tolist())
            return
        wanted = np.fromiter((value is not None for value in stored), bool, len(stored))
        at, exists = places.find(rows, column)
        blank = exists & places.blank[at]
        new = blank & wanted if self._is_open else np.zeros(len(rows), dtype=bool)
        closely = wanted & ~exists | blank & wanted & ~new
        closely |= self._differs(places.heads[at], places.ends[at], tails, exists & ~blank)
        self.slow.update(rows[closely].tolist())
        self._cut(rows, places.heads[at], places.ends[at], tails, new)
        self._written.append((False, column, rows[new]))

    def take_results(self, column: int, rows: Numbers, values: NDArray[np.object_]) -> None:
        """Store results of formulas that are there."""
        results = results_of(values)
        self._results[column] = (rows, values.tolist(), results)
        places = self._places
        if places is None:
            self.slow.update(rows.tolist())
            return
        at, exists = places.find(rows, column)
        formula_ends, plain = places.formulas(at)
        plain &= exists
        self.slow.update(rows[~plain].tolist())
        changed = np.zeros(len(rows), dtype=bool)
        spans = ((places.heads[at], places.opened[at]), (formula_ends, places.ends[at]))
        for texts, (starts, ends) in zip(zip(*results, strict=True), spans, strict=False):
            differs = self._differs(starts, ends, texts, plain)
            self._cut(rows, starts, ends, texts, differs)
            changed |= differs
        self._written.append((True, column, rows[changed]))

    def _differs(
        self, starts: Numbers, ends: Numbers, texts: Sequence[bytes], where: Flags
    ) -> Flags:
        """Where another text stands."""
        data, at = self._data, np.flatnonzero(where)
        spans = zip(starts[at].tolist(), ends[at].tolist(), at.tolist(), strict=True)
        found = np.zeros(len(where), dtype=bool)
        found[[k for start, end, k in spans if data[start:end] != texts[k]]] = True
        return found

    def _cut(
        self, rows: Numbers, starts: Numbers, ends: Numbers, texts: Sequence[bytes], where: Flags
    ) -> None:
        if where.all():
            self._cuts.append(_Cuts(rows, starts, ends, list(texts)))
        elif where.any():
            chosen = [texts[k] for k in np.flatnonzero(where).tolist()]
            self._cuts.append(_Cuts(rows[where], starts[where], ends[where], chosen))

    def note(self, values: dict[int, list[int]], results: dict[int, list[int]]) -> None:
        """Note the cells that changed in the rows that take no closer look."""
        slow = np.array(sorted(self.slow), dtype=np.int64)
        for is_result, column, rows in self._written:
            quick = rows[~np.isin(rows, slow)].tolist() if len(slow) else rows.tolist()
            if quick:
                (results if is_result else values).setdefault(column, []).extend(quick)

    def pieces_of(self, row: int, like: int | None) -> list[Piece]:
        """The values of one row, as the row stream takes them."""
        found: list[Piece] = []
        for column, (rows, stored, tails) in self._values.items():
            at = int(np.searchsorted(rows, row))
            if at < len(rows) and rows[at] == row:
                place = (row if like is None else like, column)
                found.append((column, stored[at], tails[at], place))
        return found

    def edits_of(self, row: int) -> list[RowEdit]:
        """The results of one row, as the editor of formulas takes them."""
        found: list[RowEdit] = []
        for column, (rows, values, results) in self._results.items():
            at = int(np.searchsorted(rows, row))
            if at < len(rows) and rows[at] == row:
                found.append((column, values[at], results[at]))
        return found

    def put_row(self, row: int, start: int, end: int, text: bytes) -> None:
        """Put a whole row into the place of an old one."""
        place = [np.array([number], dtype=np.int64) for number in (row, start, end)]
        self._whole.append(_Cuts(place[0], place[1], place[2], [text]))

    def done(self) -> bytes:
        """The rows with everything written."""
        cuts = [*self._cuts, *self._whole]
        if not cuts:
            return self._data
        rows, starts, ends = (
            np.concatenate([getattr(cut, name) for cut in cuts])
            for name in ("rows", "starts", "ends")
        )
        texts = [text for cut in cuts for text in cut.texts]
        order = np.argsort(starts, kind="stable")
        if self.slow:
            of_whole = len(rows) - len(self._whole)
            order = order[(order >= of_whole) | ~np.isin(rows[order], list(self.slow))]
        data = self._data
        kept = zip([0, *ends[order].tolist()], [*starts[order].tolist(), len(data)], strict=True)
        pieces = [b""] * (2 * len(order) + 1)
        pieces[::2] = [data[start:end] for start, end in kept]
        pieces[1::2] = [texts[at] for at in order.tolist()]
        return b"".join(pieces)
