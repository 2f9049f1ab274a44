"""The instrument's part of the standard uncertainty of each height and crown depth of a line.

Every way of measuring has its own propagation in `measure.uncertainty`; here the lines are sent
to theirs. Lines are taken scale by scale, so that each scale is named once.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from xlhelpers.measure import distances, lean_uncertainty, two_stations, uncertainty
from xlhelpers.measure.accuracy import Accuracy, Parts, Sight
from xlhelpers.measure.instruments import HEIGHT_SCALE, KINDS
from xlhelpers.measure.slopes import SCALES
from xlhelpers.survey.model import Survey
from xlhelpers.survey.setups.heights import (
    DISPLAY,
    EYE_HEIGHT,
    POINTS,
    POLE,
    SIGHTED,
    TWO_STATIONS,
    TWO_STRAIGHT,
    Aims,
    Heights,
    by_eye,
    column,
    foot_slope,
    stations_of,
)
from xlhelpers.survey.setups.instruments import Texts, Values
from xlhelpers.survey.setups.ways import ALONG_SLOPE, STRAIGHT, Ways
from xlhelpers.survey.typed.folding import Flags, Positions

# Standard uncertainties of what is measured beside the instrument (m); common practice, no source
U_EYE_HEIGHT = 0.15
U_MARK_HEIGHT = 0.02
U_TIP_OFFSET = 0.3
POLE_KIND = KINDS[POLE]
POLE_ACCURACY = Accuracy(
    u_distance_relative=POLE_KIND.u_distance_relative,
    u_distance_fixed=POLE_KIND.u_distance_fixed,
    graduation=POLE_KIND.scales[0].graduation,
)
# Ways that share distance and foot between two points of a line
ACROSS = (*SIGHTED.values(), EYE_HEIGHT)
SHOWN = (DISPLAY, POLE)


@dataclass(frozen=True)
class Readings:
    """The lines as read, whole columns: what the propagation of any way may ask for.

    `foot` is the slope of the foot reading, or of the mark's; `hidden_foot` that at which the foot
    itself would be seen; `line_slope` that of a distance along the ground, else 0.
    """

    ways: Ways
    aims: Aims
    heights: Heights
    foot: Values
    hidden_foot: Values
    line_slope: Values
    offset: Values
    mark: Flags
    by_eye: Flags
    stations: two_stations.Stations


Propagation = Callable[[Readings, Positions, str, Accuracy], Parts]


def gather_readings(survey: Survey, ways: Ways, aims: Aims, heights: Heights) -> Readings:
    """Gather what the propagation needs from the survey and the steps before."""
    offset = column(survey, "tip_offset")
    along = ways.distance_kind == ALONG_SLOPE
    return Readings(
        ways=ways,
        aims=aims,
        heights=heights,
        foot=aims.slope["foot"],
        hidden_foot=foot_slope(aims),
        line_slope=np.where(along, aims.slope["along"], 0.0),
        offset=np.where(np.isnan(offset), 0.0, offset),
        mark=np.isfinite(column(survey, "mark_above_foot")),
        by_eye=by_eye(survey, ways),
        stations=stations_of(survey, aims.slope),
    )


def sighted_parts(read: Readings) -> dict[str, Parts]:
    """Return the two parts of the uncertainty of each point as sighted or shown.

    Parameters
    ----------
    read : Readings
        The lines as read.

    Returns
    -------
    dict of Parts
        For "base", "top" and "tip" one value a line in metres; NaN where there is no height or
        the instrument's accuracy is not known.
    """
    return {point: _by_route(read, _routes(read, point), point) for point in POINTS}


def pole_parts(height: Values) -> Parts:
    """Return the two parts for heights by pole or tape (m)."""
    return uncertainty.of_direct_height(height, POLE_ACCURACY)


def depth_parts(read: Readings, dead_top: Flags, base: Parts, top: Parts, base_way: Texts) -> Parts:
    """Return the two parts of the uncertainty of the crown depth of each line.

    What both points share, foot and distance, cancels or enters once where both were reached in
    the same way; otherwise the two points count as independent, which is rather too much.

    Parameters
    ----------
    read : Readings
        The lines as read.
    dead_top : array of bool
        Lines whose crown top is the reading of its own, not the tip.
    base, top : Parts
        Those of the crown base and of the crown top as used (m).
    base_way : array of text
        The way of the crown base as used.

    Returns
    -------
    Parts
        One value a line in metres, NaN where there is no depth.
    """
    common, reading = np.hypot(base.common, top.common), np.hypot(base.reading, top.reading)
    for point, lines in (("tip", ~dead_top), ("top", dead_top)):
        way = read.heights.way[point]
        routes = [
            (lines & (way == base_way) & (read.offset == 0) & np.isin(way, ACROSS), _depth_sighted),
            (lines & (way == base_way) & (way == TWO_STRAIGHT), _depth_two_straight),
            (
                lines & (way == base_way) & np.isin(way, SHOWN) & (read.ways.scale == HEIGHT_SCALE),
                _depth_shown,
            ),
        ]
        parts = _by_route(read, routes, point)
        common = np.where(np.isnan(parts.common), common, parts.common)
        reading = np.where(np.isnan(parts.reading), reading, parts.reading)
    return Parts(common, reading)


def _routes(read: Readings, point: str) -> list[tuple[Flags, Propagation]]:
    """Return which lines go which way; no line goes two."""
    way = read.heights.way[point]
    sighted = np.isin(way, list(SIGHTED.values()))
    straight = sighted & (read.ways.distance_kind == STRAIGHT)
    leaning = sighted & (read.offset != 0)
    eye = (way == EYE_HEIGHT) | ((way == TWO_STRAIGHT) & read.by_eye)
    return [
        (sighted & ~straight & ~leaning, _parts_of_sighting),
        (straight & ~leaning, _straight),
        (leaning, _leaning),
        (eye, _with_eye),
        (way == TWO_STATIONS, _from_two_stations),
        ((way == TWO_STRAIGHT) & ~eye, _two_straight),
        (np.isin(way, SHOWN), _parts_of_display),
    ]


def _by_route(read: Readings, routes: Sequence[tuple[Flags, Propagation]], point: str) -> Parts:
    """Send the lines of each scale down their routes and gather the parts."""
    scale = read.ways.scale
    common, reading = np.full(len(scale), np.nan), np.full(len(scale), np.nan)
    for chosen, propagate in routes:
        for name in (*SCALES, HEIGHT_SCALE) if np.any(chosen) else ():
            lines = np.flatnonzero(chosen & (scale == name))
            if len(lines) == 0:
                continue
            accuracy = read.ways.instruments.accuracy_of(read.ways.instrument_position[lines], name)
            parts = propagate(read, lines, point, accuracy)
            common[lines], reading[lines] = parts.common, parts.reading
    return Parts(common, reading)


def _sight(read: Readings, lines: Positions, point: str, foot: Values) -> Sight:
    return Sight(
        read.aims.level_distance[lines],
        read.aims.slope[point][lines],
        foot[lines],
        read.line_slope[lines],
        read.offset[lines],
    )


def _with_mark(read: Readings, lines: Positions, parts: Parts) -> Parts:
    return uncertainty.with_common_part(parts, np.where(read.mark[lines], U_MARK_HEIGHT, 0.0))


def _parts_of_sighting(read: Readings, lines: Positions, point: str, accuracy: Accuracy) -> Parts:
    sight = _sight(read, lines, point, read.foot)
    return _with_mark(read, lines, uncertainty.of_sighting(sight, accuracy))


def _straight(read: Readings, lines: Positions, point: str, accuracy: Accuracy) -> Parts:
    sight = _sight(read, lines, point, read.foot)
    return _with_mark(read, lines, uncertainty.of_straight_distance(sight, accuracy))


def _leaning(read: Readings, lines: Positions, point: str, accuracy: Accuracy) -> Parts:
    """Propagate over a lean; a straight distance is taken as level here, a small difference."""
    sight = _sight(read, lines, point, read.hidden_foot)
    if point == "tip":
        parts = lean_uncertainty.of_lean(sight, U_TIP_OFFSET, accuracy)
    else:
        tip = read.heights.height["tip"][lines]
        parts = lean_uncertainty.of_point_on_lean(sight, tip, U_TIP_OFFSET, accuracy)
    return _with_mark(read, lines, parts)


def _with_eye(read: Readings, lines: Positions, point: str, accuracy: Accuracy) -> Parts:
    slope = read.aims.slope[point][lines]
    to_point = distances.level_from_straight(read.aims.straight[point][lines], slope)
    level = np.where(np.isnan(to_point), read.aims.level_distance[lines], to_point)
    # where the plot's rule says so, the ground is level within its slope only: evenly likely
    rise = np.where(read.ways.eye_of_plot[lines], read.ways.ground[lines] * level, 0.0)
    u_eye = np.hypot(U_EYE_HEIGHT, np.nan_to_num(rise) / np.sqrt(3.0))
    return uncertainty.of_eye_height(Sight(level, slope), u_eye, accuracy)


def _from_two_stations(read: Readings, lines: Positions, point: str, accuracy: Accuracy) -> Parts:
    of = read.stations
    every = (of.first_tip, of.second_tip, of.first_foot, of.second_foot, of.step)
    stations = two_stations.Stations(*(np.asarray(each)[lines] for each in every))
    slope, foot = read.aims.slope[point][lines], read.hidden_foot[lines]
    parts = two_stations.of_two_stations(stations, slope, foot, point == "tip", accuracy)
    by_eye = np.where(read.by_eye[lines], U_EYE_HEIGHT, 0.0)
    return _with_mark(read, lines, uncertainty.with_common_part(parts, by_eye))


def _two_straight(read: Readings, lines: Positions, point: str, accuracy: Accuracy) -> Parts:
    foot = read.foot[lines]
    to_foot = read.aims.level_distance[lines] / distances.level_from_straight(1.0, foot)
    parts = uncertainty.of_two_straight_distances(
        read.aims.straight[point][lines], read.aims.slope[point][lines], to_foot, foot, accuracy
    )
    return _with_mark(read, lines, parts)


def _parts_of_display(read: Readings, lines: Positions, point: str, accuracy: Accuracy) -> Parts:
    return uncertainty.of_direct_height(read.heights.height[point][lines], accuracy)


def _depth_sighted(read: Readings, lines: Positions, point: str, accuracy: Accuracy) -> Parts:
    """Propagate D (t_top - t_base); a straight distance was levelled with the foot's slope."""
    straight = read.ways.distance_kind[lines] == STRAIGHT
    line = np.where(straight & ~read.by_eye[lines], read.foot[lines], read.line_slope[lines])
    slope, level = read.aims.slope, read.aims.level_distance[lines]
    sight = Sight(level, slope[point][lines], slope["base"][lines], line)
    return uncertainty.of_sighting(sight, accuracy)


def _depth_two_straight(read: Readings, lines: Positions, point: str, accuracy: Accuracy) -> Parts:
    straight, slope = read.aims.straight, read.aims.slope
    return uncertainty.of_two_straight_distances(
        straight[point][lines],
        slope[point][lines],
        straight["base"][lines],
        slope["base"][lines],
        accuracy,
    )


def _depth_shown(read: Readings, lines: Positions, point: str, accuracy: Accuracy) -> Parts:
    """Propagate two shown heights: the common share acts on their difference alone."""
    top, base = (read.heights.height[name][lines] for name in (point, "base"))
    common = uncertainty.of_direct_height(top - base, accuracy).common
    of_top = uncertainty.of_direct_height(top, accuracy).reading
    of_base = uncertainty.of_direct_height(base, accuracy).reading
    return Parts(common, np.hypot(of_top, of_base))
