"""Trees measured a second time: the sample, the pairs, their agreement, and the objectives.

The method is that of Bland and Altman (1986): differences of pairs, their mean and standard
deviation, limits of agreement, and confidence limits of all three.

Each tree gets a number from the seed, its plot and its own number alone; the smallest are drawn.
The order of rows, other trees and the program's version have no part in it.
"""

import hashlib
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
import pandas as pd
from numpy.typing import ArrayLike

from xlhelpers.estimates.intervals import CONFIDENCE, binomial_cdf, clopper_pearson, t_quantile
from xlhelpers.fields.quantities import QUANTITIES, Units
from xlhelpers.survey.counted import left_out_texts
from xlhelpers.survey.model import Survey
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.summaries import open_trees
from xlhelpers.survey.typed.folding import Positions
from xlhelpers.survey.typed.species_names import fold_species
from xlhelpers.survey.typed.words import closing_word, fold_word, identifier_key
from xlhelpers.wording import plural

# 95 of 100 differences of a normal distribution lie within so many standard deviations
MULTIPLIER = 1.96
Limits = tuple[float, float]


@dataclass(frozen=True)
class Agreement:
    """What the differences of pairs say, in their unit; NaN where there are too few.

    `bias` is the mean difference, `sd` their standard deviation (n - 1), `rmse` the root of their
    mean square; `lower` and `upper` are the limits of agreement; each `..._limits` are 95 %
    confidence limits.
    """

    n: int
    bias: float
    sd: float
    rmse: float
    lower: float
    upper: float
    bias_limits: Limits
    lower_limits: Limits
    upper_limits: Limits


def agreement(differences: ArrayLike, multiplier: float = MULTIPLIER) -> Agreement:
    """Return the agreement of pairs.

    Parameters
    ----------
    differences : array
        First minus second measurement of each pair; NaN where a pair is not complete.
    multiplier : float
        Standard deviations from the bias to the limits of agreement; 1.96 (Bland and Altman's
        own example takes 2).

    Returns
    -------
    Agreement
        From one pair on a bias, from two on the rest.

    References
    ----------
    BlandAltman1986
    """
    values = np.asarray(differences, dtype=float)
    values = values[np.isfinite(values)]
    n = len(values)
    bias, rmse, sd, t = (math.nan,) * 4
    if n:
        bias, rmse = float(values.mean()), float(np.sqrt(np.mean(values**2)))
    if n > 1:
        sd, t = float(values.std(ddof=1)), t_quantile(0.5 + CONFIDENCE / 2, n - 1)
    lower, upper = bias - multiplier * sd, bias + multiplier * sd
    of_bias, of_limit = t * sd / math.sqrt(n or 1), t * sd * math.sqrt(3 / (n or 1))

    def limits(value: float, reach: float) -> Limits:
        return value - reach, value + reach

    return Agreement(
        n,
        bias,
        sd,
        rmse,
        lower,
        upper,
        limits(bias, of_bias),
        limits(lower, of_limit),
        limits(upper, of_limit),
    )


Verdict = Literal[
    "met",
    "met so far, but too few pairs to be sure",
    "not met so far, but too few pairs to be sure",
    "not met",
    "no objective",
    "no pairs",
]
# chance of a wrong verdict that is accepted, on one side
TAIL = 0.05
_MOST_PAIRS = 5000


@dataclass(frozen=True)
class Objective:
    """One objective.

    `tolerance` is in the inner unit (NaN: the two must be the same word); `share` of the trees
    that must lie within; NaN in either leaves the quantity without an objective. `source` says
    where both numbers come from and whether they were seen there.
    """

    key: str
    label: str
    quantity: str
    tolerance: float
    share: float
    source: str
    words: bool = False

    @property
    def is_set(self) -> bool:
        """Return whether there is something to be met."""
        return self.share == self.share and (self.words or self.tolerance == self.tolerance)


