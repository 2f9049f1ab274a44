"""Numbers as people type them.

Nothing is guessed: a text is either read in the one way that it can be meant, and how is said,
or it is refused with the reason. Cells that hold plain numbers never come here one by one; only
the odd ones do.
"""

from __future__ import annotations

import math
import re
import unicodedata
from dataclasses import dataclass, field, replace

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from xlhelpers.errors import ReadingError
from xlhelpers.fields.quantities import FOOT_M, QUANTITIES, Quantity, Units
from xlhelpers.survey.model import BLANK, CLOSED, REFUSED, VALUE
from xlhelpers.survey.typed import dates
from xlhelpers.survey.typed import units as typed_units
from xlhelpers.survey.typed.words import DASHES, closing_word, number_as_text

_INCHES = re.compile(r"([0-9]+)(?: |-)([0-9]+)/(2|4|8|16|32) ?(?:\"|in\.?|inch|inches)?")
# letters that are keyed for a digit, and the digit that is meant
_LETTERS = "OolI"
_AS_DIGITS = str.maketrans("OolI", "0011")
_WITH_LETTERS = re.compile(r"[+-]?[0-9OolI]+(?:[.,][0-9OolI]+)?")


def whole_and_fraction(text: str) -> float | None:
    """Return inches from texts such as 14 1/2 or 14-1/2"; None for any other."""
    match = _INCHES.fullmatch(text.casefold())
    if match is None or int(match[2]) >= int(match[3]):
        return None
    return int(match[1]) + int(match[2]) / int(match[3])


def about_letters(text: str) -> str:
    """Return why a text with letters among its digits is refused, "" where there are none."""
    letters = [letter for letter in _LETTERS if letter in text]
    if not letters or not any(c.isdecimal() for c in text) or not _WITH_LETTERS.fullmatch(text):
        return ""
    meant = text.translate(_AS_DIGITS)
    which = f"letter{'s' * (len(letters) > 1)} {' and '.join(letters)}"
    return f"it has the {which} among its digits. You probably meant {meant}"


def about_fraction(match: re.Match[str]) -> str:
    """Return why a fraction is refused, with the decimal number that it may be."""
    bottom = int(match[4])
    if bottom == 0:
        return "it is a fraction"
    value = int(match[2] or 0) + int(match[3]) / bottom
    sign = "-" if match[1] == "-" else ""
    return f"it is a fraction. You probably meant {sign}{number_as_text(round(value, 4))}"


Floats = NDArray[np.float64]
Bools = NDArray[np.bool_]
# kinds of understanding without loss
TEXT_NUMBER = "a number stored as text"
DECIMAL_COMMA = "decimal comma"
THOUSANDS = "thousands separator"
NO_BREAK_SPACE = "no-break space"
THIN_SPACE = "thin space or another unusual space"
PRINTED_MINUS = "printed minus sign"
OTHER_DIGITS = "digits of another form"
FEET_AND_INCHES = "feet and inches"
FRACTION_OF_INCH = "a whole number and a fraction of an inch"
PERCENT_FORMAT = "number formatted as a percentage"
# kinds of refusal; each stands for a check of the reading
NOT_A_NUMBER, AMBIGUOUS, MADE_A_DATE, ERROR_VALUE = "not a number", "ambiguous", "date", "error"
# kinds of cells, by the type that a grid holds: blank, number, text; anything else is 3
_CELL_CODES: dict[type, int] = {type(None): 0, float: 1, int: 1, str: 2}
_NO_BREAK = "\u00a0\u202f\u2007"
_UNUSUAL = "\u2000-\u2006\u2008-\u200a\u205f\u3000"
_GROUP_SPACE = re.compile(rf"(?<=[0-9])[{_NO_BREAK}{_UNUSUAL}](?=[0-9]{{3}}(?![0-9]))")
_MARKS = str.maketrans(
    {"”": '"', "“": '"', "″": '"', "’": "'", "‘": "'", "′": "'", "´": "'", "`": "'"}
)
_DASH_TABLE = str.maketrans(dict.fromkeys(DASHES, "-"))
_NUMBER = re.compile(r"([+-]?) ?([0-9.,]*[0-9][0-9.,]*) ?(.*)")
_FRACTION = re.compile(r"([+-]?)([0-9]+)?(?: |-)?([0-9]+)[/⁄]([0-9]+)(?: ?[^0-9]*)?")
_FEET_INCHES = re.compile(
    r"([+-]?) ?([0-9]+) ?(?:'|ft\.?|feet|foot) ?-? ?"
    r"(?:([0-9]+(?:[.,][0-9]+)?)(?![0-9]*/))?(?:(?: |-)?([0-9]+)/([0-9]+))? ?"
    r"(?:\"|''|in\.?|inch|inches)?"
)
_GROUPS = {mark: re.compile(rf"[0-9]{{1,3}}(?:{re.escape(mark)}[0-9]{{3}})+") for mark in ".,"}


