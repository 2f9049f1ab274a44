"""One plan of writes, two writers: the closed workbook and the open one."""

import json
import subprocess
import sys
from io import StringIO
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from tests.doors.excel.open_books import (
    Cells,
    FakeBook,
    after_actions,
    cells_of,
    formulas_of,
    names_of,
)
from tests.jobs.books import PLOT, keyed, varied, write_filled
from tests.town import TOWN
from xlhelpers.doors.excel.live_plan import Change
from xlhelpers.doors.excel.live_writer import UNWATCHED, rectangles
from xlhelpers.doors.excel.open_book import HALF_WAY, LIST_TAB, UNDO, fill_open_book
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.jobs.fill.fill import fill
from xlhelpers.package.graft.graft import rename_sheet
from xlhelpers.package.parts.parts import sheet_named
from xlhelpers.package.sheet.cell_edit import edit_cells
from xlhelpers.package.sheet.cell_writes import CellWrite
from xlhelpers.package.sheet.grid import read_grid
from xlhelpers.package.zip.container import Package
from xlhelpers.pages.banner import NO_CHANGE
from xlhelpers.pages.decision_columns import find_columns
from xlhelpers.reading.survey import read_survey

ROOT = Path(__file__).parents[3]
COLUMNS = {field.name: at for at, field in enumerate(FIELD_SHEET.fields, 1)}
LIVE = {COLUMNS[field.name] for field in FIELD_SHEET.fields if field.block in ("live", "helper")}
LINES = 16  # four more than the template prepares
TAB = FIELD_SHEET.tab


