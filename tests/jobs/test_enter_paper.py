"""What the paper says, typed into To check, is entered by the next fill into the right cell.

Most cases share one workbook: a tree each, all typed at once and filled twice.
"""

import json
import re
from collections.abc import Callable, Mapping
from contextlib import closing
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from openpyxl.utils import get_column_letter
from openpyxl.worksheet.table import Table
from openpyxl.worksheet.worksheet import Worksheet

from tests.jobs.books import varied, write_filled
from tests.jobs.deciding import TROUBLED, columns, heading_row, rekey, rows_of, shuffle_rows
from xlhelpers.doors.command_line.main import main
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.jobs.fill.fill import Filled, fill
from xlhelpers.jobs.fill.summary import fill_facts
from xlhelpers.package.parts.parts import defined_names, sheet_named
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.sheet.references import cell_name, parse_target
from xlhelpers.package.zip.container import Package

DAY = datetime(2026, 5, 4)
UNREAD: dict[str, Any] = {"tip_reading": "7o"}
CROSSED: dict[str, Any] = {"tip_reading": 5, "base_reading": 50}
# nothing on this line says which width is the wrong one
EITHER: dict[str, Any] = {"width_widest": 5, "width_across": 8}
Rows = dict[str, dict[str, Any]]


def type_in(path: Path, typed: Mapping[str, Mapping[str, Any]], *acts: Callable[..., None]) -> None:
    """Type into the rows of trees on To check, and do more to the workbook, in one go."""
    edited = openpyxl.load_workbook(path)
    sheet = edited["To check"]
    at = columns(sheet)
    for number in range(heading_row(sheet) + 1, sheet.max_row + 1):
        tree = str(sheet.cell(number, at["Tree"]).value)
        for heading, value in typed.get(tree, {}).items():
            sheet.cell(number, at[heading]).value = value
    for act in acts:
        act(edited)
    edited.save(path)


def by_tree(path: Path, tab: str = "To check") -> Rows:
    return {str(row["Tree"]): row for row in reversed(rows_of(path, tab))}


def entered(path: Path) -> Rows:
    """Return what people typed on the field sheet: tree to field to value."""
    package = Package.open(path)
    part = sheet_named(package, FIELD_SHEET.tab)
    assert part is not None
    grid = read_grid(package, part)
    places = {item.name: parse_target(item.text) for item in defined_names(package)}
    found = {f.name: places.get(FIELD_SHEET.defined_name(f.name)) for f in FIELD_SHEET.fields}
    at = {n: to[2] for n, to in found.items() if to and FIELD_SHEET[n].kind != "computed"}
    lines = {}
    for row in range(6, grid.shape[0] + 1):
        tree = grid.value(row, at["tree"])
        line = {name: grid.value(row, column) for name, column in at.items()}
        lines[f"{tree:g}" if isinstance(tree, float) else str(tree)] = line | {"row": row}
    return lines


def tip_cell(path: Path) -> str:
    places = {item.name: parse_target(item.text) for item in defined_names(Package.open(path))}
    target = places[FIELD_SHEET.defined_name("tip_reading")]
    assert target is not None
    return get_column_letter(target[2])


# tree -> what is wrong on its line, what is typed into its row, and what becomes of it
@dataclass(frozen=True)
class Case:
    line: dict[str, Any]
    paper: Any
    holds: dict[str, Any]
    status: str = ""
    initials: str = "CD"
    decision: str = ""


def refused(paper: Any, status: str, **more: Any) -> Case:
    return Case(UNREAD, paper, {"tip_reading": "7o"}, status, **more)


