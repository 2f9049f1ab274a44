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
from collections.abc import Iterator
from pathlib import Path

from xlhelpers.errors import WorkbookError
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.sniffing import LOCK_PREFIX, OWNER_PREFIX

try:
    import fcntl
except ImportError:  # not on Windows
    fcntl = None  # type: ignore[assignment]
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


def clear_leftovers(path: Path | str) -> str | None:
    """Remove what a fill that was cut off left beside a workbook.

    Returns
    -------
    str or None
        One sentence on what was found; None where there was nothing.
    """
    path = Path(path)
    if path.is_symlink():
        path = path.resolve()
    found = [name for name in _entries(path.parent) if _is_leftover(name, path.name)]
    removed = [name for name in found if _remove_unless_in_use(path.with_name(name))]
    if not removed:
        return None
    return (
        f"An earlier fill of {path.name} was cut off before it had finished; the workbook was "
        f"whole all the time, and the unfinished file {removed[0]!r} beside it was removed"
    )


def _entries(folder: Path) -> list[str]:
    try:
        return os.listdir(folder)
    except OSError:
        return []


def _is_leftover(name: str, book: str) -> bool:
    return name.startswith(f"{TEMPORARY_PREFIX}{book} ") and name.endswith(TEMPORARY_SUFFIX)


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
    """Mark an open file as in use, until it is closed; False where another process has it.

    Where the system knows no such marks it forbids to remove a file that is in use.
    """
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
        with _temporary(path, data) as temporary:
            _check(temporary, path, data)
            _copy_permissions(path, temporary)
            _refuse_changed(path, expected)
            _refuse_open(path)
            if backup and path.exists():
                saved = _back_up(path)
            os.replace(temporary, path)
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


@contextlib.contextmanager
def _temporary(path: Path, data: bytes) -> Iterator[Path]:
    """A file beside the workbook with these contents on the disk; gone at the end."""
    handle, name = tempfile.mkstemp(
        prefix=f"{TEMPORARY_PREFIX}{path.name} ", suffix=TEMPORARY_SUFFIX, dir=path.parent
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
        with _temporary(path, content) as temporary:
            _copy_permissions(path, temporary)
            os.replace(temporary, target)
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
