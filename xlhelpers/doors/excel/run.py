"""Runs the commands `excel install`, `doctor`, `about` and `try`."""

from pathlib import Path

from xlhelpers.doors.excel import setup
from xlhelpers.doors.excel.about import page
from xlhelpers.doors.excel.doctor import examine, say
from xlhelpers.doors.excel.machine import this_machine
from xlhelpers.jobs.job import NOTHING_TO_CHECK, TO_CHECK, Done, Progress


def run_install(remove: bool, progress: Progress) -> Done:
    """Install what Excel needs, or remove it again."""
    machine = this_machine()
    return Done(setup.remove(machine) if remove else setup.install(machine))


def run_doctor(book: Path | None, progress: Progress) -> Done:
    """Look for known problems; the exit code is 1 where there is one."""
    machine = this_machine(book)
    looked = examine(machine)
    problems = any(one.verdict.state == "look" for one in looked)
    return Done(say(machine, looked), TO_CHECK if problems else NOTHING_TO_CHECK)


def run_try(folder: Path, progress: Progress) -> Done:
    """Write what somebody with Excel needs to try the functions and the button."""
    from xlhelpers.doors.excel.try_out import PAGE, write_try_out

    paths = write_try_out(folder)
    return Done((f"Saved {len(paths)} files in {folder}. Start with {PAGE}.",), files=paths)


def run_about(progress: Progress) -> Done:
    """Return the page for IT support, with the places on this computer."""
    return Done((page(this_machine()),))
