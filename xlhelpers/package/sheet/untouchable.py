"""Cells of a worksheet that must not be changed, each with the reason."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from xlhelpers.package.parts.parts import SheetPart
from xlhelpers.package.parts.relations import related_parts
from xlhelpers.package.parts.xml_text import Element, child, children, descendants, integer, parse
from xlhelpers.package.sheet.references import Area, area_name, parse_areas, parse_cell
from xlhelpers.package.sheet.sheet_bytes import SheetBytes, attributes_of, formula_cells
from xlhelpers.package.zip.container import Package

Place = tuple[int, int]
FORMULA = "has a formula of your own, which was kept"
ARRAY = "is part of the array formula {area}, which was kept"
DATA_TABLE = "is part of the what-if data table {area}, which was kept"
SHARED = "has a formula that other cells share, so it was kept"
MERGED = "is inside the merged cells {area}. Unmerge them first"
HEADER = "is a heading of the table {area}, so it was kept"
TOTALS = "is in the totals row of the table {area}, so it was kept"
PIVOT = "is inside a pivot table, so it was kept"
PICTURE = "has a picture or a linked record, which was kept"


@dataclass(frozen=True)
class FormulaMark:
    """A formula with attributes: its cell, its kind, its area, its group and whether it has text.

    The cell is None where it has no name.
    """

    place: Place | None
    kind: str | None
    area: str | None
    group: str
    has_text: bool


def marks_in_tree(root: Element) -> Iterator[FormulaMark]:
    """Formulas with attributes in the tree of a sheet."""
    for element in descendants(root, "f"):
        kind = element.get("t")
        if kind is not None:
            cell = element.getparent()
            name = cell.get("r") if cell is not None else None
            place = None if name is None else parse_cell(name)
            yield FormulaMark(
                place, kind, element.get("ref"), str(element.get("si")), bool(element.text)
            )


def marks_in_bytes(sheet: SheetBytes, *, with_shared: bool) -> Iterator[FormulaMark]:
    """Formulas with attributes in a sheet as bytes; shared ones only where they are asked for."""
    wanted = (b' t="array"', b' t="dataTable"', *([b' t="shared"'] if with_shared else []))
    if all(sheet.data.find(mark, sheet.start, sheet.end) < 0 for mark in wanted):
        return
    for row, column, attributes, text in formula_cells(sheet):
        if any(mark in attributes for mark in wanted):
            known = attributes_of(attributes)
            yield FormulaMark(
                (row, column), known["t"], known.get("ref"), str(known.get("si")), bool(text)
            )


def _formula_areas(marks: Iterable[FormulaMark]) -> Iterator[tuple[Area, str]]:
    for mark in marks:
        if mark.kind in ("array", "dataTable"):
            message = ARRAY if mark.kind == "array" else DATA_TABLE
            for area in parse_areas([mark.area]):
                yield area, message


def _table_areas(package: Package, sheet: SheetPart) -> Iterator[tuple[Area, str]]:
    for part in related_parts(package, sheet.part, "table"):
        root = parse(package.read(part), part)
        for area in parse_areas([root.get("ref")]):
            top, left, bottom, right = area
            headers = integer(root.get("headerRowCount"), 1)
            totals = integer(root.get("totalsRowCount"), 0)
            if headers:
                yield (top, left, top + headers - 1, right), HEADER
            if totals:
                yield (bottom - totals + 1, left, bottom, right), TOTALS
    for part in related_parts(package, sheet.part, "pivotTable"):
        location = child(parse(package.read(part), part), "location")
        if location is not None:
            for area in parse_areas([location.get("ref")]):
                yield area, PIVOT


def _merged_areas(root: Element) -> tuple[Area, ...]:
    merged = child(root, "mergeCells")
    if merged is None:
        return ()
    return parse_areas(item.get("ref") for item in children(merged, "mergeCell"))


def _shared_masters(
    marks: Iterable[FormulaMark], overwritten: frozenset[Place]
) -> frozenset[Place]:
    """Cells whose formula serves other cells that keep theirs."""
    masters: dict[str, Place] = {}
    users: dict[str, list[Place]] = defaultdict(list)
    for mark in marks:
        if mark.kind != "shared" or mark.place is None:
            continue
        if mark.has_text:
            masters[mark.group] = mark.place
        else:
            users[mark.group].append(mark.place)
    return frozenset(
        place for group, place in masters.items() if not overwritten.issuperset(users[group])
    )


class Untouchable:
    """The rules of one worksheet: `reason` tells why a cell may not be written, or None."""

    def __init__(
        self,
        package: Package,
        sheet: SheetPart,
        root: Element,
        marks: tuple[FormulaMark, ...],
        overwritten: frozenset[Place],
    ) -> None:
        """Gather arrays, data tables, merged cells, tables and pivot tables of the sheet."""
        self._overwritten = overwritten
        self._masters = _shared_masters(marks, overwritten) if overwritten else frozenset()
        areas = [*_formula_areas(marks), *_table_areas(package, sheet)]
        self._single = {area[:2]: text for area, text in areas if area[:2] == area[2:]}
        self._areas = [(area, text) for area, text in areas if area[:2] != area[2:]]
        self._merged = _merged_areas(root)

    def limit_to(self, box: Area) -> None:
        """Keep only the areas that the writes can meet; there may be thousands of others."""
        self._areas = [item for item in self._areas if _meet(item[0], box)]
        self._merged = tuple(area for area in self._merged if _meet(area, box))

    @property
    def open_ground(self) -> bool:
        """Whether no area is in the way, so that every blank cell may be written to."""
        return not (self._single or self._areas or self._merged)

    def reason(self, row: int, column: int, *, has_formula: bool, has_picture: bool) -> str | None:
        """Why the cell must not be written to; None where it may be."""
        place = (row, column)
        if place in self._single:
            return self._single[place].format(area=area_name((*place, *place)))
        for area, text in self._areas:
            if _inside(place, area):
                return text.format(area=area_name(area))
        for area in self._merged:
            if _inside(place, area) and place != area[:2]:
                return MERGED.format(area=area_name(area))
        if has_picture:
            return PICTURE
        if has_formula and place not in self._overwritten:
            return FORMULA
        return SHARED if has_formula and place in self._masters else None


def _inside(place: Place, area: Area) -> bool:
    return area[0] <= place[0] <= area[2] and area[1] <= place[1] <= area[3]


def _meet(area: Area, box: Area) -> bool:
    return not (area[2] < box[0] or box[2] < area[0] or area[3] < box[1] or box[3] < area[1])
