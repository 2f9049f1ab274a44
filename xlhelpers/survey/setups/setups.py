"""The set-ups: for each keyed line its way of measuring, heights above the foot, uncertainties."""

from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.measure import crowns
from xlhelpers.measure.accuracy import Parts, combine
from xlhelpers.survey.columns import SETUPS, table_of
from xlhelpers.survey.model import Survey
from xlhelpers.survey.setups.heights import POLE, Aims, Heights, column, sight_heights, take_aims
from xlhelpers.survey.setups.instruments import Texts, Values
from xlhelpers.survey.setups.reasons import no_height_because
from xlhelpers.survey.setups.uncertainty import (
    depth_parts,
    gather_readings,
    pole_parts,
    sighted_parts,
)
from xlhelpers.survey.setups.ways import Ways, resolve_ways
from xlhelpers.survey.trees.groups import first_known, group_setups
from xlhelpers.survey.typed.folding import Flags

DEAD_TOP, DEAD = "T", "D"
# A crown base this many standard uncertainties below the foot still counts as at the foot
BASE_BELOW_FOOT = 2.0


def compute_setups(survey: Survey) -> pd.DataFrame:
    """Measure every keyed line.

    A diameter or condition that a further set-up leaves blank is that of its tree.

    Parameters
    ----------
    survey : Survey
        The keyed tables.

    Returns
    -------
    DataFrame
        Aligned to `survey.lines`, with the columns SETUPS: lengths in metres, slopes as tangents,
        NaN where there is none. A dead tree has no crown, and a crown whose top is not above its
        base no depth.
    """
    groups = group_setups(survey)
    ways = resolve_ways(survey)
    aims = take_aims(survey, ways, _of_tree(survey, groups, "diameter"))
    heights = sight_heights(survey, ways, aims)
    condition = _of_tree(survey, groups, "condition")
    columns = {
        **groups,
        **_way_columns(ways, aims),
        "condition": condition,
        **_point_columns(survey, ways, aims, heights, condition),
        "no_height_because": no_height_because(survey, ways, aims, heights.height["tip"]),
    }
    return table_of(SETUPS, columns, survey.lines.index)


def _of_tree(survey: Survey, groups: pd.DataFrame, name: str) -> Any:
    """Return a column of the lines with its blanks filled from the tree's other set-ups."""
    values = survey.lines[name].to_numpy()
    known = np.asarray(~pd.isna(values) & (values != ""))
    tree = groups["tree_position"].to_numpy()
    donor = first_known(tree, groups["setup_number"].to_numpy(), known)[tree]
    if len(values) == 0:
        return values
    return np.where(known | (donor < 0), values, values[donor])


def _way_columns(ways: Ways, aims: Aims) -> dict[str, Any]:
    slopes = {f"{point}_slope": aims.slope[point] for point in ("foot", "base", "top", "tip")}
    return {
        "plot_position": ways.plot_position,
        "instrument_position": ways.instrument_position,
        "instrument": ways.instrument,
        "kind": ways.instruments.kind[ways.instrument_position],
        "scale": ways.scale,
        "distance_kind": ways.distance_kind,
        "scale_distance": aims.scale_distance,
        "eye_height": ways.eye_height,
        **slopes,
        "along_slope": aims.slope["along"],
        "second_tip_slope": aims.slope["second_tip"],
        "level_distance": aims.level_distance,
        "distance_added": aims.distance_added,
        "eye_above_foot": aims.eye_above_foot,
    }


def _point_columns(
    survey: Survey, ways: Ways, aims: Aims, heights: Heights, condition: Texts
) -> dict[str, Any]:
    """Choose what counts for each point, and its uncertainty."""
    living, dead_top = condition != DEAD, condition == DEAD_TOP
    read = gather_readings(survey, ways, aims, heights)
    parts = sighted_parts(read)
    pole = column(survey, "base_by_pole")
    sighted, to_zero = _base_at_foot(heights.height["base"], parts["base"])
    by_pole = np.isfinite(pole)
    base = np.where(by_pole, pole, sighted)
    base_way = np.where(by_pole, POLE, heights.way["base"])
    base_parts = _choose(by_pole, pole_parts(pole), parts["base"])
    top = np.where(dead_top, heights.height["top"], heights.height["tip"])
    top_way = np.where(dead_top, heights.way["top"], heights.way["tip"])
    top_parts = _choose(dead_top, parts["top"], parts["tip"])
    depth = depth_parts(read, dead_top, base_parts, top_parts, base_way)
    crown = np.where(living, 1.0, np.nan)
    return {
        "crown_base": base * crown,
        "crown_top": top * crown,
        "total_height": heights.height["tip"],
        "crown_depth": crowns.depth(top, base) * crown,
        "base_sighted": heights.height["base"],
        "top_sighted": heights.height["top"],
        "base_set_to_zero": to_zero & ~by_pole & living,
        "base_way": np.where(living & ~np.isnan(base), base_way, "").astype(object),
        "top_way": np.where(living & ~np.isnan(top), top_way, "").astype(object),
        "tip_way": heights.way["tip"],
        **_u_columns("base", base_parts, crown),
        **_u_columns("top", top_parts, crown),
        **_u_columns("tip", parts["tip"], 1.0),
        **_u_columns("depth", depth, crown),
    }


def _base_at_foot(base: Values, parts: Parts) -> tuple[Values, Flags]:
    """Return the crown bases, 0 for those within two uncertainties below the foot, and which."""
    limit = BASE_BELOW_FOOT * np.asarray(combine(parts.common, parts.reading, 1))
    to_zero = (base < 0) & (base >= -limit)
    return np.where(to_zero, 0.0, base), to_zero


def _choose(first: Flags, one: Parts, other: Parts) -> Parts:
    return Parts(
        np.where(first, one.common, other.common), np.where(first, one.reading, other.reading)
    )


def _u_columns(point: str, parts: Parts, factor: Values | float) -> dict[str, Any]:
    return {
        f"{point}_u_common": parts.common * factor,
        f"{point}_u_reading": parts.reading * factor,
    }
