"""From an opened workbook to the outcome."""

from dataclasses import replace

from xlhelpers.commands.dates import now
from xlhelpers.package.container import Package
from xlhelpers.survey.decision_merge import merge
from xlhelpers.survey.evaluate import evaluate
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.words import identifier_key
from xlhelpers.workbook.read_decisions import read_decisions
from xlhelpers.workbook.read_survey import read_survey


def compute(package: Package) -> Outcome:
    """Read the keyed sheets and the decisions of a workbook and compute everything.

    Nothing is written.

    Raises
    ------
    WorkbookError
        If the workbook holds none of our sheets or was made by a later version.
    """
    outcome = evaluate(read_survey(package))
    kept = read_decisions(package)
    places = outcome.survey.lines[["plot", "tree"]].itertuples(index=False, name=None)
    keyed = {(identifier_key(str(plot)), identifier_key(str(tree))) for plot, tree in places}
    ledger = merge(outcome.findings, kept.rows, kept.log, keyed, now().strftime("%Y-%m-%d"))
    return replace(outcome, ledger=replace(ledger, remarks=(*kept.remarks, *ledger.remarks)))
