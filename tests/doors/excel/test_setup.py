"""Installing for Excel on computers that are only described: exact, repeatable, undone."""

import importlib
import re
from dataclasses import replace
from pathlib import Path

import pytest

from tests.doors.excel.machines import ADD_IN, machine, put
from xlhelpers.doors.excel.about import page
from xlhelpers.doors.excel.machine import Machine, System
from xlhelpers.doors.excel.setup import (
    MACRO,
    RECORD,
    change_settings,
    install,
    parse_settings,
    read_record,
    remove,
)
from xlhelpers.errors import WorkbookError

THEIRS = '"SHOW CONSOLE","True"\n"UDF MODULES","budget"\n"INTERPRETER_WIN","C:\\old\\python.exe"\n'


def files(folder: Path) -> dict[str, bytes]:
    found = (path for path in folder.rglob("*") if path.is_file())
    return {str(path.relative_to(folder)): path.read_bytes() for path in found}


def settings(one: Machine) -> dict[str, str]:
    return parse_settings(one.settings_file.read_text())


@pytest.mark.parametrize("text", ["install", "about", "README"])
def test_each_text_names_the_reference_and_says_how_the_macro_gets_its_button(
    text: str, tmp_path: Path
) -> None:
    one = machine(tmp_path, "windows")
    texts = {
        "install": lambda: "\n".join(install(one)),
        "about": lambda: page(one),
        "README": (Path(__file__).parents[3] / "README.md").read_text,
    }
    said = " ".join(texts[text]().split())
    assert "tick xlwings" in said
    assert "Tools > References" in said
    if text == "README":
        assert "put it on a button" in said
    else:
        assert "File > Options > Quick Access Toolbar" in said
        assert "FillOpenWorkbook" in said


@pytest.mark.parametrize("system", ["windows", "macos"])
def test_everything_in_its_place_and_gone_again(system: System, tmp_path: Path) -> None:
    one = machine(tmp_path, system)
    before = files(tmp_path)
    said = "\n".join(install(one))
    assert one.add_in.read_bytes() == ADD_IN
    assert b"FillOpenWorkbook" in (one.our_folder / MACRO).read_bytes()
    key = "INTERPRETER_MAC" if system == "macos" else "INTERPRETER_WIN"
    assert settings(one)[key] == str(one.python)
    assert settings(one)["UDF MODULES"] == "xlhelpers.doors.excel.udfs"
    assert settings(one)["ADD_WORKBOOK_TO_PYTHONPATH"] == "False"
    assert (one.script_folder / one.script_name).exists() is (system == "macos")
    assert str(one.our_folder / MACRO) in said
    remove(one)
    assert files(tmp_path) == before
    assert remove(one) == ["Nothing is installed."]


def test_a_second_time_changes_nothing(tmp_path: Path) -> None:
    one = machine(tmp_path)
    install(one)
    before = files(tmp_path)
    said = install(one)
    assert files(tmp_path) == before
    assert sum("already there" in sentence for sentence in said) == 3


@pytest.mark.parametrize("times", [1, 2])
def test_what_was_there_before_comes_back(tmp_path: Path, times: int) -> None:
    one = machine(tmp_path)
    put(one.settings_file, THEIRS.encode())
    put(one.add_in, b"an older add-in")
    before = files(tmp_path)
    for _ in range(times):
        install(one)
    assert settings(one)["UDF MODULES"] == "budget;xlhelpers.doors.excel.udfs"
    assert settings(one)["SHOW CONSOLE"] == "True"
    assert "ADD_WORKBOOK_TO_PYTHONPATH" not in settings(one)
    assert one.add_in.read_bytes() == ADD_IN
    remove(one)
    assert files(tmp_path) == before


