"""The trees: the set-ups of each gathered into one row, with crown, stem and species."""

from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.measure import crowns
from xlhelpers.measure.uncertainty import observer_part
from xlhelpers.survey.columns import TREES, table_of
from xlhelpers.survey.model import Survey
from xlhelpers.survey.setups.instruments import Texts
from xlhelpers.survey.trees.crowns import (
    crown_columns,
    height_to_diameter,
    stem_columns,
)
from xlhelpers.survey.trees.groups import first_known
from xlhelpers.survey.trees.means import (
    depth_uncertainty,
    join_texts,
    point_mean,
    ratio_uncertainty,
    scatter,
    tree_count,
)
from xlhelpers.survey.trees.near_edge import near_edge_of_trees
from xlhelpers.survey.trees.records import USED_BY_EYE, place_columns, use_heights_by_eye
from xlhelpers.survey.trees.widths import (
    NOT_MEASURED,
    RADII,
    RADIUS_FIELDS,
    Radii,
    wider_of,
    width_columns,
    widths_rule,
)
from xlhelpers.survey.typed.folding import Flags, Positions
from xlhelpers.survey.typed.species_names import genus_of, match_species


def build_trees(survey: Survey, setups: pd.DataFrame) -> pd.DataFrame:
    """Gather the set-ups into trees.

    Parameters
    ----------
    survey : Survey
        The keyed tables.
    setups : DataFrame
        As `compute_setups` gives it for this survey.

    Returns
    -------
    DataFrame
        One row a tree in the order of their first lines, with the columns TREES: lengths in
        metres, diameters in centimetres, areas m2, volume m3, shares as fractions; NaN where
        there is none. Texts come from the first set-up that has them; heights are means over
        set-ups. A dead tree has height and diameter and no crown.
    """
    columns = _naming_columns(survey, setups)
    columns |= _species_columns(survey, columns["species"])
    columns |= _stem_and_width_columns(survey, setups, columns["condition"])
    dead_top = np.asarray(columns["condition"] == "T", dtype=bool)
    columns |= _height_columns(setups, dead_top)
    if survey.rules["heights_by_eye"] == USED_BY_EYE:
        use_heights_by_eye(columns)
    if survey.rules["crown_depth"] == NOT_MEASURED:
        _blank_tops(columns, dead_top)
    columns["height_to_diameter"] = height_to_diameter(
        columns["total_height"], columns["largest_stem"], columns["kind"]
    )
    columns["near_edge"] = near_edge_of_trees(
        setups,
        columns["kind"],
        wider_of(columns, widths_rule(survey.rules)),
        columns["total_height"],
        columns["n_total"],
    )
    trees = pd.DataFrame(columns)
    extra = crown_columns(survey, trees)
    length = trees["total_height"].to_numpy() - trees["crown_top"].to_numpy()
    extra["dead_top_length"] = np.where(dead_top & (length >= 0), length, np.nan)
    return table_of(TREES, {**columns, **extra})


def _first_texts(survey: Survey, setups: pd.DataFrame, name: str) -> Any:
    """Return for each tree the text of the first set-up that has one, "" where none has."""
    values = survey.lines[name].to_numpy(dtype=object)
    return np.append(values, "")[_known_lines(setups, values != "")]


def _known_lines(setups: pd.DataFrame, known: Any) -> Positions:
    tree, number = setups["tree_position"].to_numpy(), setups["setup_number"].to_numpy()
    return first_known(tree, number, np.asarray(known, dtype=bool))