@pytest.fixture(autouse=True)
def fixed_time(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SOURCE_DATE_EPOCH", "1751356800")


@pytest.fixture
def small(tmp_path: Path) -> Path:
    plots = [PLOT | {"trees_counted": LINES}]
    return keyed(tmp_path / "small.xlsx", varied(LINES), plots)


def put(path: Path, writes: list[tuple[int, int, Any]], tab: str = TAB) -> None:
    package = Package.open(path)
    part = sheet_named(package, tab)
    assert part is not None
    cells = [CellWrite(*write) for write in writes]
    places = frozenset((write.row, write.column) for write in cells)
    edit_cells(package, part, cells, overwrite_formulas=places)
    path.write_bytes(package.to_bytes())


def without(cells: Cells, columns: set[int]) -> Cells:
    return {place: value for place, value in cells.items() if place[1] not in columns}


def assert_same(found: Cells, expected: Cells, where: str) -> None:
    """Through the engine numbers pass with sixteen digits, so the last one may differ."""
    assert found.keys() == expected.keys(), where
    for place, value in expected.items():
        if isinstance(value, float):
            assert found[place] == pytest.approx(value, rel=1e-12), (where, place)
        else:
            assert found[place] == value, (where, place)


def packaged(book: Path, tmp_path: Path) -> Path:
    """Fill as from outside, into a workbook of the same name."""
    out = tmp_path / "outside" / book.name
    out.parent.mkdir(exist_ok=True)
    fill(book, out)
    return out


@pytest.mark.parametrize("which", ["town", "small"])
def test_both_writers_leave_the_same_cells(which: str, small: Path, tmp_path: Path) -> None:
    path = TOWN if which == "town" else small
    book = FakeBook(path)
    filled = fill_open_book(book)
    assert filled.done, filled.message
    out = packaged(path, tmp_path)
    values, formulas = cells_of(out), formulas_of(out)
    found = {sheet.name: sheet for sheet in book.sheets}
    assert set(found) == set(values) | {LIST_TAB}
    assert [s.name for s in book.sheets][-len(RESULT_TABS) - 1 : -1] == list(RESULT_TABS.values())
    for name in values:
        # results of formulas come of themselves when the spreadsheet program calculates
        calculated = set(formulas[name])
        expected = {p: v for p, v in values[name].items() if p not in calculated}
        assert {p: v for p, v in found[name].cells.items() if p not in calculated} == expected, name
        assert found[name].formulas.keys() == calculated, name
    ours = {key: text for key, text in names_of(out).items() if key.startswith("xlh_")}
    quoted = {key: text.replace("'", "") for key, text in book.defined.items()}
    assert {key: quoted[key] for key in ours} == {k: t.replace("'", "") for k, t in ours.items()}


def test_new_formulas_reach_the_lines_below_the_prepared_ones(small: Path, tmp_path: Path) -> None:
    book = FakeBook(small)
    filled = fill_open_book(book)
    expected = formulas_of(packaged(small, tmp_path))[TAB]
    new = {(c.row, c.column): c.formula for c in filled.changes if c.formula is not None}
    assert len(new) >= 4
    assert {place: book.sheets[TAB].formulas[place] for place in new} == new
    assert new.keys() <= expected.keys()


def test_it_writes_our_cells_only_and_lists_each(small: Path) -> None:
    before = cells_of(small)
    book = FakeBook(small)
    filled = fill_open_book(book)
    ours = {COLUMNS[f.name] for f in FIELD_SHEET.fields if f.block in ("live", "tree", "helper")}
    on_sheet = [place[1:] for place in book.written if place[0] == TAB]
    assert set(on_sheet) == {(c.row, c.column) for c in filled.changes if c.sheet == TAB}
    assert {column for _, column in on_sheet} <= ours
    for change in filled.changes:
        assert (change.before or None) == before[change.sheet].get((change.row, change.column))
    listed = book.sheets[LIST_TAB].cells
    heading = next(place for place, value in listed.items() if value == "Before")
    first = heading[0] + 1
    rows = [[listed.get((first + at, column)) for column in range(1, 5)]
            for at in range(len(filled.changes))]  # fmt: skip
    states = [[c.sheet, c.cell, c.before, c.after] for c in filled.changes]
    assert rows == [[None if state == "" else state for state in row] for row in states]
    assert book.shown
    assert UNDO in book.shown[0]
    assert not hasattr(book, "save")


def saved(book: FakeBook, filled: Path) -> FakeBook:
    """Return the workbook open again, as it is after it was saved."""
    again = FakeBook(filled)
    again.name = book.name
    return again


def test_a_second_fill_changes_nothing(small: Path) -> None:
    fill(small)
    book = FakeBook(small)
    filled = fill_open_book(book)
    assert filled.done
    assert (filled.changes, filled.tabs) == ((), ())
    assert {sheet for sheet, _, _ in book.written} == {LIST_TAB}


def test_a_value_that_changed_shows_before_and_after(small: Path) -> None:
    fill(small)
    put(small, [(6, COLUMNS["tip_reading"], 90.0)])
    filled = fill_open_book(FakeBook(small))
    changed = {(c.row, c.column): c for c in filled.changes}
    total = changed[6, COLUMNS["tree_total"]]
    assert isinstance(total.before, float)
    assert isinstance(total.after, float)
    assert total.before < total.after


def test_a_formula_of_the_user_in_a_result_cell_stays(small: Path) -> None:
    package = Package.open(small)
    part = sheet_named(package, TAB)
    assert part is not None
    place = (7, COLUMNS["tree_total"])
    put(small, [(*place, 1.0)])
    package = Package.open(small)
    text = package.read(part.part).decode()
    cell = f'r="{letters(place[1])}7"'
    start = text.index(cell)
    text = text[:start] + text[start:].replace("<v>1</v>", "<f>1+1</f><v>2</v>", 1)
    package.replace(part.part, text.encode())
    small.write_bytes(package.to_bytes())
    book = FakeBook(small)
    filled = fill_open_book(book)
    assert (TAB, *place) not in book.written
    assert book.sheets[TAB].formulas[place] == "1+1"
    assert "not written" in filled.message


def letters(column: int) -> str:
    from xlhelpers.package.sheet.references import column_letters

    return column_letters(column)


def test_what_was_added_to_a_tab_is_kept_beside_a_fresh_one(small: Path) -> None:
    fill(small)
    put(small, [(2, 40, "called the owner")], RESULT_TABS["trees"])
    put(small, [(6, COLUMNS["tip_reading"], 90.0)])
    book = FakeBook(small)
    filled = fill_open_book(book)
    kept = next(sheet for sheet in book.sheets if sheet.name.startswith("Trees (kept)"))
    assert "called the owner" in kept.cells.values()
    assert "Trees" in [sheet.name for sheet in book.sheets]
    assert "is kept as “Trees (kept)”" in filled.message


def test_a_tab_at_which_formulas_point_stays_and_gets_new_values(small: Path) -> None:
    fill(small)
    package = Package.open(small)
    part = sheet_named(package, "Guide")
    assert part is not None
    put(small, [(60, 1, 1.0)], "Guide")
    package = Package.open(small)
    text = package.read(part.part).decode()
    start = text.index('r="A60"')
    text = text[:start] + text[start:].replace("<v>1</v>", "<f>Trees!A9</f><v>1</v>", 1)
    package.replace(part.part, text.encode())
    small.write_bytes(package.to_bytes())
    put(small, [(6, COLUMNS["tip_reading"], 90.0)])
    book = FakeBook(small)
    tab = book.sheets["Trees"]
    filled = fill_open_book(book)
    assert book.sheets["Trees"] is tab
    assert "point at Trees" in filled.message
    assert book.defined["xlh_fill_fingerprint"] == '="values only"'


def test_formulas_find_a_tab_under_another_name(small: Path) -> None:
    fill(small)
    package = Package.open(small)
    rename_sheet(package, "Trees", "Every tree")
    small.write_bytes(package.to_bytes())
    put(small, [(6, COLUMNS["tip_reading"], 90.0)])
    book = FakeBook(small)
    filled = fill_open_book(book)
    assert "Every tree" in filled.tabs
    texts = [text for text in book.sheets[RESULT_TABS["glance"]].formulas.values() if "!" in text]
    assert any("'Every tree'!" in text for text in texts)
    assert not any("Trees'!" in text or "Trees!" in text for text in texts)


def test_typed_texts_stay_texts(small: Path) -> None:
    put(small, [(6, COLUMNS["species"], "=HYPERLINK(1)"), (7, COLUMNS["tree"], "03-4")])
    book = FakeBook(small)
    filled = fill_open_book(book)  # the stand-in refuses a text without its apostrophe
    assert filled.done, filled.message
    assert "=HYPERLINK(1)" in book.sheets["Trees"].cells.values()
    assert "03-4" in book.sheets["Trees"].cells.values()


def test_a_protected_sheet_is_left_alone_and_said(small: Path) -> None:
    package = Package.open(small)
    part = sheet_named(package, TAB)
    assert part is not None
    text = package.read(part.part).decode()
    lock = '</sheetData><sheetProtection sheet="1"/>'
    package.replace(part.part, text.replace("</sheetData>", lock, 1).encode())
    small.write_bytes(package.to_bytes())
    book = FakeBook(small)
    book.locked = {TAB}
    filled = fill_open_book(book)
    assert filled.done, filled.message
    assert f"{TAB} is protected" in filled.message


def test_trouble_half_way_is_a_sentence(small: Path) -> None:
    book = FakeBook(small)
    book.locked = {TAB}
    filled = fill_open_book(book)
    assert not filled.done
    assert HALF_WAY in filled.message
    assert "Traceback" not in filled.message
    assert book.shown == [filled.message[:1000]]


def test_a_workbook_without_a_field_sheet_is_a_sentence(tmp_path: Path) -> None:
    import xlsxwriter

    path = tmp_path / "accounts.xlsx"
    with xlsxwriter.Workbook(path) as other:
        other.add_worksheet("Money").write(0, 0, "Sum")
    book = FakeBook(path)
    filled = fill_open_book(book)
    assert not filled.done
    assert "has no field sheet" in filled.message
    assert book.written == []


def test_an_old_kind_of_workbook_is_a_sentence(small: Path) -> None:
    book = FakeBook(small)
    book.name = "small.xls"
    assert "Save it as one" in fill_open_book(book).message


def test_nothing_at_all_is_a_sentence(capsys: pytest.CaptureFixture[str]) -> None:
    filled = fill_open_book(object())
    assert not filled.done
    assert "Nothing was written" in filled.message
    assert filled.message in capsys.readouterr().out


def test_rectangles_hold_the_changed_cells_and_no_other() -> None:
    places = [(2, 3), (3, 3), (2, 4), (3, 4), (5, 3), (2, 9)]
    found = rectangles(Change("S", row, column, None, float(row), None) for row, column in places)
    inside = [
        (part.row + down, part.column + right)
        for part in found
        for down, row in enumerate(part.rows)
        for right, _ in enumerate(row)
    ]
    assert sorted(inside) == sorted(places)
    assert len(found) == 3


@pytest.fixture(scope="module", params=["town", "small"])
def remote(request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory) -> Any:
    pytest.importorskip("xlwings")
    folder = tmp_path_factory.mktemp("remote")
    path = TOWN
    if request.param == "small":
        path = keyed(folder / "small.xlsx", varied(LINES), [PLOT | {"trees_counted": LINES}])
    command = [sys.executable, str(ROOT / "tests/doors/excel/remote_fill.py"), str(path)]
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=ROOT)
    assert done.returncode == 0, done.stderr
    return path, folder, json.loads(done.stdout.splitlines()[-1])


