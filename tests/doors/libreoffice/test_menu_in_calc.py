"""The menu on a workbook that is open in Calc: each entry, and each reason to refuse."""

from __future__ import annotations

import functools
import http.server
import os
import shutil
import subprocess
import sys
import threading
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import openpyxl
import pytest

from tests.doors.libreoffice.conftest import Remote
from tests.town import TOWN, filled_town
from xlhelpers.doors.command_line.main import COMMANDS, load_command
from xlhelpers.doors.command_line.parser import parse
from xlhelpers.doors.libreoffice.menu import entries
from xlhelpers.doors.window.opening import address_of
from xlhelpers.fields.workbook import tab_name
from xlhelpers.jobs.option_names import name_by_labels
from xlhelpers.package.zip.book_files import backup_names

pytestmark = [pytest.mark.slow, pytest.mark.libreoffice]
ENTRIES = {
    entry["name"]: entry
    for entry in entries()
    if not entry["opens_window"] and not entry["asks_for_name"]
}
BOOK = "town.xlsx"
PLACE = ["Field sheet", "H40", 30]


@pytest.fixture
def book(tmp_path: Path) -> Path:
    folder = tmp_path / "survey of the Südstadt, 50 % done"
    folder.mkdir()
    return Path(shutil.copy(TOWN, folder / BOOK))


def sentences(arguments: list[str], folder: Path) -> list[str]:
    """What the command line says of the same job, without what is different every time."""
    done = subprocess.run(
        [sys.executable, "-m", "xlhelpers", *arguments],
        cwd=folder,
        capture_output=True,
        text=True,
        check=False,
        env=os.environ | {"PYTHONPATH": str(TOWN.parents[1])},
    )
    assert done.returncode in (0, 1), done.stderr
    return [line for line in done.stdout.splitlines() if "Seed" not in line]


@pytest.mark.parametrize("name", ENTRIES)
def test_each_entry_does_its_job_and_the_workbook_is_at_the_same_place(
    name: str, remote: Remote, book: Path, log: Path, tmp_path: Path
) -> None:
    entry = ENTRIES[name]
    if name.startswith("restore"):  # there is something to bring back
        sentences(["fill", BOOK], book.parent)
    before = book.read_bytes()
    shutil.copytree(book.parent, tmp_path / "other")
    remote.open(str(book))
    remote.show(BOOK, *PLACE)
    took = remote.choose(name, BOOK)
    print(f"{name}: {took:.1f} s")
    said = log.read_text(encoding="utf-8")
    title, *lines = said.strip().splitlines()
    assert title.endswith(entry["label"])
    out = f"town{entry['out']}"
    names = {"{book}": BOOK, "{out}": out}
    arguments = [names.get(one, one) for one in entry["arguments"]]
    options = parse(COMMANDS, load_command, arguments)[0].options
    said_there = sentences(arguments, tmp_path / "other")
    expected = [name_by_labels(line, options) for line in said_there]
    assert [line for line in expected if line not in lines] == []
    assert "--" not in said  # no name of the command line
    assert remote.view(BOOK) == PLACE
    assert remote.names() == sorted([BOOK, *([out] if out.endswith(".xlsx") else [])])
    if entry["out"]:
        assert (book.parent / out).exists()
    if not entry["changes_book"]:
        assert book.read_bytes() == before


def test_fill_saves_what_was_typed_and_keeps_the_previous_version(
    remote: Remote, book: Path, log: Path
) -> None:
    original = book.read_bytes()
    remote.open(str(book))
    assert len(remote.tabs(BOOK)) == 10
    remote.show(BOOK, *PLACE)
    remote.set(BOOK, "Field sheet", "F7", [[55]])
    took = remote.choose("fill", BOOK)
    print(f"store, close, fill, load: {took:.1f} s")
    assert remote.view(BOOK) == PLACE
    assert len(remote.tabs(BOOK)) == 18
    assert remote.get(BOOK, "Field sheet", "F7") == [[55]]
    filled = openpyxl.load_workbook(book)
    assert filled["Field sheet"]["F7"].value == 55
    assert "Trees" in filled.sheetnames
    first, latest = backup_names(book)
    for backup in (first, latest):
        assert backup.exists()
        assert backup.read_bytes() != original  # it has what was typed
    said = log.read_text(encoding="utf-8")
    assert f"The previous version is kept as {latest.name}." in said
    assert said.endswith(
        "Your last changes were saved first.\nUndo does not go back beyond this point.\n\n"
    )


