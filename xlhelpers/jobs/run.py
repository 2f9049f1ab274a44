"""Runs a job for whichever door; over several workbooks, a bad one does not stop the others."""

from collections.abc import Callable, Iterator
from typing import Any

from xlhelpers.errors import DamagedError, ReadingError, WorkbookError
from xlhelpers.jobs.job import FAILED, Done, Job, Progress
from xlhelpers.package.places import pair, refuse_facts, write_facts
from xlhelpers.package.zip.book_files import backup_names
from xlhelpers.wording import plural


def run_job(job: Job, options: dict[str, Any], progress: Progress) -> Iterator[Done]:
    """Run a job and give what was done, over several workbooks as soon as each is done.

    Parameters
    ----------
    job : Job
        Its record.
    options : dict
        The value of each of its options by name.
    progress : callable
        Given the name of each step as it begins.
    """
    run = job.load()
    if job.one_by_one:
        yield from _run_one_by_one(run, options, progress)
    else:
        yield _attempt(run, options | {"progress": progress})


def _attempt(run: Callable[..., Done], options: dict[str, Any]) -> Done:
    try:
        return run(**options)
    except BrokenPipeError:
        raise
    except DamagedError as error:
        return Done(code=FAILED, problems=(f"{error}{_name_backup(options)}",))
    except (WorkbookError, ReadingError) as error:
        return Done(code=FAILED, problems=(str(error),))
    except OSError as error:
        return Done(code=FAILED, problems=(_say_os_error(error, options),))


def _name_backup(options: dict[str, Any]) -> str:
    """Return the sentence about a backup of the job's workbook, if there is one."""
    book = options.get("book")
    there = [each for each in backup_names(book) if each.exists()] if book else []
    if not there:
        return ""
    return f" Or use its backup {there[-1].name}: the job restore brings it back."


def _say_os_error(error: OSError, options: dict[str, Any]) -> str:
    """Return the sentence of an error of the system, with the file that it is about."""
    name = error.filename or options.get("book") or ""
    about = f"{getattr(name, 'name', name)}: " if name else ""
    return f"{about}{error.strerror or error}. Nothing was changed. Try again."


def _run_one_by_one(
    run: Callable[..., Done], options: dict[str, Any], progress: Progress
) -> Iterator[Done]:
    others = {name: value for name, value in options.items() if name not in ("books", "json")}
    try:
        refuse_facts(options["json"])
        places = pair(options["books"], others.get("out"))
    except WorkbookError as error:
        yield Done(code=FAILED, problems=(str(error),))
        return
    facts: list[dict[str, Any]] = []
    failed = 0
    for number, (book, place) in enumerate(places, 1):
        if len(places) > 1:
            yield Done((f"[{number} of {len(places)}] {book}",))
        if "out" in others:
            others["out"] = place
        done = _attempt(run, others | {"book": book, "progress": progress})
        if done.code == FAILED:
            failed += 1
            facts.append({"book": str(book), "error": " ".join(done.problems)})
        elif options["json"] is not None and done.facts is not None:
            facts.append(dict(done.facts()))
        yield done
    if len(places) > 1:
        of = plural(len(places), "workbook")
        problem = f"{failed} of {of} could not be read or written."
        yield Done((problem if failed else f"All {of} are done.",))
    if options["json"] is not None:
        try:
            write_facts(options["json"], facts)
        except WorkbookError as error:
            yield Done(code=FAILED, problems=(str(error),))
