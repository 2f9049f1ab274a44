"""Every door can say the options that the texts of the jobs name."""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

import xlhelpers
from xlhelpers.jobs.catalog import NAMES, load_job
from xlhelpers.jobs.job import Job, Option
from xlhelpers.jobs.option_names import OPTION_NAME, name_by_labels

PACKAGE = Path(xlhelpers.__path__[0])
# command lines as such: what a program is started with, examples, and what is printed for later
COMMAND_LINES = ("doors", "pages/pdf.py")


def options_of(job: Job) -> list[Option]:
    return [*job.options, *(option for part in job.actions for option in options_of(part))]


EVERY = {name: options_of(load_job(name)) for name in NAMES}


def names_in_texts(path: Path) -> Iterator[str]:
    tree = ast.parse(path.read_text(encoding="utf-8"))
    aside = {
        id(node.value)
        for node in ast.walk(tree)
        if isinstance(node, ast.Expr) or (isinstance(node, ast.keyword) and node.arg == "codes")
    }
    for node in ast.walk(tree):
        text = node.value if isinstance(node, ast.Constant) else None
        # scripts are given to other programs
        if isinstance(text, str) and id(node) not in aside and not text.startswith("#!"):
            yield from OPTION_NAME.findall(text)


@pytest.mark.parametrize("job", NAMES)
def test_texts_of_a_job_name_only_its_own_options(job: str) -> None:
    names = {option.on_command_line for option in EVERY[job]}
    found = [
        (path.name, name)
        for path in (PACKAGE / "jobs" / job).rglob("*.py")
        for name in names_in_texts(path)
        if name not in names
    ]
    assert not found


def test_texts_of_the_rooms_below_name_options_of_some_job() -> None:
    names = {option.on_command_line for options in EVERY.values() for option in options}
    for path in PACKAGE.rglob("*.py"):
        where = path.relative_to(PACKAGE).as_posix()
        if not where.startswith((*COMMAND_LINES, "jobs/")):
            assert set(names_in_texts(path)) <= names, where


def test_a_form_says_the_labels() -> None:
    options = load_job("paper").options
    said = name_by_labels("Give only one of --plots, --measure-again and --cards.", options)
    assert said == ("Give only one of “Plots”, “Trees to measure again” and “Instruction cards”.")
    assert name_by_labels("--out a--out/x.xlsx is there", options) == (
        "“Save as” a--out/x.xlsx is there"
    )
    assert name_by_labels("--unknown stays", options) == "--unknown stays"
