"""One cell of a foreign sheet as a number; also "est. 40", "~20", "2 stems: 12, 9" and "snag".

Nothing is dropped: a cell is read, or `why_not` says why it goes into the note as it is.
"""

from __future__ import annotations

import re
from datetime import date
from typing import NamedTuple

from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.bring.foreign import Value, text_of
from xlhelpers.jobs.bring.headings import fold_text
from xlhelpers.jobs.bring.vocabulary import (
    DEAD_LETTERS,
    DEAD_TOP_WORDS,
    DEAD_WORDS,
    ESTIMATE_WORDS,
    LIVING_LETTERS,
    LIVING_WORDS,
    STEM_WORDS,
)
from xlhelpers.survey.typed.numbers import (
    FEET_AND_INCHES,
    FRACTION_OF_INCH,
    quantity_named,
    understand,
)
from xlhelpers.survey.typed.stem_lists import understand_stems
from xlhelpers.survey.typed.units import TypedUnit, inner_factor
from xlhelpers.survey.typed.words import closing_word

_PLAIN = re.compile(r"[+-]?[0-9]+(?:\.[0-9]+)?")
_COMMA = re.compile(r"[+-]?[0-9]+,[0-9]+")
_ESTIMATES = sorted((w.strip() for w in ESTIMATE_WORDS.split(";")), key=len, reverse=True)
_ESTIMATED = "|".join(map(re.escape, _ESTIMATES))
_BEFORE = re.compile(rf"(?i)(?:{_ESTIMATED})(?![^\W\d_])\s*:?\s*(?P<rest>[0-9].*)")
_BEHIND = re.compile(rf"(?i)(?P<rest>.*[0-9][^(]*?)\s*\(?(?<![^\W\d_])(?:{_ESTIMATED}|e|\?)\)?")
_STEMS = "|".join(map(re.escape, STEM_WORDS))
_COUNTED = re.compile(
    rf"(?i)(?P<count>[0-9]{{1,2}})[ -]?(?:{_STEMS})\b\.?\s*[:=(,-]?\s*(?P<rest>[^)]*)\)?"
)
_LISTED = re.compile(
    rf"(?i)(?P<rest>[0-9][^(]*[0-9])\s*[(,]?\s*(?P<count>[0-9]{{1,2}})[ -]?(?:{_STEMS})\)?"
)
_NO_FRACTION = re.compile(r"([0-9]+(?:\.[0-9]+)?) ?/ ?([0-9]+(?:\.[0-9]+)?)(?![0-9/])")
_PARTS_OF_AN_INCH = ("2", "4", "8", "16", "32", "64")
_TIMES = re.compile(r"(?<=[0-9'\"m])\s*[x×*]\s*(?=[0-9])")


class CellRead(NamedTuple):
    """What a cell means, in the unit of the new workbook.

    `value` is a number, or a closing word as it stands; `more` are further stems or the second
    width; `condition` is D or T where a word says that the tree, or its top, is dead; `scale` is
    the scale of a typed unit. `remarkable` cells are also quoted in the note.
    """

    value: float | str | None = None
    more: tuple[float, ...] = ()
    condition: str = ""
    scale: str = ""
    remarkable: bool = False
    why_not: str = ""


class NumberKind(NamedTuple):
    """How a column of numbers is read: its quantity, unit and comma, and the workbook's units."""

    quantity: str
    unit: TypedUnit | None
    units: Units
    comma: bool = False

    def convert(self, number: float) -> float:
        """Return a number of the column in the unit of the new workbook."""
        quantity = quantity_named(self.quantity)
        if self.unit is None or self.quantity in ("reading", ""):
            return tidy_number(number)
        factor = inner_factor(self.unit, quantity, self.units)
        return tidy_number(
            number if factor is None else number * factor / quantity.factor(self.units)
        )


def tidy_number(number: float) -> float:
    """Return a number without the last digits, in which only the computing shows."""
    return float(f"{number:.12g}")


def read_number_cell(value: Value, kind: NumberKind) -> CellRead:
    """Read one filled cell of a column of numbers."""
    if isinstance(value, bool):
        return CellRead(why_not="TRUE and FALSE are not numbers")
    if isinstance(value, float):
        return CellRead(kind.convert(value))
    if isinstance(value, date):
        return CellRead(why_not="the spreadsheet turned it into a date")
    text = text_of(value)
    return _read_text(text, kind)


def _read_text(text: str, kind: NumberKind) -> CellRead:
    if closing_word(text):
        return CellRead(text)
    number = _understand(text, kind)
    if number is not None:
        return number
    condition = condition_in(text)
    if condition:
        return CellRead(condition=condition, remarkable=True)
    for pattern in (_BEFORE, _BEHIND):
        match = pattern.fullmatch(text)
        if match and (inner := _read_text(match.group("rest").strip(), kind)).value is not None:
            return inner._replace(remarkable=True)
    if kind.quantity == "diameter":
        return _read_stems(text, kind)
    if kind.quantity == "length":
        return _read_two_widths(text, kind)
    return CellRead(why_not="it is not a number")


