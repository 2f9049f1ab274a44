"""Whichever door runs a job: errors become sentences, and a bad workbook stops no other."""

import json
from functools import partial
from pathlib import Path

import pytest

from xlhelpers.doors.command_line import main as door
from xlhelpers.errors import WorkbookError
from xlhelpers.jobs.job import FAILED, JSON, TO_CHECK, Done, Job, Progress, books
from xlhelpers.jobs.run import run_job


def look(book: Path, progress: Progress) -> Done:
    """A job over one workbook: what happens depends on the name."""
    progress("reading")
    if book.stem == "damaged":
        raise WorkbookError("damaged.xlsx is damaged.")
    if book.stem == "gone":
        raise OSError(13, "Permission denied")
    return Done(("One finding.",), TO_CHECK, facts=partial(gather, book))


def gather(book: Path) -> dict[str, object]:
    GATHERED.append(book.name)
    return {"book": str(book), "lines": 3}


GATHERED: list[str] = []


JOB = Job("look", "Look", "Look at workbooks", f"{__name__}:look", (books(), JSON), one_by_one=True)


def run(*names: str, facts: Path | None = None) -> tuple[list[Done], list[str]]:
    steps: list[str] = []
    options = {"books": [Path(f"{name}.xlsx") for name in names], "json": facts}
    return list(run_job(JOB, options, steps.append)), steps


def test_a_bad_workbook_does_not_stop_the_others(tmp_path: Path) -> None:
    facts = tmp_path / "facts.json"
    done, steps = run("damaged", "gone", "good", facts=facts)
    assert steps == ["reading"] * 3
    assert [one.code for one in done if one.code] == [FAILED, FAILED, TO_CHECK]
    assert [problem for one in done for problem in one.problems] == [
        "damaged.xlsx is damaged.",
        "gone.xlsx: Permission denied. Nothing was changed. Try again.",
    ]
    assert [sentence for one in done for sentence in one.sentences] == [
        "[1 of 3] damaged.xlsx",
        "[2 of 3] gone.xlsx",
        "[3 of 3] good.xlsx",
        "One finding.",
        "2 of 3 workbooks could not be read or written.",
    ]
    written = json.loads(facts.read_text(encoding="utf-8"))
    assert [one["book"] for one in written] == ["damaged.xlsx", "gone.xlsx", "good.xlsx"]
    assert written[0]["error"] == "damaged.xlsx is damaged."
    assert written[2]["lines"] == 3


def test_facts_are_gathered_only_where_they_are_wanted(tmp_path: Path) -> None:
    GATHERED.clear()
    run("good")
    assert GATHERED == []
    run("good", facts=tmp_path / "facts.json")
    assert GATHERED == ["good.xlsx"]


def test_one_workbook_is_not_counted() -> None:
    done, _ = run("good")
    assert done == [Done(("One finding.",), TO_CHECK, facts=done[0].facts)]


def test_each_workbook_is_shown_as_soon_as_it_is_done() -> None:
    parts = run_job(JOB, {"books": [Path("good.xlsx"), Path("gone.xlsx")], "json": None}, print)
    assert next(parts).sentences == ("[1 of 2] good.xlsx",)
    assert next(parts).sentences == ("One finding.",)


def test_problems_go_to_the_stream_of_errors(capsys: pytest.CaptureFixture[str]) -> None:
    door.print_done(Done(("Saved a.xlsx.",), FAILED, problems=("No PDF.",)))
    assert tuple(capsys.readouterr()) == ("Saved a.xlsx.\n", "xlhelpers: No PDF.\n")
