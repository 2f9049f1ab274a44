"""Designs of textbook examples: plots drawn from strata of a stated size."""

import numpy as np
from numpy.typing import ArrayLike

from xlhelpers.estimates.design import Design


def make_design(
    size: ArrayLike,
    total_size: ArrayLike,
    stratum: ArrayLike | None = None,
    possible: ArrayLike | None = None,
) -> Design:
    """Return the design of plots with the usual finite-population correction.

    Parameters
    ----------
    size : array_like
        Size of each plot; 1 for each where plots are counted.
    total_size : array_like
        Size of each stratum; one number without strata.
    stratum : array_like of int, optional
        Stratum of each plot, from 0. Without it there is one stratum.
    possible : array_like, optional
        How many plots each stratum could hold. The sampled fraction is that of plots where this
        is known, otherwise that of the size.
    """
    sizes = np.asarray(size, dtype=float)
    totals = np.atleast_1d(np.asarray(total_size, dtype=float))
    codes = np.zeros(len(sizes), dtype=np.int64) if stratum is None else np.asarray(stratum)
    by_size = np.bincount(codes, sizes, minlength=len(totals)) / totals
    counted = np.full(len(totals), np.nan) if possible is None else np.atleast_1d(possible)
    by_count = np.bincount(codes, minlength=len(totals)) / counted.astype(float)
    fraction = np.where(np.isfinite(by_count), by_count, by_size)
    fraction = np.clip(np.nan_to_num(fraction), 0.0, 1.0)
    return Design(codes.astype(np.int64), sizes, totals, fraction)