_NONE = float("nan")
_SEEN = "Tolerance: Schilling, in USDA Forest Service PSW-GTR-155, section 8 (seen)."
_MEMORY = "from memory (USDA Forest Service national core field guide), not looked up"
DEFAULTS: tuple[Objective, ...] = (
    Objective("total_height", "Total height", "length", 1.0, 0.90, f"{_SEEN} Share: {_MEMORY}."),
    Objective("crown_base", "Crown base", "length", _NONE, _NONE, "No published figure was seen."),
    Objective(
        "crown_depth", "Crown depth", "length", _NONE, _NONE, "No published figure was seen."
    ),
    Objective(
        "live_crown_ratio", "Live crown ratio", "percent", 0.05, 0.90, f"{_SEEN} Share: {_MEMORY}."
    ),
    Objective("diameter", "Diameter", "diameter", 0.2, 0.95, f"{_SEEN} Share: {_MEMORY}."),
    Objective(
        "mean_width", "Mean crown width", "length", _NONE, _NONE, "No published figure was seen."
    ),
    Objective("species", "Species", "number", _NONE, 0.95, f"Share: {_MEMORY}.", words=True),
    Objective("condition", "Condition", "number", _NONE, 0.95, f"Share: {_MEMORY}.", words=True),
)


def judge(within: int, pairs: int, share: float) -> Verdict:
    """Return whether an objective is met, and whether that is certain.

    Certain means: the exact one-sided 95 % confidence limit of the share lies on that side.

    Parameters
    ----------
    within, pairs : int
        So many of so many pairs lie within the tolerance.
    share : float
        The share wanted, 0 to 1.
    """
    if pairs == 0:
        return "no pairs"
    if share != share:
        return "no objective"
    if _surely_met(pairs - within, pairs, share):
        return "met"
    if binomial_cdf(within, pairs, share) < TAIL:
        return "not met"
    if within >= share * pairs - 1e-9:
        return "met so far, but too few pairs to be sure"
    return "not met so far, but too few pairs to be sure"


def _surely_met(misses: int, pairs: int, share: float) -> bool:
    """Return whether so few outside would be rare if just the wanted share lay within."""
    return binomial_cdf(misses, pairs, 1 - share) <= TAIL


def pairs_to_pass(share: float, misses: int = 0) -> int | None:
    """Return how many pairs it takes until a pass is certain, with so many outside and no more.

    None where no number below 5,000 does, or no share is wanted.

    References
    ----------
    Wilks1941
    """
    if not 0 < share < 1:
        return None
    low, high = misses + 1, _MOST_PAIRS
    if not _surely_met(misses, high, share):
        return None
    while low < high:
        middle = (low + high) // 2
        if _surely_met(misses, middle, share):
            high = middle
        else:
            low = middle + 1
    return low


def pairs_to_fail(share: float) -> int | None:
    """Return how many pairs, all outside, it takes at the least until a failure is certain."""
    if not 0 < share < 1:
        return None
    return next((n for n in range(1, _MOST_PAIRS) if binomial_cdf(0, n, share) < TAIL), None)


NOT_STATED = "not stated"
# trees that a crew could not safely reach are not asked of the next one
_LEFT_OUT = frozenset(("NOT SAFE", "NO ACCESS"))


def crews_of(survey: Survey, trees: pd.DataFrame) -> list[str]:
    """Return the crew of each tree as its plot names it, "not stated" where it does not."""
    crews = [*(str(crew).strip() for crew in survey.plots["crew"]), ""]
    return [crews[at] or NOT_STATED for at in trees["plot_position"]]


def draw(survey: Survey, trees: pd.DataFrame, share: float, seed: int) -> Positions:
    """Draw the trees to be measured again.

    Parameters
    ----------
    survey : Survey
        The keyed tables.
    trees : DataFrame
        As `build_trees` gives them for this survey.
    share : float
        Share of each crew's trees, above 0 and at most 1; rounded up, so at least one of each.
    seed : int
        The same seed draws the same trees.

    Returns
    -------
    ndarray of int
        Positions in `trees`, by plot and tree. Not drawn: trees without a number or that share
        one, and trees that the crew left because they were not safe or could not be reached.
    """
    eligible = _eligible(survey, trees)
    ranks = [
        hashlib.sha256(f"{seed}\0{identifier_key(plot)}\0{identifier_key(tree)}".encode()).digest()
        for plot, tree in zip(trees["plot"].astype(str), trees["tree"].astype(str), strict=True)
    ]
    crews = crews_of(survey, trees)
    by_crew: dict[str, list[int]] = {}
    for at in np.flatnonzero(eligible).tolist():
        by_crew.setdefault(fold_word(crews[at]), []).append(at)
    drawn: list[int] = []
    for listed in by_crew.values():
        count = max(1, math.ceil(share * len(listed) - 1e-9))
        drawn += sorted(listed, key=lambda at: ranks[at])[:count]
    return np.array(sorted(drawn), dtype=np.int64)


