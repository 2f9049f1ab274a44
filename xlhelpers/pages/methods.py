"""How the numbers are computed, with the sources, and how a rule is shown."""

from dataclasses import dataclass
from math import exp
from typing import Any

from xlhelpers.fields.record import Field
from xlhelpers.measure.leaf_area import COEFFICIENTS, VALID_RANGES
from xlhelpers.sources import SOURCES
from xlhelpers.survey.model import Survey
from xlhelpers.survey.trees.crowns import MEASURED_ERROR
from xlhelpers.survey.trees.shading import SHADING


@dataclass(frozen=True)
class Method:
    """One way of computing a number, and the keys of its sources."""

    what: str
    how: str
    sources: tuple[str, ...] = ()

    @property
    def text(self) -> str:
        """Return the method followed by its sources, and how far each source was read."""
        cited = [f"{SOURCES[key].citation} [{SOURCES[key].seen}]" for key in self.sources]
        return "\n".join([self.how, *cited])


def _published_shading() -> str:
    """Return the genera and species with a published factor that the regression allows."""
    least, most = VALID_RANGES["shading"]
    used = {name: one for name, one in SHADING.items() if least <= one <= most}
    return ", ".join(f"{name} {one:.2f}" for name, one in sorted(used.items()))


def _change_of_leaf_area(more: float) -> float:
    """Return by how many percent the leaf area changes with so much more of the shading factor."""
    return 100 * (exp(COEFFICIENTS["shading"] * more) - 1)


METHODS: tuple[Method, ...] = (
    Method(
        "Heights from readings",
        "Level distance times the difference of the tangents of two readings, on percent, degree, "
        "topographic and fixed-distance scales. All heights are above the foot, the highest ground "
        "at the stem.",
        ("DeYoungUndated", "BrackWood1998", "IdahoUndated"),
    ),
    Method(
        "Distance along the slope",
        "Shortened by the slope, read to a mark on the stem at eye height. Without that reading "
        "there is no height.",
        ("ClinometerLeafletUndated", "AwfWikiUndated"),
    ),
    Method(
        "Straight distances",
        "Distance times the sine of its angle, for the foot and for each upper point.",
        ("LeverettUndated", "Edi1559Undated", "Bragg2007"),
    ),
    Method(
        "Leaning trees",
        "A tip offset acts on each upper point in proportion to its height, never on the foot.",
        ("BrackWood1998",),
    ),
    Method(
        "Several set-ups",
        "The mean of each point. Depth is mean crown top minus mean crown base. A pole or tape "
        "value is used before a reading. Set-ups that differ too much are listed for checking.",
        ("BrackWood1998",),
    ),
    Method(
        "Crown depth, live crown ratio",
        "Depth is crown top minus crown base. The ratio is depth divided by total height.",
        ("DeYoungUndated",),
    ),
    Method(
        "Crown width and area",
        "Width is the mean of two widths at right angles: the widest and the one across it, or two "
        "fixed directions, as the survey rules say. Area is that of the ellipse with these two "
        "widths. Of four radii, north plus south is one width and east plus west the other. The "
        "centre of the crown is half-way along each.",
        ("AnuCodeUndated", "ZhangEtAl2024"),
    ),
    Method(
        "Crown volume",
        "Shape factor of the species' outline times crown area times crown depth.",
        ("ZhuKleinnNolke2021",),
    ),
    Method(
        "Leaf area",
        "A regression for open-grown broadleaves. It is used only inside its range, and only for "
        f"genera and crowns where a trial confirmed it: {MEASURED_ERROR}. It is never summed. "
        "There is none for plots where the trees were bare. The shading factor is the published "
        f"one if there is one and the regression allows it ({_published_shading()}). For other "
        "trees it is the one in the survey rules. A factor 0.05 higher "
        f"gives {_change_of_leaf_area(0.05):.0f} % more leaf area, one 0.05 lower "
        f"{-_change_of_leaf_area(-0.05):.0f} % less.",
        ("Nowak1996", "McPhersonEtAl2016", "TregenzaSharplesUndated", "GardnerUndated"),
    ),
    Method(
        "Several stems",
        "The combined diameter is the square root of the sum of the squared diameters. The ratio "
        "of height to diameter uses the thickest stem.",
        ("MultiStemUndated",),
    ),
    Method(
        "Uncertainty, the instrument's part",
        "From the errors of aim, graduation, zero and distance. Errors common to all set-ups do "
        "not shrink with more set-ups.",
        ("JCGM2008",),
    ),
    Method(
        "Uncertainty, the observer's part",
        "The published difference between observers, shown beside the instrument's part.",
        ("LuomaEtAl2017",),
    ),
)


def rule_value(record: Field, survey: Survey) -> str:
    """Return a survey rule as it is shown, with its unit."""
    value: Any = survey.rules.get(record.name)
    quantity = record.measured_in
    if value is None or value == "" or value != value:
        return "—"
    if quantity is None or isinstance(value, str):
        return str(value)
    units: Any = survey.units
    # two decimals more than a result shows: a rule is stated exactly
    number = f"{float(value) / quantity.factor(units):.{quantity.decimals(units) + 2}f}"
    number = number.rstrip("0").rstrip(".")
    unit = quantity.unit(units)
    return f"{number}{unit}" if unit == "°" else f"{number} {unit}".strip()
