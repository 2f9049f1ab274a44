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
_CLOSES: dict[str, State] = {ACCEPTED: "accepted", NOT_SAFE: "not safe"}
_CLOSED_STATES: dict[str, str] = {"accepted": "accepted", "not safe": "closed: NOT SAFE"}
_STILL_TO_DO = {
    CORRECTED: "marked as corrected, still found",
    ASK_CREW: "ask the crew",
    MEASURE_AGAIN: "measure again",
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
    found: str = ""


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
    """The state of one finding; `sentence` is what its row says about it."""

    state: State
    sentence: str
    decision: Decision = Decision()

    @property
    def is_open(self) -> bool:
        """Return whether it is an error or a warning that nobody has settled."""
        return self.state in OPEN_STATES


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

    Accepted and NOT SAFE close it; every other word leaves it open. A note is never open.
    """
    if finding.severity == "note":
        return Standing("note", "note", decision)
    word = decision_word(decision.word)
    if word in _CLOSES:
        state = _CLOSES[word]
        return Standing(state, _CLOSED_STATES[state] + _read_as(decision.word, word), decision)
    reopened = bool(decision.earlier)
    if word:
        to_do = _STILL_TO_DO[word] + _read_as(decision.word, word)
    elif decision.word:
        to_do = f"“{decision.word}” is not a decision. Choose {LISTED}"
    else:
        to_do = "its readings have changed" if reopened else ""
    state = "reopened" if reopened else "open"
    return Standing(state, f"{state}: {to_do}" if to_do else state, decision)


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
        replace(stands, state=parent.state, sentence=f"{parent.sentence} with {finding.under}")
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
    """Return where to look next: where the decision sends it, else the finding's own block."""
    return _MOVES.get(decision_word(stands.decision.word), finding.block)
