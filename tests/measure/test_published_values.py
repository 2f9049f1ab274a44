"""Every row of the table of published values, one test a row.

The table names its source by the key of the list of sources and a page, table or example. Inputs
carry their units: ``{"top [%]": 124, ..., "result": "ft"}``. Where a formula has a unit of its
own, the value is converted here with factors of this file's own.
"""

import csv
import importlib
import json
import math
from pathlib import Path

import pytest

from xlhelpers.measure.accuracy import Accuracy, Parts, Sight
from xlhelpers.measure.two_stations import Stations
from xlhelpers.sources import SOURCES

TABLE = Path(__file__).parents[1] / "published_values.csv"
LIST = Path(__file__).parent / "published_rows.csv"
KINDS = {"published", "common practice", "derived", "pinned"}

# units that a formula insists on; everything else comes out in the unit that went in
TAKEN = {
    ("stems.basal_area", "diameter"): "cm",
    ("stems.basal_area", "result"): "m2",
    ("stems.quadratic_mean_from_basal_area", "basal_area"): "m2",
    ("stems.quadratic_mean_from_basal_area", "result"): "cm",
    ("stems.height_to_diameter", "height"): "m",
    ("stems.height_to_diameter", "diameter"): "cm",
    ("distances.plot_radius", "area"): "m2",
    ("distances.plot_radius", "result"): "m",
    ("distances.plot_radius_on_slope", "area"): "m2",
    ("distances.plot_radius_on_slope", "result"): "m",
}
METRES = {"m": 1.0, "cm": 0.01, "ft": 0.3048, "in": 0.0254}
SQUARE_METRES = {"m2": 1.0, "ft2": 0.09290304, "acre": 4046.8564224}
RECORDS = {"sight": Sight, "accuracy": Accuracy, "parts": Parts, "stations": Stations}


def rows(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def converted(value, unit, wanted):
    for factors in (METRES, SQUARE_METRES):
        if unit in factors and wanted in factors:
            return value * factors[unit] / factors[wanted]
    raise AssertionError(f"{unit} cannot become {wanted}")


def argument(function, label, value):
    name, _, unit = label.removesuffix("]").partition(" [")
    if isinstance(value, dict):
        return name, RECORDS[name](**dict(argument(function, *item) for item in value.items()))
    if "slope" in name and unit == "degrees":
        return name, math.tan(math.radians(value))
    if "slope" in name and unit == "%":
        return name, value / 100
    if (function, name) in TAKEN:
        return name, converted(value, unit, TAKEN[function, name])
    return name, math.nan if value is None else value


def function_named(name):
    module, _, function = name.rpartition(".")
    room = "xlhelpers" if module.startswith(("survey.", "estimates.")) else "xlhelpers.measure"
    return getattr(importlib.import_module(f"{room}.{module}"), function)


VALUES = rows(TABLE)


@pytest.mark.parametrize(
    "row",
    [
        pytest.param(row, id=f"line {number}: {row['function']}, {row['key']}, {row['place']}")
        for number, row in enumerate(VALUES, start=2)
    ],
)
def test_value_is_reproduced(row):
    assert row["key"] in SOURCES
    assert row["place"]
    assert row["kind"] in KINDS
    name, inputs = row["function"], json.loads(row["inputs"])
    unit, part = inputs.pop("result"), inputs.pop("part", None)
    result = function_named(name)(**dict(argument(name, *item) for item in inputs.items()))
    if part:
        result = getattr(result, part)
    if (name, "result") in TAKEN:
        result = converted(result, TAKEN[name, "result"], unit)
    assert isinstance(result, float)
    tolerance = float(row["tolerance"])
    # half a unit of the last digit, and no more: a value that was cut instead of rounded fails
    assert result == pytest.approx(float(row["expected"]), rel=0, abs=tolerance * (1 + 1e-9))


def test_every_public_formula_has_a_published_or_derived_value(public_formulas):
    vouched = {
        function_named(row["function"]) for row in VALUES if row["kind"] in {"published", "derived"}
    }
    without = [name for name, function in public_formulas.items() if function not in vouched]
    assert without == []


def test_nothing_from_memory_is_called_published():
    remembered = [
        row["key"]
        for row in VALUES
        if row["kind"] == "published" and SOURCES[row["key"]].seen not in {"seen", "abstract"}
    ]
    assert remembered == []


def test_list_of_published_rows_is_complete():
    """Each row with numbers in the texts that were read is used, or left out for a reason."""
    listed = rows(LIST)
    used = {(row["key"], row["place"]) for row in listed if row["use"] == "used"}
    left_out = {(row["key"], row["place"]) for row in listed if row["use"] != "used"}
    in_table = {(row["key"], row["place"]) for row in VALUES}
    assert used == in_table
    assert not used & left_out
    assert len(used) + len(left_out) == len(listed)
    assert all(row["key"] in SOURCES for row in listed)
    assert all(len(row["use"]) > 20 for row in listed if row["use"] != "used")


def test_misprints_are_named():
    misprints = [row for row in rows(LIST) if row["use"].startswith("misprint: ")]
    assert {row["key"] for row in misprints} == {"DeYoungUndated", "ClinometerLeafletUndated"}
    printed = {
        "section 2.7, printed sum and height": 54,
        "level ground, 82 ft, printed height": 44.5,
    }
    for row in VALUES:
        for place, wrong in printed.items():
            if row["place"].split(",")[0] == place.split(",")[0]:
                assert float(row["expected"]) != wrong
