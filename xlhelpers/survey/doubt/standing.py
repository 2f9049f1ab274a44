"""How far from the tree people stand: near some share of its height, or at a few set distances.

Some crews pace out 15, 20 or 30 m whatever the tree, and a fixed-distance scale is used at the
scale's own distance. Such a distance is then one of a set. What is learnt is how often each value
is used and the heights that it goes with. All other distances lie about a line on ln height.
"""

from dataclasses import dataclass
from math import lgamma, log, pi

import numpy as np

from xlhelpers.survey.doubt.robust import (
    TO_STANDARD_DEVIATION,
    Numbers,
    group_lines,
    group_medians,
    group_spreads,
)
from xlhelpers.survey.typed.folding import Flags, Positions, codes_of

# a value is one of the set from this share of a person's lines on, and from so many lines
SHARE_OF_SET, LINES_OF_SET = 0.08, 3
# more than this share is never of the set alone; from so great a share on it is a habit
MOST_OF_SET, MANY_OF_SET = 0.93, 0.3
# anybody may stand anywhere from half a height to two heights away: share, middle, spread
ANYWHERE, MIDDLE_ANYWHERE, SPREAD_ANYWHERE = 0.12, 0.1, 0.45
# so many lines the usual distance counts as: as far as the tree is high, and its spread
USUAL_WEIGHT, USUAL_SPREAD, LEAST_SPREAD = 8.0, 0.35, 0.08
# so many lines the heights of all count as beside those at one value, and the least spread
HEIGHT_WEIGHT, LEAST_HEIGHT_SPREAD = 4.0, 0.15
# heights at one value speak for or against it by so much at most, in logarithms
MOST_FOR_HEIGHT = 2.0
FREEDOM = 5.0
_CONSTANT = lgamma((FREEDOM + 1) / 2) - lgamma(FREEDOM / 2) - 0.5 * log(FREEDOM * pi)


@dataclass(frozen=True)
class Standing:
    """Where the people of a survey stand.

    ln level distance = `level` + `rise` x ln height, within `spread`, each by line. The set:
    `group` of each line, `typed` the value it was typed with (in hundredths), and for the sorted
    `keys` of group and value the number of lines, and level and spread of their ln heights;
    `number` of lines and ln heights of each group, `in_set` the share of its lines at a distance of
    the set and `most` that at the most frequent one.
    """

    level: Numbers
    rise: float
    spread: Numbers
    group: Positions
    typed: Positions
    counted: Flags
    keys: Positions
    count: Numbers
    height: Numbers
    height_spread: Numbers
    number: Numbers
    in_set: Numbers
    most: Numbers
    group_height: Numbers
    group_spread: Numbers

    @np.errstate(all="ignore")
    def log_density(
        self, line: Positions, distance: Numbers, away: Numbers, height: Numbers, divisions: Numbers
    ) -> tuple[Numbers, Flags]:
        """Return the log density of distances against equally likely hundredths, and if of the set.

        Parameters
        ----------
        line : ndarray of int
            The lines.
        distance : ndarray
            Typed distances, in hundredths of the typed unit.
        away : ndarray
            How far their logarithms are from the line of the usual ones.
        height : ndarray
            ln of the height that each goes with.
        divisions : ndarray
            Log density of the distances' divisions.
        """
        group = self.group[line]
        place, there = self._find(group, distance)
        own = self.counted[line]
        number = np.maximum(self.number[group] - own, 1)
        same = own & (self.typed[line] == np.round(np.nan_to_num(distance)))
        count = np.where(there, self.count[place] - same, 0.0)
        share = np.where(count >= LINES_OF_SET - 1, count / number, 0.0)
        of_set = share >= SHARE_OF_SET
        goes = _log_t(height - self.height[place], self.height_spread[place])
        goes = goes - _log_t(height - self.group_height[group], self.group_spread[group])
        fits = np.clip(np.nan_to_num(goes), -MOST_FOR_HEIGHT, MOST_FOR_HEIGHT)
        with np.errstate(divide="ignore"):
            fixed = np.log(np.where(of_set, share, 0.0)) + fits
        rest = (1 - self.in_set[group]) * (1 - ANYWHERE)
        free = np.logaddexp(
            np.log(rest) + _log_t(away, self.spread[line]),
            log(ANYWHERE) + _log_t(self._ratio(line, away, height), SPREAD_ANYWHERE),
        )
        with np.errstate(all="ignore"):
            free = free - np.log(distance) + divisions
        return np.logaddexp(fixed, free), fixed > free

    def _ratio(self, line: Positions, away: Numbers, height: Numbers) -> Numbers:
        """Return how far distances are from what is usual anywhere, as logarithms."""
        distance = away + self.level[line] + self.rise * height
        return np.asarray(distance - height - MIDDLE_ANYWHERE)

    @np.errstate(all="ignore")
    def log_free(self, line: Positions, away: Numbers, height: Numbers) -> Numbers:
        """Return the log density of ln distances that were not typed."""
        # who stands at set distances does so whatever the height
        least = np.where(self.in_set[self.group[line]] > MANY_OF_SET, SPREAD_ANYWHERE, 0.0)
        return np.logaddexp(
            log(1 - ANYWHERE) + _log_t(away, np.maximum(self.spread[line], least)),
            log(ANYWHERE) + _log_t(self._ratio(line, away, height), SPREAD_ANYWHERE),
        )

    @np.errstate(all="ignore")
    def best(self, line: Positions, distance: Numbers, divisions: Numbers) -> Numbers:
        """Return about the greatest log density that another distance could have on a line."""
        group = self.group[line]
        with np.errstate(all="ignore"):
            most = np.log(self.most[group])
            free = np.log1p(-self.in_set[group]) + _log_t(np.zeros(len(line)), self.spread[line])
            free = free - np.log(distance) + np.maximum(divisions, 0.0)
        return np.maximum(most, free)

    def _find(self, group: Positions, distance: Numbers) -> tuple[Positions, Flags]:
        with np.errstate(all="ignore"):
            rounded = np.round(np.nan_to_num(distance))
        good = (rounded > 0) & (rounded < _KEY) & (np.abs(distance - rounded) < 1e-3)
        key = group * _KEY + np.where(good, rounded, 0).astype(np.int64)
        place = np.minimum(np.searchsorted(self.keys, key), len(self.keys) - 1)
        return place, good & (self.keys[place] == key)