def test_a_new_workbook_is_made_and_shown(remote: Remote, tmp_path: Path, log: Path) -> None:
    """A macro can name it; how somebody chooses the name is tested on a screen."""
    remote.open("private:factory/scalc")
    book = tmp_path / "Elm town"
    remote.choose("new", "", URL=book.as_uri())
    assert "Saved Elm town.xlsx." in log.read_text(encoding="utf-8")
    assert remote.names() == ["Elm%20town.xlsx"]
    assert remote.tabs("Elm town.xlsx")[0] == "Guide"
    remote.close_all()
    log.unlink()
    before = book.with_suffix(".xlsx").read_bytes()
    remote.open("private:factory/scalc")
    remote.choose("new", "", URL=book.as_uri())
    assert "already exists" in log.read_text(encoding="utf-8")
    assert remote.names() == [""]
    assert book.with_suffix(".xlsx").read_bytes() == before


def test_no_workbook_is_made_where_nobody_chooses_a_name(
    remote: Remote, tmp_path: Path, log: Path
) -> None:
    """Without a screen the dialog is closed at once, as by Cancel."""
    remote.open("private:factory/scalc")
    remote.choose("new", "")
    assert not log.exists()
    assert remote.names() == [""]


@pytest.mark.parametrize(
    ("content", "tab"), [(filled_town, "To check"), (TOWN.read_bytes, "Guide")]
)
def test_the_address_of_to_check_shows_that_tab(
    remote: Remote, book: Path, content: Callable[[], bytes], tab: str
) -> None:
    """A workbook that was never filled has no such tab; it opens where it was saved."""
    book.write_bytes(content())
    remote.open(address_of(book, tab_name("to_check")))
    assert remote.view(BOOK)[:2] == [tab, "A1"]


@pytest.mark.parametrize("name", ["town_report.xlsx", "town_report.pdf"])
def test_a_second_report_gets_a_name_of_its_own(remote: Remote, book: Path, name: str) -> None:
    (book.parent / name).write_bytes(b"mine")
    remote.open(str(book))
    remote.choose("report", BOOK)
    assert (book.parent / name).read_bytes() == b"mine"
    assert (book.parent / "town_report 2.xlsx").exists()
    assert (book.parent / "town_report 2.pdf").exists()


