"""Which tree of the new survey is which of the old one: all evidence weighed together.

Each pair of trees of a plot gets the odds that it is one tree: how much likelier its numbers, its
places, its species, and its sizes are for one tree than for two that met by chance. The trees of
a plot compete for each other, and a tree may have no partner. What two pairs explain nearly
equally well stays ambiguous.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.typed.folding import Positions, codes_of, fold_column
from xlhelpers.survey.typed.species_names import fold_species
from xlhelpers.survey.typed.words import identifier_key

Numbers = NDArray[np.float64]
# from this belief on two are taken for one tree; below the other it is not even a candidate
SURE, POSSIBLE = 0.8, 0.15
# chosen here, common practice, no source: what one tree's two records are usually like
_SAME_NUMBER, _NUMBER_WEIGHT = 0.95, 10.0
_SAME_SPECIES, _SAME_GENUS, _OTHER_GENUS = 0.95, 0.035, 0.015
_SURVIVES_A_YEAR, _NEW = 0.98, 0.1
_PLACE_M, _BEARING_DEGREES = 0.4, 4.0
_GROWS_CM, _GROWS_M = 0.6, 0.25
_DIAMETER_SHARE, _HEIGHT_SHARE = 0.02, 0.04
# a share of records is wrong in some way that nothing else tells
_MISTAKEN = 0.05
# height follows from species and diameter: alone it tells about half of what it seems to
_HEIGHT_COUNTS = 0.5
_ROUNDS, _CLOSE = 500, 1e-6


@dataclass(frozen=True)
class Features:
    """What tells the trees of one survey apart, a column a feature; NaN or -1 where unknown."""

    plot: NDArray[np.object_]
    number: NDArray[np.object_]
    species: Positions
    genus: Positions
    diameter: Numbers
    height: Numbers
    distance: Numbers
    bearing: Numbers


@dataclass(frozen=True)
class Population:
    """What is usual for any tree of both surveys.

    `species` and `genera` are shares by code, the last entry for the unknown; `diameter` and
    `height` are mean and standard deviation of the logarithms.
    """

    species: Numbers
    genera: Numbers
    diameter: tuple[float, float]
    height: tuple[float, float]


@dataclass(frozen=True)
class Match:
    """The partners of the trees of one plot, as positions in the trees of both surveys.

    `pairs` are (old, new, belief); `unsure_old` and `unsure_new` map a tree to its candidates on
    the other side, the likeliest first. Trees in none of them have no partner. `same_number` is
    the share of pairs found by other evidence that carry one number, NaN where there are none.
    """

    pairs: tuple[tuple[int, int, float], ...]
    unsure_old: dict[int, tuple[int, ...]]
    unsure_new: dict[int, tuple[int, ...]]
    same_number: float


def features_of(old: Outcome, new: Outcome) -> tuple[Features, Features]:
    """Return the features of both surveys, species coded alike."""
    named = [
        fold_column(
            side.trees["botanical"].where(side.trees["botanical"] != "", side.trees["species"]),
            fold_species,
        )
        for side in (old, new)
    ]
    genera = [fold_column(side.trees["genus"]) for side in (old, new)]
    species, genus = (_code_names(both) for both in (named, genera))
    first, second = (_features(side, species[at], genus[at]) for at, side in enumerate((old, new)))
    return first, second


def population_of(old: Features, new: Features) -> Population:
    """Return what is usual for any tree of both surveys."""
    return Population(
        _shares(old.species, new.species),
        _shares(old.genus, new.genus),
        _logs(old.diameter, new.diameter),
        _logs(old.height, new.height),
    )


def _logs(*values: Numbers) -> tuple[float, float]:
    everyone = np.concatenate(values)
    logs = np.log(everyone[everyone > 0])
    return (float(logs.mean()), max(float(logs.std()), 0.3)) if len(logs) else (0.0, 1.0)


def _code_names(names: list[NDArray[np.object_]]) -> list[Positions]:
    together = np.concatenate(names)
    codes = np.where(together == "", -1, codes_of(together))
    return [codes[: len(names[0])], codes[len(names[0]) :]]


def _features(side: Outcome, species: Positions, genus: Positions) -> Features:
    trees = side.trees
    lines = side.survey.lines.iloc[trees["first_line"].to_numpy()]
    return Features(
        fold_column(trees["plot"], identifier_key),
        fold_column(trees["tree"], identifier_key),
        species,
        genus,
        trees["diameter"].to_numpy(float),
        trees["total_height"].to_numpy(float),
        lines["centre_distance"].to_numpy(float),
        lines["bearing"].to_numpy(float),
    )


def match_plot(
    old: Features,
    new: Features,
    sides: tuple[Positions, Positions],
    years: float,
    usual: Population,
) -> Match:
    """Match the trees of one plot.

    Parameters
    ----------
    old, new : Features
        Of all trees of both surveys.
    sides : pair of arrays
        Positions of the plot's trees in each.
    years : float
        Between the two measurements; NaN counts as five.
    usual : Population
        As `population_of` gives it for both surveys.
    """
    first, second = sides
    if not len(first) or not len(second):
        return Match((), {}, {}, np.nan)
    years = 5.0 if np.isnan(years) else max(years, 0.0)
    other = (
        _place(old, new, first, second)
        + _species(old, new, (first, second), usual)
        + _sizes(old, new, (first, second), years, usual)
    )
    equal = old.number[first][:, None] == new.number[second][None, :]
    known = (old.number[first] != "")[:, None] & (new.number[second] != "")[None, :]
    share, reliable = _reliability(_beliefs(other, years), equal & known)
    chance = 1 / max(len(second), 2)
    number = np.where(equal, np.log(reliable / chance), np.log((1 - reliable) / (1 - chance)))
    belief = _beliefs(other + np.where(known, number, 0.0), years)
    return _decide(belief, first, second, share)


def _reliability(belief: Numbers, equal: NDArray[np.bool_]) -> tuple[float, float]:
    """Return how often trees that other evidence pairs carry one number, as seen and as weighed."""
    # A plot may have been numbered anew; then the numbers tell nothing.
    is_pair = belief >= SURE
    pairs, same = int(is_pair.sum()), int((is_pair & equal).sum())
    weighed = (same + _NUMBER_WEIGHT * _SAME_NUMBER) / (pairs + _NUMBER_WEIGHT)
    return (same / pairs if pairs else np.nan), float(np.clip(weighed, 0.05, 0.98))


def _place(old: Features, new: Features, first: Positions, second: Positions) -> Numbers:
    """Return the log odds of the places: by both coordinates, else by the one both have."""
    r1, r2 = old.distance[first][:, None], new.distance[second][None, :]
    b1, b2 = np.radians(old.bearing[first])[:, None], np.radians(new.bearing[second])[None, :]
    reach = np.nanmax([np.nanmax(np.nan_to_num(r1)), np.nanmax(np.nan_to_num(r2)), 5.0])
    turn = np.abs((b1 - b2 + np.pi) % (2 * np.pi) - np.pi)
    sigma_b = np.radians(_BEARING_DEGREES) * np.sqrt(2)
    across = np.maximum((r1 + r2) / 2 * sigma_b, _PLACE_M)
    along = _PLACE_M * np.sqrt(2)
    both = _normal(r2 - r1, along) * _normal(turn * (r1 + r2) / 2, across) * np.pi * reach**2
    alone = _normal(r2 - r1, along) * reach
    only_bearing = _normal(turn, sigma_b) * 2 * np.pi
    odds = np.where(np.isfinite(both), both, np.where(np.isfinite(alone), alone, only_bearing))
    return _allow_for_mistakes(odds)


def _species(
    old: Features, new: Features, sides: tuple[Positions, Positions], usual: Population
) -> Numbers:
    first, second = sides
    s1, s2 = old.species[first][:, None], new.species[second][None, :]
    g1, g2 = old.genus[first][:, None], new.genus[second][None, :]
    one = usual.species[new.species[second]][None, :]
    of_genus = usual.genera[new.genus[second]][None, :]
    same = _SAME_SPECIES / one
    related = _SAME_GENUS / np.maximum(of_genus - one, 0.02)
    unlike = _OTHER_GENUS / np.maximum(1 - of_genus, 0.02)
    odds = np.where(s1 == s2, same, np.where((g1 == g2) & (g1 >= 0), related, unlike))
    return np.where((s1 < 0) | (s2 < 0), 0.0, np.log(odds))


def _shares(*codes: Positions) -> Numbers:
    """Return the share of each code among all trees; the last entry serves the unknown."""
    known = np.concatenate([part[part >= 0] for part in codes])
    counts = np.append(np.bincount(known, minlength=1), 1.0).astype(float)
    return np.asarray(counts / max(len(known), 1))


def _sizes(
    old: Features,
    new: Features,
    sides: tuple[Positions, Positions],
    years: float,
    usual: Population,
) -> Numbers:
    first, second = sides
    total = np.zeros((len(first), len(second)))
    for before, after, any_tree, (grows, share, counts) in (
        (old.diameter, new.diameter, usual.diameter, (_GROWS_CM, _DIAMETER_SHARE, 1.0)),
        (old.height, new.height, usual.height, (_GROWS_M, _HEIGHT_SHARE, _HEIGHT_COUNTS)),
    ):
        x1, x2 = before[first][:, None], after[second][None, :]
        spread = np.sqrt((grows * years) ** 2 + 2 * (share * x1) ** 2 + (grows / 2) ** 2)
        near = _normal(x2 - x1 - grows * years, spread)
        total = total + counts * _allow_for_mistakes(near / _chance(x2, *any_tree))
    return total


def _chance(values: Numbers, middle: float, spread: float) -> Numbers:
    """Return how likely these sizes are for any tree of the surveys: a log-normal density."""
    with np.errstate(all="ignore"):
        return np.asarray(_normal(np.log(values) - middle, spread) / values)


def _normal(away: Numbers, spread: Numbers | float) -> Numbers:
    with np.errstate(all="ignore"):
        return np.asarray(np.exp(-0.5 * (away / spread) ** 2) / (spread * np.sqrt(2 * np.pi)))


def _allow_for_mistakes(odds: Numbers) -> Numbers:
    """Return log odds that a mistake in one record cannot drive to nothing; 0 where unknown."""
    with np.errstate(all="ignore"):
        return np.where(np.isfinite(odds), np.log((1 - _MISTAKEN) * odds + _MISTAKEN), 0.0)


def _beliefs(log_odds: Numbers, years: float) -> Numbers:
    """Return how sure each pair is, when the trees compete and each may have no partner."""
    # Rows and columns are scaled in turn until each tree's chances add up to one.
    survives = max(_SURVIVES_A_YEAR**years, 0.5)
    weight = survives / log_odds.shape[1] * np.exp(np.clip(log_odds, -30, 30))
    gone, new = 1 - min(survives, 0.98), _NEW
    column = np.ones(log_odds.shape[1])
    for _ in range(_ROUNDS):
        row = 1 / (weight @ column + gone)
        before, column = column, 1 / (row @ weight + new)
        if np.abs(np.log(column / before)).max() < _CLOSE:
            break
    return np.asarray(row[:, None] * weight * column[None, :])


def _decide(belief: Numbers, first: Positions, second: Positions, share: float) -> Match:
    sure = np.argwhere(belief >= SURE)
    pairs = tuple(
        (int(first[i]), int(second[j]), float(min(belief[i, j], 1.0))) for i, j in sure.tolist()
    )
    open_rows = np.setdiff1d(np.arange(len(first)), sure[:, 0])
    open_columns = np.setdiff1d(np.arange(len(second)), sure[:, 1])
    left = belief[np.ix_(open_rows, open_columns)]
    unsure_old = _candidates(left, first[open_rows], second[open_columns])
    unsure_new = _candidates(left.T, second[open_columns], first[open_rows])
    return Match(pairs, unsure_old, unsure_new, share)


def _candidates(belief: Numbers, mine: Positions, theirs: Positions) -> dict[int, tuple[int, ...]]:
    candidates = {}
    for at, row in enumerate(belief):
        likely = [int(theirs[j]) for j in np.argsort(-row, kind="stable") if row[j] >= POSSIBLE]
        if likely:
            candidates[int(mine[at])] = tuple(likely)
    return candidates


def by_plot(keys: NDArray[np.object_]) -> dict[str, Positions]:
    """Return the positions of the trees of each plot; trees without a plot are left out."""
    grouped = pd.Series(np.arange(len(keys))).groupby(pd.Series(keys, dtype=object), sort=False)
    return {str(key): at.to_numpy(np.int64) for key, at in grouped if key != ""}
