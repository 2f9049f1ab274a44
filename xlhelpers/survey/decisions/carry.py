"""What becomes of decisions at the next fill: they stay, are taken again, or go to the log.

Same identity and same fingerprint: the decision stays. Another fingerprint: the finding is open
again and its row tells of the decision. Gone: the row goes to the log.
"""

from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace

from xlhelpers.survey.decisions.decisions import (
    MENDED,
    Decision,
    Ledger,
    LogEntry,
    Standing,
    decision_word,
    standing,
    with_parents,
)
from xlhelpers.survey.decisions.identity import (
    finding_id,
    finding_ids,
    fingerprint,
    ids_of_identity,
)
from xlhelpers.survey.model import Finding
from xlhelpers.survey.typed.words import identifier_key

NO_LONGER_FOUND = "no longer found"
NOT_KEYED = "its tree is no longer keyed"
NOW_A_NOTE = "a note now, see About this fill"
NOT_READABLE = "its finding could not be read from the row"
SECOND = "a second decision on the same finding"
# so many findings of one identity may have gone since the last fill and still be told apart
_MORE_ALIKE = 4
_LEFT = frozenset((MENDED, NO_LONGER_FOUND, NOT_KEYED, NOW_A_NOTE))


def merge(
    findings: Sequence[Finding],
    rows: Sequence[Decision],
    log: Sequence[LogEntry],
    keyed: Collection[tuple[str, str]],
    today: str,
) -> Ledger:
    """Bring the decisions of the last fill and the findings of this one together.

    Parameters
    ----------
    findings : sequence of Finding
        All findings, notes among them.
    rows : sequence of Decision
        The rows of the tab To check as the office left them, in any order.
    log : sequence of LogEntry
        The log so far; it only grows.
    keyed : collection of (plot, tree)
        The trees that are keyed, each as `identifier_key` gives them.
    today : str
        Day of the fill, for the log.

    Returns
    -------
    Ledger
        One standing a finding, and the log with what left the list.
    """
    kept, doubled = _one_row_a_finding(rows)
    placed, left = _place(findings, kept)
    unreadable = [row for row in rows if not row.finding and row.is_taken]
    unplaced = _place_by_words(findings, unreadable, placed)
    returned = _from_log(log)
    ids = finding_ids(findings)
    standings = []
    for position, (identity, finding) in enumerate(zip(ids, findings, strict=True)):
        row = placed.get(position) or returned.get(identity) or Decision()
        standings.append(_stands(finding, identity, row))
    notes = {i for i, f in zip(ids, findings, strict=True) if f.severity == "note"}
    grown = [
        *log,
        *(LogEntry(row, _became(row, keyed, notes), today) for row in left),
        *(LogEntry(row, SECOND, today) for row in doubled),
        *(LogEntry(row, NOT_READABLE, today) for row in unplaced),
    ]
    stands = with_parents(findings, ids, standings)
    return Ledger(stands, tuple(grown), _remarks(doubled, unplaced))


def _one_row_a_finding(rows: Iterable[Decision]) -> tuple[list[Decision], list[Decision]]:
    """Return one row an id, the one with a decision, and further rows with another decision."""
    by_id: dict[str, list[Decision]] = defaultdict(list)
    for row in rows:
        if row.finding:
            by_id[row.finding].append(row)
    kept, doubled = [], []
    for same in by_id.values():
        first, *others = sorted(same, key=lambda row: (not row.word, not row.is_taken))
        kept.append(first)
        doubled += [row for row in others if row.is_taken and row.said != first.said]
    return kept, doubled