CASES: dict[str, Case] = {
    "a number as text": Case(UNREAD, "70", {"tip_reading": 70}),
    "a number": Case(UNREAD, 72.5, {"tip_reading": 72.5}),
    "a decimal comma": Case(UNREAD, "72,5", {"tip_reading": 72.5}),
    "its own name": Case(UNREAD, "Tip reading: 71", {"tip_reading": 71}),
    "a reason": Case(UNREAD, "NOT SEEN: fog", {"tip_reading": "NOT SEEN: fog"}),
    "marked as fixed": Case(UNREAD, 70, {"tip_reading": 70}, decision="fixed"),
    "a letter": refused("7l", "“7l”"),
    "two ways to read it": refused("1,250", "It may be 1.25 or 1250"),
    "out of range": refused("4000", "It must be from"),
    "a range": refused("60-70", "“60-70”"),
    "a date": refused(datetime(2026, 4, 3), "You probably typed 3-4 or 4-3"),
    "a formula": refused("=CONCATENATE(7,0)", "this is a formula"),
    "without initials": refused(70, "open. Not entered yet: type your initials.", initials=""),
    "accepted": refused(70, "the decision is “accepted”", decision="accepted"),
    "for the crew": refused(70, "the decision is “ask crew”", decision="ask crew"),
    "not safe": refused(70, "the decision is “NOT SAFE”", decision="NOT SAFE"),
    "no decision": refused(70, "the decision is “no”", decision="no"),
    "no cell named": Case(EITHER, 12, EITHER, "type the name of the cell before the value"),
    "two cells": Case(
        CROSSED, "tip: 50; crown base reading = 5", {"tip_reading": 50, "base_reading": 5}
    ),
    "one of two refused": Case(CROSSED, "tip: 50; crown base reading: 5o", CROSSED, "“5o”"),
    "still found": Case(
        CROSSED,
        "crown base reading: 45",
        {"tip_reading": 5, "base_reading": 45},
        "open: marked as corrected, still found",
    ),
    "there already": Case(CROSSED, "tip: 5", CROSSED, "Tip reading: 5 is entered already"),
    "another line's cell": refused("A6: 5", "“A6: 5”"),
}
TREE = {name: str(number) for number, name in enumerate(CASES, 6)}
ENTERED = [name for name, case in CASES.items() if case.holds not in (UNREAD, CROSSED, EITHER)]
KEPT = [name for name, case in CASES.items() if name not in ENTERED]


@dataclass(frozen=True)
class After:
    """The workbook before and after the fill, and whether a second one changed it."""

    listed: Rows
    before: Rows
    rows: Rows
    log: list[dict[str, Any]]
    cells: Rows
    filled: Filled
    again: bool
    column: str
    tabs: list[str]


@pytest.fixture(scope="module")
def after(tmp_path_factory: pytest.TempPathFactory) -> After:
    path = tmp_path_factory.mktemp("paper") / "town.xlsx"
    lines = varied(5 + len(CASES))
    for name, case in CASES.items():
        lines[int(TREE[name]) - 1].update(case.line)
    write_filled(path, lines)
    listed = by_tree(path)
    typed = {
        TREE[name]: {
            "Paper says": case.paper,
            "Initials": case.initials or None,
            "Decision": case.decision or None,
            "Date": DAY,
            "Note": f"sheet {TREE[name]}",
        }
        for name, case in CASES.items()
    }
    type_in(path, typed)
    before = entered(path)
    filled = fill(path)
    rows, log, cells = by_tree(path), rows_of(path, "Log"), entered(path)
    with closing(openpyxl.load_workbook(path, read_only=True)) as opened:
        tabs = opened.sheetnames
    again = fill(path).wrote
    return After(listed, before, rows, log, cells, filled, again, tip_cell(path), tabs)


@pytest.mark.parametrize("name", CASES)
def test_only_what_the_paper_says_has_changed_on_the_line(after: After, name: str) -> None:
    tree, case = TREE[name], CASES[name]
    assert after.cells[tree] == after.before[tree] | case.holds


def test_no_other_line_has_changed(after: After) -> None:
    others = set(after.before) - set(TREE.values())
    assert len(others) == 5
    assert {tree: after.cells[tree] for tree in others} == {
        tree: after.before[tree] for tree in others
    }


@pytest.mark.parametrize("name", KEPT)
def test_what_is_not_entered_stays_in_its_row_and_says_why(after: After, name: str) -> None:
    row, case = after.rows[TREE[name]], CASES[name]
    assert case.status in row["Status"]
    kept = case.paper.strftime("%Y-%m-%d") if isinstance(case.paper, datetime) else case.paper
    assert row["Paper says"] == str(kept)
    assert (row["Initials"] or "", row["Decision"] or "") == (case.initials, case.decision)
    assert (row["Date"], row["Note"]) == (DAY, f"sheet {TREE[name]}")
    assert TREE[name] not in [str(entry["Tree"]) for entry in after.log]


