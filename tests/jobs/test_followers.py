"""What a user's formulas and names mean in our tabs, they mean after the next fill too."""

from pathlib import Path

import pytest
from openpyxl import Workbook, load_workbook
from openpyxl.workbook.defined_name import DefinedName

from tests.jobs.books import PLOT, varied, write_filled
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.package.formulas.follow import Move, follow, follow_everywhere
from xlhelpers.package.parts.parts import sheets
from xlhelpers.package.zip.container import Package

LINES = 8
# one column put in before the third; the fourth is gone
MOVES = {"trees": Move("Trees", {1: 1, 2: 2, 3: 4, 5: 5, 6: 6}, 10, 1, "Trees (kept)")}


@pytest.mark.parametrize(
    ("formula", "expected", "followed"),
    [
        ("SUM(Trees!A11:A18)", "SUM(Trees!A12:A19)", True),
        ("SUM(Trees!$C$11:$C$18)*2", "SUM(Trees!$D$12:$D$19)*2", True),
        ("Trees!C:C", "Trees!D:D", True),
        ("Trees!E11:F11", "Trees!E12:F12", True),
        ("Trees!A1&Trees!3:3", "Trees!A1&Trees!3:3", True),
        ("SUM(Trees!B11:C11)", "SUM('Trees (kept)'!B11:C11)", False),
        ("Trees!D11", "'Trees (kept)'!D11", False),
        ("C11+Other!C11", "C11+Other!C11", True),
        ('"Trees!C11"', '"Trees!C11"', True),
    ],
)
def test_a_reference_follows_its_columns(formula: str, expected: str, followed: bool) -> None:
    assert follow(formula, MOVES) == (expected, followed)


def test_without_a_kept_sheet_a_lost_column_is_an_error() -> None:
    moves = {"trees": Move("Trees", {1: 1, 2: 3})}
    assert follow("SUM(Trees!C1:C9)+Trees!B2", moves) == ("SUM(#REF!)+Trees!C2", False)


@pytest.mark.parametrize(
    "written",
    ["'By plot'!B2", "&apos;By plot&apos;!B2", "&#39;BY PLOT&#39;!B2", "'By &#112;lot'!B2"],
)
@pytest.mark.parametrize("name", ["By plot", "It's"])
def test_a_formula_is_found_however_its_sheet_is_spelled(
    written: str, name: str, tmp_path: Path
) -> None:
    path = tmp_path / "own.xlsx"
    opened = Workbook()
    opened.create_sheet("By plot")
    opened["Sheet"]["A1"] = "=MARK"
    opened.save(path)
    package = Package.open(path)
    (own,) = [sheet for sheet in sheets(package) if sheet.name == "Sheet"]
    content = package.read(own.part).replace(b"MARK", written.encode())
    package.replace(own.part, content)
    moves = {"by plot": Move("By plot", {2: 3}), name.casefold(): Move(name, {2: 3})}
    done = follow_everywhere(package, moves, without=(), ours=())
    assert done.followed == 1
    assert b"'By plot'!C2" in package.read(own.part)


@pytest.fixture
def book(tmp_path: Path) -> Path:
    return write_filled(tmp_path / "town.xlsx", varied(LINES), [PLOT | {"trees_counted": LINES}])


def column_of(opened: Workbook, heading: str, tab: str = "Trees") -> tuple[int, int]:
    """Row of the headings and column of one."""
    for row in opened[tab].iter_rows(max_row=40):
        for cell in row:
            if cell.value == heading:
                return cell.row, cell.column
    raise AssertionError(heading)


def total_height(opened: Workbook) -> str:
    """The cells of total height on Trees."""
    row, column = column_of(opened, "Total height (m)")
    letter = opened["Trees"].cell(row, column).column_letter
    return f"Trees!${letter}${row + 2}:${letter}${row + 1 + LINES}"


def insert_column(opened: Workbook, at: int) -> None:
    """Put a column of a user's into Trees, as a spreadsheet program does: what is right moves."""
    sheet = opened["Trees"]
    merged = [str(area) for area in sheet.merged_cells.ranges]
    for area in merged:
        sheet.unmerge_cells(area)
    sheet.insert_cols(at)
    row, _ = column_of(opened, "Plot")
    sheet.cell(row, at, "My remark")
    sheet.cell(row + 3, at, "look again")


@pytest.mark.slow
def test_a_column_that_a_user_inserted_does_not_shift_what_formulas_mean(book: Path) -> None:
    opened = load_workbook(book)
    insert_column(opened, 3)
    own = opened.create_sheet("Own")
    own["A1"] = f"=SUM({total_height(opened)})"
    own["A2"] = "=A1*2"
    opened.defined_names["heights"] = DefinedName("heights", attr_text=total_height(opened))
    own["A3"] = "=SUM(heights)"
    row, _ = column_of(opened, "Plot")
    own["A4"] = f"=Trees!C{row + 3}"
    own["A5"] = f"=SUM(Trees!B{row + 2}:D{row + 3})"
    field = opened["Field sheet"]
    opened.save(book)
    assert field is not None

    done = fill(book)
    after = load_workbook(book)
    assert after["Trees (kept)"].cell(row, 3).value == "My remark"
    assert after["Own"]["A1"].value == f"=SUM({total_height(after)})"
    assert after.defined_names["heights"].attr_text == total_height(after)
    # the user's own column is on the kept tab alone
    assert after["Own"]["A4"].value == f"='Trees (kept)'!C{row + 3}"
    assert after["Own"]["A5"].value == f"=SUM('Trees (kept)'!B{row + 2}:D{row + 3})"
    said = " ".join(done.notes)
    assert "2 references to the result tabs were changed" in said
    assert "2 references (Own!A4 and Own!A5) still use “Trees (kept)”" in said
    # no stored result of a formula that may show something else
    values = load_workbook(book, data_only=True)["Own"]
    assert [values[f"A{at}"].value for at in (1, 2, 3)] == [None] * 3
    assert not fill(book).wrote


def test_formulas_stay_when_a_word_was_added_to_a_tab(book: Path) -> None:
    opened = load_workbook(book)
    opened["Trees"]["A60"] = "ask the depot"
    own = opened.create_sheet("Own")
    own["A1"] = f"=SUM({total_height(opened)})"
    opened.defined_names["heights"] = DefinedName("heights", attr_text=total_height(opened))
    opened.save(book)
    done = fill(book)
    after = load_workbook(book)
    assert after["Own"]["A1"].value == f"=SUM({total_height(after)})"
    assert after.defined_names["heights"].attr_text == total_height(after)
    assert not any("reference" in note for note in done.notes)
