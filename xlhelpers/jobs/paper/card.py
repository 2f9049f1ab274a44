"""What a card is: its steps, its drawing, and how its example is written."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import SupportsFloat

from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.paper.crew_rules import CrewRules
from xlhelpers.jobs.paper.field_page import MARKED, column_number
from xlhelpers.jobs.paper.scene import Drawing
from xlhelpers.measure.slopes import reading_from_slope

# a scene of 20 m is one of 66 ft, near enough the same picture
_FEET_A_METRE = 3.3
_OF_CROWN_BASE = ("base_reading", "top_reading", "base_straight", "top_straight")
Entries = tuple[tuple[str, str], ...]
Steps = tuple[tuple[str, str], ...]


@dataclass(frozen=True)
class Card:
    """One thing to measure: when the card is used, the steps, the drawing, the worked example.

    `steps` are short names with what to do. `entries` are what the example writes, under its
    headings; `second` is a second line of them, where there is one. `result` works it out.
    """

    title: str
    when: str
    steps: Steps
    drawing: Drawing
    entries: Entries
    result: str
    second: tuple[str, ...] = ()


@dataclass(frozen=True)
class Numbers:
    """The numbers of the scene in the units of a survey."""

    units: Units

    @property
    def unit(self) -> str:
        """Return the unit of length."""
        return "m" if self.units == "metric" else "ft"

    @property
    def fixed_distance(self) -> float:
        """Return the distance that the scale of the example is made for."""
        return 20.0 if self.units == "metric" else 66.0

    def length(self, scene: float) -> float:
        """Return a length of the scene as it would be read from a tape."""
        return round(scene * (1.0 if self.units == "metric" else _FEET_A_METRE), 1)

    def show(self, length: SupportsFloat) -> str:
        """Return a length with its unit."""
        return f"{float(length):.1f}\N{NO-BREAK SPACE}{self.unit}"

    def reading(self, slope: float, scale: str = "percent") -> float:
        """Return what a scale shows at a slope, rounded to its marks."""
        step, base = 1.0, float("nan")
        if scale == "fixed distance":
            step, base = (0.5 if self.units == "metric" else 1.0), self.fixed_distance
        return round(float(reading_from_slope(slope, scale, base)) / step) * step


def write_signed(reading: float) -> str:
    """Return a reading with its sign, the true minus for those below."""
    sign = "−" if reading < 0 else "+" if reading > 0 else ""
    return f"{sign}{abs(reading):g}"


def write_entries(crew: CrewRules, **fields: float | str) -> Entries:
    """Return numbered headings of the field sheet with what is written below them.

    Readings of the crown base and the crown top are left out where the survey takes none.
    """
    entries = []
    for name, value in fields.items():
        if name in _OF_CROWN_BASE and not crew.with_base:
            continue
        label = f"{column_number(name)} {crew.crowns.label(name)}"
        if isinstance(value, float):
            is_reading = name.endswith("_reading")
            if name == "foot_reading" and value > 0:
                label = f"{label}, {column_number(MARKED)} marked"
            mark = "☒ " if name == "foot_reading" and value > 0 else ""
            value = mark + (write_signed(value) if is_reading else f"{value:.1f}")
        entries.append((label, value))
    return tuple(entries)


def join_sentences(sentences: Sequence[str]) -> str:
    """Return sentences in one line, without the empty ones."""
    return " ".join(sentence for sentence in sentences if sentence)
