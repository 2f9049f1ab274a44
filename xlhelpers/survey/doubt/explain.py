"""Likely causes of findings, and findings of unlikely lines that no check found.

Nothing is changed: a cause is proposed with the value that it would give, at most three of them.
Where none explains enough, the message says so.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import log
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.fields.rules import DOUBT
from xlhelpers.survey.checks.record import Hits
from xlhelpers.survey.checks.wording import write_value
from xlhelpers.survey.doubt.alternatives import find_candidates
from xlhelpers.survey.doubt.describe import (
    Cause,
    describe_cause,
    describe_doubt,
    merge_same_values,
    say_causes,
)
from xlhelpers.survey.doubt.mismatched_diameters import (
    Mismatch,
    find_mismatched_diameters,
    mark_mismatched_lines,
)
from xlhelpers.survey.doubt.mistakes import MISTAKES
from xlhelpers.survey.doubt.reference import reference
from xlhelpers.survey.doubt.refused import forget_refused, is_refused, restore_refused
from xlhelpers.survey.doubt.table import make_findings
from xlhelpers.survey.doubt.weigh import (
    Usual,
    Weighed,
    find_doubtful_lines,
    weigh_lines,
    weigh_mistakes,
)
from xlhelpers.survey.model import Finding
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.typed.folding import Flags

DEFAULTS: dict[str, float] = {
    limit.name: limit.default for limit in DOUBT if isinstance(limit.default, float)
}
# the check of lines that only the weighing finds doubtful
UNLIKELY = "unlikely-tree"
MOST_NAMED = 3
# the corrections of so many mistakes of a line are kept: some are not offered
WEIGHED_FOR_NAMES = 6
# a second or third cause is named from this probability on
LEAST_NAMED = 0.05
NO_EXPLANATION = "No single mistake explains this."
MISMATCHED = "No cause is named: the diameters on this sheet may belong to other trees."
# findings of readings that do not fit: a cause among the readings may explain them
EXPLAINED = frozenset((
    "unlikely-tree", "eye-height", "no-height", "tip-not-above-foot", "base-above-top",
    "base-below-foot", "top-above-tip", "foot-plus-unticked", "height-over-limit",
    "height-under-breast-height", "angle-over-limit", "under-crown", "too-close",
    "repeats-disagree-tip", "repeats-disagree-base", "readings-hundredfold",
    "diameter-over-limit", "diameter-under-smallest", "width-over-limit", "crown-of-no-depth",
    "ratio-impossible",
))  # fmt: skip
# one limit on one reading; the likelihood, which weighs all of them, goes before it
ONE_LIMIT = frozenset({"eye-height"})
FITS = "Everything else on this line fits, so this is only a note."
REPEATS = "repeats-disagree-tip"
USUAL_REPEATS = (
    "Set-ups in this survey typically differ by {apart}, and the rest fits, so this is only a note."
)
# where no cause is found, the distance itself is the explanation
NEAR = frozenset({"too-close", "under-crown"})
# so many of these, as the rule for repeats has it; larger ones excuse nothing
_UNCERTAINTIES, _MOST_USUAL = 2.0, 0.06
# a cause of a line with a finding is not named if the line as entered is so much likelier
_AS_ENTERED = 3.0


def limits_of(rules: Mapping[str, Any]) -> dict[str, float]:
    """Return all limits by name: the survey rules, or the default for a survey without the row."""
    return {name: float(rules.get(name, value)) for name, value in DEFAULTS.items()}


@dataclass(frozen=True)
class Doubts:
    """The weighed lines of a survey, and for each doubtful line its place among them.

    `mismatches` are the sheets whose diameters are other trees', `apart` their lines: their
    evidence may then be of several trees, and no cause is named.
    """

    usual: Usual
    weighed: Weighed
    place: dict[int, int]
    limits: dict[str, float]
    mismatches: tuple[Mismatch, ...]
    apart: Flags


def weigh_doubts(outcome: Outcome, table: pd.DataFrame | None = None) -> Doubts:
    """Weigh all doubtful lines of an outcome.

    Parameters
    ----------
    outcome : Outcome
        Its findings say which lines are doubtful already.
    table : DataFrame, optional
        Another reference than the shipped one.
    """
    limits = limits_of(outcome.survey.rules)
    own = reference() if table is None else table
    usual = weigh_lines(outcome.survey, outcome.setups, outcome.trees, own, limits)
    reported = np.zeros(len(outcome.setups), dtype=bool)
    for finding in filter(is_explainable, outcome.findings):
        reported[[finding.lines[0], finding.lines[-1]]] = True
    lines = find_doubtful_lines(usual, limits, reported)
    weighed = weigh_mistakes(usual, lines, MISTAKES, WEIGHED_FOR_NAMES)
    place = {int(line): i for i, line in enumerate(lines)}
    mismatches = find_mismatched_diameters(usual, limits)
    apart = mark_mismatched_lines(mismatches, len(reported))
    return Doubts(usual, weighed, place, limits, mismatches, apart)


def is_explainable(finding: Finding) -> bool:
    """Whether a finding is one about readings, which a mistake among them may explain."""
    return finding.check in EXPLAINED and len(finding.lines) > 0 and finding.severity != "note"


def rows_of(doubts: Doubts, finding: Finding) -> list[int]:
    """Return the places of a finding's lines among the doubtful lines, the most doubtful first."""
    rows = [doubts.place[line] for line in finding.lines if line in doubts.place]
    return sorted(rows, key=lambda row: -doubts.weighed.odds[row])


