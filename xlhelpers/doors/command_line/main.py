"""The command line: arguments in, sentences and exit codes out.

Exit codes, the worst over all workbooks: 0 nothing open; 1 open findings; 2 a workbook could not
be read or written (it is then unchanged), or the arguments were wrong.
"""

import argparse
import gc
import os
import sys
from collections.abc import Sequence
from importlib import import_module
from pathlib import Path

from xlhelpers import __version__
from xlhelpers.doors.command_line import crews, estimates, excel, paper
from xlhelpers.doors.command_line.parser import Parser

NOTHING_OPEN, OPEN_FINDINGS, FAILED = 0, 1, 2
_DESCRIPTION = """\
Turns the keyed field sheets of a town's tree survey into heights, crown measures, findings and
summary tabs. Nothing that you typed is ever changed."""
_EPILOG = """\
A first day:
  xlhelpers new TOWN.xlsx            make a blank workbook; its first tab is a guide
  (key the paper sheets, save, close the workbook)
  xlhelpers fill TOWN.xlsx           compute, check and write the summary tabs
  (open it, work through the tab To check, save, close, fill again)

Exit codes: 0 nothing open, 1 there is something to look at, 2 a workbook could not be read or
written and is unchanged."""


def build_parser() -> argparse.ArgumentParser:
    """Return the parser with all commands and their help."""
    parser: argparse.ArgumentParser = Parser(
        prog="xlhelpers",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parser.add_argument("--version", action="version", version=f"xlhelpers {__version__}")
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")
    _add_new(commands)
    _add_fill(commands)
    _add_check(commands)
    paper.add(commands)
    crews.add(commands)
    estimates.add(commands)
    _add_launcher(commands)
    excel.add(commands)
    return parser


def _add_new(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    text = "make a blank workbook to key field sheets into"
    new = commands.add_parser("new", help=text, description=text.capitalize() + ".")
    new.add_argument("book", type=Path, metavar="TOWN.xlsx", help="the workbook to make")
    new.add_argument(
        "--units",
        choices=("metric", "us"),
        default="metric",
        help="m and cm, or ft and in (default: metric)",
    )
    new.add_argument(
        "--paper",
        choices=("a4", "letter"),
        help="paper for printing (default: a4 for metric, letter for us)",
    )
    new.add_argument(
        "--plots",
        type=int,
        default=40,
        metavar="N",
        help="how many plots to prepare rows for (default: 40)",
    )


def _add_fill(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    text = "compute heights and crowns, check them, and write the summary tabs"
    fill = commands.add_parser(
        "fill",
        help=text,
        description=text.capitalize() + ". The workbook is filled in place and a backup is kept "
        "beside it; with --out it stays as it is. Save and close it in other programs first.",
    )
    fill.add_argument("books", nargs="+", type=Path, metavar="BOOK.xlsx", help="keyed workbooks")
    fill.add_argument(
        "--out",
        type=Path,
        metavar="PLACE",
        help="write the filled copy here: a file, or a folder for several",
    )
    fill.add_argument(
        "--restore-formulas",
        action="store_true",
        help="put the formulas of the live columns back where something was typed over them",
    )
    _add_json(fill)


def _add_check(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    text = "list what does not fit together; write nothing into the workbook"
    check = commands.add_parser("check", help=text, description=text.capitalize() + ".")
    check.add_argument("books", nargs="+", type=Path, metavar="BOOK.xlsx", help="keyed workbooks")
    check.add_argument(
        "--for",
        dest="who",
        choices=("crew", "office"),
        help="only what the crew can still settle, in short lines plot by plot, or only what the "
        "office can settle from the paper (default: everything)",
    )
    _add_json(check)


def _add_launcher(commands: "argparse._SubParsersAction[argparse.ArgumentParser]") -> None:
    text = "make an icon onto which workbooks can be dropped, for work without a command line"
    launcher = commands.add_parser("launcher", help=text, description=text.capitalize() + ".")
    launcher.add_argument(
        "folder",
        type=Path,
        nargs="?",
        default=Path(),
        help="where to put it, such as the desktop (default: here)",
    )
    launcher.add_argument(
        "--system",
        choices=("windows", "macos", "linux"),
        help="for which system (default: this one)",
    )


def _add_json(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--json",
        type=Path,
        metavar="FILE",
        help="also write trees and findings to this file, for programs",
    )


def run_lightly() -> None:
    """Leave out work of the interpreter that a command has no use of; before numpy is imported.

    It makes many objects and hardly a cycle among them, and it has no large matrix to share out
    among threads.
    """
    gc.set_threshold(50_000, 20, 20)
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def command() -> int:
    """As `main`, for a process that does nothing else."""
    run_lightly()
    code = main()
    # what is left goes with the process; a last look for cycles takes a fifteenth of a fill
    gc.freeze()
    return code


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code."""
    options = build_parser().parse_args(arguments)
    room = "doors.excel" if options.command == "excel" else "jobs"
    run = import_module(f"xlhelpers.{room}.run")  # heavy, so it waits until the help was shown
    try:
        return int(run.run(options))
    except BrokenPipeError:  # the reader of a pipe, such as head, has seen enough
        sys.stderr.close()
        return OPEN_FINDINGS
    except KeyboardInterrupt:
        print("Stopped; the workbook is as it was.", file=sys.stderr)
        return FAILED
