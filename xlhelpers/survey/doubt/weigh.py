"""Which lines are doubtful, and what each mistake would explain of them.

For every line the readings as entered are weighed against the readings that each supposed mistake
would put right: prior times likelihood. What no supposed mistake explains may be an unknown one;
that too has a likelihood, a broad one, and where it is the best there is no explanation. A line
whose pieces lack so little of their best likelihood that no mistake could win is not weighed.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property
from math import log
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from xlhelpers.measure.slopes import SCALES
from xlhelpers.survey.doubt.candidates import (
    Doubtful,
    Mistake,
    Pool,
    find_other_bases,
    gather_candidates,
)
from xlhelpers.survey.doubt.evidence import (
    SPOILS,
    Deviations,
    compute_deviations,
    find_lacking,
    keep_marks,
    penalize_impossible,
    sum_pieces,
    weigh_pieces,
    weigh_unknown,
)
from xlhelpers.survey.doubt.expected import Expected, expect
from xlhelpers.survey.doubt.readings import Measured, Sheet, measure, take_sheet
from xlhelpers.survey.doubt.robust import Numbers
from xlhelpers.survey.model import Survey
from xlhelpers.survey.setups.ways import Ways, resolve_ways
from xlhelpers.survey.typed.folding import Flags, Positions

# prior of an unknown mistake
UNKNOWN = 0.0015
# the largest prior of a supposed mistake, for the screening
LARGEST_PRIOR = 0.003
# log-likelihood of a line whose readings give no height at all
NO_HEIGHT = -70.0
# candidates of a named mistake are kept down to this share of its best, as logarithm
NEARLY = -3.0
# columns of the tree, typed on one of its lines
OF_TREE = ("diameter", "width_widest", "width_across")
# so many lines are weighed at a time; all at once would fill the memory
PORTION = 2000


@dataclass(frozen=True)
class Usual:
    """All lines as entered and measured, and what is usual for them.

    `table` is the reference that curves start from; `dropped` are pieces of evidence that are left
    out, and then all lines are weighed.
    """

    survey: Survey
    setups: pd.DataFrame
    trees: pd.DataFrame
    ways: Ways
    table: pd.DataFrame
    sheet: Sheet
    seen: Measured
    expected: Expected
    dropped: frozenset[str] = frozenset()

    @cached_property
    def deviations(self) -> Deviations:
        """Return how far the lines are from what is usual."""
        return compute_deviations(self.expected, self.sheet, self.seen)

    @cached_property
    def pieces(self) -> dict[str, Numbers]:
        """Return the log-likelihood of every piece of evidence, NaN where it is not known."""
        pieces = weigh_pieces(self.deviations)
        return pieces | {piece: np.full(len(self.setups), np.nan) for piece in self.dropped}

    @cached_property
    def known(self) -> dict[str, Flags]:
        """Return where each piece of evidence is known."""
        return {piece: np.isfinite(value) for piece, value in self.pieces.items()}

    @cached_property
    def plain(self) -> Numbers:
        """Return the log-likelihood of the lines as entered."""
        penalty = penalize_impossible(self.seen, self.survey.rules)
        total = sum_pieces(self.pieces, self.known) + penalty
        return np.where(np.isnan(self.seen.total), NO_HEIGHT, total)

    @cached_property
    def lacking(self) -> dict[str, Numbers]:
        """Return how much better each line could be at the most if one column were right."""
        if self.dropped:
            return {name: np.full(len(self.setups), np.inf) for name in SPOILS}
        parts = find_lacking(self.expected, self.sheet, self.deviations, self.known)
        impossible = -penalize_impossible(self.seen, self.survey.rules)
        return {name: sum((parts[p] for p in own), impossible) for name, own in SPOILS.items()}

    @cached_property
    def broad(self) -> Numbers:
        """Return the log-likelihood of an unknown mistake."""
        unknown = weigh_unknown(self.pieces, self.deviations, self.expected, self.sheet)
        return np.where(np.isnan(self.seen.total), NO_HEIGHT, unknown)


@dataclass(frozen=True)
class Weighed:
    """The doubtful lines and the weight of each mistake.

    `lines` are positions in the survey's lines; `weight` is prior times likelihood of each mistake
    (line x mistake) over that of the line as entered, as logarithm; `best` the candidate that
    explains most (-1 none, or not kept), a row of `sheet` and `seen`; `broad` the weight of an
    unknown mistake; `odds` the logarithm of their sum. Of the named mistakes the candidates that
    explain nearly as much as the best are kept too: `row`, `mistake` and `gain` (its weight) of
    each row of `sheet`.
    """

    lines: Positions
    weight: Numbers
    best: Positions
    broad: Numbers
    odds: Numbers
    sheet: Sheet
    seen: Measured
    row: Positions
    mistake: Positions
    gain: Numbers


def weigh_lines(
    survey: Survey,
    setups: pd.DataFrame,
    trees: pd.DataFrame,
    table: pd.DataFrame,
    limits: Mapping[str, float],
) -> Usual:
    """Weigh all lines as entered.

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
    seen = measure_as_entered(survey, setups, trees, ways)
    sheet = take_sheet(survey, setups, trees, np.arange(len(setups)))
    expected = expect(survey, setups, trees, ways, sheet, seen, table, limits)
    return Usual(survey, setups, trees, ways, table, sheet, seen, expected)


