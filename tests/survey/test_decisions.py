"""Decisions and findings brought together: every way in which a row and a finding can meet."""

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from xlhelpers.survey.decisions.carry import (
    NO_LONGER_FOUND,
    NOT_KEYED,
    NOT_READABLE,
    NOW_A_NOTE,
    SECOND,
    merge,
)
from xlhelpers.survey.decisions.decision_words import say_decisions
from xlhelpers.survey.decisions.decisions import (
    FORMER_WORDS,
    LISTED,
    WORDS,
    Decision,
    FindingTexts,
    Ledger,
    LogEntry,
    block_now,
    decision_word,
    standing,
)
from xlhelpers.survey.decisions.identity import finding_id, finding_ids, fingerprint
from xlhelpers.survey.decisions.kind_words import READ_AS
from xlhelpers.survey.model import Block, Finding
from xlhelpers.survey.typed.words import fold_word

FINDING = Finding(
    check="base-above-top",
    severity="error",
    block="paper",
    subject=(("plot", "7"), ("tree", "12"), ("set-up", "1")),
    message="The crown base lies above the top.",
    action="Look at the paper.",
    fields=("base_reading",),
    lines=(0,),
    evidence=("base 50", "tip 5"),
)
TOLD = FindingTexts("error", "7", "12", "1", "", FINDING.message)
KEYED = {("7", "12")}


def row(finding: Finding = FINDING, word: str = "accepted", **more: Any) -> Decision:
    return Decision(finding_id(finding), fingerprint(finding), word, "AB", texts=TOLD, **more)


def merged(
    findings: Sequence[Finding], rows: Sequence[Decision] = (), log: Sequence[LogEntry] = ()
) -> Ledger:
    return merge(findings, rows, log, KEYED, "2026-05-04")


@pytest.mark.parametrize(
    ("typed", "word"),
    [
        ("accepted", "accepted"),
        (" Accepted ", "accepted"),
        ("ASK  CREW", "ask crew"),
        ("not safe", "NOT SAFE"),
        ("Not safe: wasps", "NOT SAFE"),
        ("no access", ""),
        # as people say it: one meaning each
        ("ok", "accepted"),
        (" Okay! ", "accepted"),
        ("O.K.", "accepted"),
        ("fine", "accepted"),
        ("Yes", "accepted"),
        ("right as is", "accepted"),
        ("Accepted.", "accepted"),
        ("done", "corrected"),
        ("fixed", "corrected"),
        ("mended", "corrected"),
        ("ask the crew", "ask crew"),
        ("Re-measure", "measure again"),
        ("unsafe", "NOT SAFE"),
        # not guessed: these may mean one thing or the other, or nothing
        ("no", ""),
        ("?", ""),
        ("ok?", ""),
        ("not ok", ""),
        ("right", ""),
        ("correct", ""),
        ("later", ""),
        ("accepted?", ""),
        ("accepted, but see note", ""),
        ("", ""),
    ],
)
def test_words(typed: str, word: str) -> None:
    assert decision_word(typed) == word


def test_no_word_is_read_as_two_decisions() -> None:
    words = [fold_word(word) for word in (*WORDS, *FORMER_WORDS, *sum(READ_AS.values(), ()))]
    assert len(words) == len(set(words))
    assert set(READ_AS) == set(WORDS)


def test_a_row_says_what_its_word_was_read_as() -> None:
    for word, others in READ_AS.items():
        for other in others:
            stands = standing(FINDING, row(word=other))
            assert stands.sentence.endswith(f"(“{other}” was read as {word})")
            assert "read as" not in standing(FINDING, row(word=word)).sentence
    assert "read as" not in standing(FINDING, row(word="not safe: wasps")).sentence


def test_words_are_counted_in_the_summary() -> None:
    words = ("ok", "ok", "done", "no", "accepted", "NOT SAFE: wasps", "")
    said = list(say_decisions([standing(FINDING, row(word=word)) for word in words]))
    assert said == [
        "To check: “ok” was read as accepted (2 rows) and “done” was read as corrected (1 row)",
        "To check: “no” (1 row) is not a decision. It stays as typed, and the finding is open. "
        "Choose accepted, corrected, ask crew, measure again or NOT SAFE",
    ]


@pytest.mark.parametrize(
    ("word", "state", "said", "block"),
    [
        ("", "open", "open", "paper"),
        ("accepted", "accepted", "accepted", "paper"),
        ("NOT SAFE", "not safe", "NOT SAFE: not measured again, still doubtful", "paper"),
        ("corrected", "open", "open: marked as corrected, still found", "paper"),
        ("mended", "open", "open: marked as corrected, still found", "paper"),
        ("ask crew", "open", "open: ask the crew", "crew"),
        ("measure again", "open", "open: measure again", "again"),
        ("hm", "open", f"open: “hm” is not a decision. Choose {LISTED}", "paper"),
    ],
)
def test_where_a_finding_stands(word: str, state: str, said: str, block: str) -> None:
    (found,) = merged([FINDING], [row(word=word)]).standings
    assert (found.state, found.sentence) == (state, said)
    assert found.is_open == (state == "open")
    assert block_now(FINDING, found) == block


