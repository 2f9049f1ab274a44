"""Values written into single cells of a worksheet; everything else of it stays as it is.

The rows are rewritten as they go by; where a sheet is written in an unusual way, its whole tree
is edited instead. Both give the same.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from lxml import etree

from xlhelpers.package.parts import calc_chain
from xlhelpers.package.parts.parts import SheetPart
from xlhelpers.package.parts.xml_text import (
    XML_SPACE,
    Element,
    child,
    local,
    serialize,
    sibling_name,
)
from xlhelpers.package.sheet.cell_set import CellSet, Place
from xlhelpers.package.sheet.cell_text import escape
from xlhelpers.package.sheet.cell_writes import (
    CellWrite,
    ColumnWrites,
    Lines,
    Piece,
    Refusal,
    Stored,
    Writes,
    in_order,
    number_text,
)
from xlhelpers.package.sheet.row_stream import EditState, RowEditor, RowStream, stored_value
from xlhelpers.package.sheet.sheet_bytes import SheetBytes, UnusualSheet
from xlhelpers.package.sheet.sheet_tree import SheetTree
from xlhelpers.package.sheet.untouchable import (
    FormulaMark,
    Untouchable,
    marks_in_bytes,
    marks_in_tree,
)
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.zip_entries import Packed

__all__ = [
    "CellWrite",
    "ColumnWrites",
    "Refusal",
    "WriteResult",
    "edit_cells",
    "edit_rows",
    "write_cells",
]
MakeState = Callable[[Element, Iterable[FormulaMark], Lines], EditState]
# State, refusals of cells outside the sheet, and the new sheet where anything changed.
Edited = tuple[EditState | None, tuple[Refusal, ...], bytes | Packed | None]


@dataclass(frozen=True)
class WriteResult:
    """What a call of `edit_cells` did: the cells that really changed, and those refused."""

    changed: CellSet
    refusals: tuple[Refusal, ...]


def _fill(cell: Element, value: Stored) -> None:
    """Give a cell element new contents; its name, format and extensions stay."""
    for item in list(cell):
        if local(item) in ("v", "f", "is"):
            cell.remove(item)
    for name in ("t", "cm", "vm"):
        cell.attrib.pop(name, "")
    if value is None:
        return
    if isinstance(value, str):
        cell.set("t", "inlineStr")
        holder = etree.SubElement(cell, sibling_name(cell, "is"))
        text = etree.SubElement(holder, sibling_name(cell, "t"))
        text.text = escape(value)
        text.set(XML_SPACE, "preserve")
        cell.insert(0, holder)
        return
    holder = etree.SubElement(cell, sibling_name(cell, "v"))
    if isinstance(value, bool):
        cell.set("t", "b")
        holder.text = str(int(value))
    else:
        holder.text = number_text(value)
    cell.insert(0, holder)


def _current_value(state: EditState, cell: Element) -> object:
    value = child(cell, "v")
    text = None if value is None else value.text
    return stored_value(state, cell.get("t", "n"), text, child(cell, "is"))


def _write_one(
    tree: SheetTree, state: EditState, row: int, piece: Piece, styles: dict[Place, str | None]
) -> None:
    column, value, _, like = piece
    cell = tree.cell(row, column)
    has_formula = cell is not None and child(cell, "f") is not None
    if not has_formula and state.same(None if cell is None else _current_value(state, cell), value):
        return
    has_picture = cell is not None and cell.get("vm") is not None
    if not state.may_write(row, column, has_formula=has_formula, has_picture=has_picture):
        return
    if cell is None:
        style = styles[like] if like in styles else tree.style(*like)
        cell = tree.make_cell(row, column, style)
    _fill(cell, value)
    state.note(row, column, had_formula=has_formula)


def _by_tree(tree: SheetTree, writes: Writes, state_of: MakeState) -> Edited:
    lines, outside = in_order(writes)
    if lines is None:
        return None, outside, None
    state = state_of(tree.root, marks_in_tree(tree.root), lines)
    styles = {like: tree.style(*like) for like in sorted(lines.likes)}
    for row, pieces in zip(lines.rows, lines.pieces, strict=True):
        for piece in pieces:
            _write_one(tree, state, row, piece, styles)
        # A tall sheet would fill the memory if every row stayed noted.
        tree.forget(row)
    if not state.rows_of:
        return state, outside, None
    tree.widen_dimension(lines.box)
    return state, outside, serialize(tree.root)


def _edit_as_stream(
    sheet: SheetBytes | None,
    writes: Writes,
    state_of: MakeState,
    *,
    with_shared: bool,
    also: RowEditor | None = None,
) -> Edited | None:
    """The same row by row; None where only the tree will do."""
    lines, outside = in_order(writes)
    if sheet is None:
        return None
    if lines is None:
        return None, outside, None
    try:
        state = state_of(sheet.frame, marks_in_bytes(sheet, with_shared=with_shared), lines)
        return state, outside, RowStream(sheet, state, lines.likes, also).write(lines)
    except (UnusualSheet, etree.XMLSyntaxError):
        return None


def edit_cells(
    package: Package,
    sheet: SheetPart,
    writes: Writes,
    *,
    overwrite_formulas: frozenset[Place] = frozenset(),
    careful: bool = False,
) -> WriteResult:
    """Write values into cells of a worksheet.

    Parameters
    ----------
    package
        The opened workbook; the sheet's part is replaced only where a cell really changes.
    sheet
        The worksheet.
    writes
        Values by row and column, in any order; or whole columns of them.
    overwrite_formulas
        Cells whose own formula may give way to a value.
    careful
        Edit the tree of the sheet even where its rows could be rewritten as they go by.

    Returns
    -------
    WriteResult
        The cells that changed and the cells that were refused, each with its reason.
    """
    data = package.read(sheet.part)
    state_of = _maker_of_state(package, sheet, overwrite_formulas)
    usual = None if careful else SheetBytes.read(data, sound=package.is_sound(sheet.part))
    outcome = _edit_as_stream(usual, writes, state_of, with_shared=bool(overwrite_formulas))
    if outcome is None:
        outcome = _by_tree(SheetTree(data, sheet.part), writes, state_of)
    return _take_over(package, sheet, outcome)


def edit_rows(
    package: Package,
    sheet: SheetPart,
    writes: Writes,
    also: Callable[[SheetBytes], RowEditor],
) -> WriteResult | None:
    """As `edit_cells`, with further edits of the same rows in the same go.

    None where there is nothing to write or the sheet is written in an unusual way; the package
    is then as it was.
    """
    source = SheetBytes.read(package.read(sheet.part), sound=package.is_sound(sheet.part))
    if source is None:
        return None
    state_of = _maker_of_state(package, sheet, frozenset())
    outcome = _edit_as_stream(source, writes, state_of, with_shared=False, also=also(source))
    return None if outcome is None or outcome[0] is None else _take_over(package, sheet, outcome)


def _maker_of_state(
    package: Package, sheet: SheetPart, overwrite_formulas: frozenset[Place]
) -> MakeState:
    def state_of(root: Element, marks: Iterable[FormulaMark], lines: Lines) -> EditState:
        rules = Untouchable(package, sheet, root, tuple(marks), overwrite_formulas)
        rules.limit_to(lines.box)
        return EditState(package, rules)

    return state_of


def _take_over(package: Package, sheet: SheetPart, edited: Edited) -> WriteResult:
    """Put the new sheet into the package and say what changed."""
    state, outside, new = edited
    if state is None:
        return WriteResult(CellSet(), outside)
    if new is not None:
        sound = package.is_sound(sheet.part)
        package.replace(sheet.part, new)
        if sound:
            # What was written into a well-formed sheet is well-formed itself.
            package.note_sound(sheet.part)
        calc_chain.prune_cells(package, sheet, frozenset(state.lost_formulas))
    refused = sorted(state.refusals, key=lambda item: (item.row, item.column))
    return WriteResult(state.changed, (*outside, *refused))


def write_cells(
    package: Package,
    sheet: SheetPart,
    writes: Writes,
    *,
    overwrite_formulas: frozenset[Place] = frozenset(),
) -> tuple[int, tuple[Refusal, ...]]:
    """As `edit_cells`, with the number of changed cells instead of their places."""
    result = edit_cells(package, sheet, writes, overwrite_formulas=overwrite_formulas)
    return len(result.changed), result.refusals
