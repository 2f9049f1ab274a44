"""The other process of the window: it runs one job or looks at one workbook, and says what came.

The request comes as JSON, the answers go back as one line of JSON each. The window can end this
process at any time: a workbook is replaced whole or not at all.
"""

import contextlib
import json
import os
import signal
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from xlhelpers.doors.command_line.main import run_lightly
from xlhelpers.doors.typed_values import is_path
from xlhelpers.errors import XlhelpersError
from xlhelpers.jobs.catalog import load_job
from xlhelpers.jobs.job import FAILED, Job

Answer = dict[str, Any]


def main() -> None:
    """Take one request and answer it."""
    run_lightly()
    # an end asked for is like an error: temporary files go
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))
    # what a library prints goes to the errors, not between the answers
    with os.fdopen(os.dup(1), "w", encoding="utf-8") as stream:
        os.dup2(2, 1)

        def answer(line: Answer) -> None:
            stream.write(json.dumps(line) + "\n")
            stream.flush()

        request = json.load(sys.stdin.buffer)
        for line in _ANSWERS[request.pop("ask")](answer=answer, **request):
            answer(line)


def run(
    path: list[str], options: dict[str, Any], answer: Callable[[Answer], None]
) -> Iterator[Answer]:
    """Run a job and give what each part of it did."""
    from xlhelpers.jobs.run import run_job

    job = find_job(path)
    try:
        for done in run_job(job, to_values(job, options), lambda step: answer({"step": step})):
            yield {
                "sentences": list(done.sentences),
                "problems": list(done.problems),
                "code": done.code,
                "files": [str(file) for file in done.files],
            }
    except Exception as error:  # whatever it is, somebody in front of a window has to hear of it
        problem = (
            f"The program has a mistake and stopped ({type(error).__name__}: {error}). Your "
            "workbook is unchanged or whole. Please report it."
        )
        yield {"sentences": [], "problems": [problem], "code": FAILED, "files": []}


def find_job(path: list[str]) -> Job:
    """Return a job, or the part of a job, by its names."""
    job = load_job(path[0])
    return next((part for part in job.actions if part.name == path[-1]), job)


def to_values(job: Job, options: dict[str, Any]) -> dict[str, Any]:
    """Return the options with paths where their kind is one."""
    values = dict(options)
    for option in job.options:
        value = values[option.name]
        if is_path(option) and value is not None:
            values[option.name] = [*map(Path, value)] if isinstance(value, list) else Path(value)
    return values


def look(book: str, answer: Callable[[Answer], None]) -> Iterator[Answer]:
    """Say where the work on a workbook stands."""
    from xlhelpers.reading.work_state import say_state

    try:
        yield {"state": say_state(Path(book))}
    except (XlhelpersError, OSError) as error:
        yield {"state": str(error)}


def tidy(books: list[str], answer: Callable[[Answer], None]) -> Iterator[Answer]:
    """Remove what a stopped run left half written; the workbooks themselves are whole."""
    from xlhelpers.package.zip.safe_write import clear_leftovers

    for book in books:
        with contextlib.suppress(OSError):
            clear_leftovers(book)
    yield {"tidy": True}


_ANSWERS: dict[str, Callable[..., Iterator[Answer]]] = {"run": run, "look": look, "tidy": tidy}
if __name__ == "__main__":
    main()
