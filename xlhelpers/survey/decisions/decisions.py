"""What the office decided about findings: the words, the records, and where a finding stands."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

from xlhelpers.survey.decisions.kind_words import (
    ACCEPTED,
    ASK_CREW,
    CORRECTED,
    FORMER_WORDS,
    MEASURE_AGAIN,
    NOT_SAFE,
    WORDS,
    kind_word,
)
from xlhelpers.survey.model import Block, Finding
from xlhelpers.survey.quantities import MEASURED, is_read_at_tree
from xlhelpers.survey.typed.words import closing_word

__all__ = [
    "ACCEPTED",
    "ASK_CREW",
    "CORRECTED",
    "FORMER_WORDS",
    "LISTED",
    "MEASURE_AGAIN",
    "NOT_SAFE",
    "WORDS",
    "Decision",
    "FindingTexts",
    "Ledger",
    "LogEntry",
    "Standing",
    "block_now",
    "decision_word",
    "standing",
    "with_parents",
    "without_decisions",
]
LISTED = f"{', '.join(WORDS[:-1])} or {WORDS[-1]}"
State = Literal["note", "open", "reopened", "accepted", "not safe"]
OPEN_STATES: frozenset[str] = frozenset(("open", "reopened"))
_CLOSED_STATES: frozenset[str] = frozenset(("accepted", "not safe"))
WAITS = "“{word}” waits for initials"
NOT_ABOUT_SAFETY = "NOT SAFE does not answer this"
STILL_IN_DOUBT = "NOT SAFE: not measured again, still doubtful"
_STILL_TO_DO = {
    CORRECTED: "marked as corrected, still found",
    ASK_CREW: "ask the crew",
    MEASURE_AGAIN: "measure again",
    NOT_SAFE: NOT_ABOUT_SAFETY,
}
_MOVES: dict[str, Block] = {ASK_CREW: "crew", MEASURE_AGAIN: "again"}


@dataclass(frozen=True)
class FindingTexts:
    """The texts in the row of a finding."""

    severity: str = ""
    plot: str = ""
    tree: str = ""
    setup: str = ""
    about: str = ""
    message: str = ""


@dataclass(frozen=True)
class Decision:
    """One row of the tab To check as the office left it; all texts as typed.

    `finding` is the visible id, "" where it cannot be read; `rests_on` the fingerprint that the
    finding had, "" unknown; `date` an ISO day where the cell held a date. `earlier` tells of
    decisions that were taken on other readings. `paper` is what the paper says, still to be
    entered, `cells` what the finding's cells held when the row was shown, `answer` why `paper`
    was not entered.
    """

    finding: str = ""
    rests_on: str = ""
    word: str = ""
    initials: str = ""
    date: str = ""
    note: str = ""
    earlier: str = ""
    texts: FindingTexts = FindingTexts()
    paper: str = ""
    cells: str = ""
    answer: str = ""

    @property
    def is_taken(self) -> bool:
        """Return whether the office typed anything into the row."""
        return any((self.word, self.initials, self.date, self.note, self.paper))

    @property
    def is_signed(self) -> bool:
        """Return whether there are initials; without them a decision waits."""
        return bool(self.initials.strip())

    @property
    def sentence(self) -> str:
        """Return the decision in one line, such as "accepted, AB, 2026-05-04: see photo"."""
        paper = f"paper says {self.paper}" if self.paper else ""
        line = ", ".join(text for text in (self.word, paper, self.initials, self.date) if text)
        return f"{line}: {self.note}".removeprefix(": ") if self.note else line


@dataclass(frozen=True)
class LogEntry:
    """A decision, or a finding without one, that left the list: what became of it, and when.

    Where the list corrected a cell, `cell` names it, and `old` and `new` are what it held.
    """

    decision: Decision
    became: str
    left_on: str
    cell: str = ""
    old: str = ""
    new: str = ""


@dataclass(frozen=True)
class Standing:
    """The state of one finding; `sentence` is what its row says about it.

    `leaves_doubt` says that nobody will measure again, and that nobody accepted the value either.
    """

    state: State
    sentence: str
    decision: Decision = Decision()
    leaves_doubt: bool = False

    @property
    def is_open(self) -> bool:
        """Return whether it is an error or a warning that nobody has settled."""
        return self.state in OPEN_STATES

    @property
    def is_doubtful(self) -> bool:
        """Return whether the values that it is about are in doubt: open, or never accepted."""
        return self.is_open or self.leaves_doubt

    @property
    def waits(self) -> bool:
        """Return whether a decision was taken and only its initials are missing."""
        typed = bool(decision_word(self.decision.word)) and not self.decision.is_signed
        return self.is_open and typed


@dataclass(frozen=True)
class Ledger:
    """All decisions of a survey.

    `standings` has one entry a finding of the outcome, in its order, or none at all where
    nothing was decided. `log` is the whole log, new entries last. `remarks` are sentences about
    decisions that could not be placed.
    """

    standings: tuple[Standing, ...] = ()
    log: tuple[LogEntry, ...] = ()
    remarks: tuple[str, ...] = field(default=())


def decision_word(text: str) -> str:
    """Return the word of the list that a typed decision means, "" where it means none.

    Capitals and spaces make no difference. Other words that people use for the same count too
    (`kind_words.READ_AS`), and an explanation may follow NOT SAFE.
    """
    return kind_word(text)[0] or (NOT_SAFE if closing_word(text) == NOT_SAFE else "")


def _read_as(text: str, word: str) -> str:
    """Return that a decision was typed in another word, "" where it was not."""
    plain = kind_word(text)[1] or closing_word(text) == word
    return "" if plain else f" (“{text}” was read as {word})"


def standing(finding: Finding, decision: Decision) -> Standing:
    """Return where a finding stands with a decision that was taken on its present readings.

    Accepted closes it. NOT SAFE closes it where a value is missing; where a value is in doubt,
    nobody measures again and the doubt stays; where safety has nothing to do with it, it stays
    open. Every other word leaves it open, and so does every decision without initials. A note is
    never open.
    """
    if finding.severity == "note":
        return Standing("note", "note", decision)
    word = decision_word(decision.word)
    remark = _read_as(decision.word, word) if word else ""
    if decision.is_signed and word == ACCEPTED:
        return Standing("accepted", f"accepted{remark}", decision)
    if decision.is_signed and word == NOT_SAFE and _may_be_unsafe(finding):
        closed = _closed_as_not_safe(finding, decision)
        return replace(closed, sentence=f"{closed.sentence}{remark}")
    reopened = bool(decision.earlier)
    if word and not decision.is_signed:
        to_do = WAITS.format(word=word) + remark
    elif word:
        to_do = _STILL_TO_DO[word] + remark
    elif decision.word:
        to_do = f"“{decision.word}” is not a decision. Choose {LISTED}"
    else:
        to_do = "its readings have changed" if reopened else ""
    state: State = "reopened" if reopened else "open"
    return Standing(state, f"{state}: {to_do}" if to_do else state, decision)


def _may_be_unsafe(finding: Finding) -> bool:
    """Return whether a finding is about something that is read at the tree."""
    if finding.is_missing:
        return True
    is_measured = not set(MEASURED).isdisjoint(finding.quantities)
    names_reading = not finding.fields or is_read_at_tree(finding.fields)
    return is_measured and bool(finding.lines) and names_reading


def _closed_as_not_safe(finding: Finding, decision: Decision) -> Standing:
    if finding.is_missing:
        return Standing("not safe", "closed: NOT SAFE", decision)
    return Standing("not safe", STILL_IN_DOUBT, decision, leaves_doubt=True)


def with_parents(
    findings: Sequence[Finding], ids: Sequence[str], standings: Sequence[Standing]
) -> tuple[Standing, ...]:
    """Return the standings with what a settled finding settles: those that stand under it.

    A finding about which the office decided something of its own keeps that. What settles
    nothing by itself, such as a note, is left alone.

    Parameters
    ----------
    findings : sequence of Finding
        All findings; `under` names the one of the same cause.
    ids : sequence of str
        Their visible ids.
    standings : sequence of Standing
        Where each stands by its own decision.
    """
    settled = {
        identity: stands
        for identity, stands in zip(ids, standings, strict=True)
        if stands.state in _CLOSED_STATES
    }
    return tuple(
        replace(
            stands,
            state=parent.state,
            sentence=f"{parent.sentence} with {finding.under}",
            leaves_doubt=parent.leaves_doubt and not finding.is_missing,
        )
        if stands.is_open
        and not stands.decision.word
        and (parent := settled.get(finding.under)) is not None
        else stands
        for finding, stands in zip(findings, standings, strict=True)
    )


def without_decisions(findings: Sequence[Finding]) -> tuple[Standing, ...]:
    """Return the standings of findings about which nothing was decided."""
    return tuple(standing(finding, Decision()) for finding in findings)


def block_now(finding: Finding, stands: Standing) -> Block:
    """Return where to look next: where the decision sends it, else the finding's own block.

    Without initials a decision sends it nowhere, but nobody goes back to what is not safe.
    """
    word = decision_word(stands.decision.word)
    if word == NOT_SAFE:
        return "paper" if finding.block == "again" else finding.block
    return _MOVES.get(word, finding.block) if stands.decision.is_signed else finding.block
