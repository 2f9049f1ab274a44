"""What the numbers of a sheet say about themselves: feet or metres, percent or degrees.

Feet or metres: with the right units, heights and diameters fit the published curve of urban trees
(McPhersonEtAl2016); with the wrong ones they miss it by a factor of two to six. The scale and the
kind of distance: with the right ones, distance and readings give the height that the sheet itself
has worked out.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from xlhelpers.fields.quantities import FOOT_M, INCH_CM, Units
from xlhelpers.jobs.bring import words
from xlhelpers.jobs.bring.columns import Column, of_role
from xlhelpers.measure import distances, slopes
from xlhelpers.survey.typed.units import TypedUnit, unit_named
from xlhelpers.wording import plural

_SHOWN: dict[Units, dict[str, str]] = {
    "metric": {"length": "m", "diameter": "cm"},
    "us": {"length": "ft", "diameter": "in"},
}
_SYSTEM_OF: dict[str, Units] = {
    "m": "metric",
    "cm": "metric",
    "mm": "metric",
    "ft": "us",
    "in": "us",
}
_FEWEST = 5
# logarithms: how near to the curve the middle tree must be, and how much nearer than otherwise
_NEAR, _NEARER = 0.6, 0.5
# share of the lines whose height agrees, and by how much it must beat the next way
_AGREE, _BEATS = 0.7, 0.3
_SLACK, _SHARE_SLACK = 0.06, 0.015
Numbers = NDArray[np.float64]


class Finding(NamedTuple):
    """Something found out: the word of a choice, and why."""

    word: str
    because: str


def settle_units(
    columns: Sequence[Column], answer: Units | None, scale: str = ""
) -> Finding | None:
    """Find the unit system of the workbook, and give each column without a unit its unit.

    Parameters
    ----------
    columns : sequence of Column
        The columns with their roles; units are filled in.
    answer : {"metric", "us"}, optional
        What somebody said.
    scale : str
        The scale of the readings, "" if it is not known: with it, readings give heights too.

    Returns
    -------
    Finding or None
        The system; None where it has to be asked.
    """
    measured = [c for c in columns if c.quantity in ("length", "diameter") and c.filled]
    unknown = [c for c in measured if c.unit is None and _typed_system(c) is None]
    stated = [s for c in measured if (s := _system_of(c)) is not None]
    if answer is not None:
        finding: Finding | None = Finding(answer, "your answer")
    elif stated and (not unknown or not _lengths(unknown) or _lengths_of(stated, measured)):
        system = "us" if stated.count("us") * 2 > len(stated) else "metric"
        finding = Finding(system, "the units in the headings or cells")
    elif not measured:
        finding = Finding("metric", "no lengths and no diameters")
    else:
        finding = try_units(columns, scale)
    if finding is not None:
        for column in unknown:
            column.unit = unit_named(_SHOWN[_as_units(finding.word)][column.quantity])
    return finding


def _as_units(word: str) -> Units:
    return "us" if word == "us" else "metric"


def _lengths(columns: Sequence[Column]) -> bool:
    return any(column.quantity == "length" for column in columns)


def _lengths_of(stated: Sequence[Units], measured: Sequence[Column]) -> bool:
    """Return whether lengths say their unit, so that other lengths follow them."""
    return bool(stated) and any(c.quantity == "length" and _system_of(c) for c in measured)


def _system_of(column: Column) -> Units | None:
    return _SYSTEM_OF.get(column.unit.sign) if column.unit else _typed_system(column)


def _typed_system(column: Column) -> Units | None:
    """Return the system of units typed into the cells, where nearly all have one."""
    texts = [cell.casefold() for cell in column.cells if isinstance(cell, str) and cell.strip()]
    if not texts or len(texts) < 0.9 * column.filled:
        return None
    us = sum(any(mark in text for mark in ("'", "’", "ft", '"', "”", "″", "′")) for text in texts)
    metric = sum(text.strip().endswith(("cm", "m")) for text in texts)
    if us >= 0.9 * len(texts):
        return "us"
    return "metric" if metric >= 0.9 * len(texts) else None


def _heights(columns: Sequence[Column], scale: str) -> tuple[Numbers, TypedUnit | None] | None:
    """Return heights and their unit: those of the sheet, or those that the readings give."""
    heights = of_role(columns, "height")
    if heights:
        return heights[0].numbers, heights[0].unit
    role_columns = [of_role(columns, role) for role in ("distance", "tip_reading", "foot_reading")]
    if not all(role_columns) or scale not in slopes.SCALES or scale == "fixed distance":
        return None
    distance, tip, foot = (one[0] for one in role_columns)
    up, down = (np.asarray(slopes.slope(one.numbers, scale)) for one in (tip, foot))
    return distance.numbers * (up - down), distance.unit


def try_units(columns: Sequence[Column], scale: str = "") -> Finding | None:
    """Find feet or metres by trial against the diameters; None where the trial does not decide."""
    stems, heights = of_role(columns, "diameter", "girth"), _heights(columns, scale)
    if not stems or heights is None:
        return None
    stem, (height, unit_of_heights) = stems[0], heights
    across = stem.numbers / (np.pi if stem.role == "girth" else 1.0)
    known = (across > 0) & (height > 0)
    if known.sum() < _FEWEST:
        return None
    misses: dict[str, float] = {}
    for system in ("metric", "us"):
        to_cm = _worth(stem.unit, INCH_CM if system == "us" else 1.0, 100.0)
        to_m = _worth(unit_of_heights, FOOT_M if system == "us" else 1.0, 1.0)
        misses[system] = _miss(across[known] * to_cm, height[known] * to_m)
    best, other = sorted(misses, key=lambda word: abs(misses[word]))
    if abs(misses[best]) > _NEAR or abs(misses[other]) - abs(misses[best]) < _NEARER:
        return None
    times = np.exp(abs(misses[other]))
    return Finding(
        best,
        f"by trial: in {words.UNITS[best]} the heights fit the diameters of "
        f"{plural(int(known.sum()), 'tree')}, in {words.UNITS[other]} they are wrong by a factor "
        f"of {times:.1f}",
    )


def _worth(unit: TypedUnit | None, otherwise: float, inner: float) -> float:
    return otherwise if unit is None else unit.worth * inner


def _miss(diameter: Numbers, height: Numbers) -> float:
    """Return how far the middle tree is from the curve of all trees, as a logarithm."""
    from xlhelpers.survey.doubt.reference import position, reference

    table = reference()
    row = table[table["level"] == "all"].iloc[0]
    x = position(diameter, row["least_diameter"], row["greatest_diameter"])
    usual = row["height_a"] + row["height_b"] * x + row["height_c"] * x**2
    return float(np.median(np.log(height) - usual))


def find_scale(columns: Sequence[Column]) -> tuple[Finding, Finding] | None:
    """Find scale and kind of distance by the heights that the sheet has worked out itself.

    Returns
    -------
    tuple of Finding or None
        The scale and the kind of distance; None where no way, or more than one, agrees.
    """
    needed = ("distance", "tip_reading", "foot_reading", "height")
    columns_by_role = {role: of_role(columns, role) for role in needed}
    if not all(columns_by_role.values()):
        return None
    distance, tip, foot, height = (columns_by_role[role][0].numbers for role in needed)
    distance = distance * _metres(columns_by_role["distance"][0])
    height = height * _metres(columns_by_role["height"][0])
    marks = of_role(columns, "mark_above_foot")
    mark = np.zeros(len(tip))
    if marks:
        mark = np.nan_to_num(marks[0].numbers) * _metres(marks[0])
    known = np.isfinite(distance + tip + foot + height) & (distance > 0) & (height > 0)
    if known.sum() < _FEWEST:
        return None
    shares: dict[tuple[str, str], float] = {}
    for scale in ("percent", "degrees", "topographic"):
        up, down = (slopes.slope(r[known], scale, np.nan) for r in (tip, foot))
        for kind in ("level", "straight to the foot"):
            level = distance[known]
            if kind != "level":
                level = np.asarray(distances.level_from_straight(level, down))
            computed = level * (np.asarray(up) - np.asarray(down)) + mark[known]
            slack = np.maximum(_SLACK, _SHARE_SLACK * height[known])
            with np.errstate(invalid="ignore"):
                agrees = np.abs(computed - height[known]) <= slack
            shares[scale, kind] = float(np.mean(agrees))
    (scale, kind), best = max(shares.items(), key=lambda item: item[1])
    by_scale = max(share for (word, _), share in shares.items() if word != scale)
    if best < _AGREE or best - by_scale < _BEATS:
        return None
    because = (
        f"by trial: the heights on the sheet follow from the readings in {scale} on "
        f"{round(best * int(known.sum())):,} of {plural(int(known.sum()), 'line')}"
    )
    other = shares[scale, "straight to the foot" if kind == "level" else "level"]
    kind_found = Finding(kind, because if best - other >= _BEATS else "")
    return Finding(scale, because), kind_found


def _metres(column: Column) -> float:
    return 1.0 if column.unit is None or column.unit.measures != "length" else column.unit.worth