def _eligible(survey: Survey, trees: pd.DataFrame) -> np.ndarray:
    named = ~(trees["duplicate"] | trees["unnumbered"]).to_numpy(bool)
    words = survey.lines["missing_because"].to_numpy(dtype=object)
    closed = np.array([closing_word(str(words[at])) in _LEFT_OUT for at in trees["first_line"]])
    status = np.append(survey.plots["status"].to_numpy(dtype=object), "")
    safe = status[trees["plot_position"].to_numpy()] != "not safe"
    return np.asarray(named & ~closed.astype(bool) & safe, dtype=bool)


WORDS = ("species", "condition")
# of a tree that was measured one of these is known
MEASURES = ("total_height", "crown_top", "crown_base", "diameter", "mean_width")
GROUPS: Mapping[str, str] = {"crew": "Crew", "person": "Person", "instrument": "Instrument"}
_TOLERANCE_SLACK = 1e-9


@dataclass(frozen=True)
class Judged:
    """One quantity over one group of pairs; `within` and `share` only where it has a tolerance.

    `left_out` counts the trees with a value that cannot be right; they are in no pair.
    """

    objective: Objective
    by: str
    group: str
    agreement: Agreement
    pairs: int
    within: int
    share_limits: tuple[float, float]
    verdict: Verdict
    needed: int | None
    left_out: int = 0


def pair_trees(first: Outcome, again: Outcome, keys: Sequence[str]) -> pd.DataFrame:
    """Return the trees that both workbooks hold, one row each.

    Parameters
    ----------
    first, again : Outcome
        The survey, and the second measurement or the known values.
    keys : sequence of str
        The quantities, columns of the trees.

    Returns
    -------
    DataFrame
        `plot`, `tree`, `crew`, `person` (who measures first), `instrument` of the first
        measurement; `doubtful`, which of the two rests on an open finding ("first", "second",
        "both", ""); `left_out`, what cannot be right in one of them; and for each quantity
        `<key>_first`, `<key>_again`, NaN where it cannot be right, and `<key>_left_out`. Trees that
        share their number with another are left out, and those of which nothing is keyed the
        second time.
    """
    sides = [_positions_by_number(outcome) for outcome in (first, again)]
    seen = is_measured(again.trees)
    names = [at for at in sides[0] if at in sides[1] and seen[sides[1][at]]]
    mine, theirs = (
        outcome.counted.trees.iloc[[side[at] for at in names]].reset_index(drop=True)
        for outcome, side in zip((first, again), sides, strict=True)
    )
    counted = [outcome.counted for outcome in (first, again)]
    left_out = [left_out_texts(each) for each in counted]
    crews = crews_of(first.survey, mine)
    pairs = {
        "plot": mine["plot"],
        "tree": mine["tree"],
        "crew": crews,
        "person": [crew if crew == NOT_STATED else crew.split()[0] for crew in crews],
        "instrument": mine["instruments"].replace("", NOT_STATED),
        "doubtful": _doubtful(
            *(
                [side[at] in still_open for at in names]
                for side, still_open in zip(sides, map(open_trees, (first, again)), strict=True)
            )
        ),
    }
    pairs["left_out"] = [
        "; ".join(
            f"{which}: {text}"
            for which, texts, side in zip(("first", "second"), left_out, sides, strict=True)
            if (text := texts[side[at]])
        )
        for at in names
    ]
    for key in keys:
        for side, trees in (("first", mine), ("again", theirs)):
            pairs[f"{key}_{side}"] = _species_names(trees) if key == "species" else trees[key]
        gone = [each.lacks_column(key) for each in counted]
        pairs[f"{key}_left_out"] = [
            any(flags[side[at]] for flags, side in zip(gone, sides, strict=True)) for at in names
        ]
    return pd.DataFrame(pairs)


def is_measured(trees: pd.DataFrame) -> np.ndarray:
    """Return the trees that have anything entered but their number."""
    numbers = trees[list(MEASURES)].notna().any(axis=1).to_numpy()
    words = [(trees[word] != "").to_numpy() for word in WORDS]
    return np.asarray(numbers | np.any(words, axis=0), dtype=bool)


def _doubtful(first: Sequence[bool], again: Sequence[bool]) -> list[str]:
    words = {(True, True): "both", (True, False): "first", (False, True): "second"}
    return [words.get(flags, "") for flags in zip(first, again, strict=True)]


def _positions_by_number(outcome: Outcome) -> dict[tuple[str, str], int]:
    trees = outcome.trees
    single = ~(trees["duplicate"] | trees["unnumbered"])
    return {
        (identifier_key(str(plot)), identifier_key(str(tree))): at
        for at, (plot, tree, alone) in enumerate(
            zip(trees["plot"], trees["tree"], single, strict=True)
        )
        if alone
    }


