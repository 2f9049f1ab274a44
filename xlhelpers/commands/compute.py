"""From an opened workbook to the outcome."""

from xlhelpers.package.container import Package
from xlhelpers.survey.evaluate import evaluate
from xlhelpers.survey.outcome import Outcome
from xlhelpers.workbook.read_survey import read_survey


def compute(package: Package) -> Outcome:
    """Read the keyed sheets of a workbook and compute everything; nothing is written.

    Raises
    ------
    WorkbookError
        If the workbook holds none of our sheets or was made by a later version.
    """
    return evaluate(read_survey(package))
