"""A table of kinds of instruments, in plain names of our own, with default accuracies.

The defaults start a survey that has nothing better; a survey edits them, and checks against a
known height are better still. Each record says where its figures come from. To add a kind, add a
record. Distances are metres and angles degrees; a scale carries its own unit.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from xlhelpers.errors import SpecificationError
from xlhelpers.measure.slopes import SCALES

__all__ = [
    "DISTANCE_ENDS",
    "DISTANCE_KINDS",
    "HEIGHT_SCALE",
    "KINDS",
    "InstrumentKind",
    "Scale",
]
HEIGHT_SCALE = "height"
"""Name of a scale that shows the height itself."""
DISTANCE_KINDS = ("level", "along slope", "straight to the foot", "none")
DISTANCE_ENDS = ("centre", "bark")


@dataclass(frozen=True)
class Scale:
    """One scale of an instrument.

    Parameters
    ----------
    name : str
        One of ``slopes.SCALES``, or "height" where the height itself is shown.
    graduation : float
        Step that it is read to [unit of the scale].
    base_distance : float or None
        Distance that a "fixed distance" scale was made for [``unit``].
    unit : str
        Unit of the reading: "%", "degrees", "per 66", "m" or "ft".
    """

    name: str
    graduation: float
    base_distance: float | None
    unit: str


@dataclass(frozen=True)
class InstrumentKind:
    """A kind of instrument and what may be expected of it.

    Parameters
    ----------
    name : str
        Plain name, unique.
    scales : tuple of Scale
        The scales that it shows, the usual one first.
    u_reading : float
        Random part of one aim, without the graduation [degrees].
    u_zero : float
        Error of the zero, common to all readings [degrees].
    u_distance_relative : float
        Bias of the distances used with it, or of its heights [fraction].
    u_distance_fixed : float
        Random part of one distance, or of one height that it shows [m].
    distance_to : str
        Where its distances end: "centre" of the stem or "bark".
    distance_kind : str
        The usual kind of distance, one of ``DISTANCE_KINDS``.
    origin : str
        Where the figures come from.
    """

    name: str
    scales: tuple[Scale, ...]
    u_reading: float
    u_zero: float
    u_distance_relative: float
    u_distance_fixed: float
    distance_to: str
    distance_kind: str
    origin: str


PERCENT = Scale("percent", 1.0, None, "%")
DEGREES = Scale("degrees", 1.0, None, "degrees")
TOPOGRAPHIC = Scale("topographic", 1.0, None, "per 66")
FINE_DEGREES = Scale("degrees", 0.1, None, "degrees")
FINE_PERCENT = Scale("percent", 0.1, None, "%")


def _scale(base_distance: float, unit: str) -> Scale:
    return Scale("fixed distance", 0.5 if unit == "m" else 1.0, base_distance, unit)


OPTICAL = (
    "zero: ClinometerSpecificationUndated, absolute accuracy of 1/3 degree taken as the half-width "
    "of a rectangle; graduation: the same; aim and taped distance: from memory"
)
FIXED = (
    "zero as for other optical clinometers (ClinometerSpecificationUndated); graduation, aim and "
    "taped distance: from memory"
)
MEMORY = "from memory"
PRACTICE = "common practice, no source"


def _clinometer(name: str, scales: tuple[Scale, ...], origin: str) -> InstrumentKind:
    """An optical clinometer read against a scale, with a taped level distance."""
    return InstrumentKind(
        name=name,
        scales=scales,
        u_reading=0.15,
        u_zero=0.19,  # (1/3) / sqrt(3)
        u_distance_relative=0.002,
        u_distance_fixed=0.1,
        distance_to="centre",
        distance_kind="level",
        origin=origin,
    )


_RECORDS = (
    _clinometer("clinometer, percent and degrees", (PERCENT, DEGREES), OPTICAL),
    _clinometer("clinometer, percent and topographic", (PERCENT, TOPOGRAPHIC), OPTICAL),
    _clinometer("clinometer, degrees and topographic", (DEGREES, TOPOGRAPHIC), OPTICAL),
    _clinometer("clinometer, scales for 15 m and 20 m", (_scale(15, "m"), _scale(20, "m")), FIXED),
    _clinometer("clinometer, scales for 20 m and 25 m", (_scale(20, "m"), _scale(25, "m")), FIXED),
    _clinometer(
        "clinometer, scales for 15 m to 40 m",
        tuple(_scale(base, "m") for base in (15, 20, 25, 30, 40)),
        FIXED,
    ),
    _clinometer(
        "clinometer, scales for 66 ft and 100 ft", (_scale(66, "ft"), _scale(100, "ft")), FIXED
    ),
    InstrumentKind(
        "electronic angle meter", (FINE_DEGREES, FINE_PERCENT),
        0.15, 0.2, 0.002, 0.1, "centre", "level", MEMORY,
    ),
    InstrumentKind(
        "protractor with plumb line", (DEGREES,),
        0.5, 0.5, 0.005, 0.2, "centre", "level", PRACTICE,
    ),
    InstrumentKind(
        "laser with angles", (FINE_DEGREES, FINE_PERCENT),
        0.15, 0.2, 0.002, 0.3, "bark", "straight to the foot",
        "distance 0.3 m and angle 0.25 degrees (split between aim and zero): LaserFromMemory",
    ),
    InstrumentKind(
        "laser that shows heights", (Scale(HEIGHT_SCALE, 0.1, None, "m"),),
        0.15, 0.2, 0.01, 0.3, "bark", "none",
        "0.3 m: LaserFromMemory, taken over to the height; share of the height: from memory",
    ),
    InstrumentKind(
        "ultrasonic height meter", (Scale(HEIGHT_SCALE, 0.1, None, "m"),),
        0.15, 0.2, 0.01, 0.2, "bark", "none", MEMORY,
    ),
    InstrumentKind(
        "display that shows heights", (Scale(HEIGHT_SCALE, 0.1, None, "m"),),
        0.15, 0.2, 0.01, 0.3, "bark", "none", MEMORY,
    ),
    InstrumentKind(
        "pole or tape", (Scale(HEIGHT_SCALE, 0.1, None, "m"),),
        0.0, 0.0, 0.002, 0.05, "centre", "none", PRACTICE,
    ),
)  # fmt: skip


def _check_kinds(records: tuple[InstrumentKind, ...]) -> Mapping[str, InstrumentKind]:
    """The records by name, once none contradicts itself."""
    for record in records:
        wrong = [
            scale.name
            for scale in record.scales
            if scale.name not in (*SCALES, HEIGHT_SCALE)
            or (scale.name == "fixed distance") != (scale.base_distance is not None)
            or scale.graduation <= 0
        ]
        if wrong or not record.scales:
            raise SpecificationError(f"instrument {record.name!r}: scales {wrong} are not possible")
        if record.distance_to not in DISTANCE_ENDS or record.distance_kind not in DISTANCE_KINDS:
            raise SpecificationError(f"instrument {record.name!r}: unknown kind of distance")
    by_name = {record.name: record for record in records}
    if len(by_name) < len(records):
        raise SpecificationError("two kinds of instruments share a name")
    return MappingProxyType(by_name)


KINDS: Mapping[str, InstrumentKind] = _check_kinds(_RECORDS)
"""The kinds by name, in the order that they are offered."""
