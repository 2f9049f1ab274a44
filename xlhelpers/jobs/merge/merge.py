"""Workbooks of many crews put together into one survey workbook."""

import argparse
import multiprocessing
import os
import sys
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from xlhelpers.errors import WorkbookError
from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.merge.book import HEIGHTS, SourceFacts, add_report, check_merged, key_merged
from xlhelpers.package.places import refuse_new_book
from xlhelpers.package.zip.safe_write import write_book
from xlhelpers.reading.crew_book import CrewBook, open_crew_book
from xlhelpers.survey.columns import SHEETS
from xlhelpers.survey.merging.merging import Merged, merge_books, same_lines
from xlhelpers.survey.setups.setups import compute_setups
from xlhelpers.wording import plural

DONE, TO_LOOK_AT, FAILED = 0, 1, 2
# fewer workbooks are read sooner than further processes start
_PARALLEL_FROM = 8
Progress = Callable[[int, int], None]


@dataclass(frozen=True)
class Read:
    """One workbook as read by a process of its own, or the sentence that says why not."""

    path: Path
    book: CrewBook | None
    heights: pd.DataFrame | None
    error: str = ""


def run(options: argparse.Namespace) -> int:
    """Merge the workbooks and return the exit code: 1 if they contradict, 2 if one was left out."""
    try:
        merged, sources = merge(options.books, options.out, options.units, _progress)
    except (WorkbookError, OSError) as error:
        _clear()
        print(f"xlhelpers: {error}", file=sys.stderr)
        return FAILED
    _clear()
    failed = [source for source in sources if source.error]
    for source in failed:
        print(f"xlhelpers: {source.error}", file=sys.stderr)
    lines = len(merged.rows["lines"])
    print(
        f"Wrote {options.out}: {len(sources) - len(failed)} of {len(sources)} workbooks, "
        f"{lines:,} lines in, {lines:,} lines out."
    )
    twice = same_lines(merged)
    for one, other in twice:
        print(f"{one} and {other} hold the same lines: the same workbook twice?")
    print(_contradictions(merged.contradictions, len(sources) - len(failed)))
    if len(merged.conflicts) > merged.contradictions:
        print("Units were converted; its tab Merge report says which.")
    if failed:
        print(f"{len(failed)} could not be read; mend them and merge again.")
    print(f"Next: xlhelpers fill {options.out}")
    if failed:
        return FAILED
    return TO_LOOK_AT if merged.contradictions or twice else DONE


def _contradictions(count: int, books: int) -> str:
    if count:
        verb = "is" if count == 1 else "are"
        return f"{plural(count, 'contradiction')} {verb} listed on its tab Merge report."
    if books == 1:
        return "It is one workbook, so there was nothing to compare it with."
    return "The workbooks do not contradict one another."


def merge(
    paths: Sequence[Path],
    out: Path,
    units: Units | None = None,
    progress: Progress = lambda done, of: None,
) -> tuple[Merged, tuple[SourceFacts, ...]]:
    """Read workbooks in parallel and write the survey that they make together.

    Parameters
    ----------
    paths : sequence of Path
        The workbooks; they stay as they are.
    out : Path
        The workbook to write; it must not be there yet.
    units : {"metric", "us"}, optional
        Units of the result; those of the first readable workbook unless stated.
    progress : callable
        Told how many are read, of how many.

    Raises
    ------
    WorkbookError
        None can be read, one is named twice, or the result cannot be written.
    """
    _refuse(paths, out)
    merged, heights, sources = _joined(read_all(paths, progress), units)
    package = key_merged(merged)
    check_merged(package, merged, heights)
    add_report(package, merged, sources)
    write_book(out, package.to_bytes(), backup=False)
    return merged, sources


def _joined(
    found: Sequence[Read], units: Units | None
) -> tuple[Merged, pd.DataFrame, tuple[SourceFacts, ...]]:
    """Put together what was read; of the workbooks themselves nothing is kept."""
    good = [(read.book, read.heights) for read in found if read.book is not None]
    if not good:
        raise WorkbookError(f"none of the workbooks can be read. {found[0].error}")
    heights = pd.concat([frame for _, frame in good if frame is not None], ignore_index=True)
    merged = merge_books([book for book, _ in good], units)
    return merged, heights, tuple(_facts(read) for read in found)


def _refuse(paths: Sequence[Path], out: Path) -> None:
    refuse_new_book(out)
    seen: set[Path] = set()
    for path in paths:
        if path.resolve() in seen:
            raise WorkbookError(f"{path} is named twice; name each workbook once.")
        seen.add(path.resolve())


def read_one(path: Path) -> Read:
    """Read one workbook; whatever goes wrong with it is said, and stops no other."""
    try:
        book = open_crew_book(path)
        heights = compute_setups(book.survey)[list(HEIGHTS)]
    except (WorkbookError, OSError) as error:
        return Read(path, None, None, str(error))
    except Exception as error:  # one odd file must not take the others down with it
        return Read(
            path,
            None,
            None,
            f"{path.name} cannot be read ({type(error).__name__}: "
            f"{error}); open it, save it under a new name and try that.",
        )
    return Read(path, book, heights)


def read_all(paths: Sequence[Path], progress: Progress) -> list[Read]:
    """Read workbooks, on all cores where they are many; in the order in which they are named."""
    found: dict[Path, Read] = {}
    for done, read in enumerate(_reads(paths), 1):
        found[read.path] = read
        progress(done, len(paths))
    names = [path.name for path in paths]
    # two files of one name are told apart by their folders
    for path in paths:
        read = found[path]
        if names.count(path.name) > 1 and read.book is not None:
            book = CrewBook(**{**vars(read.book), "path": Path(str(path).replace(os.sep, " › "))})
            found[path] = Read(path, book, read.heights)
    return [found[path] for path in paths]


def _reads(paths: Sequence[Path]) -> Iterator[Read]:
    workers = min(len(paths), os.cpu_count() or 1)
    if len(paths) < _PARALLEL_FROM or workers < 2:
        yield from map(read_one, paths)
        return
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(max_workers=workers, mp_context=context) as pool:
        waiting: dict[Future[Read], Path] = {pool.submit(read_one, path): path for path in paths}
        for future in as_completed(waiting):
            try:
                yield future.result()
            except BrokenProcessPool:
                # a process was ended from outside; what it had is read here
                yield read_one(waiting[future])


def _facts(read: Read) -> SourceFacts:
    if read.book is None:
        return SourceFacts(read.path.name, {}, error=read.error)
    counts = {table: len(getattr(read.book.survey, table)) for table in SHEETS}
    return SourceFacts(read.book.name, counts, read.book.left, kept=read.book.kept)


def _progress(done: int, of: int) -> None:
    if sys.stderr.isatty():
        print(f"\r\033[K{done} of {of} workbooks read …", end="", file=sys.stderr, flush=True)


def _clear() -> None:
    if sys.stderr.isatty():
        print("\r\033[K", end="", file=sys.stderr, flush=True)
