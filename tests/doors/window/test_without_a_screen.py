"""What the window does on each system, and what it knows of the jobs; no screen is needed."""

import ast
import os
import sys
from pathlib import Path

import pytest

from xlhelpers.doors import window
from xlhelpers.doors.window.opening import open_with_system
from xlhelpers.doors.window.settings import last_folder, remember_folder, settings_file
from xlhelpers.doors.window.steps import AS_NEEDED, IN_ORDER, LOOK, list_entries
from xlhelpers.doors.window.suggestions import free_name
from xlhelpers.jobs.catalog import NAMES, load_job

FOLDERS = {
    "win32": ("APPDATA", "settings/xlhelpers/window.json"),
    "darwin": ("HOME", "settings/Library/Application Support/xlhelpers/window.json"),
    "linux": ("XDG_CONFIG_HOME", "settings/xlhelpers/window.json"),
}


@pytest.mark.parametrize("system", FOLDERS)
def test_settings_are_where_each_system_keeps_them(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, system: str
) -> None:
    """Known folders of Windows, the Library of macOS, and the XDG Base Directory Specification."""
    variable, place = FOLDERS[system]
    monkeypatch.setattr(sys, "platform", system)
    for name, _ in FOLDERS.values():
        monkeypatch.setenv(name, str(tmp_path / ("settings" if name == variable else "other")))
    assert settings_file() == tmp_path / place
    remember_folder(tmp_path)
    assert last_folder() == tmp_path


def test_settings_that_cannot_be_written_stop_nobody(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    (tmp_path / "file").write_bytes(b"")
    monkeypatch.setenv("XDG_CONFIG_HOME", str(tmp_path / "file"))
    remember_folder(tmp_path)
    assert last_folder() == Path.home()


def test_a_file_is_opened_as_each_system_does(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    file = tmp_path / "a.xlsx"
    assert "is not there any more" in open_with_system(file)
    file.write_bytes(b"")
    monkeypatch.setenv("PATH", str(tmp_path))
    assert "No program to open a.xlsx was found." in open_with_system(file)
    started = []
    monkeypatch.setattr(sys, "platform", "win32")
    monkeypatch.setattr(os, "startfile", started.append, raising=False)
    assert open_with_system(file) == ""
    assert started == [file]


def test_every_job_of_the_catalog_has_one_place() -> None:
    """A job with parts is there with each of them; paper is there for the list of the crew too."""
    entries = [entry for entry in list_entries() if entry.job is not None]
    parts = {(name, part.name) for name in NAMES for part in load_job(name).actions}
    plain = {(name,) for name in NAMES if not load_job(name).actions}
    assert {entry.path for entry in entries} == parts | plain
    assert len({entry.key for entry in entries}) == len(entries)
    assert len({entry.label for entry in entries}) == len(entries)


def test_the_table_names_options_that_there_are() -> None:
    for step in (*IN_ORDER, *AS_NEEDED):
        if step != LOOK:
            names = {option.name for option in load_job(step.job).options}
            assert {*step.fixed, *step.preset, *filter(None, [step.chosen])} <= names


def test_no_job_is_named_but_in_the_table() -> None:
    for path in Path(window.__path__[0]).glob("*.py"):
        if path.name == "steps.py":
            continue
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            assert not (isinstance(node, ast.Constant) and node.value in NAMES), path
            if isinstance(node, ast.ImportFrom):
                assert not str(node.module).startswith(tuple(f"xlhelpers.jobs.{n}." for n in NAMES))


def test_names_that_are_taken_get_a_number(tmp_path: Path) -> None:
    (tmp_path / "a_report.xlsx").write_bytes(b"")
    (tmp_path / "a_report_2.pdf").write_bytes(b"")
    assert free_name(tmp_path / "a_report.xlsx") == tmp_path / "a_report_3.xlsx"
