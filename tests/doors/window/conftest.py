"""For the tests of the window: a screen, settings of their own, and a window on it."""

from __future__ import annotations

import gc
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.doors.window.screen import Hands, run_screen, skip_without_screen

Opener = Callable[..., Hands]


@pytest.fixture(scope="session")
def screen() -> Iterator[str]:
    """The name of a virtual screen."""
    skip_without_screen()
    with run_screen() as name:
        yield name


@pytest.fixture(autouse=True)
def own_settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Settings of the test alone: those of the person who runs it are never read or changed."""
    folder = tmp_path / "settings"
    for name in ("XDG_CONFIG_HOME", "APPDATA", "HOME"):
        monkeypatch.setenv(name, str(folder))
    return folder


@pytest.fixture
def open_window(screen: str, monkeypatch: pytest.MonkeyPatch) -> Iterator[Opener]:
    """A function that opens the window with workbooks and returns hands for it."""
    import tkinter as tk

    from xlhelpers.doors.window.main_window import MainWindow

    windows: list[MainWindow] = []

    def open_it(*books: Path, display: str = screen) -> Hands:
        monkeypatch.setenv("DISPLAY", display)
        windows.append(MainWindow(tk.Tk(), books))
        return Hands(windows[-1], display)

    yield open_it
    for window in windows:
        window.close()
    # here, and not by chance in another thread, where Tk does not allow it
    windows.clear()
    gc.collect()
