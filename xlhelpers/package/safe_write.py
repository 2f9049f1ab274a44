"""A workbook written to disk so that the old one or the new one is there, whole, at any moment.

The new workbook goes into a temporary file in the same folder, is read again and checked, and
takes the place of the old one in a single step. Backups stand beside it: the first is kept for
good, the latest is renewed with every write. Their names never end in .xlsx, so that nobody
opens, fills or sends one by mistake.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import stat
import tempfile
from pathlib import Path

from xlhelpers.errors import WorkbookError
from xlhelpers.package.container import Package
from xlhelpers.package.sniffing import LOCK_PREFIX, OWNER_PREFIX

FIRST_BACKUP = " backup first.xlsx.bak"
LATEST_BACKUP = " backup latest.xlsx.bak"
TEMPORARY_PREFIX = ".writing "
TEMPORARY_SUFFIX = ".tmp"


def backup_names(path: Path | str) -> tuple[Path, Path]:
    """Where the first and the latest backup of a workbook stand."""
    path = Path(path)
    ending = ".bak" if path.suffix.casefold() == ".xlsx" else f"{path.suffix}.bak"
    first, latest = (
        text if ending == ".bak" else text.replace(".xlsx.bak", ending)
        for text in (FIRST_BACKUP, LATEST_BACKUP)
    )
    return path.with_name(path.stem + first), path.with_name(path.stem + latest)


def is_open_elsewhere(path: Path | str) -> str | None:
    """Name of the marker that shows that another program has the workbook open; None otherwise.

    Excel leaves ~$NAME beside it (long names lose their first two letters), LibreOffice
    .~lock.NAME#.
    """
    path = Path(path)
    for name in (
        OWNER_PREFIX + path.name,
        OWNER_PREFIX + path.name[2:],
        f"{LOCK_PREFIX}{path.name}#",
    ):
        if path.with_name(name).exists():
            return name
    return None


def write_book(
    path: Path | str, data: bytes, *, backup: bool, expected: bytes | None = None
) -> Path | None:
    """Write a workbook in place, or leave everything as it was.

    Parameters
    ----------
    path
        The workbook; it may be new.
    data
        The whole new workbook.
    backup
        Keep the old workbook beside it: the first for good, and the latest.
    expected
        SHA-256 digest of the workbook as it was read (`Package.digest`); where the file is
        another by now, nothing is written.

    Returns
    -------
    Path or None
        The latest backup that was made; None without a backup.

    Raises
    ------
    WorkbookError
        The workbook is open elsewhere, was changed meanwhile, cannot be written, or did not
        stand the check. The old workbook is untouched.
    """
    path = Path(path)
    if path.is_symlink():
        # The link stays a link: the file that it points to is replaced.
        path = path.resolve()
    _refuse_open(path)
    _refuse_unwritable(path)
    _refuse_changed(path, expected)
    saved = None
    try:
        temporary = _write_temporary(path, data)
        try:
            _check(temporary, path, data)
            _copy_permissions(path, temporary)
            _refuse_changed(path, expected)
            _refuse_open(path)
            if backup and path.exists():
                saved = _back_up(path)
            os.replace(temporary, path)
        finally:
            with contextlib.suppress(FileNotFoundError):
                temporary.unlink()
    except OSError as error:
        raise _trouble(path, error) from error
    _settle_folder(path.parent)
    return saved


def _refuse_open(path: Path) -> None:
    marker = is_open_elsewhere(path)
    if marker is not None:
        raise WorkbookError(
            f"{path.name} is open in another program; save and close it there, then try again "
            f"(if it is not open anywhere, delete the file {marker} beside it)."
        )


def _refuse_unwritable(path: Path) -> None:
    if not path.parent.is_dir():
        raise WorkbookError(f"The folder {path.parent} does not exist; make it, then try again.")
    if path.exists() and not path.stat().st_mode & stat.S_IWUSR:
        raise WorkbookError(
            f"{path.name} is read-only; allow writing to it or work on a copy, then try again."
        )
    if path.exists() and not os.access(path, os.W_OK):
        raise WorkbookError(
            f"{path.name} may not be written to by you; work on a copy of your own."
        )
    if not os.access(path.parent, os.W_OK | os.X_OK):
        raise WorkbookError(
            f"The folder of {path.name} is read-only; copy the workbook into a folder of your "
            "own, then try again."
        )


def _refuse_changed(path: Path, expected: bytes | None) -> None:
    if expected is None:
        return
    try:
        now = hashlib.sha256(path.read_bytes()).digest()
    except OSError:
        now = b""
    if now != expected:
        raise WorkbookError(
            f"{path.name} was changed by someone else while it was being filled; nothing was "
            "written, run it again."
        )


def _write_temporary(path: Path, data: bytes) -> Path:
    handle, name = tempfile.mkstemp(
        prefix=TEMPORARY_PREFIX, suffix=TEMPORARY_SUFFIX, dir=path.parent
    )
    temporary = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
    except BaseException:
        with contextlib.suppress(OSError):
            temporary.unlink()
        raise
    return temporary


def _check(temporary: Path, path: Path, data: bytes) -> None:
    """Read the temporary file again: every checksum, and the workbook part."""
    stored = temporary.read_bytes()
    if stored != data:
        raise WorkbookError(
            f"{path.name} could not be written without fault (the disk gave back other data); "
            "the workbook is as it was, save it to another disk."
        )
    Package.from_bytes(stored, path)


def _copy_permissions(path: Path, temporary: Path) -> None:
    if path.exists():
        os.chmod(temporary, stat.S_IMODE(path.stat().st_mode))
        with contextlib.suppress(OSError, AttributeError):
            state = path.stat()
            os.chown(temporary, state.st_uid, state.st_gid)
        return
    mask = os.umask(0)
    os.umask(mask)
    os.chmod(temporary, 0o666 & ~mask)


def _back_up(path: Path) -> Path:
    """Copy the workbook beside itself; each copy takes its place in one step."""
    first, latest = backup_names(path)
    content = path.read_bytes()
    for target in (latest,) if first.exists() else (first, latest):
        temporary = _write_temporary(path, content)
        try:
            _copy_permissions(path, temporary)
            os.replace(temporary, target)
        finally:
            with contextlib.suppress(FileNotFoundError):
                temporary.unlink()
    return latest


def _settle_folder(folder: Path) -> None:
    """Let the new name reach the disk, where the system can do that for a folder."""
    with contextlib.suppress(OSError, AttributeError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _trouble(path: Path, error: OSError) -> WorkbookError:
    if error.errno in (errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC)):
        what = "the disk is full; make room, then try again"
    elif isinstance(error, PermissionError):
        what = (
            "the system does not allow it; close the workbook in every program, see that the "
            "folder may be written to, then try again"
        )
    else:
        what = f"{error.strerror or error}; try again or save it to another folder"
    return WorkbookError(f"{path.name} was not written and is as it was: {what}.")
