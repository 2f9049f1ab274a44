"""What the survey rules ask of a crew, as sentences for the cards."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.jobs.paper.crown_columns import GIRTH, CrownRules, crown_rules
from xlhelpers.survey.trees.widths import NOT_MEASURED

HALF_WAY = "half-way where lopsided"


@dataclass(frozen=True)
class CrewRules:
    """The rules that change what a crew does: lengths in m, diameters in cm, shares as fractions.

    `base` is the word of the rule “Crown base is at”, `heights` that of “Trees to measure for
    height”.
    """

    units: Units
    crowns: CrownRules
    breast_height: float
    smallest_diameter: float
    base: str
    gap: float
    heights: str
    repeats: float
    setups_differ: float
    dead_top: float

    def show_length(self, metres: float) -> str:
        """Return a length of the rules in the units of the survey."""
        return self._show(metres, "length")

    def show_diameter(self, centimetres: float) -> str:
        """Return a diameter of the rules in the units of the survey."""
        return self._show(centimetres, "diameter")

    @property
    def with_base(self) -> bool:
        """Return whether crown bases are measured."""
        return self.crowns.depth != NOT_MEASURED

    @property
    def with_girth(self) -> bool:
        """Return whether the crew writes the girth in place of the diameter."""
        return self.crowns.stem == GIRTH

    @property
    def crown_base(self) -> str:
        """Return what counts as the crown base, and which branches do not count."""
        if not self.with_base:
            return "This survey does not measure crown bases. Leave that box blank."
        where = "Crown base: the lowest living foliage of the main crown."
        if self.base == HALF_WAY:
            where += " If one side is lower, half-way between the lowest foliage of the two sides."
        if not self.gap > 0:
            return where
        return (
            f"{where} A branch more than {self.show_length(self.gap)} below the rest does not "
            "count."
        )

    @property
    def which_heights(self) -> str:
        """Return which trees are measured for height, and how many of them twice."""
        which = "Measure the height of every tree."
        if self.heights == "some trees":
            which = (
                "Measure heights only on the trees that the survey manager names. Leave the "
                "readings of the others blank."
            )
        if not self.repeats > 0:
            return which
        return (
            f"{which} Measure {100 * self.repeats:.3g}\N{NO-BREAK SPACE}% of them from a second "
            "place too, and write 2 under Set-up."
        )

    def _show(self, value: float, quantity: str) -> str:
        kind = QUANTITIES[quantity]
        amount = round(value / kind.factor(self.units), 2)
        return f"{amount:g}\N{NO-BREAK SPACE}{kind.unit(self.units)}"


def crew_rules(rules: Mapping[str, Any], units: Units) -> CrewRules:
    """Return what the rules of a survey ask of its crews."""
    return CrewRules(
        units,
        crown_rules(rules),
        breast_height=float(rules["breast_height"]),
        smallest_diameter=float(rules["smallest_diameter"]),
        base=str(rules["crown_base_rule"]),
        gap=float(rules["crown_base_gap"]),
        heights=str(rules["heights_on"]),
        repeats=float(rules["repeats_wanted"]),
        setups_differ=float(rules["limit_repeat"]),
        dead_top=float(rules["limit_dead_top"]),
    )
