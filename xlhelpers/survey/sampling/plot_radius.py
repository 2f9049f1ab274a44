"""The radius of a round plot for an area, level and on a slope.

A radius laid along the ground of a slope covers less level ground: the plot is an ellipse seen
from above. That is mended once: in the radius, which is lengthened until the level area is right,
or in the result, which is multiplied; never in both. A tape held level needs neither.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

Numbers = NDArray[np.float64]
Corrected = Literal["radius", "result"]


@dataclass(frozen=True)
class OnSlope:
    """What to do on plots of each slope; one of the two is always that of level ground.

    `radius` is to be laid along the ground [root of the unit of the area], `factor` multiplies
    every value per unit of area.
    """

    slope: Numbers
    radius: Numbers
    factor: Numbers
    corrected: Corrected


def radius_for_area(area: ArrayLike) -> Numbers:
    """Return the radius of a round plot.

    Parameters
    ----------
    area : array
        Level area [any unit of area, above 0].

    Returns
    -------
    ndarray
        Radius [root of that unit].
    """
    return np.asarray(np.sqrt(np.asarray(area, dtype=float) / np.pi))


def on_slope(area: float, slope: ArrayLike, corrected: Corrected) -> OnSlope:
    """Return radius and factor for plots that are laid along the ground of a slope.

    Parameters
    ----------
    area : float
        Level area that the plot is to have, above 0.
    slope : array
        Steepest slope of the plot [fraction, 0 or more].
    corrected : {"radius", "result"}
        Whether the radius is lengthened, by (1 + slope²)^¼, so that the ellipse seen from above
        has the area; or the radius is that of level ground and each value per unit of area is
        multiplied by (1 + slope²)^½.

    References
    ----------
    CommonStandExamUndated, AwfWikiUndated
    """
    steep = np.atleast_1d(np.asarray(slope, dtype=float))
    longer = np.sqrt(1 + steep**2)
    level = radius_for_area(area)
    one = np.ones(len(steep))
    if corrected == "radius":
        return OnSlope(steep, level * np.sqrt(longer), one, corrected)
    return OnSlope(steep, level * one, longer, corrected)
