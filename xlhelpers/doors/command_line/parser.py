"""The command line, drawn from the records of the jobs; one parser for what was asked for.

A mistake is answered with one sentence: what was typed, what is allowed, what to do.
"""

import argparse
import os
import re
import textwrap
from collections.abc import Callable, Iterable, Sequence
from typing import Any, NoReturn

from xlhelpers import __version__
from xlhelpers.doors.typed_values import NUMBERS, near_word, offer, read_value
from xlhelpers.jobs.job import FAILED, Job, Option

_DESCRIPTION = """\
Computes tree heights and crowns from an entered field survey, checks the readings and writes
summary tabs. It never changes what you typed."""
_EPILOG = """\
Your first day:
  xlhelpers new TOWN.xlsx     make a blank workbook; read its first tab, Guide
  (enter the paper sheets, save and close the workbook)
  xlhelpers fill TOWN.xlsx    compute heights, check readings, write the summary tabs
  (open it, work through the tab To check, save, close and fill again)

Exit codes: 0: nothing to check. 1: findings to check. 2: a workbook could not be read or written;
it is unchanged."""
# what the library says of arguments that are missing
_REQUIRED = re.compile(r"the following arguments are required: (?P<names>.*)")
_NO_VALUE = re.compile(r"argument (?P<name>\S+): expected .*")


class Parser(argparse.ArgumentParser):
    """A parser of the options of one job, or of the names of several."""

    def __init__(self, options: Sequence[Option] = (), **settings: Any) -> None:
        """Make the parser; `settings` are those of the library."""
        super().__init__(formatter_class=_Formatter, **settings)
        self.options = {option.on_command_line: option for option in options}
        for option in options:
            self._add_option(option)

    def _add_option(self, option: Option) -> None:
        settings: dict[str, Any] = {"help": _help(option), "default": option.default}
        if option.kind == "flag":
            settings["action"] = "store_true"
        else:
            settings["type"] = lambda text: self._value(option, text)
            settings["choices"] = option.choices or None
            settings["metavar"] = option.metavar or None
        if option.kind == "texts":
            settings |= {"action": "append", "default": []}
        if option.positional:
            one, several = (None, "+") if option.required else ("?", "*")
            settings["nargs"] = several if option.kind == "workbooks" else one
            self.add_argument(option.name, **settings)
        else:
            settings |= {"dest": option.name, "required": option.required}
            self.add_argument(option.on_command_line, **settings)

    def _value(self, option: Option, text: str) -> Any:
        """Return the value of an option as typed, or say what is wrong with it and leave."""
        try:
            return read_value(option, text, option.on_command_line)
        except ValueError as error:
            self.refuse(str(error))

    def refuse(self, sentence: str) -> NoReturn:
        """Print what is wrong with the arguments and leave with the exit code 2."""
        self.exit(FAILED, f"xlhelpers: {sentence} Help: {self.prog} --help\n")

    def refuse_name(self, names: Sequence[str], arguments: Sequence[str]) -> NoReturn:
        """Print the help if it is asked for, or else which jobs there are, and leave."""
        _, words = self.parse_known_args(arguments)
        if not words:
            self.refuse(f"A command is missing.{offer('', names)}")
        self.refuse(f"“{words[0]}” is not known.{offer(words[0], names)}")

    def error(self, message: str) -> NoReturn:
        """Put in our words what the library says of the arguments, and leave."""
        if missing := _REQUIRED.fullmatch(message):
            self.refuse(f"Missing: {'; '.join(map(self._describe, missing['names'].split(', ')))}.")
        if empty := _NO_VALUE.fullmatch(message):
            self.refuse(f"{empty['name']} needs a value: {self._describe(empty['name'])}.")
        self.refuse(f"{message}.")

    def _describe(self, name: str) -> str:
        option = self.options[name]
        typed = name if option.positional or not option.metavar else f"{name} {option.metavar}"
        return f"{typed} ({option.help})"


class _Formatter(argparse.RawDescriptionHelpFormatter):
    def __init__(self, prog: str) -> None:
        super().__init__(prog, width=_width())  # the library would import archivers for that


def _width() -> int:
    try:
        return int(os.environ.get("COLUMNS") or os.get_terminal_size().columns) - 2
    except (ValueError, OSError):
        return 78


def _help(option: Option) -> str:
    """Return the help of an option with its default, for the library, which formats with %."""
    text = option.help
    if option.default is not None and option.kind in (*NUMBERS, "choice"):
        default = f"{option.default:g}" if option.kind in NUMBERS else option.default
        text += f" (default: {default})"
    return text.replace("%", "%%")


def parse(
    names: Sequence[str], load: Callable[[str], Job], arguments: Sequence[str]
) -> tuple[Job, dict[str, Any]]:
    """Return the job that was asked for and the value of each of its options.

    Parameters
    ----------
    names : sequence of str
        The jobs in their order.
    load : callable
        Gives the record of a job by its name; only what is needed is loaded.
    arguments : sequence of str
        What was typed after the name of the program.

    Raises
    ------
    SystemExit
        With 0 after help or version; with 2 after a sentence about wrong arguments.
    """
    if not arguments or arguments[0] not in names:
        parser = Parser(
            prog="xlhelpers",
            usage="xlhelpers [-h] [--version] COMMAND ...",
            description=_DESCRIPTION,
            epilog=f"{_list(map(load, names))}\n\n{_EPILOG}",
        )
        parser.add_argument("--version", action="version", version=f"xlhelpers {__version__}")
        parser.refuse_name(names, arguments)
    return _parse_job(f"xlhelpers {arguments[0]}", load(arguments[0]), arguments[1:])


def _parse_job(prog: str, job: Job, arguments: Sequence[str]) -> tuple[Job, dict[str, Any]]:
    parts = {part.name: part for part in job.actions}
    if arguments and arguments[0] in parts:
        return _parse_job(f"{prog} {arguments[0]}", parts[arguments[0]], arguments[1:])
    width = _width()
    settings: dict[str, Any] = {
        "prog": prog,
        "description": textwrap.fill(" ".join(filter(None, (f"{job.help}.", job.about))), width),
    }
    if parts:
        usage = f"{prog} [-h] {'|'.join(parts)} ..."
        group = Parser(usage=usage, epilog=_list(job.actions), **settings)
        group.refuse_name(list(parts), arguments)
    parser = Parser(job.options, epilog=textwrap.fill(job.codes, width), **settings)
    options, unknown = parser.parse_known_args(arguments)
    if unknown:
        near = near_word(unknown[0], list(parser.options)) if unknown[0].startswith("-") else ""
        parser.refuse(f"{' '.join(unknown)} is not an option of {prog}.{near}")
    return job, vars(options)


def _list(jobs: Iterable[Job]) -> str:
    rows = [(job.name, job.help) for job in jobs]
    wide = max(len(name) for name, _ in rows)
    return "\n".join(["commands:", *(f"  {name:<{wide}}  {help}" for name, help in rows)])
