"""What becomes of decisions at the next fill: they stay, are taken again, or go to the log.

Same identity and same fingerprint: the decision stays. Another fingerprint: the finding is open
again and its row tells of the decision. Gone: the row goes to the log.
"""

import re
from collections import defaultdict
from collections.abc import Collection, Iterable, Sequence
from dataclasses import replace

from xlhelpers.survey.decisions.decisions import (
    CORRECTED,
    FORMER_WORDS,
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
NOT_KEYED = "its tree is no longer entered"
NOW_A_NOTE = "now a note, see About this fill"
NOT_READABLE = "the row did not say which finding it was for"
SECOND = "a second decision on the same finding"
# the finding is gone because the field sheet was corrected; with the word of earlier fills
RESOLVED = frozenset((CORRECTED, NO_LONGER_FOUND, *FORMER_WORDS))
# so many findings of one identity may have gone since the last fill and still be told apart
_MORE_ALIKE = 4
_LEFT = RESOLVED | {
    *(NOT_KEYED, NOW_A_NOTE),
    # as earlier fills wrote them
    *("its tree is no longer keyed", "a note now, see About this fill"),
}
_NUMBER = re.compile(r"\d+(?:,\d{3})*(?:\.\d+)?")
_PARENT = re.compile(r"(?:, )?see \w+ first$")


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
    first_rows, doubled = _one_row_a_finding(rows)
    placed, left = _place(findings, first_rows)
    unreadable = [row for row in rows if not row.finding and row.is_taken]
    unplaced = _place_by_words(findings, unreadable, placed)
    returned = _from_log(log)
    ids = finding_ids(findings)
    standings = []
    for position, (identity, finding) in enumerate(zip(ids, findings, strict=True)):
        row = placed.get(position) or returned.get(identity) or Decision()
        standings.append(_standing_now(finding, identity, row))
    notes = {i for i, f in zip(ids, findings, strict=True) if f.severity == "note"}
    grown = [
        *log,
        *(LogEntry(row, _what_became(row, keyed, notes), today) for row in left),
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
    first_rows, doubled = [], []
    for same in by_id.values():
        first, *others = sorted(same, key=lambda row: (not row.word, not row.is_taken))
        first_rows.append(first)
        doubled += [row for row in others if row.is_taken and row.sentence != first.sentence]
    return first_rows, doubled


def _place(
    findings: Sequence[Finding], rows: Iterable[Decision]
) -> tuple[dict[int, Decision], list[Decision]]:
    """Return the row of each finding by its position, and the rows whose finding is gone."""
    # Findings of one identity, such as those of two lines with one number, share their rows: the
    # one with the same fingerprint has its own, the rest go by id.
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
                match = next((row for row in pool if fits(row, *now)), None)
                if position not in placed and match is not None:
                    pool.remove(match)
                    placed[position] = match
        gone += pool
    return placed, [*waiting.values(), *gone]


def _same_id(row: Decision, identity: str, finding: Finding) -> bool:
    return row.finding == identity


def _any(row: Decision, identity: str, finding: Finding) -> bool:
    return True


def _same_readings(row: Decision, identity: str, finding: Finding) -> bool:
    """Return whether a decision was taken on the readings that the finding has now."""
    # Without the fingerprint the text that the row shows must state every number of the message;
    # its words may come from an earlier version, which may have named other causes.
    if row.rests_on:
        return row.rests_on == fingerprint(finding)
    stated = row.texts.message
    return bool(stated) and _numbers(_without_causes(finding)) <= _numbers(stated)


def _without_causes(finding: Finding) -> str:
    """Return what a message says of the cells alone, without what may explain them."""
    starts = [finding.message.find(cause.words.split(". ")[0]) for cause in finding.causes]
    return finding.message[: min((at for at in starts if at >= 0), default=None)]


def _numbers(text: str) -> set[float]:
    return {float(number.replace(",", "")) for number in _NUMBER.findall(text)}


def _place_by_words(
    findings: Sequence[Finding], rows: Iterable[Decision], placed: dict[int, Decision]
) -> list[Decision]:
    """Place rows without an id by what they say of their finding; return those that fit none."""
    # The message decides. Where no finding has it, subject and severity do, and then the fields
    # that the old message names, if just one finding fits.
    open_ones = [at for at, finding in enumerate(findings) if finding.severity != "note"]
    by_message: dict[str, list[int]] = defaultdict(list)
    by_subject: dict[tuple[str, ...], list[int]] = defaultdict(list)
    for at in open_ones:
        by_message[findings[at].message].append(at)
        by_subject[_subject(findings[at])].append(at)
    unplaced = []
    for row in rows:
        fitting = [
            p for p in by_message.get(row.texts.message, []) if _same_subject(row, findings[p])
        ]
        if not fitting:
            fitting = by_subject.get(_shown_subject(row), [])
            named = [p for p in fitting if _names_fields(row.texts.message, findings[p])]
            fitting = named if len(fitting) > 1 else fitting
        free = [p for p in fitting if p not in placed or not placed[p].is_taken]
        if len(fitting) == 1 and free:
            placed[free[0]] = row
        else:
            unplaced.append(row)
    return unplaced


def _same_subject(row: Decision, finding: Finding) -> bool:
    pairs = zip(_shown_subject(row)[1:4], _subject(finding)[1:4], strict=True)
    return all(then in ("", now) for then, now in pairs)


def _subject(finding: Finding) -> tuple[str, ...]:
    """Return severity, plot, tree, set-up and what else a finding is about."""
    subject = dict(finding.subject)
    places = [subject.pop(name, "") for name in ("plot", "tree", "set-up")]
    about = ", ".join(f"{name} {value}" for name, value in subject.items())
    return (finding.severity, *map(identifier_key, (*places, about)))


def _shown_subject(row: Decision) -> tuple[str, ...]:
    """Return the same of a row as it was shown; of nothing at all where it shows none."""
    texts = row.texts
    places = (texts.plot, texts.tree, texts.setup, _PARENT.sub("", texts.about))
    return (texts.severity if any(places) else "", *map(identifier_key, places))


def _names_fields(text: str, finding: Finding) -> bool:
    """Return whether a text names a field of a finding, as “tip reading” names tip_reading."""
    return any(name.replace("_", " ") in text.casefold() for name in finding.fields)


def _from_log(log: Iterable[LogEntry]) -> dict[str, Decision]:
    """Return the last decision of each finding that left the list and may come back."""
    return {
        # what the paper said is entered once, and never from the log
        entry.decision.finding: replace(entry.decision, paper="")
        for entry in log
        if entry.became in _LEFT and entry.decision.finding and entry.decision.is_taken
    }


def _standing_now(finding: Finding, identity: str, row: Decision) -> Standing:
    """Return the standing of a finding; a decision on other readings becomes history."""
    fresh = Decision(finding=identity, rests_on=fingerprint(finding))
    if not row.finding and not row.rests_on and not row.texts.message:
        return standing(finding, fresh)
    if _same_readings(row, identity, finding):
        return standing(finding, replace(row, finding=identity, rests_on=fresh.rests_on))
    earlier = "; ".join(text for text in (row.earlier, row.sentence) if text)
    # what the paper says is kept until somebody has looked at it again
    return standing(finding, replace(fresh, earlier=earlier, paper=row.paper, cells=row.cells))


def _what_became(row: Decision, keyed: Collection[tuple[str, str]], notes: Collection[str]) -> str:
    if row.finding in notes:
        return NOW_A_NOTE
    place = (identifier_key(row.texts.plot), identifier_key(row.texts.tree))
    if all(place) and place not in keyed:
        return NOT_KEYED
    return CORRECTED if decision_word(row.word) == CORRECTED else NO_LONGER_FOUND


def _remarks(doubled: Sequence[Decision], unplaced: Sequence[Decision]) -> tuple[str, ...]:
    remarks = []
    for rows, why in (
        (unplaced, "The row does not say which finding it is for"),
        (doubled, "The finding has a second row with another decision"),
    ):
        if rows:
            first = "; ".join(f"“{row.sentence}”" for row in rows[:3])
            more = " …" if len(rows) > 3 else ""
            remarks.append(f"Decisions moved from To check to Log: {first}{more}. {why}")
    return tuple(remarks)
