"""Means over the set-ups of each tree, point by point, and their uncertainties.

A pole or tape goes before sightings for its point. Of the uncertainties, the common parts of
set-ups with one instrument act together and are averaged as they stand; those of different
instruments are independent, so the contributions of the instruments to the mean are added as
squares. The reading parts of all set-ups are independent.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from xlhelpers.measure.accuracy import combine
from xlhelpers.survey.setups.heights import POLE
from xlhelpers.survey.setups.instruments import Texts, Values
from xlhelpers.survey.typed.folding import Flags, Positions, codes_of, fold_column
from xlhelpers.survey.typed.words import identifier_key

POLE_CODE = -1


@dataclass(frozen=True)
class PointMean:
    """One point of every tree: mean height (m), set-ups behind it, uncertainty (m), ways.

    `used` marks the lines that entered the mean.
    """

    mean: Values
    n: Positions
    u: Values
    way: Texts
    used: Flags


def point_mean(setups: pd.DataFrame, height: str, point: str) -> PointMean:
    """Return the mean over the set-ups of each tree for one point.

    Parameters
    ----------
    setups : DataFrame
        As `compute_setups` gives it.
    height : str
        Its column of heights, such as "total_height".
    point : str
        The point's name in `<point>_way` and the uncertainty columns.

    Returns
    -------
    PointMean
        One value a tree; NaN and n = 0 where no set-up gives the height. The uncertainty is NaN
        where the accuracy of an instrument used is not known.
    """
    tree = setups["tree_position"].to_numpy()
    trees = tree_count(setups)
    values = setups[height].to_numpy()
    used = np.isfinite(values)
    way = setups[f"{point}_way"].to_numpy(dtype=object)
    pole = used & (way == POLE)
    with_pole = np.bincount(tree[pole], minlength=trees) > 0
    used &= pole | ~with_pole[tree]
    n = np.bincount(tree[used], minlength=trees)
    mean = mean_by(tree[used], values[used], trees)
    return PointMean(
        mean, n, mean_uncertainty(setups, used, point), join_texts(tree, used, way, trees), used
    )


def depth_uncertainty(setups: pd.DataFrame, top: PointMean, base: PointMean) -> Values:
    """Return the standard uncertainty of the crown depth of each tree (m).

    Where one and the same set-ups gave both points it comes from the depths of these set-ups, in
    which the foot cancels; otherwise from the two means as if they were independent.
    """
    tree = setups["tree_position"].to_numpy()
    apart = np.bincount(tree[top.used != base.used], minlength=tree_count(setups)) > 0
    together = mean_uncertainty(setups, top.used & base.used, "depth")
    return np.where(apart | np.isnan(together), np.hypot(top.u, base.u), together)


def ratio_uncertainty(
    ratio: Values, u_depth: Values, total: PointMean, base: PointMean, dead_top: Flags
) -> Values:
    """Return the instrument's part of the standard uncertainty of the live crown ratio.

    Propagates depth over total height. Where the crown reaches the tip, what depth and height
    share follows from the uncertainties of depth, height and base. Under a dead top it is taken
    as nothing, which is rather too much.

    Parameters
    ----------
    ratio : ndarray
        Live crown ratio of each tree (fraction).
    u_depth : ndarray
        Standard uncertainty of the crown depth (m).
    total, base : PointMean
        Means of total height and crown base.
    dead_top : array of bool
        Trees whose crown ends below the tip.

    Returns
    -------
    ndarray
        Fractions, NaN where an input is.
    """
    shared = np.where(dead_top, 0.0, (total.u**2 - base.u**2 + u_depth**2) / 2)
    squares = u_depth**2 + (ratio * total.u) ** 2 - 2 * ratio * shared
    with np.errstate(all="ignore"):
        return np.asarray(np.sqrt(np.maximum(squares, 0.0)) / total.mean)


def mean_uncertainty(setups: pd.DataFrame, used: Flags, point: str) -> Values:
    """Return the instrument's part of the standard uncertainty of the mean of each tree (m).

    Parameters
    ----------
    setups : DataFrame
        As `compute_setups` gives it.
    used : array of bool
        The set-ups that enter the mean.
    point : str
        "base", "top", "tip" or "depth".

    Returns
    -------
    ndarray
        NaN where no set-up enters or where one has no known uncertainty.
    """
    trees = tree_count(setups)
    tree = setups["tree_position"].to_numpy()[used]
    common = setups[f"{point}_u_common"].to_numpy()[used]
    reading = setups[f"{point}_u_reading"].to_numpy()[used]
    pair = codes_of(tree, _instruments(setups, point)[used])
    pairs = int(pair.max()) + 1 if len(pair) else 0
    # the contribution of an instrument to the mean is the sum of its common parts over n
    n = np.bincount(tree, minlength=trees)
    share = np.bincount(pair, common / n[tree], minlength=pairs)
    tree_of_pair = np.zeros(pairs, dtype=np.int64)
    tree_of_pair[pair] = tree
    total_common = np.sqrt(np.bincount(tree_of_pair, share**2, minlength=trees))
    root_mean_square = np.sqrt(mean_by(tree, reading**2, trees))
    return np.asarray(combine(total_common, root_mean_square, n))


def scatter(tree: Positions, values: Values, trees: int) -> Values:
    """Return the greatest minus the smallest value of each tree, NaN for fewer than two."""
    known = np.isfinite(values)
    greatest, least = np.full(trees, -np.inf), np.full(trees, np.inf)
    np.maximum.at(greatest, tree[known], values[known])
    np.minimum.at(least, tree[known], values[known])
    several = np.bincount(tree[known], minlength=trees) > 1
    return np.where(several, greatest - np.where(several, least, 0.0), np.nan)


def mean_by(group: Positions, values: Values, groups: int) -> Values:
    """Return the plain mean of each group, NaN for an empty one."""
    n = np.bincount(group, minlength=groups)
    total = np.bincount(group, values, minlength=groups)
    return np.where(n > 0, total / np.maximum(n, 1), np.nan)


def join_texts(tree: Positions, used: Flags, texts: Texts, trees: int) -> Texts:
    """Return the different texts of each tree, in order of appearance, with "; " between."""
    texts_of_tree = np.full(trees, "", dtype=object)
    lines = np.flatnonzero(used & (texts != ""))
    pair = codes_of(tree[lines], texts[lines])
    lines = lines[np.unique(pair, return_index=True)[1]]
    several = np.bincount(tree[lines], minlength=trees)[tree[lines]] > 1
    texts_of_tree[tree[lines[~several]]] = texts[lines[~several]]
    for line in np.sort(lines[several]):
        before = texts_of_tree[tree[line]]
        texts_of_tree[tree[line]] = f"{before}; {texts[line]}" if before else texts[line]
    return texts_of_tree


def tree_count(setups: pd.DataFrame) -> int:
    """Return the number of trees."""
    return int(setups["tree_position"].max()) + 1 if len(setups) else 0


def _instruments(setups: pd.DataFrame, point: str) -> Positions:
    """Return a code of each set-up's instrument; one code for what was measured with the pole."""
    codes = codes_of(fold_column(setups["instrument"], identifier_key))
    if point != "base":
        return codes
    return np.where(setups["base_way"].to_numpy(dtype=object) == POLE, POLE_CODE, codes)
