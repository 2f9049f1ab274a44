"""Cells of a worksheet gathered one by one, without building a tree.

The rows are searched as bytes. The sheet must consist of known pieces from end to end; where
anything else stands in it, nothing is read here and the XML parser reads the sheet instead.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

import numpy as np
from lxml import etree
from numpy.typing import NDArray

from xlhelpers.package.formulas.formula_map import FormulaCollector
from xlhelpers.package.parts.xml_text import MAIN, Element, descendants, is_true, local, parser
from xlhelpers.package.sheet import tag_scan
from xlhelpers.package.sheet.cell_set import CellSet
from xlhelpers.package.sheet.cell_text import is_filled, text_of, unescape
from xlhelpers.package.sheet.references import column_number, parse_cell
from xlhelpers.package.sheet.row_repeats import Run, take_out_repeats
from xlhelpers.package.sheet.sheet_bytes import middle, plain, whole_rows
from xlhelpers.package.sheet.tag_scan import Cells, Tags


@dataclass(frozen=True)
class CellError:
    """An error value in a cell, such as #N/A."""

    code: str


Value = float | str | bool | None | CellError
Integers = NDArray[np.int64]
Indices = NDArray[np.int64]
PORTION = 100_000


@dataclass(frozen=True)
class Portion:
    """Some cells: rows, columns, formats; and the positions of those with a value, and values."""

    rows: NDArray[np.int32]
    columns: NDArray[np.int32]
    styles: NDArray[np.int32]
    valued: NDArray[np.int32]
    values: NDArray[np.object_]


