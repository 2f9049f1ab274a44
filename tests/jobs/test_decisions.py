"""The loop: findings, decisions typed into To check, the next fill, and what becomes of both."""

from collections.abc import Callable
from datetime import datetime
from pathlib import Path

import openpyxl
import pytest
from openpyxl.utils import get_column_letter

from tests.conftest import Converter
from tests.jobs.books import varied, write_filled
from tests.jobs.deciding import (
    TROUBLED,
    columns,
    decide,
    decide_each,
    heading_row,
    rekey,
    row_of,
    rows_of,
    shuffle_rows,
    tab_names,
)
from xlhelpers.doors.command_line.main import main
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.survey.decisions.identity import finding_ids
from xlhelpers.survey.outcome_words import say_outcome

ACCEPT = {
    "Decision": "accepted",
    "Initials": "CD",
    "Date": datetime(2026, 5, 4),
    "Note": "low fork, see photo",
}


@pytest.fixture
def book(tmp_path: Path) -> Path:
    return write_filled(tmp_path / "town.xlsx", [*varied(5), *TROUBLED])


@pytest.fixture(scope="module")
def accepted_once(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    path = write_filled(tmp_path_factory.mktemp("town") / "town.xlsx", [*varied(5), *TROUBLED])
    decide(path, "7", ACCEPT)
    return path.read_bytes()


@pytest.fixture
def accepted(tmp_path: Path, accepted_once: bytes) -> Path:
    """The workbook with the finding of tree 7 accepted, not filled since."""
    path = tmp_path / "town.xlsx"
    path.write_bytes(accepted_once)
    return path


def trees_of(path: Path) -> list[dict[str, object]]:
    """Return the rows of the tab Trees by heading."""
    rows = list(openpyxl.load_workbook(path, data_only=True)["Trees"].iter_rows(values_only=True))
    first = next(at for at, row in enumerate(rows) if "Plot" in row)
    return [dict(zip(map(str, rows[first]), row, strict=True)) for row in rows[first + 1 :]]


def is_accepted(path: Path, tree: str) -> bool:
    row = row_of(path, tree)
    typed = {heading: row[heading] for heading in ACCEPT}
    return typed == ACCEPT and row["Status"] == "accepted"


def test_every_finding_waits_for_a_decision(book: Path) -> None:
    assert [str(row["Tree"]) for row in rows_of(book)] == ["6", "7", "8"]
    assert {row["Status"] for row in rows_of(book)} == {"open"}
    sheet = openpyxl.load_workbook(book)["To check"]
    code = get_column_letter(columns(sheet)["Program code (do not edit)"])
    assert sheet.column_dimensions[code].hidden
    (rule,) = [rule for rule in sheet.data_validations.dataValidation if rule.type == "list"]
    assert rule.formula1 == '"accepted,corrected,ask crew,measure again,NOT SAFE"'


def test_a_decision_stays_and_counts_as_accepted(accepted: Path) -> None:
    filled = fill(accepted)
    assert filled.tabs_written
    assert is_accepted(accepted, "7")
    assert len(filled.outcome.open_findings) == 2
    assert filled.outcome.ledger.log == ()
    assert "To check (kept)" not in tab_names(accepted)
    before = accepted.read_bytes()
    assert not fill(accepted).wrote
    assert accepted.read_bytes() == before


@pytest.mark.slow
def test_typing_is_no_addition_and_an_addition_is_kept(accepted: Path) -> None:
    edited = openpyxl.load_workbook(accepted)
    edited["To check"]["Z3"] = "ask the mayor"
    edited.save(accepted)
    fill(accepted)
    after = openpyxl.load_workbook(accepted)
    assert after["To check (kept)"]["Z3"].value == "ask the mayor"
    assert is_accepted(accepted, "7")
    rekey(accepted, "6", {"tip_reading": 70})
    fill(accepted)
    assert "To check (kept) 2" not in tab_names(accepted)
    assert is_accepted(accepted, "7")


def test_a_changed_reading_opens_it_again_and_tells_of_the_decision(accepted: Path) -> None:
    rekey(accepted, "7", {"base_reading": 51})
    filled = fill(accepted)
    row = row_of(accepted, "7")
    assert row["Status"] == "reopened: its readings have changed"
    assert row["Earlier decisions"] == "accepted, CD, 2026-05-04: low fork, see photo"
    assert [row[heading] for heading in ACCEPT] == [None] * 4
    assert len(filled.outcome.open_findings) == 3


@pytest.mark.slow
def test_what_was_opened_again_stays_open_until_it_is_decided_again(accepted: Path) -> None:
    fill(accepted)
    rekey(accepted, "7", {"base_reading": 51})
    fill(accepted)
    row = row_of(accepted, "7")
    assert row["Status"] == "reopened: its readings have changed"
    assert not fill(accepted).wrote
    decide(accepted, "7", {"Decision": "accepted", "Initials": "CD"})
    fill(accepted)
    assert row_of(accepted, "7")["Status"] == "accepted"
    assert row_of(accepted, "7")["Earlier decisions"] == row["Earlier decisions"]


@pytest.mark.slow
def test_what_is_corrected_goes_to_the_log_with_its_decision(book: Path) -> None:
    decide(book, "7", {"Decision": "corrected", "Initials": "CD", "Note": "boxes swapped"})
    fill(book)
    assert row_of(book, "7")["Status"] == "open: marked as corrected, still found"
    rekey(book, "7", {"tip_reading": 70, "base_reading": 10})
    rekey(book, "6", {"tip_reading": 71})
    filled = fill(book)
    assert [str(row["Tree"]) for row in rows_of(book)] == ["8"]
    log = {str(row["Tree"]): row for row in rows_of(book, "Log")}
    assert log["7"]["How it was resolved"] == "corrected"
    assert log["7"]["Decision"] == "corrected"
    assert log["7"]["Note"] == "boxes swapped"
    assert log["6"]["How it was resolved"] == "no longer found"
    assert len(filled.outcome.open_findings) == 1
    assert not fill(book).wrote
    rekey(book, "8", {"distance": 25, "foot_reading": -6})
    fill(book)
    assert [str(row["Tree"]) for row in rows_of(book, "Log")] == ["6", "7", "8"]


@pytest.mark.slow
def test_a_finding_that_comes_back_brings_its_decision(accepted: Path) -> None:
    fill(accepted)
    rekey(accepted, "7", {"tip_reading": 70, "base_reading": 10})
    fill(accepted)
    assert "7" not in [str(row["Tree"]) for row in rows_of(accepted)]
    rekey(accepted, "7", {"tip_reading": 5, "base_reading": 50})
    fill(accepted)
    assert is_accepted(accepted, "7")
    assert len(rows_of(accepted, "Log")) == 1


@pytest.mark.slow
def test_not_safe_closes_a_tree_that_should_be_measured_again(book: Path) -> None:
    assert [str(row["Tree"]) for row in rows_of(book, "Measure again")] == ["8"]
    decide(book, "8", {"Decision": "NOT SAFE", "Initials": "CD"})
    filled = fill(book)
    assert row_of(book, "8")["Status"] == "NOT SAFE: not measured again, still doubtful"
    assert rows_of(book, "Measure again") == []
    assert len(filled.outcome.open_findings) == 2
    # the height is still marked, and stays out of the mean without the values in doubt
    trees = {row["Tree"]: row for row in trees_of(book)}
    assert trees[8]["Open finding"] == "warning"
    assert "NOT SAFE, CD — warning" in trees[8]["Open findings"]
    counted = filled.outcome.counted
    at = filled.outcome.trees["tree"].tolist().index("8")
    assert counted.in_doubt["height"][at]
    assert not counted.in_doubt["diameter"][at]
    decide(book, "8", {"Decision": "accepted", "Initials": "CD"})
    assert not fill(book).outcome.counted.in_doubt["height"][at]


def test_the_crew_answers_on_its_own_list(book: Path) -> None:
    decide(book, "8", {"Answer, or NOT SAFE": "not safe: wasps"}, "Measure again")
    fill(book)
    row = row_of(book, "8")
    waits = "open: “NOT SAFE” waits for initials"
    assert (row["Decision"], row["Status"]) == ("NOT SAFE", waits)
    assert row["Note"] == "crew: not safe: wasps"
    assert rows_of(book, "Measure again") == []
    assert "Measure again (kept)" not in tab_names(book)
    assert not fill(book).wrote


@pytest.mark.slow
def test_decisions_move_a_finding_to_another_list(book: Path) -> None:
    decide(book, "7", {"Decision": "measure again", "Initials": "CD"})
    fill(book)
    assert row_of(book, "7")["Status"] == "open: measure again"
    assert row_of(book, "7")["Who can resolve it"] == "measure again"
    assert [str(row["Tree"]) for row in rows_of(book, "Measure again")] == ["7", "8"]


def sort_to_check(path: Path) -> None:
    edited = openpyxl.load_workbook(path)
    shuffle_rows(edited["To check"], heading_row(edited["To check"]) + 1)
    edited.save(path)


def sort_field_sheet(path: Path) -> None:
    edited = openpyxl.load_workbook(path)
    sheet = edited["Field sheet"]
    rows = [[c.value for c in row] for row in sheet.iter_rows(min_row=6, max_row=13)]
    for number, row in enumerate(reversed(rows), 6):
        for column, value in enumerate(row, 1):
            sheet.cell(number, column).value = value
    edited.save(path)


def insert_rows(path: Path) -> None:
    edited = openpyxl.load_workbook(path)
    edited["Field sheet"].insert_rows(8, 2)
    sheet = edited["To check"]
    sheet.insert_rows(heading_row(sheet) + 2, 3)
    edited.save(path)


def hide_rows(path: Path) -> None:
    edited = openpyxl.load_workbook(path)
    sheet = edited["To check"]
    for number in range(heading_row(sheet) + 1, sheet.max_row + 1):
        sheet.row_dimensions[number].hidden = True
    edited.save(path)


def deleting(*headings: str) -> Callable[[Path], None]:
    def delete(path: Path) -> None:
        edited = openpyxl.load_workbook(path)
        sheet = edited["To check"]
        for heading in headings:
            sheet.delete_cols(columns(sheet)[heading])
        edited.save(path)

    return delete


def rename_heading(path: Path) -> None:
    edited = openpyxl.load_workbook(path)
    sheet = edited["To check"]
    sheet.cell(heading_row(sheet), columns(sheet)["Decision"]).value = "What we do"
    edited.save(path)


def rename_tab(path: Path) -> None:
    edited = openpyxl.load_workbook(path)
    edited["To check"].title = "Work list"
    for name in edited.defined_names.values():
        name.attr_text = name.attr_text.replace("'To check'", "'Work list'")
    edited.save(path)


# work in the tab that adds nothing to it, so that no old tab is kept for it
WORKING = (sort_to_check, insert_rows, hide_rows)


@pytest.mark.slow
@pytest.mark.parametrize(
    "act",
    [
        *WORKING,
        sort_field_sheet,
        deleting("Who can resolve it"),
        deleting("Program code (do not edit)"),
        deleting("Plot", "Tree", "Set-up", "What was found"),
        rename_heading,
    ],
)
def test_no_decision_is_lost(accepted: Path, act: Callable[[Path], None]) -> None:
    act(accepted)
    filled = fill(accepted)
    assert is_accepted(accepted, "7")
    assert len(filled.outcome.open_findings) == 2
    assert filled.outcome.ledger.log == ()
    if act in WORKING:
        assert "To check (kept)" not in tab_names(accepted)
    assert not fill(accepted).wrote


@pytest.mark.slow
def test_a_tab_under_another_name_is_found(accepted: Path) -> None:
    rename_tab(accepted)
    outcome = fill(accepted).outcome
    assert len(outcome.open_findings) == 2
    row = row_of(accepted, "7", "Work list")
    assert (row["Decision"], row["Status"]) == ("accepted", "accepted")


@pytest.mark.slow
def test_without_the_ids_the_hidden_keys_serve_and_then_the_words(accepted: Path) -> None:
    edited = openpyxl.load_workbook(accepted)
    sheet = edited["To check"]
    at = columns(sheet)
    for number in range(heading_row(sheet) + 1, sheet.max_row + 1):
        sheet.cell(number, at["Finding"]).value = None
    edited.save(accepted)
    fill(accepted)
    assert is_accepted(accepted, "7")
    edited = openpyxl.load_workbook(accepted)
    sheet = edited["To check"]
    for number in range(heading_row(sheet) + 1, sheet.max_row + 1):
        for heading in ("Finding", "Program code (do not edit)"):
            sheet.cell(number, columns(sheet)[heading]).value = None
    edited.save(accepted)
    rekey(accepted, "6", {"tip_reading": 71})
    filled = fill(accepted)
    assert is_accepted(accepted, "7")
    assert filled.outcome.ledger.remarks == ()


@pytest.mark.slow
def test_a_decision_whose_finding_cannot_be_read_is_kept_and_said(book: Path) -> None:
    edited = openpyxl.load_workbook(book)
    sheet = edited["To check"]
    below = sheet.max_row + 2
    sheet.cell(below, columns(sheet)["Decision"]).value = "accepted"
    sheet.cell(below, columns(sheet)["Note"]).value = "the big one by the church"
    edited.save(book)
    filled = fill(book)
    assert any("the big one by the church" in sentence for sentence in filled.notes)
    sheet = openpyxl.load_workbook(book)["Log"]
    at = columns(sheet)
    row = heading_row(sheet) + 1
    assert sheet.cell(row, at["Note"]).value == "the big one by the church"
    assert sheet.cell(row, at["How it was resolved"]).value.startswith("the row did not say")
    assert len(filled.outcome.open_findings) == 3
    assert not fill(book).wrote


@pytest.mark.slow
def test_a_word_of_nobody_s_list_stays_as_typed_and_closes_nothing(book: Path) -> None:
    decide(book, "7", {"Decision": "OK?"})
    filled = fill(book)
    assert row_of(book, "7")["Decision"] == "OK?"
    assert row_of(book, "7")["Status"] == (
        "open: “OK?” is not a decision. Choose accepted, corrected, ask crew, measure again or "
        "NOT SAFE"
    )
    assert any("“OK?” (1 row) is not a decision" in note for note in filled.notes)
    assert len(filled.outcome.open_findings) == 3


@pytest.mark.slow
def test_a_lost_column_is_said(book: Path) -> None:
    deleting("Decision")(book)
    assert any("“Decision”" in sentence for sentence in fill(book).notes)
    assert "Decision" in row_of(book, "7")


@pytest.mark.slow
def test_lost_headings_are_said_and_the_tab_is_kept(accepted: Path) -> None:
    edited = openpyxl.load_workbook(accepted)
    sheet = edited["To check"]
    sheet.delete_rows(heading_row(sheet))
    for name in [n for n in edited.defined_names if n.startswith("xlh_to_check_")]:
        del edited.defined_names[name]
    edited.save(accepted)
    rekey(accepted, "6", {"tip_reading": 71})
    assert any("row of headings" in sentence for sentence in fill(accepted).notes)
    kept = openpyxl.load_workbook(accepted)["To check (kept)"]
    assert ACCEPT["Note"] in [cell.value for row in kept for cell in row]


@pytest.mark.slow
@pytest.mark.libreoffice
def test_saving_with_another_program_loses_no_decision(book: Path, soffice: Converter) -> None:
    decide_each(book, {"7": ACCEPT, "8": {"Decision": "NOT SAFE", "Initials": "CD"}})
    rekey(book, "6", {"tip_reading": 71})
    fill(book)
    saved = soffice(book)
    filled = fill(saved)
    assert not [
        sentence for sentence in filled.notes if "To check" in sentence or "Log" in sentence
    ]
    assert is_accepted(saved, "7")
    assert row_of(saved, "8")["Status"] == "NOT SAFE: not measured again, still doubtful"
    assert [str(row["Tree"]) for row in rows_of(saved, "Log")] == ["6"]
    assert not filled.outcome.open_findings
    again = soffice(saved)
    decide(again, "8", {"Decision": "measure again", "Initials": "CD"})
    assert len(fill(again).outcome.open_findings) == 1


@pytest.mark.slow
def test_exit_codes_and_sentences_follow_the_decisions(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["check", str(book)]) == 1
    not_safe = {"Decision": "NOT SAFE", "Initials": "CD"}
    decide_each(book, {"6": ACCEPT, "7": ACCEPT, "8": not_safe})
    capsys.readouterr()
    assert main(["check", str(book)]) == 0
    said = capsys.readouterr().out
    assert "Nothing to check." in said
    assert "2 accepted and 1 closed as NOT SAFE" in said
    assert "1 finding is closed as NOT SAFE, but its value counts as doubtful" in said
    assert "for initials" not in said
    assert main(["fill", str(book)]) == 0
    about = [c.value for row in openpyxl.load_workbook(book)["About this fill"] for c in row]
    assert "0 open, 0 reopened, 2 accepted, 1 NOT SAFE" in about


def test_ids_shown_everywhere_are_the_same(book: Path) -> None:
    outcome = fill(book).outcome
    ids = set(finding_ids(outcome.findings))
    assert {row["Finding"] for row in rows_of(book)} <= ids
    assert {row["Finding"] for row in rows_of(book, "Measure again")} <= ids


@pytest.mark.slow
def test_a_decision_without_initials_waits_and_says_so(book: Path) -> None:
    decide(book, "7", {"Decision": "accepted"})
    filled = fill(book)
    assert row_of(book, "7")["Status"] == "open: “accepted” waits for initials"
    assert "1 decision waits for initials on To check." in say_outcome(filled.outcome)
    assert len(filled.outcome.open_findings) == 3
    decide(book, "7", {"Initials": "CD"})
    filled = fill(book)
    assert row_of(book, "7")["Status"] == "accepted"
    assert len(filled.outcome.open_findings) == 2