def _naming_columns(survey: Survey, setups: pd.DataFrame) -> dict[str, Any]:
    tree, trees = setups["tree_position"].to_numpy(), tree_count(setups)
    first = np.flatnonzero(setups["first"].to_numpy())
    head = survey.lines.iloc[first]
    plot_position = setups["plot_position"].to_numpy()[first]
    strata = np.append(survey.plots["stratum"].to_numpy(dtype=object), "")
    everywhere = np.ones(len(setups), dtype=bool)
    instruments = setups["instrument"].to_numpy(dtype=object)
    zero = setups["base_set_to_zero"].to_numpy()
    return {
        "plot": head["plot"].to_numpy(dtype=object),
        "tree": head["tree"].to_numpy(dtype=object),
        "first_line": first,
        "line_count": np.bincount(tree, minlength=trees),
        "duplicate": np.bincount(tree[setups["duplicate"]], minlength=trees) > 0,
        "unnumbered": setups["unnumbered"].to_numpy()[first],
        "species": _first_texts(survey, setups, "species"),
        "condition": setups["condition"].to_numpy(dtype=object)[first],
        **place_columns(survey, setups),
        "group": _first_texts(survey, setups, "group"),
        "stratum": strata[plot_position],
        "sheet": head["_sheet"].to_numpy(dtype=object),
        "row": head["_row"].to_numpy(),
        "plot_position": plot_position,
        "instruments": join_texts(tree, everywhere, instruments, trees),
        "base_set_to_zero": np.bincount(tree[zero], minlength=trees) > 0,
        "no_height_because": setups["no_height_because"].to_numpy(dtype=object)[first],
    }


def _species_columns(survey: Survey, keyed: Texts) -> dict[str, Any]:
    row = match_species(keyed, survey.species)
    listed = {
        name: np.append(survey.species[name].to_numpy(dtype=object), "")[row]
        for name in ("botanical", "common", "kind", "outline")
    }
    return {
        **listed,
        "genus": genus_of(keyed, survey.species),
        "known_species": row >= 0,
        "species_position": row,
    }


def _stem_and_width_columns(
    survey: Survey, setups: pd.DataFrame, condition: Texts
) -> dict[str, Any]:
    """Return what was measured of stem and crown width: the first set-up that has it counts."""
    lines = survey.lines
    widths = [
        np.append(values, np.nan)[_known_lines(setups, np.isfinite(values))]
        for values in (lines["width_widest"].to_numpy(), lines["width_across"].to_numpy())
    ]
    diameter_line = _known_lines(setups, np.isfinite(lines["diameter"].to_numpy()))
    stems_line = _known_lines(setups, lines["other_stems"].to_numpy(dtype=object) != "")
    return {
        **stem_columns(survey, diameter_line, stems_line),
        **width_columns(widths[0], widths[1], _radii(survey, setups), condition != "D"),
    }


def _radii(survey: Survey, setups: pd.DataFrame) -> Radii:
    """Return the four radii of each tree, NaN where the survey takes none: from one set-up all."""
    lines = [survey.lines[name].to_numpy(dtype=float) for name in RADIUS_FIELDS]
    known = np.isfinite(np.sum(lines, axis=0)) & (widths_rule(survey.rules) == RADII)
    of_tree = _known_lines(setups, known)
    north, east, south, west = (np.append(each, np.nan)[of_tree] for each in lines)
    return north, east, south, west


def _blank_tops(columns: dict[str, Any], dead_top: Flags) -> None:
    """Leave out the crown tops of a survey without crowns, save those that were read."""
    blank = np.isnan(columns["crown_base"]) & ~dead_top
    for name, nothing in (("crown_top", np.nan), ("u_top", np.nan), ("way_top", ""), ("n_top", 0)):
        columns[name] = np.where(blank, nothing, columns[name])


def _height_columns(setups: pd.DataFrame, dead_top: Flags) -> dict[str, Any]:
    total = point_mean(setups, "total_height", "tip")
    top = point_mean(setups, "crown_top", "top")
    base = point_mean(setups, "crown_base", "base")
    means = {"total": total, "top": top, "base": base}
    depth = np.asarray(crowns.depth(top.mean, base.mean))
    u_depth = np.where(np.isnan(depth), np.nan, depth_uncertainty(setups, top, base))
    ratio = np.asarray(crowns.ratio(top.mean, base.mean, total.mean))
    return {
        "total_height": total.mean,
        "crown_top": top.mean,
        "crown_base": base.mean,
        "crown_depth": depth,
        "live_crown_ratio": ratio,
        "u_depth": u_depth,
        "u_ratio": ratio_uncertainty(ratio, u_depth, total, base, dead_top),
        "observer_u": np.asarray(observer_part(total.mean)),
        "scatter_total": scatter(
            setups["tree_position"].to_numpy(), setups["total_height"].to_numpy(), len(total.mean)
        ),
        **{f"n_{name}": mean.n for name, mean in means.items()},
        **{f"way_{name}": mean.way for name, mean in means.items()},
        **{f"u_{name}": mean.u for name, mean in means.items()},
    }