@dataclass(frozen=True)
class Understanding:
    """What one odd cell means.

    `value` is in the inner unit, NaN where the cell is refused or closed; `kinds` says how it was
    understood; `refused` is a kind of refusal and `because` its reason, a clause; `closed` is the
    closing word; `scale` the scale that a unit typed behind a reading belongs to.
    """

    value: float = math.nan
    kinds: tuple[str, ...] = ()
    refused: str = ""
    because: str = ""
    closed: str = ""
    scale: str = ""


@dataclass(frozen=True)
class NumberColumn:
    """One column of numbers: values in the inner unit, the state of each cell, the odd cells."""

    values: Floats
    states: NDArray[np.int8]
    odd: dict[int, Understanding] = field(default_factory=dict)


class _RefusedError(Exception):
    """Leaves the steps of the understanding with a kind of refusal and its reason."""


def _refuse(because: str, kind: str = NOT_A_NUMBER) -> _RefusedError:
    return _RefusedError(kind, because)


def quantity_named(name: str) -> Quantity:
    """Return the record of a quantity.

    Raises
    ------
    ReadingError
        No quantity has this name.
    """
    if name not in QUANTITIES:
        raise ReadingError(f"no quantity is called {name}")
    return QUANTITIES[name]


def understand(text: str, quantity: Quantity, units: Units) -> Understanding:
    """Read one number that was typed as text.

    Parameters
    ----------
    text
        Text of the cell, as typed.
    quantity
        What the column holds.
    units
        System of the survey, in which a number without a unit counts.

    Returns
    -------
    Understanding
        The value in the inner unit and how it was understood; or NaN and why it is refused.
    """
    kinds: list[str] = []
    try:
        cleaned = _clean(text, kinds)
        feet = _feet_and_inches(cleaned) if _takes_lengths(quantity) else None
        if feet is not None:
            kinds.append(FEET_AND_INCHES)
            scale = "height" if quantity.name == "reading" else ""
            value = feet * FOOT_M * (100.0 if quantity.name == "diameter" else 1.0)
            if scale:
                value /= QUANTITIES["length"].factor(units)
            return Understanding(value, tuple(kinds), scale=scale)
        if quantity.name == "diameter" and units == "us":
            inches = whole_and_fraction(cleaned)
            if inches is not None:
                kinds.append(FRACTION_OF_INCH)
                return Understanding(inches * quantity.factor(units), tuple(kinds))
        meaning = _number_and_unit(cleaned, quantity, units, kinds)
    except _RefusedError as refused:
        return Understanding(refused=refused.args[0], because=refused.args[1])
    return replace(meaning, kinds=tuple(kinds) or (TEXT_NUMBER,))


def _takes_lengths(quantity: Quantity) -> bool:
    return quantity.name in ("length", "diameter", "reading")


def _clean(text: str, kinds: list[str]) -> str:
    """Return the text in plain signs; what was not plain is added to `kinds`."""
    text = "".join(c for c in text.translate(_MARKS) if unicodedata.category(c) not in ("Cc", "Cf"))
    if any(space in text for space in _NO_BREAK):
        kinds.append(NO_BREAK_SPACE)
    if re.search(f"[{_UNUSUAL}]", text):
        kinds.append(THIN_SPACE)
    grouped = _GROUP_SPACE.sub("", text)
    if grouped != text:
        kinds.append(THOUSANDS)
    text = re.sub(r"(?<=[0-9])(?=[¼-¾⅐-⅞])", " ", grouped)
    if re.search(r"[^\W\d_]?[¹²³⁰⁴-⁹₀-₉①-⓿]", re.sub(r"(?<=[mt])[²]", "", text)):
        raise _refuse("it has raised or circled digits")
    plain = unicodedata.normalize("NFKC", text.replace("²", "2")).replace("⁄", "/")
    plain = "".join(str(unicodedata.decimal(c, c)) for c in plain)
    if any(c.isdecimal() and not c.isascii() for c in text):
        kinds.append(OTHER_DIGITS)
    dashed = plain.translate(_DASH_TABLE)
    if dashed != plain:
        kinds.append(PRINTED_MINUS)
    return " ".join(dashed.replace("''", '"').split())