def test_an_update_renews_and_is_undone_to_the_first_state(tmp_path: Path) -> None:
    one = machine(tmp_path)
    put(one.settings_file, THEIRS.encode())
    put(one.add_in, b"an older add-in")
    before = files(tmp_path)
    install(one)
    assert one.add_in_source is not None
    one.add_in_source.write_bytes(b"a newer add-in")
    newer = replace(one, python=put(tmp_path / "Python313" / "python.exe"))
    install(newer)
    assert one.add_in.read_bytes() == b"a newer add-in"
    assert settings(one)["INTERPRETER_WIN"] == str(newer.python)
    remove(newer)
    one.add_in_source.write_bytes(ADD_IN)
    newer.python.unlink()
    newer.python.parent.rmdir()
    assert files(tmp_path) == before


@pytest.mark.parametrize(
    ("old", "new", "left"),
    [
        ("xlhelpers.excel.udfs", "xlhelpers.doors.excel.udfs", None),
        ("budget;xlhelpers.excel.udfs", "budget;xlhelpers.doors.excel.udfs", "budget"),
        ("xlhelpers.excel.udfs;xlhelpers.doors.excel.udfs", "xlhelpers.doors.excel.udfs", None),
    ],
)
def test_the_module_name_of_an_earlier_version_is_replaced(
    tmp_path: Path, old: str, new: str, left: str | None
) -> None:
    """Excel would look for a module that no longer exists, now or after the removal."""
    one = machine(tmp_path)
    put(one.settings_file, f'"UDF MODULES","{old}"\n'.encode())
    install(one)
    assert settings(one)["UDF MODULES"] == new
    remove(one)
    remaining = settings(one) if one.settings_file.exists() else {}
    assert remaining.get("UDF MODULES") == left


def test_the_macro_of_an_earlier_version_is_replaced(tmp_path: Path) -> None:
    one = machine(tmp_path)
    macro = one.our_folder / MACRO
    put(macro, b"from xlhelpers.excel.open_book import fill_open_book")
    install(one)
    called = re.search(r"from (\S+) import (\w+)", macro.read_text())
    assert called is not None
    assert callable(getattr(importlib.import_module(called[1]), called[2]))


def test_a_record_of_an_earlier_version_is_understood(tmp_path: Path) -> None:
    one = machine(tmp_path)
    install(one)
    record = one.our_folder / RECORD
    record.write_text(record.read_text().replace('"saved_files": {}', '"kept": {"a": "b"}'))
    assert read_record(one).saved_files == {"a": "b"}


def test_what_somebody_changed_since_stays(tmp_path: Path) -> None:
    one = machine(tmp_path)
    install(one)
    one.add_in.write_bytes(b"their own add-in")
    others = {"UDF MODULES": "xlhelpers.doors.excel.udfs;budget", "INTERPRETER_WIN": "other"}
    one.settings_file.write_text(change_settings(one.settings_file.read_text(), others))
    said = "\n".join(remove(one))
    assert one.add_in.read_bytes() == b"their own add-in"
    assert "kept, because somebody changed it" in said
    assert settings(one) == {"UDF MODULES": "budget", "INTERPRETER_WIN": "other"}


def test_a_python_of_conda_is_named_with_its_environment(tmp_path: Path) -> None:
    base = tmp_path / "miniconda3"
    put(base / "envs" / "trees" / "conda-meta" / "history")
    one = machine(tmp_path, python=put(base / "envs" / "trees" / "python.exe"))
    install(one)
    held = settings(one)
    assert (held["CONDA PATH"], held["CONDA ENV"]) == (str(base), "trees")
    assert held["INTERPRETER_WIN"] == "python"


@pytest.mark.parametrize(
    ("other", "words"),
    [
        ({"system": "linux"}, "does not run on this system"),
        ({"versions": {"python": "3.12.4"}}, "xlwings is not installed"),
        ({"add_in_folder": None}, "xlwings is not installed"),
    ],
)
def test_what_stands_in_the_way_is_said(tmp_path: Path, other: dict, words: str) -> None:
    one = machine(tmp_path, **other)
    before = files(tmp_path)
    with pytest.raises(WorkbookError, match=words):
        install(one)
    assert files(tmp_path) == before


def test_a_folder_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    one = machine(tmp_path)
    put(one.startup_folder, b"a file where the folder should be")
    with pytest.raises(WorkbookError, match="Close Excel and try again"):
        install(one)