def test_the_engine_without_a_program_reads_the_same_survey(remote: Any) -> None:
    path, _, found = remote
    lines = read_survey(Package.open(path)).lines
    expected = pd.read_json(StringIO(lines.to_json(orient="split")), orient="split")
    given = pd.read_json(StringIO(found["lines"]), orient="split")
    pd.testing.assert_frame_equal(given, expected)


def test_the_engine_without_a_program_plans_the_same_writes(remote: Any) -> None:
    path, folder, found = remote
    assert found["done"], found["message"]
    out = packaged(path, folder)
    expected, shown = cells_of(out), after_actions(path, found["actions"])
    # which of the live columns hold formulas cannot be seen, so all are left alone
    assert without(shown[TAB], LIVE) == without(expected[TAB], LIVE)
    before = cells_of(path)[TAB]
    untouched = {place: value for place, value in before.items() if place[1] in LIVE}
    assert {p: v for p, v in shown[TAB].items() if p[1] in LIVE} == untouched
    for key, tab in RESULT_TABS.items():
        # what sees changes elsewhere says here that it does not
        cells = {p: UNWATCHED if v == NO_CHANGE else v for p, v in expected[tab].items()}
        assert UNWATCHED in shown[tab].values()
        assert NO_CHANGE not in shown[tab].values()
        if key != "about":  # tells of the live columns
            assert_same(shown[tab], cells, tab)
    assert "formulas that choose a plot" in found["message"]
    assert "formula columns were skipped" in found["message"]
    assert {action["func"] for action in found["actions"]} <= {
        "setValues", "addSheet", "namesAdd", "alert", "setNameRefersTo",
    }  # fmt: skip