def test_a_fill_that_fails_brings_the_workbook_back(
    remote: Remote, tmp_path: Path, log: Path
) -> None:
    other = tmp_path / "other.xlsx"
    made = openpyxl.Workbook()
    made.active.title = "Mine; 1.5"
    made.active["B3"] = "kept"
    made.save(other)
    before = other.read_bytes()
    remote.open(str(other))
    place = ["Mine; 1.5", "B3:C4 E7", 2]
    remote.show("other.xlsx", *place)
    remote.choose("fill", "other.xlsx")
    assert remote.names() == ["other.xlsx"]
    assert remote.get("other.xlsx", "Mine; 1.5", "B3") == [["kept"]]
    assert remote.view("other.xlsx") == place
    assert other.read_bytes() == before
    remote.close_all()
    expected = subprocess.run(
        [sys.executable, "-m", "xlhelpers", "fill", "other.xlsx"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        check=False,
        env=os.environ | {"PYTHONPATH": str(TOWN.parents[1])},
    )
    assert expected.returncode == 2
    said = log.read_text(encoding="utf-8")
    for line in expected.stderr.splitlines():
        assert line.removeprefix("xlhelpers: ") in said


def refused(remote: Remote, name: str, log: Path, entry: str = "fill") -> str:
    """Choose an entry and return the message; nothing was closed."""
    open_before = remote.names()
    remote.choose(entry, name)
    assert remote.names() == open_before
    (message,) = log.read_text(encoding="utf-8").strip().split("\n\n")
    return message.partition("\n")[2]


def test_a_new_workbook_is_not_saved_yet(remote: Remote, log: Path) -> None:
    remote.open("private:factory/scalc")
    message = refused(remote, "", log)
    assert message.startswith("This workbook has never been saved. Choose File – Save As")


def test_another_file_type(remote: Remote, book: Path, log: Path) -> None:
    remote.open(str(book))
    remote.save_as(BOOK, str(book.with_suffix(".ods")), FilterName="calc8")
    message = refused(remote, "town.ods", log)
    assert message.startswith("town.ods is not an Excel workbook (.xlsx). Choose File – Save As")


def test_a_password(remote: Remote, book: Path, log: Path) -> None:
    locked = book.with_name("locked.xlsx")
    remote.open(str(book))
    remote.save_as(BOOK, str(locked), FilterName="Calc MS Excel 2007 XML", Password="oak")
    assert refused(remote, "locked.xlsx", log).startswith("locked.xlsx has a password.")
    remote.close_all()
    log.unlink()
    remote.open(str(locked), Password="oak")
    assert refused(remote, "locked.xlsx", log).startswith("locked.xlsx has a password.")


def test_opened_read_only(remote: Remote, book: Path, log: Path) -> None:
    remote.open(str(book), ReadOnly=True)
    message = refused(remote, BOOK, log)
    assert message == (
        "town.xlsx was opened read-only. Close it and open it again, or work on a copy."
    )


def test_a_read_only_workbook_can_be_read(remote: Remote, book: Path, log: Path) -> None:
    remote.open(str(book), ReadOnly=True)
    assert refused(remote, BOOK, log, "check") == "\n".join(sentences(["check", BOOK], book.parent))


def test_open_in_another_office(remote: Remote, book: Path, log: Path) -> None:
    marker = book.with_name(f".~lock.{BOOK}#")
    marker.write_text("Ada Elm,ada,elsewhere,01.06.2026 09:00,file:///home/ada/profile;")
    remote.open(str(book))
    message = refused(remote, BOOK, log)
    assert message.startswith("town.xlsx is also open elsewhere (by Ada Elm). Close it there")


def test_open_in_excel(remote: Remote, book: Path, log: Path) -> None:
    remote.open(str(book))
    book.with_name(f"~${BOOK}").write_bytes(b"")
    assert refused(remote, BOOK, log).startswith("town.xlsx is also open in Excel.")


def test_protected_structure(remote: Remote, book: Path, log: Path) -> None:
    remote.open(str(book))
    remote.protect(BOOK)
    message = refused(remote, BOOK, log)
    assert message.startswith("The structure of town.xlsx is protected, so no tabs can be added.")


def test_the_other_kind_of_xlsx_is_filled_too(remote: Remote, book: Path) -> None:
    remote.open(str(book))
    remote.save_as(BOOK, str(book), FilterName="Calc Office Open XML")
    remote.choose("fill", BOOK)
    assert len(remote.tabs(BOOK)) == 18


def test_a_file_that_is_gone(remote: Remote, book: Path, log: Path) -> None:
    remote.open(str(book))
    book.unlink()
    assert refused(remote, BOOK, log).startswith("town.xlsx is no longer in its folder.")


@pytest.fixture
def web(book: Path) -> Iterator[str]:
    """The address of the folder of the workbook on a server on this computer."""

    class Quiet(http.server.SimpleHTTPRequestHandler):
        def log_message(self, *words: Any) -> None:
            pass

    handler = functools.partial(Quiet, directory=str(book.parent))
    with http.server.ThreadingHTTPServer(("127.0.0.1", 0), handler) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        yield f"http://127.0.0.1:{server.server_port}"
        server.shutdown()


def test_a_workbook_on_the_web(remote: Remote, web: str, log: Path) -> None:
    remote.open(f"{web}/{BOOK}")
    message = refused(remote, BOOK, log)
    assert message.startswith(f"town.xlsx is not on this computer, but at {web}/town.xlsx.")
    assert "save it in a folder on this computer" in message
