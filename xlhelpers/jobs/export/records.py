"""The columns of an export: from the fields of the sheets, and from what was computed.

Columns that are personal or show a place are marked, so that they can be left out.
"""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Literal

import pandas as pd

from xlhelpers.fields.choices import choice
from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.fields.record import Field, Sheet
from xlhelpers.survey.columns import Column, Table

Kind = Literal["string", "number", "integer", "boolean", "date"]
About = Literal["", "notes", "places", "people"]
# columns left out unless asked for: (sheet, field) -> what it is about
ABOUT: dict[tuple[str, str], About] = {
    ("line", "note"): "notes",
    ("line", "group"): "notes",
    ("stratum", "note"): "notes",
    ("person", "note"): "notes",
    ("instrument", "note"): "notes",
    ("check", "note"): "notes",
    ("plot", "note"): "places",
    ("line", "latitude"): "places",
    ("line", "longitude"): "places",
    ("line", "bearing"): "places",
    ("line", "centre_distance"): "places",
    ("plot", "crew"): "people",
    ("plot", "keyed_by"): "people",
    ("check", "person"): "people",
}
_KINDS: dict[str, Kind] = {"number": "number", "tick": "boolean", "date": "date"}


@dataclass(frozen=True)
class TidyColumn:
    """One column of a table: name, type, and its text in the data dictionary.

    `low` and `high` are in the inner unit of the quantity, as on the record of a field.
    """

    name: str
    label: str
    help: str
    kind: Kind = "string"
    quantity: str | None = None
    choices: tuple[str, ...] = ()
    low: float | None = None
    high: float | None = None
    required: bool = False
    about: About = ""

    def unit(self, units: Units) -> str:
        """Return the unit of the numbers, "" where there is none."""
        return QUANTITIES[self.quantity].unit(units) if self.quantity else ""

    def factor(self, units: Units) -> float:
        """Return the factor from the exported number to the inner unit."""
        return QUANTITIES[self.quantity].factor(units) if self.quantity else 1.0


@dataclass(frozen=True)
class TidyTable:
    """One table: its columns, its rows in inner units, its key, and links to keys of others."""

    name: str
    title: str
    purpose: str
    columns: tuple[TidyColumn, ...]
    rows: pd.DataFrame
    key: str
    links: tuple[tuple[str, str], ...] = ()

    def without(self, left_out: frozenset[About]) -> "TidyTable":
        """Return the table without the columns that are about something left out."""
        columns = tuple(column for column in self.columns if column.about not in left_out)
        return replace(self, columns=columns)


def keyed_column(sheet: Sheet, record: Field) -> TidyColumn:
    """Return the column of a field that people type."""
    kind = _KINDS.get(record.kind, "string")
    if kind == "number" and record.quantity == "count":
        kind = "integer"
    return TidyColumn(
        record.name,
        record.label,
        record.help,
        kind,
        record.quantity,
        choice(record.choices) if record.choices else (),
        record.low if kind in {"number", "integer"} else None,
        record.high if kind in {"number", "integer"} else None,
        about=ABOUT.get((sheet.key, record.name), ""),
    )


def keyed_columns(sheet: Sheet) -> tuple[TidyColumn, ...]:
    """Return the columns of all fields of a sheet that people type, in order."""
    return tuple(keyed_column(sheet, item) for item in sheet.fields if item.kind != "computed")


_COMPUTED: dict[str, Kind] = {
    "number": "number",
    "count": "integer",
    "position": "integer",
    "flag": "boolean",
    "date": "date",
}


def computed_column(column: Column) -> TidyColumn:
    """Return the column of something that was computed."""
    return TidyColumn(
        column.name,
        column.label,
        column.help,
        _COMPUTED.get(column.kind, "string"),
        column.quantity or None,
        choice(column.choices) if column.choices else (),
    )


def columns_of(table: Table, names: str) -> Iterator[TidyColumn]:
    """Return the columns of some names of a table, which spaces part."""
    return (computed_column(table[name]) for name in names.split())
