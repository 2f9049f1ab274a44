"""The tab Log: what left To check, with its decision; it only grows."""

from collections.abc import Mapping

import pandas as pd

from xlhelpers.survey.outcome import Outcome
from xlhelpers.workbook.decision_columns import EARLIER_LABEL, KEY_LABEL, LABELS
from xlhelpers.workbook.sheet_plan import Block, Column, FillFacts, Look, TabPlan
from xlhelpers.workbook.tabs.finding_rows import decision_columns

_FOUND, _LEFT, _DECIDED, _KEPT = "The finding", "How it left", "What was decided", "Before"
_BANDS = {"became": _LEFT, "left_on": _LEFT} | dict.fromkeys(EARLIER_LABEL | KEY_LABEL, _KEPT)
_BANDS |= dict.fromkeys(("decision", "initials", "date", "note"), _DECIDED)
_SHAPES: Mapping[str, tuple[Look, float]] = {
    "id": ("text", 11),
    "severity": ("severity", 9),
    "plot": ("identifier", 7),
    "tree": ("identifier", 7),
    "setup": ("identifier", 7),
    "about": ("wrapped", 16),
    "found": ("wrapped", 54),
    "became": ("wrapped", 22),
    "left_on": ("text", 11),
    "decision": ("text", 14),
    "initials": ("text", 8),
    "date": ("date", 11),
    "note": ("wrapped", 28),
    "earlier": ("wrapped", 24),
    "rests_on": ("text", 4),
}
COLUMNS: tuple[Column, ...] = tuple(
    Column(
        key,
        label,
        _SHAPES[key][0],
        width=_SHAPES[key][1],
        band=_BANDS.get(key, _FOUND),
        hidden=key in KEY_LABEL,
    )
    for key, label in LABELS["log"].items()
)


def plan_log(outcome: Outcome, facts: FillFacts) -> TabPlan:
    """Return the plan of the tab, in the order in which findings left the list."""
    rows = _rows(outcome, facts)
    return TabPlan(
        "log",
        "Log",
        "What left To check, with its decision, the oldest first. Nothing is ever taken out.",
        (
            Block(
                "log",
                COLUMNS,
                rows,
                if_empty="Nothing has left To check yet.",
                filtered=True,
                named=tuple(LABELS["log"]),
            ),
        ),
    )


def _rows(outcome: Outcome, facts: FillFacts) -> pd.DataFrame:
    log = outcome.ledger.log
    told = [
        {
            "id": entry.decision.finding,
            **{k: getattr(entry.decision.told, k) for k in ("severity", "plot", "tree", "setup")},
            "about": entry.decision.told.about,
            "found": entry.decision.told.found,
            "became": entry.became,
            "left_on": entry.left_on,
        }
        for entry in log
    ]
    decided = decision_columns([entry.decision for entry in log], facts.from_1904)
    columns = [key for key in LABELS["log"] if key not in decided]
    return pd.concat([pd.DataFrame(told, columns=columns, dtype=object), decided], axis=1)
