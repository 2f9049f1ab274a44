"""How much better the doubt could be if it knew what it has to learn.

    python -m tests.doubt_proof.oracle [the options of measure_doubt: --held-out --seeds 2 ...]

The same trials as `measure_doubt.py`, weighed by what the lines without a mistake say: the curves
of the trees and their scatter, the habits of the people, the heights of the other set-ups. What
this does not find, no better learning from the survey finds.
"""

from dataclasses import replace
from unittest.mock import patch

import pandas as pd

from tests.doubt_proof.cities import as_survey
from tests.doubt_proof.kinds import SOFT
from tests.doubt_proof.measure_doubt import (
    Trial,
    by_habit,
    collect,
    make_sheets,
    measure_lines,
    parse_options,
    plan_trials,
    summarize,
)
from xlhelpers.survey.doubt import explain
from xlhelpers.survey.doubt.weigh import Usual, weigh_lines
from xlhelpers.survey.setups.setups import compute_setups
from xlhelpers.survey.trees.trees import build_trees


def measure_with_knowledge(trial: Trial) -> pd.DataFrame:
    """Return what `measure_lines` returns, with what is usual taken from the right lines.

    Parameters
    ----------
    trial : Trial
        One survey.
    """
    keyed = make_sheets(trial)
    right = as_survey(keyed, keyed.lines)
    setups = compute_setups(right)
    trees = build_trees(right, setups)

    def weigh(survey, entered, own, table, limits) -> Usual:
        known = weigh_lines(right, setups, trees, table, limits)
        return replace(weigh_lines(survey, entered, own, table, limits), expected=known.expected)

    with patch.object(explain, "weigh_lines", weigh):
        return measure_lines(trial)


def main() -> None:
    """Print the figures by habit, and those of all kinds but the soft ones."""
    trials = plan_trials(parse_options(None))
    table = collect(map(measure_with_knowledge, trials))
    print(f"with knowledge, {len(trials)} surveys")
    print(by_habit(table, summarize).to_string())
    print("by habit, without the soft kinds")
    print(by_habit(table[~table["kind"].isin(SOFT)], summarize).to_string())


if __name__ == "__main__":
    main()
