"""What may be done to the formulas of a worksheet, and how it is done in a whole tree."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from lxml import etree
from numpy.typing import NDArray

from xlhelpers.package.parts.parts import SheetPart
from xlhelpers.package.parts.xml_text import (
    Element,
    child,
    descendants,
    local,
    serialize,
    sibling_name,
)
from xlhelpers.package.sheet.cell_edit import WriteResult
from xlhelpers.package.sheet.cell_set import CellSet, Place
from xlhelpers.package.sheet.cell_text import escape
from xlhelpers.package.sheet.cell_writes import Refusal, Written, number_text, stored_form
from xlhelpers.package.sheet.references import area_name, joined_area, parse_area
from xlhelpers.package.sheet.sheet_tree import SheetTree
from xlhelpers.package.sheet.untouchable import Untouchable, marks_in_tree
from xlhelpers.package.zip.container import Package

NO_FORMULA = "has no formula"
ARRAY = "is part of an array formula"
NO_ROW = "is in a row that does not exist"


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


@dataclass(frozen=True)
class FormulaEdits:
    """All edits of one sheet: one by one, and results by whole columns, no cell in both.

    `overwritten` are cells whose own formula may give way to another.
    """

    edits: Sequence[FormulaEdit] = ()
    columns: Sequence[StoredColumn] = ()
    overwritten: frozenset[Place] = frozenset()


def every_edit(wanted: FormulaEdits) -> list[FormulaEdit]:
    """Each edit by itself, by row and column."""
    edits: dict[Place, FormulaEdit] = {}
    for item in wanted.columns:
        for row, value in zip(item.rows.tolist(), item.values.tolist(), strict=True):
            edits[row, item.column] = StoredValue(row, item.column, value)
    edits |= {(edit.row, edit.column): edit for edit in wanted.edits}
    return [edits[place] for place in sorted(edits)]


def edit_in_tree(
    package: Package,
    sheet: SheetPart,
    edits: Sequence[FormulaEdit],
    overwrite_formulas: frozenset[Place],
) -> WriteResult:
    """Store results and write formulas by the tree of a sheet; as `edit_formulas` does.

    Parameters
    ----------
    package
        The opened workbook; the sheet's part is replaced only where a cell really changes.
    sheet
        The worksheet.
    edits
        One a cell, by row and column.
    overwrite_formulas
        Cells whose own formula may give way to another.
    """
    tree = SheetTree(package.read(sheet.part), sheet.part)
    marks = tuple(marks_in_tree(tree.root))
    rules = Untouchable(package, sheet, tree.root, marks, overwrite_formulas)
    rows: dict[int, list[int]] = defaultdict(list)
    refusals = []
    for edit in edits:
        reason = _why_not(tree, rules, edit)
        if reason is not None:
            refusals.append(Refusal(edit.row, edit.column, reason))
        elif _edit(tree, edit):
            rows[edit.column].append(edit.row)
    if rows:
        package.replace(sheet.part, serialize(tree.root))
    return WriteResult(CellSet(dict(sorted(rows.items()))), tuple(refusals))


def _why_not(tree: SheetTree, rules: Untouchable, edit: FormulaEdit) -> str | None:
    if not tree.cells(edit.row):
        return NO_ROW
    cell = tree.cell(edit.row, edit.column)
    formula = None if cell is None else child(cell, "f")
    if isinstance(edit, StoredValue):
        if formula is None:
            return NO_FORMULA
        return ARRAY if formula.get("t") in ("array", "dataTable") else None
    return rules.reason(edit.row, edit.column, has_formula=formula is not None, has_picture=False)


def _edit(tree: SheetTree, edit: FormulaEdit) -> bool:
    """Edit one cell; whether it is another one afterwards."""
    cell = tree.cell(edit.row, edit.column)
    before = None if cell is None else etree.tostring(cell)
    if cell is None:
        assert isinstance(edit, FormulaWrite)  # a result goes only where there is a formula
        like = edit.style_like
        style = None if like is None else tree.style(*like)
        cell = tree.make_cell(edit.row, edit.column, style)
    if isinstance(edit, FormulaWrite):
        for item in [item for item in cell if local(item) in ("f", "is")]:
            cell.remove(item)
        formula = etree.Element(sibling_name(cell, "f"))
        cell.insert(0, formula)
        _write_formula(tree, formula, edit)
    _store(cell, edit.value)
    return etree.tostring(cell) != before


def _write_formula(tree: SheetTree, formula: Element, edit: FormulaWrite) -> None:
    """Write the text of a formula, or let it join those that share the one it is filled from."""
    source = None if edit.fill_from is None else tree.cell(*edit.fill_from)
    shared = None if source is None else child(source, "f")
    if shared is None or shared.get("t") != "shared":
        formula.text = escape(edit.formula)
        return
    formula.set("t", "shared")
    formula.set("si", str(shared.get("si")))
    for master in descendants(tree.data, "f"):
        if master.get("ref") is not None and master.get("si") == shared.get("si"):
            place = (edit.row, edit.column, edit.row, edit.column)
            area = joined_area(parse_area(str(master.get("ref"))), place)
            master.set("ref", area_name(area))
            return


def _store(cell: Element, value: Written) -> None:
    """Give a cell with a formula another result."""
    for item in [item for item in cell if local(item) in ("v", "is")]:
        cell.remove(item)
    for name in ("t", "cm", "vm"):
        cell.attrib.pop(name, "")
    result = etree.Element(sibling_name(cell, "v"))
    formula = child(cell, "f")
    assert formula is not None  # written or asked for before
    formula.addnext(result)
    stored = stored_form(value)
    if stored is None or isinstance(stored, str):
        cell.set("t", "str")
        result.text = escape(stored or "")
    elif isinstance(stored, bool):
        cell.set("t", "b")
        result.text = str(int(stored))
    else:
        result.text = number_text(stored)
