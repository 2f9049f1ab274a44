"""Vellimoor, a town that does not exist: its parts, its crews, their instruments and its plots.

Everything here is invented and metric, in the units that the workbook shows (m, cm, ha, %).
People with an eye height measure; the others key. A plot's row says by whom, with what and how
its trees were measured, and how many stand on it; the street is measured tree by tree.
"""

import datetime
from dataclasses import dataclass
from typing import Any

Row = dict[str, Any]

TOWN = "Vellimoor"
STREET = "Saltway"
YARD = "29"

RULES: Row = {
    "survey_name": f"Trees of {TOWN} (an invented town)",
    "units": "metric",
    "survey_kind": "sample plots",
    "repeats_wanted": 8,
}

STRATA: tuple[Row, ...] = (
    {"stratum": "Harbour", "area": 118.0, "plots_possible": 2950},
    {"stratum": "Old town", "area": 86.5, "plots_possible": 2160},
    {"stratum": "Garden hills", "area": 240.0, "plots_possible": 6000},
)

EYE_HEIGHTS = {"AM": 1.58, "BT": 1.71, "CK": 1.64, "DO": 1.49, "EV": 1.66}

PEOPLE: tuple[Row, ...] = (
    *({"initials": who, "eye_height": eye} for who, eye in EYE_HEIGHTS.items()),
    {"initials": "FW", "note": "keys the sheets"},
)


@dataclass(frozen=True)
class Tool:
    """One instrument: its record's kind, its scales, and the errors that it truly has.

    `zero` is a steady error of every angle [degrees], `aim` the scatter of one aim [degrees] (of
    one shown height [m] for a height display), `stretch` a steady share of every distance,
    `tape` the scatter of one distance [m]. `step` maps a scale to its graduation.
    """

    name: str
    kind: str
    step: dict[str, float]
    zero: float
    aim: float
    stretch: float
    tape: float
    scale_distance: float | None = None
    to_bark: bool = False
    note: str = ""


_BOTH = "clinometer, percent and degrees"
_TOPOGRAPHIC = "clinometer, degrees and topographic"
_FIXED = "clinometer, scales for 15 m and 20 m"
_ELECTRONIC = "electronic angle meter"
_LASER = "laser with angles"

TOOLS: dict[str, Tool] = {
    tool.name: tool
    for tool in (
        Tool("Clino 1", _BOTH, {"percent": 1.0, "degrees": 1.0}, 0.06, 0.10, 0.001, 0.03),
        Tool("Clino 2", _BOTH, {"percent": 1.0, "degrees": 1.0}, -0.08, 0.10, -0.001, 0.03),
        Tool("Topo 1", _TOPOGRAPHIC, {"topographic": 1.0, "degrees": 1.0}, 0.05, 0.10, 0.001, 0.03),
        Tool("Drum 20", _FIXED, {"fixed distance": 0.5}, -0.05, 0.08, 0.0, 0.03, 20.0),
        Tool("Meter 1", _ELECTRONIC, {"percent": 0.1, "degrees": 0.1}, 0.05, 0.08, 0.001, 0.03),
        Tool("Beam 1", _LASER, {"degrees": 0.1}, 0.03, 0.06, 0.0, 0.03, to_bark=True),
        Tool("Beam 2", _LASER, {"degrees": 0.1}, -0.03, 0.06, 0.0, 0.03, to_bark=True),
        Tool("Show 1", "laser that shows heights", {"height": 0.1}, 0.0, 0.06, 0.0, 0.0),
        Tool("Pole 1", "pole or tape", {"height": 0.1}, 0.0, 0.03, 0.0, 0.0),
    )
}


def _plot(
    number: str, stratum: str, crew: str, how: tuple[str, str, str], slope: float, trees: int
) -> Row:
    instrument, scale, kind = how
    return {
        "plot": number,
        "stratum": stratum,
        "status": "measured",
        "crew": crew,
        "instrument": instrument,
        "scale": scale,
        "distance_kind": kind,
        "leaf_state": "in leaf",
        "slope": slope,
        "area_inside": 400,
        "area_reached": 400,
        "trees_counted": trees,
        "paper_sheets": 1,
        "keyed_by": "FW",
    }


_PERCENT = ("Clino 1", "percent", "level")
_PERCENT_2 = ("Clino 2", "percent", "level")
_DEGREES = ("Clino 2", "degrees", "level")
_UPHILL = ("Clino 1", "percent", "along slope")
_UPHILL_2 = ("Clino 2", "degrees", "along slope")
_TOPO = ("Topo 1", "topographic", "level")
_DRUM = ("Drum 20", "fixed distance", "level")
_SINE = ("Beam 1", "degrees", "straight to the foot")
_BEAM = ("Beam 2", "degrees", "level")
_METER = ("Meter 1", "percent", "level")
_SHOWN = ("Show 1", "height", "none")

