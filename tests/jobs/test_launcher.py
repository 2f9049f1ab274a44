"""The icons onto which workbooks are dropped."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.jobs.books import keyed, varied
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
def test_the_script_fills_what_is_dropped_on_it(tmp_path: Path, system: str) -> None:
    book = keyed(tmp_path / "our town's trees.xlsx", varied(2))
    before = book.read_bytes()
    script = write_launcher(tmp_path, system)[0]
    done = subprocess.run([str(script), str(book)], input="\n", capture_output=True, text=True)
    assert "Saved" in done.stdout, done.stdout + done.stderr
    assert book.read_bytes() != before


@pytest.mark.skipif(os.name != "posix", reason="runs a shell script")
def test_a_path_dropped_into_the_window(tmp_path: Path) -> None:
    """A terminal writes a dropped path with backslashes before blanks, and a blank behind it."""
    book = keyed(tmp_path / "our town $(touch x).xlsx", varied(2))
    script = write_launcher(tmp_path, "macos")[0]
    dropped = str(book)
    for sign in " $()":
        dropped = dropped.replace(sign, "\\" + sign)
    done = subprocess.run(
        [str(script)], input=dropped + " \n\n", capture_output=True, text=True, cwd=tmp_path
    )
    assert "Saved" in done.stdout, done.stdout + done.stderr
    assert not (tmp_path / "x").exists()


def test_a_missing_folder_is_said(tmp_path: Path) -> None:
    with pytest.raises(WorkbookError, match="not a folder"):
        write_launcher(tmp_path / "nowhere")
    assert main(["launcher", str(tmp_path / "nowhere")]) == 2
