"""The columns of every table of a survey: name, kind, unit, one sentence.

The builders of the tables make just these columns in this order (`table_of`); the tabs, the
data dictionary of `export` and the tests read them. The tables that people fill follow from the
records of their sheets.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, Literal

import pandas as pd

from xlhelpers.errors import SpecificationError
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.instruments import INSTRUMENT_CHECKS, INSTRUMENTS
from xlhelpers.fields.places import PEOPLE, PLOTS, STRATA
from xlhelpers.fields.record import Sheet
from xlhelpers.fields.species import SPECIES

# a position is a row of another table (-1 none), a slope a tangent
Kind = Literal["text", "number", "count", "flag", "date", "position"]


@dataclass(frozen=True)
class Column:
    """One column of a table in memory.

    `quantity` names the inner unit in `fields.quantities`, "" for a number without one;
    `choices` a list in `fields.choices`; `title` is for people, by default the name in words.
    """

    name: str
    kind: Kind
    help: str
    quantity: str = ""
    title: str = ""
    choices: str = ""

    @property
    def label(self) -> str:
        """Return the column's name for people."""
        return self.title or self.name.replace("_", " ").capitalize()


class Table(tuple[Column, ...]):
    """The columns of one table, in their order."""

    @property
    def names(self) -> tuple[str, ...]:
        """Return the names of the columns."""
        return tuple(column.name for column in self)

    def __getitem__(self, key: Any) -> Any:
        """Return the column of a name; positions work as in any tuple."""
        if not isinstance(key, str):
            return super().__getitem__(key)
        match = next((column for column in self if column.name == key), None)
        if match is None:
            raise SpecificationError(f"no column is called {key}")
        return match


def table_of(table: Table, columns: Mapping[str, Any], index: Any = None) -> pd.DataFrame:
    """Return a table with just its columns, in their order.

    Raises
    ------
    SpecificationError
        If a column is missing or nobody declared it.
    """
    if wrong := set(columns) ^ set(table.names):
        raise SpecificationError(f"columns {sorted(wrong)} are missing or not declared")
    return pd.DataFrame({name: columns[name] for name in table.names}, index=index)


_KINDS: dict[str, Kind] = {"number": "number", "tick": "flag", "date": "date"}


def keyed_columns(sheet: Sheet) -> Iterator[Column]:
    """Return the columns of the table of a sheet: its origin, and each field that people fill."""
    yield _text("_sheet", "Sheet that the row is on.")
    yield _position("_row", "Row of that sheet, from 1.")
    for item in sheet.fields:
        if item.kind != "computed":
            kind, unit = _KINDS.get(item.kind, "text"), item.quantity or ""
            yield Column(item.name, kind, item.help, unit, item.label, item.choices or "")


def _text(name: str, help_text: str, title: str = "") -> Column:
    return Column(name, "text", help_text, "", title)


def _flag(name: str, help_text: str, title: str = "") -> Column:
    return Column(name, "flag", help_text, "", title)


def _position(name: str, help_text: str) -> Column:
    return Column(name, "position", help_text)


def _number(name: str, help_text: str, quantity: str = "length", title: str = "") -> Column:
    return Column(name, "number", help_text, quantity, title)


def _count(name: str, help_text: str, title: str = "") -> Column:
    return Column(name, "count", help_text, "count", title)


def _uncertainties(point: str, what: str) -> tuple[Column, Column]:
    return (
        _number(f"{point}_u_common", f"± {what}, the part that repeats do not shrink."),
        _number(f"{point}_u_reading", f"± {what}, the part that repeats shrink."),
    )


