"""Crown depth, live crown ratio, widths, area, volume and leaf area.

Every function gives NaN if one of its inputs is missing: whether one width may stand for two, or a
base just below the foot for the foot, is for the survey to decide and to say.
"""

import numpy as np
from numpy.typing import ArrayLike

from xlhelpers.measure.arrays import Numbers, arrays, result
from xlhelpers.measure.leaf_area import leaf_area
from xlhelpers.measure.solids import volume_over_area

__all__ = [
    "depth",
    "leaf_area",
    "mean_width",
    "projection_area",
    "ratio",
    "volume",
]
ROUNDING = 1e-9
"""A share that the rounding of sums of floats cannot reach."""


@np.errstate(all="ignore")
def depth(crown_top: ArrayLike, crown_base: ArrayLike) -> Numbers:
    """Depth of the living crown.

    Assumes heights of the highest living shoot and of the lowest living foliage of the connected
    crown. Definitions of the base differ between surveys by up to a fifth of the ratio; depths
    under different ones cannot be compared.

    Parameters
    ----------
    crown_top, crown_base : array_like
        Heights above the foot [any length unit, the top above the base].

    Returns
    -------
    float or ndarray
        Depth [same unit]; NaN where an input is missing or the top is not above the base.

    Raises
    ------
    ReadingError
        If the shapes do not fit together.

    References
    ----------
    DeYoungUndated, sections 5.3 and 5.7
    ToneyReeves2009, how far definitions differ

    Examples
    --------
    >>> depth(104, 24)
    80.0
    """
    top, base = arrays(crown_top, crown_base)
    return result(top - base, top > base)


@np.errstate(all="ignore")
def ratio(crown_top: ArrayLike, crown_base: ArrayLike, total_height: ArrayLike) -> Numbers:
    """Live crown ratio: crown depth over total height.

    The uncompacted ratio: no branch is moved to fill a gap. Compacted ratios of the western US
    are smaller by 0.17 on average.

    Parameters
    ----------
    crown_top, crown_base : array_like
        Heights above the foot [any length unit, the top above the base].
    total_height : array_like
        Height of the tip, living or dead [same unit, > 0, at least the crown top].

    Returns
    -------
    float or ndarray
        Ratio [fraction, above 0 and at most 1]; NaN where an input is missing, the top is not
        above the base, the crown top is above the tip or the base below the foot so far that
        the ratio would pass 1.

    Raises
    ------
    ReadingError
        If the shapes do not fit together.

    References
    ----------
    DeYoungUndated, section 5.7, tree a
    ToneyReeves2009, uncompacted and compacted ratios
    """
    top, base, total = arrays(crown_top, crown_base, total_height)
    share = (top - base) / total
    reaching = total * (1 + ROUNDING)
    possible = (top > base) & (total > 0) & (top <= reaching) & (share <= 1 + ROUNDING)
    return result(np.minimum(share, 1.0), possible)


@np.errstate(all="ignore")
def mean_width(width_1: ArrayLike, width_2: ArrayLike) -> Numbers:
    """Arithmetic mean of two crown widths, the widest and the one at right angles to it.

    Known bias: a circle on this mean overstates the area of an ellipse, by 4 % for widths of 8
    and 12; ``projection_area`` avoids that.

    Parameters
    ----------
    width_1, width_2 : array_like
        Crown widths [any length unit, > 0].

    Returns
    -------
    float or ndarray
        Mean width [same unit]; NaN where a width is missing or not positive.

    Raises
    ------
    ReadingError
        If the shapes do not fit together.

    References
    ----------
    AnuCodeUndated, section 2.3.1
    ZhangEtAl2024, means of axes compared
    """
    one, two = arrays(width_1, width_2)
    return result((one + two) / 2, (one > 0) & (two > 0))


@np.errstate(all="ignore")
def projection_area(width_1: ArrayLike, width_2: ArrayLike) -> Numbers:
    """Ground area under the crown, as an ellipse on its two widths.

    pi / 4 × w1 × w2. Known bias: understates the area of lopsided crowns.

    Parameters
    ----------
    width_1, width_2 : array_like
        Crown widths, the widest and the one at right angles [any length unit, > 0].

    Returns
    -------
    float or ndarray
        Area [square of that unit]; NaN where a width is missing or not positive.

    Raises
    ------
    ReadingError
        If the shapes do not fit together.

    References
    ----------
    ZhangEtAl2024, means of axes compared
    """
    one, two = arrays(width_1, width_2)
    return result(np.pi / 4 * one * two, (one > 0) & (two > 0))


@np.errstate(all="ignore")
def volume(shape: ArrayLike, width: ArrayLike, depth: ArrayLike) -> Numbers:
    """Volume of a round crown taken as a solid.

    factor × pi / 4 × width² × depth. For a crown with two widths use the square root of their
    product, or ``solids.volume_over_area`` with the projection area. Bias: see there.

    Parameters
    ----------
    shape : str or array_like of str
        Names of solids [one of ``solids.SOLIDS``, or blank].
    width : array_like
        Crown width [any length unit, > 0].
    depth : array_like
        Crown depth [same unit, > 0].

    Returns
    -------
    float or ndarray
        Volume [cube of that unit]; NaN where an input is missing or not positive.

    Raises
    ------
    ReadingError
        If a solid's name is unknown, or the shapes do not fit together.

    References
    ----------
    ZhuKleinnNolke2021, solids of revolution

    Examples
    --------
    >>> round(volume("cone", 8, 10), 3)
    167.552
    """
    return volume_over_area(shape, projection_area(width, width), depth)
