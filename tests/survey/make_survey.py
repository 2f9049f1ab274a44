"""Small surveys for the tests: `make_survey` fills every column, dtype and state of a Survey.

Values are given in the inner unit (metres, centimetres of diameter, fractions; readings in the
unit of their scale). In a cell, a closing word such as "NOT SAFE" or "?" closes the blank and
`REFUSED_CELL` stands for an entry that the reader refused.
"""

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, Final

import numpy as np
import pandas as pd

from xlhelpers.fields.choices import CLOSING_WORDS
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENT_CHECKS, INSTRUMENTS
from xlhelpers.fields.places import PEOPLE, PLOTS, STRATA
from xlhelpers.fields.record import Field, Sheet
from xlhelpers.fields.rules import RULES
from xlhelpers.fields.species import SPECIES
from xlhelpers.survey.model import BLANK, CLOSED, REFUSED, VALUE, Survey

Row = Mapping[str, Any]

REFUSED_CELL: Final = object()
FIRST_ROW: Final = 6

# What stands in the workbook unless a test says otherwise
DEFAULT_INSTRUMENTS: tuple[Row, ...] = (
    {"instrument": "C1", "kind": "clinometer, percent and degrees"},
)
DEFAULT_PEOPLE: tuple[Row, ...] = ({"initials": "AB", "eye_height": 1.6}, {"initials": "CD"})
DEFAULT_SPECIES: tuple[Row, ...] = (
    {
        "botanical": "Quercus robur",
        "common": "English oak",
        "code": "",
        "kind": "broadleaf",
        "outline": "ellipsoid",
    },
    {
        "botanical": "Acer platanoides",
        "common": "Norway maple",
        "code": "NM",
        "kind": "broadleaf",
        "outline": "half-ellipsoid",
    },
    {
        "botanical": "Picea abies",
        "common": "Norway spruce",
        "code": "",
        "kind": "conifer",
        "outline": "cone",
    },
    {
        "botanical": "Phoenix canariensis",
        "common": "Canary Island date palm",
        "code": "",
        "kind": "palm",
        "outline": "",
    },
)
PLAIN_PLOT: Row = {
    "status": "measured",
    "crew": "AB CD",
    "instrument": "C1",
    "scale": "percent",
    "distance_kind": "level",
}

_SHEETS: dict[str, tuple[str, Sheet]] = {
    "strata": ("stratum", STRATA),
    "people": ("person", PEOPLE),
    "instruments": ("instrument", INSTRUMENTS),
    "instrument_checks": ("check", INSTRUMENT_CHECKS),
    "plots": ("plot", PLOTS),
    "species": ("species", SPECIES),
    "lines": ("line", FIELD_SHEET),
}
_FREE_TEXT: Final = frozenset({"missing_because", "note"})


def make_survey(
    lines: Sequence[Row] = (),
    plots: Sequence[Row] | None = None,
    instruments: Sequence[Row] = DEFAULT_INSTRUMENTS,
    species: Sequence[Row] = DEFAULT_SPECIES,
    rules: Mapping[str, Any] | None = None,
    **others: Sequence[Row],
) -> Survey:
    """Return a survey of these rows.

    Without `plots` each plot that a line names stands in the plots table: measured by AB and CD
    with the clinometer C1 on its percent scale and level distances. A row of `plots` is taken as
    given. `others` may hold strata, people and instrument_checks. Keys `_sheet` and `_row` of a
    row say where it stands; otherwise the rows follow each other from row 6.
    """
    rows: dict[str, Sequence[Row]] = {
        "lines": lines,
        "plots": _plots_of(lines) if plots is None else plots,
        "instruments": instruments,
        "species": species,
        "people": others.pop("people", DEFAULT_PEOPLE),
        "strata": others.pop("strata", ()),
        "instrument_checks": others.pop("instrument_checks", ()),
    }
    if others:
        raise TypeError(f"no table is called {', '.join(others)}")
    tables, states, closed = {}, {}, {}
    for key, given in rows.items():
        tables[key], states[key] = _table(_SHEETS[key][1], given, closed)
    unknown = set(rules or {}) - set(RULES.index)
    if unknown:
        raise KeyError(f"no rule is called {sorted(unknown)}")
    return Survey(
        rules={f.name: f.default for f in RULES.fields} | dict(rules or {}),
        states=states,
        columns=_columns(),
        closed_words=closed,
        **tables,
    )


def _plots_of(lines: Iterable[Row]) -> list[Row]:
    names = dict.fromkeys(str(line.get("plot", "")) for line in lines)
    return [PLAIN_PLOT | {"plot": name} for name in names if name]


def _keyed(sheet: Sheet) -> list[Field]:
    return [f for f in sheet.fields if f.kind != "computed"]


def _table(
    sheet: Sheet, rows: Sequence[Row], closed: dict[str, int]
) -> tuple[pd.DataFrame, pd.DataFrame]:
    fields = _keyed(sheet)
    for row in rows:
        unknown = set(row) - {f.name for f in fields} - {"_sheet", "_row"}
        if unknown:
            raise KeyError(f"{sheet.tab}: no column is called {sorted(unknown)}")
    values: dict[str, Any] = {
        "_sheet": pd.Series([row.get("_sheet", sheet.tab) for row in rows], dtype=object),
        "_row": np.array([row.get("_row", FIRST_ROW + i) for i, row in enumerate(rows)], dtype=int),
    }
    states: dict[str, Any] = {
        "_sheet": np.full(len(rows), VALUE, dtype=np.int8),
        "_row": np.full(len(rows), VALUE, dtype=np.int8),
    }
    for field in fields:
        cells = [_cell(field, row.get(field.name), closed) for row in rows]
        values[field.name] = _column(field, [value for value, _ in cells])
        states[field.name] = np.array([state for _, state in cells], dtype=np.int8)
    return pd.DataFrame(values), pd.DataFrame(states)


def _cell(field: Field, value: Any, closed: dict[str, int]) -> tuple[Any, int]:
    """Return the value (None for a blank) and the state of one cell."""
    if value is REFUSED_CELL:
        return None, REFUSED
    if isinstance(value, str) and field.name not in _FREE_TEXT:
        word = "UNREADABLE" if value.strip() == "?" else value.strip().upper()
        if word in CLOSING_WORDS:
            closed[word] = closed.get(word, 0) + 1
            return None, CLOSED
    if value is None or value is False or value == "" or value != value:
        return None, BLANK
    return value, VALUE


def _column(field: Field, cells: list[Any]) -> Any:
    if field.kind == "number":
        return np.array([np.nan if v is None else float(v) for v in cells], dtype=float)
    if field.kind == "tick":
        return np.array([bool(v) for v in cells], dtype=bool)
    if field.kind == "date":
        return pd.Series(pd.to_datetime(cells), dtype="datetime64[ns]")
    return pd.Series(["" if v is None else str(v) for v in cells], dtype=object)


def _columns() -> dict[tuple[str, str], int]:
    """Return the column numbers of a workbook whose sheets are as the template makes them."""
    return {
        (sheet.tab, field.name): number
        for _, sheet in _SHEETS.values()
        for number, field in enumerate(sheet.fields, 1)
    }
