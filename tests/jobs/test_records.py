"""The records of the jobs: complete, and true to the functions that they name."""

import ast
import inspect
from dataclasses import fields
from pathlib import Path

import pytest

import xlhelpers.jobs
from xlhelpers.doors.excel.job import JOB as EXCEL
from xlhelpers.jobs.catalog import NAMES, load_job
from xlhelpers.jobs.job import Job
from xlhelpers.jobs.plan.plan import PlanOptions

JOBS = [load_job(name) for name in NAMES]
PARTS = [part for job in (*JOBS, EXCEL) for part in (job.actions or (job,))]
RUN = pytest.mark.parametrize("job", PARTS, ids=lambda job: job.run)
EVERY = pytest.mark.parametrize("job", [*JOBS, EXCEL, *PARTS], ids=lambda job: job.label)


def test_each_room_of_a_job_is_in_the_catalog() -> None:
    rooms = {path.parent.name for path in Path(xlhelpers.jobs.__path__[0]).glob("*/__init__.py")}
    assert rooms == set(NAMES)
    assert [job.name for job in JOBS] == list(NAMES)


@EVERY
def test_texts_of_a_job_are_complete_and_of_one_form(job: Job) -> None:
    assert job.name.islower()
    assert is_sentence_case(job.label)
    assert is_sentence_case(job.help)
    assert not job.about or job.about.endswith(".")
    assert not job.codes or "Exit codes: 0: " in job.codes
    assert bool(job.run) != bool(job.actions)


@RUN
def test_options_are_complete_and_of_one_form(job: Job) -> None:
    names = [option.on_command_line for option in job.options]
    assert len(set(names)) == len(names)
    for option in job.options:
        assert is_sentence_case(option.label)
        assert option.help
        assert option.help[0].islower()
        assert not option.help.endswith(".")
        assert (option.kind == "choice") == bool(option.choices)
        assert (option.kind == "flag") == (option.default is False)
        assert option.default is None or not option.required
        if option.choices and option.default is not None:
            assert option.default in option.choices
        if option.kind.split()[-1] in ("workbook", "workbooks"):
            assert ".xlsx" in option.endings


def is_sentence_case(text: str) -> bool:
    first, *others = text.split()
    names = [word.strip(",") for word in others if word.istitle()]
    return first[0].isupper() and not text.endswith(".") and set(names) <= {"Excel"}


def test_no_job_prints_or_reads_arguments() -> None:
    """That is for the doors: a job gives back what it did."""
    for path in Path(xlhelpers.jobs.__path__[0]).rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            names = {getattr(node, "id", ""), getattr(node, "attr", ""), getattr(node, "name", "")}
            assert not names & {"print", "stdout", "stderr", "argv", "argparse"}, path


@RUN
def test_the_function_takes_the_options_by_name(job: Job) -> None:
    """Over several workbooks it takes one, and the facts are written by whoever runs it."""
    names = {option.name for option in job.options}
    if job.one_by_one:
        assert names >= {"books", "json"}
        names = names - {"books", "json"} | {"book"}
    parameters = inspect.signature(job.load()).parameters
    if any(one.kind == one.VAR_KEYWORD for one in parameters.values()):
        assert job.name == "plan"
        taken = {field.name for field in fields(PlanOptions)}
    else:
        taken = set(parameters) - {"progress"}
    assert taken == names
    assert "progress" in parameters
