"""The columns of an export: the fields of the sheets, the computed ones, the rest.

Columns that are personal or show a place are marked, so that they can be left out.
"""

from dataclasses import dataclass, replace
from typing import Literal

import pandas as pd

from xlhelpers.fields.choices import choice
from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.fields.record import Field, Sheet

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


def number_column(name: str, title: str, text: str, quantity: str) -> TidyColumn:
    """Return a column of computed numbers."""
    return TidyColumn(name, title, text, "number", quantity)


def key_column(name: str, title: str, *, own: bool = False) -> TidyColumn:
    """Return a column of running numbers: the table's own key, or one of another table."""
    text = "Running number in this export. It connects the tables."
    return TidyColumn(name, title, text, "integer", required=own)


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


_M = "length"
_WAY = "How it was reached."
_U = "Standard uncertainty, the instrument's part."
SETUP_COLUMNS: tuple[TidyColumn, ...] = (
    TidyColumn("used_instrument", "Instrument used", "The line's own, else the plot's."),
    TidyColumn("used_scale", "Scale used", "The line's own, else the plot's."),
    TidyColumn("used_distance_kind", "Distance kind used", "The line's own, else the plot's."),
    number_column("level_distance", "Level distance", "To the centre of the stem.", _M),
    number_column("crown_base", "Crown base", "Above the foot, from this line.", _M),
    number_column("crown_top", "Crown top", "Above the foot, from this line.", _M),
    number_column("total_height", "Total height", "Above the foot, from this line.", _M),
    number_column("crown_depth", "Crown depth", "Top minus base, from this line.", _M),
    TidyColumn("no_height_because", "No height because", "Why there is no height, if so."),
    TidyColumn(
        "closed", "Closed by a word", "Fields left blank for a stated reason, with the word."
    ),
    TidyColumn("refused", "Not read", "Fields whose cell could not be read; blank here."),
    TidyColumn("doubtful", "Rests on an open finding", "See findings.csv.", "boolean"),
)
TREE_COLUMNS: tuple[TidyColumn, ...] = (
    TidyColumn("plot", "Plot", "Number of the plot, as keyed."),
    TidyColumn("tree", "Tree", "Number of the tree within its plot, as keyed."),
    TidyColumn("stratum", "Stratum", "Part of the town."),
    TidyColumn("species", "Species as keyed", "As it stands on the field sheet."),
    TidyColumn("botanical", "Botanical name", "From the species sheet; blank where not on it."),
    TidyColumn("kind", "Kind", "broadleaf, conifer or palm.", choices=choice("species kind")),
    TidyColumn(
        "condition", "Condition", "Blank living, T dead top, D dead.", choices=choice("condition")
    ),
    number_column(
        "diameter", "Diameter", "All stems combined: root of the sum of squares.", "diameter"
    ),
    TidyColumn("stem_count", "Stems", "Stems at breast height.", "integer", "count"),
    number_column("basal_area", "Basal area", "From the combined diameter.", "basal area"),
    number_column("mean_width", "Mean crown width", "Mean of the two widths.", _M),
    TidyColumn("one_width_only", "One width only", "It then counts for both.", "boolean"),
    number_column("projection_area", "Crown area", "Ellipse of the two widths.", "crown area"),
    number_column("total_height", "Total height", "Mean over set-ups, above the foot.", _M),
    number_column("crown_top", "Crown top", "Mean over set-ups, above the foot.", _M),
    number_column("crown_base", "Crown base", "Mean over set-ups, above the foot.", _M),
    number_column("crown_depth", "Crown depth", "Mean top minus mean base.", _M),
    number_column("live_crown_ratio", "Live crown ratio", "Depth over height.", "percent"),
    number_column("volume", "Crown volume", "Of the species' outline.", "volume"),
    TidyColumn("n_total", "Set-ups, height", "How many gave a height.", "integer", "count"),
    TidyColumn("n_base", "Set-ups, crown base", "How many gave one.", "integer", "count"),
    TidyColumn("way_total", "Way, height", _WAY),
    TidyColumn("way_base", "Way, crown base", _WAY),
    TidyColumn("instruments", "Instruments", "All that were used on the tree."),
    number_column("u_total", "± height", _U, _M),
    number_column("u_base", "± crown base", _U, _M),
    number_column("u_depth", "± crown depth", _U, _M),
    number_column(
        "observer_u", "± height, observers", "The observers' part (published figure).", _M
    ),
    TidyColumn("no_height_because", "No height because", "Why there is no height, if so."),
    TidyColumn("duplicate", "Shares its number", "With another tree of the plot.", "boolean"),
    TidyColumn("doubtful", "Rests on an open finding", "See findings.csv.", "boolean"),
)
FINDING_COLUMNS: tuple[TidyColumn, ...] = (
    TidyColumn("finding_id", "Id", "The visible id of the finding.", required=True),
    TidyColumn(
        "severity",
        "Severity",
        "error, warning or note; a note is never open.",
        choices=("error", "warning", "note"),
    ),
    TidyColumn("open", "Open", "Not resolved yet.", "boolean"),
    TidyColumn("check", "Check", "Short name of the check."),
    TidyColumn("plot", "Plot", "What it is about."),
    TidyColumn("tree", "Tree", "What it is about."),
    TidyColumn("setup", "Set-up", "What it is about."),
    TidyColumn("fields", "Fields", "The fields that it compares."),
)
RULE_COLUMNS: tuple[TidyColumn, ...] = (
    TidyColumn("rule", "Rule", "Name of the rule.", required=True),
    TidyColumn("label", "Label", "As on the sheet Survey rules."),
    TidyColumn("value", "Value", "As agreed for the survey."),
    TidyColumn("unit", "Unit", "Unit of the value."),
    TidyColumn("meaning", "Meaning", "What the rule means."),
)