def without_lines(usual: Usual, hidden: Flags, limits: Mapping[str, float]) -> Usual:
    """Return all lines weighed by what is usual of the others alone, as if some were not entered.

    A mistake of many lines pulls the survey's own curves and the habits of its people after it.

    Parameters
    ----------
    usual : Usual
        All lines as entered.
    hidden : array of bool
        The lines that say nothing of what is usual.
    limits : mapping
        As `limits_of` gives them.
    """
    own = np.unique(usual.setups["tree_position"].to_numpy()[hidden])
    trees = usual.trees.copy()
    trees.loc[own, ["total_height", "crown_base"]] = np.nan
    others = usual.seen.map(lambda column: np.where(hidden, np.nan, column))
    expected = expect(
        usual.survey, usual.setups, trees, usual.ways, usual.sheet, others, usual.table, limits
    )
    return replace(usual, expected=expected)


def measure_as_entered(
    survey: Survey, setups: pd.DataFrame, trees: pd.DataFrame, ways: Ways
) -> Measured:
    """Return what the lines as entered come to.

    Parameters
    ----------
    survey, setups, trees : as in an outcome
        The survey.
    ways : Ways
        How its lines were read.
    """
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


def find_doubtful_lines(usual: Usual, limits: Mapping[str, float], reported: Flags) -> Positions:
    """Return the lines that are weighed: those with a finding, and those that lack enough."""
    needed = log(limits["doubt_odds"]) - log(LARGEST_PRIOR)
    most = np.max([*usual.lacking.values()], axis=0)
    return np.flatnonzero(reported | (np.isfinite(usual.seen.total) & (most > needed)))


def without_repeats(usual: Usual) -> Usual:
    """Return the lines as entered without the evidence of other set-ups of their trees.

    A mistake of many lines may have spoilt all set-ups of a tree alike.
    """
    others = np.full(len(usual.setups), np.nan)
    return without_pieces(
        replace(usual, expected=replace(usual.expected, others=others)), ["repeat"]
    )


def without_pieces(usual: Usual, dropped: Collection[str]) -> Usual:
    """Return the lines as entered with some pieces of the evidence left out."""
    return replace(usual, dropped=usual.dropped | frozenset(dropped))


def weigh_mistakes(
    usual: Usual, lines: Positions, mistakes: Sequence[Mistake], named: int | None = None
) -> Weighed:
    """Weigh every mistake on every doubtful line.

    Parameters
    ----------
    usual : Usual
        The survey as entered.
    lines : ndarray of int
        The doubtful lines.
    mistakes : sequence of Mistake
        What may have happened.
    named : int, optional
        Of so many mistakes of each line, the likeliest, the best candidate is kept; of all where
        it is not given.
    """
    starts = range(0, max(len(lines), 1), PORTION)
    parts = [_weigh(usual, lines[start : start + PORTION], mistakes, named) for start in starts]
    return parts[0] if len(parts) == 1 else _join(parts)


def _weigh(
    usual: Usual, lines: Positions, mistakes: Sequence[Mistake], named: int | None
) -> Weighed:
    """Weigh every mistake on some lines; of what was tried the best is kept."""
    doubtful = _take_doubtful(usual, lines)
    tried = gather_candidates(doubtful, mistakes)
    weight = np.full((len(lines), len(mistakes)), -np.inf)
    best = np.full(weight.shape, -1, dtype=np.int64)
    if len(tried.row):
        seen = measure(usual.survey, tried.sheet, usual.ways)
        gain = _likelihood(usual, tried.sheet, seen) - usual.plain[tried.sheet.line] + tried.prior
        _gather(weight, best, tried, gain)
    else:
        seen, gain = doubtful.seen, np.empty(0)
    broad = usual.broad[lines] - usual.plain[lines] + log(UNKNOWN)
    odds = np.logaddexp(np.logaddexp.reduce(weight, axis=1), broad)
    if named is not None:
        others = np.argsort(-weight, axis=1, kind="stable")[:, named:]
        np.put_along_axis(best, others, -1, axis=1)
    picks = np.unique(best[best >= 0])
    if named is not None and len(picks):
        top = best[tried.row, tried.mistake]
        near = (top >= 0) & (gain >= gain[top] + NEARLY)
        picks = np.union1d(picks, np.flatnonzero(near))
    best = np.where(best >= 0, np.searchsorted(picks, best), -1)
    sheet, seen = tried.sheet.take(picks), seen.map(lambda column: column[picks])
    own = (tried.row[picks], tried.mistake[picks], gain[picks])
    return Weighed(lines, weight, best, broad, odds, sheet, seen, *own)