_MEASURED = (
    _plot("1", "Harbour", "AM BT", _PERCENT, 1, 12),
    _plot("2", "Harbour", "AM BT", _PERCENT, 2, 11),
    _plot("3", "Harbour", "CK DO", _DEGREES, 2, 12),
    _plot("4", "Harbour", "CK DO", _SHOWN, 3, 9),
    _plot("5", "Harbour", "EV BT", _DRUM, 1, 10),
    _plot("6", "Harbour", "EV BT", _BEAM, 2, 13),
    _plot("8", "Harbour", "AM CK", _PERCENT, 1, 12),
    _plot("9", "Harbour", "DO CK", _TOPO, 3, 10),
    _plot("10", "Old town", "AM BT", _PERCENT, 2, 12),
    _plot("11", "Old town", "BT AM", _PERCENT_2, 4, 11),
    _plot("12", "Old town", "CK DO", _TOPO, 3, 10),
    _plot("13", "Old town", "EV AM", _SINE, 6, 12),
    _plot("14", "Old town", "EV AM", _METER, 4, 11),
    _plot("15", "Old town", "DO CK", _SHOWN, 5, 9),
    _plot("16", "Old town", "BT EV", _DRUM, 2, 10),
    _plot("18", "Old town", "AM BT", _PERCENT, 3, 12),
    _plot("19", "Garden hills", "BT AM", _UPHILL, 18, 12),
    _plot("20", "Garden hills", "BT AM", _UPHILL, 24, 11),
    _plot("21", "Garden hills", "CK DO", _UPHILL_2, 15, 12),
    _plot("22", "Garden hills", "EV CK", _SINE, 22, 11),
    _plot("24", "Garden hills", "EV CK", _BEAM, 12, 12),
    _plot("25", "Garden hills", "AM DO", _PERCENT, 8, 13),
    _plot("26", "Garden hills", "AM DO", _PERCENT, 9, 12),
    _plot("27", "Garden hills", "CK BT", _DEGREES, 7, 12),
)

# Plots that were visited, or not yet, and have no tree on the field sheet.
_EMPTY: tuple[Row, ...] = (
    {"plot": "7", "stratum": "Harbour", "status": "no trees", "crew": "EV BT", "slope": 1,
     "area_inside": 400, "area_reached": 400, "trees_counted": 0, "note": "quay and car park"},
    {"plot": "17", "stratum": "Old town", "status": "refused", "crew": "BT EV",
     "area_inside": 400, "area_reached": 0, "note": "owner said no, left a card"},
    {"plot": "23", "stratum": "Garden hills", "status": "later", "area_inside": 310,
     "note": "gate locked, ring first"},
    {"plot": "28", "stratum": "Garden hills", "status": "not safe", "crew": "CK BT",
     "area_inside": 400, "area_reached": 0,
     "note": "hung branches after the storm: nobody walks under them"},
)  # fmt: skip

_STREET: Row = {
    **_plot(STREET, "Old town", "AM DO", _PERCENT, 1, 66),
    "area_inside": None,
    "area_reached": None,
    "paper_sheets": 4,
    "note": "street, tree by tree; one person watches the traffic",
}


# The yard of the boatbuilders: paved and level, tape hooked into the bark, no foot read.
_YARD: Row = {
    **_plot(YARD, "Harbour", "AM BT", _METER, 1, 9),
    "distance_to": "bark",
    "foot_by": "eye height",
    "note": "yard, paved and level; tape hooked into the bark",
}


def plots() -> list[Row]:
    """Return the rows of the sheet Plots, street and yard last, each with the day of its visit."""
    rows = sorted([*_MEASURED, *_EMPTY], key=lambda row: int(row["plot"]))
    first = datetime.datetime(2025, 5, 12)
    dated = []
    for number, row in enumerate([*rows, _STREET, _YARD]):
        day = first + datetime.timedelta(days=number + 2 * (number // 5))
        dated.append({**row} if row["status"] == "later" else {**row, "date": day})
    return dated


def instruments() -> list[Row]:
    """Return the rows of the sheet Instruments; accuracies stay blank, as usual for the kind."""
    return [
        {
            "instrument": tool.name,
            "kind": tool.kind,
            "scale_distance": tool.scale_distance,
            "distance_to": "bark" if tool.to_bark else None,
            "note": tool.note or None,
        }
        for tool in TOOLS.values()
    ]
