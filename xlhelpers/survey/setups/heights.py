"""Slopes, level distances and heights of each line, and the way in which each height was reached.

Selecting and combining only: the formulas are those of `measure`.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from xlhelpers.measure import distances, lean, sightings, slopes, two_stations
from xlhelpers.measure.instruments import HEIGHT_SCALE
from xlhelpers.measure.units import convert
from xlhelpers.survey.model import Survey
from xlhelpers.survey.setups.instruments import FIXED_SCALE, Texts, Values
from xlhelpers.survey.setups.ways import ALONG_SLOPE, NO_DISTANCE, STRAIGHT, Ways
from xlhelpers.survey.typed.folding import Flags

POINTS = ("base", "top", "tip")
POLE = "pole or tape"
DISPLAY = "height display"
TWO_STRAIGHT = "two straight distances"
EYE_HEIGHT = "eye height on level ground"
TWO_STATIONS = "two stations in line"
SIGHTED = {scale: f"sighted, {scale}" for scale in slopes.SCALES}


@dataclass(frozen=True)
class Aims:
    """Slopes and distances of each line.

    `slope` holds the tangent read at each point and at "foot", "along", "second_tip" and
    "second_foot"; `level_distance` ends
    at the centre of the stem; `distance_added` is what was added from the bark (m): the foot is
    aimed at on the bark, so `eye_above_foot` goes with the distance without it, and is negative
    where the foot is the higher; `straight` holds the straight
    distance to each point (m); `scale_distance` is in the unit of the readings.
    """

    slope: dict[str, Values]
    scale_distance: Values
    level_distance: Values
    distance_added: Values
    eye_above_foot: Values
    straight: dict[str, Values]


@dataclass(frozen=True)
class Heights:
    """Height above the foot and way of each point ("base", "top", "tip") as sighted or shown."""

    height: dict[str, Values]
    way: dict[str, Texts]


def column(survey: Survey, name: str) -> Values:
    """Return a number column of the lines as an array."""
    return survey.lines[name].to_numpy(dtype=float)


def take_aims(survey: Survey, ways: Ways, diameter: Values) -> Aims:
    """Turn readings into slopes and distances into level ones.

    Parameters
    ----------
    survey : Survey
        The keyed lines.
    ways : Ways
        How they were read.
    diameter : ndarray
        Diameter of each line's tree [cm], NaN unknown.

    Returns
    -------
    Aims
        NaN where a reading, its scale or a distance is missing or impossible.
    """
    base = np.where(
        ways.scale == FIXED_SCALE, ways.instruments.scale_distance[ways.instrument_position], np.nan
    )
    slope = _slopes(survey, ways.scale, base)
    level, added = _level_distance(survey, ways, slope, diameter)
    level = np.where(by_stations(survey), _distance_of_stations(survey, slope), level)
    return Aims(
        slope=slope,
        scale_distance=base,
        level_distance=level,
        distance_added=added,
        # the foot is aimed at on the bark
        eye_above_foot=_eye_above_foot(survey, ways, slope["foot"], level - added),
        straight={point: column(survey, f"{point}_straight") for point in POINTS},
    )


def _slopes(survey: Survey, scale: Texts, base: Values) -> dict[str, Values]:
    """Return the tangents of all readings; each scale is turned once, for all its lines."""
    columns = {point: f"{point}_reading" for point in ("foot", *POINTS)}
    columns |= {
        "along": "slope_reading",
        "second_tip": "second_tip_reading",
        "second_foot": "second_foot_reading",
    }
    readings = np.stack([column(survey, name) for name in columns.values()])
    tangents = np.full(readings.shape, np.nan)
    for name in slopes.SCALES:
        lines = np.flatnonzero(scale == name)
        if len(lines):
            tangents[:, lines] = slopes.slope(readings[:, lines], name, base[lines])
    return dict(zip(columns, tangents, strict=True))


def _level_distance(
    survey: Survey, ways: Ways, slope: dict[str, Values], diameter: Values
) -> tuple[Values, Values]:
    """Return the level distance to the centre of the stem and what of it was added (m)."""
    keyed = column(survey, "distance")
    kind = ways.distance_kind
    level = np.where((kind == NO_DISTANCE) | (kind == "") | ~(keyed > 0), np.nan, keyed)
    if np.any(sloping := kind == ALONG_SLOPE):
        level[sloping] = distances.level_from_slope(keyed[sloping], slope["along"][sloping])
    if np.any(straight := kind == STRAIGHT):
        level[straight] = distances.level_from_straight(keyed[straight], slope["foot"][straight])
    stem = np.asarray(convert(diameter, "cm", "m"))
    to_bark = ways.to_bark & (stem > 0) & (level > 0)
    centre = np.where(to_bark, distances.to_centre(level, stem), level)
    return centre, np.where(to_bark, centre - level, 0.0)


def by_stations(survey: Survey) -> Flags:
    """Mark the lines measured from two stations in line: a step between them and no distance."""
    without = ~(column(survey, "distance") > 0)
    return np.asarray(without & (column(survey, "station_step") > 0), dtype=bool)


def stations_of(survey: Survey, slope: dict[str, Values]) -> two_stations.Stations:
    """Return what was read from two stations; without a second foot both eyes are on one level."""
    has_feet = np.isfinite(slope["second_foot"])
    return two_stations.Stations(
        slope["tip"],
        slope["second_tip"],
        np.where(has_feet, slope["foot"], 0.0),
        np.where(has_feet, slope["second_foot"], 0.0),
        column(survey, "station_step"),
    )


def _distance_of_stations(survey: Survey, slope: dict[str, Values]) -> Values:
    of = stations_of(survey, slope)
    return np.asarray(
        two_stations.distance_from_first(
            of.first_tip, of.second_tip, of.first_foot, of.second_foot, of.step
        )
    )


def _eye_above_foot(survey: Survey, ways: Ways, foot: Values, level: Values) -> Values:
    """Return the height of the eye above the foot, from the foot reading or as declared."""
    seen = np.asarray(sightings.implied_eye_height(level, foot))
    mark = column(survey, "mark_above_foot")
    seen = np.where(np.isnan(mark), seen, seen + mark)
    return np.where(by_eye(survey, ways), ways.eye_height, seen)


def by_eye(survey: Survey, ways: Ways) -> Flags:
    """Mark the lines whose foot is the declared eye height: a foot reading goes before it."""
    return ways.foot_by_eye & np.isnan(column(survey, "foot_reading"))


def sight_heights(survey: Survey, ways: Ways, aims: Aims) -> Heights:
    """Return the heights of all points above the foot as sighted or as a display shows them.

    Parameters
    ----------
    survey : Survey
        The keyed lines.
    ways : Ways
        How they were read.
    aims : Aims
        Their slopes and distances.

    Returns
    -------
    Heights
        In metres, NaN where there is none; a point below the foot is negative. The way is ""
        where there is no height.
    """
    offset = column(survey, "tip_offset")
    leaning = np.isfinite(offset) & (offset != 0)
    eye = by_eye(survey, ways)
    height: dict[str, Values] = {}
    way: dict[str, Texts] = {}
    scale_way = np.where(eye, EYE_HEIGHT, pd.Series(ways.scale).map(SIGHTED).fillna(""))
    scale_way = np.where(by_stations(survey), TWO_STATIONS, scale_way)
    kind = ways.instruments.kind[ways.instrument_position]
    shown_way = np.where(kind == POLE, POLE, DISPLAY)
    for point in ("tip", "base", "top"):
        sighted = _over_the_foot(aims.level_distance, aims.slope[point], aims.eye_above_foot)
        if np.any(leaning):
            tip = height.get("tip")
            sighted[leaning] = _on_lean(aims, point, leaning, offset[leaning], tip)
        straight = np.isfinite(aims.straight[point])
        level = distances.level_from_straight(aims.straight[point], aims.slope[point])
        by_sine = _over_the_foot(np.asarray(level), aims.slope[point], aims.eye_above_foot)
        display = _display_readings(survey, ways, point)
        choice = (ways.scale == HEIGHT_SCALE, straight)
        height[point] = np.select(choice, (display, by_sine), sighted)
        named = np.select(choice, (shown_way, TWO_STRAIGHT), scale_way)
        way[point] = np.where(np.isnan(height[point]), "", named).astype(object)
    return Heights(height, way)


def _over_the_foot(level: Values, slope: Values, eye_above_foot: Values) -> Values:
    """Return the height over the eye and, added to it, that of the eye over the foot."""
    return np.asarray(sightings.height(level, slope, 0.0)) + eye_above_foot


def foot_slope(aims: Aims) -> Values:
    """Return the slope at which the foot would be seen, also where it is hidden."""
    with np.errstate(all="ignore"):
        return -aims.eye_above_foot / aims.level_distance


def _on_lean(aims: Aims, point: str, leaning: Flags, offset: Values, tip: Values | None) -> Values:
    """Return the heights of a point of the leaning trees; the tip's own where `tip` is None."""
    level, slope = aims.level_distance[leaning], aims.slope[point][leaning]
    foot = foot_slope(aims)[leaning]
    if tip is None:
        return np.asarray(lean.tip_height(level, slope, foot, offset))
    return np.asarray(lean.height_on_lean(level, slope, foot, offset, tip[leaning]))


def _display_readings(survey: Survey, ways: Ways, point: str) -> Values:
    """Return the readings of height displays in metres; they show the unit of the workbook."""
    reading = column(survey, f"{point}_reading")
    unit = "m" if survey.units == "metric" else "ft"
    return np.asarray(convert(np.where(ways.scale == HEIGHT_SCALE, reading, np.nan), unit, "m"))
