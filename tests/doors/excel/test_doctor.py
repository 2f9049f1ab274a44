"""Every trouble of a set-up on computers that are only described, and the sentence for it."""

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from tests.doors.excel.machines import REGISTRY, VERSIONS, machine, put
from xlhelpers.doors.command_line import main
from xlhelpers.doors.excel import doctor
from xlhelpers.doors.excel.about import page
from xlhelpers.doors.excel.doctor import (
    CHECKS,
    DISABLED,
    POLICY,
    PROGRAM,
    SECURITY,
    Verdict,
    examine,
    say,
)
from xlhelpers.doors.excel.machine import Machine, System, this_machine
from xlhelpers.doors.excel.setup import MACRO, OWN_FOLDER, change_settings, install

Make = Callable[[Machine, Path], Machine | None]


def with_registry(one: Machine, key: str, **values: object) -> Machine:
    return replace(one, registry=(REGISTRY | {key: values}).get)


def settle(one: Machine, old: str, new: str) -> None:
    text = one.settings_file.read_text()
    assert old in text
    one.settings_file.write_text(text.replace(old, new))


def mark(path: Path) -> None:
    put(path.with_name(f"{path.name}:Zone.Identifier"), b"[ZoneTransfer]\r\nZoneId=3\r\n")


def in_conda(one: Machine, folder: Path) -> Machine:
    put(folder / "miniconda3" / "conda-meta" / "history")
    return replace(one, python=put(folder / "miniconda3" / "python.exe"))


def on_one_drive(one: Machine, folder: Path) -> Machine:
    book = put(folder / "Cloud" / "town.xlsx")
    return replace(
        one, book=book, environment={"OneDrive": str(folder / "Cloud")} | dict(one.environment)
    )


STORE = r"C:\Program Files\WindowsApps\Microsoft.Office.Desktop\EXCEL.EXE"
# check, system, what is wrong with the computer, what must be said of it
TROUBLES: list[tuple[str, System, Make, str]] = [
    ("System", "linux", lambda m, _: m, "does not run"),
    ("Excel", "windows", lambda m, _: replace(m, registry={}.get), "does not know where"),
    (
        "Python",
        "windows",
        lambda m, _: replace(m, versions=VERSIONS | {"python": "3.9.1"}),
        "3.9.1",
    ),
    (
        "xlwings",
        "windows",
        lambda m, _: replace(m, versions=VERSIONS | {"xlwings": "0.30.1"}),
        "0.30.1",
    ),
    ("xlwings", "macos", lambda m, _: replace(m, versions={"python": "3.12.1"}), "not installed"),
    (
        "Python that xlwings starts",
        "windows",
        lambda m, _: m.python.unlink() or replace(m, python=Path("other")),
        "no longer exists",
    ),
    (
        "Python that xlwings starts",
        "macos",
        lambda m, f: replace(m, python=put(f / "new" / "python3")),
        "but xlhelpers is installed in",
    ),
    (
        "Python that xlwings starts",
        "windows",
        lambda m, _: m.settings_file.unlink(),
        "names no Python",
    ),
    ("Add-in", "windows", lambda m, _: m.add_in.unlink(), "is not there"),
    (
        "Add-in",
        "macos",
        lambda m, _: m.add_in.write_bytes(b"an older one") and None,
        "another version of xlwings, not 0.37.8",
    ),
    (
        "Functions",
        "windows",
        lambda m, _: settle(m, "xlhelpers.doors.excel.udfs", "budget"),
        "does not name",
    ),
    (
        "Functions",
        "windows",
        lambda m, _: settle(m, "xlhelpers.doors.excel.udfs", "budget;xlhelpers.excel.udfs"),
        "names xlhelpers.excel.udfs, from an earlier version",
    ),
    ("Macro", "windows", lambda m, _: (m.our_folder / MACRO).unlink(), "is not there"),
    (
        "Macro",
        "macos",
        lambda m, _: put(m.our_folder / MACRO, b"the macro before") and None,
        "from an earlier version",
    ),
    (
        "After an update",
        "windows",
        lambda m, _: replace(m, versions=VERSIONS | {"xlwings": "0.40.0"}),
        "0.37.8 is now 0.40.0",
    ),
    (
        "Python from the Store",
        "windows",
        lambda m, f: replace(m, python=put(f / "WindowsApps" / "python.exe")),
        "WindowsApps",
    ),
    (
        "Office from the Store",
        "windows",
        lambda m, _: with_registry(m, PROGRAM, **{"": STORE}),
        "WindowsApps",
    ),
    ("Access to macros", "windows", lambda m, _: with_registry(m, SECURITY), "switched off"),
    (
        "Access to macros",
        "windows",
        lambda m, _: with_registry(m, POLICY, AccessVBOM=0),
        "by a policy",
    ),
    (
        "Policy",
        "windows",
        lambda m, _: with_registry(m, POLICY, VBAWarnings=4),
        "all macros are switched off",
    ),
    ("Policy", "windows", lambda m, _: with_registry(m, POLICY, DisableAllAddins=1), "all add-ins"),
    (
        "Add-ins switched off",
        "windows",
        lambda m, _: with_registry(m, DISABLED, a=b"1", b=b"2"),
        "2 entries",
    ),
    ("Mark of the web", "windows", lambda m, _: mark(m.add_in), "xlwings.xlam"),
    ("Mark of the web", "windows", lambda m, _: mark(m.book or Path()), "town.xlsx"),
    ("OneDrive", "windows", on_one_drive, "town.xlsx"),
    (
        "OneDrive",
        "windows",
        lambda m, f: replace(m, book=put(f / "OneDrive - Town" / "a.xlsx")),
        "a.xlsx",
    ),
    (
        "OneDrive",
        "macos",
        lambda m, f: replace(m, book=put(f / "CloudStorage" / "a.xlsx")),
        "a.xlsx",
    ),
    ("Conda", "windows", in_conda, "environment base"),
    (
        "Script for macros",
        "macos",
        lambda m, _: (m.script_folder / m.script_name).unlink(),
        "is not in",
    ),
    (
        "Stray modules",
        "windows",
        lambda m, f: look_beside_the_book(m) or (put(f / "survey" / "struct.py") and None),
        "struct.py",
    ),
    (
        "Stray modules",
        "macos",
        lambda m, f: look_beside_the_book(m) or (put(f / "survey" / "numpy" / "a.py") and None),
        "numpy",
    ),
]


