"""The code that ties a page of paper to its plot, so that a page on the wrong pile is noticed.

Five signs come from the plot's number, one from the page, and the last checks the others. The 31
signs leave out those that look alike in pencil (0 and O, 1, I and L). 31 is a prime number, so
one wrong sign, or two neighbours that changed places, always break the check.
"""

from dataclasses import dataclass
from zlib import crc32

from xlhelpers.errors import ReadingError
from xlhelpers.survey.typed.words import identifier_key

SIGNS = "23456789ABCDEFGHJKMNPQRSTUVWXYZ"
_BASE = len(SIGNS)
_OF_PLOT = 5
_LENGTH = _OF_PLOT + 2
MOST_PAGES = _BASE - 1


@dataclass(frozen=True)
class Verdict:
    """What a typed code says: `page` (0 where it is wrong) and, where wrong, why."""

    page: int
    because: str = ""


def page_code(plot: str, page: int) -> str:
    """Return the code of a page, such as "7KXM4-2R".

    Parameters
    ----------
    plot : str
        Number of the plot; spellings that mean the same plot give the same code.
    page : int
        Number of the page, from 1 to 30.

    Raises
    ------
    ReadingError
        If there can be no such page.
    """
    if not 1 <= page <= MOST_PAGES:
        raise ReadingError(f"a plot has pages 1 to {MOST_PAGES}, not {page}")
    number = crc32(identifier_key(plot).encode("utf-8"))
    digits = [number // _BASE**place % _BASE for place in range(_OF_PLOT)] + [page]
    digits.append(_check_digit(digits))
    signs = "".join(SIGNS[digit] for digit in digits)
    return f"{signs[:_OF_PLOT]}-{signs[_OF_PLOT:]}"


def verify(code: str, plot: str) -> Verdict:
    """Say whether a typed code belongs to a plot, and which page it is.

    Parameters
    ----------
    code : str
        As typed; small letters, blanks and hyphens do not matter.
    plot : str
        Number of the plot.
    """
    signs = [sign for sign in code.upper() if sign not in " -‐–—"]
    if len(signs) != _LENGTH or any(sign not in SIGNS for sign in signs):
        return Verdict(0, f"a code has {_LENGTH} letters and digits, never 0, 1, I, L or O")
    digits = [SIGNS.index(sign) for sign in signs]
    if digits[-1] != _check_digit(digits[:-1]):
        return Verdict(0, "it was misread or mistyped")
    page = digits[_OF_PLOT]
    if page == 0 or page_code(plot, page).replace("-", "") != "".join(signs):
        return Verdict(0, "it belongs to another plot or workbook")
    return Verdict(page)


def _check_digit(digits: list[int]) -> int:
    return sum(weight * digit for weight, digit in enumerate(digits, start=1)) % _BASE
