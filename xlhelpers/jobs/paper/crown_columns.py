"""Which crown columns a survey needs on paper, and what heads crowns and stems there."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.quantities import Units
from xlhelpers.survey.trees.widths import (
    COMPASS,
    DIRECTIONS,
    FIXED,
    NOT_MEASURED,
    RADII,
    RADIUS_FIELDS,
    WIDEST,
)

WIDTHS = ("width_widest", "width_across")
# beside four narrow columns of radii the others are as narrow as their headings, for the species
_RADIUS_UNITS, _BESIDE_RADII = 4, 5
_MADE_NARROW = (
    "condition",
    "diameter",
    "distance",
    "base_reading",
    "top_reading",
    "tip_reading",
)
# field -> what heads it in a narrow column
_OF_RADII = {name: f"Radius {name[7].upper()}" for name in RADIUS_FIELDS}
GIRTH = "girth"
# field -> what heads it where the survey writes girths
_OF_GIRTH = {"diameter": "Girth", "other_stems": "Other girths"}


@dataclass(frozen=True)
class CrownRules:
    """What the survey rules say about crowns and stems: the words of four rules."""

    widths: str = WIDEST
    directions: str = COMPASS
    depth: str = "measured"
    stem: str = "diameter"

    def columns(self, widths: Mapping[str, int]) -> dict[str, int]:
        """Return the main run on paper: of these columns and their widths what is measured."""
        gone: set[str] = set()
        if self.widths in (NOT_MEASURED, RADII):
            gone.update(WIDTHS)
        if self.depth == NOT_MEASURED:
            gone.update(("base_reading", "top_reading"))
        run: dict[str, int] = {}
        for name, width in widths.items():
            if name == WIDTHS[0] and self.widths == RADII:
                run |= dict.fromkeys(RADIUS_FIELDS, _RADIUS_UNITS)
            if name not in gone:
                is_narrow = self.widths == RADII and name in _MADE_NARROW
                run[name] = min(width, _BESIDE_RADII) if is_narrow else width
        return run

    def label(self, name: str) -> str:
        """Return what a column of the field sheet is called: widths by their direction.

        Where girths are written, no label says diameter.
        """
        if name in WIDTHS and self.widths == FIXED:
            return f"Crown width, {DIRECTIONS[self.directions][WIDTHS.index(name)]}"
        if name in _OF_GIRTH and self.stem == GIRTH:
            return _OF_GIRTH[name]
        return FIELD_SHEET[name].label

    def heading(self, name: str, units: Units) -> str:
        """Return the heading of a column of the field sheet: its label here, and its unit."""
        field = FIELD_SHEET[name]
        label = _OF_RADII.get(name) or self.label(name)
        if label == field.label:
            return field.heading(units)
        return field.heading(units).replace(field.headed or field.label, label)


USUAL_CROWNS = CrownRules()


def crown_rules(rules: Mapping[str, Any]) -> CrownRules:
    """Return what the rules of a survey say about crowns."""
    return CrownRules(
        str(rules["crown_widths"]),
        str(rules["width_directions"]),
        str(rules["crown_depth"]),
        str(rules["diameter_typed_as"]),
    )
