"""Workbooks that many tests start from, made once and handed out as often as they are asked for."""

from collections.abc import Callable
from functools import cache

from xlhelpers.workbook.template import make_template

_MADE: dict[str, bytes] = {}


@cache
def blank(units: str = "metric", paper: str = "a4", *, plots: int = 2, lines: int = 12) -> bytes:
    """Return a blank workbook with so many prepared plots and lines."""
    return make_template(units, paper, plots, lines)  # type: ignore[arg-type]


def make_once(asked: str, make: Callable[[], bytes]) -> bytes:
    """Return what `make` gives; for the same words it is called once."""
    if asked not in _MADE:
        _MADE[asked] = make()
    return _MADE[asked]
