"""Words as people type them: identifiers, choices, ticks, and the words that close a blank.

Two texts are the same word when they agree after `fold_word`: compatibility forms, kinds of
dashes and of spaces, and capitals make no difference. What was typed is kept for show.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

from xlhelpers.fields.choices import CLOSING_WORDS, SPELLINGS, choice
from xlhelpers.survey.typed.folding import fold

DASHES = "‐‑‒–—―−﹣－"
_DASH_TABLE = str.maketrans(dict.fromkeys(DASHES, "-"))
_BETWEEN_INITIALS = re.compile(r"[\s,;/+&]+")
_WHOLE = re.compile(r"([+-]?[0-9]+)\.0+")
_TICKED = frozenset(("x", "✓", "✔", "☑", "☒", "yes", "y", "1", "true"))
_NOT_TICKED = frozenset(("no", "n", "0", "false", "☐"))
_CLOSING = {word.casefold(): word for word in CLOSING_WORDS}
UNREADABLE = "UNREADABLE"


@dataclass(frozen=True)
class Chosen:
    """The word of a list that was meant; `kind` says how, "" where it was typed as it stands."""

    word: str
    kind: str = ""


def tidy(text: str) -> str:
    """Return the text without control and invisible characters, spaces made single and plain.

    Parameters
    ----------
    text
        Text of a cell.

    Returns
    -------
    str
        The same text for show: letters, capitals and signs as typed.
    """
    if text.isprintable():
        return " ".join(text.split())
    characters = (
        " " if c.isspace() else c for c in text if c.isspace() or unicodedata.category(c)[0] != "C"
    )
    return " ".join("".join(characters).split())


def fold_word(text: str) -> str:
    """Return the form in which two words are compared: folded, with one kind of dash."""
    return fold(tidy(text)).translate(_DASH_TABLE)


@lru_cache(maxsize=65536)
def identifier_key(text: str) -> str:
    """Return the form in which two identifiers are compared: 1, 1.0 and "1" agree, "01" differs."""
    folded = fold_word(text)
    whole = _WHOLE.fullmatch(folded)
    return whole[1] if whole else folded


def initials_in(crew: str) -> tuple[str, ...]:
    """Return the initials in a crew such as AB CD, AB/CD or AB, CD; who measures stands first."""
    return tuple(word for word in _BETWEEN_INITIALS.split(crew) if word)


def subject_words(subject: Sequence[tuple[str, str]]) -> str:
    """Return what a finding is about in words: "plot 7 tree 12", "(no plot) tree 12"."""
    return " ".join(f"{word} {name}" if name else f"(no {word})" for word, name in subject)


def number_as_text(number: float) -> str:
    """Return a number as the spreadsheet shows it: 1 for 1.0, at most 15 digits."""
    return f"{number:.15g}"


def closing_word(text: str) -> str:
    """Return the closing word that a text stands for, "" where it is none.

    Any spelling in capitals or not counts; "?" stands for UNREADABLE; words of explanation may
    follow, parted by a sign: "not safe: wasps".
    """
    folded = fold_word(text).replace("_", " ")
    if folded and not folded.strip("? "):
        return UNREADABLE
    plain = " ".join(folded.replace("-", " ").split())
    for start, word in _CLOSING.items():
        if plain == start or re.match(rf"{start}\s*[^\w\s]", folded):
            return word
    return ""


def choose(text: str, list_name: str) -> Chosen | None:
    """Return the word of a list of choices that a text means, None where it means none.

    Parameters
    ----------
    text
        Text of the cell.
    list_name
        Name of an entry of `xlhelpers.fields.choices.CHOICES`.
    """
    folded = fold_word(text)
    for word in choice(list_name):
        if folded == word.casefold():
            plain = tidy(text).casefold() == word.casefold()
            return Chosen(word, "" if plain else f"another spelling of {word}")
    meant = SPELLINGS.get(list_name, {}).get(folded)
    if meant is None:
        return None
    return Chosen(meant, f"“{tidy(text)}” for {meant or 'blank'}")


def tick(value: object) -> bool | None:
    """Return whether a tick box is ticked; None where the mark means neither.

    Ticked: x, X, a check mark, yes, y, 1, TRUE. Not ticked: no, n, 0, FALSE.
    """
    if isinstance(value, bool):
        return value
    if isinstance(value, int | float):
        return bool(value) if value in (0, 1) else None
    folded = fold_word(str(value))
    if folded in _TICKED:
        return True
    return False if folded in _NOT_TICKED else None
