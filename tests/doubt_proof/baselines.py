"""Two plain ways to find wrong lines, beside the doubt, at equal false alarms.

    python -m tests.doubt_proof.baselines [--held-out] [--seeds 1]

A robust regression of ln height on ln diameter and ln width within groups of species, with one of
ln width on ln diameter; and range rules about height, diameter, width, crown base, standing
distance and eye height. Each gives a line a score; of each the limit is taken that two of a hundred
right lines pass, so that only what is found differs.
"""

import argparse
from collections.abc import Sequence

import numpy as np
import pandas as pd

from tests.doubt_proof.cities import as_survey
from tests.doubt_proof.kinds import SOFT, inject
from tests.doubt_proof.measure_doubt import (
    FALSE_ALARMS,
    Trial,
    collect,
    limit_for,
    make_sheets,
    measure_lines,
    per_hundred,
    plan_trials,
)
from xlhelpers.survey.setups.setups import compute_setups
from xlhelpers.survey.trees.trees import build_trees

# trees that a genus needs for a line of its own
FEWEST = 15
STEPS = 10
# least and greatest of a usual line; common practice, no source
RANGES = {
    "height to diameter": (15.0, 120.0),
    "width to diameter": (8.0, 45.0),
    "distance to height": (0.6, 2.0),
    "height": (2.5, 30.0),
    "diameter": (5.0, 120.0),
}
EYE, EYE_HALF = 1.6, 0.35
SHARE, SHARE_HALF = 0.25, 0.35


def take_measures(trial: Trial) -> pd.DataFrame:
    """Return what the program computes of the lines of a trial, with the mistakes in them."""
    keyed = make_sheets(trial)
    lines, _ = inject(keyed, trial.density, trial.chance)
    survey = as_survey(keyed, lines)
    setups = compute_setups(survey)
    trees = build_trees(survey, setups)
    own = trees.iloc[setups["tree_position"].to_numpy()].reset_index(drop=True)
    names = own["botanical"].where(own["botanical"] != "", own["species"]).astype(str)
    return pd.DataFrame(
        {
            "genus": names.str.split().str[0],
            "kind": own["kind"],
            "height": setups["total_height"].to_numpy(dtype=float),
            "base": setups["base_sighted"].to_numpy(dtype=float),
            "level": setups["level_distance"].to_numpy(dtype=float),
            "eye": setups["eye_above_foot"].to_numpy(dtype=float),
            "diameter": own["largest_stem"].to_numpy(dtype=float),
            "width": own["mean_width"].to_numpy(dtype=float),
        }
    )


def score_by_regression(measures: pd.DataFrame) -> np.ndarray:
    """Return the larger of two scaled residuals of each line; infinite without a height.

    Parameters
    ----------
    measures : DataFrame
        As `take_measures` gives it: metres, and centimetres of diameter.
    """
    with np.errstate(all="ignore"):
        logs = {
            name: np.log(measures[name].where(measures[name] > 0)).to_numpy()
            for name in ("height", "width", "diameter")
        }
    one = np.ones(len(measures))
    tall = _residuals(measures, [one, logs["diameter"], logs["width"]], logs["height"])
    wide = _residuals(measures, [one, logs["diameter"]], logs["width"])
    return np.where(np.isnan(tall), np.inf, np.fmax(tall, wide))


def _residuals(measures: pd.DataFrame, columns: Sequence[np.ndarray], y: np.ndarray) -> np.ndarray:
    """Fit each group on its own and return the absolute residuals in its robust spreads."""
    x = np.column_stack(columns)
    known = np.isfinite(x).all(axis=1) & np.isfinite(y)
    size = pd.Series(known).groupby(measures["genus"]).transform("sum")
    group = measures["genus"].where(size >= FEWEST, measures["kind"]).to_numpy()
    scaled = np.full(len(y), np.nan)
    for name in np.unique(group):
        own = np.flatnonzero(known & (group == name))
        if len(own) > x.shape[1]:
            left = y[own] - x[own] @ _fit(x[own], y[own])
            scaled[own] = np.abs(left) / max(np.median(np.abs(left)) / 0.6745, 0.05)
    return scaled


