"""Cells of one workbook as they are keyed into another: as typed, or in the units of the other."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Protocol

import numpy as np
import pandas as pd

from xlhelpers.fields.quantities import INCH_CM, QUANTITIES, Units
from xlhelpers.fields.record import Field, Sheet
from xlhelpers.measure.instruments import HEIGHT_SCALE
from xlhelpers.survey.model import BLANK, VALUE, Survey
from xlhelpers.survey.setups.instruments import FIXED_SCALE
from xlhelpers.survey.setups.ways import resolve_ways

_DIGITS_OF_A_CONVERSION = 10
# readings that some instruments show as heights, in the unit of the workbook
_SHOWN_AS_HEIGHTS = {
    "lines": ("foot_reading", "base_reading", "top_reading", "tip_reading"),
    "instrument_checks": ("foot_reading", "tip_reading"),
}


class Book(Protocol):
    """What merging needs of a workbook: its name, its survey and its cells as typed."""

    @property
    def name(self) -> str: ...  # noqa: D102
    @property
    def survey(self) -> Survey: ...  # noqa: D102
    @property
    def typed(self) -> Mapping[str, pd.DataFrame]: ...  # noqa: D102
    @property
    def own(self) -> pd.DataFrame: ...  # noqa: D102


@dataclass(frozen=True)
class Target:
    """How the survey that is written keeps its numbers."""

    units: Units
    tape: str
    girth: bool


@dataclass(frozen=True)
class Conflict:
    """One contradiction between workbooks, and what was done about it."""

    kind: str
    what: str
    label: str
    stands: str
    other: str
    file: str
    sheet: str
    row: int
    done: str


def conflict_on(
    row: Mapping[Any, Any], kind: str, what: str, label: str, values: tuple[Any, Any], done: str
) -> Conflict:
    """Return the contradiction of a row with what stands: the value that stands, and its own."""
    stands, other = map(as_text, values)
    place = (row["_file"], row["_sheet"], int(row["_row"]))
    return Conflict(kind, what, label, stands, other, *place, done)


def target_of(books: list[Any], units: Units | None = None) -> Target:
    """Return how the numbers of all workbooks are kept together.

    The units are those of the first workbook unless stated; tape and girth are kept where all
    workbooks agree on them.
    """
    rules = [book.survey.rules for book in books]
    system: Units = units or ("us" if rules[0]["units"] == "us" else "metric")
    tapes = {str(rule["tape_reads_in"]) for rule in rules if rule["units"] == system}
    usual = "metres" if system == "metric" else "tenths of feet"
    tape = tapes.pop() if len(tapes) == 1 and all(r["units"] == system for r in rules) else usual
    return Target(system, tape, all(rule["diameter_typed_as"] == "girth" for rule in rules))


def keyed_frame(book: Book, table: str, sheet: Sheet, target: Target) -> pd.DataFrame:
    """Return one table as it is keyed into the target: a column a field, blanks None.

    A cell that was read goes over as typed where it means the same there, else as the number it
    means; a cell that was not read or is closed by a word goes over as typed, with its unit
    behind it where the units change.
    """
    rows, typed, states = (
        getattr(book.survey, table),
        book.typed[table],
        book.survey.states.get(table),
    )
    columns = {}
    for item in sheet.fields:
        if item.kind == "computed":
            continue
        state = np.full(len(rows), VALUE) if states is None else states[item.name].to_numpy()
        values = rows[item.name]
        if item.quantity == "reading" and item.name in _SHOWN_AS_HEIGHTS.get(table, ()):
            values = values.where(~_in_lengths(book, table), values * _length_ratio(book, target))
        columns[item.name] = _column(book, item, values, typed[item.name], state, target)
    return pd.DataFrame(columns, index=rows.index, dtype=object)


def _length_ratio(book: Book, target: Target) -> float:
    length = QUANTITIES["length"]
    return length.factor(book.survey.units) / length.factor(target.units)


def _in_lengths(book: Book, table: str) -> Any:
    """Mark the rows whose readings are heights in the unit of the workbook, not ratios."""
    if table != "lines":
        return (book.survey.instrument_checks["scale"] == HEIGHT_SCALE).to_numpy()
    ways = resolve_ways(book.survey)
    kind = ways.instruments.kind[ways.instrument_position]
    # a fixed-distance scale of a known kind has a unit of its own
    return (ways.scale == HEIGHT_SCALE) | ((ways.scale == FIXED_SCALE) & (kind == ""))


def _column(
    book: Book, item: Field, values: pd.Series, typed: pd.Series, states: Any, target: Target
) -> list[Any]:
    same_units = book.survey.units == target.units
    if item.kind == "number":
        return _numbers(book, item, values, typed, states, target)
    if item.kind == "date":
        days = [None if pd.isna(day) else day.date() for day in values]
        return [
            day if state == VALUE and day is not None else cell
            for day, cell, state in zip(days, typed, states, strict=True)
        ]
    if item.kind == "stems" and not same_units:
        return [
            _stems(str(text), target) if state == VALUE and text else cell
            for text, cell, state in zip(values, typed, states, strict=True)
        ]
    return list(typed)


def _numbers(
    book: Book, item: Field, values: pd.Series, typed: pd.Series, states: Any, target: Target
) -> list[Any]:
    quantity = item.measured_in
    factor = quantity.factor(target.units) if quantity else 1.0
    numbers = values.to_numpy(float) / factor
    if item.name == "diameter" and item.quantity == "diameter" and target.girth:
        numbers = numbers * np.pi
    unit = quantity.unit(book.survey.units) if quantity else ""
    changes = book.survey.units != target.units
    behind = f" {unit}" if quantity and unit != quantity.unit(target.units) else ""
    read = np.isin(np.asarray(states), (VALUE, BLANK))
    cells = np.full(len(numbers), None, dtype=object)
    digits = _DIGITS_OF_A_CONVERSION if changes else 15
    as_typed = read & _same_numbers(typed, numbers)
    cells[as_typed] = typed.to_numpy(dtype=object)[as_typed]
    for at in np.flatnonzero(read & ~as_typed & ~np.isnan(numbers)).tolist():
        cells[at] = float(f"{numbers[at]:.{digits}g}")
    for at in np.flatnonzero(~read).tolist():
        cells[at] = _as_typed(typed.iloc[at], behind)
    return list(cells)


def _same_numbers(typed: pd.Series, targets: Any) -> Any:
    """Mark the cells that already are these numbers."""
    is_number = np.array([isinstance(cell, float) for cell in typed], dtype=bool)
    number = np.where(is_number, typed.to_numpy(dtype=object), np.nan).astype(float)
    return np.abs(number - targets) <= 1e-12 + 1e-9 * np.abs(targets)


def _as_typed(cell: Any, behind: str) -> Any:
    if isinstance(cell, float) and behind:
        return f"{cell:.15g}{behind}"
    if isinstance(cell, str) and behind and cell.strip()[-1:].isdigit():
        return cell.strip() + behind
    return cell


def _stems(text: str, target: Target) -> str:
    factor = INCH_CM if target.units == "us" else 1.0
    return " ".join(f"{float(part) / factor:.{_DIGITS_OF_A_CONVERSION}g}" for part in text.split())


def same_value(one: Any, other: Any) -> bool:
    """Return whether two values in inner units are the same; blanks are alike."""
    if is_blank(one) or is_blank(other):
        return is_blank(one) and is_blank(other)
    if isinstance(one, float) and isinstance(other, float):
        return bool(np.isclose(one, other, rtol=1e-9, atol=1e-12))
    return bool(one == other)


def is_blank(value: Any) -> bool:
    """Return whether a value stands for a blank cell."""
    return value is None or value is False or value == "" or bool(pd.isna(value))


def as_text(value: Any) -> str:
    """Return a keyed value as text for a report."""
    if value is None or (isinstance(value, float) and np.isnan(value)):
        return "(blank)"
    if isinstance(value, float):
        return f"{value:.10g}"
    return str(value) or "(blank)"
