"""What the extension is made of: the entries, the files, the Basic functions, the process."""

from __future__ import annotations

import ast
import inspect
import json
import re
import subprocess
import sys
import time
from pathlib import Path
from xml.etree import ElementTree

import pytest

import xlhelpers
from tests.town import TOWN
from xlhelpers.doors.command_line.main import COMMANDS, load_command
from xlhelpers.doors.command_line.parser import parse
from xlhelpers.doors.excel import functions
from xlhelpers.doors.libreoffice.basic_module import FIRST_LINE, module_text
from xlhelpers.doors.libreoffice.extension import INSIDE, parts, settings
from xlhelpers.doors.libreoffice.inside import child
from xlhelpers.doors.libreoffice.menu import CHANGE_THE_BOOK, MORE, entries
from xlhelpers.doors.libreoffice.programs import Office, is_running
from xlhelpers.jobs.catalog import NAMES
from xlhelpers.jobs.option_names import name_by_labels

ENTRIES = {entry["name"]: entry for entry in entries()}
ROOT = Path(xlhelpers.__file__).parents[1]
SETTINGS = {"python": sys.executable, "folder": str(ROOT)}
# the oldest Python that comes with an office whose extension this is
OLDEST = (3, 8)


@pytest.mark.parametrize("name", ENTRIES)
def test_the_command_line_understands_each_entry(name: str) -> None:
    entry = ENTRIES[name]
    words = {"{book}": "town.xlsx", "{out}": "out.xlsx"}
    arguments = [words.get(word, word) for word in entry["arguments"]] or [name]
    job, options = parse(COMMANDS, load_command, arguments)
    assert job.run
    given = options.get("book") or options.get("books")
    assert entry["opens_window"] or str(given).count("town.xlsx") == 1
    assert bool(entry["out"]) == ("{out}" in entry["arguments"])
    assert entry["asks_for_name"] == (name == "new")


def test_the_menu_has_what_a_clerk_does_with_one_workbook_in_the_order_of_the_work() -> None:
    first = [entry["arguments"][0] for entry in entries() if not entry["opens_window"]]
    assert set(first) >= {"new", "paper", "fill", "check", "instruments", "report", "export"}
    assert "paper-measure_again" in ENTRIES
    # more than one workbook, or a choice that nobody can make for them
    assert not {"compare", "merge", "change", "plan", "launcher"} & set(first)
    assert [NAMES.index(name) for name in first] == sorted(NAMES.index(name) for name in first)
    assert ("restore" in NAMES) == ("restore" in first)
    assert ("window" in COMMANDS) == (entries()[-1]["name"] == "window")


@pytest.mark.parametrize("name", [name for name in ENTRIES if name != "window"])
def test_a_message_names_options_as_a_form_does(name: str) -> None:
    arguments = [word.replace("{out}", "out.xlsx") for word in ENTRIES[name]["arguments"]]
    job, _ = parse(COMMANDS, load_command, arguments)
    named = {one.on_command_line for one in job.options if not one.positional}
    assert set(ENTRIES[name]["labels"]) == named
    for option, label in ENTRIES[name]["labels"].items():
        assert name_by_labels(f"Use {option}.", job.options) == f"Use {label}."


def test_each_option_with_an_entry_of_its_own_is_one() -> None:
    for job, option, value in MORE:
        name = "-".join(filter(None, (job, option, value)))
        assert (name in ENTRIES) == (job in NAMES)
    assert {one for one in CHANGE_THE_BOOK if one.split("-")[0] in NAMES} <= set(ENTRIES)


def test_the_files_are_sound_and_what_runs_inside_is_for_an_old_python() -> None:
    made = parts()
    for name, text in made.items():
        if name.endswith((".xml", ".xcu")):
            ElementTree.fromstring(text.encode())
        if name.endswith(".py"):
            ast.parse(text, name, feature_version=OLDEST)
    listed = re.findall(r'full-path="([^"]+)"', made["META-INF/manifest.xml"])
    assert set(listed) <= set(made)
    assert f"{INSIDE}/child.py" in made
    titles = re.findall(r'"Title"[^>]*><value[^>]*>([^<]*)<', made["Addons.xcu"])
    assert titles[1:] == [entry["label"] for entry in entries()]
    # the office sorts the entries by the names of their nodes
    nodes = re.findall(r'<node oor:name="(m\d\d\w)"', made["Addons.xcu"])
    assert nodes == sorted(set(nodes))
    assert json.loads(made["settings.json"]) == settings()


