"""Diameters and what follows from them: one stem, several stems of a tree, several trees.

Diameters are at breast height unless the record says otherwise. Which stems count (from which
smallest diameter) is for the survey to decide before it comes here.
"""

import numpy as np
from numpy.typing import ArrayLike

from xlhelpers.measure.arrays import Array, Numbers, arrays, result

__all__ = [
    "basal_area",
    "combined_diameter",
    "diameter_from_girth",
    "height_to_diameter",
    "quadratic_mean_diameter",
    "quadratic_mean_from_basal_area",
]
SQUARE_CENTIMETRES_PER_SQUARE_METRE = 10_000.0


@np.errstate(all="ignore")
def combined_diameter(diameters: ArrayLike) -> Numbers:
    """Diameter of one stem with the basal area of all stems of a tree together.

    The root of the sum of squares. Other rules exist (the largest plus half of the others) and
    give other numbers for the same stems; for height-to-diameter the largest stem is used.

    Parameters
    ----------
    diameters : array_like
        Diameters of the stems [any length unit, > 0], one tree along the last axis; a blank is
        no stem.

    Returns
    -------
    float or ndarray
        Combined diameter [same unit]; NaN where a tree has no stem or a diameter is not positive.

    Raises
    ------
    ReadingError
        If the rows of a table have different lengths.

    References
    ----------
    MultiStemUndated, root of the sum of squares
    """
    squares, stems = _squares_and_count(diameters)
    return result(np.sqrt(squares), stems > 0)


@np.errstate(all="ignore")
def quadratic_mean_diameter(diameters: ArrayLike) -> Numbers:
    """Diameter of the tree of mean basal area.

    The root of the mean square; never less than the arithmetic mean.

    Parameters
    ----------
    diameters : array_like
        Diameters of the trees [any length unit, > 0], one group along the last axis; blanks are
        left out.

    Returns
    -------
    float or ndarray
        Quadratic mean diameter [same unit]; NaN where a group is empty or a diameter is not
        positive.

    Raises
    ------
    ReadingError
        If the rows of a table have different lengths.

    References
    ----------
    LarsenUndated, quadratic mean diameter
    """
    squares, trees = _squares_and_count(diameters)
    return result(np.sqrt(squares / trees), trees > 0)


@np.errstate(all="ignore")
def quadratic_mean_from_basal_area(basal_area: ArrayLike, trees: ArrayLike) -> Numbers:
    """Quadratic mean diameter from a basal area and a number of trees on the same ground.

    Parameters
    ----------
    basal_area : array_like
        Basal area of all trees [m2, or m2 per unit of ground, > 0].
    trees : array_like
        Number of trees [count, or count per the same unit of ground, > 0].

    Returns
    -------
    float or ndarray
        Quadratic mean diameter [cm]; NaN where an input is missing or not positive.

    Raises
    ------
    ReadingError
        If the shapes do not fit together.

    References
    ----------
    LarsenUndated, quadratic mean diameter
    """
    area, count = arrays(basal_area, trees)
    square = area / count * SQUARE_CENTIMETRES_PER_SQUARE_METRE * 4 / np.pi
    return result(np.sqrt(square), (area > 0) & (count > 0))


@np.errstate(all="ignore")
def basal_area(diameter: ArrayLike) -> Numbers:
    """Area of a stem's cut at the height of its diameter.

    pi / 4 × d², for a round stem; a diameter from a girth overstates the area of any other.

    Parameters
    ----------
    diameter : array_like
        Diameter [cm, > 0].

    Returns
    -------
    float or ndarray
        Basal area [m2]; NaN where the diameter is missing or not positive.

    Raises
    ------
    ReadingError
        If the rows of a table have different lengths.

    References
    ----------
    SrefUndated, basal area table

    Examples
    --------
    >>> round(basal_area(40), 4)
    0.1257
    """
    (width,) = arrays(diameter)
    return result(np.pi / 4 * width**2 / SQUARE_CENTIMETRES_PER_SQUARE_METRE, width > 0)


@np.errstate(all="ignore")
def diameter_from_girth(girth: ArrayLike) -> Numbers:
    """Diameter of a round stem from its girth.

    Known bias: overstates the diameter of a stem that is not round.

    Parameters
    ----------
    girth : array_like
        Girth [any length unit, > 0].

    Returns
    -------
    float or ndarray
        Diameter [same unit]; NaN where the girth is missing or not positive.

    Raises
    ------
    ReadingError
        If the rows of a table have different lengths.

    References
    ----------
    Definition: girth over pi
    """
    (around,) = arrays(girth)
    return result(around / np.pi, around > 0)


@np.errstate(all="ignore")
def height_to_diameter(height: ArrayLike, diameter: ArrayLike) -> Numbers:
    """Height over diameter, both in one unit.

    A plain description for checks of plausibility. As a limit of failure for solitary trees it
    was proposed and not upheld by pulling tests, so it is no rating of a tree.

    Parameters
    ----------
    height : array_like
        Total height [m, > 0].
    diameter : array_like
        Diameter of the largest stem [cm, > 0].

    Returns
    -------
    float or ndarray
        Ratio [m per m]; NaN where an input is missing or not positive.

    Raises
    ------
    ReadingError
        If the shapes do not fit together.

    References
    ----------
    Definition: height over diameter
    Jillich2013, why it is no rating
    """
    tall, wide = arrays(height, diameter)
    return result(tall * 100 / wide, (tall > 0) & (wide > 0))


def _squares_and_count(diameters: ArrayLike) -> tuple[Array, Array]:
    """Sum of squares and number of the given diameters; NaN where one is not positive."""
    (given,) = arrays(diameters)
    given = np.atleast_1d(given)
    present = ~np.isnan(given)
    wrong = np.any(present & ~(given > 0), axis=-1)
    squares = np.sum(np.where(present, given, 0.0) ** 2, axis=-1)
    return np.where(wrong, np.nan, squares), np.asarray(present.sum(axis=-1), dtype=np.float64)
