"""A screen that nobody looks at, and hands that click and type on it, for tests of the window.

Clicks and keys are those of the X server (xdotool): they take the way of a person's.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

if TYPE_CHECKING:
    import tkinter as tk

    from xlhelpers.doors.window.main_window import MainWindow

PROGRAMS = ("Xvfb", "xdotool")
_PATIENCE = 30.0
_SETTLE = 0.05


def skip_without_screen() -> None:
    """Skip where a screen for the window cannot be made; see ``skip_without``."""
    skip_without(*PROGRAMS, *([] if find_spec("_tkinter") else ["tkinter"]))


def skip_without(*names: str) -> None:
    """Skip where a program is missing; on the machine that checks every change, fail."""
    missing = [name for name in names if shutil.which(name) is None]
    if missing:
        message = f"{', '.join(missing)} not installed"
        if os.environ.get("CI") == "true":
            pytest.fail(message)
        pytest.skip(message)


@contextmanager
def run_screen(dots_per_inch: int = 96, size: str = "1280x900") -> Iterator[str]:
    """Start a virtual screen and yield its name."""
    read, write = os.pipe()
    command = ["Xvfb", "-displayfd", str(write), "-screen", "0", f"{size}x24"]
    command += ["-dpi", str(dots_per_inch), "-nolisten", "tcp"]
    server = subprocess.Popen(command, pass_fds=(write,), stderr=subprocess.DEVNULL)
    os.close(write)
    try:
        with os.fdopen(read) as stream:
            yield f":{stream.readline().strip()}"
    finally:
        server.terminate()
        server.wait()


class Hands:
    """What a person does at the window, and what is to be seen there."""

    def __init__(self, window: MainWindow, display: str) -> None:
        self.window = window
        self.root = window.root
        self._environment = os.environ | {"DISPLAY": display}
        self.root.geometry("+0+0")
        (self.root.focus_lastfor() or self.root).focus_force()
        self.look()

    def look(self, seconds: float = 0.0) -> None:
        """Let the window do what it has to do."""
        until = time.monotonic() + seconds
        while True:
            self.root.update()
            if time.monotonic() >= until:
                return
            time.sleep(0.01)

    def wait_for(self, what: Callable[[], Any], patience: float = _PATIENCE) -> Any:
        """Let the window go on until something is so."""
        until = time.monotonic() + patience
        while not (found := what()):
            assert time.monotonic() < until, f"waited in vain; it says: {self.said}"
            self.look(0.02)
        return found

    def do(self, *words: object) -> None:
        """Give a command to the X server, and let the window react."""
        subprocess.run(["xdotool", *map(str, words)], check=True, env=self._environment)
        self.look(_SETTLE)

    def click(self, widget: tk.Misc, x: int | None = None, y: int | None = None) -> None:
        """Click on a widget, in its middle unless stated."""
        self.look()
        assert widget.winfo_viewable(), widget
        x = widget.winfo_rootx() + (widget.winfo_width() // 2 if x is None else x)
        y = widget.winfo_rooty() + (widget.winfo_height() // 2 if y is None else y)
        self.do("mousemove", x, y, "click", 1)

    def press(self, *keys: str) -> None:
        """Press keys, such as Tab or alt+r, one after the other."""
        for key in keys:
            self.do("key", key)

    def type(self, text: str) -> None:
        """Type a text where the keys go."""
        self.do("type", "--delay", 1, text)

    def choose(self, label: str) -> None:
        """Click on an entry of the list of jobs."""
        entry = next(entry for entry in self.window.entries if entry.label == label)
        x, y, wide, high = self.window.list.bbox(entry.key)
        self.click(self.window.list, x + wide // 4, y + high // 2)
        assert self.window.title.cget("text") == label

    def field(self, label: str) -> Any:
        """Return a field of the form that is to be seen."""
        form = self.form
        return next(field for field in form.fields if field.option.label == label)

    @property
    def form(self) -> Any:
        """Return the form that is to be seen."""
        return next(form for form in self.window._forms.values() if form.winfo_viewable())

    def enter(self, label: str, text: object) -> None:
        """Click into a field, and type something in place of what is there."""
        self.click(self.field(label).keys_go_to)
        self.press("ctrl+a")
        self.type(str(text))

    def run(self, patience: float = 120.0) -> str:
        """Click on Run, wait until the job is done, and return what it says."""
        self.click(self.window.go)
        self.wait_for(lambda: self.window.job is None, patience)
        self.look()
        return self.said

    @property
    def said(self) -> str:
        """Return the sentences in the lower part of the window."""
        return self.window.result.sentences

    @property
    def state(self) -> str:
        """Return the line about the workbook, once it is there."""
        self.wait_for(lambda: self.window._looking is None)
        return str(self.window.state.cget("text"))

    def button(self, text: str) -> tk.Misc:
        """Return a button below the sentences by the start of its text."""
        buttons = self.window.result.buttons.winfo_children()
        return next(b for b in buttons if str(b.cget("text")).startswith(text))

    def keep_picture(self, path: Path) -> None:
        """Keep what is on the screen as a picture."""
        geometry = self.root.winfo_geometry().partition("+")[0]
        subprocess.run(
            ["import", "-window", "root", "-crop", f"{geometry}+0+0", "+repage", str(path)],
            check=True,
            env=self._environment,
        )
