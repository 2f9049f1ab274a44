"""Blank workbooks for the tests, made once and handed out as often as they are asked for."""

from functools import cache

from xlhelpers.workbook.template import make_template


@cache
def blank(units: str = "metric", paper: str = "a4", *, plots: int = 2, lines: int = 12) -> bytes:
    """Return a blank workbook with so many prepared plots and lines."""
    return make_template(units, paper, plots, lines)  # type: ignore[arg-type]
