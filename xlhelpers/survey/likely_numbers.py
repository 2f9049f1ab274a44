"""Texts that are nearly numbers: fractions, and letters keyed for digits."""

from __future__ import annotations

import re

from xlhelpers.survey.words import number_as_text

_INCHES = re.compile(r"([0-9]+)(?: |-)([0-9]+)/(2|4|8|16|32) ?(?:\"|in\.?|inch|inches)?")
# letters that are keyed for a digit, and the digit that is meant
_LETTERS = "OolI"
_AS_DIGITS = str.maketrans("OolI", "0011")
_WITH_LETTERS = re.compile(r"[+-]?[0-9OolI]+(?:[.,][0-9OolI]+)?")


def whole_and_fraction(text: str) -> float | None:
    """Return inches from texts such as 14 1/2 or 14-1/2"; None for any other."""
    found = _INCHES.fullmatch(text.casefold())
    if found is None or int(found[2]) >= int(found[3]):
        return None
    return int(found[1]) + int(found[2]) / int(found[3])


def about_letters(text: str) -> str:
    """Return why a text with letters among its digits is refused, "" where there are none."""
    letters = [letter for letter in _LETTERS if letter in text]
    if not letters or not any(c.isdecimal() for c in text) or not _WITH_LETTERS.fullmatch(text):
        return ""
    meant = text.translate(_AS_DIGITS)
    which = f"letter {letters[0]} stands" if len(letters) == 1 else (
        f"letters {' and '.join(letters)} stand"
    )  # fmt: skip
    return f"the {which} among its digits; perhaps {meant} is meant"


def about_fraction(found: re.Match[str]) -> str:
    """Return why a fraction is refused, with the decimal number that it may be."""
    bottom = int(found[4])
    if bottom == 0:
        return "it is a fraction"
    value = int(found[2] or 0) + int(found[3]) / bottom
    sign = "-" if found[1] == "-" else ""
    return f"it is a fraction; perhaps {sign}{number_as_text(round(value, 4))} is meant"
