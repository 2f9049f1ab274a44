"""A LibreOffice with the extension in a profile of its own; skipped where there is none."""

from __future__ import annotations

import json
import os
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.doors.window.screen import run_screen, skip_without
from xlhelpers.doors.libreoffice.programs import (
    Office,
    clean_environment,
    find_office,
)
from xlhelpers.doors.libreoffice.setup import install
from xlhelpers.errors import WorkbookError

SCRIPT = Path(__file__).with_name("remote.py")
PATIENCE = 120  # seconds


class Remote:
    """An office that a script drives: each method of the script is one of this object."""

    def __init__(self, office: Office, display: str = "") -> None:
        around = {name: text for name, text in clean_environment().items() if name != "DISPLAY"}
        if display:
            around |= {"DISPLAY": display, "SAL_USE_VCLPLUGIN": "gen"}
        self.process = subprocess.Popen(
            [office.python, SCRIPT, office.program, office.profile.as_uri()],
            env=around,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )
        assert self._answer() == "ready"

    def _answer(self) -> Any:
        assert self.process.stdout is not None
        answer = json.loads(self.process.stdout.readline())
        if isinstance(answer, dict) and set(answer) == {"error"}:
            raise AssertionError(answer["error"])
        return answer

    def __getattr__(self, name: str) -> Any:
        def ask(*arguments: Any, **options: Any) -> Any:
            assert self.process.stdin is not None
            self.process.stdin.write(json.dumps([name, arguments, options], default=str) + "\n")
            self.process.stdin.flush()
            return self._answer()

        return ask

    def end(self) -> None:
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.process.stdin.close()
        self.process.wait(60)
        self.process.stdout.close()


def office_on(profile: Path) -> Office:
    """LibreOffice with this profile; the test is skipped where it is missing, but not in CI."""
    try:
        return find_office(profile)
    except WorkbookError as error:
        if os.environ.get("CI") == "true":
            pytest.fail(str(error))
        pytest.skip(str(error))


def wait_until(reached: Callable[[], Any]) -> Any:
    """Wait until something is so, and return it."""
    end = time.monotonic() + PATIENCE
    while not (answer := reached()):
        assert time.monotonic() < end
        time.sleep(0.2)
    return answer


@pytest.fixture
def display() -> Iterator[str]:
    """A screen that nobody sees; skipped where it or its mouse and keyboard are missing."""
    skip_without("Xvfb", "xdotool")
    with run_screen() as name:
        yield name


@pytest.fixture(scope="session")
def installed(tmp_path_factory: pytest.TempPathFactory) -> tuple[Office, list[str]]:
    """An office with the extension, and the sentences of its installation."""
    office = office_on(tmp_path_factory.mktemp("office") / "profile of Zoë")
    return office, install(office)


@pytest.fixture(scope="module")
def running(installed: tuple[Office, list[str]]) -> Iterator[Remote]:
    """That office, running without a screen."""
    remote = Remote(installed[0])
    yield remote
    remote.end()


@pytest.fixture
def remote(running: Remote) -> Iterator[Remote]:
    """The running office without any document."""
    running.close_all()
    yield running
    running.close_all()


@pytest.fixture
def log(installed: tuple[Office, list[str]]) -> Path:
    """The file of the messages, empty before the test."""
    place = installed[0].log
    place.unlink(missing_ok=True)
    return place
