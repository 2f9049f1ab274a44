"""The tab Measure again, for the crew: where the trees are, how far to stand, what to do."""

import numpy as np
import pandas as pd

from xlhelpers.fields.cautions import CAUTIONS
from xlhelpers.fields.quantities import QUANTITIES
from xlhelpers.pages.decision_columns import ANSWER_LABEL, KEY_LABEL, LABELS, key_text
from xlhelpers.pages.plan import Block, Column, FillFacts, TabPlan
from xlhelpers.pages.survey_columns import take_quantities
from xlhelpers.pages.values import natural_order
from xlhelpers.survey.measure_again import MEASURE_AGAIN, measure_again
from xlhelpers.survey.outcome import Outcome

# what the tab adds to the list of trees to measure again
ADDED = ("action", "answer", "rests_on")
_COLUMNS = (
    Column("plot", "Plot", "identifier", width=8),
    Column("tree", "Tree", "identifier", width=8),
    Column("setup", "Set-up", "identifier", width=7),
    Column("species", "Species, as entered", "wrapped", width=19),
    Column("place", "Where it is", "wrapped", width=26),
    Column("stand_away", "Stand away, at least", width=9, more_decimals=-1),
    Column("action", "What to do", "wrapped", width=40),
    Column("found", "What was found", "wrapped", width=46),
    Column("answer", ANSWER_LABEL["answer"], "entry", width=26),
    Column("id", "Finding", "text", width=11),
    Column("rests_on", KEY_LABEL["rests_on"], "text", width=4, hidden=True),
)
COLUMNS = take_quantities(MEASURE_AGAIN, _COLUMNS, ADDED)


def plan_again(outcome: Outcome, facts: FillFacts) -> TabPlan:
    """Return the plan of the tab: one row a tree, plot by plot."""
    rows = _rows(outcome)
    return TabPlan(
        "again",
        "Measure again",
        "For the crew: trees to measure again, plot by plot. Check traffic, wires and the tree "
        "before you set up.",
        (
            Block(
                "again",
                COLUMNS,
                rows,
                if_empty="There is nothing to measure again.",
                filtered=True,
                named=tuple(key for key in LABELS["again"] if key in {c.key for c in COLUMNS}),
            ),
        ),
        remarks=(
            *CAUTIONS,
            "Stand away at least one tree height: the measured, the corrected or the typical one, "
            "whichever is most. Where that would be too steep, the distance given here is longer.",
            "Write new readings on the field sheet. The next fill moves an answer typed here to To "
            "check. After NOT SAFE nobody goes back, and the value stays doubtful until the office "
            "accepts it.",
        ),
    )


def _tell_crew(points: str) -> str:
    return f"Measure again: {points}. Use a new place if you can. No safe place? Write NOT SAFE."


def _rows(outcome: Outcome) -> pd.DataFrame:
    rows = measure_again(outcome)
    decisions = [outcome.standings[i].decision for i in rows["position"]]
    keys = zip(rows["id"], decisions, strict=True)
    units = outcome.survey.units
    factor = QUANTITIES["length"].factor(units)
    rows["stand_away"] = np.ceil(rows["stand_away"].to_numpy(float) / factor - 1e-9) * factor
    rows["place"] = [
        "; ".join(text for text in texts if text)
        for texts in zip(rows["about"], rows["place"], strict=True)
    ]
    rows["action"] = pd.Series([_tell_crew(points) for points in rows["points"]], dtype=object)
    rows["answer"] = pd.Series([""] * len(rows), dtype=object)
    rows["rests_on"] = pd.Series([key_text(d) if d.finding else i for i, d in keys], dtype=object)
    order = natural_order(*(rows[c].tolist() for c in ("plot", "tree", "setup")))
    return rows.iloc[order].reset_index(drop=True)
