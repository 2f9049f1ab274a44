"""Instruments and their checks."""

from typing import Any

from xlhelpers.fields.places import NOTE_HELP
from xlhelpers.fields.record import Field, Kind, Sheet


def _office(name: str, label: str, kind: Kind, help_text: str, width: int, **more: Any) -> Field:
    return Field(name, label, kind, help_text, width=width, filled_by="office", **more)


def _accuracy(
    name: str, label: str, help_text: str, quantity: str, high: float, former: str = ""
) -> Field:
    bounds = {"quantity": quantity, "low": 0.0, "high": high}
    return _office(name, label, "number", help_text, 11, former=former, **bounds)


def _reading(name: str, label: str, help_text: str, former: str = "") -> Field:
    bounds = {"quantity": "reading", "low": -600.0, "high": 600.0}
    return _office(name, label, "number", help_text, 10, former=former, **bounds)


INSTRUMENTS = Sheet(
    "instrument", "Instruments", "Instruments",
    "List each instrument once, by the name that the crews write. You may leave the accuracy "
    "blank. The typical accuracy of its kind is then used.",
    (
        _office("instrument", "Instrument", "identifier", "The name or number written on it.", 16,
                required="always"),
        _office("kind", "Kind", "text", "Choose it from the list.", 52, required="always"),
        _office("scale_1", "First scale", "choice", "Blank: as usual for its kind.", 14,
                choices="scale"),
        _office("scale_2", "Second scale", "choice", "Blank: as usual for its kind.", 14,
                choices="scale"),
        _office("scale_distance", "Scale is for this distance", "number",
                "Only for a scale that shows heights at one fixed distance. List the instrument "
                "once for each such scale: C3-15, C3-20.", 12,
                quantity="length", low=1.0, high=100.0, former="Scale made for distance"),
        _office("distance_to", "Distance to", "choice", "The centre of the stem, or its bark.", 10,
                choices="distance to"),
        _accuracy("u_angle", "± angle, each reading", "Standard uncertainty of one aim.",
                  "angle", 10.0),
        _accuracy("u_zero", "± angle, zero error",
                  "Standard uncertainty of its zero, the same in every reading.",
                  "angle", 10.0, "± angle, whole instrument"),
        _accuracy("u_distance", "± distance, each time", "Standard uncertainty of one distance.",
                  "length", 10.0),
        _accuracy("u_distance_share", "± distance, whole tape",
                  "Standard uncertainty of the tape or range finder, as % of the distance.",
                  "percent", 0.2),
        _office("origin", "Source of the accuracy", "text", "Where these four numbers come from.",
                36, former="Accuracy from"),
        _office("note", "Note", "text", NOTE_HELP, 30),
    ),
    row_word="instrument", prepared_rows=16,
)  # fmt: skip
INSTRUMENT_CHECKS = Sheet(
    "check", "Instrument checks", "Instrument checks",
    "Readings to a known height, and the two-way level check. Type what was read, uncorrected.",
    (
        _office("instrument", "Instrument", "identifier", "From the sheet Instruments.", 16,
                required="always"),
        _office("date", "Date", "date", "Day of the check.", 12, required="always"),
        _office("person", "By", "identifier", "Initials of the person who checked.", 8),
        _office("scale", "Scale read", "choice", "The scale of the readings.", 14, choices="scale"),
        _office("known_height", "Known height", "number",
                "Between the two points, measured by tape.", 11,
                quantity="length", low=0.1, high=100.0),
        _office("distance", "Distance", "number", "Level (horizontal) distance.", 10,
                quantity="length", low=0.5, high=300.0),
        _reading("foot_reading", "Lower reading", "To the lower point."),
        _reading("tip_reading", "Upper reading", "To the upper point."),
        _reading("level_there", "Level check, out",
                 "From eye height at one post to the same height at a second post.",
                 "Level, there"),
        _reading("level_back", "Level check, back", "From the second post back to the first.",
                 "Level, back"),
        _office("note", "Note", "text", NOTE_HELP, 30),
    ),
    row_word="check", prepared_rows=24,
)  # fmt: skip
