"""Two entries of the same paper sheets: where they differ, and a workbook to resolve that in."""

from pathlib import Path

import pandas as pd

from xlhelpers.errors import WorkbookError
from xlhelpers.jobs.compare import words
from xlhelpers.jobs.compare.book import Compared, compare_books, merge_keyings, rates
from xlhelpers.jobs.compare.tabs import add_tabs, with_limits
from xlhelpers.jobs.job import NOTHING_TO_CHECK, TO_CHECK, Done, Progress
from xlhelpers.package.parts.parts import why_not_writable
from xlhelpers.package.places import refuse_new_book
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.safe_write import write_book
from xlhelpers.reading.crew_book import open_crew_book


def run(first: Path, second: Path, out: Path | None, progress: Progress) -> Done:
    """Compare two entries; the exit code is 1 where a cell differs."""
    compared, by_field = compare(first, second, out)
    every = with_limits(by_field.head(1)).iloc[0]
    sentences = words.say_compared(compared.open, compared.pairs["lines"], every)
    if compared.widths:
        sentences.insert(0, words.WIDTHS_DIFFER.format(*compared.widths))
    code = TO_CHECK if len(compared.open) or compared.widths else NOTHING_TO_CHECK
    if out is None:
        return Done(sentences, code)
    return Done([*sentences, words.SAVED.format(out=out)], code, (out,))


def compare(first: Path, second: Path, out: Path | None = None) -> tuple[Compared, pd.DataFrame]:
    """Compare two entries; write the merged workbook where a place is given.

    Parameters
    ----------
    first, second : Path
        Two entries of the same paper sheets; both stay as they are.
    out : Path, optional
        The merged workbook; it must not exist yet.

    Returns
    -------
    tuple
        The comparison, and the rates by field.

    Raises
    ------
    WorkbookError
        A workbook cannot be read, both are the same file, or the result cannot be written.
    """
    if first.exists() and second.exists() and first.samefile(second):
        raise WorkbookError(words.GIVEN_TWICE.format(path=first))
    if out is not None:
        refuse_new_book(out)
    books = (open_crew_book(first), open_crew_book(second))
    for place, book in zip((first, second), books, strict=True):
        if book.survey.lines.empty:
            raise WorkbookError(words.NO_LINES.format(name=place.name))
    compared = compare_books(*books)
    by_field, by_person = rates(compared, books)
    if out is not None:
        package = Package.open(first)
        refusal = why_not_writable(package)
        if refusal is not None:
            raise WorkbookError(refusal)
        targets = merge_keyings(package, books, compared)
        names = (books[0].name, books[1].name)
        add_tabs(package, compared, targets, names, (by_field, by_person), books[0].survey)
        write_book(out, package.to_bytes(), backup=False)
    return compared, by_field
