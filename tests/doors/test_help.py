"""The help that a clerk reads, and what asking for it costs."""

import ast
import subprocess
import sys
from pathlib import Path

import pytest

from tests.town import TOWN
from xlhelpers.doors.command_line import main as door
from xlhelpers.doors.command_line.main import main
from xlhelpers.jobs.catalog import NAMES
from xlhelpers.jobs.job import Job

# each job, and each part of a job, with the words that ask for it
COMMANDS: dict[str, Job] = {
    " ".join((job.name, *([part.name] if part is not job else []))): part
    for job in map(door.load_command, door.COMMANDS)
    for part in (job, *job.actions)
}


@pytest.mark.parametrize("command", COMMANDS)
def test_each_command_has_help_with_all_its_options(
    command: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with pytest.raises(SystemExit) as end:
        main([*command.split(), "--help"])
    assert end.value.code == 0
    shown = " ".join(capsys.readouterr().out.split())
    job = COMMANDS[command]
    assert f"usage: xlhelpers {command} " in shown
    assert f"{job.help}." in shown
    for option in job.options:
        assert option.on_command_line in shown
        assert option.help in shown.replace("- ", "-")
    for action in job.actions:
        assert f" {action.name} {action.help}" in shown  # in the list of its commands


def test_help_names_every_command_in_the_order_of_the_work(
    capsys: pytest.CaptureFixture[str],
) -> None:
    with pytest.raises(SystemExit) as end:
        main(["--help"])
    assert end.value.code == 0
    rows = capsys.readouterr().out.split("commands:\n")[1].split("\n\n")[0].splitlines()
    assert [row.split()[0] for row in rows] == [*NAMES, "window", "excel", "libreoffice"]
    assert max(map(len, rows)) <= 100


def test_no_job_has_a_line_of_its_own_in_the_door() -> None:
    """A new job appears with its record, and nothing is written here for it."""
    for path in Path(door.__file__).parent.glob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            assert not (isinstance(node, ast.Constant) and node.value in NAMES), node.value
            if isinstance(node, ast.ImportFrom):
                assert not str(node.module).startswith(tuple(f"xlhelpers.jobs.{n}." for n in NAMES))


def test_wrong_arguments_give_exit_code_2() -> None:
    with pytest.raises(SystemExit) as end:
        main(["fill"])
    assert end.value.code == 2


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        (["paper", "T.xlsx", "--paper", "a3"], ("--paper a3 is not known", "a4 or letter")),
        (["recheck", "plan", "T.xlsx", "--share", "abc"], ("--share abc is not a number", "0.05")),
        (["recheck", "plan", "T.xlsx", "--share", "0,1"], ("Type a number such as 0.1.",)),
        (["recheck", "plan", "T.xlsx", "--seed", "1.5"], ("--seed 1.5 is not a whole number",)),
        (["paper"], ("Missing: BOOK.xlsx", "workbook of the survey")),
        (["merge", "T.xlsx"], ("Missing: --out SURVEY.xlsx", "new workbook to write")),
        (["export", "T.xlsx", "--out"], ("--out needs a value", "folder")),
        (["paper", "T.xlsx", "--colour"], ("--colour is not an option of xlhelpers paper.",)),
        (["fill", "T.xlsx", "--jsno", "F"], ("Did you mean --json?", "xlhelpers fill --help")),
        (["fil", "T.xlsx"], ("“fil” is not known", "Did you mean fill?")),
        (["recheck", "draw"], ("“draw” is not known", "plan or report")),
        (["recheck"], ("A command is missing", "plan or report")),
        (["plan", "--margin", "ten"], ("--margin ten is not a number", "such as 10.")),
        (["plan", "--margin", "10,5"], ("--margin 10,5 is not a number", "such as 10.5.")),
        (["plan", "--margin", "10%"], ("--margin 10% is not a number", "such as 10.")),
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


def test_help_is_drawn_from_the_records_alone() -> None:
    """No module of ours is imported but the door and the records, and nothing heavy at all."""
    code = (
        "import sys\nbefore = set(sys.modules)\n"
        "from xlhelpers.doors.command_line.main import main\n"
        f"for words in {[[], *(command.split() for command in COMMANDS)]!r}:\n"
        "    try:\n        main([*words, '--help'])\n    except SystemExit:\n        pass\n"
        "print(*sorted(set(sys.modules) - before))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    loaded = done.stdout.splitlines()[-1].split()
    ours = {name for name in loaded if name.split(".")[0] == "xlhelpers"}
    light = ("xlhelpers.doors.command_line", "xlhelpers.doors.typed_values", "xlhelpers.jobs")
    light += ("xlhelpers.doors.excel.job", "xlhelpers.doors.window.job")
    light += ("xlhelpers.doors.libreoffice.job",)
    allowed = {"xlhelpers", "xlhelpers.doors", "xlhelpers.doors.excel", "xlhelpers.doors.window"}
    allowed |= {"xlhelpers.doors.libreoffice", "xlhelpers.wording"}
    assert {name for name in ours - allowed if not name.startswith(light)} == set()
    assert {name for name in ours if name.startswith("xlhelpers.jobs.")} == {
        "xlhelpers.jobs.catalog",
        "xlhelpers.jobs.job",
        *(f"xlhelpers.jobs.{name}" for name in NAMES),
        *(f"xlhelpers.jobs.{name}.job" for name in NAMES),
    }
    others = {name.split(".")[0] for name in loaded} - {"xlhelpers"}
    assert others <= set(sys.stdlib_module_names)
    # slow ones of the standard library
    assert not others & {"dataclasses", "inspect", "difflib", "json", "multiprocessing", "tkinter"}


def test_a_fill_imports_no_second_reader(tmp_path: Path) -> None:
    filled = tmp_path / "filled.xlsx"
    code = (
        "import sys\nfrom xlhelpers.doors.command_line.main import command\n"
        f"sys.argv = ['xlhelpers', 'fill', {str(TOWN)!r}, '--out', {str(filled)!r}]\n"
        "command()\n"
        "print([n for n in ('scipy', 'openpyxl', 'xlwings') if n in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"
    assert filled.exists()
