"""How wide texts and columns are in pixels, how many lines a text takes, how high a row must be.

Widths of letters are those that XlsxWriter has taken from Excel, for type of 11 points on the
screen; printed text is up to 8 % narrower.
"""

import re
from collections.abc import Iterable, Sequence
from functools import lru_cache

from xlsxwriter.utility import xl_pixel_width

ROW_PIXELS = 20  # a row of the usual height
POINT = 96 / 72  # pixels
USUAL_SIZE = 11.0  # points of type
GREATEST_POINTS = 409.0  # the highest row that the file format knows
_PADDING = 7  # pixels that a cell keeps free beside its text
_BOLD = 1.06
_BREAKS = re.compile(r"(?<= )|(?<=\w-)(?=\w)")


def column_pixels(widths: Iterable[float]) -> int:
    """Return the width of columns on the screen, in pixels; the widths count digits."""
    return sum(int(width * 7 + 5) for width in widths)


def column_width(pixels: float) -> float:
    """Return the width, in digits, of a column that shows a text of so many pixels."""
    return max((pixels + _PADDING - 5) / 7, 0.0)


@lru_cache(maxsize=50_000)
def _word_pixels(word: str) -> int:
    return int(xl_pixel_width(word))


def text_pixels(text: str, size: float = USUAL_SIZE, *, bold: bool = False) -> float:
    """Return the width of one line of text in type of so many points, in pixels."""
    return _word_pixels(text) * _scale(size, bold)


def _scale(size: float, bold: bool) -> float:
    return size / USUAL_SIZE * (_BOLD if bold else 1.0)


def longest_word(text: str, size: float = USUAL_SIZE, *, bold: bool = False) -> float:
    """Return the width of the longest piece of a text that no line break parts, in pixels."""
    words = (piece for line in text.split("\n") for piece in _BREAKS.split(line))
    return max(map(_word_pixels, map(str.rstrip, words)), default=0) * _scale(size, bold)


def lines_in(text: str, pixels: float, size: float = USUAL_SIZE, *, bold: bool = False) -> int:
    """Return how many lines a text takes in cells of so many pixels, broken at spaces.

    Parameters
    ----------
    text : str
        With a line break where a new line begins in any case.
    pixels : float
        Width of the cell, or of the cells that it is merged over.
    size : float, optional
        Points of its type.
    bold : bool, optional
        Whether the type is bold.
    """
    room = max((pixels - _PADDING) / _scale(size, bold), 1.0)
    return sum(_lines_of_one(line, room) for line in text.split("\n"))


def _lines_of_one(line: str, room: float) -> int:
    if len(line) * 14 <= room or _word_pixels(line) <= room:
        return 1
    lines, used = 1, 0.0
    for word in _BREAKS.split(line):
        width = _word_pixels(word)
        if used and used + _word_pixels(word.rstrip()) > room:
            lines, used = lines + 1, 0.0
        used += width
        if used > room and width > room:  # longer than a line: broken anywhere
            lines, used = lines + int(used // room), used % room
    return lines


def line_points(lines: int, size: float = USUAL_SIZE) -> float:
    """Return the height of a row with so many lines of text, in points."""
    # as Excel has it: 12 points for type of 9, 15 for 11, 28.5 for 22
    return min(lines * round((1.24 * size + 1.2) / 0.75) * 0.75, GREATEST_POINTS)


def columns_for(widths: Sequence[float], pixels: float) -> int:
    """Return how many of the columns, at least one, are as wide together as so many pixels."""
    used, count = 0, 0
    for width in widths:
        used += column_pixels([width])
        if used > pixels and count:
            break
        count += 1
    return max(count, 1)
