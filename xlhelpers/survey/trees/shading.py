"""The share of light that crowns in leaf hold back, where somebody published it for a tree.

The figures of the English names are shares of the sky within the outline of mature crowns in
summer, those of the cultivars the shade at the dripline. They replace the factor of the survey
rules where the regression of leaf area allows them; on recorded leaf areas they do better than one
factor for all (see the trial that stands with the tests).
"""

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from xlhelpers.measure.leaf_area import VALID_RANGES
from xlhelpers.survey.setups.instruments import Texts, Values

SHADING: Mapping[str, float] = MappingProxyType(
    {
        # TregenzaSharplesUndated: 1 less the sky that is visible through the crown in summer
        "Quercus": 0.83,
        "Acer pseudoplatanus": 0.82,
        "Betula": 0.76,
        "Tilia": 0.89,
        "Fagus": 0.81,
        "Crataegus": 0.78,
        "Alnus": 0.76,
        "Fraxinus": 0.78,
        "Aesculus": 0.81,
        # GardnerUndated: shade of the foliated crown
        "Pyrus calleryana": 0.75,
        "Acer rubrum": 0.69,
        "Zelkova serrata": 0.61,
        "Gymnocladus dioicus": 0.60,
        "Gleditsia triacanthos": 0.56,
    }
)
"""Botanical name or genus -> share of light [fraction]; a species goes before its genus.

References
----------
TregenzaSharplesUndated, GardnerUndated
"""


def shading_of(botanical: Texts, rule: float) -> Values:
    """Return the shading factor of each tree: the published one, else that of the rules.

    Parameters
    ----------
    botanical : array of str
        Botanical names, "" unknown.
    rule : float
        The factor of the survey rules [fraction].

    Returns
    -------
    ndarray
        Factors [fraction]. A published one that is outside the range of the regression is not
        used.
    """
    least, most = VALID_RANGES["shading"]
    factors = {}
    for name in dict.fromkeys(map(str, botanical)):
        genus, _, rest = name.partition(" ")
        species = f"{genus} {rest.partition(' ')[0]}"
        published = SHADING.get(species, SHADING.get(genus, np.nan))
        factors[name] = published if least <= published <= most else rule
    return np.array([factors[str(name)] for name in botanical], dtype=np.float64)
