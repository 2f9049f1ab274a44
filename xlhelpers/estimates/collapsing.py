"""Strata with one plot, joined with another to see how plots vary: collapsed strata.

One plot does not show how much its stratum varies. Totals stay those of the strata as they are;
for the standard error alone the stratum is joined with the one nearest in size, which is chosen
without a look at the values. Where the two differ, the standard error is too large: the careful
side (Cochran 1977, section 5A.12). Where they do not, it is right on the average, however
differently the two were sampled.
"""

import numpy as np
from numpy.typing import ArrayLike

from xlhelpers.survey.setups.instruments import Values
from xlhelpers.survey.typed.folding import Positions


def join_lonely(plots: ArrayLike, sizes: ArrayLike, fractions: ArrayLike) -> Positions:
    """Return which strata are taken together for the standard error.

    Parameters
    ----------
    plots : array_like of int
        Plots of each stratum.
    sizes : array_like
        Area of each, or its number of plots [> 0].
    fractions : array_like
        Share of each that was sampled [0 to 1].

    Returns
    -------
    ndarray of int
        For each stratum the number of its group, from 0. A stratum with one plot joins
        the one nearest in size by ratio, the smallest first; what is wholly sampled neither joins
        nor is joined. Where there is nothing to join, it stays alone.

    References
    ----------
    Cochran1977, section 5A.12; HuangIsakiUndated
    """
    count, size = np.asarray(plots, dtype=np.int64), np.asarray(sizes, dtype=float)
    varies = np.asarray(fractions, dtype=float) < 1
    group = np.arange(len(count), dtype=np.int64)
    for at in np.argsort(size, kind="stable").tolist():
        others = np.flatnonzero(varies & (group != group[at]))
        if not varies[at] or count[group == group[at]].sum() != 1 or not len(others):
            continue
        nearest = others[np.argmin(np.abs(np.log(size[others] / size[at])))]
        group[group == group[at]] = group[nearest]
    return np.unique(group, return_inverse=True)[1].astype(np.int64)


def lost_by_the_rate(weight: Values, raised: Values, size: Values, group: Positions) -> Values:
    """Return by how much the squared residuals of each group fall short of the plots' variance.

    Residuals are taken about the rate of the group, in which a plot that stands for much land has
    much weight and so lies too near to it. For plots of one size and weight this is n / (n - 1).

    Parameters
    ----------
    weight : ndarray
        For each plot what one of its units stands for in the whole.
    raised : ndarray
        By what its residual is multiplied.
    size : ndarray
        Its area, or 1.
    group : ndarray of int
        Its group, from 0.

    Returns
    -------
    ndarray
        One factor a group; infinite or NaN where a group has one plot.

    References
    ----------
    Derived: the expectation of the squares where all plots of a group vary alike about one rate.
    """
    whole = np.bincount(group, weight * size)[group]
    squares = np.bincount(group, (weight / whole) ** 2)[group]
    left = 1 - 2 * size * weight / whole + size**2 * squares
    with np.errstate(all="ignore"):
        return np.asarray(np.bincount(group, raised**2) / np.bincount(group, raised**2 * left))
