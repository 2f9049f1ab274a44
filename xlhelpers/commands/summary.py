"""What a command says at its end, in plain words and as JSON."""

from collections import Counter
from dataclasses import asdict
from typing import Any

from xlhelpers.commands.fill import Filled
from xlhelpers.survey.identity import finding_id
from xlhelpers.survey.model import Finding
from xlhelpers.survey.outcome import Outcome


def open_findings(outcome: Outcome) -> list[Finding]:
    """Return the errors and warnings; a note states a fact and is never open."""
    return [finding for finding in outcome.findings if finding.severity != "note"]


def plural(number: int, word: str, many: str = "") -> str:
    """Return "1 tree", "2 trees"."""
    return f"{number:,} {word if number == 1 else many or word + 's'}"


def say_outcome(outcome: Outcome) -> list[str]:
    """Return the sentences about what was read and what does not fit."""
    trees = outcome.trees
    with_height = int(trees["total_height"].notna().sum())
    counts = Counter(finding.severity for finding in outcome.findings)
    said = [
        f"{plural(len(outcome.survey.lines), 'line')} keyed, {plural(len(trees), 'tree')} on "
        f"{plural(trees['plot'].replace('', None).nunique(), 'plot')}, "
        f"{with_height:,} with a total height.",
    ]
    if counts["error"] or counts["warning"]:
        said.append(
            f"{plural(counts['error'], 'error')} and {plural(counts['warning'], 'warning')} to "
            f"look at, {plural(counts['note'], 'note')}."
        )
    else:
        said.append(f"Nothing open; {plural(counts['note'], 'note')}.")
    return said


def say_filled(filled: Filled) -> list[str]:
    """Return the sentences about one fill."""
    said = say_outcome(filled.outcome)
    if not filled.wrote:
        said.append("Nothing had changed since the last fill, so nothing was written.")
    else:
        tabs = ", ".join(filled.tabs_written) or "none"
        said.append(
            f"Wrote {filled.written_to}: {plural(filled.cells_changed, 'cell')} changed on the "
            f"field sheet; tabs renewed: {tabs}."
        )
    if filled.backup is not None:
        said.append(f"The workbook as it was before lies beside it as {filled.backup.name}.")
    if open_findings(filled.outcome):
        said.append("Next: open the tab To check and work through it from the top.")
    return said + [f"Note: {sentence}." for sentence in filled.said]


def list_findings(outcome: Outcome) -> list[str]:
    """Return one paragraph for each open finding."""
    paragraphs = []
    for finding in open_findings(outcome):
        where = " ".join(f"{name} {value}" for name, value in finding.subject)
        paragraphs.append(
            f"{finding.severity.upper()} {finding_id(finding)}  {where}\n"
            f"    {finding.message}\n    {finding.action}"
        )
    return paragraphs


def as_json(book: str, outcome: Outcome, filled: Filled | None = None) -> dict[str, Any]:
    """Return the facts of one run for other programs, in the inner units."""
    trees = outcome.trees.astype(object).where(outcome.trees.notna(), None)
    return {
        "book": book,
        "written_to": None if filled is None or not filled.wrote else str(filled.written_to),
        "lines": len(outcome.survey.lines),
        "trees": trees.to_dict("records"),
        "findings": [
            {"id": finding_id(finding), **asdict(finding)} for finding in outcome.findings
        ],
        "understood": [asdict(item) for item in outcome.survey.understood],
    }
