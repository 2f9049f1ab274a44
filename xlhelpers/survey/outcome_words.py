"""The findings of an outcome in sentences, for the screen."""

from collections import Counter

from xlhelpers.package.sheet.references import cell_name
from xlhelpers.survey.decisions.decisions import State
from xlhelpers.survey.decisions.identity import finding_ids
from xlhelpers.survey.model import Finding
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.typed.words import subject_words
from xlhelpers.wording import plural


def say_outcome(outcome: Outcome) -> list[str]:
    """Return the sentences about what was read and what does not fit."""
    trees = outcome.trees
    with_height = int(trees["total_height"].notna().sum())
    counts = Counter(finding.severity for finding in outcome.open_findings)
    states = Counter(stands.state for stands in outcome.standings)
    notes = plural(states["note"], "note")
    said = [
        f"{plural(len(outcome.survey.lines), 'line')} keyed, {plural(len(trees), 'tree')} on "
        f"{plural(trees['plot'].replace('', None).nunique(), 'plot')}, "
        f"{with_height:,} with a total height.",
    ]
    if counts["error"] or counts["warning"]:
        said.append(
            f"{plural(counts['error'], 'error')} and {plural(counts['warning'], 'warning')} to "
            f"look at, {notes}."
        )
    elif not len(outcome.survey.lines):
        said.append("Nothing is keyed yet; start with the tab Guide.")
    else:
        said.append(f"Nothing open; {notes}.")
    settled = [f"{states[state]:,} {word}" for state, word in _SETTLED.items() if states[state]]
    if settled:
        said.append(f"Settled by the office: {', '.join(settled)}.")
    if states["reopened"]:
        said.append(
            f"{plural(states['reopened'], 'finding')} had a decision, but the readings changed "
            "since: open again."
        )
    return said


def list_findings(outcome: Outcome) -> list[str]:
    """Return one paragraph for each open finding."""
    ids = finding_ids(outcome.findings)
    every = zip(ids, outcome.findings, outcome.standings, strict=True)
    return [finding_paragraph(i, finding) for i, finding, stands in every if stands.is_open]


def finding_paragraph(identity: str, finding: Finding) -> str:
    """Return what is said of one finding: what it is about, what was found, what to do."""
    where = [subject_words(finding.subject), finding.sheet]
    if finding.row is not None and finding.column is not None:
        where[1] += f" {cell_name(finding.row, finding.column)}"
    return (
        f"{finding.severity.upper()} {identity}  {', '.join(filter(None, where))}\n"
        f"    {finding.message}\n    {finding.action}"
    )


_SETTLED: dict[State, str] = {"accepted": "accepted", "not safe": "closed as NOT SAFE"}
