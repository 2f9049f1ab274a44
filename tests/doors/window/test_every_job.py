"""Every job of the demo by clicks, and a stranger's whole path. All of it takes long."""

from __future__ import annotations

import shutil
from pathlib import Path

import openpyxl
import pytest

from tests.doors.window.conftest import Opener
from tests.doors.window.screen import Hands
from tests.town import TOWN, filled_town, town_outcome
from xlhelpers.doors.window.steps import list_entries
from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.package.zip.book_files import backup_names

TITLES = [entry.label for entry in list_entries() if entry.job is not None]


@pytest.fixture
def town(tmp_path: Path) -> Path:
    book = tmp_path / "town.xlsx"
    book.write_bytes(filled_town())
    return book


def fill_in(hands: Hands, label: str, town: Path) -> None:
    """Type what a form cannot guess: the second workbook of jobs that compare."""
    other = Path(shutil.copy(TOWN, town.with_name("other.xlsx")))
    for field in hands.form.fields:
        if field.option.required and not field.read():
            hands.enter(field.option.label, other)
    if label == "Make an icon":
        hands.enter("Folder", town.parent)


@pytest.mark.slow
@pytest.mark.parametrize("label", TITLES)
def test_every_job_of_the_demo(open_window: Opener, town: Path, label: str) -> None:
    """Choose it, fill in what cannot be guessed, run it; what it made is there and is offered."""
    hands = open_window(town)
    hands.choose(label)
    fill_in(hands, label, town)
    if label == "Combine workbooks":
        hands.field("Workbooks").put((str(town), str(town.with_name("other.xlsx"))))
    if label == "Restore a backup":
        hands.choose("Fill workbooks")
        hands.run()
        hands.choose(label)
    before = {path: path.stat().st_mtime_ns for path in town.parent.rglob("*")}
    said = hands.run()
    assert said
    assert "The program " not in said
    assert "--" not in said
    after = {path: path.stat().st_mtime_ns for path in town.parent.rglob("*")}
    made = {path for path in after if before.get(path) != after[path] and path.is_file()}
    options = hands.window._entry.job.options if hands.window._entry else ()
    writes = [option for option in options if option.kind.startswith("new ") and option.required]
    if writes:
        assert made, said
        assert hands.window.result.buttons.winfo_children()


@pytest.mark.slow
@pytest.mark.libreoffice
def test_the_path_of_a_stranger(open_window: Opener, tmp_path: Path) -> None:
    """New, entered, filled, reported with a PDF, and back to yesterday: by clicks alone."""
    hands = open_window()
    hands.choose("New workbook")
    book = tmp_path / "My town.xlsx"
    hands.enter("Save as", book)
    assert f"Saved {book}" in hands.run()
    assert hands.window.name.cget("text") == book.name
    assert "No tree is entered yet." in hands.state
    # the clerk's days of typing
    book.write_bytes(TOWN.read_bytes())
    hands.root.event_generate("<FocusIn>")
    outcome = town_outcome()
    assert f"{len(outcome.open_findings)} findings open" in hands.state
    hands.choose("Fill workbooks")
    heights = outcome.trees["total_height"].notna().sum()
    assert f"{heights} trees have a height." in hands.run()
    assert hands.state.startswith("Filled ")
    assert set(RESULT_TABS.values()) <= set(openpyxl.load_workbook(book).sheetnames)
    hands.choose("Council report")
    said = hands.run(patience=300)
    printed = tmp_path / "My town_report.pdf"
    assert printed.read_bytes().startswith(b"%PDF"), said
    assert hands.button(f"Open {printed.name}")
    hands.choose("Restore a backup")
    assert "It is from before the first fill." in hands.run()
    hands.click(hands.field("Bring back").keys_go_to)
    hands.press("Down", "Down", "Return")
    assert hands.field("Bring back").read() == "latest"
    filled = book.read_bytes()
    assert "is again the latest backup" in hands.run()
    assert book.read_bytes() == TOWN.read_bytes()
    assert backup_names(book)[1].read_bytes() == filled
    assert hands.state.startswith("Not filled yet.")