@pytest.mark.parametrize("path", [*(ROOT / INSIDE).glob("*.py"), ROOT / INSIDE / "../driver.py"])
def test_what_runs_inside_needs_the_standard_library_and_uno_alone(path: Path) -> None:
    tree = ast.parse(path.read_text(encoding="utf-8"), feature_version=OLDEST)
    names = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            names |= {one.name for one in node.names}
        elif isinstance(node, ast.ImportFrom):
            names.add(str(node.module))
    inside = INSIDE.replace("/", ".")
    others = {name.split(".")[0] for name in names if not name.startswith(inside)}
    assert others <= {*sys.stdlib_module_names, "uno", "unohelper", "com"}


def test_the_basic_functions_have_the_names_and_arguments_of_those_in_excel() -> None:
    text = module_text()
    assert text.startswith(FIRST_LINE)
    declared = dict(re.findall(r"^Function (\w+)\(([^)]*)\)", text, re.M))
    assert set(declared) == set(functions.__all__)
    for name, arguments in declared.items():
        expected = list(inspect.signature(getattr(functions, name)).parameters)
        assert arguments.replace("Optional ", "").split(", ") == expected
    assert max(map(len, text.splitlines())) < 255  # a line of Basic


def test_an_environment_without_the_settings_of_the_office() -> None:
    around = {"PYTHONPATH": "x", "pythonhome": "y", "URE_BOOTSTRAP": "z", "PATH": "p"}
    alone = {"python": "python", "folder": ""}
    assert child.own_environment(alone, around) == {"PATH": "p"}
    with_folder = child.own_environment(alone | {"folder": "f"}, around)
    assert with_folder == {"PATH": "p", "PYTHONPATH": "f"}


def test_a_job_that_takes_too_long_is_stopped(tmp_path: Path) -> None:
    seen: list[float] = []
    began = time.monotonic()
    ended = child.run(SETTINGS, ["check", str(TOWN)], str(tmp_path), 0.1, seen.append)
    assert ended.code is None
    assert seen
    assert time.monotonic() - began < 6


def test_a_module_in_the_folder_of_the_workbook_is_not_run(tmp_path: Path) -> None:
    (tmp_path / "numpy.py").write_text("raise SystemExit('not this one')")
    ended = child.run(SETTINGS, ["check", str(TOWN)], str(tmp_path), 60, lambda seconds: None)
    assert (ended.code, ended.errors) == (1, "")


def test_the_helper_answers_whatever_it_is_asked() -> None:
    asked = [
        ["height_above_foot", [50, -4, 20, "percent", None]],
        ["crown_depth", [[[12], [None], ["x"]], 4]],
        ["crown_depth", [1]],
        ["__import__", ["os"]],
    ]
    process = subprocess.run(
        [sys.executable, "-m", "xlhelpers.doors.libreoffice.helper"],
        input="".join(json.dumps(one) + "\n" for one in asked),
        capture_output=True,
        text=True,
        check=True,
        cwd=ROOT,
    )
    _ready, height, rows, missing, unknown = map(json.loads, process.stdout.splitlines())
    assert height == [pytest.approx(10.8)]
    assert rows == [[[8.0], [""], ["crown_top: 'x' is not a number"]]]
    assert missing == ["crown_depth: arguments are missing"]
    assert unknown[0].startswith("xlhelpers does not know __import__.")


def test_a_mark_without_a_process_is_no_running_office(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    programs = "xlhelpers.doors.libreoffice.programs"
    office = Office(Path("soffice"), Path("python"), tmp_path)
    monkeypatch.setattr(f"{programs}.has_process", lambda: True)
    assert not is_running(office)
    (tmp_path / ".lock").write_text("[Lockdata]")
    assert is_running(office)
    monkeypatch.setattr(f"{programs}.has_process", lambda: False)
    assert not is_running(office)
