"""The tab Log: what left To check, with its decision; it only grows."""

import pandas as pd

from xlhelpers.pages.decision_columns import CORRECTED_LABELS, LABELS
from xlhelpers.pages.finding_rows import LOG_COLUMNS, decision_columns
from xlhelpers.pages.plan import Block, FillFacts, TabPlan
from xlhelpers.survey.outcome import Outcome


def plan_log(outcome: Outcome, facts: FillFacts) -> TabPlan:
    """Return the plan of the tab, in the order in which findings left the list."""
    rows = _rows(outcome, facts)
    return TabPlan(
        "log",
        "Log",
        "Findings that have left To check, and cells corrected from that list, the oldest first. "
        "Nothing is ever deleted.",
        (
            Block(
                "log",
                LOG_COLUMNS,
                rows,
                if_empty="No finding has left To check yet.",
                filtered=True,
                named=tuple(LABELS["log"]),
            ),
        ),
    )


def _rows(outcome: Outcome, facts: FillFacts) -> pd.DataFrame:
    log = outcome.ledger.log
    texts = [
        {
            "id": entry.decision.finding,
            **{k: getattr(entry.decision.texts, k) for k in ("severity", "plot", "tree", "setup")},
            "about": entry.decision.texts.about,
            "found": entry.decision.texts.message,
            "became": entry.became,
            "left_on": entry.left_on,
            **{key: getattr(entry, key) for key in CORRECTED_LABELS},
        }
        for entry in log
    ]
    decided = decision_columns([entry.decision for entry in log], facts.from_1904)
    columns = [key for key in LABELS["log"] if key not in decided]
    return pd.concat([pd.DataFrame(texts, columns=columns, dtype=object), decided], axis=1)
