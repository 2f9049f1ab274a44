"""The distances that fixed-distance scales are made for, and which of them an instrument may have.

A height read on a scale that was made for another distance is wrong by the ratio of the two, foot,
crown and eye alike. An instrument of a known kind has the scales of its kind; of an unknown one
every usual scale in its unit is possible.
"""

import numpy as np

from xlhelpers.measure.instruments import KINDS
from xlhelpers.survey.folding import Flags
from xlhelpers.survey.setup_instruments import FIXED_SCALE, InstrumentTable

# (distance, its unit) of every kind of instrument in the table of kinds
BASES: tuple[tuple[float, str], ...] = tuple(
    sorted(
        {
            (float(scale.base_distance), scale.unit)
            for kind in KINDS.values()
            for scale in kind.scales
            if scale.name == FIXED_SCALE and scale.base_distance
        },
        key=lambda base: (base[1], base[0]),
    )
)


def base_name(base: tuple[float, str]) -> str:
    """Return a base in words, such as "15 m"."""
    return f"{base[0]:g} {base[1]}"


def other_bases(table: InstrumentTable, unit: str) -> dict[str, Flags]:
    """Return for each base, by its name, which instruments may have its scale beside their own.

    Parameters
    ----------
    table : InstrumentTable
        The instruments.
    unit : str
        Unit of a fixed-distance scale where its kind does not say: that of the workbook.

    Returns
    -------
    dict
        One flag an entry of the table; none for the base that the instrument stands with.
    """
    offered = [_offered(kind, unit) for kind in table.kind]
    fixed = np.array([FIXED_SCALE in scales for scales in table.scales]) & np.isfinite(
        table.scale_distance
    )
    return {
        base_name(base): fixed
        & np.array([base in own for own in offered])
        & (table.scale_distance != base[0])
        for base in BASES
    }


def _offered(kind: str, unit: str) -> frozenset[tuple[float, str]]:
    if not kind:
        return frozenset(base for base in BASES if base[1] == unit)
    return frozenset(
        (float(scale.base_distance), scale.unit)
        for scale in KINDS[kind].scales
        if scale.name == FIXED_SCALE and scale.base_distance
    )
