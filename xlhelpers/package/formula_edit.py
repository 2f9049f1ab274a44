"""Formulas of a worksheet with the values that they give: stored results, and new formulas."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from xlhelpers.errors import WorkbookError
from xlhelpers.package.cell_edit import WriteResult
from xlhelpers.package.cell_set import CellSet, Place
from xlhelpers.package.cell_text import escape
from xlhelpers.package.cell_writes import PORTION, Refusal, Written, number_text, stored_form
from xlhelpers.package.container import Package
from xlhelpers.package.parts import SheetPart
from xlhelpers.package.references import area_name, column_letters, joined_area, parse_area
from xlhelpers.package.sheet_bytes import RowParts, SheetBytes, UnusualSheet
from xlhelpers.package.untouchable import Untouchable, marks_in_bytes
from xlhelpers.package.zip_entries import QUICK_FROM, Packed, Packer

NO_FORMULA = "holds no formula"
ARRAY = "belongs to an array formula"
NO_ROW = "lies in a row that does not exist"
UNUSUAL = "is written in a way that cannot be edited here"

_TYPE = re.compile(rb' (?:t|cm|vm)="[^"]*"')
_PLAIN_CELL = re.compile(
    rb'([A-Z]{1,3}[0-9]{1,7}"(?: s="[0-9]{1,6}")?)(?: t="[a-z]+")?>'
    rb'(<f(?: t="shared"| ref="[A-Z0-9:]*"| si="[0-9]*")*(?:/>|>[^<]*</f>))(?:<v>[^<]*</v>)?</c>'
)
_SHARED = re.compile(rb'<f [^<>]*?t="shared"[^<>]*?si="([0-9]+)"')


@dataclass(frozen=True)
class StoredValue:
    """The stored result of a formula that is in the cell already; the formula stays as it is."""

    row: int
    column: int
    value: Written


@dataclass(frozen=True)
class StoredColumn:
    """The stored results of formulas of one column that are there already; rows ascending."""

    column: int
    rows: NDArray[np.int64]
    values: NDArray[np.object_]


@dataclass(frozen=True)
class FormulaWrite:
    """A formula (without equals sign) with the value that it gives.

    A new cell takes the format of `style_like`. Where the cell `fill_from` holds a formula that
    several cells share, the new cell becomes one of these.
    """

    row: int
    column: int
    formula: str
    value: Written
    style_like: Place | None = None
    fill_from: Place | None = None


FormulaEdit = StoredValue | FormulaWrite
# What stands before and after the formula in a cell that gives a value.
Result = tuple[bytes, bytes]
# Column, an edit or the value of a stored result, and in the second case the result as stored.
RowEdit = tuple[int, FormulaEdit | Written, Result | None]


def edit_formulas(
    package: Package,
    sheet: SheetPart,
    edits: Sequence[FormulaEdit],
    *,
    columns: Sequence[StoredColumn] = (),
    overwrite_formulas: frozenset[Place] = frozenset(),
) -> WriteResult:
    """Store the results of formulas, and write new formulas with theirs.

    Parameters
    ----------
    package
        The opened workbook; the sheet's part is replaced only where a cell really changes.
    sheet
        The worksheet.
    edits
        In any order, one a cell. An empty text is stored as such, because a formula without a
        result counts as never calculated.
    columns
        Stored results by whole columns; no cell of them stands among the edits.
    overwrite_formulas
        Cells whose own formula may give way to another.

    Returns
    -------
    WriteResult
        The cells that changed and the cells that were refused, each with its reason.

    Raises
    ------
    WorkbookError
        The sheet is written in an unusual way.
    """
    data = package.read(sheet.part)
    source = SheetBytes.read(data, sound=package.is_sound(sheet.part))
    if source is None:
        raise WorkbookError(f"{sheet.name} {UNUSUAL}.")
    try:
        work = _Work(package, sheet, source, overwrite_formulas)
        new = work.write(edits, columns)
    except UnusualSheet as error:
        raise WorkbookError(f"{sheet.name} {UNUSUAL}.") from error
    if new is not None:
        sound = package.is_sound(sheet.part)
        package.replace(sheet.part, new)
        if sound:
            package.note_sound(sheet.part)
    refused = sorted(work.refusals, key=lambda item: (item.row, item.column))
    changed = dict(sorted(work.changed.items()))
    return WriteResult(CellSet(changed), tuple(refused))


def _by_row(
    edits: Sequence[FormulaEdit], columns: Sequence[StoredColumn]
) -> Iterator[tuple[int, list[RowEdit]]]:
    """The edits of each row by their columns, rows ascending; the last one for each cell."""
    single: dict[int, dict[int, FormulaEdit]] = defaultdict(dict)
    for edit in edits:
        single[edit.row][edit.column] = edit
    rows = np.unique(np.concatenate([np.array(list(single), dtype=np.int64),
                                     *(item.rows for item in columns)]))  # fmt: skip
    for start in range(0, len(rows), PORTION):
        here = rows[start : start + PORTION]
        waiting: dict[int, dict[int, RowEdit]] = {row: {} for row in here.tolist()}
        for item in columns:
            first, last = np.searchsorted(item.rows, (here[0], here[-1] + 1))
            values = item.values[first:last]
            rows_here = item.rows[first:last].tolist()
            cells = zip(rows_here, values.tolist(), _results(values), strict=True)
            for row, value, result in cells:
                waiting[row][item.column] = (item.column, value, result)
        for row, of_row in waiting.items():
            for column, edit in single.get(row, {}).items():
                if isinstance(edit, StoredValue):
                    of_row[column] = (column, edit.value, _result(edit.value))
                else:
                    of_row[column] = (column, edit, None)
            yield row, [of_row[column] for column in sorted(of_row)]


class _Work:
    """One sheet while its formulas are edited."""

    def __init__(
        self, package: Package, sheet: SheetPart, source: SheetBytes, overwrite: frozenset[Place]
    ) -> None:
        self.source = source
        self.package, self.sheet = package, sheet
        self._rules: Untouchable | None = None
        self.overwrite = overwrite
        self.refusals: list[Refusal] = []
        self.changed: dict[int, list[int]] = {}
        self.hints: dict[int, int] = {}
        self.groups: dict[Place, bytes | None] = {}
        self.grown: dict[bytes, list[Place]] = defaultdict(list)

    @property
    def rules(self) -> Untouchable:
        """What may not be written to; gathered only where a formula is to be written."""
        if self._rules is None:
            marks = tuple(marks_in_bytes(self.source, with_shared=bool(self.overwrite)))
            self._rules = Untouchable(
                self.package, self.sheet, self.source.frame, marks, self.overwrite
            )
        return self._rules

    def write(
        self, edits: Sequence[FormulaEdit], columns: Sequence[StoredColumn]
    ) -> bytes | Packed | None:
        data, position = self.source.data, 0
        out = Packer(quick=len(data) > QUICK_FROM)
        for row, of_row in _by_row(edits, columns):
            if not self.source.has(row):
                self.refusals += [Refusal(row, column, NO_ROW) for column, *_ in of_row]
                continue
            parts = self.source.parts_of(row)
            if self._row(parts, of_row):
                index = self.source.index(row)
                out.write(data[position : self.source.place_of(index)])
                out.write(parts.joined())
                position = self.source.place_of(index + 1)
        if not self.changed:
            return None
        out.write(data[position:])
        new = out.finish()
        if not self.grown:
            return new
        whole = new.unpacked()
        for group, places in self.grown.items():
            whole = _widened(whole, group, places)
        return whole

    def _row(self, parts: RowParts, edits: Sequence[RowEdit]) -> bool:
        changed = False
        for column, value, result in edits:
            index = self._index(parts, column)
            old = None if index < 0 else parts.cells[index]
            new = None if old is None or result is None else _with_new_result(old, result)
            if new is None:
                if not isinstance(value, StoredValue | FormulaWrite):
                    value = StoredValue(parts.row, column, value)
                new = self._cell(parts, old, value)
            if new is None or new == old:
                continue
            if index >= 0:
                parts.cells[index] = new
            else:
                columns = self.source.columns_of(parts)
                parts.cells.insert(sum(other < column for other in columns), new)
            self.changed.setdefault(column, []).append(parts.row)
            changed = True
        return changed

    def _index(self, parts: RowParts, column: int) -> int:
        """Where the cell of a column stands in a row: mostly where it stood in the one before."""
        name = f'{column_letters(column)}{parts.row}"'.encode()
        index = self.hints.get(column, len(parts.cells))
        if index < len(parts.cells) and parts.cells[index].startswith(name):
            return index
        columns = self.source.columns_of(parts)
        index = columns.index(column) if column in columns else -1
        if index >= 0:
            self.hints[column] = index
        return index

    def _cell(self, parts: RowParts, old: bytes | None, edit: FormulaEdit) -> bytes | None:
        """The cell with its formula and result; None where it is refused."""
        found = None if old is None else parts.cell(old)
        formula = None if found is None else found.formula
        place = (edit.row, edit.column)
        if isinstance(edit, StoredValue):
            if formula is None:
                self._refuse(place, NO_FORMULA)
                return None
            if b't="array"' in formula or b't="dataTable"' in formula:
                self._refuse(place, ARRAY)
                return None
        else:
            replaced = formula is not None and place not in self.overwrite
            reason = self.rules.reason(*place, has_formula=replaced, has_picture=False)
            if reason is not None:
                self._refuse(place, reason)
                return None
            formula = self._formula(edit)
        name = f'{column_letters(edit.column)}{edit.row}"'.encode()
        attributes = self._look(edit) if found is None else _TYPE.sub(b"", found.attribute_text)
        space = b"" if found is None else found.space
        assert formula is not None
        before, after = _result(edit.value)
        return name + attributes + before + formula + after + space

    def _refuse(self, place: Place, reason: str) -> None:
        self.refusals.append(Refusal(*place, reason))

    def _formula(self, edit: FormulaWrite) -> bytes:
        group = None if edit.fill_from is None else self._group(edit.fill_from)
        if group is None:
            text = escape(edit.formula).replace("&", "&amp;").replace("<", "&lt;")
            return b"<f>" + text.replace(">", "&gt;").encode() + b"</f>"
        self.grown[group].append((edit.row, edit.column))
        return b'<f t="shared" si="%b"/>' % group

    def _group(self, place: Place) -> bytes | None:
        """Number of the shared formula that a cell holds."""
        if place not in self.groups:
            self.groups[place] = None
            if self.source.has(place[0]):
                parts = self.source.parts_of(place[0])
                for piece in parts.cells:
                    if self.source.column_of(piece, place[0]) == place[1]:
                        found = _SHARED.search(piece)
                        self.groups[place] = None if found is None else found[1]
        return self.groups[place]

    def _look(self, edit: FormulaEdit) -> bytes:
        like = edit.style_like if isinstance(edit, FormulaWrite) else None
        style = None if like is None else self.source.style(*like)
        return b"" if style in (None, "0") else f' s="{style}"'.encode()


def _with_new_result(cell: bytes, result: Result) -> bytes | None:
    """A plain formula cell with another result; None where it takes a closer look."""
    found = _PLAIN_CELL.fullmatch(cell)
    return None if found is None else found[1] + result[0] + found[2] + result[1]


def _results(values: NDArray[np.object_]) -> list[Result]:
    """For each value what stands before and after the formula in a cell that gives it."""
    items = values.tolist()
    if set(map(type, items)) == {float} and np.isfinite(values.astype(float)).all():
        return [(b">", b"<v>%b</v></c>" % number_text(item).encode()) for item in items]
    known: dict[object, Result] = {}
    found = []
    for item in items:
        key = (type(item), item)
        if key not in known:
            known[key] = _result(item)
        found.append(known[key])
    return found


def _result(value: Written) -> Result:
    stored = stored_form(value)
    if stored is None or isinstance(stored, str):
        text = escape(stored or "").replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
        return b' t="str">', b"<v>" + text.encode() + b"</v></c>"
    if isinstance(stored, bool):
        return b' t="b">', b"<v>%d</v></c>" % stored
    return b">", b"<v>" + number_text(stored).encode() + b"</v></c>"


def _widened(data: bytes, group: bytes, places: list[Place]) -> bytes:
    """The sheet with the area of a shared formula grown to take in more cells."""
    master = re.compile(rb'(<f [^<>]*?ref=")([^"<>]*)("[^<>]*?si="' + group + rb'"[^<>]*>)')

    def grow(found: re.Match[bytes]) -> bytes:
        area = parse_area(found[2].decode())
        for row, column in places:
            area = joined_area(area, (row, column, row, column))
        return found[1] + area_name(area).encode() + found[3]

    return master.sub(grow, data, count=1)
