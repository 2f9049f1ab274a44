"""Lists the backups of a workbook with what was done since, and brings one back.

The workbook that gives way is itself kept as the latest backup.
"""

import hashlib
from datetime import datetime
from pathlib import Path
from typing import Literal

from xlhelpers.errors import WorkbookError
from xlhelpers.jobs.job import Done, Progress
from xlhelpers.jobs.restore.differences import Differences, count_differences
from xlhelpers.package.zip.book_files import backup_names
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.safe_write import write_book
from xlhelpers.pages.our_tabs import find_tabs
from xlhelpers.reading.decisions import read_decisions
from xlhelpers.reading.refusals import ENDINGS, refuse_unreadable
from xlhelpers.reading.work_state import filled_on, say_day
from xlhelpers.wording import list_words, plural

Which = Literal["first", "latest"]
_SAME = "It is the same as the workbook now."
_SAME_AS_FIRST = "It is the same as the first backup."
_EARLIER = "It is from before the first fill."
_LATER = "It is later than the workbook now."


def run(book: Path, bring_back: Which | None, progress: Progress) -> Done:
    """List the backups, or bring one back."""
    if book.is_symlink():
        book = book.resolve()
    backups = find_backups(book)
    if bring_back is None:
        return Done(list_backups(book, backups, progress))
    if bring_back not in backups:
        raise WorkbookError(f"{book.name} has only its {next(iter(backups))} backup.")
    return restore(book, backups[bring_back], bring_back)


def find_backups(book: Path) -> dict[Which, Path]:
    """Return the backups that a workbook has, at least one.

    Raises
    ------
    WorkbookError
        It has none, or this is not the name of a workbook.
    """
    if book.suffix.casefold() not in ENDINGS:
        if book.suffix == ".bak":
            raise WorkbookError(f"{book.name} is a backup. Give the workbook itself.")
        refuse_unreadable(book)
    first, latest = backup_names(book)
    named: dict[Which, Path] = {"first": first, "latest": latest}
    there: dict[Which, Path] = {which: path for which, path in named.items() if path.is_file()}
    if not there:
        refuse_unreadable(book)
        raise WorkbookError(
            f"{book.name} has no backup in its folder. Each fill in place makes one."
        )
    return there


def list_backups(book: Path, backups: dict[Which, Path], progress: Progress) -> list[str]:
    """Return a few sentences about each backup: when it was made and what was done since."""
    sentences = []
    now = _open(book) if book.exists() else f"{book.name} is not there any more."
    seen: list[bytes] = []
    for which, path in backups.items():
        progress(f"comparing the {which} backup")
        then = _open(path)
        sentences.append(f"The {which} backup: {path.name}, saved {_saved_on(path)}.")
        is_same = isinstance(then, Package) and then.digest in seen
        about = [_SAME_AS_FIRST] if is_same else _compare(then, now)
        sentences += [f"    {sentence}" for sentence in about]
        seen += [then.digest] if isinstance(then, Package) else []
    if isinstance(now, str):
        sentences.append(now)
    sentences.append("To bring one back, use --bring-back first or latest.")
    return sentences


def _open(path: Path) -> Package | str:
    """Return the opened workbook, or the sentence that says why it cannot be read."""
    try:
        return Package.open(path)
    except WorkbookError as error:
        return str(error)


def _saved_on(path: Path) -> str:
    saved = datetime.fromtimestamp(path.stat().st_mtime).astimezone()
    return say_day(saved.strftime("%Y-%m-%d %H:%M"))


def _compare(then: Package | str, now: Package | str) -> list[str]:
    """Return what a backup contains, and what differs from the workbook now."""
    if isinstance(then, str):
        return [then]
    filled = filled_on(then)
    sentences = [f"It was filled on {say_day(filled)}." if filled else _EARLIER]
    if isinstance(now, str):
        return sentences
    if then.digest == now.digest:
        return [_SAME]
    return [*sentences, *_say_done_since(then, now), _say_differences(count_differences(then, now))]


def _say_done_since(then: Package, now: Package) -> list[str]:
    before, filled, sentences = filled_on(then), filled_on(now), []
    if filled > before:
        sentences.append(f"Since then the workbook was filled, last on {say_day(filled)}.")
    elif filled < before:
        sentences.append(_LATER)
    resolved = _count_resolved(now) - _count_resolved(then)
    if resolved > 0:
        verb = "has" if resolved == 1 else "have"
        sentences.append(f"{plural(resolved, 'finding')} {verb} left To check since.")
    return sentences


def _count_resolved(package: Package) -> int:
    return len(read_decisions(package).log) if find_tabs(package) else 0


def _say_differences(differences: Differences) -> str:
    cells, entered = differences
    if not cells:
        return "No cell differs from the workbook now."
    verb = "differs" if cells == 1 else "differ"
    sentence = f"{plural(cells, 'cell')} {verb} from the workbook now."
    if not entered:
        return f"{sentence} All entries are the same."
    where = list_words([f"{count:,} on {sheet}" for sheet, count in entered.items()])
    is_one = sum(entered.values()) == 1
    return f"{sentence} Of these, {where} {'is an entry' if is_one else 'are entries'}."


def restore(book: Path, backup: Path, which: Which) -> Done:
    """Bring one backup back; the workbook now becomes the latest backup.

    Parameters
    ----------
    book : Path
        The workbook; it may be missing or damaged.
    backup : Path
        The backup that takes its place.
    which : {"first", "latest"}
        Which of its backups that is, for the sentence.

    Raises
    ------
    WorkbookError
        The backup is damaged, or the workbook is open elsewhere or cannot be written; nothing is
        changed.
    """
    data, saved = backup.read_bytes(), _saved_on(backup)
    Package.from_bytes(data, backup)
    there = book.exists()
    before = book.read_bytes() if there else b""
    if before == data:
        return Done((f"{book.name} is the same as its {which} backup. Nothing was written.",))
    expected = hashlib.sha256(before).digest() if there else None
    copy = write_book(book, data, backup=there, expected=expected)
    sentences = [f"{book.name} is again the {which} backup, saved {saved}."]
    if copy is not None:
        sentences.append(
            f"The workbook from before is kept as {copy.name}. To get it back, bring back the "
            "latest backup."
        )
    return Done(sentences, files=(book,))
