"""What was typed over results is said once, and a fill after honest work says nothing of it."""

from collections.abc import Callable
from pathlib import Path
from shutil import copy

import pytest

from tests.conftest import Converter
from tests.jobs.books import PLOT, keyed, varied
from tests.jobs.test_fill_formulas import COLUMNS, grid_of, put
from tests.town import filled_town
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.workbook import RESULT_TABS
from xlhelpers.jobs.fill.fill import Filled, fill
from xlhelpers.jobs.fill.summary import fill_facts, say_filled
from xlhelpers.package.parts.parts import sheet_named
from xlhelpers.package.sheet.cell_edit import edit_cells
from xlhelpers.package.sheet.cell_writes import CellWrite
from xlhelpers.package.sheet.grid_scan import CellError
from xlhelpers.package.sheet.references import cell_name
from xlhelpers.package.zip.container import Package

LINES, FIRST = 12, 6
RESULTS = [field.name for field in FIELD_SHEET.fields if field.block == "tree"]


@pytest.fixture(scope="module")
def filled_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A filled workbook in which one line has a finding."""
    lines = varied(LINES)
    lines[4] |= {"foot_reading": 9}
    path = tmp_path_factory.mktemp("filled") / "town.xlsx"
    fill(keyed(path, lines, [PLOT | {"trees_counted": LINES}]))
    return path


@pytest.fixture
def book(filled_once: Path, tmp_path: Path) -> Path:
    return Path(copy(filled_once, tmp_path))


def said_of(filled: Filled) -> list[str]:
    return [said for said in filled.notes if "typed over" in said]


def listed(path: Path) -> list[list[object]]:
    grid = grid_of(path, RESULT_TABS["about"])
    rows = grid.values[:, :6].tolist()
    titles = [row[0] for row in rows]
    at = titles.index("Results that were typed over")
    found = rows[at + 3 :]
    end = next((n for n, row in enumerate(found) if row[0] is None), len(found))
    return found[:end]


def test_what_was_typed_is_said_with_both_values_and_stays_on_the_list(book: Path) -> None:
    wrote = grid_of(book).value(8, COLUMNS["tree_total"])
    assert isinstance(wrote, float)
    put(book, 8, "tree_total", 14.25)
    filled = fill(book)
    assert grid_of(book).value(8, COLUMNS["tree_total"]) == wrote
    cell = cell_name(8, COLUMNS["tree_total"])
    shown = f"{wrote:.4f}".rstrip("0").rstrip(".")
    (said,) = said_of(filled)
    assert said.startswith("Field sheet: 1 result in shaded cells had been typed over: ")
    assert f"{cell} held 14.25, typed over; fill wrote {shown}" in said
    assert any(said in sentence for sentence in say_filled(filled))
    row = listed(book)[0]
    assert row[:4] == [f"Field sheet {cell}", 1.0, 3.0, "Total height (tree)"]
    assert row[5] == f"held 14.25, typed over; fill wrote {shown}"
    again = fill(book)
    assert not again.wrote
    assert not said_of(again)
    assert listed(book) == [row]
    put(book, 9, "tip_reading", 60)
    assert not said_of(fill(book))
    assert listed(book) == [row]


@pytest.mark.parametrize("value", [3.0, pytest.param("ask the crew", marks=pytest.mark.slow)])
def test_every_result_is_watched(book: Path, value: object) -> None:
    for row, name in enumerate(RESULTS, FIRST):
        put(book, row, name, value)
    filled = fill(book)
    (said,) = said_of(filled)
    assert said.startswith(f"Field sheet: {len(RESULTS)} results in shaded cells")
    assert said.count(" held ") == 3
    assert f"; and {len(RESULTS) - 3} more" in said
    facts = fill_facts(book, filled)["typed_over"]
    assert {(fact["cell"], fact["column"]) for fact in facts} == {
        (cell_name(row, COLUMNS[name]), FIELD_SHEET[name].label)
        for row, name in enumerate(RESULTS, FIRST)
    }
    assert len(listed(book)) == len(RESULTS)


def test_words_beside_a_finding_are_not_lost_in_silence(book: Path) -> None:
    found = str(grid_of(book).value(10, COLUMNS["tree_findings"]))
    put(book, 10, "tree_findings", "asked Mira; " + found)
    (said,) = said_of(fill(book))
    assert "held “asked Mira; " in said
    assert len(said) < 500
    assert f"asked Mira; {found}" in str(listed(book)[0][5])


def test_a_value_on_a_blank_line_below_is_no_result_of_ours(book: Path) -> None:
    put(book, FIRST + LINES, "tree_total", 14.25)
    assert not said_of(fill(book))  # no plot and tree: never written, so nothing was replaced
    assert grid_of(book).value(FIRST + LINES, COLUMNS["tree_total"]) == 14.25


def _readings(path: Path) -> None:
    for row in range(FIRST, FIRST + LINES, 2):
        put(path, row, "tip_reading", 50 + row)
        put(path, row, "distance", 20.5 + row / 10)


def _numbers_changed(path: Path) -> None:
    put(path, 7, "tree", "3")
    put(path, 8, "tree", "2")
    put(path, 9, "tree", "99")


def _turned_round(path: Path) -> None:
    """Put the rows into the opposite order, keyed cells and results alike, formulas left."""
    package = Package.open(path)
    part = sheet_named(package, FIELD_SHEET.tab)
    assert part is not None
    grid = grid_of(path)
    moved = [n for n, at in COLUMNS.items() if (FIRST, at) not in grid.formulas]
    writes = [
        CellWrite(FIRST + LINES - 1 - at, COLUMNS[name], grid.value(FIRST + at, COLUMNS[name]))  # type: ignore[arg-type]
        for at in range(LINES)
        for name in moved
        if not isinstance(grid.value(FIRST + at, COLUMNS[name]), CellError)
    ]
    assert edit_cells(package, part, writes).changed
    path.write_bytes(package.to_bytes())


def _emptied(path: Path) -> None:
    for name in RESULTS:
        put(path, 10, name, None)
    put(path, 11, "tip_reading", 44)


def _second_setup(path: Path) -> None:
    put(path, 9, "tree", "3")
    put(path, 9, "setup", 2)


@pytest.mark.parametrize(
    "work",
    [
        _readings,
        _second_setup,
        *(
            pytest.param(work, marks=pytest.mark.slow)
            for work in (_numbers_changed, _turned_round, _emptied)
        ),
    ],
)
def test_honest_work_is_not_called_typed_over(book: Path, work: Callable[[Path], None]) -> None:
    work(book)
    filled = fill(book)
    assert filled.wrote
    assert not said_of(filled)
    assert listed(book) == []


def test_typed_over_is_told_though_the_readings_changed_too(book: Path) -> None:
    _readings(book)
    put(book, 8, "tree_base", 14.25)
    (said,) = said_of(fill(book))
    assert "1 result" in said


def test_before_the_first_fill_every_result_was_typed(tmp_path: Path) -> None:
    path = keyed(tmp_path / "new.xlsx", varied(3))
    put(path, 7, "tree_total", 14.25)
    (said,) = said_of(fill(path))
    assert "held 14.25" in said


@pytest.mark.slow
def test_nothing_is_claimed_when_the_tab_of_the_trees_was_changed(book: Path) -> None:
    package = Package.open(book)
    part = sheet_named(package, RESULT_TABS["trees"])
    assert part is not None
    assert edit_cells(package, part, [CellWrite(12, 10, 77.0)]).changed
    book.write_bytes(package.to_bytes())
    put(book, 8, "tree_total", 14.25)
    filled = fill(book)
    (said,) = said_of(filled)
    assert "cannot be told" in said
    assert listed(book) == []


@pytest.mark.slow
@pytest.mark.libreoffice
def test_nothing_is_written_after_libreoffice_saved_a_filled_workbook(
    tmp_path: Path, soffice: Converter
) -> None:
    book = tmp_path / "town.xlsx"
    book.write_bytes(filled_town())
    saved = soffice(book)
    # it keeps fifteen digits of each result
    assert saved.read_bytes() != book.read_bytes()
    assert not fill(saved).wrote


@pytest.mark.slow
@pytest.mark.libreoffice
def test_a_workbook_saved_by_libreoffice_is_not_called_typed_over(
    book: Path, soffice: Converter
) -> None:
    put(book, 8, "tip_reading", 61)
    saved = soffice(book)
    assert not said_of(fill(saved))
    put(saved, 8, "tree_depth", 9.5)
    assert len(said_of(fill(saved))) == 1
    again = soffice(saved)
    put(again, 9, "tip_reading", 61)
    fill(again)
    assert [row[3] for row in listed(again)] == ["Crown depth (tree)"]
