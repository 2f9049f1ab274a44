"""Trees measured twice, side by side: differences, agreement and verdicts, whole and by group."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import pandas as pd

from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.quality.agreement import Agreement, agreement
from xlhelpers.survey.quality.intervals import clopper_pearson
from xlhelpers.survey.quality.objectives import Objective, Verdict, judge, pairs_to_pass
from xlhelpers.survey.quality.recheck_sample import NOT_STATED, crews_of
from xlhelpers.survey.species_names import fold_species
from xlhelpers.survey.summaries import open_trees
from xlhelpers.survey.words import identifier_key

WORDS = ("species", "condition")
# of a tree that was measured one of these is known
MEASURES = ("total_height", "crown_top", "crown_base", "diameter", "mean_width")
GROUPS: Mapping[str, str] = {"crew": "Crew", "person": "Person", "instrument": "Instrument"}
_TOLERANCE_SLACK = 1e-9


@dataclass(frozen=True)
class Judged:
    """One quantity over one group of pairs; `within` and `share` only where it has a tolerance."""

    objective: Objective
    by: str
    group: str
    agreement: Agreement
    pairs: int
    within: int
    share_limits: tuple[float, float]
    verdict: Verdict
    needed: int | None


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
        "both", ""); and for each quantity `<key>_first`, `<key>_again`. Trees that share their
        number with another are left out, and those of which nothing is keyed the second time.
    """
    sides = [_numbered(outcome) for outcome in (first, again)]
    seen = is_measured(again.trees)
    names = [at for at in sides[0] if at in sides[1] and seen[sides[1][at]]]
    mine = first.trees.iloc[[sides[0][at] for at in names]].reset_index(drop=True)
    theirs = again.trees.iloc[[sides[1][at] for at in names]].reset_index(drop=True)
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
    for key in keys:
        for side, trees in (("first", mine), ("again", theirs)):
            pairs[f"{key}_{side}"] = _named(trees) if key == "species" else trees[key]
    return pd.DataFrame(pairs)


def is_measured(trees: pd.DataFrame) -> np.ndarray:
    """Return the trees of which anything but their number is keyed."""
    numbers = trees[list(MEASURES)].notna().any(axis=1).to_numpy()
    words = [(trees[word] != "").to_numpy() for word in WORDS]
    return np.asarray(numbers | np.any(words, axis=0), dtype=bool)


def _doubtful(first: Sequence[bool], again: Sequence[bool]) -> list[str]:
    words = {(True, True): "both", (True, False): "first", (False, True): "second"}
    return [words.get(flags, "") for flags in zip(first, again, strict=True)]


def _numbered(outcome: Outcome) -> dict[tuple[str, str], int]:
    trees = outcome.trees
    single = ~(trees["duplicate"] | trees["unnumbered"])
    return {
        (identifier_key(str(plot)), identifier_key(str(tree))): at
        for at, (plot, tree, alone) in enumerate(
            zip(trees["plot"], trees["tree"], single, strict=True)
        )
        if alone
    }


def _named(trees: pd.DataFrame) -> list[str]:
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
        judged.append(_judge(objective, "", "all", values))
        for by in GROUPS:
            for group in sorted(set(pairs[by])):
                here = values[(pairs[by] == group).to_numpy()]
                judged.append(_judge(objective, by, group, here))
    return judged


def _judge(objective: Objective, by: str, group: str, values: np.ndarray) -> Judged:
    known = values[np.isfinite(values)]
    tolerance = 0.5 if objective.words else objective.tolerance + _TOLERANCE_SLACK
    within = int((np.abs(known) <= tolerance).sum())
    found = agreement([] if objective.words else known)
    share = objective.share if objective.is_set else float("nan")
    return Judged(
        objective, by, group, found, len(known), within,
        clopper_pearson(within, len(known)),
        judge(within, len(known), share),
        pairs_to_pass(share, len(known) - within),
    )  # fmt: skip
