"""From an opened workbook to the outcome."""

from dataclasses import replace
from pathlib import Path

from xlhelpers.package.time_stamp import now
from xlhelpers.package.zip.container import Package
from xlhelpers.reading.decisions import OfficeEntries, read_decisions
from xlhelpers.reading.survey import read_survey
from xlhelpers.survey.decisions.carry import merge
from xlhelpers.survey.decisions.closed_over import keep_doubts
from xlhelpers.survey.evaluate import evaluate
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.typed.words import identifier_key


def compute(package: Package) -> Outcome:
    """Read the keyed sheets and the decisions of a workbook and compute everything.

    Nothing is written.

    Raises
    ------
    WorkbookError
        If the workbook holds none of our sheets or was made by a later version.
    """
    entries = read_decisions(package)
    return with_decisions(evaluate_entries(package, entries), entries)


def evaluate_entries(package: Package, entries: OfficeEntries) -> Outcome:
    """Read the keyed sheets of a workbook and return all findings, nothing decided yet.

    Parameters
    ----------
    package : Package
        The opened workbook.
    entries : OfficeEntries
        What our tabs hold of the office.
    """
    outcome = evaluate(read_survey(package))
    hidden = keep_doubts(
        outcome.survey, outcome.setups, outcome.trees, outcome.findings, entries.rows
    )
    return replace(outcome, findings=(*outcome.findings, *hidden))


def with_decisions(outcome: Outcome, entries: OfficeEntries) -> Outcome:
    """Return an outcome with what the office decided about its findings.

    Parameters
    ----------
    outcome : Outcome
        The computed survey.
    entries : OfficeEntries
        What our tabs hold of the office.
    """
    places = outcome.survey.lines[["plot", "tree"]].itertuples(index=False, name=None)
    keyed = {(identifier_key(str(plot)), identifier_key(str(tree))) for plot, tree in places}
    ledger = merge(outcome.findings, entries.rows, entries.log, keyed, now().strftime("%Y-%m-%d"))
    return replace(outcome, ledger=replace(ledger, remarks=(*entries.remarks, *ledger.remarks)))


def check(book: Path) -> Outcome:
    """Read a workbook, compute everything and return it; the workbook stays as it is.

    Raises
    ------
    WorkbookError
        If the workbook cannot be read.
    """
    return compute(Package.open(book))
