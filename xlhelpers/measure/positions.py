"""Places on the globe from latitude and longitude in decimal degrees."""

import numpy as np
from numpy.typing import ArrayLike

from xlhelpers.measure.arrays import Numbers, arrays, result

__all__ = [
    "EARTH_RADIUS",
    "distance_between",
]
EARTH_RADIUS = 6_371_008.8
"""Mean radius of the earth [m], (2 a + b) / 3 of the WGS 84 ellipsoid."""


@np.errstate(all="ignore")
def distance_between(
    latitude: ArrayLike, longitude: ArrayLike, other_latitude: ArrayLike, other_longitude: ArrayLike
) -> Numbers:
    """Distance of two places along the ground, on a sphere.

    The haversine formula: 2 R arcsin √(sin²(Δφ/2) + cos φ₁ cos φ₂ sin²(Δλ/2)). The sphere in place
    of the ellipsoid costs up to 0.6 %. Longitudes may differ by whole turns.

    Parameters
    ----------
    latitude, longitude : array_like
        The first place, north and east + [degrees, latitude from -90 to 90].
    other_latitude, other_longitude : array_like
        The second place [degrees].

    Returns
    -------
    float or ndarray
        Distance [m]; NaN where an input is missing or a latitude is beyond a pole.

    References
    ----------
    Definition: length of an arc of a great circle

    Examples
    --------
    >>> round(distance_between(0, 0, 1, 0), 0)
    111195.0
    """
    degrees = arrays(latitude, longitude, other_latitude, other_longitude)
    possible = (np.abs(degrees[0]) <= 90) & (np.abs(degrees[2]) <= 90)
    one, east, other, other_east = (np.radians(each) for each in degrees)
    square = (
        np.sin((other - one) / 2) ** 2
        + np.cos(one) * np.cos(other) * np.sin((other_east - east) / 2) ** 2
    )
    return result(2 * EARTH_RADIUS * np.arcsin(np.sqrt(np.clip(square, 0, 1))), possible)
