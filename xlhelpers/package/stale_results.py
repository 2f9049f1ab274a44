"""Stored results of formulas that are no longer true, dropped so that programs calculate anew.

Every program shows the stored result of a formula until it calculates, and some never do unless
the result is missing. After cells have changed, the results that rest on them are taken out.
"""

from __future__ import annotations

from bisect import insort
from collections import ChainMap, defaultdict
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from lxml import etree

from xlhelpers.package.cell_set import CellSet, Place, within
from xlhelpers.package.container import Package
from xlhelpers.package.formula_references import (
    Book,
    FormulaReadings,
    Reading,
    pattern_of,
    readings_of,
    row_shape,
)
from xlhelpers.package.formula_sheets import FormulaSheet, formula_sheet
from xlhelpers.package.parts import SheetPart, defined_names, sheets, workbook_root
from xlhelpers.package.pivot_caches import refresh_caches
from xlhelpers.package.references import Area, parse_areas
from xlhelpers.package.relations import related, replace_tree
from xlhelpers.package.xml_text import (
    child,
    local,
    parse,
    sibling_name,
)

MAX_ROUNDS = 40
BEFORE_CALCULATION = (
    "fileVersion", "fileSharing", "workbookPr", "workbookProtection", "bookViews", "sheets",
    "functionGroups", "externalReferences", "definedNames",
)  # fmt: skip


@dataclass(frozen=True)
class _Formula:
    """One formula cell: where it stands, the area of its results, and what it reads.

    The readings are those of the cell `origin`; relative ones move along with the distance.
    """

    sheet: int
    place: Place
    area: Area
    reads: FormulaReadings
    origin: Place


class _Changed:
    """Changed cells by sheet and column, rows in order, to be asked for by area."""

    def __init__(self) -> None:
        self._given: dict[int, Mapping[int, Sequence[int]]] = {}
        self._rows: dict[int, dict[int, list[int]]] = {}
        self._near: dict[tuple[int, int], tuple[Reading, ...]] = {}

    def add_set(self, sheet: int, cells: CellSet) -> None:
        """Add the first cells of a sheet."""
        self._given[sheet] = cells.rows_of

    def add(self, sheet: int, places: Collection[Place]) -> None:
        """Add some cells of a sheet."""
        columns = self._rows.setdefault(sheet, {})
        for row, column in sorted(places):
            if column not in columns:
                columns[column] = list(self._given.get(sheet, {}).get(column, ()))
                self._near.clear()
            rows = columns[column]
            if not rows or rows[-1] < row:
                rows.append(row)
            elif not within(rows, row, row):
                insort(rows, row)

    def _known(self, sheet: int) -> Mapping[int, Sequence[int]]:
        return ChainMap(self._rows.get(sheet, {}), self._given.get(sheet, {}))  # type: ignore[arg-type]

    def meets(self, reading: Reading, rows: int = 0, columns: int = 0) -> bool:
        """Whether a changed cell lies in an area, moved by so many rows and columns."""
        known = self._known(reading.sheet)
        if not known:
            return False
        top, left, bottom, right = reading.area
        moves = reading.moves
        left, right = left + columns * moves[1], right + columns * moves[3]
        if right - left < len(known):
            near = [known[item] for item in range(left, right + 1) if item in known]
        else:
            near = [found for column, found in known.items() if left <= column <= right]
        if not near:
            return False
        top, bottom = top + rows * moves[0], bottom + rows * moves[2]
        return any(within(found, top, bottom) for found in near)

    def reach(self, formula: _Formula) -> bool:
        """Whether a formula reads a changed cell, or may read any."""
        if formula.reads.everything:
            return True
        rows = formula.place[0] - formula.origin[0]
        columns = formula.place[1] - formula.origin[1]
        # The formulas of a filled column share their readings: most are told by columns alone.
        key = (id(formula.reads), columns)
        near = self._near.get(key)
        if near is None:
            near = tuple(r for r in formula.reads.readings if self._is_near(r, columns))
            self._near[key] = near
        return any(self.meets(reading, rows, columns) for reading in near)

    def _is_near(self, reading: Reading, columns: int) -> bool:
        left = reading.area[1] + columns * reading.moves[1]
        right = reading.area[3] + columns * reading.moves[3]
        known = self._known(reading.sheet)
        return any(left <= column <= right for column in known)


