"""Crowns measured as four radii from the stem, each at right angles to the next.

The radii run to the crown's edge in turn: north, east, south, west, or any four directions at right
angles to each other. Between two of them the edge is taken as a quarter of an ellipse.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from xlhelpers.measure.arrays import Array, Numbers, arrays, result

__all__ = [
    "area_from_radii",
    "area_from_radii_uncertainty",
    "mean_width_from_radii",
    "mean_width_from_radii_uncertainty",
    "offset_from_radii",
    "offset_from_radii_uncertainty",
]


def _radii(
    north: ArrayLike, east: ArrayLike, south: ArrayLike, west: ArrayLike
) -> tuple[Array, NDArray[np.bool_]]:
    """Return the four radii as rows, and where they make a crown: none negative, not all 0."""
    radii = np.stack(np.broadcast_arrays(*arrays(north, east, south, west)))
    return radii, np.asarray((radii >= 0).all(axis=0) & (radii > 0).any(axis=0))


@np.errstate(all="ignore")
def mean_width_from_radii(
    north: ArrayLike, east: ArrayLike, south: ArrayLike, west: ArrayLike
) -> Numbers:
    """Mean crown width from four radii: half their sum.

    The mean of the two widths that the radii make, north plus south and east plus west.

    Parameters
    ----------
    north, east, south, west : array_like
        Level distances from the centre of the stem to the crown's edge [any length unit, >= 0; 0
        where the crown does not reach past the stem].

    Returns
    -------
    float or ndarray
        Mean width [same unit]; NaN where a radius is missing or negative, or all are 0.

    Raises
    ------
    ReadingError
        If the shapes do not fit together.

    References
    ----------
    Identity

    Examples
    --------
    >>> mean_width_from_radii(4, 3, 2, 5)
    7.0
    """
    radii, possible = _radii(north, east, south, west)
    return result(radii.sum(axis=0) / 2, possible)


@np.errstate(all="ignore")
def mean_width_from_radii_uncertainty(u_radius: ArrayLike) -> Numbers:
    """Standard uncertainty of ``mean_width_from_radii``, from that of one radius.

    Assumes that the errors of the four radii are independent and equally large. Half the sum of
    four then has the uncertainty of one.

    Parameters
    ----------
    u_radius : array_like
        Standard uncertainty of one radius [any length unit, >= 0].

    Returns
    -------
    float or ndarray
        Standard uncertainty [same unit]; NaN where it is missing or negative.

    References
    ----------
    Identity
    """
    (u,) = arrays(u_radius)
    return result(u, u >= 0)


@np.errstate(all="ignore")
def area_from_radii(
    north: ArrayLike, east: ArrayLike, south: ArrayLike, west: ArrayLike
) -> Numbers:
    """Ground area under a crown, as four quarters of ellipses.

    pi / 4 × (n e + e s + s w + w n). The sum is (n + s) (e + w), so the area is that of the ellipse
    on the two widths, wherever the stem is. What the radii add is where the crown is.

    Parameters
    ----------
    north, east, south, west : array_like
        Level distances from the centre of the stem to the crown's edge [any length unit, >= 0].

    Returns
    -------
    float or ndarray
        Area [square of that unit]; NaN where a radius is missing or negative, or all are 0.

    Raises
    ------
    ReadingError
        If the shapes do not fit together.

    References
    ----------
    Identity

    Examples
    --------
    >>> round(area_from_radii(4, 4, 4, 4), 3)
    50.265
    """
    radii, possible = _radii(north, east, south, west)
    quarters = radii * np.roll(radii, -1, axis=0)
    return result(np.pi / 4 * quarters.sum(axis=0), possible)


@np.errstate(all="ignore")
def area_from_radii_uncertainty(
    north: ArrayLike, east: ArrayLike, south: ArrayLike, west: ArrayLike, u_radius: ArrayLike
) -> Numbers:
    """Standard uncertainty of ``area_from_radii``, from that of one radius.

    Each radius moves the area by pi / 4 times the width across it. Assumes independent errors,
    equally large; says nothing about how far a crown is from four quarters of ellipses.

    Parameters
    ----------
    north, east, south, west : array_like
        Level distances from the centre of the stem to the crown's edge [any length unit, >= 0].
    u_radius : array_like
        Standard uncertainty of one radius [same unit, >= 0].

    Returns
    -------
    float or ndarray
        Standard uncertainty [square of that unit]; NaN where an input is missing or negative.

    Raises
    ------
    ReadingError
        If the shapes do not fit together.

    References
    ----------
    Identity
    """
    radii, possible = _radii(north, east, south, west)
    (u,) = arrays(u_radius)
    one, other = radii[0] + radii[2], radii[1] + radii[3]
    spread = np.pi / 4 * u * np.sqrt(2.0) * np.hypot(one, other)
    return result(spread, possible & (u >= 0))


@np.errstate(all="ignore")
def offset_from_radii(
    north: ArrayLike, east: ArrayLike, south: ArrayLike, west: ArrayLike
) -> Numbers:
    """How far the centre of a crown is from its stem.

    The centre of the crown is half-way along each of its two widths: (east - west) / 2 and
    (north - south) / 2 from the stem.

    Parameters
    ----------
    north, east, south, west : array_like
        Level distances from the centre of the stem to the crown's edge [any length unit, >= 0].

    Returns
    -------
    float or ndarray
        Level distance [same unit, >= 0]; NaN where a radius is missing or negative, or all are 0.

    Raises
    ------
    ReadingError
        If the shapes do not fit together.

    References
    ----------
    Identity

    Examples
    --------
    >>> offset_from_radii(8, 7, 0, 1)
    5.0
    """
    radii, possible = _radii(north, east, south, west)
    return result(np.hypot(radii[1] - radii[3], radii[0] - radii[2]) / 2, possible)


@np.errstate(all="ignore")
def offset_from_radii_uncertainty(u_radius: ArrayLike) -> Numbers:
    """Standard uncertainty of ``offset_from_radii``, from that of one radius.

    Each of the two parts has the uncertainty of one radius over the root of 2, and so has the
    distance, whatever its direction. An offset smaller than about two of these may be none.

    Parameters
    ----------
    u_radius : array_like
        Standard uncertainty of one radius [any length unit, >= 0].

    Returns
    -------
    float or ndarray
        Standard uncertainty [same unit]; NaN where it is missing or negative.

    References
    ----------
    Identity
    """
    (u,) = arrays(u_radius)
    return result(u / np.sqrt(2.0), u >= 0)