def _feet_and_inches(text: str) -> float | None:
    """Return feet from texts such as 12'6", 12 ft 6 in or 12' 6 1/2"; None for any other."""
    match = _FEET_INCHES.fullmatch(text.casefold())
    if match is None or not (match[3] or match[4]):
        return None
    inches = float((match[3] or "0").replace(",", "."))
    if match[4]:
        if int(match[4]) >= int(match[5]):
            raise _refuse("its fraction of an inch is not less than an inch")
        inches += int(match[4]) / int(match[5])
    if inches >= 12:
        raise _refuse("a foot has only 12 inches", AMBIGUOUS)
    feet = int(match[2]) + inches / 12
    return -feet if match[1] == "-" else feet


def _number_and_unit(
    text: str, quantity: Quantity, units: Units, kinds: list[str]
) -> Understanding:
    fraction = _FRACTION.fullmatch(text)
    if fraction is not None:
        raise _refuse(about_fraction(fraction))
    letters = about_letters(text)
    if letters:
        raise _refuse(letters)
    match = _NUMBER.fullmatch(text)
    if match is None:
        raise _refuse("it is not a number")
    sign = -1.0 if match[1] == "-" else 1.0
    number = sign * _plain_number(match[2], kinds)
    rest = match[3]
    if not rest:
        return Understanding(number * quantity.factor(units))
    unit = typed_units.unit_named(rest)
    if unit is None:
        raise _refuse(*_about_rest(match[2], rest))
    factor = typed_units.inner_factor(unit, quantity, units)
    if factor is None:
        raise _refuse(f"{typed_units.in_words(unit.sign)} is not a unit of this column")
    kind = f"unit typed into the cell ({unit.sign})"
    if not typed_units.is_shown_unit(unit, quantity, units):
        own_unit = quantity.unit(units) or QUANTITIES["length"].unit(units)
        kind = f"unit typed into the cell ({unit.sign}, converted to {own_unit})"
    kinds.append(kind)
    scale = typed_units.SCALE_OF[unit.measures] if quantity.name == "reading" else ""
    return Understanding(number * factor, scale=scale)


def _about_rest(number: str, rest: str) -> tuple[str, str]:
    if re.fullmatch(r"[0-9.,]+.*", rest):
        return f"it has two numbers, {number} and {rest}", AMBIGUOUS
    if re.fullmatch(r"[-/x:] ?[0-9.,]+.*", rest):
        return "it is a range, a date or two numbers", AMBIGUOUS
    return f"“{rest}” is not a known unit", NOT_A_NUMBER


def _plain_number(text: str, kinds: list[str]) -> float:
    """Return the value of digits with points and commas that can be meant in one way only."""
    commas, points = text.count(","), text.count(".")
    if commas and points:
        decimal, group = (",", ".") if text.rfind(",") > text.rfind(".") else (".", ",")
        whole, _, rest = text.partition(decimal)
        if not _GROUPS[group].fullmatch(whole) or not rest.isdecimal():
            raise _refuse("its points and commas do not make one number", AMBIGUOUS)
        kinds.append(THOUSANDS)
        if decimal == ",":
            kinds.append(DECIMAL_COMMA)
        return float(f"{whole.replace(group, '')}.{rest}")
    if commas + points > 1:
        if not _GROUPS["," if commas else "."].fullmatch(text) or text.startswith("0"):
            raise _refuse("its points or commas do not make one number", AMBIGUOUS)
        kinds.append(THOUSANDS)
        return float(text.replace(",", "").replace(".", ""))
    if not commas:
        return float(text)
    whole, _, rest = text.partition(",")
    if not rest:
        raise _refuse("no digit follows its comma")
    if len(rest) == 3 and whole.lstrip("0") and len(whole) <= 3 and not whole.startswith("0"):
        value = number_as_text(float(f"{whole}.{rest}"))
        raise _refuse(f"it may be {value} or {whole}{rest}", AMBIGUOUS)
    kinds.append(DECIMAL_COMMA)
    return float(f"{whole or '0'}.{rest}")


def refuse_date(number: float, from_1904: bool = False) -> Understanding:
    """Return the refusal of a number that the spreadsheet shows as a date or a time."""
    day = dates.from_day_number(number, from_1904)
    if day is None or (0 <= number < 1):
        because = "the spreadsheet shows it as a date or a time of day"
    else:
        because = (
            f"the spreadsheet turned it into a date ({dates.in_words(day)}). "
            f"You probably typed {dates.likely_typed(day)}"
        )
    return Understanding(refused=MADE_A_DATE, because=because)


