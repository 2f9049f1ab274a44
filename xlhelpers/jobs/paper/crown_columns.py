"""Which crown columns a survey needs on paper, and what heads them there."""

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
_RADIUS_UNITS = 4


@dataclass(frozen=True)
class CrownRules:
    """What the survey rules say about crowns: the words of three rules."""

    widths: str = WIDEST
    directions: str = COMPASS
    depth: str = "measured"

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
                run[name] = width
        return run

    def heading(self, name: str, units: Units) -> str:
        """Return the heading of a column of the field sheet, widths by their direction."""
        field = FIELD_SHEET[name]
        if name in WIDTHS and self.widths == FIXED:
            direction = DIRECTIONS[self.directions][WIDTHS.index(name)]
            return field.heading(units).replace(field.label, f"Crown width, {direction}")
        return field.heading(units)


USUAL_CROWNS = CrownRules()


def crown_rules(rules: Mapping[str, Any]) -> CrownRules:
    """Return what the rules of a survey say about crowns."""
    return CrownRules(
        str(rules["crown_widths"]), str(rules["width_directions"]), str(rules["crown_depth"])
    )