def test_tabs_of_values_alone_are_known_again(remote: Any, tmp_path: Path) -> None:
    """What the engine left, put into a workbook, is replaced by the next fill and not kept."""
    from xlhelpers.doors.excel.book_copy import SheetValues, values_book

    path, _, found = remote
    shown = after_actions(path, found["actions"])
    sheets = []
    for name, cells in shown.items():
        height, width = (max((p[axis] for p in cells), default=1) for axis in (0, 1))
        rows = [[cells.get((r, c)) for c in range(1, width + 1)] for r in range(1, height + 1)]
        sheets.append(SheetValues(name, rows))
    names = dict(names_of(path))
    names |= {a["args"][0]: a["args"][1] for a in found["actions"] if a["func"] == "namesAdd"}
    ours = [(key, text) for key, text in names.items() if key.startswith("xlh_")]
    book = tmp_path / path.name
    book.write_bytes(values_book(path.name, sheets, ours))
    filled = fill(book)
    assert len(filled.tabs_written) == len(RESULT_TABS)
    assert not [note for note in filled.notes if "is kept as" in note]
    grid = read_grid(Package.open(book), sheet_named(Package.open(book), TAB))  # type: ignore[arg-type]
    assert grid.shape[0] > LINES


def test_what_the_paper_says_is_entered_and_listed(tmp_path: Path) -> None:
    lines = varied(6)
    lines[2]["tip_reading"] = "7o"
    path = write_filled(tmp_path / "town.xlsx", lines)
    package = Package.open(path)
    part = sheet_named(package, "To check")
    assert part is not None
    found = find_columns(package, part, read_grid(package, part), "to_check")
    assert found is not None
    row = next(
        number
        for number in range(found.heading_row + 1, found.heading_row + 9)
        if read_grid(package, part).value(number, found.at["tree"]) == 3.0
    )
    put(path, [(row, found.at["paper"], 70.0), (row, found.at["initials"], "CD")], "To check")
    book = FakeBook(path)
    filled = fill_open_book(book)
    cell = (8, COLUMNS["tip_reading"])
    assert Change(TAB, *cell, "7o", 70.0) in filled.changes
    assert book.sheets[TAB].cells[cell] == 70.0
    assert "Corrected 1 cell from To check" in filled.message
    log = [value for value in book.sheets["Log"].cells.values() if isinstance(value, str)]
    assert "7o" in log
