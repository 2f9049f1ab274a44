"""How values look in a message: rounded, in the survey's own units, with the unit beside them."""

import math
import re
from collections.abc import Callable, Iterator, Sequence
from functools import lru_cache
from typing import Any

from xlhelpers.fields.quantities import QUANTITIES, Units

_BLANK = re.compile(r"\{(\w+)(?::([a-z ]+))?\}")
MINUS = "−"


def _in_unit(quantity: str, more_decimals: int = 0) -> Callable[[float, Units], str]:
    record = QUANTITIES[quantity]

    def write(value: float, units: Units) -> str:
        number = _round(value / record.factor(units), record.decimals(units) + more_decimals)
        unit = record.unit(units)
        return f"{number}{unit}" if unit == "°" else f"{number} {unit}".strip()

    return write


def _round(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    return text.removeprefix("-") if float(text) == 0 else text.replace("-", MINUS)


def _count(one: str, many: str = "") -> Callable[[float, Units], str]:
    return lambda value, units: f"{value:.0f} {one if value == 1 else many or one + 's'}".strip()


def _times(value: float, units: Units) -> str:
    return {1: "once", 2: "twice"}.get(int(value), f"{value:.0f} times")


def _reading(value: float, units: Units) -> str:
    """A reading as it was typed, without zeros at its end."""
    return f"{value:.10g}".replace("-", MINUS)


KINDS: dict[str, Callable[[float, Units], str]] = {
    "length": _in_unit("length"),
    "fine length": _in_unit("length", 1),
    "rough length": _in_unit("length", -1),
    "diameter": _in_unit("diameter"),
    "fine diameter": _in_unit("diameter", 1),
    "percent": _in_unit("percent"),
    "angle": lambda value, units: f"{_round(value, 1)}°",
    "count": lambda value, units: f"{value:.0f}",
    "count are": _count("is", "are"),
    "checks": _count("check"),
    "lines": _count("line"),
    "lines are": _count("line is", "lines are"),
    "times": _times,
    "trees": _count("tree"),
    "reading": _reading,
    "signed reading": lambda value, units: ("+" if value > 0 else "") + _reading(value, units),
}


def write_value(kind: str, value: float, units: str) -> str:
    """Return a number with its unit, "not known" for NaN.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    value : float
        In the inner unit.
    units : str
        "metric" or "us".
    """
    if math.isnan(value):
        return "not known"
    return KINDS[kind](float(value), "us" if units == "us" else "metric")


def fill_template(template: str, look_up: Callable[[str], Any], units: str) -> str:
    """Fill the blanks of a template.

    Parameters
    ----------
    template : str
        Text with blanks ``{name}`` for a text and ``{name:kind}`` for a number.
    look_up : callable
        Returns the value of a name, numbers in the inner unit.
    units : str
        "metric" or "us".
    """

    def pieces() -> Iterator[str]:
        for literal, name, kind in _split(template):
            yield literal
            if name:
                value = look_up(name)
                yield write_value(kind, value, units) if kind else str(value)

    return "".join(pieces())


@lru_cache(maxsize=1024)
def _split(template: str) -> tuple[tuple[str, str, str], ...]:
    """Return the template as text, name of the blank after it, and its kind ("" for a text)."""
    parts = [part or "" for part in _BLANK.split(template)] + ["", ""]
    return tuple(zip(parts[::3], parts[1::3], parts[2::3], strict=True))


def blanks_of(template: str) -> tuple[tuple[str, str], ...]:
    """Return the names and kinds of a template's blanks; the kind is "" for a text."""
    return tuple((name, kind) for name, kind in _BLANK.findall(template))


def list_words(words: Sequence[str], most: int = 12, joint: str = "and") -> str:
    """Return words as a list in a sentence, such as "4, 6 and 7" or "4, 6 and 5 more"."""
    listed = list(words[:most])
    if len(words) > most:
        listed.append(f"{len(words) - most} more")
    return f" {joint} ".join(filter(None, (", ".join(listed[:-1]), *listed[-1:])))
