"""After every write, and every failed write, the old workbook or the new one is there, whole."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path

import pytest

from tests.package.books import plain_book
from xlhelpers.errors import WorkbookError
from xlhelpers.package.zip import safe_write
from xlhelpers.package.zip.book_files import backup_names, marker_beside
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.safe_write import write_book


def book(number: int) -> bytes:
    return plain_book(f'<row r="1"><c r="A1"><v>{number}</v></c></row>')


@pytest.fixture
def path(tmp_path: Path) -> Path:
    found = tmp_path / "Elm Town.xlsx"
    found.write_bytes(book(1))
    return found


def listing(path: Path) -> set[str]:
    return {item.name for item in path.parent.iterdir()}


def test_a_new_file_has_no_backup(tmp_path: Path) -> None:
    assert write_book(tmp_path / "new.xlsx", book(1), backup=True) is None
    assert listing(tmp_path / "new.xlsx") == {"new.xlsx"}


def test_the_first_backup_is_kept_for_good_and_the_latest_beside_it(path: Path) -> None:
    for number in (2, 3, 4):
        latest = write_book(path, book(number), backup=True)
    first = path.with_name("Elm Town backup first.xlsx.bak")
    assert latest == path.with_name("Elm Town backup latest.xlsx.bak")
    assert path.read_bytes() == book(4)
    assert latest.read_bytes() == book(3)
    assert first.read_bytes() == book(1)
    assert listing(path) == {path.name, first.name, latest.name}


@pytest.mark.parametrize("name", ["a.xlsx", "a.xlsm", "a.XLSX", "a"])
def test_backups_never_look_like_workbooks(name: str) -> None:
    for backup in backup_names(name):
        assert not backup.name.casefold().endswith((".xlsx", ".xlsm", ".xls"))
        assert backup.stem != Path(name).stem


def test_permissions_are_kept(path: Path) -> None:
    path.chmod(0o640)
    write_book(path, book(2), backup=False)
    assert stat.S_IMODE(path.stat().st_mode) == 0o640


def test_a_link_stays_a_link(path: Path) -> None:
    link = path.with_name("link.xlsx")
    link.symlink_to(path)
    write_book(link, book(2), backup=False)
    assert link.is_symlink()
    assert path.read_bytes() == book(2)


@pytest.mark.parametrize("marker", ["~$Elm Town.xlsx", "~$m Town.xlsx", ".~lock.Elm Town.xlsx#"])
def test_a_workbook_that_is_open_elsewhere_is_left_alone(path: Path, marker: str) -> None:
    assert marker_beside(path) is None
    path.with_name(marker).write_bytes(b"x")
    assert marker_beside(path) == path.with_name(marker)
    with pytest.raises(WorkbookError, match="Save and close it"):
        write_book(path, book(2), backup=True)
    assert path.read_bytes() == book(1)
    assert listing(path) == {path.name, marker}


def test_a_read_only_file_is_left_alone(path: Path) -> None:
    path.chmod(0o444)
    with pytest.raises(WorkbookError, match="read-only"):
        write_book(path, book(2), backup=True)
    assert listing(path) == {path.name}


def test_a_read_only_folder(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    real = os.access
    monkeypatch.setattr(
        os, "access", lambda item, mode: real(item, mode) and Path(item) != path.parent
    )
    with pytest.raises(WorkbookError, match=r"folder of .* is read-only"):
        write_book(path, book(2), backup=True)


def test_a_workbook_that_changed_meanwhile_is_left_alone(path: Path) -> None:
    expected = Package.open(path).digest
    path.write_bytes(book(7))
    with pytest.raises(WorkbookError, match="changed by someone else"):
        write_book(path, book(2), backup=True, expected=expected)
    assert path.read_bytes() == book(7)
    assert listing(path) == {path.name}
    write_book(path, book(2), backup=False, expected=Package.open(path).digest)
    assert path.read_bytes() == book(2)


def test_a_missing_folder(tmp_path: Path) -> None:
    with pytest.raises(WorkbookError, match="does not exist"):
        write_book(tmp_path / "absent" / "a.xlsx", book(1), backup=False)


@pytest.mark.parametrize(
    ("step", "number", "expected"),
    [
        ("fsync", errno.ENOSPC, "disk is full"),
        ("replace", errno.EACCES, "does not allow"),
        ("replace", errno.EIO, "unchanged"),
    ],
)
def test_a_fault_at_any_step_leaves_the_old_workbook(
    path: Path, monkeypatch: pytest.MonkeyPatch, step: str, number: int, expected: str
) -> None:
    def fail(*_: object) -> None:
        raise OSError(number, os.strerror(number))

    monkeypatch.setattr(os, step, fail)
    with pytest.raises(WorkbookError, match=expected):
        write_book(path, book(2), backup=False)
    assert path.read_bytes() == book(1)
    assert listing(path) == {path.name}


def test_a_result_that_is_no_workbook_is_never_put_in_place(path: Path) -> None:
    with pytest.raises(WorkbookError):
        write_book(path, book(2)[:-30], backup=True)
    assert path.read_bytes() == book(1)
    assert listing(path) == {path.name}


def test_a_stopped_run_leaves_the_old_workbook(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(safe_write, "_check", stop)
    with pytest.raises(KeyboardInterrupt):
        write_book(path, book(2), backup=True)
    assert path.read_bytes() == book(1)
    assert listing(path) == {path.name}
