"""What the paper says, typed into To check, is entered by the next fill into the right cell."""

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.worksheet.worksheet import Worksheet

from tests.jobs.books import varied, write_filled
from tests.jobs.deciding import (
    TROUBLED,
    columns,
    decide,
    heading_row,
    rekey,
    row_of,
    rows_of,
    shuffle_rows,
    tab_names,
)
from xlhelpers.doors.command_line.main import main
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.package.parts.parts import defined_names
from xlhelpers.package.sheet.references import parse_target
from xlhelpers.package.zip.container import Package

DAY = datetime(2026, 5, 4)


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """Tree 6 has the tip reading 7o; tree 7 the base 50 above the tip 5; tree 8 is too near."""
    return write_filled(tmp_path / "town.xlsx", [*varied(5), *TROUBLED])


def field_columns(path: Path) -> dict[str, int]:
    """Return the column of each field by its defined name."""
    places = {item.name: parse_target(item.text) for item in defined_names(Package.open(path))}
    found = {f.name: places.get(FIELD_SHEET.defined_name(f.name)) for f in FIELD_SHEET.fields}
    return {name: target[2] for name, target in found.items() if target}


def entered(path: Path, tree: str, *names: str) -> list[Any]:
    """Return what cells of a tree hold, read with another program."""
    sheet = openpyxl.load_workbook(path)["Field sheet"]
    at = field_columns(path)
    row = line_of(sheet, at, tree)
    values = [sheet.cell(row, at[name]).value for name in names]
    return values


def line_of(sheet: Worksheet, at: dict[str, int], tree: str) -> int:
    rows = range(6, sheet.max_row + 1)
    return next(row for row in rows if str(sheet.cell(row, at["tree"]).value) == tree)


def typed_cells(path: Path) -> dict[tuple[int, int], Any]:
    """Return what people typed on the field sheet."""
    sheet = openpyxl.load_workbook(path)["Field sheet"]
    keyed = {c for n, c in field_columns(path).items() if FIELD_SHEET[n].kind != "computed"}
    cells = (cell for row in sheet.iter_rows(min_row=6) for cell in row if cell.column in keyed)
    return {(cell.row, cell.column): cell.value for cell in cells if cell.value is not None}


def says(path: Path, tree: str, paper: Any, **more: Any) -> None:
    """Type what the paper says about a tree, with initials."""
    decide(path, tree, {"Paper says": paper, "Initials": "CD", **more})


def test_the_value_goes_into_the_cell_and_the_finding_is_gone(book: Path) -> None:
    before = typed_cells(book)
    assert row_of(book, "6")["Cells"] == "Tip reading: 7o"
    says(book, "6", "70", Date=DAY)
    filled = fill(book)
    assert entered(book, "6", "tip_reading") == [70]
    assert len(set(before.items()) ^ set(typed_cells(book).items())) == 2  # one cell, old and new
    assert "6" not in [str(row["Tree"]) for row in rows_of(book)]
    (row,) = rows_of(book, "Log")
    column = field_columns(book)["tip_reading"]
    letters = openpyxl.utils.get_column_letter(column)
    assert row["Cell corrected"] == f"Field sheet {letters}11 Tip reading"
    assert (row["Old value"], row["New value"]) == ("7o", "70")
    assert (row["Decision"], row["Initials"], row["Date"]) == ("corrected", "CD", DAY)
    assert row["How it was resolved"] == "corrected"
    assert row["Paper says"] == "70"
    assert filled.backup is not None
    assert entered(filled.backup, "6", "tip_reading") == ["7o"]
    assert any("Corrected 1 cell from To check" in note for note in filled.notes)
    # the results of the line are right at once: as if the number had been typed from the start
    trees = filled.outcome.trees.set_index("tree")
    assert trees.loc["6", "total_height"] == pytest.approx(25 * (0.70 + 0.06))