def name_causes(doubts: Doubts, row: int, reported: bool) -> tuple[Cause, ...]:
    """Return the causes that are named of one doubtful line, the likeliest first.

    Parameters
    ----------
    doubts : Doubts
        The weighed lines.
    row : int
        The line's place among the doubtful ones.
    reported : bool
        Whether a check found the line.
    """
    weighed = doubts.weighed
    if doubts.apart[weighed.lines[row]]:
        return ()
    weight, broad = weighed.weight[row], float(weighed.broad[row])
    all_of = np.logaddexp(np.logaddexp.reduce(weight), broad)
    shares = np.exp(weight - all_of)
    chances = np.exp(weight - np.logaddexp(all_of, 0.0))
    likeliest = np.argsort(-shares, kind="stable")[:WEIGHED_FOR_NAMES]
    if chances[likeliest[0]] < doubts.limits["doubt_named"]:
        return ()
    causes = []
    for m in likeliest[chances[likeliest] >= LEAST_NAMED]:
        candidates = find_candidates(doubts.usual, weighed, row, int(m))
        if len(candidates):
            odds = (float(shares[m]), float(chances[m]))
            causes.append(describe_cause(doubts.usual, weighed, candidates, MISTAKES[m], *odds))
    return tuple(merge_same_values(causes)[:MOST_NAMED])


def explain_findings(
    outcome: Outcome, doubts: Doubts, apart: Flags
) -> tuple[tuple[Finding, ...], tuple[Finding, ...]]:
    """Return the findings with their causes, and the findings of lines that no check found.

    Parameters
    ----------
    outcome : Outcome
        With the findings of the reading and of the checks.
    doubts : Doubts
        The weighed lines.
    apart : array of bool
        Lines that belong to a finding about many lines: none of their own is made.
    """
    findings = _explain_refused(doubts, outcome.findings)
    findings = tuple(_explain_finding(doubts, finding) for finding in findings)
    reported = apart.copy()
    for finding in findings:
        if finding.severity != "note":
            reported[list(finding.lines)] = True
    weighed = doubts.weighed
    likely = weighed.odds >= log(doubts.limits["doubt_odds"])
    rows = np.flatnonzero(likely & ~reported[weighed.lines])
    causes = {int(weighed.lines[row]): name_causes(doubts, int(row), False) for row in rows}
    hits = Hits(
        weighed.lines[rows],
        {
            "doubt": [describe_doubt(doubts.usual, line) for line in causes],
            "look": [each[0].look if each else _LOOK for each in causes.values()],
        },
    )
    made = make_findings(outcome, UNLIKELY, hits)
    return findings, tuple(
        _add_causes(doubts, finding, causes[line]) for finding in made for line in finding.lines
    )


_LOOK = "Are the readings, the distance and the diameter right?"


def _explain_finding(doubts: Doubts, finding: Finding) -> Finding:
    """Return a finding with its causes, or as a note where all else fits the line as entered."""
    rows = rows_of(doubts, finding) if is_explainable(finding) else []
    if not rows:
        return finding
    odds = float(doubts.weighed.odds[rows[0]])
    if odds < log(doubts.limits["doubt_settled"]) and not doubts.apart[finding.lines[0]]:
        if finding.check in ONE_LIMIT:
            return replace(finding, severity="note", message=f"{finding.message} {FITS}")
        if finding.check == REPEATS and _is_usual_between_setups(doubts, finding):
            apart = write_value("percent", doubts.usual.expected.repeat_spread, "metric")
            words = USUAL_REPEATS.format(apart=apart)
            return replace(finding, severity="note", message=f"{finding.message} {words}")
    causes = name_causes(doubts, rows[0], reported=finding.check != UNLIKELY)
    return _add_causes(doubts, finding, causes)


def _explain_refused(doubts: Doubts, findings: tuple[Finding, ...]) -> tuple[Finding, ...]:
    """Return the findings, those on refused numbers with the causes that would correct them."""
    refused = [finding for finding in findings if is_refused(finding)]
    if not refused:
        return findings
    usual = restore_refused(doubts.usual, refused)
    lines = np.unique([finding.lines[0] for finding in refused])
    weighed = weigh_mistakes(usual, lines, MISTAKES, WEIGHED_FOR_NAMES)
    place = {int(line): i for i, line in enumerate(lines)}
    usual = forget_refused(usual, refused)
    typed = replace(doubts, usual=usual, weighed=weighed, place=place)
    return tuple(
        _add_corrections(typed, finding) if is_refused(finding) else finding for finding in findings
    )


def _add_corrections(doubts: Doubts, finding: Finding) -> Finding:
    """Return a finding on one refused number with the causes that change this number."""
    row = doubts.place[finding.lines[0]]
    causes = [
        cause
        for cause in name_causes(doubts, row, reported=True)
        if cause.record.field == finding.fields[0]
    ]
    return _add_causes(doubts, finding, causes)


def _is_usual_between_setups(doubts: Doubts, finding: Finding) -> bool:
    """Whether set-ups are no farther apart than is typical of the survey, by its own repeats."""
    usual = doubts.usual
    total = usual.seen.total[list(finding.lines)]
    spread = min(usual.expected.repeat_spread, _MOST_USUAL)
    return bool(np.log(total.max() / total.min()) <= _UNCERTAINTIES * spread)


def _add_causes(doubts: Doubts, finding: Finding, causes: Sequence[Cause]) -> Finding:
    """Return a finding whose message goes on with its causes."""
    words = say_causes(causes)
    if not words and doubts.apart[finding.lines[0]]:
        words = [MISMATCHED]
    elif not words and finding.check not in NEAR and not is_refused(finding):
        words = [NO_EXPLANATION]
    message = " ".join((finding.message, *words))
    return replace(finding, message=message, causes=tuple(cause.record for cause in causes))