_WAY, _LINE = "How it was measured.", "Above the foot, from this line."
_MEAN, _U = "Mean over set-ups, above the foot.", "Standard uncertainty, the instrument's part."
_U_RADII = "Standard uncertainty; with four radii only."
_OBSERVERS = "The observers' part (published figure)."
_USED = "The line's own, else the plot's."
_WHY_NO_HEIGHT = _text("no_height_because", "Why there is no height, if so.")
_CONDITION = Column(
    "condition", "text", "Blank living, T dead top, C cut back, D dead.", choices="condition"
)
_PLOT_POSITION = _position("plot_position", "Row of its plot on Plots.")
GROUPS = Table(
    (
        _position("tree_position", "Row of its tree."),
        _flag("first", "The tree's first line."),
        _count("setup_number", "Set-up as entered; blank ones are numbered."),
        _flag("duplicate", "Shares its number with another tree."),
        _flag("unnumbered", "Without plot or tree, so a tree of its own."),
    )
)
SETUPS = Table(
    (
        *GROUPS,
        _PLOT_POSITION,
        _position("instrument_position", "Row of its instrument on Instruments."),
        _text("instrument", _USED, "Instrument used"),
        _text("kind", "Kind of the instrument."),
        _text("scale", _USED, "Scale used"),
        _text("distance_kind", _USED, "Distance kind used"),
        _number("scale_distance", "Base of a fixed-distance scale, unit of its readings.", ""),
        _number("eye_height", "Of the person."),
        _number("foot_slope", "Slope to the foot.", ""),
        _number("base_slope", "Slope to the crown base.", ""),
        _number("top_slope", "Slope to the crown top.", ""),
        _number("tip_slope", "Slope to the tip.", ""),
        _number("along_slope", "Slope of the distance.", ""),
        _number("second_tip_slope", "Slope to the tip from the second station.", ""),
        _number("level_distance", "To the centre of the stem."),
        _number("distance_added", "From the bark to the centre of the stem."),
        _number("eye_above_foot", "Height of the eye above the foot."),
        _CONDITION,
        _number("crown_base", _LINE),
        _number("crown_top", _LINE),
        _number("total_height", _LINE),
        _number("crown_depth", "Top minus base, from this line."),
        _number("base_sighted", "Crown base as read, whatever is used."),
        _number("top_sighted", "Crown top as read, whatever is used."),
        _flag("base_set_to_zero", "Just below the foot, so it counts as 0."),
        _text("base_way", _WAY),
        _text("top_way", _WAY),
        _text("tip_way", _WAY),
        *_uncertainties("base", "crown base"),
        *_uncertainties("top", "crown top"),
        *_uncertainties("tip", "total height"),
        *_uncertainties("depth", "crown depth"),
        _WHY_NO_HEIGHT,
    )
)
TREES = Table(
    (
        _text("plot", "Number of the plot, as entered."),
        _text("tree", "Number of the tree within its plot, as entered."),
        _position("first_line", "Its first line."),
        _count("line_count", "Its lines."),
        _flag("duplicate", "With another tree of the plot.", "Shares its number"),
        _flag("unnumbered", "Without plot or tree."),
        _text("species", "As it is on the field sheet.", "Species as entered"),
        _text("botanical", "From the species sheet; blank where not on it.", "Botanical name"),
        _text("common", "Common name from Species."),
        _text("genus", "First word of the botanical name."),
        Column("kind", "text", "broadleaf, conifer or palm.", choices="species kind"),
        _text("outline", "Shape of the crown, from Species."),
        _flag("known_species", "Listed on Species."),
        _CONDITION,
        _number("diameter", "All stems combined: root of the sum of squares.", "diameter"),
        _number("largest_stem", "The thickest stem.", "diameter"),
        _count("stem_count", "Stems at breast height.", "Stems"),
        _number("basal_area", "From the combined diameter.", "basal area"),
        _number("width_widest", "As entered, or north plus south of four radii."),
        _number("width_across", "As entered, or east plus west of four radii."),
        _number("mean_width", "Mean of the two widths.", title="Mean crown width"),
        _flag("one_width_only", "It then counts for both."),
        _number("projection_area", "Ellipse of the two widths.", "crown area", "Crown area"),
        _number("crown_offset", "From the stem to the centre of the crown; with four radii only."),
        _number("u_mean_width", _U_RADII, title="± mean crown width"),
        _number("u_projection_area", _U_RADII, "crown area", "± crown area"),
        _number("u_crown_offset", _U_RADII, title="± crown offset"),
        _number("total_height", _MEAN),
        _number("crown_top", _MEAN),
        _number("crown_base", _MEAN),
        _number("crown_depth", "Mean top minus mean base."),
        _number("live_crown_ratio", "Crown depth divided by total height.", "percent"),
        _number("dead_top_length", "From the living crown top to the tip."),
        _number("volume", "Of the species' outline.", "volume", "Crown volume"),
        _number("leaf_area", "By a regression, for some genera.", "crown area"),
        _text("leaf_area_because", "Why there is no leaf area, if so."),
        _number("height_to_diameter", "Total height over the largest stem, m per m.", ""),
        _count("n_total", "How many gave a height.", "Set-ups, height"),
        _count("n_top", "How many gave a crown top."),
        _count("n_base", "How many gave one.", "Set-ups, crown base"),
        _text("way_total", _WAY, "Way, height"),
        _text("way_top", _WAY),
        _text("way_base", _WAY, "Way, crown base"),
        _text("instruments", "All that were used on the tree."),
        _number("u_total", _U, title="± height"),
        _number("u_top", _U),
        _number("u_base", _U, title="± crown base"),
        _number("u_depth", _U, title="± crown depth"),
        _number("u_ratio", _U, "percent"),
        _number("observer_u", _OBSERVERS, title="± height, observers"),
        _number("scatter_total", "Largest minus smallest height of its set-ups."),
        _number(
            "near_edge",
            "So much too high at most, if the near edge of a wide crown was aimed at and not the "
            "tip. Blank for trees measured from several places, and where it is under 5 % of the "
            "height.",
            title="Too high by up to (near edge)",
        ),
        _flag("base_set_to_zero", "Of one of its set-ups."),
        _WHY_NO_HEIGHT,
        _number(
            "diameter_at",
            "Height of the diameter above the foot, where it is not breast height.",
            title="Diameter measured at",
        ),
        _number("height_by_eye", "As estimated.", title="Height by eye"),
        _number("recorded_height", "From another source.", title="Recorded height"),
        _text("tag", "On the tree."),
        _number("latitude", "In decimal degrees (WGS 84), south is −.", "position"),
        _number("longitude", "In decimal degrees (WGS 84), west is −.", "position"),
        _text("group", "Own words of the crew."),
        _text("stratum", "Part of the town."),
        _text("sheet", "Sheet of its first line."),
        _position("row", "Row of its first line on the sheet, from 1."),
        _PLOT_POSITION,
        _position("species_position", "Its row on Species."),
    )
)
# the sheets that people fill, by the name of their table
SHEETS: dict[str, Sheet] = {
    "strata": STRATA,
    "people": PEOPLE,
    "instruments": INSTRUMENTS,
    "instrument_checks": INSTRUMENT_CHECKS,
    "plots": PLOTS,
    "species": SPECIES,
    "lines": FIELD_SHEET,
}
TABLES: dict[str, Table] = {
    **{name: Table(keyed_columns(sheet)) for name, sheet in SHEETS.items()},
    "setups": SETUPS,
    "trees": TREES,
}
