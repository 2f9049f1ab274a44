"""The command line, drawn from the records of the jobs."""

import argparse
import re
from collections.abc import Callable, Sequence
from typing import Any, NoReturn

from xlhelpers import __version__
from xlhelpers.jobs.job import FAILED, Job, Option
from xlhelpers.wording import list_words

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
_NUMBERS: dict[str, tuple[Callable[[str], float], str, float]] = {
    "number": (float, "a number", 0.5),
    "whole number": (int, "a whole number", 7),
}
_TEXTS = ("text", "texts")
# what the library says of arguments that are missing or unknown
_CHOICE = re.compile(r"argument \S+: invalid choice: '(?P<value>.*?)' \(choose from .*")
_REQUIRED = re.compile(r"the following arguments are required: (?P<names>.*)")
_NO_VALUE = re.compile(r"argument (?P<names>\S+): expected .*")


class Parser(argparse.ArgumentParser):
    """An argument parser of one job, or of all, that answers a mistake with one sentence."""

    def __init__(
        self,
        *,
        options: Sequence[Option] = (),
        jobs: Sequence[Job] = (),
        jobs_name: str = "",
        **settings: Any,
    ) -> None:
        """Make the parser of one job with its options, or of several jobs."""
        super().__init__(**settings)
        self.options = {option.on_command_line: option for option in options}
        self.names = [job.name for job in jobs]
        for option in options:
            self._add_option(option)
        if not jobs:
            return
        parts = self.add_subparsers(required=True, metavar=jobs_name or "|".join(self.names))
        for job in jobs:
            part = parts.add_parser(
                job.name,
                help=job.help,
                description=" ".join(filter(None, (f"{job.help}.", job.about))),
                epilog=job.codes,
                options=job.options,
                jobs=job.actions,
            )
            part.set_defaults(job=job, parser=part)

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
            one = None if option.required else "?"
            settings["nargs"] = "+" if option.kind == "workbooks" else one
            self.add_argument(option.name, **settings)
        else:
            settings |= {"dest": option.name, "required": option.required}
            self.add_argument(option.on_command_line, **settings)

    def _value(self, option: Option, text: str) -> Any:
        """Return the value of an option as typed, or say what is wrong with it and leave."""
        name = option.on_command_line
        if option.kind in _NUMBERS:
            read, what, example = _NUMBERS[option.kind]
            try:
                return read(text)
            except ValueError:
                like = _number_like(text, read) or f"{option.default or example:g}"
                self.refuse(f"{name} {text} is not {what}. Type a number such as {like}.")
        if option.choices:
            if text not in option.choices:
                allowed = list_words(option.choices, "or")
                self.refuse(
                    f"{name} {text} is not known.{_near(text, option.choices)} Choose {allowed}."
                )
            return text
        if option.kind in _TEXTS:
            return text
        from pathlib import Path

        return Path(text)

    def refuse(self, sentence: str) -> NoReturn:
        """Print what is wrong with the arguments and leave with the exit code 2."""
        self.exit(FAILED, f"xlhelpers: {sentence} Help: {self.prog} --help\n")

    def refuse_unknown(self, unknown: Sequence[str]) -> NoReturn:
        """Print which arguments this command does not have, and leave."""
        near = _near(unknown[0], list(self.options)) if unknown[0].startswith("-") else ""
        self.refuse(f"{self.prog} does not have {' '.join(unknown)}.{near} Check the spelling.")

    def error(self, message: str) -> NoReturn:
        """Put in our words what the library says of the arguments, and leave."""
        if wrong := _CHOICE.fullmatch(message):
            near = _near(wrong["value"], self.names)
            self.refuse(
                f"“{wrong['value']}” is not known.{near} Choose {list_words(self.names, 'or')}."
            )
        if missing := _REQUIRED.fullmatch(message):
            if self.names:
                self.refuse(f"A command is missing. Choose {list_words(self.names, 'or')}.")
            self.refuse(f"Missing: {'; '.join(map(self._describe, missing['names'].split(', ')))}.")
        if empty := _NO_VALUE.fullmatch(message):
            self.refuse(f"{empty['names']} needs a value: {self.options[empty['names']].help}.")
        self.refuse(f"{message}.")

    def _describe(self, name: str) -> str:
        option = self.options[name]
        shown = name if option.positional or not option.metavar else f"{name} {option.metavar}"
        return f"{shown} ({option.help})"


def _help(option: Option) -> str:
    """Return the help of an option with its default, for the library, which formats with %."""
    text = option.help
    if option.default is not None and option.kind in (*_NUMBERS, "choice"):
        shown = f"{option.default:g}" if option.kind in _NUMBERS else option.default
        text += f" (default: {shown})"
    return text.replace("%", "%%")


def _near(word: str, words: Sequence[str]) -> str:
    from difflib import get_close_matches  # only needed for a mistake

    near = get_close_matches(word, words, 1)
    return f" Did you mean {near[0]}?" if near else ""


def _number_like(text: str, read: Callable[[str], float]) -> str:
    """Return the number that was probably meant, as in "10,5" or "10 %"; "" for none."""
    meant = text.replace(",", ".").replace("%", "").strip()
    try:
        return meant if read(meant) == read(meant) else ""
    except ValueError:
        return ""


def make_parser(jobs: Sequence[Job]) -> Parser:
    """Return the parser with all jobs and their help."""
    parser = Parser(
        prog="xlhelpers",
        description=_DESCRIPTION,
        epilog=_EPILOG,
        formatter_class=argparse.RawDescriptionHelpFormatter,
        jobs=jobs,
        jobs_name="COMMAND",
    )
    parser.add_argument("--version", action="version", version=f"xlhelpers {__version__}")
    return parser


def parse(jobs: Sequence[Job], arguments: Sequence[str] | None) -> tuple[Job, dict[str, Any]]:
    """Return the job that was asked for and the value of each of its options.

    Raises
    ------
    SystemExit
        With 0 after help or version; with 2 after a sentence about wrong arguments.
    """
    options, unknown = make_parser(jobs).parse_known_args(arguments)
    if unknown:
        options.parser.refuse_unknown(unknown)
    job: Job = options.job
    return job, {option.name: getattr(options, option.name) for option in job.options}
