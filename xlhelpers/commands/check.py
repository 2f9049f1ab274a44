"""Findings only; nothing is written."""

from pathlib import Path

from xlhelpers.commands.compute import compute
from xlhelpers.package.container import Package
from xlhelpers.survey.outcome import Outcome


def check(book: Path) -> Outcome:
    """Read a workbook, compute everything and return it; the workbook stays as it is.

    Raises
    ------
    WorkbookError
        If the workbook cannot be read.
    """
    return compute(Package.open(book))
