"""Plots chosen at random from a list of places, and the radius of a round plot.

Each place gets a number from the seed and its own name alone; in each stratum the smallest are
chosen. The order of rows, other places and the program's version do not matter, and a larger
sample of the same seed contains the smaller one.

A radius laid along the ground of a slope covers less level ground: the plot is an ellipse seen
from above. This is corrected once: in the radius, which is lengthened until the level area is
right, or in the result, which is multiplied; never in both. A tape held level needs neither.
"""

import hashlib
from collections.abc import Mapping, Sequence
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike, NDArray

from xlhelpers.survey.typed.folding import fold
from xlhelpers.survey.typed.words import identifier_key


def draw_places(
    names: Sequence[str], strata: Sequence[str], counts: Mapping[str, int], seed: int
) -> pd.DataFrame:
    """Draw places at random, without putting back.

    Parameters
    ----------
    names : sequence of str
        What names each place; no two alike.
    strata : sequence of str
        The stratum of each place.
    counts : mapping
        Plots to draw of each stratum; a stratum that is not named gets none.
    seed : int
        The same seed draws the same places.

    Returns
    -------
    DataFrame
        `place` (position in `names`), `stratum` and `drawn` (1, 2, 3 ... in the order drawn in
        its stratum), in that order; fewer than asked for where a stratum has no more.
    """
    wanted = {fold(name): (name, count) for name, count in counts.items()}
    listed: dict[str, list[tuple[bytes, int]]] = {key: [] for key in wanted}
    for at, (name, stratum) in enumerate(zip(names, strata, strict=True)):
        key = fold(stratum)
        if key in listed:
            text = f"{seed}\0{identifier_key(name)}"
            listed[key].append((hashlib.sha256(text.encode()).digest(), at))
    rows = [
        (at, wanted[key][0], number)
        for key, ranked in listed.items()
        for number, (_, at) in enumerate(sorted(ranked)[: wanted[key][1]], 1)
    ]
    return pd.DataFrame(rows, columns=["place", "stratum", "drawn"])


Numbers = NDArray[np.float64]
Corrected = Literal["radius", "result"]


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


def on_slope(area: float, slope: ArrayLike, corrected: Corrected) -> tuple[Numbers, Numbers]:
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

    Returns
    -------
    tuple of ndarray
        Radius to lay along the ground [root of the unit of the area], and the factor of every
        value per unit of area; one of the two is that of level ground.

    References
    ----------
    CommonStandExamUndated, AwfWikiUndated
    """
    longer = np.sqrt(1 + np.atleast_1d(np.asarray(slope, dtype=float)) ** 2)
    level, one = radius_for_area(area), np.ones(len(longer))
    if corrected == "radius":
        return level * np.sqrt(longer), one
    return level * one, longer
