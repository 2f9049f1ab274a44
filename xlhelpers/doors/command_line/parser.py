"""The parser of the command line, which answers a wrong argument with one sentence."""

import argparse
import re
from collections.abc import Callable
from difflib import get_close_matches
from typing import NoReturn

_VALUES = {"int": ("a whole number", 7), "float": ("a number", 0.5)}
_CHOICE = re.compile(r"argument (?P<name>\S+): invalid choice: (?P<value>'.*?') \(choose from .*")
_VALUE = re.compile(r"argument (?P<name>\S+): invalid (?P<kind>int|float) value: (?P<value>'.*')")
_UNKNOWN = re.compile(r"unrecognized arguments: (?P<names>.*)")
_REQUIRED = re.compile(r"the following arguments are required: (?P<names>.*)")
_NO_VALUE = re.compile(r"argument (?P<name>\S+): expected .*")


class Parser(argparse.ArgumentParser):
    """An argument parser that says what was found, what is allowed and what to do."""

    def error(self, message: str) -> NoReturn:
        """Print one sentence and leave with exit code 2.

        Parameters
        ----------
        message : str
            What the library says of the arguments.
        """
        said = next(
            (say(self, found) for shape, say in _SENTENCES if (found := shape.fullmatch(message))),
            f"{message}.",
        )
        self.exit(2, f"xlhelpers: {said} Help: {self.prog} --help\n")


def _action(parser: argparse.ArgumentParser, name: str) -> argparse.Action | None:
    """Return the argument that the library calls by this name."""
    for action in parser._actions:  # the library has no public list of its arguments
        shown = action.metavar if isinstance(action.metavar, str) else action.dest
        if name in {*action.option_strings, "/".join(action.option_strings), shown}:
            return action
    return None


def _wrong_choice(parser: argparse.ArgumentParser, found: re.Match[str]) -> str:
    action = _action(parser, found["name"])
    allowed = [str(choice) for choice in (action.choices if action else None) or ()]
    value = found["value"].strip("'")
    near = get_close_matches(value, allowed, 1)
    what = f"{found['name']} {value}" if found["name"].startswith("-") else f"“{value}”"
    meant = f" Did you mean {near[0]}?" if near else ""
    return f"{what} is not known; allowed: {', '.join(allowed)}.{meant}"


def _wrong_value(parser: argparse.ArgumentParser, found: re.Match[str]) -> str:
    what, example = _VALUES[found["kind"]]
    action = _action(parser, found["name"])
    if action is not None and isinstance(action.default, int | float):
        example = action.default
    value = found["value"].strip("'")
    return f"{found['name']} {value}: {what} is needed, such as {example:g}."


def _unknown(parser: argparse.ArgumentParser, found: re.Match[str]) -> str:
    return f"{found['names']} is not known to this command; see that it is spelt right."


def _missing(parser: argparse.ArgumentParser, found: re.Match[str]) -> str:
    said = []
    for name in found["names"].split(", "):
        action = _action(parser, name)
        shown = name
        if action is not None and action.option_strings and isinstance(action.metavar, str):
            shown = f"{name} {action.metavar}"
        said.append(f"{shown} ({action.help})" if action is not None and action.help else shown)
    return f"still needed: {'; '.join(said)}."


def _no_value(parser: argparse.ArgumentParser, found: re.Match[str]) -> str:
    action = _action(parser, found["name"])
    what = f": {action.help}" if action is not None and action.help else ""
    return f"{found['name']} needs a value behind it{what}."


_SENTENCES: tuple[
    tuple[re.Pattern[str], Callable[[argparse.ArgumentParser, re.Match[str]], str]], ...
] = (
    (_CHOICE, _wrong_choice),
    (_VALUE, _wrong_value),
    (_UNKNOWN, _unknown),
    (_REQUIRED, _missing),
    (_NO_VALUE, _no_value),
)