def _book(package: Package, listed: tuple[SheetPart, ...]) -> Book:
    tables: dict[str, tuple[int, Area]] = {}
    for sheet in listed:
        for part in related(package, sheet.part, "table") if sheet.part else ():
            root = parse(package.read(part), part)
            for area in parse_areas([root.get("ref")]):
                for attribute in ("name", "displayName"):
                    tables[str(root.get(attribute, "")).casefold()] = (sheet.position, area)
    return Book(
        {sheet.name.casefold(): sheet.position for sheet in listed},
        {(item.name.casefold(), item.local_sheet): item.text for item in defined_names(package)},
        tables,
    )


def _formulas(sheet: FormulaSheet, position: int, book: Book) -> list[_Formula]:
    """All formulas of a sheet in the order of their rows."""
    masters: dict[str, tuple[Place, FormulaReadings]] = {}
    known: dict[str, tuple[Place, FormulaReadings]] = {}
    unknown = FormulaReadings((), everything=True)
    found = []
    for item in sheet.formulas():
        place = (item.row, item.column)
        if item.kind == "dataTable":
            reads, origin = unknown, place
        elif item.kind == "shared" and not item.text:
            origin, reads = masters.get(item.group, (place, unknown))
        else:
            # A column filled down is read once: its formulas differ by their row alone.
            shape = row_shape(item.text, item.row)
            key = shape or pattern_of(item.text, *place)
            if key not in known:
                known[key] = (place, readings_of(item.text, position, book))
            origin, reads = known[key]
            if item.kind == "shared":
                masters[item.group] = (origin, reads)
        areas = parse_areas([item.area]) if item.kind in ("array", "dataTable") else ()
        found.append(_Formula(position, place, (areas or ((*place, *place),))[0], reads, origin))
    return found


def _dependent(formulas: list[_Formula], changed: _Changed) -> list[_Formula]:
    """Formulas that rest on a changed cell, directly or through other formulas.

    Passes run forwards and backwards in turn, so that a running total needs one pass in either
    direction. After many passes the rest counts as dependent, which is never wrong, only slow.
    """
    found: list[_Formula] = []
    waiting = formulas
    for _ in range(MAX_ROUNDS):
        left = []
        for formula in waiting:
            if changed.reach(formula):
                found.append(formula)
                changed.add(formula.sheet, _places(formula))
            else:
                left.append(formula)
        if len(left) == len(waiting):
            return found
        waiting = left[::-1]
    return found + waiting


def _places(formula: _Formula) -> list[Place]:
    top, left, bottom, right = formula.area
    return [(row, column) for row in range(top, bottom + 1) for column in range(left, right + 1)]


def refresh_on_open(
    package: Package,
    changed: Mapping[str, Collection[Place]],
    *,
    fresh_sheets: Collection[str] = (),
) -> int:
    """Drop the stored results that rest on changed cells, and ask for a calculation on opening.

    Parameters
    ----------
    package
        The opened workbook, the changed cells written already.
    changed
        Rows and columns of the changed cells by sheet name. A formula among them is taken to
        carry a fresh result and keeps it.
    fresh_sheets
        Names of sheets all of whose formulas carry fresh results; all that changed on them
        stands in `changed`.

    Returns
    -------
    int
        How many stored results were dropped. With none, and no pivot table that reads a
        changed cell, nothing in the package changes.
    """
    listed = sheets(package)
    fresh = {
        sheet.position: _as_set(changed[sheet.name]) for sheet in listed if sheet.name in changed
    }
    if not any(fresh.values()):
        return 0
    book, marks = _book(package, listed), _Changed()
    for position, cells in fresh.items():
        marks.add_set(position, cells)
    waiting = {
        sheet.position: found
        for sheet in listed
        if sheet.name not in fresh_sheets and (found := formula_sheet(package, sheet)) is not None
    }
    formulas = [formula for at, found in waiting.items() for formula in _formulas(found, at, book)]
    stale: dict[int, list[Place]] = defaultdict(list)
    for formula in _dependent(formulas, marks):
        kept = fresh.get(formula.sheet, CellSet())
        stale[formula.sheet] += [place for place in _places(formula) if place not in kept]
    total = 0
    for position, places in stale.items():
        total += waiting[position].drop(package, places)
    if total:
        _ask_for_calculation(package)
    refresh_caches(package, book, marks.meets)
    return total


def _as_set(places: Collection[Place]) -> CellSet:
    return places if isinstance(places, CellSet) else CellSet.of(places)


def _ask_for_calculation(package: Package) -> None:
    root = workbook_root(package)
    settings = child(root, "calcPr")
    if settings is None:
        settings = etree.SubElement(root, sibling_name(root, "calcPr"))
        known = [index for index, item in enumerate(root) if local(item) in BEFORE_CALCULATION]
        root.insert(max(known, default=-1) + 1, settings)
    settings.set("fullCalcOnLoad", "1")
    replace_tree(package, package.workbook_part, root)
