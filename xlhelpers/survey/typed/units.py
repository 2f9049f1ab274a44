"""Units as people type them behind a number, and what each is worth in the inner unit."""

from __future__ import annotations

from dataclasses import dataclass

from xlhelpers.fields.quantities import ACRE_M2, FOOT_M, INCH_CM, QUANTITIES, Quantity, Units


@dataclass(frozen=True)
class TypedUnit:
    """A unit that may be typed: its usual sign, what it measures, its worth in m, m2, ° or 1."""

    sign: str
    measures: str
    worth: float


_TABLE: tuple[tuple[TypedUnit, tuple[str, ...]], ...] = (
    (TypedUnit("m", "length", 1.0), ("m", "mtr", "meter", "meters", "metre", "metres")),
    (TypedUnit("cm", "length", 0.01), ("cm", "cms", "centimeters", "centimetres")),
    (TypedUnit("mm", "length", 0.001), ("mm", "millimeters", "millimetres")),
    (TypedUnit("ft", "length", FOOT_M), ("ft", "'", "foot", "feet")),
    (TypedUnit("in", "length", INCH_CM / 100), ("in", '"', "inch", "inches")),
    (TypedUnit("m²", "area", 1.0), ("m2", "m^2", "sqm", "sq m")),
    (TypedUnit("ft²", "area", FOOT_M**2), ("ft2", "ft^2", "sqft", "sq ft")),
    (TypedUnit("ha", "area", 10_000.0), ("ha", "hectare", "hectares")),
    (TypedUnit("acres", "area", ACRE_M2), ("ac", "acre", "acres")),
    (TypedUnit("°", "angle", 1.0), ("°", "deg", "degs", "degree", "degrees")),
    (TypedUnit("%", "share", 0.01), ("%", "pct", "percent", "per cent")),
    (TypedUnit("topographic", "topographic", 1.0), ("topo", "topographic")),
)
UNITS: dict[str, TypedUnit] = {name: unit for unit, names in _TABLE for name in names}
# what a typed unit must measure for each quantity, and the inner unit's worth in m, m2, ° or 1
_MEASURES: dict[str, tuple[str, float]] = {
    "length": ("length", 1.0),
    "diameter": ("length", 0.01),
    "crown area": ("area", 1.0),
    "basal area": ("area", 1.0),
    "land area": ("area", 1.0),
    "stratum area": ("area", 1.0),
    "angle": ("angle", 1.0),
    "bearing": ("angle", 1.0),
    "position": ("angle", 1.0),
    "percent": ("share", 1.0),
}
# The scale that a unit typed behind a reading belongs to; a length is a height display.
SCALE_OF = {
    "angle": "degrees",
    "share": "percent",
    "topographic": "topographic",
    "length": "height",
}
# signs that read like words of the sentence, and the words that stand for them in a message
_IN_WORDS = {"in": "inches", "ft": "feet"}


def in_words(sign: str) -> str:
    """Return a unit as it stands in a sentence: inches and feet in words, others by their sign."""
    return _IN_WORDS.get(sign, sign)


def unit_named(text: str) -> TypedUnit | None:
    """Return the unit that a text names, None where it names none."""
    return UNITS.get(" ".join(text.replace("²", "2").casefold().split()).rstrip("."))


def inner_factor(unit: TypedUnit, quantity: Quantity, units: Units) -> float | None:
    """Return the factor from the typed unit to the inner unit; None where they do not agree.

    A reading stays in the unit of its scale; a length typed as a reading is turned into the
    length that a height display of this survey shows.
    """
    if quantity.name == "reading":
        if unit.measures == "length":
            return unit.worth / QUANTITIES["length"].factor(units)
        return 1.0 if unit.measures in SCALE_OF else None
    measures, worth = _MEASURES.get(quantity.name, ("", 1.0))
    return unit.worth / worth if unit.measures == measures else None


def is_shown_unit(unit: TypedUnit, quantity: Quantity, units: Units) -> bool:
    """Return whether the typed unit is the one that the heading asks for."""
    if quantity.name == "reading":
        return unit.measures != "length" or unit.sign == QUANTITIES["length"].unit(units)
    return unit.sign == quantity.unit(units)
