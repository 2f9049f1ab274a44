"""What a job is: one record that every door shows, and what came of a run.

The records import nothing heavy. A door draws its help, its form or its menu from them alone; the
function that does the work is imported when it runs.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from importlib import import_module
from typing import TYPE_CHECKING, Any, Literal, NamedTuple

if TYPE_CHECKING:
    from pathlib import Path

NOTHING_TO_CHECK, TO_CHECK, FAILED = 0, 1, 2
Progress = Callable[[str], None]
Kind = Literal[
    "workbook",
    "workbooks",
    "new workbook",
    "file",
    "new file",
    "new file or folder",
    "folder",
    "new folder",
    "number",
    "whole number",
    "choice",
    "flag",
    "text",
    "texts",
]
_SUFFIXES: dict[str, tuple[str, ...]] = {
    "workbook": (".xlsx", ".xlsm"),
    "workbooks": (".xlsx", ".xlsm"),
    "new workbook": (".xlsx",),
}


class Option(NamedTuple):
    """One choice that a job offers.

    Parameters
    ----------
    name : str
        The parameter of the job's function.
    kind : Kind
        What is typed or chosen; "workbooks" and "texts" are several.
    label : str
        Its name in a form, in sentence case.
    help : str
        What it does, without a full stop and without its default.
    default : number, str, bool or None
        The value where nothing is given; None where the job finds one itself.
    choices : tuple of str
        The values of a choice.
    required : bool
        Whether the job cannot run without it.
    positional : bool
        Whether the command line takes it without a name before it.
    metavar : str
        The placeholder of its value in the help of the command line.
    flag : str
        Its name on the command line where that is not its own name.
    suffixes : tuple of str
        Endings of a file; those of its kind unless stated.
    """

    name: str
    kind: Kind
    label: str
    help: str
    default: Any = None
    choices: tuple[str, ...] = ()
    required: bool = False
    positional: bool = False
    metavar: str = ""
    flag: str = ""
    suffixes: tuple[str, ...] = ()

    @property
    def on_command_line(self) -> str:
        """Return its name on the command line: "--with-notes", or "BOOK.xlsx" if positional."""
        if self.positional:
            return self.metavar or self.name
        return self.flag or f"--{self.name.replace('_', '-')}"

    @property
    def endings(self) -> tuple[str, ...]:
        """Return the endings that its file may have; none where any will do."""
        return self.suffixes or _SUFFIXES.get(self.kind, ())


class Done(NamedTuple):
    """What a job did: sentences for people, problems, files written, and the exit code.

    `facts` gathers what other programs may read, where the job has any; called only if wanted.
    """

    sentences: Sequence[str] = ()
    code: int = NOTHING_TO_CHECK
    files: Sequence[Path] = ()
    problems: Sequence[str] = ()
    facts: Callable[[], Mapping[str, Any]] | None = None


class Job(NamedTuple):
    """One job, as every door shows it.

    Parameters
    ----------
    name : str
        The command.
    label : str
        Its name in a menu, in sentence case.
    help : str
        What it does, in one sentence without a full stop.
    run : str
        The function that runs it, as "module:function". It takes the options by name and
        `progress`, a callable that is given each step as it begins; it returns what was done, and
        raises WorkbookError, ReadingError or OSError for what cannot be done.
    options : tuple of Option
        What can be chosen.
    about : str
        More sentences for its page of help.
    codes : str
        What its exit codes mean, where they mean something of their own.
    actions : tuple of Job
        The parts of a job that has no function itself.
    one_by_one : bool
        Whether it runs over its option `books` one by one: the function takes one `book` (and the
        place of its copy as `out`, where it has that option), and its option `json` gets the facts.
    """

    name: str
    label: str
    help: str
    run: str = ""
    options: tuple[Option, ...] = ()
    about: str = ""
    codes: str = ""
    actions: tuple[Job, ...] = ()
    one_by_one: bool = False

    def load(self) -> Callable[..., Done]:
        """Import the function that runs the job, and return it."""
        module, _, function = self.run.partition(":")
        loaded: Callable[..., Done] = getattr(import_module(module), function)
        return loaded


def book(
    help: str = "workbook of the survey; it is not changed",
    name: str = "book",
    metavar: str = "BOOK.xlsx",
    label: str = "Workbook",
) -> Option:
    """Return the option of a workbook that is read."""
    return Option(name, "workbook", label, help, required=True, positional=True, metavar=metavar)


def books(metavar: str = "BOOK.xlsx") -> Option:
    """Return the option of one or more workbooks."""
    return Option(
        "books",
        "workbooks",
        "Workbooks",
        "workbooks with entered field sheets",
        required=True,
        positional=True,
        metavar=metavar,
    )


def out(metavar: str, help: str = "new workbook to write", required: bool = False) -> Option:
    """Return the option of the new workbook that a job writes."""
    return Option("out", "new workbook", "Save as", help, required=required, metavar=metavar)


def flag(name: str, label: str, help: str) -> Option:
    """Return an option that is given or not."""
    return Option(name, "flag", label, help, False)


def units(help: str, default: str | None = None) -> Option:
    """Return the option of the units."""
    return Option("units", "choice", "Units", help, default, ("metric", "us"))


PAPER = Option(
    "paper",
    "choice",
    "Paper size",
    "paper for printing (default: a4 for metric, letter for us)",
    choices=("a4", "letter"),
)
JSON = Option(
    "json",
    "new file",
    "Save as JSON",
    "also save trees and findings with their causes as JSON (lengths in m)",
    metavar="FILE",
)
CONFIDENCE = Option(
    "confidence",
    "number",
    "Confidence (%)",
    "how often such margins contain the true value, in %",
    95.0,
    metavar="PERCENT",
)
SEED = Option("seed", "whole number", "Seed", "repeat an earlier selection (default: a new one)")
