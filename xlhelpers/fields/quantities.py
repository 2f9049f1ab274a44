"""The quantities of the survey: how each is typed, kept and shown in the two unit systems.

Inside the program lengths are metres, areas square metres, angles degrees and shares fractions.
Diameters alone are kept in centimetres, because every formula of the trade takes them so.
"""

from dataclasses import dataclass
from typing import Literal

Units = Literal["metric", "us"]
FOOT_M = 0.3048
INCH_CM = 2.54
ACRE_M2 = 4046.8564224


@dataclass(frozen=True)
class Quantity:
    """One quantity: its unit in each system, the factor to the inner unit, the decimals shown."""

    name: str
    metric_unit: str
    us_unit: str
    metric_factor: float
    us_factor: float
    metric_decimals: int
    us_decimals: int

    def unit(self, units: Units) -> str:
        """Return the unit that is shown in this system ("" where there is none)."""
        return self.metric_unit if units == "metric" else self.us_unit

    def factor(self, units: Units) -> float:
        """Return the factor from the shown unit to the inner one."""
        return self.metric_factor if units == "metric" else self.us_factor

    def decimals(self, units: Units) -> int:
        """Return the number of decimals that are shown; the full value stays in the cell."""
        return self.metric_decimals if units == "metric" else self.us_decimals


_FT2 = FOOT_M**2
QUANTITIES: dict[str, Quantity] = {
    q.name: q
    for q in (
        Quantity("length", "m", "ft", 1.0, FOOT_M, 1, 1),
        Quantity("diameter", "cm", "in", 1.0, INCH_CM, 1, 1),
        Quantity("crown area", "m²", "ft²", 1.0, _FT2, 0, 0),
        Quantity("basal area", "m²", "ft²", 1.0, _FT2, 3, 2),
        Quantity("volume", "m³", "ft³", 1.0, FOOT_M**3, 0, 0),
        Quantity("land area", "m²", "ft²", 1.0, _FT2, 0, 0),
        Quantity("stratum area", "ha", "acres", 10_000.0, ACRE_M2, 2, 2),
        Quantity("angle", "°", "°", 1.0, 1.0, 2, 2),
        Quantity("bearing", "°", "°", 1.0, 1.0, 0, 0),
        Quantity("position", "°", "°", 1.0, 1.0, 6, 6),
        Quantity("percent", "%", "%", 0.01, 0.01, 0, 0),
        # a reading stays in the unit of the instrument's scale until the scale is known
        Quantity("reading", "", "", 1.0, 1.0, 2, 2),
        Quantity("count", "", "", 1.0, 1.0, 0, 0),
        Quantity("number", "", "", 1.0, 1.0, 2, 2),
    )
}
