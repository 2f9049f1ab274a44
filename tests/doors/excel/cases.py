"""For each function: readings in ranges, and what the room ``measure`` makes of the same ones."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from xlhelpers.measure import crowns, distances, heights, solids, stems, uncertainty, units

ROWS = 60
BAD_CELLS = (None, "", "abc", "#N/A", True)


@dataclass(frozen=True)
class Case:
    """Arguments by name, as columns of numbers or names, and the answers of ``measure``."""

    columns: dict[str, list[Any]]
    expected: list[float]

    def ranges(self) -> list[Any]:
        """Return the arguments as ranges of one column."""
        return [[[value] for value in column] for column in self.columns.values()]

    def cells(self, row: int) -> list[Any]:
        """Return the arguments of one row as single cells."""
        return [column[row] for column in self.columns.values()]


def _repeated(choices: tuple[str, ...]) -> list[str]:
    return [choices[row % len(choices)] for row in range(ROWS)]


def _by_scale(columns: dict[str, list[Any]]) -> list[float]:
    """Heights by the function of each scale, one line at a time."""
    ways: dict[str, Callable[..., Any]] = {
        "percent": heights.from_percent,
        "degrees": heights.from_degrees,
        "topographic": heights.from_topographic,
    }
    found = []
    for point, foot, distance, scale, base, _ in zip(*columns.values(), strict=True):
        if scale in ways:
            found.append(float(ways[scale](point, foot, distance)))
        else:
            found.append(float(heights.from_fixed_distance_scale(point, foot, distance, base)))
    return found


def make_cases() -> dict[str, Case]:
    """Return a case for each function, by its name."""
    random = np.random.default_rng(20)

    def between(low: float, high: float) -> list[float]:
        return [float(value) for value in random.uniform(low, high, ROWS)]

    def case(way: Callable[..., Any], /, **columns: list[Any]) -> Case:
        return Case(columns, np.asarray(way(*columns.values())).tolist())

    top, base = between(8, 30), between(0.5, 7)
    widest, across = between(3, 20), between(2, 15)
    scales = ("percent", "degrees", "topographic", "fixed distance")
    readings = {
        "point_reading": between(5, 80),
        "foot_reading": between(-20, 5),
        "distance": between(8, 50),
        "reading_scale": _repeated(scales),
        "scale_distance": [20.0 if row % 4 == 3 else None for row in range(ROWS)],
        "bark_diameter": [None] * ROWS,
    }
    angles = {"point_angle": between(10, 70), "foot_angle": between(-20, 10)}
    outline = _repeated(tuple(solids.SOLIDS))
    girths = between(5, 90)
    diameter_units, areas = _repeated(("cm", "in")), []
    for width, unit in zip(girths, diameter_units, strict=True):
        area = float(stems.basal_area(width * (2.54 if unit == "in" else 1.0)))
        areas.append(area / 0.3048**2 if unit == "in" else area)
    pairs = (("ft", "m"), ("m", "in"), ("acre", "ha"), ("ft2", "m2"), ("m3", "ft3"), ("mm", "cm"))
    values = between(-5, 900)
    old, new = (_repeated(tuple(pair[side] for pair in pairs)) for side in (0, 1))
    changed = [float(units.convert(*line)) for line in zip(values, old, new, strict=True)]
    return {
        "height_above_foot": Case(readings, _by_scale(readings)),
        "level_distance": case(
            lambda length, angle, _: heights.level_distance(length, angle),
            slope_distance=between(8, 50),
            slope_reading=between(-40, 40),
            reading_scale=["degrees"] * ROWS,
        ),
        "height_from_straight_distances": case(
            heights.from_slant_distances,
            point_distance=between(20, 60),
            point_angle=angles["point_angle"],
            foot_distance=between(8, 40),
            foot_angle=angles["foot_angle"],
        ),
        "height_uncertainty": case(
            uncertainty.height_from_angles,
            distance=readings["distance"],
            **angles,
            distance_uncertainty=between(0, 0.5),
            angle_uncertainty=between(0, 0.5),
        ),
        "standing_distance": case(
            distances.smallest_standing_distance,
            expected_height=top,
            eye_above_foot=between(-3, 12),
            greatest_angle=between(20, 60),
        ),
        "crown_depth": case(crowns.depth, crown_top=top, crown_base=base),
        "crown_ratio": case(
            crowns.ratio, crown_top=top, crown_base=base, total_height=between(30, 40)
        ),
        "crown_mean_width": case(crowns.mean_width, width_widest=widest, width_across=across),
        "crown_area": case(crowns.projection_area, width_widest=widest, width_across=across),
        "crown_volume": case(
            lambda shape, one, two, depth: crowns.volume(
                shape, np.sqrt(np.multiply(one, two)), depth
            ),
            crown_outline=outline,
            width_widest=widest,
            width_across=across,
            depth_of_crown=between(2, 15),
        ),
        "combined_diameter": case(lambda widths: widths, stem_diameters=girths),
        "basal_area": Case({"stem_diameter": girths, "diameter_unit": diameter_units}, areas),
        "convert_unit": Case({"measured_value": values, "from_unit": old, "to_unit": new}, changed),
    }


CASES = make_cases()
OPTIONAL = {"scale_distance", "bark_diameter"}
NAMED = {"reading_scale", "crown_outline", "diameter_unit", "from_unit", "to_unit"}
