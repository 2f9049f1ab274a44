"""The tab To check: open findings in three blocks, each in plot and tree order, with links."""

from collections import Counter
from collections.abc import Sequence

import pandas as pd

from xlhelpers.survey.identity import finding_ids
from xlhelpers.survey.model import Finding
from xlhelpers.survey.outcome import Outcome
from xlhelpers.workbook.sheet_plan import Block, Column, FillFacts, Link, TabPlan
from xlhelpers.workbook.tabs.values import natural_order

BLOCKS: dict[str, tuple[str, str]] = {
    "paper": ("1  Look at the paper", "paper"),
    "crew": ("2  Ask the crew", "crew"),
    "again": ("3  Measure again", "measure again"),
}
_PLACES = ("plot", "tree", "set-up")

COLUMNS: tuple[Column, ...] = (
    Column("first", "Start with", "text", width=13),
    Column("id", "Finding", "text", width=12),
    Column("severity", "Severity", "severity", width=10),
    Column("plot", "Plot", "identifier", width=9),
    Column("tree", "Tree", "identifier", width=9),
    Column("setup", "Set-up", "identifier", width=7),
    Column("about", "About", "wrapped", width=20),
    Column("where", "Where", "link", width=23),
    Column("found", "What was found", "wrapped", width=58),
    Column("action", "What to do", "wrapped", width=48),
)


def plan_to_check(outcome: Outcome, facts: FillFacts) -> TabPlan:
    """Return the plan of the tab; notes are counted here and listed in the last tab."""
    rows = finding_rows(outcome.findings)
    open_rows = rows[rows["severity"] != "note"]
    order = natural_order(
        open_rows["place"].tolist(), *(open_rows[c].tolist() for c in ("plot", "tree", "setup"))
    )
    open_rows = open_rows.iloc[order].reset_index(drop=True)
    counts = Counter(rows["severity"])
    return TabPlan(
        "to_check",
        "To check",
        "Everything that does not fit, while it can still be mended: first what the paper may "
        "settle, then what the crew may know, then what must be measured again.",
        (
            Block(
                "to_check",
                COLUMNS,
                open_rows,
                sections=_sections(open_rows),
                if_empty="Nothing is open.",
                filtered=True,
            ),
        ),
        remarks=(
            f"{_many(counts['error'], 'error')}, {_many(counts['warning'], 'warning')}; "
            f"{_many(counts['note'], 'note')} stated in About this fill. Correct the field sheet, "
            "then fill again: what is mended goes from this list.",
            "Never go back for a reading that is not safe to take: write NOT SAFE instead.",
        ),
    )


def finding_rows(findings: Sequence[Finding]) -> pd.DataFrame:
    """Return one row a finding with the columns of the tab, in the order given."""
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
                "about": ", ".join(f"{k} {v}" for k, v in finding.subject if k not in _PLACES),
                "where": _where(finding),
                "found": finding.message,
                "action": finding.action,
                "check": finding.check,
            }
        )
    columns = [c.key for c in COLUMNS] + ["place", "check"]
    return pd.DataFrame(records, columns=columns, dtype=object)


def _where(finding: Finding) -> Link | str:
    if finding.sheet and finding.row is not None:
        return Link(finding.sheet, finding.row, finding.column or 1)
    return finding.sheet


def _sections(rows: pd.DataFrame) -> tuple[tuple[int, str], ...]:
    places = rows["place"].tolist()
    sections, start = [], 0
    for title, _ in BLOCKS.values():
        count = places.count(title)
        said = _many(count, "finding") if count else "nothing"
        sections.append((start, f"{title}: {said}"))
        start += count
    return tuple(sections)


def _many(count: int, word: str) -> str:
    return f"{count:,} {word}" if count == 1 else f"{count:,} {word}s"
