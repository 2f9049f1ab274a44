"""The icons that open the window."""

import os
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

from xlhelpers.doors.command_line.main import main
from xlhelpers.errors import WorkbookError
from xlhelpers.jobs.launcher.launcher import write_launcher


@pytest.mark.parametrize("system", ["windows", "macos", "linux"])
def test_each_system_gets_its_files(tmp_path: Path, system: str) -> None:
    made = write_launcher(tmp_path, system)
    assert all(path.exists() for path in made)
    assert sys.executable in made[0].read_text(encoding="utf-8")
    if system == "windows":
        assert b"\r\n" in made[0].read_bytes()


@pytest.mark.skipif(os.name != "posix", reason="runs a shell script")
@pytest.mark.parametrize("system", ["macos", "linux"])
def test_the_script_opens_the_window_with_what_is_dropped_on_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, system: str
) -> None:
    python = tmp_path / "python"
    python.write_text('#!/bin/sh\nprintf "%s\\n" "$@" > "$0.arguments"\n')
    python.chmod(0o755)
    monkeypatch.setattr(sys, "executable", str(python))
    dropped = [str(tmp_path / name) for name in ("our town's $(touch x) trees.xlsx", "b.xlsx")]
    script = write_launcher(tmp_path, system)[0]
    subprocess.run([str(script), *dropped], check=True, cwd=tmp_path)
    arguments = Path(f"{python}.arguments").read_text(encoding="utf-8").splitlines()
    assert arguments == ["-m", "xlhelpers", "window", *dropped]
    assert not (tmp_path / "x").exists()


@pytest.mark.skipif(shutil.which("gio") is None, reason="needs what file managers start icons with")
def test_the_icon_hands_over_what_a_file_manager_drops_on_it(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """GLib reads the icon and puts the dropped files in, as the file managers of desktops do."""
    python = tmp_path / "python"
    python.write_text('#!/bin/sh\nprintf "%s\\n" "$@" > "$0.arguments"\n')
    python.chmod(0o755)
    monkeypatch.setattr(sys, "executable", str(python))
    folder = tmp_path / "my desktop"
    folder.mkdir()
    icon = write_launcher(folder, "linux")[-1]
    dropped = [tmp_path / name for name in ("our town's trees.xlsx", "b.xlsm")]
    for book in dropped:
        book.touch()
    subprocess.run(["gio", "launch", icon, *dropped], check=True, cwd=tmp_path)
    arguments = Path(f"{python}.arguments")
    until = time.monotonic() + 20
    while not (arguments.exists() and arguments.read_text(encoding="utf-8").endswith("b.xlsm\n")):
        assert time.monotonic() < until
        time.sleep(0.05)
    found = arguments.read_text(encoding="utf-8").splitlines()
    assert found == ["-m", "xlhelpers", "window", *map(str, dropped)]


def test_the_file_for_windows_hands_over_what_is_dropped_on_it(tmp_path: Path) -> None:
    """Windows puts the dropped files, quoted, in place of %*."""
    lines = write_launcher(tmp_path, "windows")[0].read_text(encoding="utf-8").splitlines()
    (opens,) = [line.strip() for line in lines if "start " in line]
    assert opens.endswith(" -m xlhelpers window %*")


@pytest.mark.skipif(sys.platform != "linux", reason="runs without a screen")
def test_the_icon_says_what_is_missing(tmp_path: Path) -> None:
    """Without a terminal somebody must still see it: where zenity is, in a box of its own."""
    shows = tmp_path / "zenity"
    shows.write_text('#!/bin/sh\nprintf "%s\\n" "$@" > "$0.arguments"\n')
    shows.chmod(0o755)
    script = write_launcher(tmp_path, "linux")[0]
    environment = {name: text for name, text in os.environ.items() if name != "DISPLAY"}
    environment["PATH"] = f"{tmp_path}{os.pathsep}{environment['PATH']}"
    done = subprocess.run([str(script)], env=environment, capture_output=True, text=True)
    assert done.returncode == 2
    assert "The window" in done.stdout
    shown = Path(f"{shows}.arguments").read_text(encoding="utf-8")
    assert "Use the commands instead." in shown or "needs tkinter" in shown


def test_a_missing_folder_is_said(tmp_path: Path) -> None:
    with pytest.raises(WorkbookError, match="not a folder"):
        write_launcher(tmp_path / "nowhere")
    assert main(["launcher", str(tmp_path / "nowhere")]) == 2