def look_beside_the_book(one: Machine) -> None:
    """Let Python look into the folder of the workbook, as the settings of somebody else may."""
    text = one.settings_file.read_text()
    one.settings_file.write_text(change_settings(text, {OWN_FOLDER: "True"}))


def test_modules_beside_the_workbook_do_no_harm_where_python_does_not_look(tmp_path: Path) -> None:
    one = installed(tmp_path, "windows")
    put(tmp_path / "survey" / "struct.py")
    assert found(one)["Stray modules"].state == "fine"


@pytest.mark.parametrize(("there", "state"), [(True, "fine"), (False, "look"), (None, "unseen")])
def test_the_reference_is_looked_for_in_the_workbook(
    there: bool | None, state: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(doctor, "has_reference", lambda *_: there)
    assert found(installed(tmp_path, "windows"))["Reference to xlwings"].state == state


def found(one: Machine) -> dict[str, Verdict]:
    return {looked.check.name: looked.verdict for looked in examine(one)}


def installed(folder: Path, system: System) -> Machine:
    one = machine(folder, system)
    if system != "linux":
        install(one)
    return one


@pytest.mark.parametrize(("name", "system", "spoil", "words"), TROUBLES)
def test_each_trouble_is_seen(
    name: str, system: System, spoil: Make, words: str, tmp_path: Path
) -> None:
    one = installed(tmp_path, system)
    if system != "linux":
        assert found(one)[name].state == "fine"
    spoilt = spoil(one, tmp_path) or one
    verdict = found(spoilt)[name]
    assert verdict.state == "look"
    assert words in verdict.detail
    action = next(check.action for check in CHECKS if check.name == name)
    assert action in "\n".join(say(spoilt, examine(spoilt)))


@pytest.mark.parametrize("system", ["windows", "macos"])
def test_nothing_to_look_at_on_a_computer_in_order(system: System, tmp_path: Path) -> None:
    one = installed(tmp_path, system)
    states = {name: verdict.state for name, verdict in found(one).items()}
    assert "look" not in states.values(), states
    assert say(one, examine(one))[-1].startswith("No problem was found.")
    assert f"not tried on {'Windows' if system == 'windows' else 'macOS'}" in say(one, [])[-1]


def test_one_problem_in_one_check_is_counted_in_the_singular(tmp_path: Path) -> None:
    one = installed(tmp_path, "linux")
    last = say(one, examine(one))[-1]
    assert last.startswith("1 problem in 1 check.")


def test_every_check_has_a_trouble_or_says_that_it_cannot_see() -> None:
    tried = {name for name, *_ in TROUBLES}
    others = {"Permission to control Excel", "Reference to xlwings"}
    assert {check.name for check in CHECKS} - tried == others
    for check in CHECKS:
        assert check.looks_for
        assert check.action.rstrip().endswith((".", "install", '"'))


def test_what_cannot_be_seen_is_said(tmp_path: Path) -> None:
    one = replace(installed(tmp_path, "macos"), book=None)
    assert found(one)["Permission to control Excel"].state == "unseen"
    look_beside_the_book(one)
    assert found(one)["Stray modules"].state == "unseen"
    assert "Automation" in "\n".join(say(one, examine(one)))


def test_a_check_that_fails_stops_no_other(tmp_path: Path) -> None:
    def broken(_: str) -> Any:
        raise OSError("no registry")

    one = replace(installed(tmp_path, "windows"), registry=broken)
    states = found(one)
    assert states["Policy"] == Verdict("unseen", "the check itself failed: no registry")
    assert states["Add-in"].state == "fine"


def test_the_doctor_changes_nothing(tmp_path: Path) -> None:
    one = installed(tmp_path, "windows")
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    examine(one)
    assert {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()} == before


def test_this_computer_can_be_looked_at(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    assert this_machine().versions["python"]
    assert main.main(["excel", "doctor", str(tmp_path / "none.xlsx")]) == 2
    assert "is not there" in capsys.readouterr().err


def test_the_page_names_the_places_of_this_computer(tmp_path: Path) -> None:
    one = machine(tmp_path)
    text = page(one)
    for place in (one.python, one.add_in, one.settings_file, one.our_folder):
        assert f"`{place}`" in text
    assert "{" not in text


def test_where_excel_does_not_run_the_page_names_the_places_of_both_systems(
    tmp_path: Path,
) -> None:
    text = page(machine(tmp_path, "linux"))
    for place in (
        r"`%APPDATA%\Microsoft\Excel\XLSTART\xlwings.xlam` on Windows",
        r"`%USERPROFILE%\.xlhelpers` on Windows, `~/.xlhelpers` on a Mac",
        "`~/Library/Application Scripts/com.microsoft.Excel`",
    ):
        assert place in text
    assert "Excel does not run on this system" in text
    assert str(tmp_path / "home") not in text
    assert "{" not in text
