"""Stand-ins for a workbook that is open in the spreadsheet program.

`FakeBook` knows what a desktop engine knows: it saves copies, opens other workbooks and copies
their sheets. It has no way to save itself. `remote_data` gives a workbook as the remote engine of
xlwings takes it: values and names alone.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

from xlhelpers.package.parts.parts import defined_names, sheets
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.sheet.grid_scan import CellError
from xlhelpers.package.zip.container import Package

Cells = dict[tuple[int, int], Any]


def cells_of(path: Path) -> dict[str, Cells]:
    """Return what each sheet shows, by sheet and cell; blanks are left out."""
    package = Package.open(path)
    found = {}
    for part in sheets(package):
        values = read_grid(package, part).values
        found[part.name] = {
            (row, column): value.code if isinstance(value, CellError) else value
            for row, line in enumerate(values.tolist(), 1)
            for column, value in enumerate(line, 1)
            if value not in (None, "")
        }
    return found


def formulas_of(path: Path) -> dict[str, Cells]:
    """Return the formulas of each sheet, by sheet and cell."""
    package = Package.open(path)
    return {part.name: dict(read_grid(package, part).formulas) for part in sheets(package)}


def names_of(path: Path) -> dict[str, str]:
    """Return the names of the workbook with what they refer to."""
    package = Package.open(path)
    return {name.name: f"={name.text}" for name in defined_names(package) if not name.local_sheet}


def as_taken(value: Any) -> Any:
    """Return what a cell holds after a value was handed over."""
    if isinstance(value, str):
        assert value.startswith("'"), f"{value!r} could become a formula, a date or a number"
        return value[1:]
    return value


class FakeName:
    def __init__(self, book: FakeBook, name: str) -> None:
        self.book, self.name = book, name

    @property
    def refers_to(self) -> str:
        return self.book.defined[self.name]

    @refers_to.setter
    def refers_to(self, text: str) -> None:
        self.book.defined[self.name] = text


class FakeNames:
    def __init__(self, book: FakeBook) -> None:
        self.book = book

    def __iter__(self) -> Iterator[FakeName]:
        return iter([FakeName(self.book, name) for name in self.book.defined])

    def add(self, name: str, refers_to: str) -> None:
        assert name not in self.book.defined
        self.book.defined[name] = refers_to


class FakeRange:
    def __init__(self, sheet: FakeSheet, first: tuple[int, int], last: tuple[int, int]) -> None:
        self.sheet, self.first, self.last = sheet, first, last

    def _set(self, rows: Any, cells: Cells, *, formulas: bool) -> None:
        self.sheet.book.refuse_where_locked(self.sheet.name)
        if not isinstance(rows, list):
            rows = [[rows]]
        assert len(rows) == self.last[0] - self.first[0] + 1
        for down, line in enumerate(rows):
            assert len(line) == self.last[1] - self.first[1] + 1
            for right, value in enumerate(line):
                place = (self.first[0] + down, self.first[1] + right)
                self.sheet.book.written.append((self.sheet.name, *place))
                self.sheet.cells.pop(place, None)
                self.sheet.formulas.pop(place, None)
                if formulas:
                    assert value.startswith("=")
                    cells[place] = value[1:]
                elif value is not None:
                    cells[place] = as_taken(value)

    value = property(None, lambda self, rows: self._set(rows, self.sheet.cells, formulas=False))
    formula = property(None, lambda self, rows: self._set(rows, self.sheet.formulas, formulas=True))

    def clear_contents(self) -> None:
        for cells in (self.sheet.cells, self.sheet.formulas):
            for place in [p for p in cells if self.first[1] <= p[1] <= self.last[1]]:
                del cells[place]


class FakeSheet:
    names: tuple[()] = ()

    def __init__(self, book: FakeBook, name: str, cells: Cells, formulas: Cells) -> None:
        self.book, self._name, self.cells, self.formulas = book, name, cells, formulas

    @property
    def name(self) -> str:
        return self._name

    @name.setter
    def name(self, new: str) -> None:
        assert new.casefold() not in {s.name.casefold() for s in self.book.sheets if s is not self}
        for key, text in self.book.defined.items():
            self.book.defined[key] = text.replace(f"'{self._name}'!", f"'{new}'!")
        self._name = new

    def range(self, first: Any, last: Any = None) -> FakeRange:
        if isinstance(first, str):
            letters = re.fullmatch(r"([A-Z]):([A-Z])", first)
            assert letters is not None
            return FakeRange(self, (1, ord(letters[1]) - 64), (1_048_576, ord(letters[2]) - 64))
        return FakeRange(self, first, last or first)

    def clear_contents(self) -> None:
        self.cells.clear()
        self.formulas.clear()

    def copy(self, after: FakeSheet) -> FakeSheet:
        book = after.book
        taken = {sheet.name for sheet in book.sheets}
        name = self.name if self.name not in taken else f"{self.name} (copy)"
        new = FakeSheet(book, name, dict(self.cells), dict(self.formulas))
        book.sheets.insert(book.sheets.index(after) + 1, new)
        return new

    def delete(self) -> None:
        assert not self.book.app.display_alerts
        self.book.sheets.remove(self)

    def activate(self) -> None:
        self.book.sheets.active = self


class FakeSheets(list[FakeSheet]):
    active: FakeSheet
    book: FakeBook

    def __getitem__(self, key: Any) -> Any:
        if isinstance(key, str):
            return next(sheet for sheet in self if sheet.name == key)
        return super().__getitem__(key)

    def add(self, name: str, after: FakeSheet) -> FakeSheet:
        assert name.casefold() not in {sheet.name.casefold() for sheet in self}
        sheet = FakeSheet(self.book, name, {}, {})
        self.insert(self.index(after) + 1, sheet)
        return sheet


class FakeBook:
    """A workbook as if it were open; `path` is what a saved copy of it holds."""

    def __init__(self, path: Path) -> None:
        self.path, self.name = path, path.name
        self.sheets = FakeSheets()
        self.sheets.book = self
        values, formulas = cells_of(path), formulas_of(path)
        for name, cells in values.items():
            self.sheets.append(FakeSheet(self, name, cells, formulas[name]))
        self.sheets.active = self.sheets[0]
        self.defined = names_of(path)
        self.names = FakeNames(self)
        self.api = SimpleNamespace(SaveCopyAs=self._save_copy)
        self.app = SimpleNamespace(
            display_alerts=True, alert=self._alert, books=SimpleNamespace(open=self._open)
        )
        self.shown: list[str] = []
        self.written: list[tuple[str, int, int]] = []
        self.locked: set[str] = set()
        self.opened: list[FakeBook] = []

    def _save_copy(self, place: str) -> None:
        Path(place).write_bytes(self.path.read_bytes())

    def _open(self, place: str) -> FakeBook:
        self.opened.append(FakeBook(Path(place)))
        return self.opened[-1]

    def _alert(self, prompt: str, title: str) -> None:
        assert title
        self.shown.append(prompt)

    def refuse_where_locked(self, sheet: str) -> None:
        if sheet in self.locked:
            raise RuntimeError("(-2147352567, 'Exception occurred.')")

    def activate(self) -> None:
        pass

    def close(self) -> None:
        self.closed = True


def remote_data(path: Path, version: str) -> dict[str, Any]:
    """Return a workbook as the remote engine takes it."""
    package = Package.open(path)
    nothing = {key: [] for key in ("pictures", "shapes", "charts", "notes", "tables")}
    of_sheets = []
    for part in sheets(package):
        rows = read_grid(package, part).values.tolist()
        values = [
            [value.code if isinstance(value, CellError) else "" if value is None else value
             for value in row] for row in rows
        ]  # fmt: skip
        of_sheets.append(
            {"name": part.name, "visibility": "Visible", "values": values, "print_area": None}
            | {key: list(value) for key, value in nothing.items()}
        )
    names = [
        {
            "name": name,
            "refers_to": text,
            "sheet_index": 0,
            "address": "A1",
            "book_scope": True,
            "scope_sheet_name": None,
            "scope_sheet_index": None,
        }
        for name, text in names_of(path).items()
    ]
    book = {"name": path.name, "active_sheet_index": 0, "selection": "A1"}
    return {
        "client": "Office.js", "version": version, "book": book, "names": names,
        "sheets": of_sheets,
    }  # fmt: skip


def after_actions(path: Path, actions: list[dict[str, Any]]) -> dict[str, Cells]:
    """Return what the sheets show once the spreadsheet program has done what was asked."""
    cells = cells_of(path)
    order = list(cells)
    for action in actions:
        if action["func"] == "addSheet":
            position, name = action["args"]
            order.insert(position, name)
            cells[name] = {}
        elif action["func"] == "sheetClearContents":
            cells[order[action["sheet_position"]]] = {}
        elif action["func"] == "setValues":
            target = cells[order[action["sheet_position"]]]
            for down, row in enumerate(action["values"]):
                for right, value in enumerate(row):
                    place = (action["start_row"] + 1 + down, action["start_column"] + 1 + right)
                    target.pop(place, None)
                    if value != "":
                        target[place] = as_taken(value)
        else:
            assert action["func"] in ("namesAdd", "alert", "setNameRefersTo"), action["func"]
    return cells