def _fit(x: np.ndarray, y: np.ndarray) -> np.ndarray:
    """Fit by iterated weights of Tukey's biweight, from a start by Huber's."""
    weight = np.ones(len(y))
    for step in range(2 * STEPS):
        root = np.sqrt(weight)
        figures = np.linalg.lstsq(x * root[:, None], y * root, rcond=None)[0]
        left = np.abs(y - x @ figures)
        scaled = left / max(np.median(left) / 0.6745, 0.01)
        huber = np.minimum(1.0, 1.345 / np.maximum(scaled, 1e-9))
        tukey = np.where(scaled < 4.685, (1 - (scaled / 4.685) ** 2) ** 2, 0.0)
        weight = huber if step < STEPS else np.maximum(tukey, 1e-6)
    return figures


def score_by_ranges(measures: pd.DataFrame) -> np.ndarray:
    """Return how far each line is out of its worst range: 1 at its ends, 0 in its middle.

    Parameters
    ----------
    measures : DataFrame
        As `take_measures` gives it.
    """
    stem = measures["diameter"] / 100
    ratios = {
        "height to diameter": measures["height"] / stem,
        "width to diameter": measures["width"] / stem,
        "distance to height": measures["level"] / measures["height"],
        "height": measures["height"],
        "diameter": measures["diameter"],
    }
    scores = [
        np.abs(measures["eye"] - EYE) / EYE_HALF,
        np.abs(measures["base"] / measures["height"] - SHARE) / SHARE_HALF,
    ]
    for name, (least, greatest) in RANGES.items():
        low, high = np.log(least), np.log(greatest)
        value = np.log(ratios[name].where(ratios[name] > 0))
        scores.append(np.abs(value - (low + high) / 2) / ((high - low) / 2))
    worst = np.column_stack([score.to_numpy(dtype=float) for score in scores])
    worst = np.fmax.reduce(worst, axis=1)
    return np.where(measures["height"].gt(0), worst, np.inf)


WAYS = {"range rules": score_by_ranges, "robust regression": score_by_regression}


def measure_ways(trial: Trial) -> pd.DataFrame:
    """Return the measured lines of a trial with the score of each way beside the doubt's odds."""
    table, measures = measure_lines(trial), take_measures(trial)
    return table.assign(**{name: score(measures) for name, score in WAYS.items()})


def compare(table: pd.DataFrame) -> dict[str, float]:
    """Return what each way finds at 2 false alarms per 100 right lines, per 100 mistakes.

    Parameters
    ----------
    table : DataFrame
        As `measure_ways` gives it, of one habit: a limit that fits one ground fits no other.
    """
    wrong, right = table[table["kind"] != ""], table[~table["spoilt"]]
    figures: dict[str, float] = {"mistakes": len(wrong)}
    for name, column in ({name: name for name in WAYS} | {"doubt": "odds"}).items():
        limit = limit_for(right[column].to_numpy(dtype=float), FALSE_ALARMS)
        figures[name] = per_hundred((wrong[column] > limit).sum(), len(wrong))
    return figures


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--held-out", action="store_true", help="not while anything is tuned")
    parser.add_argument("--seeds", type=int, default=1)
    options = parser.parse_args()
    asked = {"habit": None, "size": [300], "density": [0.10], "start": 0}
    trials = plan_trials(argparse.Namespace(**vars(options), **asked))
    table = collect(map(measure_ways, trials))
    rows = {habit: compare(own) for habit, own in table.groupby("habit", sort=False)}
    rows["all"] = compare(table)
    rows["all but soft kinds"] = compare(table[~table["kind"].isin(SOFT)])
    print(f"found per 100 mistakes at 2 false per 100 right lines\n{pd.DataFrame(rows).T}")


if __name__ == "__main__":
    main()
