"""Names of the files beside a workbook: never longer than a disk allows, never one for two."""

import os
from pathlib import Path

import pytest

from tests.package.books import user_book
from xlhelpers.errors import WorkbookError
from xlhelpers.package.zip.book_files import (
    LONGEST_NAME,
    backup_names,
    marker_beside,
    temporary_prefix,
)
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.safe_write import clear_leftovers, write_book
from xlhelpers.reading.refusals import refuse_unreadable

BOOK = user_book()
LONG = ("a" * 250 + ".xlsx", "ä" * 125 + ".xlsx", "木" * 83 + ".xlsm")


@pytest.mark.parametrize("name", LONG)
def test_a_name_as_long_as_the_disk_allows_is_written_and_backed_up(
    tmp_path: Path, name: str
) -> None:
    book = tmp_path / name
    assert len(os.fsencode(name)) > LONGEST_NAME - 6
    book.write_bytes(BOOK)
    refuse_unreadable(book)
    assert marker_beside(book) is None
    assert clear_leftovers(book) is None
    latest = write_book(book, BOOK, backup=True)
    assert latest is not None
    assert {path.name for path in tmp_path.iterdir()} == {
        name,
        *(path.name for path in backup_names(book)),
    }
    assert len(temporary_prefix(name).encode()) < LONGEST_NAME


def test_two_long_names_that_begin_alike_have_backups_of_their_own() -> None:
    one, two = (Path("a" * 249 + end + ".xlsx") for end in "xy")
    assert not set(backup_names(one)) & set(backup_names(two))
    assert temporary_prefix(one.name) != temporary_prefix(two.name)


def test_usual_names_are_as_they_were() -> None:
    assert [path.name for path in backup_names(Path("elm town.xlsx"))] == [
        "elm town backup first.xlsx.bak",
        "elm town backup latest.xlsx.bak",
    ]
    assert temporary_prefix("elm town.xlsx") == ".writing elm town.xlsx "


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="the system has no pipes with names")
@pytest.mark.parametrize("read", [refuse_unreadable, Package.open])
def test_a_pipe_is_refused_at_once(tmp_path: Path, read) -> None:
    pipe = tmp_path / "town.xlsx"
    os.mkfifo(pipe)
    with pytest.raises(WorkbookError, match="a pipe or a device"):
        read(pipe)


def test_a_device_is_refused_at_once(tmp_path: Path) -> None:
    endless = Path("/dev/zero")
    if not endless.exists():
        pytest.skip("the system has no such device")
    link = tmp_path / "town.xlsx"
    link.symlink_to(endless)
    with pytest.raises(WorkbookError, match="a pipe or a device"):
        refuse_unreadable(link)


@pytest.mark.parametrize("lock", ["~$town.xlsx", ".~lock.town.xlsx#"])
def test_a_lock_file_names_the_workbook_only_where_it_is_there(tmp_path: Path, lock: str) -> None:
    path = tmp_path / lock
    path.write_bytes(b"x")
    with pytest.raises(WorkbookError) as refused:
        Package.open(path)
    assert "Use town.xlsx" not in str(refused.value)
    (tmp_path / "town.xlsx").write_bytes(b"")
    with pytest.raises(WorkbookError, match=r"Use town\.xlsx"):
        Package.open(path)
