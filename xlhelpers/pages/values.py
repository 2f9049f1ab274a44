"""Values as they go into the cells of our tabs: harmless text, identifiers, natural order."""

import re
from collections.abc import Iterable, Sequence

import numpy as np
import pandas as pd

GREATEST_TEXT = 32_767
_CUT = " … (cut)"
# what XML cannot hold, and half characters
_CONTROLS = re.compile("[\x00-\x08\x0b\x0c\x0e-\x1f\x7f\ud800-\udfff\ufffe\uffff]")
_NUMBER = re.compile(r"0|[1-9][0-9]{0,14}")
_DIGITS = re.compile(r"(\d+)")


def clean_text(text: object) -> str:
    """Return a text that a cell can hold: no control characters, at most 32,767 characters.

    What cannot be shown is replaced by the sign for such a character; a text that is too long is
    cut and says so. XlsxWriter takes a text between <r> and </r> for ready-made markup and would
    write it as it stands, so such a text gets an invisible first character.
    """
    clean = str(text)
    if not clean.isprintable():
        clean = clean.replace("\r\n", "\n").replace("\r", "\n")
        clean = _CONTROLS.sub("\N{REPLACEMENT CHARACTER}", clean)
    if len(clean) > GREATEST_TEXT // 2 and _length(clean) > GREATEST_TEXT:
        clean = clean[: GREATEST_TEXT // (2 if _length(clean) > len(clean) else 1) - len(_CUT)]
        clean += _CUT
    if clean.startswith("<r>") and clean.endswith("</r>"):
        clean = "\N{WORD JOINER}" + clean
    return clean


def _length(text: str) -> int:
    """Return the length as a spreadsheet counts it, in units of 16 bits."""
    return len(text.encode("utf-16-le", "replace")) // 2


def identifier_value(text: object) -> float | str:
    """Return what an identifier is written as: 12 as a number, so that it sorts; "012" as text."""
    identifier = str(text)
    return float(identifier) if _NUMBER.fullmatch(identifier) else clean_text(identifier)


def natural_key(text: str) -> tuple[tuple[int, int, str], ...]:
    """Return a key that puts 2 before 10 and "7b" after "7"."""
    pieces = [piece for piece in _DIGITS.split(text.casefold()) if piece]
    return tuple((0, int(p), "") if p.isdecimal() else (1, 0, p) for p in pieces)


def natural_rank(values: Iterable[str]) -> np.ndarray:
    """Return the place of each value in natural order, the same for equal values."""
    codes, texts = pd.factorize(pd.Series([str(v) for v in values], dtype=object))
    unique = [str(value) for value in texts]
    order = sorted(range(len(unique)), key=lambda i: natural_key(unique[i]))
    place = np.empty(len(unique), dtype=int)
    place[order] = np.arange(len(unique))
    return np.asarray(place[codes])


def natural_order(*columns: Sequence[str]) -> np.ndarray:
    """Return the positions that sort by the first column, then the second and so on, stably."""
    ranks = [natural_rank(column) for column in columns]
    return np.asarray(np.lexsort(ranks[::-1]))


def lines_of(text: str, width: float) -> int:
    """Return how many lines a text takes in a column of so many characters, broken at spaces."""
    return sum(_lines_of_one(line, max(width, 1.0)) for line in text.split("\n"))


def _lines_of_one(line: str, width: float) -> int:
    if len(line) <= width:
        return 1
    lines, used = 1, 0.0
    for word in line.split(" "):
        if used and used + 1 + len(word) > width:
            lines, used = lines + 1, 0.0
        used += len(word) + (1 if used else 0)
        if used > width:
            lines, used = lines + int(used // width), used % width
    return lines