@pytest.mark.parametrize("name", ENTERED)
def test_what_is_entered_is_in_the_log(after: After, name: str) -> None:
    log = [entry for entry in after.log if str(entry["Tree"]) == TREE[name]]
    case = CASES[name]
    changed = {k: v for k, v in case.holds.items() if after.before[TREE[name]][k] != v}
    assert len(log) == len(changed)
    for entry, (field, new) in zip(log, changed.items(), strict=True):
        old = after.before[TREE[name]][field]
        assert entry["Old value"] == (f"{old:g}" if isinstance(old, float) else old)
        shown = f"{new:g}" if isinstance(new, int | float) else new
        assert entry["New value"].split(" (typed: ")[0] == shown
        assert (entry["Decision"], entry["Initials"], entry["Date"]) == ("corrected", "CD", DAY)
        assert entry["Paper says"] == str(case.paper)
        label = FIELD_SHEET[field].label
        assert entry["Cell corrected"].startswith("Field sheet ")
        assert entry["Cell corrected"].endswith(f"{after.before[TREE[name]]['row']} {label}")


def test_the_log_names_cell_and_way_of_writing(after: After) -> None:
    first = next(entry for entry in after.log if str(entry["Tree"]) == TREE["a decimal comma"])
    row = after.before[TREE["a decimal comma"]]["row"]
    assert first["Cell corrected"] == f"Field sheet {after.column}{row} Tip reading"
    assert first["New value"] == "72.5 (typed: 72,5)"


def test_what_became_of_the_findings(after: After) -> None:
    became = [(str(entry["Tree"]), entry["How it was resolved"]) for entry in after.log]
    two, still = TREE["two cells"], TREE["still found"]
    assert became.count((two, "corrected")) == 1
    assert became.count((two, "corrected, another cell of the same finding")) == 1
    assert (still, "corrected, still found") in became
    assert {TREE[name] for name in ENTERED} & set(after.rows) <= {still, TREE["a reason"]}
    row = after.rows[still]
    assert (row["Decision"], row["Initials"], row["Date"]) == ("corrected", "CD", DAY)
    assert (row["Paper says"], row["Earlier decisions"]) == (None, None)
    assert row["Status"] == CASES["still found"].status


def test_the_results_of_a_corrected_line_are_right_at_once(after: After) -> None:
    trees = after.filled.outcome.trees.set_index("tree")
    line = after.before[TREE["a number as text"]]
    # similar triangles: the distance times the two percent readings
    height = line["distance"] * (70 - line["foot_reading"]) / 100
    assert trees.loc[TREE["a number as text"], "total_height"] == pytest.approx(height)


def test_a_backup_has_the_old_value_and_a_second_fill_does_nothing(after: After) -> None:
    assert after.filled.backup is not None
    assert entered(after.filled.backup)[TREE["a number"]]["tip_reading"] == "7o"
    assert not after.again
    assert "To check (kept)" not in after.tabs


def test_the_summary_says_what_was_entered_and_what_was_not(after: After) -> None:
    said = " | ".join(after.filled.notes)
    count = sum(bool(entry["Cell corrected"]) for entry in after.log)
    assert f"Corrected {count} cells from To check: Field sheet {after.column}" in said
    assert "7o → 70 (CD)" in said
    assert f"{len(KEPT)} entries under Paper says were not entered" in said
    assert "“fixed” was read as corrected" not in said  # it is entered: nothing is left to say
    assert "“no” (1 row) is not a decision" in said
    assert "What you typed is unchanged" not in said


def test_the_facts_for_other_programs_list_every_corrected_cell(after: After) -> None:
    """One entry a cell that changed, with what it held before and what the paper says."""
    facts = fill_facts(Path("town.xlsx"), after.filled)["corrected"]
    changed = {
        (tree, name)
        for tree, line in after.cells.items()
        for name, value in line.items()
        if value != after.before[tree][name]
    }
    assert len(facts) == len(changed) > 5
    json.dumps(facts)
    row = after.cells[TREE["a decimal comma"]]["row"]
    (fact,) = [fact for fact in facts if fact["cell"] == f"{after.column}{row}"]
    assert fact == {
        "cell": f"{after.column}{row}",
        "sheet": "Field sheet",
        "column": FIELD_SHEET["tip_reading"].label,
        "before": "7o",
        "after": "72.5",
        "initials": "CD",
    }


