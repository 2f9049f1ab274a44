"""Stored results of formulas that are no longer true, dropped so that programs calculate anew.

Every program shows the stored result of a formula until it calculates, and some never do unless
the result is missing. After cells have changed, the results that rest on them are taken out.
"""

from __future__ import annotations

import re
from bisect import bisect_left, insort
from collections.abc import Collection, Mapping
from dataclasses import dataclass

from lxml import etree

from xlhelpers.package.container import Package
from xlhelpers.package.formula_references import (
    Book,
    FormulaReadings,
    Reading,
    pattern_of,
    readings_of,
)
from xlhelpers.package.parts import SheetPart, defined_names, sheets, workbook_root
from xlhelpers.package.references import Area, parse_areas
from xlhelpers.package.relations import related, replace_tree
from xlhelpers.package.sheet_tree import SheetTree
from xlhelpers.package.xml_text import (
    Element,
    child,
    local,
    parse,
    serialize,
    sibling_name,
)

MAX_ROUNDS = 40
BEFORE_CALCULATION = (
    "fileVersion", "fileSharing", "workbookPr", "workbookProtection", "bookViews", "sheets",
    "functionGroups", "externalReferences", "definedNames",
)  # fmt: skip

_HAS_FORMULA = re.compile(rb"<(?:\w+:)?f[\s>/]")

Place = tuple[int, int]


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
        self._rows: dict[int, dict[int, list[int]]] = {}

    def add(self, sheet: int, places: Collection[Place]) -> None:
        """Add some cells of a sheet."""
        columns = self._rows.setdefault(sheet, {})
        for row, column in sorted(places):
            rows = columns.setdefault(column, [])
            if not rows or rows[-1] < row:
                rows.append(row)
            elif not self._within(rows, row, row):
                insort(rows, row)

    @staticmethod
    def _within(rows: list[int], first: int, last: int) -> bool:
        index = bisect_left(rows, first)
        return index < len(rows) and rows[index] <= last

    def meets(self, reading: Reading, rows: int, columns: int) -> bool:
        """Whether a changed cell lies in an area, moved by so many rows and columns."""
        known = self._rows.get(reading.sheet)
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
        return any(self._within(found, top, bottom) for found in near)

    def reach(self, formula: _Formula) -> bool:
        """Whether a formula reads a changed cell, or may read any."""
        if formula.reads.everything:
            return True
        rows = formula.place[0] - formula.origin[0]
        columns = formula.place[1] - formula.origin[1]
        return any(self.meets(reading, rows, columns) for reading in formula.reads.readings)


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


def _formulas(tree: SheetTree, sheet: int, book: Book) -> list[_Formula]:
    """All formulas of a sheet in the order of their rows."""
    masters: dict[str, tuple[Place, FormulaReadings]] = {}
    known: dict[str, tuple[Place, FormulaReadings]] = {}
    found = []
    for row, column, element in tree.formulas():
        place, group = (row, column), str(element.get("si"))
        kind, text = element.get("t"), element.text or ""
        if kind == "dataTable":
            reads, origin = FormulaReadings((), everything=True), place
        elif kind == "shared" and not text:
            origin, reads = masters.get(group, (place, FormulaReadings((), everything=True)))
        else:
            # A column filled down is read once: its formulas differ by their row alone.
            pattern = pattern_of(text, row, column)
            if pattern not in known:
                known[pattern] = (place, readings_of(text, sheet, book))
            origin, reads = known[pattern]
            if kind == "shared":
                masters[group] = (origin, reads)
        areas = parse_areas([element.get("ref")]) if kind in ("array", "dataTable") else ()
        found.append(_Formula(sheet, place, (areas or ((*place, *place),))[0], reads, origin))
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


def _drop(tree: SheetTree, formulas: list[_Formula], fresh: Collection[Place]) -> int:
    dropped = 0
    for formula in formulas:
        for place in _places(formula):
            cell = tree.cell(*place)
            if cell is None or place in fresh:
                continue
            dropped += _drop_result(cell)
    return dropped


def _drop_result(cell: Element) -> bool:
    results = [item for item in cell if local(item) in ("v", "is")]
    for item in results:
        cell.remove(item)
    if results:
        cell.attrib.pop("t", "")
    return bool(results)


def refresh_on_open(package: Package, changed: Mapping[str, Collection[tuple[int, int]]]) -> int:
    """Drop the stored results that rest on changed cells, and ask for a calculation on opening.

    Parameters
    ----------
    package
        The opened workbook, the changed cells written already.
    changed
        Rows and columns of the changed cells by sheet name. A formula among them is taken to
        carry a fresh result and keeps it.

    Returns
    -------
    int
        How many stored results were dropped. With none, nothing in the package changes.
    """
    listed = sheets(package)
    fresh = {
        sheet.position: frozenset(changed[sheet.name]) for sheet in listed if sheet.name in changed
    }
    if not any(fresh.values()):
        return 0
    book, marks = _book(package, listed), _Changed()
    for position, places in fresh.items():
        marks.add(position, places)
    trees: dict[int, SheetTree] = {}
    formulas: list[_Formula] = []
    for sheet in listed:
        content = package.read(sheet.part) if sheet.kind == "worksheet" and sheet.part else b""
        if _HAS_FORMULA.search(content) or content[:2] in (b"\xff\xfe", b"\xfe\xff"):
            trees[sheet.position] = SheetTree(content, sheet.part)
            formulas += _formulas(trees[sheet.position], sheet.position, book)
    stale = _dependent(formulas, marks)
    total = 0
    for position, tree in trees.items():
        mine = [formula for formula in stale if formula.sheet == position]
        dropped = _drop(tree, mine, fresh.get(position, frozenset()))
        if dropped:
            package.replace(listed[position].part, serialize(tree.root))
        total += dropped
    if total:
        _ask_for_calculation(package)
    return total


def _ask_for_calculation(package: Package) -> None:
    root = workbook_root(package)
    settings = child(root, "calcPr")
    if settings is None:
        settings = etree.SubElement(root, sibling_name(root, "calcPr"))
        known = [index for index, item in enumerate(root) if local(item) in BEFORE_CALCULATION]
        root.insert(max(known, default=-1) + 1, settings)
    settings.set("fullCalcOnLoad", "1")
    replace_tree(package, package.workbook_part, root)