def _join(parts: Sequence[Weighed]) -> Weighed:
    """Put what was weighed in portions together."""

    def join(name: str) -> NDArray[Any]:
        return np.concatenate([getattr(part, name) for part in parts])

    starts = np.cumsum([0, *(len(part.sheet) for part in parts)])
    best = [np.where(p.best >= 0, p.best + at, -1) for p, at in zip(parts, starts, strict=False)]
    sheets = [part.sheet for part in parts]
    columns = {n: np.concatenate([s.columns[n] for s in sheets]) for n in sheets[0].columns}
    seen = {f.name: [getattr(part.seen, f.name) for part in parts] for f in fields(Measured)}
    return Weighed(
        lines=join("lines"),
        weight=join("weight"),
        best=np.concatenate(best),
        broad=join("broad"),
        odds=join("odds"),
        sheet=Sheet(np.concatenate([sheet.line for sheet in sheets]), columns),
        seen=Measured(**{name: np.concatenate(columns) for name, columns in seen.items()}),
        row=np.concatenate([part.row + PORTION * at for at, part in enumerate(parts)]),
        mistake=join("mistake"),
        gain=join("gain"),
    )


def _likelihood(usual: Usual, sheet: Sheet, seen: Measured) -> Numbers:
    """Return the log-likelihood of supposed lines, by the pieces known of them as entered."""
    line = sheet.line
    deviations = compute_deviations(usual.expected, sheet, seen)
    as_entered = np.asarray(sheet.columns["kept"])
    if as_entered.any():
        deviations = keep_marks(deviations, usual.deviations, line, as_entered)
    pieces = weigh_pieces(deviations)
    # a line without a height is weighed by what is known once it has one
    none = np.isnan(usual.seen.total)[line]
    known = {
        piece: np.where(none, np.isfinite(pieces[piece]), flags[line])
        for piece, flags in usual.known.items()
    }
    lost = none & np.isnan(seen.total)
    return np.where(
        lost, -np.inf, sum_pieces(pieces, known) + penalize_impossible(seen, usual.survey.rules)
    )


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


def _take_doubtful(usual: Usual, lines: Positions) -> Doubtful:
    survey, setups, instruments = usual.survey, usual.setups, usual.ways.instruments
    instrument = usual.ways.instrument_position[lines]
    has = {
        scale: np.array([not own or scale in own for own in instruments.scales])[instrument]
        for scale in SCALES
    }
    unit = "m" if survey.units == "metric" else "ft"
    for name, flags in find_other_bases(instruments, unit).items():
        has[name] = flags[instrument]
    plot = setups["plot_position"].to_numpy()
    above, below = _find_neighbours(survey.lines["distance"].to_numpy(dtype=float), plot)
    stem_above, stem_below = _find_neighbours(usual.seen.diameter, plot)
    tree = setups["tree_position"].to_numpy()
    kind = usual.trees["kind"].to_numpy(dtype=object)[tree[lines]]
    seen = usual.seen.map(lambda column: column[lines])
    return Doubtful(
        survey=survey,
        sheet=usual.sheet.take(lines),
        seen=seen,
        expected=usual.expected,
        has=has,
        scale_distance=instruments.scale_distance[instrument],
        above=above[lines],
        below=below[lines],
        stem_above=stem_above[lines],
        stem_below=stem_below[lines],
        broad=kind == "broadleaf",
        lacking={
            name: np.where(np.isnan(seen.total), np.inf, value[lines])
            for name, value in usual.lacking.items()
        },
        elsewhere={name: _find_elsewhere(survey, name, tree)[lines] for name in OF_TREE},
    )


def _find_elsewhere(survey: Survey, name: str, tree: Positions) -> Flags:
    """Return the lines without a number that another line of their tree has."""
    typed = np.isfinite(survey.lines[name].to_numpy(dtype=float))
    return np.asarray(~typed & (np.bincount(tree, typed)[tree] > 0))


def _find_neighbours(values: Numbers, plot: Positions) -> tuple[Numbers, Numbers]:
    """Return what the rows above and below have of each row, within its plot."""
    above, below = np.full(len(plot), np.nan), np.full(len(plot), np.nan)
    next_to = (plot[1:] == plot[:-1]) & (plot[1:] >= 0)
    above[1:] = np.where(next_to, values[:-1], np.nan)
    below[:-1] = np.where(next_to, values[1:], np.nan)
    return above, below
