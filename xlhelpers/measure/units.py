"""Exact conversions of length, area and volume, by name.

The foot is the international foot of 0.3048 m; all other factors follow from it and from the
definitions 1 ft = 12 in and 1 acre = 43,560 square feet.
"""

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from xlhelpers.errors import ReadingError
from xlhelpers.measure.arrays import Numbers, arrays, result

__all__ = [
    "AREAS",
    "LENGTHS",
    "VOLUMES",
    "convert",
]
METRES_PER_FOOT = 0.3048
LENGTHS: Mapping[str, float] = MappingProxyType(
    {"m": 1.0, "cm": 0.01, "mm": 0.001, "ft": METRES_PER_FOOT, "in": 0.0254}
)
"""Metres in one unit of length."""
AREAS: Mapping[str, float] = MappingProxyType(
    {
        "m2": 1.0,
        "ha": 10_000.0,
        "ft2": METRES_PER_FOOT**2,
        "acre": 4046.8564224,
    }
)
"""Square metres in one unit of area."""
VOLUMES: Mapping[str, float] = MappingProxyType({"m3": 1.0, "ft3": METRES_PER_FOOT**3})
"""Cubic metres in one unit of volume."""
QUANTITIES = (LENGTHS, AREAS, VOLUMES)


@np.errstate(all="ignore")
def convert(values: ArrayLike, from_unit: str, to_unit: str) -> Numbers:
    """Convert lengths, areas or volumes from one unit to another.

    The factors are exact by definition, so there is no bias.

    Parameters
    ----------
    values : array_like
        Numbers to convert [``from_unit``]; any sign.
    from_unit, to_unit : str
        Names of units of one quantity [m, cm, mm, ft, in; m2, ha, ft2, acre; m3, ft3].

    Returns
    -------
    float or ndarray
        The same quantities [``to_unit``]; NaN where a value is missing.

    Raises
    ------
    ReadingError
        If a unit is unknown, or the two do not measure the same quantity.

    References
    ----------
    NIST2008, appendix B (the foot, the inch and the acre)

    Examples
    --------
    >>> round(convert(4.5, "ft", "m"), 4)
    1.3716
    """
    (given,) = arrays(values)
    for factors in QUANTITIES:
        if from_unit in factors and to_unit in factors:
            if from_unit == to_unit:
                return result(given)
            return result(given * factors[from_unit] / factors[to_unit])
    known = "; ".join(", ".join(factors) for factors in QUANTITIES)
    raise ReadingError(
        f"{from_unit!r} cannot be converted to {to_unit!r}; known units, by quantity: {known}"
    )
