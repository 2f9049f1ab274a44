"""Formulas of a worksheet with the values that they give: stored results, and new formulas.

The rows are rewritten as they go by; where a sheet is written in an unusual way, its whole tree
is edited instead. Both give the same.
"""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from xlhelpers.package.formulas.formula_edits import (
    ARRAY,
    NO_FORMULA,
    NO_ROW,
    FormulaEdit,
    FormulaEdits,
    FormulaWrite,
    StoredColumn,
    StoredValue,
    edit_in_tree,
    every_edit,
)
from xlhelpers.package.parts.parts import SheetPart
from xlhelpers.package.sheet.cell_edit import WriteResult, edit_cells, edit_rows
from xlhelpers.package.sheet.cell_set import CellSet, Place
from xlhelpers.package.sheet.cell_text import escape
from xlhelpers.package.sheet.cell_writes import (
    PORTION,
    Refusal,
    Writes,
    Written,
    number_text,
    spell_numbers,
    stored_form,
)
from xlhelpers.package.sheet.references import area_name, column_letters, joined_area, parse_area
from xlhelpers.package.sheet.row_stream import with_spans
from xlhelpers.package.sheet.sheet_bytes import RowParts, SheetBytes, UnusualSheet
from xlhelpers.package.sheet.untouchable import Untouchable, marks_in_bytes
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.zip_entries import QUICK_FROM, Packed, Packer

_TYPE = re.compile(rb' (?:t|cm|vm)="[^"]*"')
_PLAIN_REST = re.compile(
    rb'((?: s="[0-9]{1,6}")?)(?: t="[a-z]+")?>'
    rb'(<f(?: t="shared"| ref="[A-Z0-9:]*"| si="[0-9]*")*(?:/>|>[^<]*</f>))(?:<v>[^<]*</v>)?</c>'
)
_SHARED = re.compile(rb'<f [^<>]*?t="shared"[^<>]*?si="([0-9]+)"')
_MASTER = re.compile(rb'<f [^<>]*?ref="[^<>]*[^/<>]>')
MOST_SHAPES = 10_000
# The format of a plain formula cell, and its formula.
Shape = tuple[bytes, bytes]
# What stands before and after the formula in a cell that gives a value.
Result = tuple[bytes, bytes]
# Column, an edit or the value of a stored result, and in the second case the result as stored.
RowEdit = tuple[int, FormulaEdit | Written, Result | None]


def edit_formulas(package: Package, sheet: SheetPart, wanted: FormulaEdits) -> WriteResult:
    """Store the results of formulas, and write new formulas with theirs.

    Parameters
    ----------
    package
        The opened workbook; the sheet's part is replaced only where a cell really changes.
    sheet
        The worksheet.
    wanted
        The edits in any order, one a cell. An empty text is stored as such, because a formula
        without a result counts as never calculated.

    Returns
    -------
    WriteResult
        The cells that changed and the cells that were refused, each with its reason.
    """
    data = package.read(sheet.part)
    source = SheetBytes.read(data, sound=package.is_sound(sheet.part))
    try:
        if source is None:
            raise UnusualSheet
        work = FormulaRows(package, sheet, source, wanted)
        new = work.write()
    except UnusualSheet:
        return edit_in_tree(package, sheet, every_edit(wanted), wanted.overwritten)
    if new is not None:
        sound = package.is_sound(sheet.part)
        package.replace(sheet.part, new)
        if sound:
            package.note_sound(sheet.part)
    return work.result()


