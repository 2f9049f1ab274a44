"""Dates as people type them, and what a number may have been before it was made a date."""

from __future__ import annotations

import re
from datetime import date, datetime, timedelta

from xlhelpers.survey.typed.words import fold_word

EARLIEST, LATEST = date(1950, 1, 1), date(2100, 12, 31)
_NAMES = "january february march april may june july august september october november december"
_MONTHS = _NAMES.split()
_YEAR_FIRST = re.compile(r"([0-9]{4})([-/.])([0-9]{1,2})\2([0-9]{1,2})(?:[t ]0?0:00(?::00)?)?")
_YEAR_LAST = re.compile(r"([0-9]{1,2})([-/.])([0-9]{1,2})\2([0-9]{4})")
_DAY_NAME_YEAR = re.compile(
    r"([0-9]{1,2})(?:st|nd|rd|th)?[-. ]{1,2}([a-z]{3,9})[-. ,]{1,2}([0-9]{4})"
)
_NAME_DAY_YEAR = re.compile(r"([a-z]{3,9})[. ]{1,2}([0-9]{1,2})(?:st|nd|rd|th)?,? ([0-9]{4})")


def from_day_number(number: float, from_1904: bool = False) -> date | None:
    """Return the date that a spreadsheet shows for a day number; None outside 1950 to 2100."""
    start = datetime(1904, 1, 1) if from_1904 else datetime(1899, 12, 30)
    if not 0 <= number < 100_000:
        return None
    day = (start + timedelta(days=float(number))).date()
    return day if EARLIEST <= day <= LATEST else None


def in_words(day: date) -> str:
    """Return a date in words, such as 3 April 2026."""
    return f"{day.day} {_MONTHS[day.month - 1].capitalize()} {day.year}"


def likely_typed(day: date) -> str:
    """Return what may have been typed when a spreadsheet made a date of it: "3-4 or 4-3"."""
    if day.day == 1:
        return f"1-{day.month} or {day.month}-{day.year % 100:02d}"
    if day.day == day.month:
        return f"{day.day}-{day.month}"
    low, high = sorted((day.day, day.month))
    return f"{low}-{high} or {high}-{low}"


def understand_date(text: str) -> tuple[date | None, str]:
    """Read a date that was typed as text.

    Parameters
    ----------
    text
        Text of the cell.

    Returns
    -------
    tuple
        The date and "", or None and why it is refused. Only what has one meaning is read: the
        year first, the month by its English name, or a day that can be no month.
    """
    folded = fold_word(text)
    if match := _YEAR_FIRST.fullmatch(folded):
        return _check_date(int(match[1]), int(match[3]), int(match[4]))
    if match := _DAY_NAME_YEAR.fullmatch(folded):
        return _check_date(int(match[3]), _month(match[2]), int(match[1]))
    if match := _NAME_DAY_YEAR.fullmatch(folded):
        return _check_date(int(match[3]), _month(match[1]), int(match[2]))
    if match := _YEAR_LAST.fullmatch(folded):
        first, second, year = int(match[1]), int(match[3]), int(match[4])
        if first != second and max(first, second) <= 12:
            one, other = _check_date(year, second, first)[0], _check_date(year, first, second)[0]
            if one and other:
                return None, f"it may be {in_words(one)} or {in_words(other)}"
        return _check_date(year, min(first, second), max(first, second))
    return None, "not a date"


def _month(name: str) -> int:
    return next((i for i, month in enumerate(_MONTHS, 1) if month.startswith(name)), 0)


def _check_date(year: int, month: int, day: int) -> tuple[date | None, str]:
    try:
        typed_date = date(year, month, day)
    except ValueError:
        return None, "not a calendar day"
    if not EARLIEST <= typed_date <= LATEST:
        return None, "not a year from 1950 to 2100"
    return typed_date, ""
