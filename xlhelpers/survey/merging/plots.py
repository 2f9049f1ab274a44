"""The plots of several workbooks: planned rows give way, contradicting rows both stay."""

from collections.abc import Mapping, Sequence
from typing import Any

import pandas as pd

from xlhelpers.fields.choices import EYE_HEIGHT_WORDS
from xlhelpers.fields.places import PLOTS
from xlhelpers.survey.merging.values import (
    Book,
    Conflict,
    as_text,
    conflict_on,
    is_blank,
    same_value,
)
from xlhelpers.survey.setups.ways import BY_EYE, resolve_ways
from xlhelpers.survey.typed.folding import fold
from xlhelpers.survey.typed.words import closing_word, identifier_key

# what a line takes from its plot unless it says so itself
_FOR_THE_LINES = ("instrument", "scale", "distance_kind")
_PLANNED = ("", "later")
_BOTH_KEPT = "both rows of the plot are kept; its lines keep their own instrument and scale"
# what no line can say for itself
_FIRST_COUNTS = {
    "distance_to": "both rows of the plot are kept; the first is used for all lines, so heights "
    "may differ from those in this workbook"
}


def merge_plots(
    books: Sequence[Book], frames: Sequence[dict[str, pd.DataFrame]]
) -> tuple[pd.DataFrame, list[Conflict]]:
    """Return the rows of all plots and what contradicts.

    A row of a workbook that has no lines on the plot is a plan: it completes the others and
    gives way to them. Rows that agree become one. Rows that differ both stay; the lines of the
    later workbook then get the plot's instrument, scale and distance kind of their own, so that
    their heights stay as they were.

    Parameters
    ----------
    books, frames
        The workbooks, and the tables of each as they are to be keyed; the lines are changed.
    """
    rows: list[dict[Any, Any]] = []
    standing: dict[str, tuple[int, dict[Any, Any], bool]] = {}
    conflicts: list[Conflict] = []
    for number, frame in enumerate(frames):
        with_lines = {_key(cell) for cell in frame["lines"]["plot"]}
        for row in frame["plots"].to_dict("records"):
            key = _key(row["plot"])
            here = standing.get(key)
            measured = key in with_lines
            if not key or here is None or here[0] == number:
                rows.append(row)
                if key and here is None:
                    standing[key] = (number, row, measured)
                continue
            stands = here[1]
            different = _contradictions(stands, row)
            if not different and (not measured or not here[2] or _alike(stands, row)):
                conflicts += _complete(stands, row)
                standing[key] = (here[0], stands, here[2] or measured)
                continue
            conflicts += [
                _conflict(row, name, stands[name], _FIRST_COUNTS.get(name, _BOTH_KEPT))
                for name in different or _unlike(stands, row)
            ]
            rows.append(row)
            _write_on_lines(books[number], frame["lines"], key, stands, row)
    columns = frames[0]["plots"].columns
    return pd.DataFrame(rows, columns=columns, dtype=object), conflicts


def _key(cell: Any) -> str:
    return "" if cell is None else identifier_key(as_text(cell))


def _same(one: Any, other: Any) -> bool:
    if isinstance(one, str) and isinstance(other, str):
        return fold(one) == fold(other)
    return same_value(one, other)


def _names() -> list[str]:
    return [item.name for item in PLOTS.fields if item.kind != "computed" and item.name != "plot"]


def _unlike(one: Mapping[Any, Any], other: Mapping[Any, Any]) -> list[str]:
    return [name for name in _names() if not _same(one[name], other[name])]


def _alike(one: Mapping[Any, Any], other: Mapping[Any, Any]) -> bool:
    return not _unlike(one, other)


def _contradictions(one: Mapping[Any, Any], other: Mapping[Any, Any]) -> list[str]:
    """Return the fields in which both rows say something, and not the same."""
    return [
        name
        for name in _unlike(one, other)
        if not is_blank(one[name])
        and not is_blank(other[name])
        and not (name == "status" and {str(one[name]), str(other[name])} & {"later"})
    ]


def _complete(stands: dict[Any, Any], row: Mapping[Any, Any]) -> list[Conflict]:
    filled: list[Conflict] = []
    for name in _unlike(stands, row):
        planned = name == "status" and str(stands[name] or "") in _PLANNED
        if is_blank(row[name]) or not (is_blank(stands[name]) or planned):
            continue
        before, stands[name] = stands[name], row[name]
        filled.append(_conflict(row, name, before, f"the planned row was completed: {name}"))
    return filled


def _conflict(row: Mapping[Any, Any], name: str, before: Any, done: str) -> Conflict:
    what = f"plot {as_text(row['plot'])}"
    return conflict_on(row, "plot", what, PLOTS[name].label, (before, row[name]), done)


def _write_on_lines(
    book: Book, lines: pd.DataFrame, key: str, stands: Mapping[Any, Any], row: Mapping[Any, Any]
) -> None:
    """Write on the lines of a plot what its own row said for them, where rows differ."""
    if row["foot_by"] == BY_EYE and not _same(stands["foot_by"], BY_EYE):
        _say_eye_height(lines, (lines["plot"].map(_key) == key).to_numpy())
    if all(_same(stands[name], row[name]) for name in _FOR_THE_LINES):
        return
    ways = resolve_ways(book.survey)
    on_plot = (lines["plot"].map(_key) == key).to_numpy()
    resolved = {
        "instrument": [row["instrument"]] * len(lines),
        "scale": ways.scale.tolist(),
        "distance_kind": ways.distance_kind.tolist(),
    }
    for name in _FOR_THE_LINES:
        values = pd.Series(resolved[name], index=lines.index, dtype=object)
        blank = lines[name].map(is_blank).to_numpy() & ~values.map(is_blank).to_numpy()
        lines.loc[on_plot & blank, name] = values[on_plot & blank]


def _say_eye_height(lines: pd.DataFrame, on_plot: Any) -> None:
    """Write on the lines without a foot reading that the eye height stands for it.

    A line whose blanks are explained has no height, and keeps its reason.
    """
    blank = on_plot & lines["foot_reading"].map(is_blank).to_numpy()
    for at in lines.index[blank]:
        reason = lines.at[at, "missing_because"]
        if is_blank(reason):
            lines.at[at, "missing_because"] = EYE_HEIGHT_WORDS
        elif not closing_word(as_text(reason)):
            lines.at[at, "missing_because"] = f"{as_text(reason)}, {EYE_HEIGHT_WORDS}"
