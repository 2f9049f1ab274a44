"""The record of a card, and the numbers of its worked example in the units of the survey.

Every example is worked out from the readings that the card shows, rounded as the instrument is
read, with the formulas of the program.
"""

from dataclasses import dataclass

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.paper.field_page import TICKED, column_number
from xlhelpers.jobs.paper.scene import BASE_HEIGHT, DISTANCE, EYE, TOTAL_HEIGHT, Drawing
from xlhelpers.measure.slopes import angle, reading_from_slope

# a scene of 20 m is one of 66 ft, near enough the same picture
_FEET_A_METRE = 3.3
FOOT_SLOPE = -EYE / DISTANCE
BASE_SLOPE = (BASE_HEIGHT - EYE) / DISTANCE
TIP_SLOPE = (TOTAL_HEIGHT - EYE) / DISTANCE
_STEPS = {"percent": 1.0, "degrees": 1.0, "topographic": 1.0}


@dataclass(frozen=True)
class Card:
    """One way of measuring: when it is used, the four steps, the drawing, the worked example.

    `entries` are what the example writes, by field of the field sheet, in its order.
    """

    title: str
    when: str
    stand: str
    aim: str
    read: str
    write: str
    drawing: Drawing
    entries: tuple[tuple[str, str], ...]
    result: str

    @property
    def steps(self) -> tuple[tuple[str, str], ...]:
        """Return the four steps under their names."""
        texts = (self.stand, self.aim, self.read, self.write)
        return tuple(zip(("Stand", "Aim", "Read", "Write"), texts, strict=True))


@dataclass(frozen=True)
class Numbers:
    """The numbers of the scene in the units of a survey."""

    units: Units

    @property
    def unit(self) -> str:
        """Return the unit of length."""
        return "m" if self.units == "metric" else "ft"

    def length(self, scene: float) -> float:
        """Return a length of the scene as it would be read from a tape."""
        return round(scene * (1.0 if self.units == "metric" else _FEET_A_METRE), 1)

    def shown(self, length: float) -> str:
        """Return a length with its unit."""
        return f"{length:.1f}\N{NO-BREAK SPACE}{self.unit}"

    def reading(self, slope: float, scale: str) -> float:
        """Return what a scale shows at a slope, rounded to its marks."""
        if scale != "fixed distance":
            step, base = _STEPS[scale], float("nan")
        else:
            step, base = (0.5, 20.0) if self.units == "metric" else (1.0, 66.0)
        exact = float(reading_from_slope(slope, scale, base))
        return round(exact / step) * step

    def fine_degrees(self, slope: float) -> float:
        """Return the angle of a slope as a display shows it."""
        return round(float(angle(slope)), 1)


def signed(reading: float) -> str:
    """Return a reading with its sign, the true minus for those below."""
    sign = "−" if reading < 0 else "+" if reading > 0 else ""
    return f"{sign}{abs(reading):g}"


def entry(field: str, value: str) -> tuple[str, str]:
    """Return the heading of a field, numbered as on the field sheet, and what is written there."""
    record = FIELD_SHEET[field]
    return f"{column_number(field)} {record.label}", value


def foot_entry(reading: float) -> tuple[str, str]:
    """Return the box of the foot reading, ticked where the foot is above the eye."""
    if reading > 0:
        label = f"{column_number('foot_reading')} Foot reading, {column_number(TICKED)} ticked"
        return label, f"☒ {signed(reading)}"
    return entry("foot_reading", signed(reading))