def _place(
    findings: Sequence[Finding], rows: Iterable[Decision]
) -> tuple[dict[int, Decision], list[Decision]]:
    """Return the row of each finding by its position, and the rows whose finding is gone.

    Findings of one identity, such as those of two lines with one number, share their rows: the
    one with the same fingerprint has its own, the rest go by id.
    """
    waiting = {row.finding: row for row in rows}
    alike: dict[str, list[int]] = defaultdict(list)
    ids = finding_ids(findings)
    for position, finding in enumerate(findings):
        if finding.severity != "note":
            alike[finding_id(finding)].append(position)
    placed: dict[int, Decision] = {}
    gone: list[Decision] = []
    for positions in alike.values():
        possible = ids_of_identity(findings[positions[0]], len(positions) + _MORE_ALIKE)
        pool = [waiting.pop(identity) for identity in possible if identity in waiting]
        for fits in (_same_readings, _same_id, _any):
            for position in positions:
                now = (ids[position], findings[position])
                found = next((row for row in pool if fits(row, *now)), None)
                if position not in placed and found is not None:
                    pool.remove(found)
                    placed[position] = found
        gone += pool
    return placed, [*waiting.values(), *gone]


def _same_id(row: Decision, identity: str, finding: Finding) -> bool:
    return row.finding == identity


def _any(row: Decision, identity: str, finding: Finding) -> bool:
    return True


def _same_readings(row: Decision, identity: str, finding: Finding) -> bool:
    """Return whether a decision was taken on the readings that the finding has now."""
    if row.rests_on:
        return row.rests_on == fingerprint(finding)
    return bool(row.told.found) and row.told.found == finding.message


def _place_by_words(
    findings: Sequence[Finding], rows: Iterable[Decision], placed: dict[int, Decision]
) -> list[Decision]:
    """Place rows without an id by what they say of their finding; return those that fit none."""
    by_message: dict[str, list[int]] = defaultdict(list)
    for position, finding in enumerate(findings):
        if finding.severity != "note":
            by_message[finding.message].append(position)
    unplaced = []
    for row in rows:
        fitting = [p for p in by_message.get(row.told.found, []) if _same_subject(row, findings[p])]
        free = [p for p in fitting if p not in placed or not placed[p].is_taken]
        if len(fitting) == 1 and free:
            placed[free[0]] = row
        else:
            unplaced.append(row)
    return unplaced


def _same_subject(row: Decision, finding: Finding) -> bool:
    subject = dict(finding.subject)
    told = {"plot": row.told.plot, "tree": row.told.tree, "set-up": row.told.setup}
    return all(
        identifier_key(subject.get(name, "")) == identifier_key(value)
        for name, value in told.items()
        if value
    )


def _from_log(log: Iterable[LogEntry]) -> dict[str, Decision]:
    """Return the last decision of each finding that left the list and may come back."""
    return {
        entry.decision.finding: entry.decision
        for entry in log
        if entry.became in _LEFT and entry.decision.finding and entry.decision.is_taken
    }


def _stands(finding: Finding, identity: str, row: Decision) -> Standing:
    """Return the standing of a finding; a decision on other readings becomes history."""
    fresh = Decision(finding=identity, rests_on=fingerprint(finding))
    if not row.finding and not row.rests_on and not row.told.found:
        return standing(finding, fresh)
    if _same_readings(row, identity, finding):
        return standing(finding, replace(row, finding=identity, rests_on=fresh.rests_on))
    earlier = "; ".join(text for text in (row.earlier, row.said) if text)
    return standing(finding, replace(fresh, earlier=earlier))


def _became(row: Decision, keyed: Collection[tuple[str, str]], notes: Collection[str]) -> str:
    if row.finding in notes:
        return NOW_A_NOTE
    place = (identifier_key(row.told.plot), identifier_key(row.told.tree))
    if all(place) and place not in keyed:
        return NOT_KEYED
    return MENDED if decision_word(row.word) == MENDED else NO_LONGER_FOUND


def _remarks(doubled: Sequence[Decision], unplaced: Sequence[Decision]) -> tuple[str, ...]:
    said = []
    for rows, why in (
        (unplaced, "stood on a row whose finding could not be read"),
        (doubled, "stood on a second row of the same finding"),
    ):
        if rows:
            first = "; ".join(f"“{row.said}”" for row in rows[:3])
            more = " …" if len(rows) > 3 else ""
            said.append(f"Decisions on To check that {why} are kept in the tab Log: {first}{more}")
    return tuple(said)
