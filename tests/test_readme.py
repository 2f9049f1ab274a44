"""What the README tells people to type, as it is printed there."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from tests.town import TOWN, town_outcome
from xlhelpers.doors.command_line.main import COMMANDS, load_command, main
from xlhelpers.doors.command_line.parser import parse
from xlhelpers.jobs.catalog import NAMES

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
LINES = [block.strip() for block in re.findall(r"^```\n(.*?)^```$", README, re.M | re.S)]
SETUP, SETUP_WINDOWS, TESTS = LINES
COMMAND = re.compile(r"`xlhelpers ([^`]+)`")
SPOKEN = [found[1].split() for found in COMMAND.finditer(README)]
"""The arguments of every command that the README names, in its order."""


def steps() -> list[list[str]]:
    """The commands that somebody can follow from the first to the last: with all that they need."""
    return [words for words in SPOKEN if words[0] in NAMES and len(words) > 1]


def test_the_set_up_is_one_line_that_ends_with_the_demo_filled() -> None:
    assert "\n" not in SETUP
    make, install, fill = SETUP.split(" && ")
    assert make == "python3 -m venv .venv"
    assert install == '.venv/bin/python -m pip install -e ".[test]"'
    assert fill.endswith("xlhelpers fill demo_workbooks/town.xlsx --out filled/town.xlsx")
    before = README[: README.index(SETUP)]
    assert "Python 3.11 or later" in before
    assert "apt install python3-venv python3-tk" in before


def test_the_line_for_windows_does_the_same() -> None:
    same = SETUP_WINDOWS.replace("\\", "/").replace(".venv/Scripts/", ".venv/bin/")
    assert same.replace("py -m", "python3 -m", 1) == SETUP


@pytest.mark.skipif(os.name != "posix", reason="runs a shell")
def test_every_change_is_checked_with_the_same_lines() -> None:
    """The script takes both lines out of the README; what it takes is what is printed there."""
    script = (ROOT / ".ci" / "run").read_text(encoding="utf-8")
    taking = re.findall(r'^(\w+)="\$\((grep [^)]+)\)"$', script, re.M)
    taken = {
        name: subprocess.run(
            ["sh", "-c", command], cwd=ROOT, capture_output=True, text=True, check=True
        ).stdout.strip()
        for name, command in taking
    }
    assert taken == {"setup": SETUP, "tests": TESTS}
    assert all(f'bash -c "${name}"' in script for name in taken)


@pytest.mark.slow
@pytest.mark.skipif(os.name != "posix", reason="runs a shell")
def test_the_set_up_line_runs_in_a_shell(tmp_path: Path) -> None:
    """With a python3 that hands everything but the installation to the Python of the tests."""
    (tmp_path / "demo_workbooks").mkdir()
    shutil.copy(TOWN, tmp_path / "demo_workbooks")
    tools = tmp_path / "tools"
    tools.mkdir()
    inner = tools / "inner"
    inner.write_text(
        '#!/bin/sh\nif [ "$2" = pip ]; then echo "$@" > installed; exit 0; fi\n'
        f'exec "{sys.executable}" "$@"\n'
    )
    outer = tools / "python3"
    outer.write_text(f'#!/bin/sh\nmkdir -p "$3/bin" && cp "{inner}" "$3/bin/python"\n')
    for program in (inner, outer):
        program.chmod(0o755)
    around = {"PATH": f"{tools}{os.pathsep}{os.environ['PATH']}", "PYTHONPATH": str(ROOT)}
    done = subprocess.run(
        ["sh", "-c", SETUP],
        cwd=tmp_path,
        env=os.environ | around,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 1, done.stderr
    assert (tmp_path / "installed").read_text() == "-m pip install -e .[test]\n"
    assert "trees have a height." in done.stdout
    assert (tmp_path / "filled" / "town.xlsx").stat().st_size > TOWN.stat().st_size


@pytest.mark.parametrize("words", SPOKEN, ids=" ".join)
def test_each_command_is_understood(words: list[str]) -> None:
    """Its name, its options and their values; one that is only named may lack its files."""
    whole = words[0] not in NAMES or len(words) > 1
    if whole:
        assert parse(COMMANDS, load_command, words)[0].run
    else:
        assert load_command(words[0]).label


@pytest.mark.slow
@pytest.mark.libreoffice
def test_the_steps_run_one_after_the_other(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """From a blank workbook to the comparison with an earlier survey, as the README says it."""
    monkeypatch.chdir(tmp_path)
    parts = town_outcome().survey.strata["stratum"].tolist()
    grid = [f"{part} {number},{part}" for part in parts for number in range(300)]
    Path("GRID.csv").write_text("\n".join(["plot,stratum", *grid]), encoding="utf-8")
    sheet = "Plot,Tree,Species,DBH (cm),Height (m)\n1,1,Acer rubrum,30,12\n1,2,Acer rubrum,25,11\n"
    Path("SHEET.csv").write_text(sheet, encoding="utf-8")
    made = []
    for words in steps():
        typed = words[:2] == ["fill", "TOWN.xlsx"]
        if typed:  # by now somebody has entered the paper sheets
            shutil.copy(TOWN, "TOWN.xlsx")
            shutil.copy(TOWN, "OLD.xlsx")
        code = main(words)
        said = capsys.readouterr()
        assert code in (0, 1), (words, said.err)
        made += [words[at + 1] for at, word in enumerate(words) if word == "--out"]
    assert made == ["SHEETS.xlsx", "PLAN.xlsx", "CHANGE.xlsx", "REPORT.xlsx"]
    assert all(Path(name).stat().st_size > 5_000 for name in made)
    assert Path("REPORT.pdf").read_bytes().startswith(b"%PDF")
    assert main(["restore", "TOWN.xlsx"]) == 0
    assert "first" in capsys.readouterr().out