class CellCollector:
    """Cells gathered while the sheet streams by; small lists instead of a tree in memory."""

    def __init__(self, strings: list[str], from_1904: bool) -> None:
        """Start empty; `strings` are the shared strings of the workbook."""
        self.strings = strings
        self.epoch = datetime(1904, 1, 1) if from_1904 else datetime(1899, 12, 30)
        self._rows: list[int] = []
        self._columns: list[int] = []
        self._values: list[Value] = []
        self._styles: list[int] = []
        self._portions: list[Portion] = []
        self.formulas = FormulaCollector()
        self._uncalculated: list[tuple[NDArray[np.int32], NDArray[np.int32]]] = []
        self._uncalculated_here: list[tuple[int, int]] = []
        self.iso_dates: set[tuple[int, int]] = set()
        self.hidden: set[int] = set()
        self.filtered = False
        self.protected = False
        self.merges: list[str | None] = []
        self.letters: dict[str, int] = {}
        self.row = 0

    def take_row(self, element: Element) -> None:
        """Take one row element; a row without a number follows the one before."""
        number = element.get("r")
        self.row = int(number) if number else self.row + 1
        if is_true(element.get("hidden")):
            self.hidden.add(self.row)
        if len(self._rows) > PORTION:
            self._put_away()
        suffix = str(self.row)
        column = 0
        for cell in element:
            if local(cell) != "c":
                continue
            row, column = self._place(cell.get("r"), suffix, column)
            self._take_cell(cell, row, column)

    def add(
        self, rows: Integers, columns: Integers, styles: Integers, values: NDArray[np.object_]
    ) -> None:
        """Add many cells; small numbers and only those values that are there are kept."""
        self.add_filled(rows, columns, styles, values, np.flatnonzero(is_filled(values)))

    def add_filled(
        self,
        rows: Integers,
        columns: Integers,
        styles: Integers,
        values: NDArray[np.object_],
        valued: Indices,
    ) -> None:
        """Add many cells; it is known which of them hold a value."""
        # What lies outside any sheet is told later, by its number; the number must survive.
        places = [np.minimum(item, 2**31 - 1).astype(np.int32) for item in (rows, columns, styles)]
        self._portions.append(
            Portion(places[0], places[1], places[2], valued.astype(np.int32), values[valued])
        )

    def _put_away(self) -> None:
        values = np.empty(len(self._values), dtype=object)
        values[:] = self._values
        listed = (self._rows, self._columns, self._styles)
        rows, columns, styles = (np.array(item, dtype=np.int64) for item in listed)
        self.add(rows, columns, styles, values)
        for item in (*listed, self._values):
            item.clear()

    def add_uncalculated(self, rows: Integers, columns: Integers) -> None:
        """Add formulas without a result."""
        if len(rows):
            self._uncalculated.append((rows.astype(np.int32), columns.astype(np.int32)))

    def uncalculated(self) -> CellSet:
        """All formulas without a result."""
        here = np.array(self._uncalculated_here, dtype=np.int32).reshape(-1, 2)
        rows, columns = zip(*self._uncalculated, (here[:, 0], here[:, 1]), strict=True)
        return CellSet.of_arrays(np.concatenate(rows), np.concatenate(columns))

    def portions(self) -> list[Portion]:
        """All cells that were taken, in their order."""
        if self._rows:
            self._put_away()
        return self._portions

    def _place(self, name: str | None, suffix: str, column: int) -> tuple[int, int]:
        if name is None:
            return self.row, column + 1
        letters = name[: -len(suffix)]
        if name.endswith(suffix) and letters.isalpha():
            number = self.letters.get(letters)
            if number is None:
                number = self.letters[letters] = column_number(letters)
            return self.row, number
        return parse_cell(name)

    def _take_cell(self, cell: Element, row: int, column: int) -> None:
        text: str | None = None
        has_formula = False
        inline: Element | None = None
        for item in cell:
            kind = local(item)
            if kind == "v":
                text = item.text or ""
            elif kind == "f":
                has_formula = True
                self.formulas.add_one(row, column, item.text or "")
            elif kind == "is":
                inline = item
        kind = cell.get("t", "n")
        if has_formula and (text is None or (text == "" and kind != "str")):
            self._uncalculated_here.append((row, column))
        self._rows.append(row)
        self._columns.append(column)
        style = cell.get("s")
        self._styles.append(int(style) if style else 0)
        if inline is not None and kind == "inlineStr":
            self._values.append(text_of(inline))
        elif text is None or (text == "" and kind != "str"):
            self._values.append(None)
        else:
            self._values.append(self.value_of(kind, text, (row, column)))

    def value_of(self, kind: str, text: str, place: tuple[int, int]) -> Value:
        """Value of a cell of that type (the t attribute) from the text of its v element."""
        if kind == "n":
            return _number(text)
        if kind == "s":
            return self.strings[int(text)]
        if kind == "b":
            return text.strip() in ("1", "true")
        if kind == "e":
            return CellError(text)
        if kind == "d":
            days = _days(text, self.epoch)
            if days is not None:
                self.iso_dates.add(place)
                return days
        return unescape(text)


def _number(text: str) -> Value:
    try:
        number = float(text)
    except ValueError:
        return text
    # A file may spell infinity or not-a-number; no cell shows them as anything but an error.
    return number if -1e400 < number < 1e400 else CellError("#NUM!")


def _days(text: str, epoch: datetime) -> float | None:
    text = text.strip().removesuffix("Z")
    for kind in (datetime.fromisoformat, date.fromisoformat, time.fromisoformat):
        try:
            moment = kind(text)
        except ValueError:
            continue
        if isinstance(moment, time):
            return (moment.hour * 3600 + moment.minute * 60 + moment.second) / 86400
        if not isinstance(moment, datetime):
            moment = datetime(moment.year, moment.month, moment.day)
        return (moment.replace(tzinfo=None) - epoch) / timedelta(days=1)
    return None


_ROW_NUMBER = re.compile(rb'(?:^| )r="([1-9][0-9]{0,6})"')
_HIDDEN = re.compile(rb' hidden="([a-z0-9]+)"')
NOWHERE = (0, 0)


