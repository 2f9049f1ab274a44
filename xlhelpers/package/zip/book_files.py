"""The files that lie in the folder of a workbook: backups, unfinished files, markers of programs.

Their names are made from that of the workbook. Where such a name would be longer than a system
allows, the end of the workbook's name gives way to its checksum.
"""

from __future__ import annotations

import os
import zlib
from pathlib import Path

from xlhelpers.package.zip.sniffing import LOCK_PREFIX, OWNER_PREFIX

FIRST_BACKUP = " backup first.xlsx.bak"
LATEST_BACKUP = " backup latest.xlsx.bak"
TEMPORARY_PREFIX = ".writing "
TEMPORARY_SUFFIX = ".tmp"
# longest name of a file in bytes, common to the usual disks
LONGEST_NAME = 255
# the letters by which tempfile makes a name its own
_RANDOM_PART = 8


def backup_names(path: Path | str) -> tuple[Path, Path]:
    """Return the paths of the first and the latest backup of a workbook."""
    path = Path(path)
    ending = ".bak" if path.suffix.casefold() == ".xlsx" else f"{path.suffix}.bak"
    first, latest = (
        text if ending == ".bak" else text.replace(".xlsx.bak", ending)
        for text in (FIRST_BACKUP, LATEST_BACKUP)
    )
    return tuple(  # type: ignore[return-value]
        path.with_name(_shorten(path.stem, LONGEST_NAME - len(text.encode())) + text)
        for text in (first, latest)
    )


def temporary_prefix(book: str) -> str:
    """Return how the name of an unfinished file of a workbook begins."""
    others = len(TEMPORARY_PREFIX) + 1 + _RANDOM_PART + len(TEMPORARY_SUFFIX)
    return f"{TEMPORARY_PREFIX}{_shorten(book, LONGEST_NAME - others)} "


def marker_beside(path: Path | str) -> Path | None:
    """Return the marker that another program keeps in the folder of an open workbook, or None.

    Excel makes ~$NAME (long names lose their first two letters), LibreOffice .~lock.NAME#.
    """
    path = Path(path)
    for name in (
        f"{OWNER_PREFIX}{path.name}",
        f"{LOCK_PREFIX}{path.name}#",
        f"{OWNER_PREFIX}{path.name[2:]}",
    ):
        # a name that no file can have makes no marker, and some systems refuse to ask for it
        fits = len(os.fsencode(name)) <= LONGEST_NAME
        if fits and name != path.name and path.with_name(name).exists():
            return path.with_name(name)
    return None


def _shorten(name: str, most: int) -> str:
    """Return a name that has at most so many bytes."""
    encoded = os.fsencode(name)
    if len(encoded) <= most:
        return name
    ending = f" {zlib.crc32(encoded):08x}"
    return encoded[: most - len(ending)].decode("utf-8", "ignore") + ending
