"""Why a line has no total height, as one short code word; "" where it has one."""

from typing import Final

import numpy as np

from xlhelpers.measure.instruments import HEIGHT_SCALE
from xlhelpers.measure.two_stations import SMALLEST_DIFFERENCE
from xlhelpers.survey.model import CLOSED, REFUSED, Survey
from xlhelpers.survey.setups.heights import Aims, by_eye, by_stations, column
from xlhelpers.survey.setups.instruments import FIXED_SCALE, Texts, Values
from xlhelpers.survey.setups.ways import ALONG_SLOPE, NO_DISTANCE, STRAIGHT, Ways, state_of
from xlhelpers.survey.typed.folding import Flags

FINE: Final = ""
NO_READINGS: Final = "no readings"
CLOSED_BLANK: Final = "a reason is given (NOT SAFE …)"
REFUSED_CELL: Final = "an entry could not be read"
NO_SCALE: Final = "no scale"
NO_SCALE_DISTANCE: Final = "no scale distance"
NO_TIP: Final = "no tip reading"
NO_FOOT: Final = "no foot reading"
NO_EYE: Final = "no eye height"
NO_KIND: Final = "no distance kind"
NO_DISTANCE_KEYED: Final = "no distance"
NO_SLOPE: Final = "no slope reading"
NO_SECOND_TIP: Final = "no tip reading from the second station"
STATIONS_TOO_NEAR: Final = "stations too near each other"
TOO_STEEP: Final = "angle too steep"
LEANS_OVER: Final = "tip offset too large"
IMPOSSIBLE: Final = "not possible"
_READ = ("distance", "foot_reading", "base_reading", "top_reading", "tip_reading")
_AIMED = ("foot_reading", "tip_reading", "slope_reading")


def no_height_because(survey: Survey, ways: Ways, aims: Aims, total: Values) -> Texts:
    """Return why each line has no total height.

    Parameters
    ----------
    survey : Survey
        The keyed lines.
    ways : Ways
        How they were read.
    aims : Aims
        Their slopes and distances.
    total : ndarray
        Total heights (m), NaN where there is none.

    Returns
    -------
    array of text
        One of the words of this module. Of several reasons the first is given: nothing read at
        all, no scale, then what is missing in the order of the reason list.
    """
    needs = _needs(survey, ways)
    missing = {name: need & np.isnan(column(survey, name)) for name, need in needs.items()}
    state = {name: state_of(survey, "lines", name) for name in needs}
    closed = np.any([missing[n] & ((state[n] == CLOSED) | ways.closed_text) for n in needs], axis=0)
    refused = np.any([missing[n] & (state[n] == REFUSED) for n in needs], axis=0)
    nothing = np.all([np.isnan(column(survey, name)) for name in _READ], axis=0)
    reasons: list[tuple[Flags, str]] = [
        (np.isfinite(total), FINE),
        (closed, CLOSED_BLANK),
        (refused, REFUSED_CELL),
        (nothing, NO_READINGS),
        (ways.scale == "", NO_SCALE),
        ((ways.scale == FIXED_SCALE) & np.isnan(aims.scale_distance), NO_SCALE_DISTANCE),
        (missing["tip_reading"], NO_TIP),
        (missing["foot_reading"], NO_FOOT),
        (by_eye(survey, ways) & np.isnan(ways.eye_height), NO_EYE),
        (ways.distance_kind == "", NO_KIND),
        (missing["distance"], NO_DISTANCE_KEYED),
        ((ways.distance_kind == NO_DISTANCE) & ~by_stations(survey), NO_DISTANCE_KEYED),
        (missing["slope_reading"], NO_SLOPE),
        (missing["second_tip_reading"], NO_SECOND_TIP),
        (_too_steep(survey, ways), TOO_STEEP),
        (stations_too_near(survey, aims.slope["tip"], aims.slope["second_tip"]), STATIONS_TOO_NEAR),
        (column(survey, "tip_offset") >= aims.level_distance, LEANS_OVER),
    ]
    flags, words = zip(*reasons, strict=True)
    return np.asarray(np.select(flags, words, IMPOSSIBLE), dtype=object)


def _needs(survey: Survey, ways: Ways) -> dict[str, Flags]:
    """Return which cells each line's way of measuring needs for the total height."""
    everywhere = np.ones(len(survey.lines), dtype=bool)
    sighted = ways.scale != HEIGHT_SCALE
    stations = by_stations(survey)
    foot = ~ways.foot_by_eye | (ways.distance_kind == STRAIGHT)
    return {
        "tip_reading": everywhere,
        "foot_reading": sighted & foot,
        "distance": sighted & ~stations,
        "second_tip_reading": sighted & stations,
        "slope_reading": sighted & (ways.distance_kind == ALONG_SLOPE),
    }


def stations_too_near(survey: Survey, first_tip: Values, second_tip: Values) -> Flags:
    """Mark the lines whose two angles to the tip differ by too little.

    Parameters
    ----------
    survey : Survey
        The keyed lines.
    first_tip, second_tip : ndarray
        Slopes to the tip from each station [fraction].
    """
    turned = np.abs(np.degrees(np.arctan(first_tip) - np.arctan(second_tip)))
    return np.asarray(by_stations(survey) & (turned < SMALLEST_DIFFERENCE), dtype=bool)


def _too_steep(survey: Survey, ways: Ways) -> Flags:
    steepest = np.max([np.abs(np.nan_to_num(column(survey, name))) for name in _AIMED], axis=0)
    return np.asarray((ways.scale == "degrees") & (steepest >= 90), dtype=bool)