class FormulaRows:
    """One sheet while its formulas are edited, row by row."""

    def __init__(
        self, package: Package, sheet: SheetPart, source: SheetBytes, wanted: FormulaEdits
    ) -> None:
        """Start without a change."""
        self.source = source
        self.package, self.sheet = package, sheet
        self.wanted = wanted
        self._rules: Untouchable | None = None
        self.refusals: list[Refusal] = []
        self.changed: dict[int, list[int]] = defaultdict(list)
        self.hints: dict[int, int] = {}
        self.letters: dict[int, bytes] = {}
        self.shapes: dict[bytes, Shape | None] = {}
        self.groups: dict[Place, bytes | None] = {}
        self.grown: dict[bytes, list[Place]] = defaultdict(list)

    @property
    def rules(self) -> Untouchable:
        """What may not be written to; gathered only where a formula is to be written."""
        if self._rules is None:
            over = self.wanted.overwritten
            marks = tuple(marks_in_bytes(self.source, with_shared=bool(over)))
            self._rules = Untouchable(self.package, self.sheet, self.source.frame, marks, over)
        return self._rules

    def by_row(self) -> Iterator[tuple[int, list[RowEdit]]]:
        """The edits of each row by their columns, rows ascending; the last one for each cell."""
        single: dict[int, dict[int, RowEdit]] = defaultdict(dict)
        for edit in self.wanted.edits:
            is_stored = isinstance(edit, StoredValue)
            single[edit.row][edit.column] = (
                (edit.column, edit.value, _result(edit.value))
                if is_stored
                else (edit.column, edit, None)
            )
        columns = sorted(self.wanted.columns, key=lambda item: item.column)
        listed = [np.array(list(single), dtype=np.int64), *(item.rows for item in columns)]
        rows = np.unique(np.concatenate(listed))
        for start in range(0, len(rows), PORTION):
            here = rows[start : start + PORTION]
            cells = [_of_rows(item, here) for item in columns]
            for row, *of_row in zip(here.tolist(), *cells, strict=True):
                edits = [edit for edit in of_row if edit is not None]
                if row in single:
                    by_column = {edit[0]: edit for edit in edits} | single[row]
                    edits = [by_column[column] for column in sorted(by_column)]
                yield row, edits

    def write(self) -> bytes | Packed | None:
        """The sheet with all edits, None where nothing changes."""
        data, position = self.source.data, 0
        out = Packer(quick=len(data) > QUICK_FROM)
        for row, of_row in self.by_row():
            if not self.source.has(row):
                self.no_row(row, of_row)
                continue
            parts = self.source.parts_of(row)
            if self.edit_row(parts, of_row):
                index = self.source.index(row)
                out.write(data[position : self.source.place_of(index)])
                out.write(parts.to_bytes())
                position = self.source.place_of(index + 1)
        if not self.changed:
            return None
        out.write(data[position:])
        return self.finish(out.finish())

    def no_row(self, row: int, edits: Sequence[RowEdit]) -> None:
        """Refuse the edits of a row that does not exist."""
        self.refusals += [Refusal(row, column, NO_ROW) for column, *_ in edits]

    def finish(self, new: Packed) -> bytes | Packed:
        """The written sheet with the areas of its shared formulas grown where cells joined them."""
        if not self.grown:
            return new
        whole = new.unpack()
        for group, places in self.grown.items():
            whole = _widen_shared_area(whole, group, places)
        return whole

    def result(self) -> WriteResult:
        """The cells that changed and those that were refused."""
        refused = sorted(self.refusals, key=lambda item: (item.row, item.column))
        return WriteResult(CellSet(dict(sorted(self.changed.items()))), tuple(refused))

    def edit_row(self, parts: RowParts, edits: Sequence[RowEdit]) -> bool:
        """Edit the cells of one row; whether any changed."""
        changed, digits, row = False, b'%d"' % parts.row, parts.row
        cells, hints, letters = parts.cells, self.hints, self.letters
        for column, value, result in edits:
            name = letters.get(column)
            if name is None:
                name = letters[column] = column_letters(column).encode()
            name += digits
            index = hints.get(column, len(cells))
            if index >= len(cells) or not cells[index].startswith(name):
                index = self._index(parts, column)
            old = None if index < 0 else cells[index]
            new = None
            if old is not None and result is not None:
                shape = self._shape(old[len(name) :])
                if shape is not None:
                    new = name + shape[0] + result[0] + shape[1] + result[1]
            if new is None:
                if not isinstance(value, StoredValue | FormulaWrite):
                    value = StoredValue(row, column, value)
                new = self._cell(parts, old, value)
            if new is None or new == old:
                continue
            if index >= 0:
                cells[index] = new
            else:
                columns = self.source.columns_of(parts)
                cells.insert(sum(other < column for other in columns), new)
                parts.attributes = with_spans(parts.attributes, column, column)
            self.changed[column].append(row)
            changed = True
        return changed

    def _shape(self, rest: bytes) -> Shape | None:
        """What stands around the results in a plain formula cell, given what follows its name."""
        # most formulas of a filled column are spell_numbers alike
        if rest not in self.shapes:
            if len(self.shapes) > MOST_SHAPES:
                self.shapes.clear()
            match = _PLAIN_REST.fullmatch(rest)
            self.shapes[rest] = None if match is None else (match[1], match[2])
        return self.shapes[rest]

    def _index(self, parts: RowParts, column: int) -> int:
        """Where the cell of a column stands in a row, -1 for nowhere."""
        columns = self.source.columns_of(parts)
        index = columns.index(column) if column in columns else -1
        if index >= 0:
            self.hints[column] = index
        return index

    def _cell(self, parts: RowParts, old: bytes | None, edit: FormulaEdit) -> bytes | None:
        """The cell with its formula and result; None where it is refused."""
        old_cell = None if old is None else parts.cell(old)
        formula = None if old_cell is None else old_cell.formula
        place = (edit.row, edit.column)
        if isinstance(edit, StoredValue):
            if formula is None:
                self._refuse(place, NO_FORMULA)
                return None
            if b't="array"' in formula or b't="dataTable"' in formula:
                self._refuse(place, ARRAY)
                return None
        else:
            replaced = formula is not None and place not in self.wanted.overwritten
            reason = self.rules.reason(*place, has_formula=replaced, has_picture=False)
            if reason is not None:
                self._refuse(place, reason)
                return None
            formula = self._formula(edit, formula)
        name = f'{column_letters(edit.column)}{edit.row}"'.encode()
        attributes = (
            self._look(edit) if old_cell is None else _TYPE.sub(b"", old_cell.attribute_text)
        )
        space = b"" if old_cell is None else old_cell.space
        assert formula is not None
        before, after = _result(edit.value)
        return name + attributes + before + formula + after + space

    def _refuse(self, place: Place, reason: str) -> None:
        self.refusals.append(Refusal(*place, reason))

    def _formula(self, edit: FormulaWrite, before: bytes | None) -> bytes:
        """Return the formula of a cell, given the one that it replaces."""
        place = (edit.row, edit.column)
        group = None if edit.fill_from is None else self._group(edit.fill_from)
        head = b"<f>"
        if group is not None and place == edit.fill_from:
            # the cell that others are filled from: a shared formula keeps its head, or ends here
            master = None if before is None else _MASTER.match(before)
            self.groups[place] = None if master is None else group
            head, group = head if master is None else master[0], None
        if group is None:
            text = escape(edit.formula).replace("&", "&amp;").replace("<", "&lt;")
            return head + text.replace(">", "&gt;").encode() + b"</f>"
        self.grown[group].append(place)
        return b'<f t="shared" si="%b"/>' % group

    def _group(self, place: Place) -> bytes | None:
        """Number of the shared formula that a cell holds."""
        if place not in self.groups:
            self.groups[place] = None
            if self.source.has(place[0]):
                parts = self.source.parts_of(place[0])
                for piece in parts.cells:
                    if self.source.column_of(piece, place[0]) == place[1]:
                        match = _SHARED.search(piece)
                        self.groups[place] = None if match is None else match[1]
        return self.groups[place]

    def _look(self, edit: FormulaEdit) -> bytes:
        like = edit.style_like if isinstance(edit, FormulaWrite) else None
        style = None if like is None else self.source.style(*like)
        return b"" if style in (None, "0") else f' s="{style}"'.encode()


