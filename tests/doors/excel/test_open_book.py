"""The button in the spreadsheet program: save, close, fill the file, open it again.

`FakeApp` and `FakeBook` stand in for a spreadsheet program with one open workbook: they know its
file, what is typed and not saved yet, and which cell is selected. Nothing here ran in Excel.
"""

from dataclasses import dataclass, field
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from openpyxl import load_workbook

from tests.jobs.books import keyed, varied
from xlhelpers.doors.excel import open_book
from xlhelpers.doors.excel.open_book import AS_SAVED, MORE, MOST_LETTERS, fill_open_book, shorten
from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.package.zip.book_files import backup_names

TAB = "Field sheet"


@dataclass
class FakeApp:
    messages: list[str] = field(default_factory=list)
    opened: list["FakeBook"] = field(default_factory=list)
    cells: str = "$F$12"
    opens: bool = True

    @property
    def selection(self) -> Any:
        return SimpleNamespace(address=self.cells)

    @property
    def books(self) -> Any:
        return SimpleNamespace(open=self._open)

    def _open(self, path: str) -> "FakeBook":
        if not self.opens:
            raise RuntimeError("no more windows")
        self.opened.append(FakeBook(self, Path(path)))
        return self.opened[-1]

    def alert(self, message: str, title: str) -> None:
        self.messages.append(message)


class FakeBook:
    """An open workbook; its marker lies beside the file until it is closed."""

    def __init__(self, app: FakeApp, path: Path, place: str | None = None) -> None:
        self.app, self.path, self.name = app, path, path.name
        self.fullname = str(path) if place is None else place
        self.typed: dict[str, Any] = {}
        self.events: list[str] = []
        self.chosen: tuple[str, str] | None = None
        self.api = SimpleNamespace(ReadOnly=False)
        self.marker.write_bytes(b"somebody")
        names = load_workbook(path, read_only=True).sheetnames if path.suffix == ".xlsx" else []
        self._sheets = {name: SimpleNamespace(name=name, **self._acts(name)) for name in names}

    @property
    def marker(self) -> Path:
        return self.path.with_name(f"~${self.name}")

    def _acts(self, name: str) -> dict[str, Any]:
        def choose(cells: str) -> Any:
            return SimpleNamespace(select=lambda: setattr(self, "chosen", (name, cells)))

        return {"activate": lambda: setattr(self, "chosen", (name, "")), "range": choose}

    @property
    def sheets(self) -> Any:
        books = self

        class Sheets(dict[str, Any]):
            active = books._sheets.get(TAB)

            def __iter__(self) -> Any:
                return iter(self.values())

        return Sheets(self._sheets)

    def save(self) -> None:
        self.events.append("saved")
        if self.typed:
            book = load_workbook(self.path)
            for cell, value in self.typed.items():
                book[TAB][cell] = value
            book.save(self.path)

    def close(self) -> None:
        self.events.append("closed")
        self.marker.unlink()


@pytest.fixture
def book(tmp_path: Path) -> FakeBook:
    return FakeBook(FakeApp(), keyed(tmp_path / "town.xlsx", varied(3)))


def test_a_fill_saves_closes_fills_and_opens_at_the_same_cell(book: FakeBook) -> None:
    result = fill_open_book(book)
    assert result.done
    assert book.events == ["saved", "closed"]
    again = book.app.opened[0]
    assert again.path == book.path
    assert again.chosen == (TAB, "$F$12")
    assert set(RESULT_TABS.values()) <= {sheet.name for sheet in again.sheets}
    assert book.app.messages == [result.message]


def test_the_way_back_comes_first(book: FakeBook) -> None:
    before = book.path.read_bytes()
    first_line = fill_open_book(book).message.splitlines()[0]
    backups = [path for path in backup_names(book.path) if path.name in first_line]
    assert len(backups) == 1
    assert backups[0].read_bytes() == before


def test_what_was_typed_and_not_saved_is_saved_first(book: FakeBook) -> None:
    book.typed = {"GZ4": "typed just now"}
    assert fill_open_book(book).done
    assert load_workbook(book.path, read_only=True)[TAB]["GZ4"].value == "typed just now"


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ("https://cloud.example/team/town.xlsx", "on this computer"),
        ("Book1", "was never saved"),
        ("/somewhere/town.xls", "Save it as .xlsx"),
    ],
)
def test_what_cannot_be_filled_is_said_before_anything_is_closed(
    book: FakeBook, place: str, words: str
) -> None:
    book.fullname = place
    result = fill_open_book(book)
    assert not result.done
    assert words in result.message
    assert book.events == []


def test_a_workbook_for_reading_only_is_not_closed(book: FakeBook) -> None:
    book.api.ReadOnly = True
    assert "reading only" in fill_open_book(book).message
    assert book.events == []


def test_a_fill_that_fails_brings_the_workbook_back(book: FakeBook) -> None:
    damaged = load_workbook(book.path)
    for name in damaged.sheetnames:
        if name != "Guide":
            del damaged[name]
    damaged.save(book.path)
    before = book.path.read_bytes()
    result = fill_open_book(book)
    assert not result.done
    assert result.message.endswith(AS_SAVED)
    assert book.path.read_bytes() == before
    assert [again.path for again in book.app.opened] == [book.path]


def test_an_error_of_the_program_brings_the_workbook_back(
    book: FakeBook, monkeypatch: pytest.MonkeyPatch
) -> None:
    def stumble(*_: object) -> None:
        raise KeyError("foot")

    monkeypatch.setattr(open_book, "_run", stumble)
    assert not fill_open_book(book).done
    assert [again.path for again in book.app.opened] == [book.path]


def test_a_workbook_that_cannot_be_opened_again_is_named(book: FakeBook) -> None:
    book.app.opens = False
    message = fill_open_book(book).message
    assert message.startswith("The workbook is closed")
    assert str(book.path) in message


def test_a_tab_that_is_gone_is_no_error(book: FakeBook, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(open_book, "_find_place", lambda *_: ("By crew", "$A$1"))
    assert fill_open_book(book).done
    assert book.app.opened[0].chosen is None


def test_a_long_message_ends_with_a_whole_sentence() -> None:
    sentences = [f"Sentence {number} says something of note." for number in range(60)]
    text = shorten(sentences)
    assert len(text) <= MOST_LETTERS
    assert text.splitlines()[-1] == MORE
    assert text.splitlines()[:-1] == sentences[: text.count("\n")]
    assert shorten(sentences[:2]) == "\n".join(sentences[:2])
