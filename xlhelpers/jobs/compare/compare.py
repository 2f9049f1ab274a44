"""The same paper keyed by two people: what they disagree on, and a workbook in which that waits."""

import argparse
import sys
from pathlib import Path

import pandas as pd

from xlhelpers.errors import WorkbookError
from xlhelpers.jobs.compare.book import Compared, compare_books, merge_keyings, rates
from xlhelpers.jobs.compare.keyed_twice import NO_LINE
from xlhelpers.jobs.compare.tabs import OPEN_TAB, add_tabs, with_limits
from xlhelpers.package.parts.parts import why_not_writable
from xlhelpers.package.places import refuse_new_book
from xlhelpers.package.zip.container import Package
from xlhelpers.package.zip.safe_write import write_book
from xlhelpers.reading.crew_book import open_crew_book

ALIKE, DISAGREE, FAILED = 0, 1, 2
_LISTED_ON_SCREEN = 40


def run(options: argparse.Namespace) -> int:
    """Compare two keyings and return the exit code: 1 where they disagree."""
    try:
        compared, by_field = compare(options.first, options.second, options.out)
    except (WorkbookError, OSError) as error:
        print(f"xlhelpers: {error}", file=sys.stderr)
        return FAILED
    for sentence in _said(compared, by_field):
        print(sentence)
    if options.out is not None:
        print(f"Wrote {options.out}: open cells are blank; its tab {OPEN_TAB} lists them.")
    return DISAGREE if len(compared.open) else ALIKE


def compare(first: Path, second: Path, out: Path | None = None) -> tuple[Compared, pd.DataFrame]:
    """Compare two keyings; write the merged workbook where a place is given.

    Parameters
    ----------
    first, second : Path
        Two keyings of the same paper; both stay as they are.
    out : Path, optional
        The merged workbook; it must not be there yet.

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
        raise WorkbookError(f"{first} is named twice; name the two keyings.")
    if out is not None:
        refuse_new_book(out)
    books = (open_crew_book(first), open_crew_book(second))
    for place, book in zip((first, second), books, strict=True):
        if book.survey.lines.empty:
            raise WorkbookError(
                f"{place.name}: nothing is keyed on its field sheet, so there is nothing to "
                "compare; key the sheets there, or name the other keying."
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
        add_tabs(package, compared, targets, (names, (by_field, by_person)), books[0].survey)
        write_book(out, package.to_bytes(), backup=False)
    return compared, by_field


def _said(compared: Compared, by_field: pd.DataFrame) -> list[str]:
    pairs = compared.pairs["lines"]
    both = sum(NO_LINE not in (pair.first, pair.second) for pair in pairs)
    only = [sum(getattr(pair, side) == NO_LINE for pair in pairs) for side in ("second", "first")]
    said = [
        f"{_where(row)}: {row.label}: {row.first} | {row.second}  ({row.first_cell} | "
        f"{row.second_cell})"
        for row in compared.open.head(_LISTED_ON_SCREEN).itertuples(index=False)
    ]
    if len(compared.open) > _LISTED_ON_SCREEN:
        said.append(f"… and {len(compared.open) - _LISTED_ON_SCREEN:,} more; --out lists them all.")
    every = with_limits(by_field.head(1)).iloc[0]
    said.append(
        f"{both:,} lines in both keyings, {only[0]:,} only in the first, {only[1]:,} only in the "
        f"second. {len(compared.open):,} cells disagree."
    )
    if every["cells"]:
        said.append(
            f"On the lines in both: {int(every['differ']):,} of {int(every['cells']):,} cells, "
            f"{every['rate']:.1f} in 1,000 (95 % limits {every['low']:.1f} to {every['high']:.1f})."
        )
    return said


def _where(row: object) -> str:
    plot, tree, setup, what = (getattr(row, name) for name in ("plot", "tree", "setup", "what"))
    named = [("plot", plot), ("tree", tree), ("set-up", setup)]
    said = " ".join(f"{word} {value}" for word, value in named if value)
    return f"{getattr(row, 'tab')} {what or said}"  # noqa: B009 (a row of any frame)
