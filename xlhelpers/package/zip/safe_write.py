"""Write a workbook so that either the old or the new one is there, whole, at any moment.

The new workbook goes into a temporary file in the same folder. It is read again and checked, then
replaces the old one in a single step. Backups are kept in the same folder: the first for good, the
latest from the last write. Their names never end in .xlsx, so nobody opens or fills one by mistake.
"""

from __future__ import annotations

import contextlib
import errno
import hashlib
import os
import stat
import tempfile
from collections.abc import Iterator
from pathlib import Path

from xlhelpers.errors import WorkbookError
from xlhelpers.package.zip.book_files import (
    TEMPORARY_SUFFIX,
    backup_names,
    marker_beside,
    temporary_prefix,
)
from xlhelpers.package.zip.container import Package

try:
    import fcntl
except ImportError:  # not on Windows
    fcntl = None  # type: ignore[assignment]


def clear_leftovers(path: Path | str) -> str | None:
    """Remove the unfinished files of a fill that was interrupted.

    Returns
    -------
    str or None
        A message about the file that was removed; None if there was none.
    """
    path = Path(path)
    if path.is_symlink():
        path = path.resolve()
    names = [name for name in _list_folder(path.parent) if _is_leftover(name, path.name)]
    removed = [name for name in names if _remove_unless_in_use(path.with_name(name))]
    if not removed:
        return None
    return (
        f"An earlier fill of {path.name} was interrupted. The workbook is not affected. "
        f"The unfinished file {removed[0]!r} was removed."
    )


def _list_folder(folder: Path) -> list[str]:
    try:
        return os.listdir(folder)
    except OSError:
        return []


def _is_leftover(name: str, book: str) -> bool:
    return name.startswith(temporary_prefix(book)) and name.endswith(TEMPORARY_SUFFIX)


def _remove_unless_in_use(leftover: Path) -> bool:
    """Remove a temporary file unless another process is writing it just now."""
    try:
        with leftover.open("rb") as file:
            if not _lock(file.fileno()):
                return False
        leftover.unlink()
    except OSError:
        return False
    return True


def _lock(handle: int) -> bool:
    """Lock an open file until it is closed; False if another process has locked it."""
    # A system without such locks does not let anybody remove a file that is in use.
    if fcntl is None:
        return True
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:
        return True  # a disk without marks, as some in a network
    return True


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
        Keep the old workbook in the same folder: the first for good, and the latest.
    expected
        SHA-256 digest of the workbook as it was read (`Package.digest`). If the file has changed
        since, nothing is written.

    Returns
    -------
    Path or None
        The latest backup that was made; None without a backup.

    Raises
    ------
    WorkbookError
        The workbook is open elsewhere, has changed, cannot be written, or failed the check.
        The old workbook is untouched.
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
        with _temporary(path, data) as temporary:
            _check(temporary, path, data)
            _copy_permissions(path, temporary)
            _refuse_changed(path, expected)
            _refuse_open(path)
            if backup and path.exists():
                saved = _back_up(path)
            os.replace(temporary, path)
    except OSError as error:
        raise _write_error(path, error) from error
    _sync_folder(path.parent)
    return saved


def _refuse_open(path: Path) -> None:
    marker = marker_beside(path)
    if marker is not None:
        raise WorkbookError(
            f"{path.name} is open in another program. Save and close it there, then try again. "
            f"Not open anywhere? Delete {marker.name} in the same folder."
        )


def _refuse_unwritable(path: Path) -> None:
    if not path.parent.is_dir():
        raise WorkbookError(f"The folder {path.parent} does not exist. Make it, then try again.")
    if path.exists() and not path.stat().st_mode & stat.S_IWUSR:
        raise WorkbookError(f"{path.name} is read-only. Work on a copy.")
    if path.exists() and not os.access(path, os.W_OK):
        raise WorkbookError(f"You are not allowed to change {path.name}. Work on a copy.")
    if not os.access(path.parent, os.W_OK | os.X_OK):
        raise WorkbookError(
            f"The folder of {path.name} is read-only. Copy the workbook into a folder of your own."
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
            f"{path.name} was changed by someone else during this run, so nothing was written. "
            "Run it again."
        )


@contextlib.contextmanager
def _temporary(path: Path, data: bytes) -> Iterator[Path]:
    """Write a temporary file in the same folder; remove it at the end."""
    handle, name = tempfile.mkstemp(
        prefix=temporary_prefix(path.name), suffix=TEMPORARY_SUFFIX, dir=path.parent
    )
    try:
        with os.fdopen(handle, "wb") as file:
            _lock(file.fileno())
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
            if fcntl is None:
                file.close()  # an open file cannot take the place of another on Windows
            yield Path(name)
    finally:
        with contextlib.suppress(OSError):
            os.unlink(name)


def _check(temporary: Path, path: Path, data: bytes) -> None:
    """Read the temporary file again: every checksum, and the workbook part."""
    stored = temporary.read_bytes()
    if stored != data:
        raise WorkbookError(
            f"{path.name} was not written because the disk returned wrong data. The workbook is "
            "unchanged. Use another disk."
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
    """Copy the workbook in its folder; each copy is put in place in one step."""
    first, latest = backup_names(path)
    content = path.read_bytes()
    for target in (latest,) if first.exists() else (first, latest):
        with _temporary(path, content) as temporary:
            _copy_permissions(path, temporary)
            os.replace(temporary, target)
    return latest


def _sync_folder(folder: Path) -> None:
    """Make the system store the new name on the disk, if it can do that for a folder."""
    with contextlib.suppress(OSError, AttributeError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _write_error(path: Path, error: OSError) -> WorkbookError:
    if error.errno in (errno.ENOSPC, getattr(errno, "EDQUOT", errno.ENOSPC)):
        why, action = "the disk is full", "Make room, then try again"
    elif isinstance(error, PermissionError):
        why = "the system does not allow it"
        action = "Close the workbook in every program and check that you may write to the folder"
    else:
        why, action = str(error.strerror or error), "Try again, or save it in another folder"
    return WorkbookError(f"{path.name} could not be written and is unchanged ({why}). {action}.")
