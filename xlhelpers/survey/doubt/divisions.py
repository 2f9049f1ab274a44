"""Which divisions numbers are typed in: whole ones, halves, tenths or finer ones.

Where all readings are whole, a decimal speaks against a line as entered, and against a correction
that leaves one or makes one. The shares are those of one person's distances, of one instrument's
readings on one scale, of all diameters and of all widths; few numbers leave the usual shares.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from xlhelpers.survey.doubt.robust import Numbers
from xlhelpers.survey.typed.folding import Positions

WHOLE, HALF, TENTH, FINER = range(4)
DIVISIONS = 4
# how many of a hundred equally spaced numbers belong to each division and to no coarser one
OF_HUNDRED = np.array([1.0, 1.0, 8.0, 90.0])
# usual shares of the divisions by the step that a scale is read to
USUAL: Mapping[float, tuple[float, float, float, float]] = {
    1.0: (0.96, 0.015, 0.02, 0.005),
    0.5: (0.49, 0.47, 0.035, 0.005),
    0.1: (0.12, 0.10, 0.76, 0.02),
}
USUAL_LENGTHS = (0.40, 0.12, 0.46, 0.02)
# so many numbers the usual shares count as
WEIGHT = 6.0
# shares of what is typed by a mistake nobody knows of
UNKNOWN = np.log(np.array([0.5, 0.1, 0.35, 0.05]) * 100 / OF_HUNDRED)


def find_division(values: Numbers) -> Positions:
    """Return the coarsest division that each typed number belongs to; `FINER` for a blank."""
    hundredths = np.abs(np.nan_to_num(values, nan=0.001)) * 100

    def fits(step: float) -> NDArray[np.bool_]:
        left = hundredths / step
        return np.asarray(np.abs(left - np.round(left)) < 1e-4)

    return np.where(fits(100), WHOLE, np.where(fits(50), HALF, np.where(fits(10), TENTH, FINER)))


@dataclass(frozen=True)
class Divisions:
    """The divisions of one column of typed numbers.

    `values` are those of the lines, `division` and `group` theirs, `entered` their log densities;
    `counts` are the numbers of each group by division, `usual` its usual shares.
    """

    values: Numbers
    division: Positions
    group: Positions
    counts: Numbers
    usual: Numbers

    @np.errstate(all="ignore")
    def log_density(self, line: Positions, values: Numbers) -> Numbers:
        """Return the log density of numbers on a line, by the other lines, against equal ones.

        0 for a blank: it says nothing.
        """
        density = self.entered[line]
        at = np.flatnonzero((values != self.values[line]) & ~np.isnan(values))
        density[at] = self._weigh(line[at], values[at])
        return np.where(np.isnan(values), 0.0, density)

    @cached_property
    def entered(self) -> Numbers:
        """Return the log densities of the numbers as entered."""
        return self._weigh(np.arange(len(self.values)), self.values)

    def _weigh(self, line: Positions, values: Numbers) -> Numbers:
        division = find_division(values)
        own, group = self.division[line], self.group[line]
        counted = np.isfinite(self.values[line])
        number = self.counts.sum(axis=1)[group] - counted
        same = self.counts[group, division] - (counted & (own == division))
        share = (same + WEIGHT * self.usual[group, division]) / (number + WEIGHT)
        return np.asarray(np.log(share * 100 / OF_HUNDRED[division]))

    @np.errstate(all="ignore")
    def best(self, line: Positions) -> Numbers:
        """Return the greatest log density that a number on a line may have; 0 for a blank."""
        share = (self.counts + WEIGHT * self.usual) / (
            self.counts.sum(axis=1, keepdims=True) + WEIGHT
        )
        best = np.max(np.log(share * 100 / OF_HUNDRED), axis=1)
        return np.where(np.isnan(self.values[line]), 0.0, best[self.group[line]])


def learn_divisions(values: Numbers, group: Positions, usual: Numbers) -> Divisions:
    """Learn the divisions of a column.

    Parameters
    ----------
    values : ndarray
        Numbers as typed, in the typed unit, NaN where there is none.
    group : ndarray of int
        Whose each is, 0 to the number of groups - 1.
    usual : ndarray
        Usual shares of each group (group x division).

    Returns
    -------
    Divisions
        Of every line.
    """
    division, known = find_division(values), np.isfinite(values)
    flat = np.bincount(group[known] * DIVISIONS + division[known], minlength=len(usual) * DIVISIONS)
    return Divisions(values, division, group, flat.reshape(-1, DIVISIONS).astype(float), usual)
