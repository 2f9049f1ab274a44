"""Runs the commands `excel install`, `excel doctor` and `excel about`."""

import argparse

from xlhelpers.doors.excel.about import page
from xlhelpers.doors.excel.doctor import examine, say
from xlhelpers.doors.excel.machine import this_machine
from xlhelpers.doors.excel.setup import install, remove
from xlhelpers.errors import WorkbookError

NOTHING_OPEN, TO_LOOK_AT, FAILED = 0, 1, 2


def run(options: argparse.Namespace) -> int:
    """Run what was asked for and return the exit code: 1 where there is something to look at."""
    code = NOTHING_OPEN
    try:
        machine = this_machine(getattr(options, "book", None))
        if options.excel_command == "install":
            said = remove(machine) if options.remove else install(machine)
        elif options.excel_command == "doctor":
            looked = examine(machine)
            said = say(machine, looked)
            if any(one.verdict.state == "look" for one in looked):
                code = TO_LOOK_AT
        else:
            said = [page(machine)]
    except WorkbookError as error:
        said, code = [f"xlhelpers: {error}"], FAILED
    print("\n".join(said))
    return code
