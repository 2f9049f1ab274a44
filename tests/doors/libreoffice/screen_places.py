"""Where things are on the screen of an office, as programs that read it aloud find them."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import uno
from com.sun.star.lang import DisposedException, IndexOutOfBoundsException

_DEEPEST = 8
_CELLS = [
    uno.getConstantByName(f"com.sun.star.accessibility.AccessibleRole.{role}")
    for role in ("TABLE", "DOCUMENT", "DOCUMENT_SPREADSHEET")
]


def place_of(toolkit: Any, name: str) -> list[int]:
    """Return the middle of what is on the screen and has this name, [] if nothing has."""
    for number in range(toolkit.getTopWindowCount()):
        try:
            for one in _within(toolkit.getTopWindow(number), 0):
                if one.getAccessibleName() == name and _is_showing(one):
                    corner, size = one.getLocationOnScreen(), one.getSize()
                    if size.Width > 0 and corner.X >= 0:
                        return [corner.X + size.Width // 2, corner.Y + size.Height // 2]
        except (DisposedException, IndexOutOfBoundsException):
            continue  # it was closed meanwhile
    return []


def _is_showing(context: Any) -> bool:
    states = context.getAccessibleStateSet()
    showing = uno.getConstantByName("com.sun.star.accessibility.AccessibleStateType.SHOWING")
    return bool(states.contains(showing))


def _within(accessible: Any, depth: int) -> Iterator[Any]:
    context = accessible.getAccessibleContext()
    if context is None:
        return
    yield context
    if depth < _DEEPEST and context.getAccessibleRole() not in _CELLS:
        for number in range(min(context.getAccessibleChildCount(), 100)):
            yield from _within(context.getAccessibleChild(number), depth + 1)
