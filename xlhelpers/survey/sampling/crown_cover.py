"""Crown cover from summed crowns, and what overlaps at random would leave of it."""

import numpy as np
from numpy.typing import ArrayLike

from xlhelpers.survey.setup_instruments import Values


def cover_with_random_overlap(summed: ArrayLike) -> Values:
    """Return the share of the ground under crowns that lie at random.

    A point of the ground stays open with the chance exp(-c) where crowns with the summed area c
    per area of ground lie independently and evenly at random. Trees in clumps cover less than
    this, trees planted apart in rows more.

    Parameters
    ----------
    summed : array_like
        Summed crown area over land area [fraction, >= 0; above 1 where crowns overlap a lot].

    Returns
    -------
    ndarray
        Fraction, below 1; NaN where missing.

    References
    ----------
    Robbins1944
    """
    return np.asarray(-np.expm1(-np.asarray(summed, dtype=float)))


def slope_of_cover(summed: ArrayLike) -> Values:
    """Return how fast the cover with random overlap grows with the summed crowns, exp(-c)."""
    return np.asarray(np.exp(-np.asarray(summed, dtype=float)))