def _species_names(trees: pd.DataFrame) -> list[str]:
    names = zip(trees["botanical"], trees["species"], strict=True)
    return [botanical or keyed for botanical, keyed in names]


def differences(pairs: pd.DataFrame, objective: Objective) -> np.ndarray:
    """Return first minus second of each pair, NaN where one lacks; for words 0 alike, 1 not."""
    one, two = (pairs[f"{objective.key}_{side}"] for side in ("first", "again"))
    if not objective.words:
        return np.asarray(one.to_numpy(float) - two.to_numpy(float))
    folded = [[fold_species(str(text)) for text in side] for side in (one, two)]
    unlike = np.array([a != b for a, b in zip(*folded, strict=True)], dtype=float)
    if objective.key == "species":
        lacking = np.array([not a or not b for a, b in zip(*folded, strict=True)], dtype=bool)
        unlike[lacking] = np.nan
    return unlike


def judge_pairs(pairs: pd.DataFrame, objectives: Sequence[Objective]) -> list[Judged]:
    """Judge every quantity over all pairs, then by crew, person and instrument."""
    judged = []
    for objective in objectives:
        values = differences(pairs, objective)
        gone = pairs[f"{objective.key}_left_out"].to_numpy(bool)
        judged.append(_judge(objective, "", "all", values, int(gone.sum())))
        for by in GROUPS:
            for group in sorted(set(pairs[by])):
                here = (pairs[by] == group).to_numpy()
                judged.append(_judge(objective, by, group, values[here], int(gone[here].sum())))
    return judged


def _judge(objective: Objective, by: str, group: str, values: np.ndarray, left_out: int) -> Judged:
    known = values[np.isfinite(values)]
    tolerance = 0.5 if objective.words else objective.tolerance + _TOLERANCE_SLACK
    within = int((np.abs(known) <= tolerance).sum())
    pair_agreement = agreement([] if objective.words else known)
    share = objective.share if objective.is_set else float("nan")
    return Judged(
        objective,
        by,
        group,
        pair_agreement,
        len(known),
        within,
        clopper_pearson(within, len(known)),
        judge(within, len(known), share),
        pairs_to_pass(share, len(known) - within),
        left_out,
    )


def agreement_sentence(judged: Judged, units: Units) -> str:
    """Return one quantity in plain words: how many lie within, what that says, what is left out."""
    sentence = _say_agreement(judged, units)
    if not judged.left_out:
        return sentence
    return (
        f"{sentence} Left out because a value cannot be right: {plural(judged.left_out, 'tree')}."
    )


def _say_agreement(judged: Judged, units: Units) -> str:
    objective, n = judged.objective, judged.pairs
    what = _PLURALS[objective.key]
    if n == 0:
        return f"{objective.label}: no pairs."
    if objective.words:
        near = f"{judged.within} of {n} {what} agree."
    elif np.isnan(objective.tolerance):
        pair_agreement = judged.agreement
        unit = QUANTITIES[objective.quantity].unit(units)
        bias, spread = (
            in_units(v, objective, units) for v in (pair_agreement.bias, pair_agreement.sd)
        )
        deviation = "" if np.isnan(spread) else f", standard deviation {spread:.2f} {unit}"
        return f"{n} {what}: mean difference {bias:+.2f} {unit}{deviation}. No objective is set."
    else:
        tolerance = in_units(objective.tolerance, objective, units)
        unit = QUANTITIES[objective.quantity].unit(units)
        unit = "points" if unit == "%" else unit
        near = f"{judged.within} of {n} {what} are within {tolerance:.3g} {unit}."
    if np.isnan(objective.share):
        return f"{near} No objective is set."
    sentence = f"{near} Objective of {100 * objective.share:.0f} %: {judged.verdict}."
    if judged.verdict.endswith("sure") and judged.needed is not None:
        sentence += f" {judged.needed} pairs are enough if all others agree."
    return sentence


_PLURALS = {
    "total_height": "heights",
    "crown_base": "crown bases",
    "crown_depth": "crown depths",
    "live_crown_ratio": "live crown ratios",
    "diameter": "diameters",
    "mean_width": "mean crown widths",
    "species": "species",
    "condition": "conditions",
}


def in_units(value: float, objective: Objective, units: Units) -> float:
    """Return a value of an objective, from inner units, in those of the survey."""
    return value / QUANTITIES[objective.quantity].factor(units)
