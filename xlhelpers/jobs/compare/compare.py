"""Two entries of the same paper sheets: where they differ, and a workbook to resolve that in."""

from pathlib import Path

import pandas as pd

from xlhelpers.errors import WorkbookError
from xlhelpers.jobs.compare.book import Compared, compare_books, merge_keyings, rates
from xlhelpers.jobs.compare.keyed_twice import NO_LINE
from xlhelpers.jobs.compare.tabs import OPEN_TAB, add_tabs, with_limits
from xlhelpers.jobs.job import NOTHING_TO_CHECK, TO_CHECK, Done, Progress
from xlhelpers.package.parts.parts import why_not_writable
from xlhelpers.package.places import refuse_new_book
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.safe_write import write_book
from xlhelpers.reading.crew_book import open_crew_book
from xlhelpers.wording import plural

_LISTED_ON_SCREEN = 40


def run(first: Path, second: Path, out: Path | None, progress: Progress) -> Done:
    """Compare two entries; the exit code is 1 where a cell differs."""
    compared, by_field = compare(first, second, out)
    sentences = _say(compared, by_field)
    code = TO_CHECK if len(compared.open) else NOTHING_TO_CHECK
    if out is None:
        return Done(sentences, code)
    sentences.append(f"Saved {out}. Open cells are blank. The tab {OPEN_TAB} lists them.")
    return Done(sentences, code, (out,))


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
        raise WorkbookError(f"{first} is given twice. Give two different workbooks.")
    if out is not None:
        refuse_new_book(out)
    books = (open_crew_book(first), open_crew_book(second))
    for place, book in zip((first, second), books, strict=True):
        if book.survey.lines.empty:
            raise WorkbookError(
                f"{place.name}: the field sheet is empty. Enter the paper sheets there, or give "
                "the other entry."
            )
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


def _say(compared: Compared, by_field: pd.DataFrame) -> list[str]:
    sentences = [
        f"{_where(row)}: {row.label}: {row.first} | {row.second}  ({row.first_cell} | "
        f"{row.second_cell})"
        for row in compared.open.head(_LISTED_ON_SCREEN).itertuples(index=False)
    ]
    differ = len(compared.open)
    if differ > _LISTED_ON_SCREEN:
        sentences.append(f"… and {differ - _LISTED_ON_SCREEN:,} more. Use --out to list them all.")
    cells = f"{plural(differ, 'cell')} {'differs' if differ == 1 else 'differ'}"
    sentences.append(f"{_say_lines(compared)} {cells if differ else 'No cell differs'}.")
    every = with_limits(by_field.head(1)).iloc[0]
    if every["cells"]:
        sentences.append(
            f"On the lines in both entries, {int(every['differ']):,} of {int(every['cells']):,} "
            f"cells differ: {every['rate']:.1f} in 1,000 (95 % limits {every['low']:.1f} to "
            f"{every['high']:.1f})."
        )
    return sentences


def _say_lines(compared: Compared) -> str:
    pairs = compared.pairs["lines"]
    both = sum(NO_LINE not in (pair.first, pair.second) for pair in pairs)
    first = sum(pair.second == NO_LINE for pair in pairs)
    second = sum(pair.first == NO_LINE for pair in pairs)
    if not first and not second:
        return f"Both entries have the same {plural(both, 'line')}."
    return (
        f"{plural(both, 'line')} {'is' if both == 1 else 'are'} in both entries, {first:,} only in "
        f"the first, {second:,} only in the second."
    )


def _where(row: object) -> str:
    plot, tree, setup, what = (getattr(row, name) for name in ("plot", "tree", "setup", "what"))
    parts = [("plot", plot), ("tree", tree), ("set-up", setup)]
    subject = " ".join(f"{word} {value}" for word, value in parts if value)
    return f"{getattr(row, 'tab')} {what or subject}"  # noqa: B009 (a row of any frame)
