"""The command line: arguments in, sentences and exit codes out.

Exit codes, the worst over all workbooks: 0 nothing to check; 1 something to check; 2 a workbook
could not be read or written (it is then unchanged), or the arguments were wrong.
"""

import gc
import os
import sys
from collections.abc import Sequence
from importlib import import_module

from xlhelpers.doors.command_line.parser import parse
from xlhelpers.jobs.catalog import NAMES, load_job
from xlhelpers.jobs.job import FAILED, NOTHING_TO_CHECK, TO_CHECK, Done, Job

# the commands that doors add to the jobs, each with the module of its record
_OF_DOORS = {
    "window": "xlhelpers.doors.window.job",
    "excel": "xlhelpers.doors.excel.job",
    "libreoffice": "xlhelpers.doors.libreoffice.job",
}
COMMANDS = (*NAMES, *_OF_DOORS)


def load_command(name: str) -> Job:
    """Import the record of a command: a job, or what this door adds to them."""
    if name not in _OF_DOORS:
        return load_job(name)
    job: Job = import_module(_OF_DOORS[name]).JOB
    return job


def run_lightly() -> None:
    """Leave out work of the interpreter that a command has no use of; before numpy is imported.

    It makes many objects and hardly a cycle among them, and it has no large matrix to share out
    among threads.
    """
    gc.set_threshold(200_000, 20, 20)
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def command() -> int:
    """Like `main`, for a process that does nothing else."""
    run_lightly()
    code = main()
    # what is left goes with the process; a last look for cycles takes a fifteenth of a fill
    gc.freeze()
    return code


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code."""
    job, options = parse(COMMANDS, load_command, sys.argv[1:] if arguments is None else arguments)
    from xlhelpers.jobs.run import run_job  # not needed for the help

    code = NOTHING_TO_CHECK
    try:
        for done in run_job(job, options, show_progress):
            show_progress("")
            print_done(done)
            code = max(code, done.code)
    except BrokenPipeError:  # the reader of a pipe, such as head, has seen enough
        sys.stderr.close()
        return TO_CHECK
    except KeyboardInterrupt:
        show_progress("")
        print("Stopped. The workbook is unchanged.", file=sys.stderr)
        return FAILED
    return code


def print_done(done: Done) -> None:
    """Print what a job did: problems on the stream of errors, everything else on the other."""
    for problem in done.problems:
        print(f"xlhelpers: {problem}", file=sys.stderr)
    for sentence in done.sentences:
        print(sentence)


def show_progress(step: str) -> None:
    """Show a step on a terminal, "" to wipe it; logs and pipes stay clean."""
    if sys.stderr.isatty():
        print(f"\r\033[K{step + ' …' if step else ''}", end="", file=sys.stderr, flush=True)
