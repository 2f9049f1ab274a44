"""Which lines are doubtful, and what each mistake would explain of them.

For every line the readings as keyed are weighed against the readings that each supposed mistake
would put right: prior times likelihood. What no supposed mistake explains may be one of which
nothing is known; that too has a likelihood, a broad one, and where it is the best there is no
explanation. A line whose pieces lack so little of their best likelihood that no mistake could win
is not looked at further.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from math import log

import numpy as np
import pandas as pd

from xlhelpers.measure.slopes import SCALES
from xlhelpers.survey.doubt.candidates import Doubtful, Mistake, Pool, other_bases, pool
from xlhelpers.survey.doubt.evidence import (
    Deviations,
    density,
    deviations,
    impossible,
    summed,
    unknown,
    weigh,
)
from xlhelpers.survey.doubt.expected import Expected, expect
from xlhelpers.survey.doubt.readings import Measured, Sheet, measure, sheet_of
from xlhelpers.survey.doubt.robust import Numbers
from xlhelpers.survey.model import Survey
from xlhelpers.survey.setups.ways import Ways, resolve_ways
from xlhelpers.survey.typed.folding import Flags, Positions

# prior of a mistake of which nothing is known
UNKNOWN = 0.003
# the largest prior of a supposed mistake, for the screening
LARGEST_PRIOR = 0.01
# log-likelihood of a line whose readings give no height at all
NO_HEIGHT = -40.0
# so many lines are weighed at a time; all at once would fill the memory
PORTION = 1000


@dataclass(frozen=True)
class Keyed:
    """All lines of a survey as keyed and measured, and the reference that curves start from."""

    survey: Survey
    setups: pd.DataFrame
    trees: pd.DataFrame
    ways: Ways
    table: pd.DataFrame
    seen: Measured


@dataclass(frozen=True)
class Usual(Keyed):
    """What is usual for all lines as keyed, and how well they go with it.

    `plain` is the log-likelihood as keyed, `lacking` how much better it could be at the most,
    `broad` that of a mistake of which nothing is known.
    """

    expected: Expected
    found: Deviations
    pieces: Mapping[str, Numbers]
    plain: Numbers
    lacking: Numbers
    broad: Numbers


@dataclass(frozen=True)
class Weighed:
    """The doubtful lines and the weight of each mistake.

    `lines` are positions in the survey's lines; `weight` is prior times likelihood of each mistake
    (line x mistake) over that of the line as keyed, as logarithm; `best` the candidate in `pool`
    that explains most (-1 none, or not kept); `broad` that of a mistake of which nothing is known;
    `odds` the logarithm of their sum.
    """

    lines: Positions
    weight: Numbers
    best: Positions
    broad: Numbers
    odds: Numbers
    pool: Pool
    seen: Measured


def usual_lines(
    survey: Survey,
    setups: pd.DataFrame,
    trees: pd.DataFrame,
    table: pd.DataFrame,
    limits: Mapping[str, float],
) -> Usual:
    """Weigh all lines as keyed.

    Parameters
    ----------
    survey, setups, trees : as in an outcome
        The survey.
    table : DataFrame
        The reference.
    limits : mapping
        As `limits_of` gives them.
    """
    ways = resolve_ways(survey)
    seen = _as_keyed(survey, setups, trees, ways)
    expected = expect(survey, setups, trees, seen, table, dict(limits))
    return _against(Keyed(survey, setups, trees, ways, table, seen), expected)


def without_lines(usual: Usual, hidden: Flags, limits: Mapping[str, float]) -> Usual:
    """Return all lines weighed by what is usual of the others alone, as if some were not keyed.

    A mistake of many lines pulls the survey's own curves and the habits of its people after it.

    Parameters
    ----------
    usual : Usual
        All lines as keyed.
    hidden : array of bool
        The lines that say nothing of what is usual.
    limits : mapping
        As `limits_of` gives them.
    """
    own = np.unique(usual.setups["tree_position"].to_numpy()[hidden])
    trees = usual.trees.copy()
    trees.loc[own, ["total_height", "crown_base"]] = np.nan
    shown = {
        f.name: np.where(hidden, np.nan, getattr(usual.seen, f.name)) for f in fields(Measured)
    }
    expected = expect(
        usual.survey, usual.setups, trees, Measured(**shown), usual.table, dict(limits)
    )
    keyed = Keyed(**{f.name: getattr(usual, f.name) for f in fields(Keyed)})
    return _against(keyed, expected)


def _against(keyed: Keyed, expected: Expected) -> Usual:
    seen, lines = keyed.seen, np.arange(len(keyed.setups))
    found = deviations(expected, lines, seen)
    pieces = weigh(found)
    known = {piece: np.isfinite(value) for piece, value in pieces.items()}
    penalty = impossible(seen, keyed.survey.rules)
    plain = np.where(np.isnan(seen.total), NO_HEIGHT, summed(pieces, known) + penalty)
    best = {p: density(np.zeros(len(lines)), found.spread[p]) for p in pieces}
    return Usual(
        **{f.name: getattr(keyed, f.name) for f in fields(Keyed)},
        expected=expected,
        found=found,
        pieces=pieces,
        plain=plain,
        lacking=summed(best, known) - plain,
        broad=np.where(np.isnan(seen.total), NO_HEIGHT, unknown(pieces, found)),
    )


def _as_keyed(survey: Survey, setups: pd.DataFrame, trees: pd.DataFrame, ways: Ways) -> Measured:
    tree = setups["tree_position"].to_numpy()
    pole = survey.lines["base_by_pole"].to_numpy(dtype=float)
    base = np.where(np.isfinite(pole), pole, setups["base_sighted"].to_numpy(dtype=float))
    dead = setups["condition"].to_numpy(dtype=object) == "D"
    return Measured(
        total=setups["total_height"].to_numpy(dtype=float),
        base=np.where(dead, np.nan, base),
        level=setups["level_distance"].to_numpy(dtype=float),
        eye=np.where(ways.foot_by_eye, np.nan, setups["eye_above_foot"].to_numpy(dtype=float)),
        diameter=trees["largest_stem"].to_numpy(dtype=float)[tree],
        width=trees["mean_width"].to_numpy(dtype=float)[tree],
    )


def doubtful_lines(usual: Usual, limits: Mapping[str, float], told: Flags) -> Positions:
    """Return the lines that are looked at: those with a finding, and those that lack enough."""
    needed = log(limits["doubt_odds"]) - log(LARGEST_PRIOR)
    return np.flatnonzero(told | (np.isfinite(usual.seen.total) & (usual.lacking > needed)))


def without_repeats(usual: Usual) -> Usual:
    """Return the lines as keyed without the evidence of other set-ups of their trees.

    A mistake of many lines may have spoilt all set-ups of a tree alike.
    """
    nothing = np.full(len(usual.plain), np.nan)
    kept = without_pieces(usual, ("repeat",))
    return replace(kept, expected=replace(usual.expected, others=nothing))


def without_pieces(usual: Usual, dropped: Collection[str]) -> Usual:
    """Return the lines as keyed with some pieces of the evidence left out; all are looked at."""
    nothing = np.full(len(usual.plain), np.nan)
    lost = sum(np.nan_to_num(usual.pieces[piece]) for piece in dropped)
    return replace(
        usual,
        pieces={p: nothing if p in dropped else value for p, value in usual.pieces.items()},
        plain=np.where(np.isnan(usual.seen.total), usual.plain, usual.plain - lost),
        lacking=np.full(len(usual.plain), np.inf),
    )


def weigh_mistakes(
    usual: Usual, lines: Positions, mistakes: Sequence[Mistake], named: int | None = None
) -> Weighed:
    """Weigh every mistake on every doubtful line.

    Parameters
    ----------
    usual : Usual
        The survey as keyed.
    lines : ndarray of int
        The doubtful lines.
    mistakes : sequence of Mistake
        What may have happened.
    named : int, optional
        Of so many mistakes of each line, the likeliest, the best candidate is kept; of all where
        it is not given.
    """
    starts = range(0, max(len(lines), 1), PORTION)
    parts = [_weighed(usual, lines[start : start + PORTION], mistakes, named) for start in starts]
    return parts[0] if len(parts) == 1 else _together(parts)


def _weighed(
    usual: Usual, lines: Positions, mistakes: Sequence[Mistake], named: int | None
) -> Weighed:
    """Weigh every mistake on some lines; of what was tried the best is kept."""
    doubtful = _doubtful(usual, lines)
    tried = pool(doubtful, mistakes)
    weight = np.full((len(lines), len(mistakes)), -np.inf)
    best = np.full(weight.shape, -1, dtype=np.int64)
    if len(tried.row):
        seen = measure(usual.survey, tried.sheet, usual.ways)
        gain = _likelihood(usual, tried.sheet, seen) - usual.plain[tried.sheet.line] + tried.prior
        _gather(weight, best, tried, gain)
    else:
        seen = doubtful.seen
    broad = usual.broad[lines] - usual.plain[lines] + log(UNKNOWN)
    odds = np.logaddexp(np.logaddexp.reduce(weight, axis=1), broad)
    if named is not None:
        others = np.argsort(-weight, axis=1, kind="stable")[:, named:]
        np.put_along_axis(best, others, -1, axis=1)
    kept = np.unique(best[best >= 0])
    best = np.where(best >= 0, np.searchsorted(kept, best), -1)
    chosen = Pool(tried.row[kept], tried.mistake[kept], tried.prior[kept], tried.sheet.take(kept))
    shown = Measured(*(getattr(seen, f.name)[kept] for f in fields(Measured)))
    return Weighed(lines, weight, best, broad, odds, chosen, shown)


def _together(parts: Sequence[Weighed]) -> Weighed:
    """Put what was weighed in portions together."""
    rows = np.cumsum([0, *(len(part.lines) for part in parts)])
    places = np.cumsum([0, *(len(part.pool.row) for part in parts)])
    pools = [part.pool for part in parts]
    sheets = [known.sheet for known in pools]
    return Weighed(
        np.concatenate([part.lines for part in parts]),
        np.concatenate([part.weight for part in parts]),
        np.concatenate(
            [
                np.where(p.best >= 0, p.best + at, -1)
                for p, at in zip(parts, places[:-1], strict=True)
            ]
        ),
        np.concatenate([part.broad for part in parts]),
        np.concatenate([part.odds for part in parts]),
        Pool(
            np.concatenate([known.row + at for known, at in zip(pools, rows[:-1], strict=True)]),
            np.concatenate([known.mistake for known in pools]),
            np.concatenate([known.prior for known in pools]),
            Sheet(
                np.concatenate([sheet.line for sheet in sheets]),
                {
                    n: np.concatenate([sheet.columns[n] for sheet in sheets])
                    for n in sheets[0].columns
                },
            ),
        ),
        Measured(
            *(
                np.concatenate([getattr(part.seen, f.name) for part in parts])
                for f in fields(Measured)
            )
        ),
    )


def _likelihood(usual: Usual, sheet: Sheet, seen: Measured) -> Numbers:
    """Return the log-likelihood of supposed lines, by the pieces known of them as keyed."""
    line = sheet.line
    pieces = weigh(deviations(usual.expected, line, seen))
    # a line without a height is weighed by what is known once it has one
    none = np.isnan(usual.seen.total)[line]
    known = {
        piece: np.where(none, np.isfinite(pieces[piece]), np.isfinite(value)[line])
        for piece, value in usual.pieces.items()
    }
    lost = none & np.isnan(seen.total)
    return np.where(lost, -np.inf, summed(pieces, known) + impossible(seen, usual.survey.rules))


def _gather(weight: Numbers, best: Positions, tried: Pool, gain: Numbers) -> None:
    """Sum the candidates of each line and mistake, and keep which explains most."""
    good = np.flatnonzero(np.isfinite(gain))
    at = tried.row[good] * weight.shape[1] + tried.mistake[good]
    order = np.argsort(gain[good], kind="stable")
    flat, first = weight.ravel(), best.ravel()
    # written lowest first, so that the highest stays
    first[at[order]] = good[order]
    top = np.full(len(flat), -np.inf)
    top[at[order]] = gain[good][order]
    total = np.bincount(at, np.exp(gain[good] - top[at]), len(flat))
    some = total > 0
    flat[some] = top[some] + np.log(total[some])


def _doubtful(usual: Usual, lines: Positions) -> Doubtful:
    survey, setups = usual.survey, usual.setups
    sheet = sheet_of(survey, setups, usual.trees, lines)
    instrument = usual.ways.instrument_position[lines]
    scales = usual.ways.instruments.scales
    has = {s: np.array([not own or s in own for own in scales])[instrument] for s in SCALES}
    unit = "m" if survey.units == "metric" else "ft"
    bases = other_bases(usual.ways.instruments, unit)
    has |= {name: flags[instrument] for name, flags in bases.items()}
    distance = survey.lines["distance"].to_numpy(dtype=float)
    plot = setups["plot_position"].to_numpy()
    above, below = np.full(len(plot), np.nan), np.full(len(plot), np.nan)
    next_to = (plot[1:] == plot[:-1]) & (plot[1:] >= 0)
    above[1:] = np.where(next_to, distance[:-1], np.nan)
    below[:-1] = np.where(next_to, distance[1:], np.nan)
    kind = usual.trees["kind"].to_numpy(dtype=object)[setups["tree_position"].to_numpy()[lines]]
    seen = Measured(
        *(
            getattr(usual.seen, f)[lines]
            for f in ("total", "base", "level", "eye", "diameter", "width")
        )
    )
    return Doubtful(
        survey,
        sheet,
        seen,
        usual.expected,
        has,
        usual.ways.instruments.scale_distance[instrument],
        above[lines],
        below[lines],
        kind == "broadleaf",
        np.where(np.isnan(seen.total), np.inf, usual.lacking[lines]),
    )
