"""The parser of the command line: what is wrong with a call is said in one sentence."""

from __future__ import annotations

import argparse
import re
from typing import NoReturn

# what argparse says, and what is said in its place
_SENTENCES: tuple[tuple[re.Pattern[str], str], ...] = (
    (re.compile(r"argument (\S+): invalid float value: '(.*)'"), r"\1 \2: give a number"),
    (re.compile(r"argument (\S+): invalid int value: '(.*)'"), r"\1 \2: give a whole number"),
    (re.compile(r"argument (\S+): invalid choice: '(.*)' \(choose from (.*)\)"),
     r"\1 \2: give one of \3"),
    (re.compile(r"argument (\S+): expected (?:one|at least one) argument"),
     r"\1: say what it is to be"),
    (re.compile(r"the following arguments are required: (.*)"), r"\1 is missing"),
    (re.compile(r"unrecognized arguments: (.*)"), r"\1 is nothing that may stand here"),
)  # fmt: skip


class Parser(argparse.ArgumentParser):
    """A parser that says what is wrong, and where the help is, without the whole usage."""

    def error(self, message: str) -> NoReturn:
        """Say what is wrong with the call, and end with the exit code of a failure."""
        for pattern, sentence in _SENTENCES:
            found = pattern.fullmatch(message)
            if found is not None:
                message = found.expand(sentence).replace("'", "")
        self.exit(2, f"{self.prog}: {message}; {self.prog} --help tells more.\n")
