"""Slips of one sign in a typed number: a decimal moved, digits transposed, dropped or doubled.

All that is one slip away in the sense of Damerau and Levenshtein is supposed and weighed, each a
mistake of its own kind; a digit typed for another is left out, because every number is one such
slip from ninety others. A number is its digits without the decimal point and the place of that
point; blanks and 0 have no slips.
"""

from collections.abc import Callable, Iterator, Sequence
from typing import Any

import numpy as np

from xlhelpers.fields.quantities import QUANTITIES
from xlhelpers.survey.doubt.candidates import Candidates, Doubtful, Mistake
from xlhelpers.survey.doubt.robust import Numbers
from xlhelpers.survey.folding import Positions

BASIS = "common practice, no source"
# fields whose slips are supposed, the words for each, and the quantity it is typed in
TYPED: dict[str, tuple[str, str]] = {
    "distance": ("distance", "length"),
    "foot_reading": ("foot reading", ""),
    "base_reading": ("crown base reading", ""),
    "tip_reading": ("tip reading", ""),
    "diameter": ("diameter", "diameter"),
    "width": ("crown width", "length"),
}
MOST_DECIMALS = 2
# places that a digit may have fallen out of, from the last whole digit up
PLACES = 3

# rows, the numbers that they may have been, log of the weight of this way of slipping
Made = Iterator[tuple[Positions, Numbers, float]]
# a 0 in front is rarely written
LOST_ZERO = -2.3


def typed_unit(doubtful: Doubtful, name: str) -> float:
    """Return the length (m) or diameter (cm) of one typed unit of a field."""
    quantity = TYPED[name][1]
    units: Any = doubtful.survey.units
    return QUANTITIES[quantity].factor(units) if quantity else 1.0


def digits(values: Numbers) -> tuple[Numbers, Numbers]:
    """Return typed numbers without sign and point, and how many decimals they were typed with.

    Decimals that end in 0 are not known to have been typed.
    """
    size = np.round(np.abs(np.nan_to_num(values)), 6)
    places = np.full(len(size), float(MOST_DECIMALS))
    for decimals in range(MOST_DECIMALS - 1, -1, -1):
        fits = np.abs(size * 10**decimals - np.round(size * 10**decimals)) < 1e-6
        places = np.where(fits, decimals, places)
    return np.round(size * 10**places), places


def transposed(values: Numbers) -> Made:
    """Yield the numbers with two neighbouring digits in the other order.

    A 0 that came to stand in front was lost on keying: 9 may be 90, and 18 may be 108.
    """
    whole, places = digits(values)
    for place in range(5):
        at = 10**place
        low, high = whole // at % 10, whole // (10 * at) % 10
        new = (whole + 9 * (low - high) * at) / 10**places
        # not so that a 0 would come to stand in front
        inside = (whole >= 10 * at) & ((low > 0) | (whole >= 100 * at))
        rows = np.flatnonzero((low != high) & inside)
        yield rows, new[rows], 0.0
        rows = np.flatnonzero((whole >= at) & (whole < 10 * at) & (place >= places))
        yield rows, new[rows], LOST_ZERO


def dropped(values: Numbers) -> Made:
    """Yield the numbers with one more whole digit anywhere."""
    whole, places = digits(values)
    for up in range(PLACES + 1):
        at = 10 ** (places + up)
        left, right = whole // at, whole % at
        for digit in range(10):
            # a digit beside one of its own kind is the same number from either side
            leading = (left > 0) | (digit > 0)
            rows = np.flatnonzero((whole > 0) & (whole >= at / 10) & leading)
            yield rows, ((left * 10 * at + digit * at + right) / 10**places)[rows], 0.0


def doubled(values: Numbers) -> Made:
    """Yield the numbers with one of two equal neighbouring digits left out."""
    whole, places = digits(values)
    for place in range(4):
        at = 10**place
        low, high = whole // at % 10, whole // (10 * at) % 10
        rows = np.flatnonzero((whole >= 10 * at) & (low == high))
        # a doubled decimal leaves one decimal less
        fewer = np.where(place < places, places - 1, places)
        yield rows, ((whole // (10 * at) * at + whole % at) / 10**fewer)[rows], 0.0


def decimal(values: Numbers) -> Made:
    """Yield the numbers with the point one place on and one place back."""
    rows = np.flatnonzero(np.abs(np.nan_to_num(values)) > 0)
    for factor in (0.1, 10.0):
        yield rows, np.abs(values[rows]) * factor, 0.0


def _suppose(name: str, slip: Callable[[Numbers], Made]) -> Callable[[Doubtful], Any]:
    def suppose(doubtful: Doubtful) -> Sequence[Candidates]:
        unit = typed_unit(doubtful, name)
        values = np.round(doubtful.sheet.number(name) / unit, 9)
        signs = np.sign(np.nan_to_num(values))
        made = [(rows, new * signs[rows], by) for rows, new, by in slip(values) if len(rows)]
        if not made:
            return []
        count = np.bincount(np.concatenate([rows for rows, *_ in made]), minlength=len(values))
        share = -np.log(np.maximum(count, 1))
        return [Candidates(rows, {name: new * unit}, share[rows] + by) for rows, new, by in made]

    return suppose


_KINDS: tuple[tuple[str, Callable[[Numbers], Made], str, float], ...] = (
    ("decimal", decimal, "with the point moved in the {what}, {{new}} for {{old}},", 0.0015),
    ("transposed", transposed, "with two digits of the {what} in the other order, {{new}} for "
     "{{old}},", 0.004),
    ("dropped", dropped, "with a digit dropped from the {what}, perhaps {{new}} for {{old}},",
     0.001),
    ("doubled", doubled, "with a digit of the {what} typed twice, {{new}} for {{old}},", 0.001),
)  # fmt: skip

SLIPS: tuple[Mistake, ...] = tuple(
    Mistake(
        f"{kind}-{name.removesuffix('_reading')}",
        words.format(what=what),
        f"the {what}.",
        prior,
        BASIS,
        _suppose(name, slip),
    )
    for kind, slip, words, prior in _KINDS
    for name, (what, _) in TYPED.items()
)