def test_a_second_fill_does_nothing_more(book: Path) -> None:
    says(book, "6", 70)
    fill(book)
    before = book.read_bytes()
    assert not fill(book).wrote
    assert book.read_bytes() == before
    # and a later correction by hand is not undone by what the log holds
    rekey(book, "6", {"tip_reading": "7o"})
    fill(book)
    assert entered(book, "6", "tip_reading") == ["7o"]
    assert row_of(book, "6")["Paper says"] is None
    assert len(rows_of(book, "Log")) == 1


def test_check_and_a_copy_leave_the_workbook_alone(book: Path, tmp_path: Path) -> None:
    says(book, "6", 70)
    before = book.read_bytes()
    main(["check", str(book)])
    assert book.read_bytes() == before
    fill(book, tmp_path / "copy.xlsx")
    assert book.read_bytes() == before
    assert entered(tmp_path / "copy.xlsx", "6", "tip_reading") == [70]


@pytest.mark.parametrize(
    ("paper", "held"),
    [("72,5", 72.5), ("72.5", 72.5), (72.5, 72.5), ("NOT SEEN: fog", "NOT SEEN: fog")],
)
def test_values_are_read_as_in_their_cell(book: Path, paper: Any, held: Any) -> None:
    says(book, "6", paper)
    fill(book)
    assert entered(book, "6", "tip_reading") == [held]


@pytest.mark.parametrize(
    ("paper", "why"),
    [
        ("7l", "“7l”"),
        ("1,250", "1.25 or 1250"),
        ("4000", "must be from"),
        ("3-4", "two numbers"),
        (datetime(2026, 4, 3), "You probably typed"),
        ("=70", "formula"),
    ],
)
def test_what_the_cell_would_refuse_is_refused_and_kept(book: Path, paper: Any, why: str) -> None:
    before = typed_cells(book)
    says(book, "6", paper, Note="sheet 3")
    filled = fill(book)
    row = row_of(book, "6")
    assert typed_cells(book) == before
    assert why in row["Status"]
    assert row["Status"].startswith("open. Not entered")
    kept = paper.strftime("%Y-%m-%d") if isinstance(paper, datetime) else paper
    assert (row["Paper says"], row["Initials"], row["Note"]) == (kept, "CD", "sheet 3")
    assert row["Decision"] is None
    assert rows_of(book, "Log") == []
    assert any("1 entry under Paper says was not entered" in note for note in filled.notes)
    assert not fill(book).wrote


def test_without_initials_it_waits(book: Path) -> None:
    decide(book, "6", {"Paper says": 70})
    fill(book)
    assert row_of(book, "6")["Status"] == "open. Not entered yet: type your initials."
    assert entered(book, "6", "tip_reading") == ["7o"]
    decide(book, "6", {"Initials": "CD"})
    fill(book)
    assert entered(book, "6", "tip_reading") == [70]


def test_several_cells_ask_for_a_name(book: Path) -> None:
    cells = row_of(book, "7")["Cells"]
    assert cells.startswith("(name the cell) Crown base reading: 50; ")
    assert "Tip reading: 5" in cells
    says(book, "7", 12)
    fill(book)
    row = row_of(book, "7")
    assert "type the name of the cell before the value" in row["Status"]
    assert entered(book, "7", "base_reading", "tip_reading") == [50, 5]
    says(book, "7", "tip: 50; crown base reading = 5")
    fill(book)
    assert entered(book, "7", "base_reading", "tip_reading") == [5, 50]
    assert "7" not in [str(row["Tree"]) for row in rows_of(book)]
    log = rows_of(book, "Log")
    assert [(row["Old value"], row["New value"]) for row in log] == [("5", "50"), ("50", "5")]
    assert [row["How it was resolved"] for row in log] == [
        "corrected",
        "corrected, another cell of the same finding",
    ]