# values below this many hundredths share a key with their group
_KEY = 10_000_000


def _log_t(away: Numbers, spread: Numbers | float) -> Numbers:
    scaled = away / spread
    return np.asarray(
        _CONSTANT - np.log(spread) - 0.5 * (FREEDOM + 1) * np.log1p(scaled * scaled / FREEDOM)
    )


@np.errstate(all="ignore")
def learn_standing(
    level: Numbers,
    total: Numbers,
    typed: Numbers,
    person: Positions,
    fixed: Positions,
    weight: float,
) -> Standing:
    """Learn where people stand.

    Parameters
    ----------
    level, total : ndarray
        Logarithms of level distance and height of each line, NaN where not known.
    typed : ndarray
        Distances as typed, in hundredths of the typed unit.
    person : ndarray of int
        Who measured each line.
    fixed : ndarray of int
        The instrument, where a fixed-distance scale was read; -1 elsewhere.
    weight : float
        So many lines the habits of all count as beside a person's own.
    """
    count = int(person.max()) + 1 if len(person) else 1
    group = codes_of(np.where(fixed >= 0, -1, person), fixed)
    groups = int(group.max()) + 1 if len(group) else 1
    known = np.isfinite(level) & np.isfinite(total) & (total > 0) & np.isfinite(typed)
    values = np.where(known, np.round(np.nan_to_num(typed)), 0).astype(np.int64) % _KEY
    keys, place = np.unique(group[known] * _KEY + values[known], return_inverse=True)
    # one more that no line has: there may be none
    keys = np.append(keys, groups * _KEY)
    number = np.bincount(group[known], minlength=groups).astype(float)
    here = np.bincount(place, minlength=len(keys)).astype(float)
    of = np.minimum(keys // _KEY, groups - 1)
    inside = (here >= LINES_OF_SET) & (here >= SHARE_OF_SET * number[of])
    in_set = np.bincount(of, here * inside, groups) / np.maximum(number, 1)
    most = np.zeros(groups)
    np.maximum.at(most, of[inside], (here / np.maximum(number[of], 1))[inside])
    height = total[known]
    middle = np.nan_to_num(group_medians(height, group[known], groups))
    wide = np.nan_to_num(group_spreads(height - middle[group[known]], group[known], groups))
    wide = np.maximum(wide, LEAST_HEIGHT_SPREAD)
    at = np.nan_to_num(group_medians(height, place, len(keys)))
    at = (here * at + HEIGHT_WEIGHT * middle[of]) / (here + HEIGHT_WEIGHT)
    own = np.nan_to_num(group_spreads(height - at[place], place, len(keys)))
    own = np.sqrt((here * own**2 + HEIGHT_WEIGHT * wide[of] ** 2) / (here + HEIGHT_WEIGHT))
    taken = np.zeros(len(level), dtype=bool)
    taken[np.flatnonzero(known)] = inside[place] & (in_set[of][place] > 0.5)
    line = _fit_free(level, total, person, count, known & ~taken, weight)
    return Standing(
        level=line[0][person],
        rise=line[1],
        spread=line[2][person],
        group=group,
        typed=values,
        counted=known,
        keys=keys,
        count=here,
        height=at,
        height_spread=np.maximum(own, LEAST_HEIGHT_SPREAD),
        number=number,
        in_set=np.minimum(in_set, MOST_OF_SET),
        most=most,
        group_height=middle,
        group_spread=wide,
    )


def _fit_free(
    level: Numbers, total: Numbers, person: Positions, count: int, known: Flags, weight: float
) -> tuple[Numbers, float, Numbers]:
    """Return each person's level, the rise of all, and each person's spread of ln distances."""
    if not known.any():
        return np.full(count, MIDDLE_ANYWHERE), 1.0, np.full(count, USUAL_SPREAD)
    x, y, own = total[known], level[known] - total[known], person[known]
    everyone = np.zeros(len(x), dtype=np.int64)
    start, rises = group_lines(x, y, everyone, 1, weight / 4)
    rise = float(rises[0])
    left = y - start[0] - rise * x
    number = np.bincount(own, minlength=count)
    share = number / (number + weight)
    more = share * group_lines(x, left, own, count)[0]
    whole = TO_STANDARD_DEVIATION * float(np.median(np.abs(left - more[own])))
    whole = np.sqrt((len(x) * whole**2 + USUAL_WEIGHT * USUAL_SPREAD**2) / (len(x) + USUAL_WEIGHT))
    each = np.nan_to_num(group_spreads(left - more[own], own, count))
    spread = np.sqrt((1 - share) * whole**2 + share * each**2)
    return start[0] + more, 1.0 + rise, np.maximum(spread, LEAST_SPREAD)
