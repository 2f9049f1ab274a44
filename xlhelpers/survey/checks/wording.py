"""How values stand in a message: rounded, in the survey's own units, with the unit beside them."""

import math
import re
from collections.abc import Callable
from functools import lru_cache
from typing import Any

from xlhelpers.fields.quantities import QUANTITIES, Units

_BLANK = re.compile(r"\{(\w+)(?::([a-z ]+))?\}")


def _measured(quantity: str, more_decimals: int = 0) -> Callable[[float, Units], str]:
    record = QUANTITIES[quantity]

    def say(value: float, units: Units) -> str:
        shown = value / record.factor(units)
        unit = record.unit(units)
        space = "" if unit == "°" else " "
        return f"{_rounded(shown, record.decimals(units) + more_decimals)}{space}{unit}".strip()

    return say


def _rounded(value: float, decimals: int) -> str:
    text = f"{value:.{decimals}f}"
    return text[1:] if float(text) == 0 and text.startswith("-") else text


def _counted(value: float, word: str) -> str:
    return f"{value:.0f} {word}" if value == 1 else f"{value:.0f} {word}s"


def _plain(value: float, units: Units) -> str:
    """A reading as it was typed, without zeros that say nothing."""
    return f"{value:.10g}"


KINDS: dict[str, Callable[[float, Units], str]] = {
    "length": _measured("length"),
    "fine length": _measured("length", 1),
    "diameter": _measured("diameter"),
    "angle": lambda value, units: f"{_rounded(value, 1)}°",
    "percent": _measured("percent"),
    "count": lambda value, units: f"{value:.0f}",
    "lines": lambda value, units: _counted(value, "line"),
    "times": lambda value, units: "once" if value == 1 else _counted(value, "time"),
    "trees": lambda value, units: _counted(value, "tree"),
    "reading": _plain,
}


def fill(template: str, look_up: Callable[[str], Any], units: Units) -> str:
    """Fill the blanks of a template.

    Parameters
    ----------
    template : str
        Text with blanks ``{name}`` for a text and ``{name:kind}`` for a number.
    look_up : callable
        Returns the value of a name, numbers in the inner unit.
    units : str
        "metric" or "us".

    Returns
    -------
    str
        The sentence; a number that is missing is said to be "not known".
    """

    said = []
    for literal, name, kind in _pieces(template):
        said.append(literal)
        if name:
            value = look_up(name)
            if not kind:
                said.append(str(value))
            else:
                said.append("not known" if math.isnan(value) else KINDS[kind](float(value), units))
    return "".join(said)


@lru_cache(maxsize=1024)
def _pieces(template: str) -> tuple[tuple[str, str, str], ...]:
    """Return the template as text, name of the blank after it, and its kind ("" for a text)."""
    parts = [part or "" for part in _BLANK.split(template)] + ["", ""]
    return tuple(zip(parts[::3], parts[1::3], parts[2::3], strict=True))


def blanks(template: str) -> tuple[tuple[str, str], ...]:
    """Return the names and kinds of a template's blanks; the kind is "" for a text."""
    return tuple((name, kind) for name, kind in _BLANK.findall(template))


def listed(words: list[str] | tuple[str, ...], most: int = 12) -> str:
    """Return words as a list in a sentence, the first ones of many."""
    shown = ", ".join(words[:most])
    return f"{shown} and {len(words) - most} more" if len(words) > most else shown
