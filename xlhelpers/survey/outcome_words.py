"""An outcome in sentences for the screen, and as facts for other programs."""

import re
from collections import Counter
from dataclasses import asdict
from typing import Any

from xlhelpers.package.sheet.references import cell_name
from xlhelpers.survey.decisions.decisions import Decision, State
from xlhelpers.survey.decisions.identity import finding_ids
from xlhelpers.survey.model import Finding
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.typed.words import subject_words
from xlhelpers.wording import list_words, plural

# signs of a short message, where more than one sentence fits
SHORT = 110
_RESOLVED: dict[State, str] = {"accepted": "accepted", "not safe": "closed as NOT SAFE"}


def say_outcome(outcome: Outcome) -> list[str]:
    """Return the sentences about what was read and what there is to check."""
    trees = outcome.trees
    lines, plots = len(outcome.survey.lines), trees["plot"].replace("", None).nunique()
    if lines:
        sentences = [
            f"{plural(lines, 'line')} entered: {plural(len(trees), 'tree')} on "
            f"{plural(plots, 'plot')}. {_with_height(int(trees['total_height'].notna().sum()))}"
        ]
    else:
        sentences = ["Nothing is entered yet. Start with the tab Guide."]
    states = Counter(standing.state for standing in outcome.standings)
    sentences += _say_open(outcome, states["note"])
    resolved = [f"{states[state]:,} {word}" for state, word in _RESOLVED.items() if states[state]]
    if resolved:
        sentences.append(f"Resolved by the office: {list_words(resolved)}.")
    sentences += _say_unsettled(outcome)
    if states["reopened"]:
        verb, whose = ("is", "its") if states["reopened"] == 1 else ("are", "their")
        sentences.append(
            f"{plural(states['reopened'], 'finding')} {verb} open again because {whose} readings "
            "changed."
        )
    return sentences


def _say_unsettled(outcome: Outcome) -> list[str]:
    """Return what decisions have not settled: values that are NOT SAFE, and missing initials."""
    sentences = []
    doubtful = sum(standing.leaves_doubt for standing in outcome.standings)
    if doubtful:
        whose = "its value counts" if doubtful == 1 else "their values count"
        verb = "is" if doubtful == 1 else "are"
        sentences.append(
            f"{plural(doubtful, 'finding')} {verb} closed as NOT SAFE, but {whose} as doubtful "
            "until accepted."
        )
    waiting = sum(standing.waits for standing in outcome.standings)
    if waiting:
        verb = "waits" if waiting == 1 else "wait"
        sentences.append(f"{plural(waiting, 'decision')} {verb} for initials on To check.")
    return sentences


def _with_height(count: int) -> str:
    return f"{plural(count, 'tree')} {'has' if count == 1 else 'have'} a height."


def _say_open(outcome: Outcome, notes: int) -> list[str]:
    counts = Counter(finding.severity for finding in outcome.open_findings)
    kinds = [plural(counts[kind], kind) for kind in ("error", "warning") if counts[kind]]
    aside = f" ({plural(notes, 'note')} {'needs' if notes == 1 else 'need'} no action.)"
    if kinds:
        what = f"{plural(counts.total(), 'finding')} to check: {', '.join(kinds)}."
    elif len(outcome.survey.lines):
        what = "Nothing to check."
    else:
        return []
    return [what + (aside if notes else "")]


def list_findings(outcome: Outcome) -> list[str]:
    """Return one paragraph for each open finding."""
    ids = finding_ids(outcome.findings)
    every = zip(ids, outcome.findings, outcome.standings, strict=True)
    return [finding_paragraph(i, finding) for i, finding, standing in every if standing.is_open]


def shorten_message(message: str) -> str:
    """Return the first sentences of a message, one at the least, as far as they are short."""
    first, *others = re.split(r"(?<=[.?!]) (?=[A-Z“])", message)
    for sentence in others:
        if len(first) + len(sentence) >= SHORT:
            break
        first = f"{first} {sentence}"
    return first


def finding_paragraph(identity: str, finding: Finding) -> str:
    """Return the text of one finding: what it is about, what is wrong, what to do."""
    where = [subject_words(finding.subject), finding.sheet]
    if finding.row is not None and finding.column is not None:
        where[1] += f" {cell_name(finding.row, finding.column)}"
    return (
        f"{finding.severity.upper()} {identity}  {', '.join(filter(None, where))}\n"
        f"    {finding.message}\n    {finding.action}"
    )


def _decision_facts(decision: Decision) -> dict[str, Any]:
    """The fields of a decision under the names that other programs know."""
    texts = asdict(decision.texts)
    texts["found"] = texts.pop("message")
    return {**asdict(decision), "texts": texts}


def outcome_facts(outcome: Outcome) -> dict[str, Any]:
    """Return the facts of an outcome for other programs, in the inner units.

    Lengths are metres and diameters centimetres. Each cause of a finding is a record as in
    `model.CauseRecord`: its `typed` and `would_be` are in the unit of the sheet.
    """
    trees = outcome.trees.astype(object).where(outcome.trees.notna(), None)
    ids = finding_ids(outcome.findings)
    return {
        "lines": len(outcome.survey.lines),
        "trees": trees.to_dict("records"),
        "findings": [
            {
                "id": identity,
                **asdict(finding),
                "state": standing.state,
                "doubtful": standing.is_doubtful,
                "decision": _decision_facts(standing.decision),
            }
            for identity, finding, standing in zip(
                ids, outcome.findings, outcome.standings, strict=True
            )
        ],
        "understood": [asdict(item) for item in outcome.survey.understood],
    }