def understand_cell(value: object, quantity: Quantity, units: Units) -> Understanding | None:
    """Read one cell that is no plain number; None where it is blank."""
    if value is None:
        return None
    if isinstance(value, bool):
        return Understanding(refused=NOT_A_NUMBER, because="TRUE and FALSE are not numbers")
    if isinstance(value, str):
        if not value.strip():
            return None
        word = closing_word(value)
        return Understanding(closed=word) if word else understand(value, quantity, units)
    if isinstance(value, int | float | np.number):
        return Understanding(float(value) * quantity.factor(units))
    return Understanding(refused=ERROR_VALUE, because="it is a formula error")


def column(
    values: NDArray[np.object_],
    quantity: Quantity,
    units: Units,
    *,
    percent: Bools | None = None,
    date: Bools | None = None,
    from_1904: bool = False,
) -> NumberColumn:
    """Read a column of numbers.

    Parameters
    ----------
    values
        One object a cell: number, text, True or False, None for a blank, or an error value.
    quantity
        What the column holds.
    units
        System of the survey.
    percent, date
        Which cells show their number as a percentage, or as a date; None for none.
    from_1904
        Whether day numbers count from 1904.

    Returns
    -------
    NumberColumn
        Values in the inner unit with NaN for blank, closed and refused cells.
    """
    numbers, other = _split(values)
    result = numbers * quantity.factor(units)
    states = np.where(np.isnan(numbers), BLANK, VALUE).astype(np.int8)
    odd: dict[int, Understanding] = {}
    known: dict[str, Understanding | None] = {}
    for position in other:
        value = values[position]
        if isinstance(value, str):
            if value not in known:
                known[value] = understand_cell(value, quantity, units)
            meaning = known[value]
        else:
            meaning = understand_cell(value, quantity, units)
        if meaning is not None:
            odd[int(position)] = meaning
    filled = ~np.isnan(numbers)
    if date is not None:
        for position in np.flatnonzero(date & filled):
            odd[int(position)] = refuse_date(numbers[position], from_1904)
    if percent is not None:
        for position in np.flatnonzero(percent & filled):
            if int(position) not in odd:
                odd[int(position)] = _of_percentage(numbers[position], quantity)
    for position, meaning in odd.items():
        result[position] = meaning.value
        states[position] = REFUSED if meaning.refused else CLOSED if meaning.closed else VALUE
    return NumberColumn(result, states, odd)


def _split(values: NDArray[np.object_]) -> tuple[Floats, NDArray[np.intp]]:
    """Return the plain numbers (NaN elsewhere) and the positions of what is not a plain number."""
    if pd.api.types.infer_dtype(values, skipna=True) in ("floating", "integer", "empty"):
        return values.astype(np.float64), np.empty(0, dtype=np.intp)
    is_number, is_text, is_other = kinds_of_cells(values)
    numbers = np.full(len(values), np.nan)
    numbers[is_number] = values[is_number].astype(np.float64)
    return numbers, np.flatnonzero(is_text | is_other)


def kinds_of_cells(values: NDArray[np.object_]) -> tuple[Bools, Bools, Bools]:
    """Return which cells hold a plain number, which a text, and which anything else."""
    codes = [_CELL_CODES.get(kind, 3) for kind in map(type, values)]
    coded = np.array(codes, dtype=np.int8)
    return coded == 1, coded == 2, coded == 3


def _of_percentage(number: float, quantity: Quantity) -> Understanding:
    if quantity.name == "reading":
        value = round(float(number) * 100.0, 9)
        return Understanding(value, (PERCENT_FORMAT,), scale="percent")
    if quantity.name == "percent":
        return Understanding(float(number), (PERCENT_FORMAT,))
    shown_text = number_as_text(round(float(number) * 100.0, 9))
    return Understanding(
        refused=AMBIGUOUS,
        because=f"the cell shows it as {shown_text} %, but this column is not in percent",
    )


def impossible(values: Floats, low: float | None, high: float | None) -> Bools:
    """Return which values lie outside what is possible; blanks never do."""
    outside = np.zeros(len(values), dtype=bool)
    if low is not None:
        outside |= values < low - 1e-9 * max(1.0, abs(low))
    if high is not None:
        outside |= values > high + 1e-9 * max(1.0, abs(high))
    return outside
