"""What a command says at its end, in plain words and as JSON."""

from dataclasses import asdict
from typing import Any

from xlhelpers.jobs.fill.fill import Filled
from xlhelpers.survey.decisions.identity import finding_ids
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.outcome_words import say_outcome
from xlhelpers.wording import plural


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
