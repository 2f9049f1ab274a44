"""A new, empty workbook."""

from pathlib import Path

from xlhelpers.errors import WorkbookError
from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.job import Done, Progress
from xlhelpers.package.places import refuse_new_book
from xlhelpers.package.zip.safe_write import write_book
from xlhelpers.template.make import Paper, make_template


def run(book: Path, units: Units, paper: Paper | None, plots: int, progress: Progress) -> Done:
    """Write a blank workbook and say where to start."""
    new(book, units, paper, plots)
    return Done((f"Saved {book}. Open it and start with the tab Guide.",), files=(book,))


def new(path: Path, units: Units = "metric", paper: Paper | None = None, plots: int = 40) -> Path:
    """Write a blank workbook for a survey.

    Parameters
    ----------
    path : Path
        Where to write it; an existing file is never replaced.
    units : {"metric", "us"}
        Metres and centimetres, or feet and inches, in the whole workbook.
    paper : {"a4", "letter"}, optional
        Paper for printing; A4 for metric and Letter for us unless stated.
    plots : int
        How many plots to prepare rows for, at least 1.

    Raises
    ------
    WorkbookError
        If the file exists, has another ending than .xlsx or cannot be written.
    """
    refuse_new_book(path, option="")
    if not 1 <= plots <= 5000:
        raise WorkbookError(f"--plots must be from 1 to 5000, not {plots}.")
    data = make_template(units, paper or ("a4" if units == "metric" else "letter"), plots)
    write_book(path, data, backup=False)
    return path
