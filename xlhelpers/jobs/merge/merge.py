"""Several crews' workbooks combined into one survey workbook."""

import multiprocessing
import os
from collections.abc import Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor, as_completed
from concurrent.futures.process import BrokenProcessPool
from dataclasses import dataclass
from pathlib import Path

import pandas as pd

from xlhelpers.errors import WorkbookError
from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.job import FAILED, NOTHING_TO_CHECK, TO_CHECK, Done, Progress
from xlhelpers.jobs.merge import words
from xlhelpers.jobs.merge.book import HEIGHTS, SourceFacts, add_report, check_merged, key_merged
from xlhelpers.package.places import refuse_new_book
from xlhelpers.package.zip.safe_write import write_book
from xlhelpers.reading.crew_book import CrewBook, open_crew_book
from xlhelpers.survey.columns import SHEETS
from xlhelpers.survey.merging.merging import Merged, merge_books, same_lines
from xlhelpers.survey.setups.setups import compute_setups

# fewer workbooks are read sooner than more processes start
_PARALLEL_FROM = 8


@dataclass(frozen=True)
class CrewRead:
    """One workbook as read by a process of its own, or the sentence that says why not."""

    path: Path
    book: CrewBook | None
    heights: pd.DataFrame | None
    error: str = ""


def run(books: Sequence[Path], out: Path, units: Units | None, progress: Progress) -> Done:
    """Merge the workbooks; the exit code is 1 if they disagree, 2 if one was left out."""
    merged, sources = merge(books, out, units, progress)
    failed = [source.error for source in sources if source.error]
    twice = same_lines(merged)
    sentences = words.say_merged(out, merged, twice, len(sources) - len(failed), len(failed))
    disagree = merged.contradictions or twice
    code = FAILED if failed else TO_CHECK if disagree else NOTHING_TO_CHECK
    return Done(sentences, code, (out,), failed)


def merge(
    paths: Sequence[Path],
    out: Path,
    units: Units | None = None,
    progress: Progress = lambda _: None,
) -> tuple[Merged, tuple[SourceFacts, ...]]:
    """Read workbooks in parallel and write the survey that they make together.

    Parameters
    ----------
    paths : sequence of Path
        The workbooks; they stay as they are.
    out : Path
        The workbook to write; it must not exist yet.
    units : {"metric", "us"}, optional
        Units of the result; those of the first readable workbook unless stated.
    progress : callable
        Given how many are read, in words.

    Raises
    ------
    WorkbookError
        None can be read, one is given twice, or the result cannot be written.
    """
    _refuse(paths, out)
    merged, heights, sources = _join(read_all(paths, progress), units)
    package = key_merged(merged)
    check_merged(package, merged, heights)
    add_report(package, merged, sources)
    write_book(out, package.to_bytes(), backup=False)
    return merged, sources


def _join(
    reads: Sequence[CrewRead], units: Units | None
) -> tuple[Merged, pd.DataFrame, tuple[SourceFacts, ...]]:
    """Combine what was read."""
    good = [(read.book, read.heights) for read in reads if read.book is not None]
    if not good:
        raise WorkbookError(words.NONE_READ.format(why=reads[0].error))
    heights = pd.concat([frame for _, frame in good if frame is not None], ignore_index=True)
    merged = merge_books([book for book, _ in good], units)
    return merged, heights, tuple(_facts(read) for read in reads)


def _refuse(paths: Sequence[Path], out: Path) -> None:
    refuse_new_book(out)
    seen: set[Path] = set()
    for path in paths:
        if path.resolve() in seen:
            raise WorkbookError(words.GIVEN_TWICE.format(path=path))
        seen.add(path.resolve())


def read_one(path: Path) -> CrewRead:
    """Read one workbook; whatever goes wrong becomes a sentence and does not stop the others."""
    try:
        book = open_crew_book(path)
        heights = compute_setups(book.survey)[list(HEIGHTS)]
    except (WorkbookError, OSError) as error:
        return CrewRead(path, None, None, str(error))
    except Exception as error:  # one odd file must not take the others down with it
        problem = f"{type(error).__name__}: {error}"
        return CrewRead(path, None, None, words.NOT_READ.format(name=path.name, error=problem))
    return CrewRead(path, book, heights)


def read_all(paths: Sequence[Path], progress: Progress) -> list[CrewRead]:
    """Read workbooks, on all cores where they are many; in the order in which they are given."""
    reads: dict[Path, CrewRead] = {}
    for done, read in enumerate(_reads(paths), 1):
        reads[read.path] = read
        progress(words.PROGRESS.format(done=done, all=len(paths)))
    names = [path.name for path in paths]
    # two files of one name are distinguished by their folders
    for path in paths:
        read = reads[path]
        if names.count(path.name) > 1 and read.book is not None:
            book = CrewBook(**{**vars(read.book), "path": Path(str(path).replace(os.sep, " › "))})
            reads[path] = CrewRead(path, book, read.heights)
    return [reads[path] for path in paths]


def _reads(paths: Sequence[Path]) -> Iterator[CrewRead]:
    workers = min(len(paths), os.cpu_count() or 1)
    if len(paths) < _PARALLEL_FROM or workers < 2:
        yield from map(read_one, paths)
        return
    context = multiprocessing.get_context("spawn")
    with ProcessPoolExecutor(max_workers=workers, mp_context=context) as pool:
        waiting: dict[Future[CrewRead], Path] = {
            pool.submit(read_one, path): path for path in paths
        }
        for future in as_completed(waiting):
            try:
                yield future.result()
            except BrokenProcessPool:
                # a process was ended from outside; what it had is read here
                yield read_one(waiting[future])


def _facts(read: CrewRead) -> SourceFacts:
    if read.book is None:
        return SourceFacts(read.path.name, {}, error=read.error)
    counts = {table: len(getattr(read.book.survey, table)) for table in SHEETS}
    return SourceFacts(read.book.name, counts, read.book.left, entries=read.book.entries)
