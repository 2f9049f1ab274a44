"""Writes a file that is not a workbook: whole or not at all."""

import os
from pathlib import Path

from xlhelpers.package.zip.book_files import TEMPORARY_PREFIX


def write_whole(path: Path, data: bytes) -> None:
    """Write a file, in place of one that is there; after an error it is as it was before.

    Parameters
    ----------
    path : Path
        Where to write it.
    data : bytes
        All of it.

    Raises
    ------
    OSError
        If it cannot be written; nothing half-made stays behind.
    """
    if path.exists() and not path.is_file():  # such as /dev/stdout
        path.write_bytes(data)
        return
    path = path.resolve()  # a link stays a link
    temporary = path.with_name(f"{TEMPORARY_PREFIX}{path.name}")
    try:
        temporary.write_bytes(data)
        os.replace(temporary, path)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