def _understand(text: str, kind: NumberKind) -> CellRead | None:
    """Return a plain number, or one with a unit of its own; None for any other text."""
    if kind.comma and _COMMA.fullmatch(text):
        text = text.replace(",", ".")
    if _PLAIN.fullmatch(text):
        return CellRead(kind.convert(float(text)))
    quantity = quantity_named(kind.quantity)
    understanding = understand(text, quantity, kind.units)
    if understanding.refused:
        return None
    number = tidy_number(understanding.value / quantity.factor(kind.units))
    own_unit = any(
        k in (FEET_AND_INCHES, FRACTION_OF_INCH) or k.startswith("unit typed")
        for k in understanding.kinds
    )
    return CellRead(number if own_unit else kind.convert(number), scale=understanding.scale)


def read_stem_cell(value: Value, kind: NumberKind) -> CellRead:
    """Read a cell that lists the diameters of further stems; all are in `more`."""
    if isinstance(value, str) and not _PLAIN.fullmatch(value.strip()):
        cell = _read_text(text_of(value), kind)
        if isinstance(cell.value, float):
            return cell._replace(value=None, more=(cell.value, *cell.more))
        listed = _read_stems(text_of(value), kind)
        if isinstance(listed.value, float):
            return listed._replace(value=None, more=(listed.value, *listed.more), remarkable=False)
        return cell
    cell = read_number_cell(value, kind)
    if isinstance(cell.value, float):
        return cell._replace(value=None, more=(cell.value,))
    return cell


def _read_stems(text: str, kind: NumberKind) -> CellRead:
    """Read several stems in one cell; the thickest is the value."""
    count, rest = 0, text
    for pattern in (_COUNTED, _LISTED):
        if match := pattern.fullmatch(text):
            count, rest = int(match.group("count")), match.group("rest").strip()
            break
    if count and not rest:
        return CellRead(why_not="it gives the number of stems, but no diameter")
    rest = _NO_FRACTION.sub(_part_stems, rest.replace("(", " ").replace(")", " "))
    values, understood = understand_stems(rest, kind.units)
    if understood.refused or len(values) < 2:
        return CellRead(why_not="it is not a number")
    if count and count != len(values):
        return CellRead(why_not=f"it says {count} stems, but lists {len(values)}")
    own_unit = any(k.startswith("unit typed") for k in understood.kinds)
    factor = quantity_named("diameter").factor(kind.units)
    diameters = [tidy_number(value / factor) for value in values]
    diameters = sorted((n if own_unit else kind.convert(n) for n in diameters), reverse=True)
    return CellRead(diameters[0], tuple(diameters[1:]), remarkable=True)


def _part_stems(match: re.Match[str]) -> str:
    """Part two stems as in 410/380; 9/16 may be a fraction of an inch and stays."""
    is_fraction = float(match[1]) < float(match[2]) and match[2] in _PARTS_OF_AN_INCH
    return match[0] if is_fraction else f"{match[1]} + {match[2]}"


def _read_two_widths(text: str, kind: NumberKind) -> CellRead:
    """Read two lengths in one cell, such as "11+10" or "9 x 7"; the larger is the value."""
    parts = re.split(r"\s*\+\s*", _TIMES.sub("+", text))
    read = [_understand(part, kind) for part in parts]
    numbers = [one.value for one in read if one is not None and isinstance(one.value, float)]
    if len(parts) != 2 or len(numbers) != 2:
        return CellRead(why_not="it is not a number")
    return CellRead(max(numbers), (min(numbers),), remarkable=True)


def _words(text: str) -> frozenset[str]:
    return frozenset(fold_text(word) for word in text.split(";"))


_DEAD, _DEAD_TOP, _LIVING = _words(DEAD_WORDS), _words(DEAD_TOP_WORDS), _words(LIVING_WORDS)


def condition_in(text: str) -> str:
    """Return D for a word that says dead, T for a dead top, "" for any other text."""
    folded = fold_text(text)
    return "D" if folded in _DEAD else "T" if folded in _DEAD_TOP else ""


def read_condition(text: str, letters: frozenset[str]) -> str | None:
    """Return the condition that a cell of a column of conditions means.

    Parameters
    ----------
    text : str
        The cell.
    letters : frozenset of str
        The one-letter codes that the column has: "t" is dead beside "l" (lebend, tot), else T.

    Returns
    -------
    str or None
        D, T or "" (living); None where it says something else.
    """
    folded = fold_text(text)
    if folded in _LIVING or folded in LIVING_LETTERS:
        return ""
    if folded == "t":
        return "D" if "l" in letters else "T"
    if folded in DEAD_LETTERS:
        return "D"
    return condition_in(text) or None
