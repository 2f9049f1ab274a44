"""The findings of a workbook on the screen, with nothing written into it."""

from collections.abc import Iterator
from functools import partial
from pathlib import Path
from typing import Any

from xlhelpers.jobs.check.worklists import Who, count_listed, say_worklist, worklist
from xlhelpers.jobs.job import NOTHING_TO_CHECK, TO_CHECK, Done, Progress
from xlhelpers.reading.outcome import check
from xlhelpers.reading.refusals import refuse_unreadable
from xlhelpers.survey.decisions.decision_words import say_decisions
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.outcome_words import list_findings, outcome_facts, say_outcome
from xlhelpers.wording import plural

_LISTED_ON_SCREEN = 200


def run(book: Path, who: Who | None, progress: Progress) -> Done:
    """List the open findings of one workbook, all or those that the crew or the office resolves."""
    refuse_unreadable(book)
    outcome = check(book)
    paragraphs = list_findings(outcome) if who is None else worklist(outcome, who)
    sentences = paragraphs[:_LISTED_ON_SCREEN]
    if more := len(paragraphs) - len(sentences):
        sentences.append(f"… and {more:,} more. Use --json to list them all.")
    if who is not None:
        sentences.append(say_worklist(outcome, who, count_listed(outcome, who)))
    sentences += [*say_outcome(outcome), *outcome.ledger.remarks]
    sentences += [f"{sentence}." for sentence in _say_typed(outcome)]
    code = TO_CHECK if outcome.open_findings else NOTHING_TO_CHECK
    return Done(sentences, code, facts=partial(_gather_facts, book, outcome))


def _gather_facts(book: Path, outcome: Outcome) -> dict[str, Any]:
    nothing_written: dict[str, Any] = {"written_to": None, "typed_over": [], "corrected": []}
    return {"book": str(book), **outcome_facts(outcome), **nothing_written}


def _say_typed(outcome: Outcome) -> Iterator[str]:
    """Yield what the next fill makes of what was typed into To check."""
    count = sum(bool(standing.decision.paper) for standing in outcome.standings)
    if count:
        entries, wait = plural(count, "entry", "entries"), "waits" if count == 1 else "wait"
        yield f"To check: {entries} under Paper says {wait} for the next fill"
    yield from say_decisions(outcome.standings)
