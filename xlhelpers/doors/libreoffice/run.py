"""Runs the commands `libreoffice install`, `libreoffice remove` and `libreoffice doctor`."""

from pathlib import Path

from xlhelpers.doors.libreoffice import setup
from xlhelpers.doors.libreoffice.doctor import examine, say
from xlhelpers.doors.libreoffice.programs import find_office
from xlhelpers.jobs.job import NOTHING_TO_CHECK, TO_CHECK, Done, Progress


def run_install(profile: Path | None, progress: Progress) -> Done:
    """Install the extension and the functions."""
    progress("Installing in LibreOffice")
    return Done(setup.install(find_office(profile)))


def run_remove(profile: Path | None, progress: Progress) -> Done:
    """Remove the extension and the functions."""
    progress("Removing from LibreOffice")
    return Done(setup.remove(find_office(profile)))


def run_doctor(profile: Path | None, progress: Progress) -> Done:
    """Look for known problems; the exit code is 1 where there is one."""
    progress("Looking at LibreOffice")
    looked = examine(profile)
    problems = any(one.state == "look" for one in looked)
    return Done(say(looked), TO_CHECK if problems else NOTHING_TO_CHECK)
