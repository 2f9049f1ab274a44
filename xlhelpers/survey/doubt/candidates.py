"""The record of one supposed mistake, and the readings that it would put right.

A height read on a scale that was made for another distance is wrong by the ratio of the two, foot,
crown and eye alike. An instrument of a known kind has the scales of its kind; of an unknown one
every usual scale in its unit is possible.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from math import log
from typing import Any

import numpy as np
from numpy.typing import NDArray

from xlhelpers.measure.instruments import KINDS
from xlhelpers.survey.doubt.expected import Expected
from xlhelpers.survey.doubt.readings import Measured, Sheet
from xlhelpers.survey.doubt.robust import Numbers
from xlhelpers.survey.model import Survey
from xlhelpers.survey.setups.instruments import FIXED_SCALE, InstrumentTable
from xlhelpers.survey.typed.folding import Flags, Positions

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


def find_other_bases(table: InstrumentTable, unit: str) -> dict[str, Flags]:
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
    offered = [_list_scales_of_kind(kind, unit) for kind in table.kind]
    fixed = np.array([FIXED_SCALE in scales for scales in table.scales]) & np.isfinite(
        table.scale_distance
    )
    return {
        base_name(base): fixed
        & np.array([base in own for own in offered])
        & (table.scale_distance != base[0])
        for base in BASES
    }


def _list_scales_of_kind(kind: str, unit: str) -> frozenset[tuple[float, str]]:
    if not kind:
        return frozenset(base for base in BASES if base[1] == unit)
    return frozenset(
        (float(scale.base_distance), scale.unit)
        for scale in KINDS[kind].scales
        if scale.name == FIXED_SCALE and scale.base_distance
    )


# logarithm of the odds against a line as entered below which a candidate is not weighed
HOPELESS = -3.0


@dataclass(frozen=True)
class Doubtful:
    """The doubtful lines as entered, and what a supposition may look at.

    `has` tells for each scale which lines' instruments have it (all, where the instrument is not
    known), and for each base of a fixed-distance scale ("15 m") which have it beside their own of
    `scale_distance`; `above` and `below` are the distances of the neighbouring rows of the same
    plot (m), `stem_above` and `stem_below` their diameters (cm); `broad` marks the lines of
    broadleaf trees, `lacking` is how much likelier each line could be if a column were right,
    `elsewhere` the lines whose tree has a column of the tree typed on another line alone.
    """

    survey: Survey
    sheet: Sheet
    seen: Measured
    expected: Expected
    has: Mapping[str, Flags]
    scale_distance: Numbers
    above: Numbers
    below: Numbers
    stem_above: Numbers
    stem_below: Numbers
    broad: Flags
    lacking: Mapping[str, Numbers]
    elsewhere: Mapping[str, Flags]


@dataclass(frozen=True)
class Candidates:
    """Supposed lines: rows of the doubtful sheet, the cells that change, the share of the prior.

    `share` is the log of the part that each has of its mistake's prior: a mistake that could have
    come from many right values makes each of them less likely. `beyond` is by how much more than a
    line lacks a candidate may be the likelier.
    """

    rows: Positions
    changed: Mapping[str, NDArray[Any]]
    share: Numbers | float = 0.0
    beyond: float = 0.0


@dataclass(frozen=True)
class Mistake:
    """One kind of mistake.

    Parameters
    ----------
    id : str
        Stable.
    prior : float
        How often it is made, as a share of the lines; common practice, no source.
    suppose : callable
        Returns the candidates of the doubtful lines.
    words : str
        What happened, to go on from "Probably". ``{old}`` and ``{new}`` are the first changed
        cell, ``{who}`` the set-up or the crew, ``{length_unit}`` and ``{diameter_unit}`` the
        unit that the survey does not use.
    look : str
        A question after "Check the paper sheet."
    """

    id: str
    prior: float
    suppose: Callable[[Doubtful], Iterable[Candidates]]
    words: str
    look: str


@dataclass(frozen=True)
class Pool:
    """All candidates of all mistakes as one sheet: the doubtful row, the mistake, the log prior."""

    row: Positions
    mistake: Positions
    prior: Numbers
    sheet: Sheet


def candidates_of(
    mask: Flags, changed: Mapping[str, NDArray[Any]], share: float = 0.0, beyond: float = 0.0
) -> Candidates:
    """Return the candidates of the lines where a mask is true, from whole columns."""
    rows = np.flatnonzero(mask)
    columns = {name: column[rows] for name, column in changed.items()}
    return Candidates(rows, columns, share, beyond)


def lacking_of(doubtful: Doubtful, changed: Mapping[str, Any]) -> Numbers:
    """Return how much likelier the lines could be at the most if these columns were right."""
    return np.asarray(np.max([v for n, v in doubtful.lacking.items() if n in changed], axis=0))


def gather_candidates(doubtful: Doubtful, mistakes: Sequence[Mistake]) -> Pool:
    """Gather the candidates of all mistakes, but those that could not win if they fitted best."""
    rows, which, priors, parts = [], [], [], []
    for number, mistake in enumerate(mistakes):
        for one in mistake.suppose(doubtful):
            prior = log(mistake.prior) + np.broadcast_to(one.share, len(one.rows))
            keep = lacking_of(doubtful, one.changed)[one.rows] + prior + one.beyond > HOPELESS
            for name in doubtful.elsewhere.keys() & one.changed.keys():
                keep &= ~doubtful.elsewhere[name][one.rows]
            if not keep.any():
                continue
            rows.append(one.rows[keep])
            which.append(np.full(len(rows[-1]), number, dtype=np.int64))
            priors.append(prior[keep])
            parts.append({name: values[keep] for name, values in one.changed.items()})
    if not rows:
        nothing = np.empty(0, dtype=np.int64)
        return Pool(nothing, nothing, np.empty(0), doubtful.sheet.take(nothing))
    row = np.concatenate(rows)
    columns = {name: column[row] for name, column in doubtful.sheet.columns.items()}
    start = 0
    for own, changed in zip(rows, parts, strict=True):
        for name, values in changed.items():
            columns[name][start : start + len(own)] = values
        start += len(own)
    sheet = Sheet(doubtful.sheet.line[row], columns)
    return Pool(row, np.concatenate(which), np.concatenate(priors), sheet)
