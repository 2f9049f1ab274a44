"""Reads the quality objectives from the workbook of a second measurement."""

from typing import Any

from xlhelpers.estimates.remeasured import DEFAULTS, Objective
from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.package.parts.parts import defined_names, sheet_named
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.sheet.references import parse_target
from xlhelpers.package.zip.container import Package

OBJECTIVE_KEYS = ("key", "tolerance", "share", "source")


def read_objectives(package: Package, units: Units) -> tuple[Objective, ...] | None:
    """Return the objectives as they stand on their tab, None where the workbook has no such tab.

    A quantity whose numbers are blank or no numbers has no objective.
    """
    places = {}
    for name in defined_names(package):
        if name.name.startswith("xlh_objectives_"):
            target = parse_target(name.text)
            if target is not None:
                places[name.name.removeprefix("xlh_objectives_")] = target
    if not set(OBJECTIVE_KEYS) <= set(places):
        return None
    tab, heading, _ = places["key"][:3]
    part = sheet_named(package, tab)
    if part is None:
        return None
    grid = read_grid(package, part)
    by_label = {objective.label: objective for objective in DEFAULTS}
    objectives = []
    for row in range(heading + 1, grid.shape[0] + 1):
        cells = {key: grid.value(row, places[key][2]) for key in OBJECTIVE_KEYS}
        usual = by_label.get(str(cells["key"]))
        if usual is not None:
            factor = QUANTITIES[usual.quantity].factor(units)
            objectives.append(
                Objective(
                    usual.key,
                    usual.label,
                    usual.quantity,
                    _number(cells["tolerance"]) * factor,
                    _share(cells["share"]),
                    str(cells["source"] or "not stated"),
                    usual.words,
                )
            )
    return tuple(objectives)


def _number(value: Any) -> float:
    return abs(value) if isinstance(value, float) else float("nan")


def _share(value: Any) -> float:
    """Return a share: 0.9 and 90 both mean 90 %."""
    number = _number(value)
    return number / 100 if number > 1 else number
