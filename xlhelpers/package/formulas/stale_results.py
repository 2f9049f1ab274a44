"""Stored results that rest on changed cells: found, dropped, and computed anew on opening.

Every program shows the stored result of a formula until it calculates, and some never do unless
the result is missing. After cells have changed, the results that rest on them are taken out.
"""

from __future__ import annotations

import re
from bisect import insort
from collections import defaultdict
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Protocol

from lxml import etree

from xlhelpers.errors import WorkbookError
from xlhelpers.package.formulas.formula_text import (
    Book,
    FormulaReadings,
    Reading,
    pattern_of,
    points_into,
    readings_of,
    row_shape,
    whole_sheets,
)
from xlhelpers.package.parts.parts import (
    SheetPart,
    defined_names,
    sheets,
    workbook_child,
    workbook_root,
)
from xlhelpers.package.parts.relations import related_parts, replace_tree
from xlhelpers.package.parts.xml_text import (
    Element,
    child,
    descendants,
    local,
    parse,
    relationship_id,
    serialize,
)
from xlhelpers.package.sheet.cell_set import CellSet, Place, within
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.sheet.references import Area, column_letters, parse_areas, quote_sheet
from xlhelpers.package.sheet.sheet_bytes import (
    CellParts,
    RowParts,
    SheetBytes,
    UnusualSheet,
    attributes_of,
    formula_cells,
    plain,
)
from xlhelpers.package.sheet.sheet_tree import SheetTree
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.zip_entries import PORTION, QUICK_FROM, Packed, Packer

SOURCES = ("worksheetSource", "rangeSet")


def _source_texts(root: Element) -> Iterator[str]:
    """What the pivot cache reads, as a formula would name it."""
    for kind in SOURCES:
        for source in descendants(root, kind):
            if relationship_id(source):
                continue  # another workbook
            sheet = source.get("sheet")
            text = source.get("name") or source.get("ref") or ""
            yield f"{quote_sheet(sheet)}!{text}" if sheet else text


def refresh_caches(package: Package, book: Book, meets: Callable[[Reading], bool]) -> int:
    """Set `refreshOnLoad` of each pivot cache that reads a changed cell.

    Parameters
    ----------
    package
        The opened workbook.
    book
        What names in formulas stand for.
    meets
        Whether a changed cell lies in an area.

    Returns
    -------
    int
        How many caches read a changed cell.
    """
    count = 0
    for part in related_parts(package, package.workbook_part, "pivotCacheDefinition"):
        root = parse(package.read(part), part)
        readings = [readings_of(text, 0, book) for text in _source_texts(root)]
        if any(item.everything or any(map(meets, item.readings)) for item in readings):
            root.set("refreshOnLoad", "1")
            replace_tree(package, part, root)
            count += 1
    return count


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
            data, count = _drop_in_bytes(self._sheet, places)
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


def _drop_in_bytes(sheet: SheetBytes, places: Collection[Place]) -> tuple[Packed, int]:
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
            out.write(parts.to_bytes())
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
                row,
                column,
                element.text or "",
                element.get("t"),
                str(element.get("si")),
                element.get("ref"),
            )

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


MAX_ROUNDS = 40


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


class _ChangedCells:
    """Changed cells by sheet and column, rows in order, to be asked for by area."""

    def __init__(self) -> None:
        self._columns: dict[int, dict[int, Sequence[int]]] = defaultdict(dict)
        self._grown: dict[tuple[int, int], list[int]] = {}
        self._near: dict[tuple[int, int], tuple[Reading, ...]] = {}

    def add_set(self, sheet: int, cells: CellSet) -> None:
        """Add the first cells of a sheet."""
        self._columns[sheet] = dict(cells.rows_of)

    def add(self, sheet: int, places: Collection[Place]) -> None:
        """Add some cells of a sheet."""
        for row, column in sorted(places):
            rows = self._grown.get((sheet, column))
            if rows is None:
                rows = list(self._columns[sheet].get(column, ()))
                self._columns[sheet][column] = self._grown[sheet, column] = rows
                self._near.clear()
            if not rows or rows[-1] < row:
                rows.append(row)
            elif not within(rows, row, row):
                insort(rows, row)

    def meets(self, reading: Reading, rows: int = 0, columns: int = 0) -> bool:
        """Whether a changed cell lies in an area, moved by so many rows and columns."""
        known = self._columns.get(reading.sheet)
        if not known:
            return False
        top, left, bottom, right = reading.area
        moves = reading.moves
        left, right = left + columns * moves[1], right + columns * moves[3]
        if left == right:
            near = [known[left]] if left in known else []
        elif right - left < len(known):
            near = [known[item] for item in range(left, right + 1) if item in known]
        else:
            near = [column_rows for column, column_rows in known.items() if left <= column <= right]
        if not near:
            return False
        top, bottom = top + rows * moves[0], bottom + rows * moves[2]
        return any(within(column_rows, top, bottom) for column_rows in near)

    def reach(self, formula: _Formula) -> bool:
        """Whether a formula reads a changed cell that it names."""
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
        known = self._columns.get(reading.sheet, {})
        return any(left <= column <= right for column in known)


