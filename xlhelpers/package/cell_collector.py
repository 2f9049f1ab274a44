"""Cells of a worksheet gathered one by one: places, values, formats and formulas."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

import numpy as np
from numpy.typing import NDArray

from xlhelpers.package.cell_set import CellSet
from xlhelpers.package.cell_text import text_of, unescape
from xlhelpers.package.formula_map import FormulaCollector
from xlhelpers.package.references import column_number, parse_cell
from xlhelpers.package.xml_text import Element, is_true, local


@dataclass(frozen=True)
class CellError:
    """An error value in a cell, such as #N/A."""

    code: str


Value = float | str | bool | None | CellError


Integers = NDArray[np.int64]
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
        valued = np.flatnonzero(values != None)  # noqa: E711 (compared one by one)
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
            found = self.letters.get(letters)
            if found is None:
                found = self.letters[letters] = column_number(letters)
            return self.row, found
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