def test_a_note_is_never_open() -> None:
    assert not standing(replace(FINDING, severity="note"), Decision()).is_open


def test_other_readings_open_it_again() -> None:
    changed = replace(FINDING, evidence=("base 51", "tip 5"))
    (found,) = merged([changed], [row(note="see photo")]).standings
    assert found.state == "reopened"
    assert found.decision == Decision(
        finding_id(FINDING), fingerprint(changed), earlier="accepted, AB: see photo"
    )
    (again,) = merged([changed], [found.decision]).standings
    assert again == found
    signed = replace(found.decision, word="accepted", initials="CD")
    (settled,) = merged([changed], [signed]).standings
    assert settled.state == "accepted"


def test_history_grows() -> None:
    changed = replace(FINDING, evidence=("base 51",))
    (found,) = merged([changed], [row(earlier="ask crew, CD")]).standings
    assert found.decision.earlier == "ask crew, CD; accepted, AB"


@pytest.mark.parametrize(
    ("texts", "word", "became"),
    [
        (TOLD, "corrected", "corrected"),
        (TOLD, "mended", "corrected"),
        (TOLD, "accepted", NO_LONGER_FOUND),
        (TOLD, "", NO_LONGER_FOUND),
        (replace(TOLD, tree="99"), "mended", NOT_KEYED),
        (replace(TOLD, plot="", tree=""), "mended", "corrected"),
    ],
)
def test_what_is_gone_goes_to_the_log(texts: FindingTexts, word: str, became: str) -> None:
    left = replace(row(word=word), texts=texts)
    old = LogEntry(Decision("ACDEFGHJ"), NO_LONGER_FOUND, "2026-01-01")
    assert merged([], [left], [old]).log == (old, LogEntry(left, became, "2026-05-04"))


def test_what_became_a_note_goes_to_the_log() -> None:
    ledger = merged([replace(FINDING, severity="note")], [row()])
    assert [entry.became for entry in ledger.log] == [NOW_A_NOTE]
    assert not ledger.standings[0].is_open


def test_the_log_lends_its_decision_to_what_comes_back() -> None:
    log = [LogEntry(row(), NO_LONGER_FOUND, "2026-05-01")]
    assert merged([FINDING], [], log).standings[0].state == "accepted"
    changed = replace(FINDING, evidence=("base 51",))
    assert merged([changed], [], log).standings[0].state == "reopened"
    # a row of the tab counts for more, even a blank one
    assert merged([FINDING], [row(word="")], log).standings[0].state == "open"
    # what could not be read is nobody's
    log = [LogEntry(row(), NOT_READABLE, "2026-05-01")]
    assert merged([FINDING], [], log).standings[0].state == "open"


def test_findings_of_one_identity_keep_each_its_own_decision() -> None:
    """Two lines with one number: the ids change places when a reading does, decisions do not."""
    twins = [FINDING, replace(FINDING, evidence=("base 60", "tip 7"), message="other")]
    ids = finding_ids(twins)
    rows = [
        Decision(identity, fingerprint(twin), word, "AB")
        for identity, twin, word in zip(ids, twins, ("accepted", "ask crew"), strict=True)
    ]
    assert [s.decision.word for s in merged(twins, rows).standings] == ["accepted", "ask crew"]
    for tip in range(20):
        changed = [twins[0], replace(twins[1], evidence=("base 60", f"tip {tip + 8}"))]
        first, second = merged(changed, rows).standings
        assert (first.state, second.state) == ("accepted", "reopened")
        assert second.decision.earlier == "ask crew, AB"
    ledger = merged(twins[:1], rows)
    assert ledger.standings[0].state == "accepted"
    assert [entry.decision.word for entry in ledger.log] == ["ask crew"]


def test_a_fingerprint_that_cannot_be_read_leaves_the_words() -> None:
    assert merged([FINDING], [replace(row(), rests_on="")]).standings[0].state == "accepted"
    other = replace(row(), rests_on="", texts=replace(TOLD, message="something else"))
    # the text states none of the numbers of the message, which here has none itself
    assert merged([FINDING], [other]).standings[0].state == "accepted"
    counted = replace(FINDING, message="The crown base (14.1 m) is above the top (2.8 m).")
    for found, state in (
        ("The crown base (14.1 m) lies above the top of the crown (2.8 m).", "accepted"),
        ("The crown base (13.0 m) lies above the top of the crown (2.8 m).", "reopened"),
    ):
        worded = replace(row(), rests_on="", texts=replace(TOLD, message=found))
        assert merged([counted], [worded]).standings[0].state == state


