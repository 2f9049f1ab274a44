"""The way back: backups are listed, compared with the workbook, and brought back."""

import shutil
from pathlib import Path

import openpyxl
import pytest

from tests.jobs.books import keyed, run, varied
from xlhelpers.package.zip.book_files import backup_names


@pytest.fixture
def book(tmp_path: Path) -> Path:
    return keyed(tmp_path / "our trees.xlsx", varied(3))


@pytest.fixture(scope="module")
def filled_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    book = keyed(tmp_path_factory.mktemp("once") / "our trees.xlsx", varied(3))
    assert run("fill", book) == 0
    return book


@pytest.fixture
def filled_book(tmp_path: Path, filled_once: Path) -> Path:
    """The workbook after a fill, its backups beside it."""
    for path in filled_once.parent.iterdir():
        shutil.copy2(path, tmp_path)
    return tmp_path / filled_once.name


def retype(book: Path, add: float) -> None:
    """Change one entered diameter as a clerk would, in another program."""
    opened = openpyxl.load_workbook(book)
    sheet = opened["Field sheet"]
    name = opened.defined_names["xlh_line_diameter"].attr_text
    cell = sheet[name.rpartition("!")[2].replace("$", "")].offset(row=3)
    assert isinstance(cell.value, int | float)
    cell.value += add
    opened.save(book)


def test_a_workbook_without_backups_says_where_they_come_from(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("restore", book) == 2
    assert "has no backup in its folder. Each fill in place makes one." in capsys.readouterr().err


def test_the_list_says_what_was_done_since(book: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert run("fill", book) == 0
    first, latest = backup_names(book)
    said = capsys.readouterr().out
    assert f"kept as {latest.name}. The job restore brings it back." in said
    assert run("restore", book) == 0
    said = capsys.readouterr().out
    assert f"The first backup: {first.name}, saved " in said
    assert "It is from before the first fill." in said
    assert "Since then the workbook was filled, last on " in said
    assert "All entries are the same." in said
    assert "It is the same as the first backup." in said


def test_an_entry_that_differs_is_counted(
    filled_book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    retype(filled_book, 1)
    assert run("restore", filled_book) == 0
    assert "Of these, 1 on Field sheet is an entry." in capsys.readouterr().out


@pytest.mark.slow
def test_entries_that_differ_are_counted_by_another_reader(
    filled_book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One diameter is changed by openpyxl between two fills; nothing else is an entry."""
    retype(filled_book, 1)
    run("fill", filled_book)
    retype(filled_book, 1)
    capsys.readouterr()
    assert run("restore", filled_book) == 0
    first, latest = capsys.readouterr().out.split("The latest backup: ")
    assert "Of these, 1 on Field sheet is an entry." in first
    assert "Of these, 1 on Field sheet is an entry." in latest


def test_the_number_of_cells_is_that_of_another_reader(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without any formula between them, every cell is compared by openpyxl as well."""
    for target, content in zip((book, backup_names(book)[1]), ("new", "old"), strict=True):
        opened = openpyxl.Workbook()
        sheet = opened.active
        assert sheet is not None
        for row in range(1, 30):
            for column in range(1, 9):
                same = (row * column) % 7
                sheet.cell(row, column, f"{content} {row}" if same == 0 else row * column)
        opened.create_sheet(content)["B2"] = 1
        opened.save(target)
    with backup_names(book)[1].open("rb") as old:
        states = [openpyxl.load_workbook(one) for one in (book, old)]
    names = {name for state in states for name in state.sheetnames}
    cells = [
        {
            (name, cell.coordinate): cell.value
            for name in names & set(state.sheetnames)
            for row in state[name].iter_rows()
            for cell in row
            if cell.value is not None
        }
        for state in states
    ]
    differ = {place for place in cells[0] | cells[1] if cells[0].get(place) != cells[1].get(place)}
    assert run("restore", book) == 0
    assert f"{len(differ)} cells differ from the workbook now." in capsys.readouterr().out


@pytest.mark.slow
@pytest.mark.parametrize("which", ["first", "latest"])
def test_a_backup_comes_back_and_the_workbook_is_itself_kept(book: Path, which: str) -> None:
    states = [book.read_bytes()]
    for _ in range(2):
        run("fill", book)
        states.append(book.read_bytes())
        retype(book, 1)
        states.append(book.read_bytes())
    # filled, typed, filled, typed: the latest backup is from before the second fill
    assert run("restore", book, "--bring-back", which) == 0
    assert book.read_bytes() == states[0 if which == "first" else 2]
    first, latest = backup_names(book)
    assert first.read_bytes() == states[0]
    assert latest.read_bytes() == states[4]
    assert run("restore", book, "--bring-back", "latest") == 0
    assert book.read_bytes() == states[4]


def test_a_lost_or_damaged_workbook_comes_back(
    book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before = book.read_bytes()
    run("fill", book)
    book.unlink()
    assert run("restore", book) == 0
    assert "is not there any more" in capsys.readouterr().out
    assert run("restore", book, "--bring-back", "latest") == 0
    assert book.read_bytes() == before
    book.write_bytes(before[: len(before) // 2])
    assert run("restore", book) == 0
    assert "is damaged" in capsys.readouterr().out
    assert run("restore", book, "--bring-back", "first") == 0
    assert book.read_bytes() == before


def test_a_damaged_backup_never_takes_the_place_of_the_workbook(filled_book: Path) -> None:
    filled = filled_book.read_bytes()
    latest = backup_names(filled_book)[1]
    latest.write_bytes(latest.read_bytes()[:-100])
    assert run("restore", filled_book, "--bring-back", "latest") == 2
    assert filled_book.read_bytes() == filled


def test_a_workbook_that_is_open_elsewhere_is_left_alone(
    filled_book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    filled, latest = filled_book.read_bytes(), backup_names(filled_book)[1].read_bytes()
    filled_book.with_name(f"~${filled_book.name}").write_bytes(b"x")
    assert run("restore", filled_book, "--bring-back", "latest") == 2
    assert "open in another program" in capsys.readouterr().err
    assert filled_book.read_bytes() == filled
    assert backup_names(filled_book)[1].read_bytes() == latest


def test_what_is_the_same_is_not_written(
    filled_book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    run("restore", filled_book, "--bring-back", "first")
    kept = backup_names(filled_book)[1].read_bytes()
    assert run("restore", filled_book, "--bring-back", "first") == 0
    assert "Nothing was written." in capsys.readouterr().out
    assert backup_names(filled_book)[1].read_bytes() == kept


def test_the_name_of_a_backup_is_answered(
    filled_book: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert run("restore", backup_names(filled_book)[1]) == 2
    assert "is a backup. Give the workbook itself." in capsys.readouterr().err