def _of_rows(item: StoredColumn, rows: NDArray[np.int64]) -> list[RowEdit | None]:
    """The results of a column for some rows, None where it has none."""
    first, last = np.searchsorted(item.rows, (rows[0], rows[-1] + 1))
    values = item.values[first:last]
    results = zip(values.tolist(), _results(values), strict=True)
    edits: list[RowEdit | None] = [(item.column, value, result) for value, result in results]
    if len(edits) == len(rows):
        return edits
    spread: list[RowEdit | None] = [None] * len(rows)
    for at, edit in zip(np.searchsorted(rows, item.rows[first:last]).tolist(), edits, strict=True):
        spread[at] = edit
    return spread


def _results(values: NDArray[np.object_]) -> list[Result]:
    """For each value what stands before and after the formula in a cell that gives it."""
    items = values.tolist()
    finite = [v for v in items if type(v) is float and v - v == 0]
    numbers = iter(spell_numbers(finite, "<v>", "</v></c>"))
    known: dict[object, Result] = {}
    spellings = []
    for item in items:
        if type(item) is float and item - item == 0:
            spellings.append((b">", next(numbers)))
            continue
        key = (type(item), item)
        if key not in known:
            known[key] = _result(item)
        spellings.append(known[key])
    return spellings


def _result(value: Written) -> Result:
    stored = stored_form(value)
    if stored is None or isinstance(stored, str):
        text = escape(stored or "").replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
        return b' t="str">', b"<v>" + text.encode() + b"</v></c>"
    if isinstance(stored, bool):
        return b' t="b">', b"<v>%d</v></c>" % stored
    return b">", b"<v>" + number_text(stored).encode() + b"</v></c>"


def _widen_shared_area(data: bytes, group: bytes, places: list[Place]) -> bytes:
    """The sheet with the area of a shared formula grown to take in more cells."""
    master = re.compile(rb'(<f [^<>]*?ref=")([^"<>]*)("[^<>]*?si="' + group + rb'"[^<>]*>)')

    def grow(tag: re.Match[bytes]) -> bytes:
        area = parse_area(tag[2].decode())
        for row, column in places:
            area = joined_area(area, (row, column, row, column))
        return tag[1] + area_name(area).encode() + tag[3]

    return master.sub(grow, data, count=1)


def edit_sheet(
    package: Package, sheet: SheetPart, writes: Writes, formulas: FormulaEdits
) -> tuple[WriteResult, WriteResult]:
    """Write values and edit formulas; as `edit_cells` and then `edit_formulas`, in half the time.

    Parameters
    ----------
    package
        The opened workbook; the sheet's part is replaced only where a cell really changes.
    sheet
        The worksheet.
    writes
        Values, none for a cell whose formula is edited.
    formulas
        Results and formulas.

    Returns
    -------
    tuple of WriteResult
        What became of the values, and of the formulas.
    """
    made: list[FormulaRows] = []

    def rows_of(source: SheetBytes) -> FormulaRows:
        made.append(FormulaRows(package, sheet, source, formulas))
        return made[-1]

    done = edit_rows(package, sheet, writes, rows_of)
    if done is not None:
        return done, made[-1].result()
    written = edit_cells(package, sheet, writes)
    return written, edit_formulas(package, sheet, formulas)
