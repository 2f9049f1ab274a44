"""How values look in a message: rounded, in the survey's own units, with the unit beside them."""

import math
import re
from collections.abc import Callable, Sequence
from functools import lru_cache
from itertools import pairwise
from typing import Any

from xlhelpers.fields.quantities import QUANTITIES, Units

_BLANK = re.compile(r"\{(\w+)(?::([a-z ]+))?\}")
MINUS, NOT_KNOWN = "−", "not known"


# kinds that are rounded: the quantity, and decimals beyond its own
_ROUNDED: dict[str, tuple[str, int]] = {
    "length": ("length", 0),
    "fine length": ("length", 1),
    "rough length": ("length", -1),
    "fine diameter": ("diameter", 1),
    "diameter": ("diameter", 0),
    "percent": ("percent", 0),
}
# so many decimals more at the most, for values that differ and would look alike
_MOST_MORE = 3


def _in_unit(kind: str) -> Callable[[float, Units], str]:
    return lambda value, units: _write_rounded(kind, value, units, 0)


def _write_rounded(kind: str, value: float, units: Units, more: int) -> str:
    if kind == "angle":
        return f"{_round(value, 1 + more)}°"
    quantity, own = _ROUNDED[kind]
    record = QUANTITIES[quantity]
    number = _round(value / record.factor(units), record.decimals(units) + own + more)
    return f"{number} {record.unit(units)}".strip()


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
    "fine length": _in_unit("fine length"),
    "rough length": _in_unit("rough length"),
    "diameter": _in_unit("diameter"),
    "fine diameter": _in_unit("fine diameter"),
    "percent": _in_unit("percent"),
    "angle": _in_unit("angle"),
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
        return NOT_KNOWN
    return KINDS[kind](float(value), "us" if units == "us" else "metric")


def write_apart(kind: str, values: Sequence[float], units: str) -> tuple[str, ...]:
    """Return numbers with as many decimals as values that differ need to look different.

    A distance of 49.8 % is not closer than 50 % if both are written as 50 %.

    Parameters
    ----------
    kind : str
        One of `KINDS`.
    values : sequence of float
        Values that a reader compares, in the inner unit; NaN is "not known".
    units : str
        "metric" or "us".
    """
    texts = tuple(write_value(kind, value, units) for value in values)
    known = [value for value in values if not math.isnan(value)]
    if kind != "angle" and kind not in _ROUNDED:
        return texts
    different = _count_different(known)
    for more in range(1, _MOST_MORE + 1):
        if len({text for text in texts if text != NOT_KNOWN}) >= different:
            break
        own: Units = "us" if units == "us" else "metric"
        texts = tuple(
            NOT_KNOWN if math.isnan(value) else _write_rounded(kind, float(value), own, more)
            for value in values
        )
    return texts


def _count_different(values: Sequence[float]) -> int:
    """Return how many values differ by more than the last digits of a computation."""
    ordered = sorted(map(float, values))
    steps = pairwise(ordered)
    return bool(ordered) + sum(not math.isclose(a, b, rel_tol=1e-6) for a, b in steps)


def fill_template(template: str, look_up: Callable[[str], Any], units: str) -> str:
    """Fill the blanks of a template.

    Parameters
    ----------
    template : str
        Text with blanks ``{name}`` for a text and ``{name:kind}`` for a number.
    look_up : callable
        Returns the value of a name, numbers in the inner unit.
    units : str
        "metric" or "us". Numbers of one kind are written so that different ones look different.
    """
    parts = _split(template)
    values: list[Any] = [look_up(name) if name else "" for _, name, _ in parts]
    texts = [str(value) for value in values]
    for wanted in {kind for _, _, kind in parts if kind}:
        at = [i for i, (_, _, kind) in enumerate(parts) if kind == wanted]
        for i, text in zip(at, write_apart(wanted, [values[i] for i in at], units), strict=True):
            texts[i] = text
    return "".join(literal + text for (literal, _, _), text in zip(parts, texts, strict=True))


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
