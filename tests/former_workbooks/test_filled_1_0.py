"""A workbook that version 1.0 filled: what the office decided in it is still understood."""

import re
from dataclasses import replace
from pathlib import Path
from shutil import copyfile

import pytest
from openpyxl import load_workbook

from tests.jobs.deciding import decide, rows_of, tab_names
from xlhelpers.jobs.fill.fill import Filled, fill
from xlhelpers.jobs.fill.tab_looks import FORMATS_UNKNOWN
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.decisions import read_decisions
from xlhelpers.reading.outcome import compute
from xlhelpers.survey.decisions.carry import merge
from xlhelpers.survey.decisions.decisions import Decision
from xlhelpers.survey.decisions.identity import finding_ids
from xlhelpers.survey.model import Finding

BOOK = Path(__file__).parent / "filled_1_0.xlsx"
# as typed: tree -> decision, initials, date, note; state. Version 1.0 asked for no initials: what
# it closed without them waits for them now, and keeps its word
DECIDED = {
    "4": ("accepted", "CD", "2026-05-11", "low fork, see photo", "accepted"),
    "5": ("NOT SAFE", "", "", "crew: not safe: wasps", "open"),
    "7": ("ask crew", "CD", "", "", "open"),
    "9": ("later", "AB", "", "sheet 3 is with the crew", "open"),
    "10": ("measure again", "CD", "", "", "open"),
    "12": ("NOT SAFE", "AB", "", "railway", "not safe"),
}
# version 1.0 took a distance of nearly one tree height for unusual, later versions do not: tree,
# finding, and the decision that goes to the log
NOT_UNUSUAL = ("8", "YQMH4Q46", "mended")
# opened again by version 1.0: tree -> earlier decision
REOPENED = {"11": "accepted, CD, 2026-05-11"}
LOG = [
    ("3", "mended", "2026-05-05", "mended", "the letter o"),
    ("6", "no longer found", "2026-05-05", "accepted", ""),
]


@pytest.fixture(scope="module")
def filled(tmp_path_factory: pytest.TempPathFactory) -> tuple[Path, Filled]:
    book = tmp_path_factory.mktemp("former") / BOOK.name
    copyfile(BOOK, book)
    return book, fill(book)


def test_it_is_said_once_that_formats_set_by_hand_are_not_known(
    filled: tuple[Path, Filled], tmp_path: Path
) -> None:
    book, first = filled
    assert FORMATS_UNKNOWN in first.notes
    again = tmp_path / "again.xlsx"
    opened = load_workbook(book)
    opened["Field sheet"]["Z6"] = "a note"
    opened.save(again)
    assert FORMATS_UNKNOWN not in fill(again).notes


def test_every_decision_stays_beside_its_finding(filled: tuple[Path, Filled]) -> None:
    outcome = filled[1].outcome
    states = {}
    for finding, stands in zip(outcome.findings, outcome.standings, strict=True):
        row = stands.decision
        if row.is_taken:
            told = (row.word, row.initials, row.date, row.note, stands.state)
            states[dict(finding.subject)["tree"]] = told
    assert states == DECIDED
    earlier = {
        dict(finding.subject)["tree"]: stands.decision.earlier
        for finding, stands in zip(outcome.findings, outcome.standings, strict=True)
        if stands.state == "reopened"
    }
    assert earlier == REOPENED
    assert outcome.ledger.remarks == ()


def test_the_log_is_kept_and_nothing_is_added(filled: tuple[Path, Filled]) -> None:
    log = filled[1].outcome.ledger.log
    *former, last = log
    assert [
        (e.decision.texts.tree, e.became, e.left_on, e.decision.word, e.decision.note)
        for e in former
    ] == LOG
    own = (last.decision.texts.tree, last.decision.finding, last.decision.word)
    assert (own, last.became) == (NOT_UNUSUAL, "corrected")
    rows = rows_of(filled[0], "Log")
    assert [str(row["Tree"]) for row in rows] == ["3", "6", "8"]


