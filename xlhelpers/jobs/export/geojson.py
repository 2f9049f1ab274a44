"""The trees that have a position as a map file: GeoJSON by RFC 7946."""

import json
import math
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.export.records import TidyColumn, TidyTable

MAP_FILE = "trees.geojson"
_PLACE = ("latitude", "longitude")
# about 0.1 m; the standard advises against more (section 11.2)
_DECIMALS = 6


def geojson_bytes(table: TidyTable, trees: pd.DataFrame, units: Units) -> bytes:
    """Return the trees with latitude and longitude as a FeatureCollection of points.

    Parameters
    ----------
    table : TidyTable
        The exported table of trees; its columns become the properties, in their units.
    trees : DataFrame
        The trees with `latitude` and `longitude` (degrees, WGS 84), in the order of the table.
    units : {"metric", "us"}
        Units of the numbers.

    Returns
    -------
    bytes
        UTF-8. Coordinates are longitude, latitude, as the standard has them; there is no member
        "crs", because WGS 84 is the only reference system that it knows. A blank is null.
    """
    columns = [column for column in table.columns if column.name not in _PLACE]
    values = {c.name: _json_values(c, table.rows[c.name], units) for c in columns}
    features = []
    places = trees[["longitude", "latitude"]].to_numpy(dtype=float)
    for at in np.flatnonzero(np.isfinite(places).all(axis=1)).tolist():
        features.append(
            {
                "type": "Feature",
                "id": int(table.rows[table.key].iloc[at]),
                "geometry": {
                    "type": "Point",
                    "coordinates": [round(float(part), _DECIMALS) for part in places[at]],
                },
                "properties": {name: column[at] for name, column in values.items()},
            }
        )
    collection = {"type": "FeatureCollection", "features": features}
    return (json.dumps(collection, ensure_ascii=False, allow_nan=False) + "\n").encode()


def count_places(trees: pd.DataFrame) -> int:
    """Return how many trees have a position."""
    return int(trees[list(_PLACE)].notna().all(axis=1).sum())


def _json_values(column: TidyColumn, values: pd.Series, units: Units) -> list[Any]:
    if column.kind in {"number", "integer"}:
        numbers = pd.to_numeric(values).to_numpy(float) / column.factor(units)
        whole = column.kind == "integer"
        return [_number(number, whole=whole) for number in numbers.tolist()]
    if column.kind == "boolean":
        return [bool(flag) for flag in values.tolist()]
    return [None if value is None or value != value else str(value) for value in values.tolist()]


def _number(number: float, *, whole: bool) -> float | int | None:
    if not math.isfinite(number):
        return None
    return int(number) if whole else float(f"{number:.10g}")
