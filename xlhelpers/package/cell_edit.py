"""Values written into single cells of a worksheet; everything else of it stays as it is."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from lxml import etree

from xlhelpers.package import calc_chain
from xlhelpers.package.cell_text import clean_text, escape, shared_strings, text_of, unescape
from xlhelpers.package.container import Package
from xlhelpers.package.parts import SheetPart
from xlhelpers.package.references import MAX_COLUMN, MAX_ROW
from xlhelpers.package.sheet_tree import SheetTree
from xlhelpers.package.untouchable import Untouchable
from xlhelpers.package.xml_text import XML_SPACE, Element, child, local, serialize, sibling_name

OUTSIDE = "lies outside the sheet; nothing can be written there"

Place = tuple[int, int]
Written = float | int | str | bool | None


@dataclass(frozen=True)
class CellWrite:
    """One value for one cell.

    An existing cell keeps its format; a new one takes that of the cell `style_like`, or that
    of its row or column. None clears the value and keeps the cell.
    """

    row: int
    column: int
    value: Written
    style_like: Place | None = None


@dataclass(frozen=True)
class Refusal:
    """A cell that was not written, with the reason as the end of a sentence: "J12 ..."."""

    row: int
    column: int
    reason: str


@dataclass(frozen=True)
class WriteResult:
    """What a call of `edit_cells` did: the cells that really changed, and those refused."""

    changed: frozenset[Place]
    refusals: tuple[Refusal, ...]


@dataclass
class _Sheet:
    """What is needed while one sheet is edited."""

    package: Package
    tree: SheetTree
    rules: Untouchable
    changed: set[Place] = field(default_factory=set)
    refusals: list[Refusal] = field(default_factory=list)
    lost_formulas: set[Place] = field(default_factory=set)
    strings: list[str] | None = None

    def shared(self, index: int) -> str | None:
        """A shared string; None where the list is shorter."""
        if self.strings is None:
            self.strings = shared_strings(self.package)
        return self.strings[index] if 0 <= index < len(self.strings) else None


def stored_form(value: Written) -> float | str | bool | None:
    """The value as the cell will store it: plain types, no infinity, text cleaned.

    numpy scalars become plain numbers; NaN, infinity and an empty text clear the cell.
    """
    item = getattr(value, "item", None)
    if item is not None:
        value = item()
    if isinstance(value, bool):
        return value
    if isinstance(value, int | float):
        return float(value) if math.isfinite(value) else None
    if value is None:
        return None
    return clean_text(str(value)) or None


def number_text(number: float) -> str:
    """Shortest text that reads back as the same number; whole numbers without a point."""
    if number == int(number) and abs(number) < 1e15:
        return str(int(number))
    return repr(number)


def _stored(sheet: _Sheet, cell: Element) -> object:
    """Value that a cell holds now; the text itself where it makes no sense."""
    value, inline = child(cell, "v"), child(cell, "is")
    kind = cell.get("t", "n")
    if kind == "inlineStr":
        return (text_of(inline) or None) if inline is not None else None
    if value is None or not value.text:
        return None
    text = value.text
    try:
        if kind == "s":
            return sheet.shared(int(text)) or None
        if kind == "n":
            return float(text)
    except ValueError:
        return ("unreadable", text)
    if kind == "b":
        return text.strip() in ("1", "true")
    return unescape(text) if kind == "str" else (kind, text)


def _same(old: object, new: object) -> bool:
    return type(old) is type(new) and old == new


def _fill(cell: Element, value: float | str | bool | None) -> None:
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


def _write_one(sheet: _Sheet, write: CellWrite) -> None:
    place = (write.row, write.column)
    value = stored_form(write.value)
    cell = sheet.tree.cell(*place)
    has_formula = cell is not None and child(cell, "f") is not None
    old = None if cell is None else _stored(sheet, cell)
    if not has_formula and _same(old, value):
        return
    reason = sheet.rules.reason(*place, cell)
    if reason is not None:
        sheet.refusals.append(Refusal(*place, reason))
        return
    if cell is None:
        like = write.style_like or place
        cell = sheet.tree.make_cell(*place, sheet.tree.style(*like))
    _fill(cell, value)
    sheet.changed.add(place)
    if has_formula:
        sheet.lost_formulas.add(place)


def _in_order(writes: Iterable[CellWrite]) -> tuple[list[CellWrite], list[Refusal]]:
    """Writes by row and column, the last one for each cell; and those outside the sheet."""
    chosen: dict[Place, CellWrite] = {}
    outside = []
    for write in writes:
        if 1 <= write.row <= MAX_ROW and 1 <= write.column <= MAX_COLUMN:
            chosen[write.row, write.column] = write
        else:
            outside.append(Refusal(write.row, write.column, OUTSIDE))
    return [chosen[place] for place in sorted(chosen)], outside


def edit_cells(
    package: Package,
    sheet: SheetPart,
    writes: Sequence[CellWrite],
    *,
    overwrite_formulas: frozenset[Place] = frozenset(),
) -> WriteResult:
    """Write values into cells of a worksheet.

    Parameters
    ----------
    package
        The opened workbook; the sheet's part is replaced only where a cell really changes.
    sheet
        The worksheet.
    writes
        Values by row and column, in any order.
    overwrite_formulas
        Cells whose own formula may give way to a value.

    Returns
    -------
    WriteResult
        The cells that changed and the cells that were refused, each with its reason.
    """
    chosen, outside = _in_order(writes)
    if not chosen:
        return WriteResult(frozenset(), tuple(outside))
    tree = SheetTree(package.read(sheet.part), sheet.part)
    rules = Untouchable(package, sheet, tree.root, overwrite_formulas)
    rules.limit_to((write.row, write.column) for write in chosen)
    work = _Sheet(package, tree, rules, refusals=outside)
    last = 0
    for write in chosen:
        if write.row != last:
            # A tall sheet would fill the memory if every row stayed noted.
            tree.forget(last)
            last = write.row
        _write_one(work, write)
    if work.changed:
        rows, columns = zip(*work.changed, strict=True)
        tree.widen_dimension((min(rows), min(columns), max(rows), max(columns)))
        package.replace(sheet.part, serialize(tree.root))
        calc_chain.prune_cells(package, sheet, frozenset(work.lost_formulas))
    return WriteResult(frozenset(work.changed), tuple(work.refusals))


def write_cells(
    package: Package,
    sheet: SheetPart,
    writes: Sequence[CellWrite],
    *,
    overwrite_formulas: frozenset[Place] = frozenset(),
) -> tuple[int, tuple[Refusal, ...]]:
    """As `edit_cells`, with the number of changed cells instead of their places."""
    result = edit_cells(package, sheet, writes, overwrite_formulas=overwrite_formulas)
    return len(result.changed), result.refusals