def test_cells_says_where_a_value_goes_and_what_is_there(after: After) -> None:
    assert after.listed[TREE["a number"]]["Cells"] == "Tip reading: 7o"
    cells = after.listed[TREE["no cell named"]]["Cells"]
    assert cells.startswith("(name the cell) Crown width, across: 8; ")
    assert "Crown width, widest: 5" in cells


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """Tree 6 has the tip reading 7o; tree 7 the base 50 above the tip 5; tree 8 is too near."""
    return write_filled(tmp_path / "town.xlsx", [*varied(5), *TROUBLED])


@pytest.mark.slow
def test_check_and_a_copy_leave_the_workbook_alone(
    book: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    type_in(book, {"6": {"Paper says": 70, "Initials": "CD"}})
    before = book.read_bytes()
    main(["check", str(book)])
    assert "1 entry under Paper says waits for the next fill" in capsys.readouterr().out
    assert book.read_bytes() == before
    fill(book, tmp_path / "copy.xlsx")
    assert book.read_bytes() == before
    assert entered(tmp_path / "copy.xlsx")["6"]["tip_reading"] == 70


@pytest.mark.slow
def test_a_later_change_by_hand_is_not_undone_by_the_log(book: Path) -> None:
    type_in(book, {"6": {"Paper says": 70, "Initials": "CD"}})
    fill(book)
    rekey(book, "6", {"tip_reading": "7o"})
    fill(book)
    assert entered(book)["6"]["tip_reading"] == "7o"
    assert by_tree(book)["6"]["Paper says"] is None
    assert len(rows_of(book, "Log")) == 1


def sort_lines(book: openpyxl.Workbook) -> None:
    sheet = book["Field sheet"]
    rows = [[c.value for c in row] for row in sheet.iter_rows(min_row=6, max_row=13)]
    for number, row in enumerate(reversed(rows), 6):
        for column, value in enumerate(row, 1):
            sheet.cell(number, column).value = value


def insert_lines(book: openpyxl.Workbook) -> None:
    book["Field sheet"].insert_rows(8, 2)


def sort_list(book: openpyxl.Workbook) -> None:
    shuffle_rows(book["To check"], heading_row(book["To check"]) + 1)


def delete_column(book: openpyxl.Workbook) -> None:
    book["To check"].delete_cols(columns(book["To check"])["Cells"])


@pytest.mark.parametrize(
    "acts",
    [(sort_lines, sort_list), pytest.param((insert_lines, delete_column), marks=pytest.mark.slow)],
)
def test_the_line_is_found_wherever_it_is(book: Path, acts: tuple[Callable[..., None]]) -> None:
    before = {tree: line["tip_reading"] for tree, line in entered(book).items()}
    type_in(book, {"6": {"Paper says": 70, "Initials": "CD"}}, *acts)
    fill(book)
    after = {tree: line["tip_reading"] for tree, line in entered(book).items()}
    assert {t: v for t, v in after.items() if t in before} == before | {"6": 70}


@pytest.fixture
def changed(book: Path) -> Path:
    """What the paper says of tree 7 was typed before another of its readings changed."""
    type_in(book, {"7": {"Paper says": "tip: 50", "Initials": "CD"}})
    rekey(book, "7", {"base_reading": 44})
    fill(book)
    return book


@pytest.mark.slow
def test_changed_entries_wait(changed: Path) -> None:
    row, line = by_tree(changed)["7"], entered(changed)["7"]
    assert (line["base_reading"], line["tip_reading"]) == (44, 5)
    assert (row["Paper says"], row["Initials"]) == ("tip: 50", None)
    assert "have changed since" in row["Status"]
    assert row["Earlier decisions"] == "paper says tip: 50, CD"
    assert not fill(changed).wrote


@pytest.mark.slow
def test_changed_entries_wait_until_somebody_has_looked_again(changed: Path) -> None:
    # initials for all are typed for decisions, not for what somebody must look at again
    type_in(changed, {}, for_all("EF"))
    fill(changed)
    assert entered(changed)["7"]["tip_reading"] == 5
    type_in(changed, {"7": {"Initials": "EF"}})
    fill(changed)
    assert entered(changed)["7"]["tip_reading"] == 50


def for_all(initials: str | None, day: Any = None) -> Callable[..., None]:
    def act(book: openpyxl.Workbook) -> None:
        for name, value in (("xlh_all_initials", initials), ("xlh_all_date", day)):
            tab, cell = book.defined_names[name].attr_text.split("!")
            assert tab == "'To check'"
            book["To check"][cell.replace("$", "")].value = value

    return act


@pytest.mark.slow
def test_a_cell_that_is_not_as_the_row_showed_it_waits_too(book: Path) -> None:
    shown = {"Cells": "Tip reading: 71", "Paper says": 70, "Initials": "CD"}
    type_in(book, {"6": shown})
    for _ in range(2):
        fill(book)
        assert entered(book)["6"]["tip_reading"] == "7o"
    row = by_tree(book)["6"]
    assert "have changed since" in row["Status"]
    assert (row["Cells"], row["Paper says"], row["Initials"]) == ("Tip reading: 7o", "70", None)
    type_in(book, {"6": {"Initials": "EF"}})
    fill(book)
    assert entered(book)["6"]["tip_reading"] == 70


@pytest.mark.slow
def test_an_entry_whose_finding_is_gone_is_kept_in_the_log(book: Path) -> None:
    type_in(book, {"6": {"Paper says": 70, "Initials": "CD"}})
    rekey(book, "6", {"tip_reading": 71})
    filled = fill(book)
    assert entered(book)["6"]["tip_reading"] == 71
    (row,) = rows_of(book, "Log")
    assert (row["Paper says"], row["Cell corrected"]) == ("70", None)
    assert any("because the finding is gone: “70”" in note for note in filled.notes)
    rekey(book, "6", {"tip_reading": "7o"})
    filled = fill(book)
    assert not any("is gone" in note for note in filled.notes)
    assert entered(book)["6"]["tip_reading"] == "7o"
    assert by_tree(book)["6"]["Paper says"] is None


def merge_distance(sheet: Worksheet) -> None:
    column = next(c.column for c in sheet[5] if str(c.value).startswith("Distance"))
    sheet.merge_cells(start_row=13, end_row=14, start_column=column, end_column=column)


def protect(sheet: Worksheet) -> None:
    sheet.protection.sheet = True


@pytest.mark.slow
@pytest.mark.parametrize(
    ("act", "why"), [(merge_distance, "merged cells"), (protect, "is protected")]
)
def test_cells_that_are_not_to_be_written_are_left(
    book: Path, act: Callable[[Worksheet], None], why: str
) -> None:
    typed = {"8": {"Paper says": "distance: 25", "Initials": "CD"}}
    type_in(book, typed, lambda edited: act(edited["Field sheet"]))
    fill(book)
    assert entered(book)["8"]["distance"] == 4
    assert why in by_tree(book)["8"]["Status"]


@pytest.mark.slow
def test_a_formula_in_the_cell_is_left(book: Path) -> None:
    type_in(book, {"8": {"Paper says": "distance: 25", "Initials": "CD"}})
    package = Package.open(book)
    part = sheet_named(package, FIELD_SHEET.tab)
    assert part is not None
    places = {item.name: parse_target(item.text) for item in defined_names(package)}
    target = places[FIELD_SHEET.defined_name("distance")]
    assert target is not None
    cell = cell_name(13, target[2]).encode()
    found = re.compile(b'(<c r="' + cell + b'"[^>]*>)(<v>4</v>)')
    data, count = found.subn(rb"\1<f>2+2</f>\2", package.read(part.part))
    assert count == 1
    package.replace(part.part, data)
    book.write_bytes(package.to_bytes())
    fill(book)
    sheet = openpyxl.load_workbook(book)["Field sheet"]
    assert sheet.cell(13, target[2]).value == "=2+2"
    assert "has a formula" in by_tree(book)["8"]["Status"]


@pytest.mark.slow
def test_two_rows_about_one_cell_must_agree(book: Path) -> None:
    rekey(book, "7", {"distance": 4})
    fill(book)
    ids = [row["Finding"] for row in rows_of(book) if "Distance: 4" in row["Cells"]]
    mine = [row["Finding"] for row in rows_of(book) if str(row["Tree"]) == "7"]
    rows = [one for one in mine if one in ids][:2]
    assert len(rows) == 2
    say_in_rows(book, dict(zip(rows, ("distance: 24", "distance: 25"), strict=True)))
    fill(book)
    assert entered(book)["7"]["distance"] == 4
    kept = {row["Finding"]: row for row in rows_of(book)}
    assert [kept[one]["Paper says"] for one in rows] == ["distance: 24", "distance: 25"]
    assert all("another row has a different value" in kept[one]["Status"] for one in rows)
    say_in_rows(book, dict.fromkeys(rows, "distance: 25"))
    fill(book)
    assert entered(book)["7"]["distance"] == 25
    assert {row["Finding"] for row in rows_of(book, "Log") if row["Cell corrected"]} == set(rows)


def say_in_rows(path: Path, papers: Mapping[str, str]) -> None:
    edited = openpyxl.load_workbook(path)
    sheet = edited["To check"]
    at = columns(sheet)
    for number in range(heading_row(sheet) + 1, sheet.max_row + 1):
        paper = papers.get(str(sheet.cell(number, at["Finding"]).value))
        if paper:
            sheet.cell(number, at["Paper says"]).value = paper
            sheet.cell(number, at["Initials"]).value = "CD"
    edited.save(path)


@pytest.mark.slow
def test_initials_and_date_are_typed_once_for_all(book: Path) -> None:
    typed = {"6": {"Paper says": 70}, "7": {"Decision": "ok", "Date": datetime(2026, 5, 1)}}
    type_in(book, typed, for_all("GH", DAY))
    filled = fill(book)
    assert entered(book)["6"]["tip_reading"] == 70
    (entry,) = rows_of(book, "Log")
    assert (entry["Initials"], entry["Date"]) == ("GH", DAY)
    rows = by_tree(book)
    # what a row has of its own stays, and what has no decision gets none
    assert (rows["7"]["Initials"], rows["7"]["Date"]) == ("GH", datetime(2026, 5, 1))
    assert (rows["8"]["Initials"], rows["8"]["Date"]) == (None, None)
    assert rows["7"]["Status"] == "accepted (“ok” was read as accepted)"
    assert rows["7"]["Decision"] == "ok"
    assert any("“ok” was read as accepted (1 row)" in note for note in filled.notes)
    with closing(openpyxl.load_workbook(book, read_only=True)) as opened:
        assert "To check (kept)" not in opened.sheetnames
    # and the two cells are as they were typed
    sheet = openpyxl.load_workbook(book)
    cells = [sheet.defined_names[f"xlh_all_{name}"].attr_text for name in ("initials", "date")]
    tab = sheet["To check"]
    held = [tab[cell.rpartition("!")[2].replace("$", "")].value for cell in cells]
    assert held == ["GH", DAY]
    assert not fill(book).wrote


@pytest.mark.slow
def test_lines_that_cannot_be_told_apart_are_left(tmp_path: Path) -> None:
    lines = varied(7)
    lines[5].update(lines[4] | {"tip_reading": "7o"})
    lines[4]["tip_reading"] = "7o"
    path = write_filled(tmp_path / "town.xlsx", lines)
    typed = {"5": {"Paper says": "Tip reading: 70", "Initials": "CD"}}
    type_in(path, typed)
    before = tips_of(path)
    assert before.count("7o") == 2
    fill(path)
    assert tips_of(path) == before
    said = [row["Status"] for row in rows_of(path) if row["Cells"] == "Tip reading: 7o"]
    assert len(said) == 2
    assert all("two lines have this number and the same entries" in text for text in said)


def tips_of(path: Path) -> list[Any]:
    """Return the tip reading of each line."""
    package = Package.open(path)
    part = sheet_named(package, FIELD_SHEET.tab)
    assert part is not None
    grid = read_grid(package, part)
    places = {item.name: parse_target(item.text) for item in defined_names(package)}
    target = places[FIELD_SHEET.defined_name("tip_reading")]
    assert target is not None
    return [grid.value(row, target[2]) for row in range(6, 13)]


def table_over_distance(sheet: Worksheet) -> None:
    column = next(c.column_letter for c in sheet[5] if str(c.value).startswith("Distance"))
    sheet.add_table(Table(displayName="mine", ref=f"{column}13:{column}14"))


@pytest.mark.slow
@pytest.mark.filterwarnings("ignore:File may not be readable")
def test_where_one_cell_is_refused_the_other_is_taken_back(book: Path) -> None:
    """The heading of somebody's own table is never written to."""
    typed = {"8": {"Paper says": "across: 7; distance: 25", "Initials": "CD"}}
    type_in(book, typed, lambda edited: table_over_distance(edited["Field sheet"]))
    before = entered(book)["8"]
    filled = fill(book)
    assert entered(book)["8"] == before
    row = by_tree(book)["8"]
    assert "is a heading of the table" in row["Status"]
    assert (row["Paper says"], row["Initials"]) == ("across: 7; distance: 25", "CD")
    assert not any("Corrected" in note for note in filled.notes)
