"""Standard uncertainties of heights on leaning stems, by propagation.

As in ``uncertainty``, with the offset of the tip as one more input.
"""

import numpy as np
from numpy.typing import ArrayLike

from xlhelpers.measure.accuracy import (
    Accuracy,
    Parts,
    Sight,
    aim_radians,
    sight_fields,
    sum_parts,
    zero_and_distance,
)
from xlhelpers.measure.arrays import arrays

__all__ = [
    "of_lean",
    "of_point_on_lean",
]


@np.errstate(all="ignore")
def of_lean(sight: Sight, u_offset: ArrayLike, accuracy: Accuracy) -> Parts:
    """Parts for a leaning tip with its offset.

    The offset is taken as found once for all set-ups, so its part is common.

    Parameters
    ----------
    sight : Sight
        Distance, slopes and offset [see there].
    u_offset : array_like
        Standard uncertainty of the offset [unit of the distance, >= 0].
    accuracy : Accuracy
        How well they were read [see there].

    Returns
    -------
    Parts
        Common and reading part [unit of the distance]; NaN where an input is missing or
        impossible.

    Raises
    ------
    ReadingError
        If a scale's name is unknown, or the shapes do not fit together.

    References
    ----------
    JCGM2008, section 5.1.2
    """
    level, tip, foot, line, toward = sight_fields(sight)
    (by_offset,) = arrays(u_offset)
    zero, relative, fixed = zero_and_distance(accuracy)
    rise = tip - foot
    near = level - toward
    turning = near * (1 + tip**2) - level * (1 + foot**2) - level * line * rise
    common = (relative * level * rise, zero * turning, by_offset * tip)
    reading = (
        fixed * rise / np.sqrt(1 + line**2),
        aim_radians(tip, accuracy) * near * (1 + tip**2),
        aim_radians(foot, accuracy) * level * (1 + foot**2),
        aim_radians(line, accuracy) * level * line * rise,
    )
    return sum_parts(common, reading, (level > 0) & (near > 0) & (by_offset >= 0))


@np.errstate(all="ignore")
def of_point_on_lean(
    sight: Sight, tip_height: ArrayLike, u_offset: ArrayLike, accuracy: Accuracy
) -> Parts:
    """Parts for another point of a leaning stem, such as the crown base.

    The lean o / H is taken as one quantity, uncertain by the offset's uncertainty over H.

    Parameters
    ----------
    sight : Sight
        Distance, slopes and the tip's offset [see there].
    tip_height : array_like
        Height of the leaning tip [unit of the distance, > 0].
    u_offset : array_like
        Standard uncertainty of the offset [unit of the distance, >= 0].
    accuracy : Accuracy
        How well they were read [see there].

    Returns
    -------
    Parts
        Common and reading part [unit of the distance]; NaN where an input is missing or
        impossible.

    Raises
    ------
    ReadingError
        If a scale's name is unknown, or the shapes do not fit together.

    References
    ----------
    JCGM2008, section 5.1.2
    """
    level, point, foot, line, toward = sight_fields(sight)
    top, by_offset = arrays(tip_height, u_offset)
    zero, relative, fixed = zero_and_distance(accuracy)
    rise, lean = point - foot, toward / top
    shrinking = 1 + lean * point
    by_point = level * (1 + lean * foot) / shrinking**2 * (1 + point**2)
    by_foot = level * (1 + foot**2) / shrinking
    by_line = level * line * rise / shrinking
    common = (
        relative * level * rise / shrinking,
        zero * (by_point - by_foot - by_line),
        by_offset / top * level * rise * point / shrinking**2,
    )
    reading = (
        fixed * rise / np.sqrt(1 + line**2) / shrinking,
        aim_radians(point, accuracy) * by_point,
        aim_radians(foot, accuracy) * by_foot,
        aim_radians(line, accuracy) * by_line,
    )
    possible = (level > toward) & (level > 0) & (top > 0) & (shrinking > 0) & (by_offset >= 0)
    return sum_parts(common, reading, possible)