def test_the_written_tabs_hold_what_was_typed(filled: tuple[Path, Filled]) -> None:
    before = {row["Finding"]: row for row in rows_of(BOOK)}
    before.pop(NOT_UNUSUAL[1])
    after = {row["Finding"]: row for row in rows_of(filled[0])}
    assert set(after) == set(before)
    for identity, row in before.items():
        for heading in ("Decision", "Initials", "Date", "Note", "Earlier decisions"):
            assert after[identity][heading] == row[heading]


def test_the_new_columns_are_added_and_no_tab_is_set_aside(filled: tuple[Path, Filled]) -> None:
    assert not [name for name in tab_names(filled[0]) if "(kept)" in name]
    rows = {str(row["Tree"]): row for row in rows_of(filled[0])}
    assert {row["Paper says"] for row in rows.values()} == {None}
    assert all(row["Cells"] for row in rows.values() if row["Set-up"])
    assert {row["Cell corrected"] for row in rows_of(filled[0], "Log")} == {None}


def test_what_the_paper_says_is_entered_into_a_former_workbook(
    filled: tuple[Path, Filled], tmp_path: Path
) -> None:
    book = tmp_path / BOOK.name
    copyfile(filled[0], book)  # the fill added the columns
    rows = [row for row in rows_of(book) if row["Tree"] and not row["Decision"]]
    row = next(row for row in rows if "reading: " in str(row["Cells"]))
    found = re.search(r"(\w+ reading): ([^;\n]+)", row["Cells"])
    assert found is not None
    name, old = found[1], found[2]
    decide(book, str(row["Tree"]), {"Paper says": f"{name}: 17.5", "Initials": "AB"})
    fill(book)
    entry = rows_of(book, "Log")[-1]
    assert (entry["Old value"], entry["New value"]) == (old, "17.5")
    assert entry["Cell corrected"].endswith(name)


def test_ids_and_fingerprints_are_those_of_version_1_0() -> None:
    package = Package.open(BOOK)
    rows = {row.finding: row for row in read_decisions(package).rows}
    outcome = compute(package)
    stated = [f for f in outcome.findings if f.severity != "note"]
    ids = dict(zip(finding_ids(outcome.findings), outcome.findings, strict=True))
    assert set(rows) - {NOT_UNUSUAL[1]} == {i for i, f in ids.items() if f in stated}
    # the note about the instrument without a check, as version 1.0 listed it
    assert ids["M74AHKPX"].check == "instrument-not-checked"


def reworded(finding: Finding) -> Finding:
    """Return a finding as a later version may state it: other words, the same numbers."""
    return replace(finding, message=finding.message.replace("The ", "This ").split(" Likely")[0])


@pytest.mark.parametrize("is_reworded", [False, True])
@pytest.mark.parametrize("lost", [("rests_on",), ("finding", "rests_on")])
def test_rows_that_lost_their_code_are_still_matched(
    lost: tuple[str, ...], is_reworded: bool
) -> None:
    package = Package.open(BOOK)
    kept = read_decisions(package)
    outcome = compute(package)
    if is_reworded:
        outcome = replace(outcome, findings=tuple(map(reworded, outcome.findings)))
    rows = [
        replace(row, **dict.fromkeys(lost, ""))
        for row in kept.rows
        if row.finding != NOT_UNUSUAL[1]
    ]
    ledger = merge(outcome.findings, rows, kept.log, {("1", "1")}, "2026-06-01")
    assert ledger.log == kept.log
    assert ledger.remarks == ()

    def decided(decision: Decision) -> tuple[str, ...]:
        return (decision.word, decision.initials, decision.date, decision.note)

    trees = [dict(finding.subject).get("tree", "") for finding in outcome.findings]
    assert {
        tree: (*decided(stands.decision), stands.state)
        for tree, stands in zip(trees, ledger.standings, strict=True)
        if stands.decision.is_taken
    } == DECIDED