def test_former_words_without_a_code_find_the_only_finding_of_their_subject() -> None:
    unread = Decision(
        "", "", "accepted", "AB", texts=replace(TOLD, message="Reading lies too high.")
    )
    assert merged([FINDING], [unread]).standings[0].state == "accepted"
    tip = replace(FINDING, check="other", fields=("tip_reading",), message="The tip is too high.")
    ledger = merged([FINDING, tip], [unread])
    assert [s.state for s in ledger.standings] == ["open", "open"]
    assert [entry.became for entry in ledger.log] == [NOT_READABLE]
    # of two findings the one whose field the text names
    named = replace(unread, texts=replace(TOLD, message="The tip reading lies too high."))
    assert [s.state for s in merged([FINDING, tip], [named]).standings] == ["open", "accepted"]
    for other in (replace(TOLD, severity="warning"), replace(TOLD, plot="", tree="", setup="")):
        lost = replace(unread, texts=replace(other, message="Reading lies too high."))
        assert merged([FINDING], [lost]).standings[0].state == "open"


def test_an_id_that_cannot_be_read_leaves_the_words() -> None:
    unread = replace(row(), finding="", rests_on="")
    assert merged([FINDING], [unread]).standings[0].state == "accepted"
    ledger = merged([FINDING], [replace(unread, texts=replace(TOLD, tree="13"))])
    assert ledger.standings[0].state == "open"
    assert [entry.became for entry in ledger.log] == [NOT_READABLE]
    assert "accepted, AB" in ledger.remarks[0]
    # a row without any decision is let go
    assert merged([FINDING], [Decision(texts=FindingTexts(message="x"))]).log == ()


def test_of_two_rows_of_one_finding_both_decisions_are_kept() -> None:
    ledger = merged([FINDING], [row(word=""), row(), row(word="mended")])
    assert ledger.standings[0].state == "accepted"
    assert {e.decision.word for e in ledger.log} == {"mended", ""}
    assert {e.became for e in ledger.log} == {SECOND}
    assert merged([FINDING], [row(), row()]).log == ()


@pytest.mark.parametrize("word", ["accepted", "corrected", "ask crew", "measure again", "NOT SAFE"])
@pytest.mark.parametrize("initials", ["", "  "])
@pytest.mark.parametrize("block", ["paper", "again"])
def test_a_decision_without_initials_waits(word: str, initials: str, block: Block) -> None:
    finding = replace(FINDING, block=block)
    (found,) = merged([finding], [replace(row(finding, word), initials=initials)]).standings
    assert (found.state, found.is_doubtful) == ("open", True)
    assert found.sentence == f"open: “{word}” waits for initials"
    # nobody is sent back to what is not safe, with initials or without
    assert block_now(finding, found) == ("paper" if word == "NOT SAFE" else block)
    changed = replace(finding, evidence=("base 51",))
    later = replace(row(changed, word, earlier="accepted, CD"), initials=initials)
    (again,) = merged([changed], [later]).standings
    assert again.sentence == f"reopened: “{word}” waits for initials"


NOT_SAFE_ROWS = (
    # what the finding says of a tree; state, whether it stays in doubt
    ({"fields": ("tip_reading", "distance")}, "not safe", True),
    ({"fields": ("diameter",)}, "not safe", True),
    ({"fields": ("tip_reading",), "is_missing": True}, "not safe", False),
    ({"fields": ("species",), "is_missing": True}, "not safe", False),
    ({"fields": ("species",)}, "open", True),
    ({"fields": ("tree", "plot")}, "open", True),
    ({"fields": ("scale", "instrument")}, "open", True),
    ({"fields": ("trees_counted", "tree")}, "open", True),
    ({"fields": ("tree", "diameter"), "about": ("identity",)}, "open", True),
    ({"fields": ("instrument",), "lines": ()}, "open", True),
)


@pytest.mark.parametrize(("more", "state", "doubtful"), NOT_SAFE_ROWS)
def test_not_safe_closes_what_is_missing_and_never_a_doubt(
    more: dict[str, Any], state: str, doubtful: bool
) -> None:
    finding = replace(FINDING, **more)
    (found,) = merged([finding], [row(finding, "NOT SAFE")]).standings
    assert (found.state, found.is_doubtful) == (state, doubtful)
    if state == "open":
        assert found.sentence == "open: NOT SAFE does not answer this"
    (accepted,) = merged([finding], [row(finding)]).standings
    assert (accepted.state, accepted.is_doubtful) == ("accepted", False)


def test_what_is_under_a_finding_that_is_not_safe_stays_in_doubt_with_it() -> None:
    whole = replace(FINDING, check="whole", fields=("tip_reading",))
    parts = [
        replace(FINDING, check="part", under=finding_id(whole)),
        replace(FINDING, check="no part", under=finding_id(whole), is_missing=True),
    ]
    stands = merged([whole, *parts], [row(whole, "NOT SAFE")]).standings
    assert [found.is_doubtful for found in stands] == [True, True, False]
    stands = merged([whole, *parts], [row(whole)]).standings
    assert not any(found.is_doubtful for found in stands)
