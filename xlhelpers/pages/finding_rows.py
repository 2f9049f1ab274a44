"""Findings as rows of a tab: who they are, where they stand, what was decided about them."""

from collections.abc import Mapping, Sequence
from datetime import date

import pandas as pd

from xlhelpers.pages.decision_columns import (
    CORRECTED_LABELS,
    EARLIER_LABEL,
    KEY_LABEL,
    LABELS,
    key_text,
)
from xlhelpers.pages.plan import Column, Link, Look
from xlhelpers.survey.decisions.decisions import Decision, Standing, block_now
from xlhelpers.survey.decisions.identity import finding_ids
from xlhelpers.survey.model import Finding

# block -> the title of its section, the word in its rows
BLOCKS: dict[str, tuple[str, str]] = {
    "paper": ("1  Check the paper", "paper"),
    "crew": ("2  Ask the crew", "crew"),
    "again": ("3  Measure again", "measure again"),
}
SETTLED = ("4  Accepted or NOT SAFE", "resolved")
_PLACES = ("plot", "tree", "set-up")
COLUMNS = (
    "place",
    "first",
    "id",
    "severity",
    "plot",
    "tree",
    "setup",
    "about",
    "where",
    "found",
    "action",
    "check",
)


def finding_rows(findings: Sequence[Finding]) -> pd.DataFrame:
    """Return one row a finding with `COLUMNS`, in the order given."""
    records = []
    for identity, finding in zip(finding_ids(findings), findings, strict=True):
        subject = dict(finding.subject)
        records.append(
            {
                "place": BLOCKS[finding.block][0],
                "first": BLOCKS[finding.block][1],
                "id": identity,
                "severity": finding.severity,
                "plot": subject.get("plot", ""),
                "tree": subject.get("tree", ""),
                "setup": subject.get("set-up", ""),
                "about": _about(finding),
                "where": _where(finding),
                "found": finding.message,
                "action": finding.action,
                "check": finding.check,
            }
        )
    return pd.DataFrame(records, columns=list(COLUMNS), dtype=object)


def with_standings(
    findings: Sequence[Finding], standings: Sequence[Standing], from_1904: bool
) -> pd.DataFrame:
    """Return the rows of findings with their state, their decision, and the section they are in.

    A finding is where its decision sends it; resolved ones are in a section of their own.
    """
    rows = finding_rows(findings)
    sections = [
        BLOCKS[block_now(finding, stands)] if stands.is_open else SETTLED
        for finding, stands in zip(findings, standings, strict=True)
    ]
    rows["place"] = pd.Series([title for title, _ in sections], dtype=object)
    rows["first"] = pd.Series([word for _, word in sections], dtype=object)
    rows["state"] = pd.Series([_state(stands) for stands in standings], dtype=object)
    decided = decision_columns([stands.decision for stands in standings], from_1904)
    return pd.concat([rows, decided], axis=1)


def _state(stands: Standing) -> str:
    """Return where a finding stands, and what became of what the paper says."""
    answer = stands.decision.answer
    return f"{stands.sentence}. {answer}" if answer else stands.sentence


def decision_columns(decisions: Sequence[Decision], from_1904: bool) -> pd.DataFrame:
    """Return what the office typed, one row a decision, and the key of the row."""
    records = [
        {
            "paper": decision.paper,
            "decision": decision.word,
            "initials": decision.initials,
            "date": date_value(decision.date, from_1904),
            "note": decision.note,
            "earlier": decision.earlier,
            "rests_on": key_text(decision),
        }
        for decision in decisions
    ]
    columns = ["paper", "decision", "initials", "date", "note", "earlier", "rests_on"]
    return pd.DataFrame(records, columns=columns, dtype=object)


def date_value(text: str, from_1904: bool) -> float | str:
    """Return a day as the number that a cell holds; any other text stays as it is."""
    try:
        day = date.fromisoformat(text) if len(text) == len("2000-01-01") else None
    except ValueError:
        day = None
    if day is None:
        return text
    number = (day - (date(1904, 1, 1) if from_1904 else date(1899, 12, 30))).days
    return float(number) if number > 0 else text


def _about(finding: Finding) -> str:
    phrases = [f"{name} {value}" for name, value in finding.subject if name not in _PLACES]
    return ", ".join([*phrases, f"see {finding.under} first"] if finding.under else phrases)


def _where(finding: Finding) -> Link | str:
    if finding.sheet and finding.row is not None:
        return Link(finding.sheet, finding.row, finding.column or 1)
    return finding.sheet


_FOUND, _LEFT, _DECIDED, _KEPT = "The finding", "The outcome", "What was decided", "Earlier"
_CORRECTED = "Corrected from the list"
_SHAPES: Mapping[str, tuple[Look, float]] = {
    "id": ("text", 11),
    "severity": ("severity", 9),
    "plot": ("identifier", 7),
    "tree": ("identifier", 7),
    "setup": ("identifier", 7),
    "about": ("wrapped", 13),
    "found": ("wrapped", 44),
    "became": ("wrapped", 18),
    "left_on": ("text", 11),
    "cell": ("wrapped", 18),
    "old": ("wrapped", 10),
    "new": ("wrapped", 12),
    "paper": ("wrapped", 14),
    "decision": ("text", 14),
    "initials": ("text", 8),
    "date": ("date", 11),
    "note": ("wrapped", 22),
    "earlier": ("wrapped", 20),
    "rests_on": ("text", 4),
}
_BANDS = {"became": _LEFT, "left_on": _LEFT} | dict.fromkeys(EARLIER_LABEL | KEY_LABEL, _KEPT)
_BANDS |= dict.fromkeys(CORRECTED_LABELS, _CORRECTED)
_BANDS |= dict.fromkeys(("paper", "decision", "initials", "date", "note"), _DECIDED)
LOG_COLUMNS: tuple[Column, ...] = tuple(
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