def _book(package: Package, listed: tuple[SheetPart, ...]) -> Book:
    tables: dict[str, tuple[int, Area]] = {}
    for sheet in listed:
        for part in related_parts(package, sheet.part, "table") if sheet.part else ():
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
    formulas = []
    for item in sheet.formulas():
        place = (item.row, item.column)
        if item.kind == "dataTable":
            # its inputs, and the formulas that it repeats, are on its own sheet
            reads, origin = whole_sheets([position]), place
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
        formulas.append(_Formula(position, place, (areas or ((*place, *place),))[0], reads, origin))
    return formulas


def _dependent(formulas: list[_Formula], changed: _ChangedCells) -> list[_Formula]:
    """Formulas that rest on a changed cell, directly or through other formulas."""
    # Passes run forwards and backwards in turn, so that a running total needs one pass in either
    # direction. After many passes the rest counts as dependent, which is never wrong, only slow.
    dependents: list[_Formula] = []
    waiting = formulas
    for _ in range(MAX_ROUNDS):
        left = []
        for formula in waiting:
            if changed.reach(formula):
                dependents.append(formula)
                changed.add(formula.sheet, _places(formula))
            else:
                left.append(formula)
        if len(left) == len(waiting):
            return dependents
        waiting = left[::-1]
    return dependents + waiting


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
        changed cell, nothing in the package changes, except that a workbook without any other
        formula no longer asks for a calculation.
    """
    listed = sheets(package)
    fresh = {
        sheet.position: _as_set(changed[sheet.name]) for sheet in listed if sheet.name in changed
    }
    if not any(fresh.values()):
        return 0
    book, marks = _book(package, listed), _ChangedCells()
    for position, cells in fresh.items():
        marks.add_set(position, cells)
    waiting = {
        sheet.position: sheet_formulas
        for sheet in listed
        if sheet.name not in fresh_sheets
        and (sheet_formulas := formula_sheet(package, sheet)) is not None
    }
    formulas = [
        formula
        for at, sheet_formulas in waiting.items()
        for formula in _formulas(sheet_formulas, at, book)
    ]
    stale: dict[int, list[Place]] = defaultdict(list)
    dependent = _dependent(formulas, marks)
    opaque = [formula for formula in formulas if formula.reads.everything]
    if opaque and (dependent or _may_reach(package, listed, opaque, fresh)):
        # they may read any cell: of a changed sheet, or one that rests on such a sheet
        known = {id(formula) for formula in dependent}
        more = [formula for formula in opaque if id(formula) not in known]
        for formula in more:
            marks.add(formula.sheet, _places(formula))
        known |= {id(formula) for formula in more}
        rest = [formula for formula in formulas if id(formula) not in known]
        dependent += [*more, *_dependent(rest, marks)]
    for formula in dependent:
        fresh_cells = fresh.get(formula.sheet, CellSet())
        stale[formula.sheet] += [place for place in _places(formula) if place not in fresh_cells]
    total = 0
    for position, places in stale.items():
        total += waiting[position].drop(package, places)
    if total:
        ask_for_calculation(package)
    elif not waiting:
        # nothing in the workbook is left to calculate, so it need not ask to be saved
        _ask_for_no_calculation(package)
    refresh_caches(package, book, marks.meets)
    return total


def _may_reach(
    package: Package,
    listed: tuple[SheetPart, ...],
    opaque: Sequence[_Formula],
    changed: Collection[int],
) -> bool:
    """Whether opaque formulas may reach a changed sheet.

    They do where they are on one, or where a text of theirs, or of a cell of their own sheet or
    of one that they name, contains the name of one or a name or table that points into one.
    """
    near = {each.sheet for each in opaque} | {
        r.sheet for each in opaque for r in each.reads.readings
    }
    if near & set(changed):
        return True
    names = {sheet.name.casefold() for sheet in listed if sheet.position in changed}
    pointing = (item for item in defined_names(package) if points_into(item.text, names))
    names = names.union(item.name.casefold() for item in pointing)
    for sheet in listed:
        if sheet.position not in near or sheet.kind != "worksheet" or not sheet.part:
            continue
        try:
            grid = read_grid(package, sheet)
        except WorkbookError:
            return True  # too large to look through
        texts = {str(value) for value in grid.values.flat if isinstance(value, str)}
        folded = [text.casefold() for text in texts.union(grid.formulas.texts)]
        if any(name in text for text in folded for name in names):
            return True
    return False


def _as_set(places: Collection[Place]) -> CellSet:
    return places if isinstance(places, CellSet) else CellSet.of(places)


def _ask_for_no_calculation(package: Package) -> None:
    root = workbook_root(package)
    settings = child(root, "calcPr")
    if settings is not None and settings.get("fullCalcOnLoad") is not None:
        del settings.attrib["fullCalcOnLoad"]
        replace_tree(package, package.workbook_part, root)


def ask_for_calculation(package: Package) -> None:
    """Have every program calculate the whole workbook when it is opened."""
    root = workbook_root(package)
    workbook_child(root, "calcPr").set("fullCalcOnLoad", "1")
    replace_tree(package, package.workbook_part, root)