def test_an_entry_of_two_cells_goes_in_whole_or_not_at_all(book: Path) -> None:
    says(book, "7", "tip: 50; crown base reading: 5o")
    fill(book)
    assert entered(book, "7", "base_reading", "tip_reading") == [50, 5]
    assert "“5o”" in row_of(book, "7")["Status"]


def test_a_finding_that_is_still_found_is_marked_as_corrected(book: Path) -> None:
    says(book, "7", "crown base reading: 45", Date=DAY)
    fill(book)
    row = row_of(book, "7")
    assert entered(book, "7", "base_reading") == [45]
    assert row["Status"] == "open: marked as corrected, still found"
    assert (row["Decision"], row["Initials"], row["Date"]) == ("corrected", "CD", DAY)
    assert (row["Paper says"], row["Earlier decisions"]) == (None, None)
    assert rows_of(book, "Log")[0]["How it was resolved"] == "corrected, still found"
    assert not fill(book).wrote


def test_the_same_value_again_is_no_correction(book: Path) -> None:
    says(book, "7", "tip: 5")
    fill(book)
    assert "Tip reading: 5 is entered already" in row_of(book, "7")["Status"]
    assert row_of(book, "7")["Paper says"] == "tip: 5"


@pytest.mark.parametrize("word", ["accepted", "ask crew", "NOT SAFE", "perhaps"])
def test_another_decision_stands_against_it(book: Path, word: str) -> None:
    says(book, "6", 70, Decision=word)
    fill(book)
    assert entered(book, "6", "tip_reading") == ["7o"]
    assert f"the decision is “{word}”" in row_of(book, "6")["Status"]
    decide(book, "6", {"Decision": "corrected"})
    fill(book)
    assert entered(book, "6", "tip_reading") == [70]


def sort_lines(path: Path) -> None:
    edited = openpyxl.load_workbook(path)
    sheet = edited["Field sheet"]
    rows = [[c.value for c in row] for row in sheet.iter_rows(min_row=6, max_row=13)]
    for number, row in enumerate(reversed(rows), 6):
        for column, value in enumerate(row, 1):
            sheet.cell(number, column).value = value
    edited.save(path)


def insert_lines(path: Path) -> None:
    edited = openpyxl.load_workbook(path)
    edited["Field sheet"].insert_rows(8, 2)
    edited.save(path)


def sort_list(path: Path) -> None:
    edited = openpyxl.load_workbook(path)
    shuffle_rows(edited["To check"], heading_row(edited["To check"]) + 1)
    edited.save(path)


def delete_column(path: Path) -> None:
    edited = openpyxl.load_workbook(path)
    sheet = edited["To check"]
    sheet.delete_cols(columns(sheet)["Cells"])
    edited.save(path)


@pytest.mark.parametrize("act", [sort_lines, insert_lines, sort_list, delete_column])
def test_the_line_is_found_wherever_it_is(book: Path, act: Callable[[Path], None]) -> None:
    others = [tree for tree in "12345678" if tree != "6"]
    before = [entered(book, tree, "tip_reading") for tree in others]
    says(book, "6", 70)
    act(book)
    fill(book)
    assert entered(book, "6", "tip_reading") == [70]
    assert [entered(book, tree, "tip_reading") for tree in others] == before


def test_typing_is_no_addition_to_the_tab(book: Path) -> None:
    says(book, "6", "7l")
    decide(book, "7", {"Paper says": 4})
    fill(book)
    assert "To check (kept)" not in tab_names(book)


def test_changed_entries_wait_until_somebody_has_looked_again(book: Path) -> None:
    says(book, "7", "tip: 50")
    rekey(book, "7", {"base_reading": 44})
    fill(book)
    row = row_of(book, "7")
    assert entered(book, "7", "base_reading", "tip_reading") == [44, 5]
    assert row["Paper says"] == "tip: 50"
    assert row["Initials"] is None
    assert "have changed since" in row["Status"]
    assert row["Earlier decisions"] == "paper says tip: 50, CD"
    assert not fill(book).wrote
    decide(book, "7", {"Initials": "EF"})
    fill(book)
    assert entered(book, "7", "base_reading", "tip_reading") == [44, 50]


