"""Formulas taken apart into tokens: enough to find and rename sheets, tables and names."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from xlhelpers.package.references import sheet_prefix

# The order decides: a sheet before its cell, a cell before a name.
_TOKEN = re.compile(
    r"""
      (?P<text>"(?:[^"]|"")*")
    | (?P<error>\#(?:REF!|DIV/0!|N/A|NAME\?|NULL!|NUM!|VALUE!|SPILL!|CALC!|GETTING_DATA))
    | (?P<sheet>(?:'(?:[^']|'')+'|(?:\[[^\]]+\])?[\w.\\?]+(?::[\w.\\?]+)?|\[[^\]]+\])!)
    | (?P<area>\$?[A-Za-z]{1,3}\$?[0-9]{1,7}(?::\$?[A-Za-z]{1,3}\$?[0-9]{1,7})?(?![\w.(\[]))
    | (?P<columns>\$?[A-Za-z]{1,3}:\$?[A-Za-z]{1,3}(?![\w.(\[]))
    | (?P<rows>\$?[0-9]{1,7}:\$?[0-9]{1,7}(?![\w.]))
    | (?P<number>[0-9]+\.?[0-9]*(?:[Ee][+-]?[0-9]+)?|\.[0-9]+(?:[Ee][+-]?[0-9]+)?)
    | (?P<function>[^\W\d][\w.]*(?=\())
    | (?P<name>(?:[^\W\d]|\\)[\w.\\?]*)
    | (?P<bracket>\[)
    | (?P<other>.)
    """,
    re.VERBOSE | re.DOTALL,
)


@dataclass(frozen=True)
class Token:
    """One token: its kind (text, error, sheet, area, columns, rows, number, function, name,
    bracket, other) and its text."""

    kind: str
    text: str


def tokens(formula: str) -> Iterator[Token]:
    """Tokens of a formula without its equals sign; joined they give the formula again."""
    position = 0
    while position < len(formula):
        match = _TOKEN.match(formula, position)
        if match is None:  # cannot happen: the last branch takes any character
            return
        kind = match.lastgroup or "other"
        end = match.end()
        if kind == "bracket":
            end = _closing(formula, position)
        yield Token(kind, formula[position:end])
        position = end


def _closing(formula: str, start: int) -> int:
    """Offset after the bracket that closes the one at `start`; ' escapes the next character."""
    depth, position = 0, start
    while position < len(formula):
        character = formula[position]
        if character == "'":
            position += 1
        elif character == "[":
            depth += 1
        elif character == "]":
            depth -= 1
            if depth == 0:
                return position + 1
        position += 1
    return len(formula)


def sheet_names(token_text: str) -> tuple[str, ...]:
    """Sheets that a sheet token names: one, or the first and last of several.

    Empty for a sheet of another workbook.
    """
    text = token_text[:-1]
    if text.startswith("'"):
        text = text[1:-1].replace("''", "'")
    if "[" in text:
        return ()
    return tuple(text.split(":"))


def rename(formula: str, sheets: Mapping[str, str], names: Mapping[str, str]) -> str:
    """The formula with sheets and names (or tables) renamed; keys are casefolded.

    Texts in quotes stay as they are, and so do sheets of other workbooks.
    """
    pieces = []
    for token in tokens(formula):
        if token.kind == "sheet":
            pieces.append(_renamed_sheet(token.text, sheets))
        elif token.kind == "name":
            pieces.append(names.get(token.text.casefold(), token.text))
        else:
            pieces.append(token.text)
    return "".join(pieces)


def _renamed_sheet(text: str, sheets: Mapping[str, str]) -> str:
    old = sheet_names(text)
    new = tuple(sheets.get(name.casefold(), name) for name in old)
    if new == old:
        return text
    if len(new) == 1:
        return sheet_prefix(new[0]) + "!"
    return "'" + ":".join(name.replace("'", "''") for name in new) + "'!"
