"""The list of cells to calculate (calcChain): entries of formulas that are gone taken out."""

from __future__ import annotations

from collections.abc import Callable

from xlhelpers.package.parts.parts import SheetPart
from xlhelpers.package.parts.relations import related_parts, remove_parts, remove_relations_to
from xlhelpers.package.parts.xml_text import children, parse, serialize
from xlhelpers.package.sheet.references import parse_cell
from xlhelpers.package.zip.container import Package


def _prune(package: Package, sheet: SheetPart, gone: Callable[[tuple[int, int]], bool]) -> None:
    for part in related_parts(package, package.workbook_part, "calcChain"):
        root = parse(package.read(part), part)
        removed = False
        sheet_id, previous_id = "", ""
        for element in list(children(root, "c")):
            # An entry without a sheet stands on the sheet of the entry before it.
            sheet_id = element.get("i") or sheet_id
            if sheet_id == str(sheet.sheet_id) and gone(parse_cell(str(element.get("r")))):
                root.remove(element)
                removed = True
                continue
            if sheet_id != previous_id:
                element.set("i", sheet_id)
            previous_id = sheet_id
        if not removed:
            continue
        if next(children(root, "c"), None) is None:
            remove_relations_to(package, package.workbook_part, part)
            remove_parts(package, [part])
        else:
            package.replace(part, serialize(root))


def prune_cells(package: Package, sheet: SheetPart, cells: frozenset[tuple[int, int]]) -> None:
    """Take out the entries of some cells of a sheet."""
    if cells:
        _prune(package, sheet, cells.__contains__)


def prune_sheet(package: Package, sheet: SheetPart) -> None:
    """Take out every entry of a sheet; the spreadsheet program lists its formulas anew."""
    _prune(package, sheet, lambda _: True)