def scan(data: bytes, collector: CellCollector) -> bool:
    """Read a whole worksheet into the collector; False where it needs the XML parser.

    What it holds then is of no use. A sheet that was read here is well-formed.
    """
    bounds = middle(data)
    if bounds is None:
        return False
    start, end = bounds
    try:
        root = etree.fromstring(data[:start] + data[end:], parser())
        if root.tag != f"{{{MAIN}}}worksheet":
            return False
        if not all(_take_rows(piece, collector) for piece in whole_rows(data, start, end)):
            return False
    except (ValueError, IndexError, OverflowError, etree.XMLSyntaxError):
        # Some value is not what its type says; the parser tells what there is to be told.
        return False
    collector.merges += [item.get("ref") for item in descendants(root, "mergeCell")]
    collector.protected = any(
        is_true(item.get("sheet")) for item in descendants(root, "sheetProtection")
    )
    collector.filtered = next(descendants(root, "filterColumn"), None) is not None or any(
        is_true(item.get("filterMode")) for item in descendants(root, "sheetPr")
    )
    return True


def _take_rows(rows: bytes, collector: CellCollector) -> bool:
    """Read some rows; False where anything unusual stands among them."""
    rows = rows.strip()
    if not rows:
        return True
    rows, runs = take_out_repeats(rows)
    if not rows.isascii():
        rows.decode()
    tags = tag_scan.find_tags(rows)
    cells = None if tags is None else tag_scan.read_names(rows, tags)
    if tags is None or cells is None or not _take_hidden_rows(rows, tags, runs, collector):
        return False
    return _take_cells(_Rows(rows, tags), cells, runs, collector)


def _take_hidden_rows(rows: bytes, tags: Tags, runs: list[Run], collector: CellCollector) -> bool:
    """Note the hidden rows; False where a row has no number, or others repeat rows out of order."""
    at = (tags.kinds == tag_scan.ROW) | (tags.kinds == tag_scan.ROW_EMPTY)
    numbers, hidden = [], set()
    for start, end in zip(tags.begins[at].tolist(), tags.ends[at].tolist(), strict=True):
        attributes = rows[start + len(b"<row ") : end]
        number = _ROW_NUMBER.search(attributes)
        if number is None:
            return False
        numbers.append(int(number[1]))
        mark = _HIDDEN.search(attributes) if b"hidden" in attributes else None
        if mark is not None and is_true(mark[1].decode()):
            hidden.add(numbers[-1])
    hidden.update(*(run.repeats for run in runs if run.row in hidden))
    collector.hidden |= hidden
    return not runs or numbers == sorted(set(numbers))


class _Rows:
    """Some rows while their cells are taken: the texts of each kind of tag, and their cells."""

    def __init__(self, rows: bytes, tags: Tags) -> None:
        self._rows, self._tags = rows, tags
        self._opened = (tags.kinds == tag_scan.CELL) | (tags.kinds == tag_scan.CELL_EMPTY)
        self._cell_of_tag = np.cumsum(self._opened) - 1

    def owners(self, kind: int) -> Indices:
        """For each tag of a kind the cell, counted from 0, in which it stands."""
        cells: Indices = self._cell_of_tag[self._tags.kinds == kind]
        return cells

    def texts(self, kind: int) -> tuple[Indices, list[bytes]]:
        """The cells in which a tag of a kind has a text behind it, and these texts."""
        rows, (starts, ends) = self._rows, self._tags.spans(kind)
        at = np.flatnonzero(ends > starts)
        spans = zip(starts[at].tolist(), ends[at].tolist(), strict=True)
        return self.owners(kind)[at], [rows[start:end] for start, end in spans]

    def with_repeats(self, rows: Integers, runs: list[Run]) -> tuple[Indices, Integers]:
        """The cells and their rows with those of the rows that repeat a row behind them."""
        at, numbers = [np.arange(len(rows))], [rows]
        if runs:
            row_of_cell = np.cumsum(self._tags.kinds == tag_scan.ROW)[self._opened] - 1
            places = np.array([run.place for run in runs])
            bounds = np.searchsorted(row_of_cell, np.stack([places, places + 1])).T
        for run, (start, end) in zip(runs, bounds.tolist() if runs else (), strict=True):
            here = np.arange(start, end)
            at.append(np.tile(here, len(run.repeats)))
            numbers.append(np.repeat(run.repeats, len(here)))
        return np.concatenate(at), np.concatenate(numbers)


