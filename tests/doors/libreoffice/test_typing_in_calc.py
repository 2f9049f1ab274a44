"""What is being typed when somebody chooses an entry of the menu, on a virtual screen."""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import threading
import time
from pathlib import Path

import openpyxl
import pytest

from tests.doors.libreoffice.conftest import PATIENCE, Remote, wait_until
from tests.town import TOWN
from xlhelpers.doors.libreoffice.programs import Office

pytestmark = [pytest.mark.slow, pytest.mark.libreoffice]


def test_what_is_being_typed_is_saved_and_filled(
    installed: tuple[Office, list[str]], log: Path, display: str, tmp_path: Path
) -> None:
    book = Path(shutil.copy(TOWN, tmp_path / "town.xlsx"))

    def press(*words: str) -> str:
        done = subprocess.run(
            ["xdotool", *words],
            env=os.environ | {"DISPLAY": display},
            capture_output=True,
            text=True,
            check=True,
        )
        return done.stdout.strip()

    remote = Remote(installed[0], display)
    pid = remote.pid()
    try:
        remote.open(str(book))
        remote.show("town.xlsx", "Field sheet", "F7", 5)
        window = press("search", "--sync", "--onlyvisible", "--name", "town.xlsx").splitlines()[0]
        press("windowfocus", "--sync", window)
        press("type", "55")
        time.sleep(1)
        assert remote.get("town.xlsx", "Field sheet", "F7") == [[30.8]]  # not yet in the cell
        choosing = threading.Thread(target=_choose, args=(remote,), daemon=True)
        choosing.start()
        wait_until(log.exists)  # the message is on the screen now, and waits for somebody
    finally:
        os.killpg(pid, signal.SIGKILL)
    choosing.join(PATIENCE)
    remote.end()
    assert openpyxl.load_workbook(book)["Field sheet"]["F7"].value == 55
    assert "Trees" in openpyxl.load_workbook(book).sheetnames


def _choose(remote: Remote) -> None:
    try:
        remote.choose("fill", "town.xlsx")
    except (AssertionError, ValueError):
        return  # the office was ended while it showed the message
