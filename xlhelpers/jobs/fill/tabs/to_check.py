"""The tab To check, where the office works: findings in blocks, with links, and its decisions."""

from collections import Counter

import pandas as pd

from xlhelpers.jobs.fill.tabs.places import place_column, places_of_findings
from xlhelpers.pages.chosen_cells import DATE_NAME, INITIALS_NAME
from xlhelpers.pages.decision_columns import (
    CELLS_LABEL,
    EARLIER_LABEL,
    FOR_ALL_LABELS,
    KEY_LABEL,
    LABELS,
    OFFICE_LABELS,
    PAPER_LABEL,
    SUBJECT_LABELS,
)
from xlhelpers.pages.finding_rows import BLOCKS, SETTLED, date_value, with_standings
from xlhelpers.pages.plan import Block, Column, FillFacts, TabPlan, TypedCell
from xlhelpers.pages.values import natural_order
from xlhelpers.survey.decisions.decisions import WORDS
from xlhelpers.survey.outcome import Outcome

_FOUND, _TYPED, _KEPT = "The finding", "Your decision: type here", "About the finding"
_PAPER_HELP = (
    "Type what the paper shows, and your initials. The next fill enters it into the first cell "
    "under Cells. Is that line marked “name the cell”, or is another cell wrong? Type its name "
    "first: “tip: 70”. Two cells: “tip: 70; foot: -6”."
)
OFFICE_COLUMNS: tuple[Column, ...] = (
    Column("paper", PAPER_LABEL["paper"], "entry text", width=11.5, band=_TYPED, help=_PAPER_HELP),
    Column("decision", OFFICE_LABELS["decision"], "entry", width=10, band=_TYPED, choices=WORDS),
    Column("initials", OFFICE_LABELS["initials"], "entry", width=8, band=_TYPED),
    Column("date", OFFICE_LABELS["date"], "entry date", width=11, band=_TYPED),
    Column("note", OFFICE_LABELS["note"], "entry", width=24, band=_TYPED),
)
KEPT_COLUMNS: tuple[Column, ...] = (
    Column("earlier", EARLIER_LABEL["earlier"], "wrapped", width=20, band=_KEPT),
    Column("rests_on", KEY_LABEL["rests_on"], "text", width=4, band=_KEPT, hidden=True),
    place_column("place_by_plot", "Order"),
)
# the printed ones come first, with room to write by hand
COLUMNS: tuple[Column, ...] = (
    Column("first", "Who can resolve it", "wrapped", width=8, band=_FOUND),
    Column("id", "Finding", "text", width=10, band=_FOUND),
    Column("severity", "Severity", "severity", width=8, band=_FOUND),
    Column("plot", "Plot", "identifier", width=6.5, band=_FOUND),
    Column("tree", "Tree", "identifier", width=5, band=_FOUND),
    Column("setup", "Set-up", "identifier", width=6, band=_FOUND),
    Column("where", "Where", "wrapped link", width=10, band=_FOUND),
    Column("found", "What was found", "wrapped", width=30, band=_FOUND),
    Column("action", "What to do", "wrapped", width=19.5, band=_FOUND),
    Column("cells", CELLS_LABEL["cells"], "wrapped", width=13, band=_FOUND),
    *OFFICE_COLUMNS,
    Column("about", SUBJECT_LABELS["about"], "wrapped", width=13, band=_KEPT),
    Column("state", "Status", "wrapped", width=24, band=_KEPT),
    *KEPT_COLUMNS,
)


def plan_to_check(outcome: Outcome, facts: FillFacts) -> TabPlan:
    """Return the plan of the tab; notes are counted here and listed in the last tab."""
    positions = [i for i, stands in enumerate(outcome.standings) if stands.state != "note"]
    rows = with_standings(outcome.findings, outcome.standings, facts.from_1904)
    cells = facts.cells or ("",) * len(rows)
    rows = rows.assign(place_by_plot=places_of_findings(outcome), cells=list(cells)).iloc[positions]
    order = natural_order(
        rows["place"].tolist(), *(rows[c].tolist() for c in ("plot", "tree", "setup"))
    )
    rows = rows.iloc[order].reset_index(drop=True)
    return TabPlan(
        "to_check",
        "To check",
        "Everything to check, while it can still be corrected: on paper, then with the crew, then "
        "at the tree.",
        (
            Block(
                "to_check",
                COLUMNS,
                rows,
                sections=_sections(rows),
                if_empty="There is nothing to check.",
                filtered=True,
                named=tuple(LABELS["to_check"]),
            ),
        ),
        remarks=(*_count_findings(outcome), *_HOW),
        printed_columns=[column.key for column in COLUMNS].index("initials") + 1,
        typed=_cells_for_all(facts),
        beside="For every decision below, and every entry under Paper says, that has none.",
    )


def _cells_for_all(facts: FillFacts) -> tuple[TypedCell, ...]:
    """Return the two cells above the table: initials and date of decisions that have none."""
    typed = dict.fromkeys(FOR_ALL_LABELS, "") | dict(facts.for_all)
    day = date_value(typed["date"], facts.from_1904)
    return (
        TypedCell(FOR_ALL_LABELS["initials"], INITIALS_NAME, typed["initials"]),
        TypedCell(FOR_ALL_LABELS["date"], DATE_NAME, day, "entry date"),
    )


_HOW = (
    "Is an entry wrong? Type what the paper shows under Paper says, with your initials. The next "
    "fill enters it, and Log keeps the old and the new value. Cells shows where it goes, and what "
    "is entered now. Where it says “name the cell”, type its name first, such as tip: 70.",
    "Or choose a decision in the dashed cells, with your initials, the date and a note. “accepted” "
    "keeps the reading as it is. “ask crew” and “measure again” move the finding to that list. "
    "Sort and filter as you like.",
    "A decision stays until its readings change. Then the finding is open again, and Earlier "
    "decisions shows what you chose. Accepted and NOT SAFE findings are at the end of this list. "
    "Findings that are gone are in Log.",
    "Never go back for a reading that is not safe to take. Write NOT SAFE instead. The value stays "
    "doubtful until you accept it. A decision without initials waits.",
)


def _count_findings(outcome: Outcome) -> tuple[str, ...]:
    counts = Counter(finding.severity for finding in outcome.open_findings)
    states = Counter(stands.state for stands in outcome.standings)
    settled = ""
    if states["accepted"] or states["not safe"]:
        settled = f" Resolved: {states['accepted']:,} accepted, {states['not safe']:,} NOT SAFE."
    again = f", {states['reopened']:,} of them reopened" if states["reopened"] else ""
    return (
        f"Open: {_many(counts['error'], 'error')}, {_many(counts['warning'], 'warning')}{again}. "
        f"{_many(states['note'], 'note')} on About this fill.{settled} Correct the field sheet and "
        "fill again. Corrected findings leave this list.",
    )


def _sections(rows: pd.DataFrame) -> tuple[tuple[int, str], ...]:
    places = rows["place"].tolist()
    sections, start = [], 0
    for title, _ in (*BLOCKS.values(), SETTLED):
        count = places.count(title)
        count_text = _many(count, "finding") if count else "none"
        if count or title != SETTLED[0]:
            sections.append((start, f"{title}: {count_text}"))
        start += count
    return tuple(sections)


def _many(count: int, word: str) -> str:
    return f"{count:,} {word}" if count == 1 else f"{count:,} {word}s"
