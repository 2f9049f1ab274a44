"""The formulas of a worksheet listed, and their stored results dropped."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from typing import Protocol

from lxml import etree

from xlhelpers.package.cell_set import Place
from xlhelpers.package.container import Package
from xlhelpers.package.parts import SheetPart
from xlhelpers.package.references import column_letters
from xlhelpers.package.sheet_bytes import (
    CellParts,
    RowParts,
    SheetBytes,
    UnusualSheet,
    attributes_of,
    formula_cells,
    plain,
)
from xlhelpers.package.sheet_tree import SheetTree
from xlhelpers.package.xml_text import local, serialize
from xlhelpers.package.zip_entries import PORTION, QUICK_FROM, Packed, Packer

_HAS_FORMULA = re.compile(rb"<(?:\w+:)?f[\s>/]")
_TYPE = re.compile(rb' t="[^"]*"')
_UTF_16 = (b"\xff\xfe", b"\xfe\xff")


@dataclass(frozen=True)
class FormulaCell:
    """A cell with a formula; kind, group and area are the attributes t, si and ref."""

    row: int
    column: int
    text: str
    kind: str | None = None
    group: str = ""
    area: str | None = None


class FormulaSheet(Protocol):
    """A worksheet with formulas."""

    def formulas(self) -> Iterable[FormulaCell]:
        """All formulas in the order of their rows."""

    def drop(self, package: Package, places: Collection[Place]) -> int:
        """Drop the stored results of some cells; return how many there were."""


def formula_sheet(package: Package, sheet: SheetPart) -> FormulaSheet | None:
    """The formulas of a sheet; None where it has none."""
    content = package.read(sheet.part) if sheet.kind == "worksheet" and sheet.part else b""
    if not _HAS_FORMULA.search(content) and content[:2] not in _UTF_16:
        return None
    usual = SheetBytes.read(content, sound=package.is_sound(sheet.part))
    if usual is not None:
        try:
            return _InBytes(usual, sheet.part)
        except (UnusualSheet, etree.XMLSyntaxError):
            pass
    return _InTree(content, sheet.part)


class _InBytes:
    def __init__(self, sheet: SheetBytes, part: str) -> None:
        self._sheet = sheet
        self._part = part
        self._formulas = [
            _formula_cell(row, column, attributes, text)
            for row, column, attributes, text in formula_cells(sheet)
        ]

    def formulas(self) -> Iterable[FormulaCell]:
        return self._formulas

    def drop(self, package: Package, places: Collection[Place]) -> int:
        try:
            data, count = _dropped_in_bytes(self._sheet, places)
        except UnusualSheet:
            return _InTree(self._sheet.data, self._part).drop(package, places)
        if count:
            sound = package.is_sound(self._part)
            package.replace(self._part, data)
            if sound:
                package.note_sound(self._part)
        return count


def _formula_cell(row: int, column: int, attributes: bytes, text: bytes) -> FormulaCell:
    if not attributes:
        return FormulaCell(row, column, plain(text))
    return FormulaCell(row, column, plain(text), *_kind_of(attributes))


@lru_cache(maxsize=4096)
def _kind_of(attributes: bytes) -> tuple[str | None, str, str | None]:
    """Kind, group and area: the cells of a shared formula say the same."""
    known = attributes_of(attributes)
    return known.get("t"), str(known.get("si")), known.get("ref")


def _dropped_in_bytes(sheet: SheetBytes, places: Collection[Place]) -> tuple[Packed, int]:
    """The sheet without the stored results of some cells, and how many there were."""
    by_row: dict[int, set[int]] = defaultdict(set)
    for row, column in places:
        by_row[row].add(column)
    out = Packer(quick=len(sheet.data) > QUICK_FROM)
    position, count = 0, 0
    hints: dict[int, int] = {}
    for row in sorted(by_row):
        if not sheet.has(row):
            continue
        parts, wanted = sheet.parts_of(row), by_row[row]
        dropped = _drop_in_row(parts, wanted, hints)
        if dropped:
            index = sheet.index(row)
            out.write(sheet.data[position : sheet.place_of(index)])
            out.write(parts.joined())
            position = sheet.place_of(index + 1)
            count += dropped
    for start in range(position, len(sheet.data), PORTION):
        out.write(sheet.data[start : start + PORTION])
    return out.finish(), count


def _drop_in_row(parts: RowParts, columns: Collection[int], hints: dict[int, int]) -> int:
    """Drop the results of some cells of a row; `hints` is where they stood in the row before."""
    digits, count = b'%d"' % parts.row, 0
    for column in columns:
        name = column_letters(column).encode() + digits
        index = hints.get(column, len(parts.cells))
        if index >= len(parts.cells) or not parts.cells[index].startswith(name):
            places = (at for at, cell in enumerate(parts.cells) if cell.startswith(name))
            index = next(places, -1)
            if index < 0:
                continue
            hints[column] = index
        cell = parts.cell(parts.cells[index])
        if cell.text is not None or cell.inline is not None or b"<v" in cell.inside:
            parts.cells[index] = _without_result(cell, digits)
            count += 1
    return count


def _without_result(cell: CellParts, digits: bytes) -> bytes:
    name = cell.letters + digits + _TYPE.sub(b"", cell.attribute_text)
    if cell.formula is None:
        return name + b"/>" + cell.space
    return name + b">" + cell.formula + b"</c>" + cell.space


class _InTree:
    def __init__(self, content: bytes, part: str) -> None:
        self._tree = SheetTree(content, part)
        self._part = part

    def formulas(self) -> Iterator[FormulaCell]:
        for row, column, element in self._tree.formulas():
            yield FormulaCell(
                row, column, element.text or "", element.get("t"), str(element.get("si")),
                element.get("ref"),
            )  # fmt: skip

    def drop(self, package: Package, places: Collection[Place]) -> int:
        dropped = sum(self._drop_one(place) for place in places)
        if dropped:
            package.replace(self._part, serialize(self._tree.root))
        return dropped

    def _drop_one(self, place: Place) -> bool:
        cell = self._tree.cell(*place)
        results = [] if cell is None else [item for item in cell if local(item) in ("v", "is")]
        for item in results:
            item.getparent().remove(item)  # type: ignore[union-attr]
        if cell is not None and results:
            cell.attrib.pop("t", "")
        return bool(results)
