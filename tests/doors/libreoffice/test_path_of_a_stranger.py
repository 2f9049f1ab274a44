"""A survey from a blank workbook to the council's PDF and back, by clicks in the menu of Calc."""

from __future__ import annotations

import os
import signal
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path

import openpyxl
import pytest

from tests.doors.libreoffice.conftest import Remote, wait_until
from tests.town import TOWN, town_outcome
from xlhelpers.doors.libreoffice.menu import TITLE
from xlhelpers.doors.libreoffice.programs import Office
from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.package.zip.book_files import backup_names

pytestmark = [pytest.mark.slow, pytest.mark.libreoffice]
_SETTLE = 0.3  # seconds
_TRIES = 3


class Clicks:
    """What a person does with the mouse in an office, and types into its dialogs."""

    def __init__(self, remote: Remote, display: str, log: Path) -> None:
        self.remote, self.log = remote, log
        self._environment = os.environ | {"DISPLAY": display}

    def do(self, *words: object) -> str:
        done = subprocess.run(
            ["xdotool", *map(str, words)],
            env=self._environment,
            capture_output=True,
            text=True,
            check=False,
        )
        time.sleep(_SETTLE)
        return done.stdout.strip()

    def go_to(self, window: str) -> None:
        """Go to a window by a part of its title; no program arranges the windows here."""
        search = ("search", "--onlyvisible", "--name", window)
        number = wait_until(lambda: self.do(*search)).splitlines()[0]
        self.do("windowfocus", "--sync", number)

    def click(self, name: str) -> None:
        """Click on what has a name: a menu, an entry, a button."""
        self.click_at(wait_until(lambda: self.remote.place(name)))

    def click_at(self, place: list[int]) -> None:
        self.do("mousemove", *place)
        self.do("click", 1)

    def choose(self, label: str, window: str) -> None:
        """Choose an entry of our menu in a window of Calc."""
        self.log.unlink(missing_ok=True)
        self.go_to(window)
        self.click(TITLE)
        self.click(label)

    def read_message(self) -> str:
        """Wait for the message of a job, and press OK."""
        wait_until(self.log.exists)
        wait_until(lambda: self.remote.place("OK"))
        # a click on a box that is only just being drawn is lost
        for _ in range(_TRIES):
            if place := self.remote.place("OK"):
                self.click_at(place)
        assert not self.remote.place("OK")
        return self.log.read_text(encoding="utf-8")


@pytest.fixture
def clicks(installed: tuple[Office, list[str]], log: Path, display: str) -> Iterator[Clicks]:
    """An office on a screen, and hands for it."""
    remote = Remote(installed[0], display)
    pid = remote.pid()
    yield Clicks(remote, display, log)
    os.killpg(pid, signal.SIGKILL)
    remote.end()


def test_the_path_of_a_stranger(clicks: Clicks, tmp_path: Path) -> None:
    """New, entered, filled, reported with a PDF, and back to yesterday: by clicks alone."""
    book, remote = tmp_path / "My town.xlsx", clicks.remote
    shown = [book.name.replace(" ", "%20")]
    remote.open("private:factory/scalc")
    clicks.choose("New workbook …", "Calc")
    clicks.go_to("New workbook")
    clicks.do("key", "ctrl+a")
    clicks.do("type", "--delay", 5, book)
    clicks.do("key", "Return")
    assert f"Saved {book.name}." in clicks.read_message()
    wait_until(lambda: remote.names() == shown)
    assert "Guide" in remote.tabs(shown[0])
    # the clerk's days of typing
    remote.close_all()
    book.write_bytes(TOWN.read_bytes())
    remote.open(str(book))
    clicks.choose("Fill this workbook", book.name)
    heights = town_outcome().trees["total_height"].notna().sum()
    assert f"{heights} trees have a height." in clicks.read_message()
    assert set(RESULT_TABS.values()) <= set(openpyxl.load_workbook(book).sheetnames)
    clicks.choose("Council report", book.name)
    said = clicks.read_message()
    report = book.with_name("My town_report.pdf")
    assert report.name in said
    assert report.read_bytes().startswith(b"%PDF")
    # it is on the screen, as a workbook
    wait_until(lambda: len(remote.names()) == 2)
    clicks.go_to("My town_report.xlsx")
    clicks.do("key", "ctrl+w")
    wait_until(lambda: remote.names() == shown)
    clicks.choose("List backups", book.name)
    assert "It is from before the first fill." in clicks.read_message()
    filled = book.read_bytes()
    clicks.choose("Bring back the latest backup", book.name)
    assert "is again the latest backup" in clicks.read_message()
    assert book.read_bytes() == TOWN.read_bytes()
    assert backup_names(book)[1].read_bytes() == filled
    wait_until(lambda: remote.names() == shown)
    assert "Trees" not in remote.tabs(shown[0])
