"""The record of one supposed mistake, and of the readings that it would put right."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from math import log
from typing import Any

import numpy as np
from numpy.typing import NDArray

from xlhelpers.survey.doubt.expected import Expected
from xlhelpers.survey.doubt.readings import Measured, Sheet
from xlhelpers.survey.doubt.robust import Numbers
from xlhelpers.survey.folding import Flags, Positions
from xlhelpers.survey.model import Survey

# logarithm of the odds against a line as keyed below which a candidate is not weighed
HOPELESS = -3.0


@dataclass(frozen=True)
class Doubtful:
    """The doubtful lines as keyed, and what a supposition may look at.

    `has` tells for each scale which lines' instruments have it (all, where the instrument is not
    known), and for each base of a fixed-distance scale ("15 m") which have it beside their own of
    `scale_distance`; `above` and `below` are the distances of the neighbouring rows of the same
    plot (m); `broad` marks the lines of broadleaf trees, `lacking` is how much likelier each line
    could be.
    """

    survey: Survey
    sheet: Sheet
    seen: Measured
    expected: Expected
    has: Mapping[str, Flags]
    scale_distance: Numbers
    above: Numbers
    below: Numbers
    broad: Flags
    lacking: Numbers


@dataclass(frozen=True)
class Candidates:
    """Supposed lines: rows of the doubtful sheet, the cells that change, the share of the prior.

    `share` is the log of the part that each has of its mistake's prior: a mistake that could have
    come from many right values makes each of them less likely.
    """

    rows: Positions
    changed: Mapping[str, NDArray[Any]]
    share: Numbers | float = 0.0


@dataclass(frozen=True)
class Mistake:
    """One kind of mistake.

    Parameters
    ----------
    id : str
        Stable.
    words : str
        What would then be true; ``{old}`` and ``{new}`` stand for the first changed cell.
    look : str
        What to look at, after "Look at the paper sheet:".
    prior : float
        How often it is made, as a share of the lines.
    basis : str
        What the prior rests on.
    suppose : callable
        Returns the candidates of the doubtful lines.
    """

    id: str
    words: str
    look: str
    prior: float
    basis: str
    suppose: Callable[[Doubtful], Sequence[Candidates]]


@dataclass(frozen=True)
class Pool:
    """All candidates of all mistakes as one sheet: the doubtful row, the mistake, the log prior."""

    row: Positions
    mistake: Positions
    prior: Numbers
    sheet: Sheet


def where(mask: Flags, changed: Mapping[str, Numbers], share: float = 0.0) -> Candidates:
    """Return the candidates of the lines where a mask is true, from whole columns."""
    rows = np.flatnonzero(mask)
    return Candidates(rows, {name: column[rows] for name, column in changed.items()}, share)


def pool(doubtful: Doubtful, mistakes: Sequence[Mistake]) -> Pool:
    """Gather the candidates of all mistakes, but those that could not win if they fitted best."""
    rows, which, priors, parts = [], [], [], []
    for number, mistake in enumerate(mistakes):
        for one in mistake.suppose(doubtful):
            prior = log(mistake.prior) + np.broadcast_to(one.share, len(one.rows))
            keep = doubtful.lacking[one.rows] + prior > HOPELESS
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
