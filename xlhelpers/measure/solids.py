"""Bodies that stand for a crown: their volume over the area of their widest cut.

All have one axis upright. An ellipsoid and a half-ellipsoid of the same depth and width have the
same volume; they differ in where the widest cut lies.
"""

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike

from xlhelpers.measure.arrays import Numbers, arrays, fit_together, name_column, result

__all__ = [
    "SOLIDS",
    "volume_over_area",
]
SOLIDS: Mapping[str, float] = MappingProxyType(
    {
        "cylinder": 1.0,
        "ellipsoid": 2 / 3,
        "half-ellipsoid": 2 / 3,
        "paraboloid": 1 / 2,
        "cone": 1 / 3,
        "neiloid": 1 / 4,
    }
)
"""Volume as a share of widest area times depth."""


@np.errstate(all="ignore")
def volume_over_area(shape: ArrayLike, area: ArrayLike, depth: ArrayLike) -> Numbers:
    """Volume of a solid from the area of its widest cut and its depth.

    factor × area × depth. Assumes a crown that fills the outline of the solid; real crowns have
    gaps, and the choice of the solid alone can halve the result.

    Parameters
    ----------
    shape : str or array_like of str
        Names of solids [one of ``SOLIDS``, or blank].
    area : array_like
        Area of the widest cut [square of any length unit, > 0].
    depth : array_like
        Depth along the upright axis [that length unit, > 0].

    Returns
    -------
    float or ndarray
        Volume [cube of that length unit]; NaN where an input is missing or not positive.

    Raises
    ------
    ReadingError
        If a solid's name is unknown, or the shapes do not fit together.

    References
    ----------
    ZhuKleinnNolke2021, solids of revolution
    """
    surface, length = arrays(area, depth)
    names = name_column(shape, SOLIDS, "solid")
    fit_together(surface, length, names)
    factor = np.full(names.shape, np.nan)
    for name, share in SOLIDS.items():
        factor = np.where(names == name, share, factor)
    return result(factor * surface * length, (surface > 0) & (length > 0))
