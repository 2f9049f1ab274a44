"""What a command says at its end, in plain words and as JSON."""

from collections import Counter
from dataclasses import asdict
from typing import Any

from xlhelpers.commands.fill import Filled
from xlhelpers.package.references import cell_name
from xlhelpers.survey.decisions import State
from xlhelpers.survey.identity import finding_ids
from xlhelpers.survey.model import Finding
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.words import subject_words

_SETTLED: dict[State, str] = {"accepted": "accepted", "not safe": "closed as NOT SAFE"}


def plural(number: int, word: str, many: str = "") -> str:
    """Return "1 tree", "2 trees"."""
    return f"{number:,} {word if number == 1 else many or word + 's'}"


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


def say_filled(filled: Filled) -> list[str]:
    """Return the sentences about one fill."""
    said = say_outcome(filled.outcome)
    if not filled.wrote:
        said.append("Nothing had changed since the last fill, so nothing was written.")
    else:
        tabs = ", ".join(filled.tabs_written) or "none"
        columns = [
            f"filled {plural(count, 'column')} on {sheet}"
            for sheet, count in filled.columns_filled.items()
        ]
        done = [
            *columns,
            f"replaced {plural(len(filled.tabs_written), 'tab')} ({tabs})",
            f"left {plural(filled.parts_untouched, 'other part')} untouched",
        ]
        said.append(
            f"Wrote {filled.written_to}: {', '.join(done)}; "
            f"{plural(filled.cells_changed, 'cell')} changed."
        )
    if filled.backup is not None:
        said.append(f"The workbook as it was before lies beside it as {filled.backup.name}.")
    if filled.outcome.open_findings:
        said.append("Next: open the tab To check and work through it from the top.")
    return said + [f"Note: {sentence}." for sentence in filled.said]


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


def as_json(book: str, outcome: Outcome, filled: Filled | None = None) -> dict[str, Any]:
    """Return the facts of one run for other programs, in the inner units."""
    trees = outcome.trees.astype(object).where(outcome.trees.notna(), None)
    return {
        "book": book,
        "written_to": None if filled is None or not filled.wrote else str(filled.written_to),
        "lines": len(outcome.survey.lines),
        "trees": trees.to_dict("records"),
        "findings": [
            {
                "id": identity,
                **asdict(finding),
                "state": stands.state,
                "decision": asdict(stands.decision),
            }
            for identity, finding, stands in zip(
                finding_ids(outcome.findings), outcome.findings, outcome.standings, strict=True
            )
        ],
        "typed_over": [
            {"cell": cell.where.cell, "sheet": cell.where.sheet, "plot": cell.plot}
            | {"tree": cell.tree, "column": cell.label, "what": cell.what}
            for cell in (() if filled is None else filled.typed_over)
        ],
        "understood": [asdict(item) for item in outcome.survey.understood],
    }
