"""Which cells of a line its first warning means, as conditions for the format of these cells."""

from __future__ import annotations

from collections.abc import Iterable

from xlhelpers.fields.field_sheet import FIELD_SHEET, MAIN_READINGS
from xlhelpers.live import warnings as w
from xlhelpers.live.parts import first_that_holds, text
from xlhelpers.live.typed_numbers import number_of
from xlhelpers.survey.trees.widths import RADIUS_FIELDS

WARNING = "{live_warning}"
# the warnings that mean a cell, whatever it holds
_MEANS: dict[str, tuple[str, ...]] = {
    "plot": (w.NO_PLOT, w.NO_SCALE, w.UNKNOWN_SCALE, w.NO_SCALE_DISTANCE, w.NO_EYE),
    "condition": (w.UNKNOWN_CONDITION, w.TOP_UNASKED),
    "distance": (w.NO_READINGS, w.NO_DISTANCE, w.NO_KIND, w.NO_SLOPE, w.STAND_BACK),
    "foot_reading": (w.NO_READINGS, w.NO_FOOT, w.SIGN, w.TICK, w.TIP_LOW),
    "base_reading": (w.NO_READINGS, w.NO_BASE, w.BASE_HIGH, w.NO_DEPTH, w.BASE_LOW),
    "top_reading": (w.NO_TOP, w.TOP_UNASKED, w.TOP_HIGH),
    "tip_reading": (w.NO_READINGS, w.NO_TIP, w.TIP_LOW, w.TOO_TALL),
    "slope_reading": (w.NO_SLOPE,),
    "scale": (w.UNKNOWN_SCALE,),
    "distance_kind": (w.NO_KIND,),
}
MARKED = tuple(dict.fromkeys(("plot", "tree", "condition", *w.NUMBERS, *RADIUS_FIELDS, *_MEANS)))
"""The fields whose cells are marked."""
# a formula may have 8,192 signs
_AT_ONCE = 13


def mark_condition(name: str) -> str:
    """Return the condition that the first warning of a line means the cell of a field."""
    cell = f"{{{name}}}"
    conditions = [f"{WARNING}={text(words)}" for words in _MEANS.get(name, ())]
    if name in ("plot", "tree"):
        conditions.append(f'AND({WARNING}={text(w.NO_NUMBER)},TRIM({cell})="")')
    conditions.append(f"AND({WARNING}={text(w.ERROR_VALUE)},ISERROR({cell}))")
    if name == "foot_reading":
        conditions.append(f"LEFT({WARNING},{len(w.EYE[0])})={text(w.EYE[0])}")
    if name in (*w.NUMBERS, *RADIUS_FIELDS):
        conditions += _number_conditions(name)
    return f'IF({WARNING}="",FALSE,OR({",".join(conditions)}))'


def joint_marks() -> list[tuple[tuple[str, ...], str]]:
    """Return fields and one condition for all their cells, which asks in which column a cell is.

    LibreOffice tells each rule of each warning that changes, so a few rules cost less than one for
    each column.
    """
    groups = [MARKED[at : at + _AT_ONCE] for at in range(0, len(MARKED), _AT_ONCE)]
    return [(names, _of_column(names)) for names in groups]


def _of_column(names: Iterable[str]) -> str:
    cases = [(f"COLUMN()=COLUMN({{{name}}})", mark_condition(name)) for name in names]
    return f'IF({WARNING}="",FALSE,{first_that_holds(cases, "FALSE")})'


def _number_conditions(name: str) -> Iterable[str]:
    # a text among those that nothing understands, which have neither blanks nor small letters
    typed = f'UPPER(SUBSTITUTE(T({{{name}}})," ",""))'
    unread = f'IF({typed}="",FALSE,ISNUMBER(FIND({typed},{{helper_unread}})))'
    number_warning = f"OR({WARNING}={text(w.NOT_A_NUMBER)},{WARNING}={{helper_fill}})"
    yield f"IF({number_warning},{unread},FALSE)"
    beyond = w.beyond_range(name)
    if beyond:
        yield f"AND({WARNING}={text(w.IMPOSSIBLE)},OR({','.join(beyond)}))"
    number = f"N({number_of(name)})"
    if FIELD_SHEET[name].quantity == "reading":
        yield f"AND({WARNING}={text(w.TOO_STEEP)},ABS({number})>=90)"
    if name in MAIN_READINGS:
        yield f"IF({WARNING}={text(w.PERCENT_TYPED)},{w.is_share(name)},FALSE)"
