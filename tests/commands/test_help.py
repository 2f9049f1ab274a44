"""The help that a clerk reads, and what asking for it costs."""

import subprocess
import sys
from pathlib import Path

import pytest

from tests.town import TOWN
from xlhelpers.cli import build_parser, main

HEAVY = ("pandas", "scipy", "openpyxl", "xlwings", "lxml", "xlsxwriter")


@pytest.mark.parametrize("command", ["new", "fill", "check", "launcher"])
def test_each_command_has_help(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as end:
        main([command, "--help"])
    assert end.value.code == 0
    said = capsys.readouterr().out
    assert command in said
    assert len(said.splitlines()) > 5


def test_help_names_every_command() -> None:
    text = build_parser().format_help()
    for command in ("new", "fill", "check", "launcher"):
        assert f"\n    {command} " in text


def test_wrong_arguments_give_exit_code_2() -> None:
    with pytest.raises(SystemExit) as end:
        main(["fill"])
    assert end.value.code == 2


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        (["paper", "T.xlsx", "--paper", "a3"], ("--paper a3 is not known", "a4, letter")),
        (["recheck", "plan", "T.xlsx", "--share", "abc"], ("--share abc", "a number is needed")),
        (["recheck", "plan", "T.xlsx", "--seed", "1.5"], ("--seed 1.5", "a whole number")),
        (["paper"], ("still needed: BOOK.xlsx", "the workbook of the survey")),
        (["merge", "T.xlsx"], ("still needed: --out SURVEY.xlsx", "the workbook to write")),
        (["export", "T.xlsx", "--out"], ("--out needs a value", "folder")),
        (["paper", "T.xlsx", "--colour"], ("--colour is not known",)),
        (["fil", "T.xlsx"], ("“fil” is not known", "Did you mean fill?")),
        (["recheck", "draw"], ("“draw” is not known", "plan, report")),
    ],
)
def test_wrong_arguments_are_answered_with_a_sentence(
    typed: list[str], words: tuple[str, ...], capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as end:
        main(typed)
    assert end.value.code == 2
    said = capsys.readouterr().err
    assert len(said.splitlines()) == 1
    assert "usage:" not in said
    assert [word for word in words if word not in said] == []
    assert "--help" in said


def test_help_imports_nothing_heavy() -> None:
    code = (
        "import sys\nfrom xlhelpers.cli import main\n"
        "try:\n    main(['--help'])\nexcept SystemExit:\n    pass\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_a_fill_imports_no_second_reader(tmp_path: Path) -> None:
    filled = tmp_path / "filled.xlsx"
    code = (
        "import sys\nfrom xlhelpers.cli import command\n"
        f"sys.argv = ['xlhelpers', 'fill', {str(TOWN)!r}, '--out', {str(filled)!r}]\n"
        "command()\n"
        "print([n for n in ('scipy', 'openpyxl', 'xlwings') if n in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"
    assert filled.exists()
