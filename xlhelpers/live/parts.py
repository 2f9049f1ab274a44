"""Parts that native formulas share: words, ranges of numbers, names looked up in a column."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from xlhelpers.errors import SpecificationError
from xlhelpers.fields.choices import CLOSING_WORDS
from xlhelpers.fields.record import Field

UNIT = "xlh_unit"
"""Name of the cell that holds the metres in one unit of length of the workbook."""
NOT_UNDERSTOOD = "?"
_SPLITTING = ",;/+&"


def first_that_holds(cases: Iterable[tuple[str, str]], otherwise: str = '""') -> str:
    """Return nested IFs: of the pairs (condition, result) the first that holds."""
    listed = list(cases)
    text = "".join(f"IF({condition},{result}," for condition, result in listed)
    return f"{text}{otherwise}{')' * len(listed)}"


def text(words: str) -> str:
    """Return a text as it stands in a formula."""
    return '"' + words.replace('"', '""') + '"'


def is_blank(cell: str) -> str:
    """Return the condition that a number cell holds neither a number nor a text."""
    return f'AND(NOT(ISNUMBER({cell})),TRIM(T({cell}))="")'


def in_range(cell: str, record: Field) -> str:
    """Return the condition that a number lies in the range of its field.

    Raises
    ------
    SpecificationError
        The field has no two bounds, or its quantity is none of lengths, diameters, readings.
    """
    low, high = record.low, record.high
    if low is None or high is None:
        raise SpecificationError(f"field {record.name} has no range")
    if record.quantity == "reading" and low == -high:
        return f"ABS({cell})<={_figure(high)}"
    if record.quantity not in ("length", "diameter"):
        raise SpecificationError(f"field {record.name} is neither a reading nor a length")
    measure = {"length": UNIT, "diameter": "100*xlh_diameter_unit"}[record.quantity]
    return f"AND({cell}*{measure}>={_figure(low)},{cell}*{measure}<={_figure(high)})"


def when_number(cell: str, record: Field, result: str, otherwise: str = '""') -> str:
    """Return a result where a cell holds a number in the range of its field."""
    return f"IF(ISNUMBER({cell}),IF({in_range(cell, record)},{result},{otherwise}),{otherwise})"


def word(cell: str, words: Sequence[str], otherwise: str = '""') -> str:
    """Return the word of a list that a cell holds, in small letters; "" for a blank."""
    same = ",".join(f"TRIM({cell})={text(item)}" for item in words)
    known = f"IF(OR({same}),LOWER(TRIM({cell})),{otherwise})"
    return f'IF(TRIM({cell})="","",{known})'


def position(name: str, cells: str) -> str:
    """Return where a name stands in a column of names, "" where it does not.

    A number agrees with the same number kept as a text. A name with a wild card is not looked up,
    because spreadsheets would take it for many.
    """
    wild = ",".join(f'ISNUMBER(FIND("{sign}",{name}))' for sign in "*?~")
    other = f'IF(ISNUMBER({name}),{name}&"",IF(({name}+0)&""={name},{name}+0,{name}))'
    place = f"IFERROR(MATCH({name},{cells},0),MATCH({other},{cells},0))"
    return f'IFERROR(IF(TRIM({name})="","",IF(OR({wild}),"",{place})),"")'


def first_initials(crew: str) -> str:
    """Return the first initials of a crew such as AB CD, AB/CD or AB, CD."""
    parted = f"TRIM({crew})"
    for sign in _SPLITTING:
        parted = f'SUBSTITUTE({parted},"{sign}"," ")'
    return f'LEFT({parted},FIND(" ",{parted}&" ")-1)'


def closes(cell: str) -> str:
    """Return the condition that a text begins with a word that closes a blank."""
    begins = ",".join(f"LEFT(TRIM({cell}),{len(item)})={text(item)}" for item in CLOSING_WORDS)
    return f'OR({begins},TRIM({cell})="?")'


def without_closing_words(joined: str) -> str:
    """Return what is left of some texts, parted by bars, without closing words and signs."""
    left = f"UPPER({joined})"
    for item in (*CLOSING_WORDS, "?", "|", " "):
        left = f'SUBSTITUTE({left},{text(item)},"")'
    return left


def _figure(number: float) -> str:
    return f"{number:.15g}"
