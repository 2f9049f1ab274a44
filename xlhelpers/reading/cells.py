"""One column of cells into values of its field's kind; what is odd is noted or refused.

Clean columns never leave numpy; different texts are looked at once each.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from xlhelpers.errors import SpecificationError
from xlhelpers.fields.quantities import FOOT_M, Units
from xlhelpers.fields.record import Field
from xlhelpers.package.sheet.cell_text import is_filled
from xlhelpers.package.sheet.grid_scan import CellError
from xlhelpers.reading.findings import as_typed, shown_number
from xlhelpers.survey.model import BLANK, CLOSED, REFUSED, VALUE
from xlhelpers.survey.typed import dates, numbers
from xlhelpers.survey.typed.stem_lists import understand_stems
from xlhelpers.survey.typed.units import in_words
from xlhelpers.survey.typed.words import (
    choose,
    closing_word,
    fold_word,
    identifier_key,
    number_as_text,
    tick,
    tidy,
)

Bools = NDArray[np.bool_]
Objects = NDArray[np.object_]
# kind of refusal of the numbers -> check of the reading
_CHECK_OF = {
    numbers.NOT_A_NUMBER: "number-unread",
    numbers.AMBIGUOUS: "number-ambiguous",
    numbers.MADE_A_DATE: "number-is-date",
    numbers.ERROR_VALUE: "cell-error",
}
ERROR_BECAUSE = "it is the error value of a formula"
OTHER_SPELLING = "another spelling of a name used elsewhere"
DECIMAL_FEET = "decimal feet, although the tape reads in feet and inches"
DAY_NUMBER = "day number without a date format"
DATE_AS_TEXT = "date stored as text"
GIRTH = "girth turned into diameter"
FEET_TAPE = "feet and inches"
NO_MARK = "0 for no mark"
# lengths of 0 that say that there is none
_ZERO_IS_NONE = frozenset(("mark_above_foot",))
# identifiers that name the same things, so that one spelling serves all sheets
_DOMAINS = {"initials": "person", "keyed_by": "person", "person": "person"}


@dataclass(frozen=True)
class Settings:
    """What the reading of a cell depends on beside its field.

    `spellings` keeps, for each kind of name, the first spelling met of each identifier.
    """

    units: Units = "metric"
    tape: str = ""
    girth: bool = False
    from_1904: bool = False
    spellings: dict[str, dict[str, str]] = field(default_factory=dict)


@dataclass(frozen=True)
class Cells:
    """The cells of one column in the rows of data, and which are shown as % or as a date."""

    values: Objects
    percent: Bools | None = None
    date: Bools | None = None


@dataclass(frozen=True)
class Refusal:
    """A cell that was not read: its position, the check, why, as a clause, and what it means."""

    position: int
    check: str
    because: str
    meaning: str = ""


@dataclass
class ColumnRead:
    """One column as read: values, state of each cell, and everything worth reporting."""

    values: NDArray[Any]
    states: NDArray[np.int8]
    kinds: dict[str, list[int]] = field(default_factory=dict)
    refusals: list[Refusal] = field(default_factory=list)
    closed: dict[str, int] = field(default_factory=dict)
    scales: dict[int, str] = field(default_factory=dict)

    def note(self, kind: str, positions: Any) -> None:
        """Note that cells were understood in one way."""
        listed = [int(position) for position in positions]
        if listed:
            self.kinds.setdefault(kind, []).extend(listed)

    def refuse(
        self, position: int, check: str, because: str, empty: Any, meaning: str = ""
    ) -> None:
        """Refuse a cell; `empty` takes the place of its value."""
        self.values[position] = empty
        self.states[position] = REFUSED
        self.refusals.append(Refusal(int(position), check, because, meaning))

    def close(self, position: int, word: str) -> None:
        """Note that a cell holds a closing word."""
        self.states[position] = CLOSED
        self.closed[word] = self.closed.get(word, 0) + 1


def read_column(record: Field, cells: Cells, settings: Settings) -> ColumnRead:
    """Read one column of cells as its field asks.

    Parameters
    ----------
    record
        Field of the column; not a computed one.
    cells
        The cells, one a row of data.
    settings
        Units and rules of the survey.

    Returns
    -------
    ColumnRead
        Values: float64 in the inner unit (NaN for none), text ("" for none), datetime64 (NaT)
        or bool.

    Raises
    ------
    SpecificationError
        The field is a computed one.
    """
    readers: dict[str, Callable[[Field, Cells, Settings], ColumnRead]] = {
        "number": _numbers,
        "identifier": _identifiers,
        "text": _texts,
        "choice": _choices,
        "tick": _ticks,
        "date": _dates,
        "stems": _stems,
    }
    if record.kind not in readers:
        raise SpecificationError(f"nobody types into the field {record.name}")
    return readers[record.kind](record, cells, settings)


def _numbers(record: Field, cells: Cells, settings: Settings) -> ColumnRead:
    quantity = numbers.quantity_named(record.quantity or "number")
    column = numbers.column(
        cells.values,
        quantity,
        settings.units,
        percent=cells.percent,
        date=cells.date,
        from_1904=settings.from_1904,
    )
    read = ColumnRead(column.values, column.states)
    for position, odd in column.odd.items():
        if odd.refused:
            because = odd.because
            if odd.refused == numbers.MADE_A_DATE:
                because = _because_of_date(cells.values[position], settings) or because
            read.refuse(position, _CHECK_OF[odd.refused], because, np.nan)
        elif odd.closed:
            read.close(position, odd.closed)
        for kind in odd.kinds:
            read.note(kind, [position])
        if odd.scale:
            read.scales[position] = odd.scale
    if quantity.name == "diameter" and settings.girth and record.name == "diameter":
        read.note(GIRTH, np.flatnonzero(read.states == VALUE))
        read.values /= np.pi
    if record.quantity == "length" and settings.tape == FEET_TAPE:
        feet = read.values / FOOT_M
        broken = np.flatnonzero(np.abs(feet - np.round(feet)) > 1e-9)
        read.note(DECIMAL_FEET, [p for p in broken if not isinstance(cells.values[p], str)])
    if record.name in _ZERO_IS_NONE:
        none = np.flatnonzero((read.values == 0) & (read.states == VALUE))
        read.values[none], read.states[none] = np.nan, BLANK
        read.note(NO_MARK, none)
    _refuse_impossible(record, read, cells, settings)
    return read


def range_in_words(record: Field, units: Units) -> str:
    """Return the possible values of a number, such as "from 0.5 to 300 m"; "" for any number."""
    bounds = record.shown_bounds(units)
    low, high = (None if bound is None else shown_number(round(bound, 2)) for bound in bounds)
    unit = "" if record.measured_in is None else in_words(record.measured_in.unit(units))
    if low is None:
        return ""
    words = f"{low} {unit}".strip() + " or more"
    words = words if high is None else f"from {low} to {high} {unit}".strip()
    return words.replace(" °", "°")


def _refuse_impossible(record: Field, read: ColumnRead, cells: Cells, settings: Settings) -> None:
    quantity = record.measured_in
    factor = 1.0 if quantity is None else quantity.factor(settings.units)
    outside = numbers.impossible(read.values, record.low, record.high)
    for position in np.flatnonzero(outside).tolist():
        typed, meaning = cells.values[position], ""
        if isinstance(typed, str) and quantity is not None and quantity.unit(settings.units):
            value = shown_number(float(f"{read.values[position] / factor:.6g}"))
            meaning = f" (= {value} {in_words(quantity.unit(settings.units))})"
        because = f"it must be {range_in_words(record, settings.units)}"
        because += _because_too_large(typed, settings)
        read.refuse(position, "value-impossible", because, np.nan, meaning)
    if record.quantity == "count":
        broken = np.abs(read.values - np.round(read.values)) > 1e-9
        for position in np.flatnonzero(broken).tolist():
            read.refuse(position, "number-not-whole", "it must be a whole number", np.nan)


def _because_of_date(value: object, settings: Settings) -> str:
    """Return that a number was turned into a date, "" where it shows no day."""
    if not isinstance(value, int | float) or 0 <= value < 1:
        return ""
    day = dates.from_day_number(value, settings.from_1904)
    if day is None:
        return ""
    typed = dates.likely_typed(day)
    return f"it was turned into a date ({dates.in_words(day)}). You probably typed {typed}"


def _because_too_large(value: object, settings: Settings) -> str:
    """Return what a number too large may have been before it was turned into a date."""
    if not isinstance(value, int | float) or not float(value).is_integer() or value <= 10_000:
        return ""
    day = dates.from_day_number(value, settings.from_1904)
    if day is None:
        return ""
    typed = dates.likely_typed(day)
    return f". As a date it is {dates.in_words(day)}: possibly you typed {typed}"


def _as_texts(cells: Cells) -> tuple[Objects, list[int]]:
    """Return the cells as tidy texts ("" for a blank) and the positions of error values."""
    is_number, is_text, is_other = numbers.kinds_of_cells(cells.values)
    texts = np.full(len(cells.values), "", dtype=object)
    texts[is_text] = by_unique(cells.values[is_text], tidy)
    texts[is_number] = by_unique(cells.values[is_number].astype(float), number_as_text)
    errors = []
    for position in np.flatnonzero(is_other).tolist():
        value = cells.values[position]
        if isinstance(value, bool):
            texts[position] = "TRUE" if value else "FALSE"
        elif isinstance(value, CellError):
            errors.append(int(position))
        else:
            texts[position] = str(value)
    return texts, errors


def by_unique(values: NDArray[Any], function: Callable[[Any], Any]) -> Objects:
    """Return the function of each value; each different value is looked at once."""
    codes, different = pd.factorize(values)
    results = np.empty(len(different), dtype=object)
    results[:] = [function(value) for value in different]
    return results[codes] if len(codes) else np.empty(0, dtype=object)


def _text_read(cells: Cells, *, closes: bool) -> ColumnRead:
    """Return the column as texts with errors refused and, where asked for, closing words."""
    texts, errors = _as_texts(cells)
    read = ColumnRead(texts, np.where(texts != "", VALUE, BLANK).astype(np.int8))
    for position in errors:
        read.refuse(position, "cell-error", ERROR_BECAUSE, "")
    if closes:
        words = by_unique(texts, closing_word)
        for position in np.flatnonzero(words != "").tolist():
            read.close(position, str(words[position]))
            texts[position] = ""
    return read


def _texts(record: Field, cells: Cells, settings: Settings) -> ColumnRead:
    read = _text_read(cells, closes=record.required == "always")
    if cells.date is not None:
        for position in np.flatnonzero(cells.date & (read.states == VALUE)).tolist():
            value = cells.values[position]
            day = dates.from_day_number(value, settings.from_1904) if _is_number(value) else None
            if day is not None:
                read.values[position] = day.isoformat()
    return read


def _identifiers(record: Field, cells: Cells, settings: Settings) -> ColumnRead:
    read = _text_read(cells, closes=True)
    _refuse_dates(read, cells, settings)
    spellings = settings.spellings.setdefault(_DOMAINS.get(record.name, record.name), {})

    def first_spelling(text: str) -> str:
        return spellings.setdefault(identifier_key(text), text) if text else ""

    texts = read.values.copy()
    read.values[:] = by_unique(texts, first_spelling)
    read.note(OTHER_SPELLING, np.flatnonzero(read.values != texts))
    return read


def _refuse_dates(read: ColumnRead, cells: Cells, settings: Settings) -> None:
    if cells.date is None:
        return
    for position in np.flatnonzero(cells.date & (read.states == VALUE)).tolist():
        if _is_number(cells.values[position]):
            because = _because_of_date(cells.values[position], settings)
            because = because or "the spreadsheet shows it as a date or a time of day"
            read.refuse(position, "number-is-date", because, "")


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _choices(record: Field, cells: Cells, settings: Settings) -> ColumnRead:
    read = _text_read(cells, closes=False)
    name = record.choices or ""
    chosen = by_unique(read.values, lambda text: choose(text, name) if text else None)
    for position in np.flatnonzero(read.values != "").tolist():
        meant, text = chosen[position], read.values[position]
        if meant is None:
            word = closing_word(text)
            if word:
                read.values[position] = ""
                read.close(position, word)
            else:
                read.refuse(position, "word-unknown", "it is not on the list", "")
            continue
        read.values[position] = meant.word
        if meant.kind:
            read.note(meant.kind, [position])
    return read


def _ticks(record: Field, cells: Cells, settings: Settings) -> ColumnRead:
    size = len(cells.values)
    read = ColumnRead(np.zeros(size, dtype=bool), np.zeros(size, dtype=np.int8))
    for position in np.flatnonzero(is_filled(cells.values)).tolist():
        value = cells.values[position]
        if isinstance(value, CellError):
            read.refuse(position, "cell-error", ERROR_BECAUSE, False)
            continue
        if isinstance(value, str) and not tidy(value):
            continue
        ticked, word = tick(value), closing_word(str(value))
        if ticked is not None:
            read.values[position], read.states[position] = ticked, VALUE
            if not (isinstance(value, str) and fold_word(value) == "x"):
                meant = "marked" if ticked else "not marked"
                read.note(f"“{as_typed(value)}” for {meant}", [position])
        elif word:
            read.close(position, word)
        else:
            read.refuse(position, "word-unknown", "it should be x, or blank", False)
    return read


def _dates(record: Field, cells: Cells, settings: Settings) -> ColumnRead:
    size = len(cells.values)
    days = np.full(size, np.datetime64("NaT"), dtype="datetime64[s]")
    read = ColumnRead(days, np.zeros(size, dtype=np.int8))
    date_cells = np.zeros(size, dtype=bool) if cells.date is None else cells.date
    known: dict[object, tuple[Any, str]] = {}
    for position in np.flatnonzero(is_filled(cells.values)).tolist():
        value = cells.values[position]
        if isinstance(value, str) and not tidy(value):
            continue
        key = (type(value), value)
        if key not in known:
            known[key] = _date_of(value, settings)
        day, because = known[key]
        if day is not None:
            read.values[position], read.states[position] = np.datetime64(day, "s"), VALUE
            if isinstance(value, str):
                read.note(DATE_AS_TEXT, [position])
            elif not date_cells[position]:
                read.note(DAY_NUMBER, [position])
        elif isinstance(value, CellError):
            read.refuse(position, "cell-error", because, np.datetime64("NaT"))
        elif closing_word(str(value)):
            read.close(position, closing_word(str(value)))
        else:
            read.refuse(position, "date-unread", because, np.datetime64("NaT"))
    return read


def _date_of(value: object, settings: Settings) -> tuple[Any, str]:
    if isinstance(value, str):
        return dates.understand_date(value)
    if isinstance(value, CellError):
        return None, ERROR_BECAUSE
    if isinstance(value, bool) or not isinstance(value, int | float):
        return None, "it is not a date"
    return dates.from_day_number(value, settings.from_1904), "it is not a day from 1950 to 2100"


def _stems(record: Field, cells: Cells, settings: Settings) -> ColumnRead:
    read = _text_read(cells, closes=True)
    _refuse_dates(read, cells, settings)
    for position in np.flatnonzero(read.states == VALUE).tolist():
        diameters, understanding = understand_stems(read.values[position], settings.units)
        if understanding.refused:
            read.refuse(position, _CHECK_OF[understanding.refused], understanding.because, "")
            continue
        stems = np.array(diameters) / (np.pi if settings.girth else 1.0)
        if numbers.impossible(stems, record.low, record.high).any():
            because = f"each stem must be {range_in_words(record, settings.units)}"
            because += _because_too_large(cells.values[position], settings)
            read.refuse(position, "value-impossible", because, "")
            continue
        read.values[position] = " ".join(number_as_text(stem) for stem in stems)
        for kind in (*understanding.kinds, *((GIRTH,) if settings.girth else ())):
            read.note(kind, [position])
    return read