def test_a_cell_that_changed_without_its_fingerprint_waits_too(book: Path) -> None:
    edited = openpyxl.load_workbook(book)
    sheet = edited["To check"]
    at = columns(sheet)
    for number in range(heading_row(sheet) + 1, sheet.max_row + 1):
        if str(sheet.cell(number, at["Tree"]).value) == "6":
            sheet.cell(number, at["Cells"]).value = "Tip reading: 71"
    edited.save(book)
    says(book, "6", 70)
    fill(book)
    assert entered(book, "6", "tip_reading") == ["7o"]
    assert "have changed since" in row_of(book, "6")["Status"]
    fill(book)
    assert entered(book, "6", "tip_reading") == ["7o"]
    decide(book, "6", {"Initials": "EF"})
    fill(book)
    assert entered(book, "6", "tip_reading") == [70]


def test_an_entry_whose_finding_is_gone_is_kept_in_the_log(book: Path) -> None:
    says(book, "6", 70)
    rekey(book, "6", {"tip_reading": 71})
    filled = fill(book)
    assert entered(book, "6", "tip_reading") == [71]
    (row,) = rows_of(book, "Log")
    assert (row["Paper says"], row["Cell corrected"]) == ("70", None)
    assert any("because the finding is gone: “70”" in note for note in filled.notes)
    assert not any("is gone" in note for note in fill(book).notes)
    rekey(book, "6", {"tip_reading": "7o"})
    fill(book)
    assert entered(book, "6", "tip_reading") == ["7o"]
    assert row_of(book, "6")["Paper says"] is None


def with_formula(sheet: Worksheet, row: int, column: int) -> None:
    sheet.cell(row, column).value = '="7"&"o"'


def with_merge(sheet: Worksheet, row: int, column: int) -> None:
    sheet.merge_cells(start_row=row, end_row=row + 20, start_column=column, end_column=column)


def with_protection(sheet: Worksheet, row: int, column: int) -> None:
    sheet.protection.sheet = True


@pytest.mark.parametrize(
    ("act", "why"),
    [(with_merge, "merged cells"), (with_protection, "is protected")],
)
def test_cells_that_are_not_to_be_written_are_left(
    book: Path, act: Callable[[Worksheet, int, int], None], why: str
) -> None:
    says(book, "8", "distance: 25")
    edited = openpyxl.load_workbook(book)
    sheet, at = edited["Field sheet"], field_columns(book)
    act(sheet, line_of(sheet, at, "8"), at["distance"])
    edited.save(book)
    fill(book)
    assert entered(book, "8", "distance") == [4]
    assert why in row_of(book, "8")["Status"]


def test_two_rows_about_one_cell_must_agree(book: Path) -> None:
    rekey(book, "7", {"tip_reading": 5, "distance": 4})
    fill(book)
    rows = [row for row in rows_of(book) if str(row["Tree"]) == "7" and "Distance" in row["Cells"]]
    assert len(rows) > 1
    edited = openpyxl.load_workbook(book)
    sheet = edited["To check"]
    at = columns(sheet)
    values = iter(("distance: 24", "distance: 25"))
    ids = {row["Finding"] for row in rows[:2]}
    for number in range(heading_row(sheet) + 1, sheet.max_row + 1):
        if sheet.cell(number, at["Finding"]).value in ids:
            sheet.cell(number, at["Paper says"]).value = next(values)
            sheet.cell(number, at["Initials"]).value = "CD"
    edited.save(book)
    fill(book)
    assert entered(book, "7", "distance") == [4]
    kept = {row["Paper says"] for row in rows_of(book)}
    assert {"distance: 24", "distance: 25"} <= kept
    assert "another row has a different value" in row_of(book, "7")["Status"]
