"""Formulas of a worksheet with the values that they give: stored results, and new formulas."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

from xlhelpers.errors import WorkbookError
from xlhelpers.package.cell_edit import WriteResult
from xlhelpers.package.cell_set import CellSet, Place
from xlhelpers.package.cell_text import escape
from xlhelpers.package.cell_writes import Refusal, Written, number_text, stored_form
from xlhelpers.package.container import Package
from xlhelpers.package.parts import SheetPart
from xlhelpers.package.references import area_name, column_letters, joined_area, parse_area
from xlhelpers.package.sheet_bytes import RowParts, SheetBytes, UnusualSheet
from xlhelpers.package.untouchable import Untouchable, marks_in_bytes

NO_FORMULA = "holds no formula"
ARRAY = "belongs to an array formula"
NO_ROW = "lies in a row that does not exist"
UNUSUAL = "is written in a way that cannot be edited here"

_TYPE = re.compile(rb' (?:t|cm|vm)="[^"]*"')
_SHARED = re.compile(rb'<f [^<>]*?t="shared"[^<>]*?si="([0-9]+)"')


@dataclass(frozen=True)
class StoredValue:
    """The stored result of a formula that is in the cell already; the formula stays as it is."""

    row: int
    column: int
    value: Written


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


def edit_formulas(
    package: Package,
    sheet: SheetPart,
    edits: Sequence[FormulaEdit],
    *,
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
        new = work.write(edits)
    except UnusualSheet as error:
        raise WorkbookError(f"{sheet.name} {UNUSUAL}.") from error
    if new is not None:
        sound = package.is_sound(sheet.part)
        package.replace(sheet.part, new)
        if sound:
            package.note_sound(sheet.part)
    refused = sorted(work.refusals, key=lambda item: (item.row, item.column))
    return WriteResult(CellSet.of(work.changed), tuple(refused))


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
        self.changed: list[Place] = []
        self.groups: dict[Place, bytes | None] = {}
        self.grown: dict[bytes, list[Place]] = defaultdict(list)

    @property
    def rules(self) -> Untouchable:
        """What may not be written to; gathered only where a formula is to be written."""
        if self._rules is None:
            marks = tuple(marks_in_bytes(self.source))
            self._rules = Untouchable(
                self.package, self.sheet, self.source.frame, marks, self.overwrite
            )
        return self._rules

    def write(self, edits: Sequence[FormulaEdit]) -> bytes | None:
        by_row: dict[int, dict[int, FormulaEdit]] = defaultdict(dict)
        for edit in edits:
            by_row[edit.row][edit.column] = edit
        out, position, data = [], 0, self.source.data
        for row in sorted(by_row):
            if not self.source.has(row):
                self.refusals += [Refusal(row, column, NO_ROW) for column in by_row[row]]
                continue
            parts = self.source.parts_of(row)
            if self._row(parts, by_row[row]):
                index = self.source.index(row)
                out += [data[position : self.source.place_of(index)], parts.joined()]
                position = self.source.place_of(index + 1)
        if not self.changed:
            return None
        new = b"".join([*out, data[position:]])
        for group, places in self.grown.items():
            new = _widened(new, group, places)
        return new

    def _row(self, parts: RowParts, edits: dict[int, FormulaEdit]) -> bool:
        columns = [self.source.column_of(cell, parts.row) for cell in parts.cells]
        changed = False
        for column in sorted(edits):
            edit = edits[column]
            index = columns.index(column) if column in columns else -1
            old = None if index < 0 else parts.cells[index]
            new = self._cell(parts, old, edit)
            if new is None or new == old:
                continue
            if index >= 0:
                parts.cells[index] = new
            else:
                at = sum(other < column for other in columns)
                columns.insert(at, column)
                parts.cells.insert(at, new)
            self.changed.append((parts.row, column))
            changed = True
        return changed

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
        return name + attributes + _with_result(formula, edit.value) + b"</c>" + space

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


def _with_result(formula: bytes | None, value: Written) -> bytes:
    """What follows the attributes of a formula cell."""
    assert formula is not None
    stored = stored_form(value)
    if stored is None or isinstance(stored, str):
        text = escape(stored or "").replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
        return b' t="str">' + formula + b"<v>" + text.encode() + b"</v>"
    if isinstance(stored, bool):
        return b' t="b">' + formula + b"<v>%d</v>" % stored
    return b">" + formula + b"<v>" + number_text(stored).encode() + b"</v>"


def _widened(data: bytes, group: bytes, places: list[Place]) -> bytes:
    """The sheet with the area of a shared formula grown to take in more cells."""
    master = re.compile(rb'(<f [^<>]*?ref=")([^"<>]*)("[^<>]*?si="' + group + rb'"[^<>]*>)')

    def grow(found: re.Match[bytes]) -> bytes:
        area = parse_area(found[2].decode())
        for row, column in places:
            area = joined_area(area, (row, column, row, column))
        return found[1] + area_name(area).encode() + found[3]

    return master.sub(grow, data, count=1)
