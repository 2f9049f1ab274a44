"""How much too high a tree may be if the near edge of its crown was aimed at, not its tip.

Nothing in one set-up shows it. From a second place the edge is another one, so the heights differ.
"""

import numpy as np
import pandas as pd

from xlhelpers.measure.lean import near_edge_bound
from xlhelpers.survey.setups.heights import SIGHTED
from xlhelpers.survey.setups.instruments import Texts, Values

# kinds of trees with their top over the stem
POINTED = ("conifer", "palm")
# a bound below this share of the height is not worth a word
LEAST_SHARE = 0.05


def near_edge_of_trees(
    setups: pd.DataFrame, kind: Texts, width_widest: Values, total: Values, set_ups: Values
) -> Values:
    """Return for each tree the bound of `measure.lean.near_edge_bound`.

    Parameters
    ----------
    setups : DataFrame
        As `compute_setups` gives it.
    kind : ndarray of text
        Kind of each tree's species, "" unknown.
    width_widest, total : ndarray
        Its larger crown width and its total height (m).
    set_ups : ndarray of int
        How many set-ups gave the height.

    Returns
    -------
    ndarray
        Metres. NaN for a tree that was measured from several places, or not by angle and distance,
        for conifers, palms and dead trees, and where the bound is under 5 % of the height.
    """
    tree = setups["tree_position"].to_numpy()
    sighted = np.isin(setups["tip_way"].to_numpy(dtype=object), list(SIGHTED.values()))
    sighted &= np.isfinite(setups["total_height"].to_numpy())
    sighted &= setups["condition"].to_numpy(dtype=object) != "D"
    slope = np.full(len(total), np.nan)
    slope[tree[sighted]] = setups["tip_slope"].to_numpy()[sighted]
    bound = np.asarray(near_edge_bound(width_widest, slope))
    with np.errstate(invalid="ignore"):
        has_bound = (set_ups == 1) & ~np.isin(kind, POINTED) & (bound >= LEAST_SHARE * total)
    return np.where(has_bound, bound, np.nan)
