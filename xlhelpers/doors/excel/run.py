"""Runs the commands `excel install`, `excel doctor` and `excel about`."""

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


def run_about(progress: Progress) -> Done:
    """Return the page for IT support, with the places on this computer."""
    return Done((page(this_machine()),))
