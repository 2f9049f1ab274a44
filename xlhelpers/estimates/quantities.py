"""What is estimated: one record a quantity, its unit, and crown cover."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike

from xlhelpers.survey.setups.instruments import Values

Kind = Literal["total", "per area", "mean", "share"]
Population = Literal["all", "living", "dead"]
HECTARE_M2 = 10_000.0


@dataclass(frozen=True)
class Estimand:
    """One quantity.

    `column` is the trees' column that is added up ("" counts trees) and `lacking` what a tree
    without it lacks, in words. `quantity` names the unit in `fields.quantities`. A total is
    estimated as such and by area; a mean is the sum over the sum of the trees that have it.
    """

    name: str
    label: str
    kind: Literal["total", "mean"]
    population: Population
    quantity: str = "count"
    column: str = ""
    lacking: str = ""


def _mean(name: str, label: str, quantity: str, column: str, lacking: str) -> Estimand:
    return Estimand(name, label, "mean", "living", quantity, column, lacking)


def _total(name: str, label: str, quantity: str, column: str, lacking: str) -> Estimand:
    return Estimand(name, label, "total", "living", quantity, column, lacking)


ESTIMANDS = (
    Estimand("trees", "Trees", "total", "all"),
    Estimand("living_trees", "Living trees", "total", "living"),
    Estimand("dead_trees", "Dead trees", "total", "dead"),
    _total("basal_area", "Basal area, living trees", "basal area", "basal_area", "diameter"),
    Estimand(
        *("basal_area_with_dead", "Basal area with dead trees", "total", "all"),
        *("basal area", "basal_area", "diameter"),
    ),
    _total("crown_area", "Crown area", "crown area", "projection_area", "crown width"),
    _mean("mean_height", "Mean height", "length", "total_height", "height"),
    _mean("mean_crown_depth", "Mean crown depth", "length", "crown_depth", "crown depth"),
    _mean(
        *("mean_live_crown_ratio", "Mean live crown ratio", "percent"),
        *("live_crown_ratio", "live crown ratio"),
    ),
    _mean("mean_diameter", "Mean diameter", "diameter", "diameter", "diameter"),
    _mean("mean_crown_width", "Mean crown width", "length", "mean_width", "crown width"),
)
# shares and crown cover are made from the counts and from the crown area above
SHARE_DEAD = "share_dead"
SHARE_OF_TREES = "share_of_trees"
CROWN_COVER = "crown_cover"
CROWN_COVER_OVERLAP = "crown_cover_random_overlap"
LABELS = {
    **{estimand.name: estimand.label for estimand in ESTIMANDS},
    SHARE_DEAD: "Share dead",
    SHARE_OF_TREES: "Share of all trees",
    CROWN_COVER: "Crown cover, overlaps not removed",
    CROWN_COVER_OVERLAP: "Crown cover, if crowns overlap at random",
}


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
