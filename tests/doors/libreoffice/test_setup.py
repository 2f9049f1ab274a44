"""Installing into LibreOffice, looking over it and removing it, each in a profile of its own."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.doors.libreoffice.conftest import Remote, office_on
from tests.doors.libreoffice.test_cells_in_calc import helpers_of
from xlhelpers.doors.command_line.main import main
from xlhelpers.doors.libreoffice.basic_module import FIRST_LINE, MODULE, SERVICE
from xlhelpers.doors.libreoffice.doctor import examine, say
from xlhelpers.doors.libreoffice.extension import IDENTIFIER
from xlhelpers.doors.libreoffice.programs import Office
from xlhelpers.doors.libreoffice.setup import install, remove
from xlhelpers.errors import WorkbookError

pytestmark = [pytest.mark.slow, pytest.mark.libreoffice]
MINE = "Function my_own(x)\nmy_own = x * 2\nEnd Function\n"


def states(office: Office) -> dict[str, str]:
    return {one.name: one.state for one in examine(office.profile)}


def ours_in(profile: Path) -> list[Path]:
    return [path for path in profile.rglob("*") if "xlhelpers" in path.name.lower()]


def test_an_installation_is_proven_by_a_cell(installed: tuple[Office, list[str]]) -> None:
    office, said = installed
    assert said[0] == f"Installed in {office.profile}."
    assert said[1].startswith("Proven: a cell with =height_above_foot(")
    # 20 m times (50 + 4) percent
    assert said[1].endswith(" shows 10.8.")


def test_install_look_over_and_remove_leave_nothing(tmp_path: Path) -> None:
    office = office_on(tmp_path / "profile")
    assert remove(office) == ["Nothing is installed."]
    first = Remote(office)
    first.add_module("mine", MINE)
    first.end()
    assert states(office)["Extension"] == "look"
    install(office)
    install(office)  # a second time is harmless
    assert set(states(office).values()) == {"fine"}
    assert say(examine(office.profile))[-1] == "No problem was found."

    running = Remote(office)
    running.open("private:factory/scalc")
    running.formulas("", "Sheet1", "A1:B1", [["=crown_depth(12;4)", "=my_own(21)"]])
    assert running.get("", "Sheet1", "A1:B1") == [[8, 42]]
    assert running.modules()[MODULE].startswith(FIRST_LINE)
    assert len(helpers_of(running.pid())) == 1
    # an office that is running is left alone
    for change in (install, remove):
        with pytest.raises(WorkbookError, match="LibreOffice is running"):
            change(office)
    assert states(office)["A cell"] == "unseen"
    assert running.listed(IDENTIFIER)
    assert running.has_service(SERVICE)
    pid = running.pid()
    running.close_all()
    running.end()
    assert helpers_of(pid) == []

    said = remove(office)
    assert said[0].startswith(f"Removed from {office.profile}.")
    assert ours_in(office.profile) == []
    last = Remote(office)
    assert not last.listed(IDENTIFIER)
    assert not last.menu(IDENTIFIER)
    assert not last.has_service(SERVICE)
    assert MODULE not in last.modules()
    assert last.modules()["mine"] == MINE
    last.open("private:factory/scalc")
    last.formulas("", "Sheet1", "A1:B1", [["=crown_depth(12;4)", "=my_own(21)"]])
    assert last.shown("", "Sheet1", "A1") == ["#NAME?", 525]
    assert last.shown("", "Sheet1", "B1") == ["42", 0]
    last.close_all()
    last.end()


def test_a_module_of_the_same_name_is_left_alone(tmp_path: Path) -> None:
    office = office_on(tmp_path / "profile")
    first = Remote(office)
    first.add_module(MODULE, MINE)
    first.end()
    with pytest.raises(WorkbookError, match="has a module xlhelpers of your own"):
        install(office)
    remove(office)
    last = Remote(office)
    assert last.modules()[MODULE] == MINE
    assert not last.listed(IDENTIFIER)
    last.end()


def test_an_earlier_version_is_seen_and_replaced(tmp_path: Path) -> None:
    office = office_on(tmp_path / "profile")
    install(office)
    settings = next(office.profile.rglob("xlhelpers.oxt/settings.json"))
    text = settings.read_text(encoding="utf-8")
    settings.write_text(text.replace('"version": "1', '"version": "0'), encoding="utf-8")
    (found,) = [one for one in examine(office.profile) if one.state == "look"]
    assert found.name == "Extension"
    assert found.detail.startswith("version 0.")
    install(office)
    assert set(states(office).values()) == {"fine"}


def test_a_python_that_is_gone_is_said_in_the_cell(tmp_path: Path) -> None:
    office = office_on(tmp_path / "profile")
    install(office)
    settings = next(office.profile.rglob("xlhelpers.oxt/settings.json"))
    text = settings.read_text(encoding="utf-8")
    lines = [
        f' "python": "{tmp_path / "gone"}",' if '"python":' in line else line
        for line in text.splitlines()
    ]
    settings.write_text("\n".join(lines), encoding="utf-8")
    running = Remote(office)
    running.open("private:factory/scalc")
    running.formulas("", "Sheet1", "A1:A1", [["=crown_depth(12;4)"]])
    shown, error = running.shown("", "Sheet1", "A1")
    running.close_all()
    running.end()
    assert error == 0
    assert shown == (
        f"{tmp_path / 'gone'} is no longer there. Close LibreOffice and run xlhelpers libreoffice "
        "install again."
    )
    assert states(office)["Extension"] == states(office)["A cell"] == "look"


def test_the_commands(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    office = office_on(tmp_path / "profile")
    where = ["--profile", str(office.profile)]
    assert main(["libreoffice", "doctor", *where]) == 1
    assert "Do: close LibreOffice and run: xlhelpers libreoffice install" in capsys.readouterr().out
    assert main(["libreoffice", "remove", *where]) == 0
    assert capsys.readouterr().out == "Nothing is installed.\n"
    assert main(["libreoffice", "install", *where]) == 0
    assert "Proven: " in capsys.readouterr().out
    assert main(["libreoffice", "doctor", *where]) == 0
    assert "No problem was found." in capsys.readouterr().out