def _take_cells(rows: _Rows, cells: Cells, runs: list[Run], collector: CellCollector) -> bool:
    values = np.full(len(cells.rows), None, dtype=object)
    with_value = rows.owners(tag_scan.VALUE)
    written = np.concatenate([rows.owners(tag_scan.TEXT), rows.owners(tag_scan.TEXT_EMPTY)])
    if (
        (cells.kinds[with_value] == tag_scan.INLINE_TEXT).any()
        or (cells.kinds[rows.owners(tag_scan.VALUE_EMPTY)] == tag_scan.PLAIN_TEXT).any()
        or (cells.kinds[written] != tag_scan.INLINE_TEXT).any()
    ):
        return False
    # an empty text is a value, an empty number is none
    values[with_value[cells.kinds[with_value] == tag_scan.PLAIN_TEXT]] = ""
    values[written] = ""
    owners, texts = rows.texts(tag_scan.VALUE)
    kinds = cells.kinds[owners]
    for kind in np.flatnonzero(np.bincount(kinds)).tolist():
        here = np.flatnonzero(kinds == kind)
        kind_values = _values([texts[k] for k in here.tolist()], kind, collector)
        if kind_values is None:
            return False
        values[owners[here]] = kind_values
    owners, texts = rows.texts(tag_scan.TEXT)
    # Many texts stand in many cells: each is understood once and kept once.
    understood = {text: unescape(plain(text)) for text in set(texts)}
    values[owners] = _objects([understood[text] for text in texts])
    _collect(rows, cells, values, runs, collector)
    return True


def _collect(
    rows: _Rows,
    cells: Cells,
    values: NDArray[np.object_],
    runs: list[Run],
    collector: CellCollector,
) -> None:
    """Give the collector the cells that were read, and those of the rows that repeat a row."""
    at, numbers = rows.with_repeats(cells.rows, runs)
    columns, filled = cells.columns[at], is_filled(values)
    filled_cells = np.flatnonzero(filled[at])
    collector.add_filled(numbers, columns, cells.styles[at], values[at], filled_cells)
    owners, texts = rows.texts(tag_scan.FORMULA)
    text_of = np.full(len(values), -1)
    text_of[owners] = np.arange(len(texts))
    with_text = np.flatnonzero(text_of[at] >= 0)
    here = [texts[k] for k in text_of[at][with_text].tolist()]
    collector.formulas.add(numbers[with_text], columns[with_text], here)
    formula = np.zeros(len(values), dtype=bool)
    formula[rows.owners(tag_scan.FORMULA)] = formula[rows.owners(tag_scan.FORMULA_EMPTY)] = True
    without_text = np.flatnonzero((formula & (text_of < 0))[at])
    collector.formulas.add_blank(numbers[without_text], columns[without_text])
    calculated = filled
    calculated[rows.owners(tag_scan.TEXT)] = calculated[rows.owners(tag_scan.TEXT_EMPTY)] = False
    gone = np.flatnonzero((formula & ~calculated)[at])
    collector.add_uncalculated(numbers[gone], columns[gone])


def _objects(items: Sequence[object]) -> NDArray[np.object_]:
    objects = np.empty(len(items), dtype=object)
    objects[:] = items
    return objects


def _values(texts: list[bytes], kind: int, collector: CellCollector) -> NDArray[np.object_] | None:
    """Values of cells of one type; None where the XML parser has to tell what they are."""
    if kind == tag_scan.NUMBER:
        numbers = [float(text) if text else None for text in texts]
        finite = np.isfinite(np.array([n for n in numbers if n is not None]))
        return _objects(numbers) if finite.all() else None
    if kind == tag_scan.SHARED:
        strings = collector.strings
        return _objects([strings[int(text)] if text else None for text in texts])
    name = tag_scan.KINDS[kind].decode().rstrip('"')
    empty = "" if kind == tag_scan.PLAIN_TEXT else None
    return _objects(
        [collector.value_of(name, plain(text), NOWHERE) if text else empty for text in texts]
    )
