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
    NAMED_FROM,
    Cause,
    describe_cause,
    describe_doubt,
    merge_same_values,
    say_causes,
)
from xlhelpers.survey.doubt.evidence import PIECES
from xlhelpers.survey.doubt.expected import HEIGHT
from xlhelpers.survey.doubt.ground import heights_fit, level_ground
from xlhelpers.survey.doubt.mismatched_diameters import (
    Mismatch,
    find_mismatched_diameters,
    mark_mismatched_lines,
)
from xlhelpers.survey.doubt.mistakes import MISTAKES
from xlhelpers.survey.doubt.reference import reference
from xlhelpers.survey.doubt.refused import forget_refused, is_refused, restore_refused
from xlhelpers.survey.doubt.robust import Numbers
from xlhelpers.survey.doubt.table import make_findings
from xlhelpers.survey.doubt.weigh import (
    Usual,
    Weighed,
    find_doubtful_lines,
    weigh_lines,
    weigh_mistakes,
)
from xlhelpers.survey.model import Block, Finding
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.typed.folding import Flags, Positions

DEFAULTS: dict[str, float] = {
    limit.name: limit.default for limit in DOUBT if isinstance(limit.default, float)
}
# the check of lines that only the weighing finds doubtful
UNLIKELY = "unlikely-tree"
MOST_NAMED = 3
# so many mistakes of a line are compared before they are named
CONSIDERED = 6
NO_EXPLANATION = "No single mistake explains this."
MISMATCHED = "No cause is named: the diameters on this sheet may belong to other trees."
# findings of readings that do not fit: a cause among the readings may explain them
EXPLAINED = frozenset((
    "unlikely-tree", "eye-height", "no-height", "tip-not-above-foot", "base-above-top",
    "base-below-foot", "top-above-tip", "foot-plus-unticked", "height-over-limit",
    "height-under-breast-height", "angle-over-limit", "under-crown", "too-close",
    "repeats-disagree-tip", "repeats-disagree-base", "readings-hundredfold",
    "diameter-over-limit", "diameter-under-smallest", "width-over-limit", "crown-of-no-depth",
    "ratio-impossible", "stem-thick-for-genus", "widths-differ",
))  # fmt: skip
# one limit on one reading; the likelihood, which weighs all of them, goes before it
STANDS = frozenset({"too-close", "angle-over-limit", "under-crown"})
ONE_LIMIT = STANDS | {"eye-height", "widths-differ"}
# shares of the height from which it is usual to stand: never a finding by itself
USUAL_STAND = (0.8, 1.5)
FITS = "Everything else on this line fits, so this is only a note."
# several eyes of a plot equally far off: the ground, if the heights fit
PLOT_EYES = "eye-height-plot"
SLOPES = "The heights fit. The ground probably slopes there, so this is only a note."
REPEATS = {"repeats-disagree-tip": "total", "repeats-disagree-base": "base"}
USUAL_REPEATS = (
    "Set-ups in this survey typically differ by {apart}, and the rest fits, so this is only a note."
)
# where no cause is found, the distance itself is the explanation
NEAR = frozenset({"too-close", "under-crown"})
# one pair in four hundred is so many of these apart by chance; larger ones excuse nothing
_UNCERTAINTIES, _MOST_USUAL = 3.0, 0.04


# a mistake is so many times likelier on a line that a check found
_FOUND_BY_CHECK = 3.0


def limits_of(rules: Mapping[str, Any]) -> dict[str, float]:
    """Return all limits by name: the survey rules, or the default for a survey without the row."""
    return {name: float(rules.get(name, value)) for name, value in DEFAULTS.items()}


@dataclass(frozen=True)
class Doubts:
    """The weighed lines of a survey, and for each doubtful line its place among them.

    `mismatches` are the sheets whose diameters are other trees', `apart` their lines: their
    evidence may then be of several trees, and no cause is named. `uneven` are the lines before
    the ground of the plots was allowed for.
    """

    usual: Usual
    weighed: Weighed
    place: dict[int, int]
    limits: dict[str, float]
    mismatches: tuple[Mismatch, ...]
    apart: Flags
    uneven: Usual | None = None

    @property
    def entered(self) -> Usual:
        """Return all lines beside the eyes of the people alone, whatever the ground is."""
        return self.usual if self.uneven is None else self.uneven


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
    entered = weigh_lines(outcome.survey, outcome.setups, outcome.trees, own, limits)
    reported = np.zeros(len(outcome.setups), dtype=bool)
    for finding in filter(is_explainable, outcome.findings):
        reported[[finding.lines[0], finding.lines[-1]]] = True
    usual = level_ground(entered)
    lines = find_doubtful_lines(usual, limits, reported)
    weighed = weigh_mistakes(usual, lines, MISTAKES, CONSIDERED)
    place = {int(line): i for i, line in enumerate(lines)}
    mismatches = find_mismatched_diameters(usual, limits)
    apart = mark_mismatched_lines(mismatches, len(reported))
    return Doubts(usual, weighed, place, limits, mismatches, apart, entered)


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

    Returns
    -------
    tuple of Cause
        Nothing where a mistake is not likely enough, or no cause is.
    """
    weighed = doubts.weighed
    if doubts.apart[weighed.lines[row]]:
        return ()
    weight, broad = weighed.weight[row], float(weighed.broad[row])
    all_of = np.logaddexp(np.logaddexp.reduce(weight), broad)
    known = all_of + (log(_FOUND_BY_CHECK) if reported else 0.0)
    mistaken = float(np.exp(-np.logaddexp(0.0, -known)))
    shares = _join_same_values(weighed, row, np.exp(weight - all_of))
    if not shares or mistaken * shares[0][1] < doubts.limits["doubt_cause"]:
        return ()
    least = np.exp(broad - all_of) * doubts.limits["doubt_beats_unknown"]
    causes = []
    for m, share in shares:
        candidates = find_candidates(doubts.usual, weighed, row, m)
        if share >= max(doubts.limits["doubt_named"], least) and len(candidates):
            odds = (share, mistaken * share)
            causes.append(describe_cause(doubts.usual, weighed, candidates, MISTAKES[m], *odds))
    return tuple(merge_same_values(causes)[:MOST_NAMED])


def _join_same_values(weighed: Weighed, row: int, shares: Numbers) -> list[tuple[int, float]]:
    """Return the likeliest mistakes and their shares; those that give the same values are one."""
    joined: list[tuple[int, float]] = []
    for m in np.argsort(-shares, kind="stable")[:CONSIDERED].tolist():
        if weighed.best[row, m] < 0:
            continue
        own = int(weighed.best[row, m])
        for at, (other, share) in enumerate(joined):
            if weighed.sheet.is_same(own, int(weighed.best[row, other])):
                joined[at] = (other, share + float(shares[m]))
                break
        else:
            joined.append((m, float(shares[m])))
    return sorted(joined, key=lambda each: -each[1])


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
    rows = rows[~_only_the_stand(doubts.usual, weighed.lines[rows])]
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
    if finding.check == PLOT_EYES and _shows_ground(doubts, finding):
        return replace(finding, severity="note", message=f"{finding.message} {SLOPES}")
    rows = rows_of(doubts, finding) if is_explainable(finding) else []
    if not rows:
        return finding
    odds = float(doubts.weighed.odds[rows[0]])
    if odds < log(doubts.limits["doubt_settled"]) and not doubts.apart[finding.lines[0]]:
        if finding.check in ONE_LIMIT and not _is_strange(doubts, finding):
            return replace(finding, severity="note", message=f"{finding.message} {FITS}")
        if finding.check in REPEATS and _is_usual_between_setups(doubts, finding):
            spread = doubts.usual.expected.repeat_spread[REPEATS[finding.check]]
            words = USUAL_REPEATS.format(apart=write_value("percent", spread, "metric"))
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
    weighed = weigh_mistakes(usual, lines, MISTAKES, CONSIDERED)
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


def _shows_ground(doubts: Doubts, finding: Finding) -> bool:
    """Whether the heights fit on the lines of a finding about many eyes."""
    return heights_fit(doubts.entered, np.array(finding.lines))


def _is_strange(doubts: Doubts, finding: Finding) -> bool:
    """Whether more than the limit of a finding about the stand is out of the ordinary."""
    if finding.check not in STANDS:
        return False
    return bool(_has_strong_evidence(doubts.usual, np.array(finding.lines)).any())


def _has_strong_evidence(usual: Usual, lines: Positions) -> Flags:
    """Return the lines against which something else than the distance speaks."""
    away, spread = usual.deviations.away, usual.deviations.spread
    pieces = [piece for piece in PIECES if piece != "stand"]
    with np.errstate(all="ignore"):
        strong = [np.abs(away[piece] / spread[piece])[lines] >= NAMED_FROM for piece in pieces]
    return np.asarray(np.any(strong, axis=0))


def _only_the_stand(usual: Usual, lines: Positions) -> Flags:
    """Return the lines that are unusual only in their standing distance, which is a usual one."""
    low, high = USUAL_STAND
    with np.errstate(all="ignore"):
        share = usual.seen.level[lines] / usual.seen.total[lines]
    usually = (share >= low) & (share <= high)
    return np.asarray(usually & ~_has_strong_evidence(usual, lines))


def _is_usual_between_setups(doubts: Doubts, finding: Finding) -> bool:
    """Whether set-ups are no farther apart than chance makes them, by the survey's own repeats."""
    usual, lines, point = doubts.usual, list(finding.lines), REPEATS[finding.check]
    apart = float(np.ptp(getattr(usual.seen, point)[lines]) / np.mean(usual.seen.total[lines]))
    spread = min(usual.expected.repeat_spread[point], _MOST_USUAL)
    return bool(apart <= _UNCERTAINTIES * spread)


def _add_causes(doubts: Doubts, finding: Finding, causes: Sequence[Cause]) -> Finding:
    """Return a finding whose message goes on with its causes."""
    words = say_causes(causes)
    if not words and doubts.apart[finding.lines[0]]:
        words = [MISMATCHED]
    elif not words and finding.check not in NEAR and not is_refused(finding):
        words = [NO_EXPLANATION]
    message = " ".join((finding.message, *words))
    # a likely typing mistake is looked up on paper before anybody is sent out
    typing = any(cause.record.is_typing for cause in causes)
    block: Block = "paper" if typing and finding.block == "again" else finding.block
    return replace(
        finding,
        message=message,
        causes=tuple(cause.record for cause in causes),
        block=block,
        plausible_height=_find_tallest(doubts, finding, causes),
    )


def _find_tallest(doubts: Doubts, finding: Finding, causes: Sequence[Cause]) -> float:
    """Return the greatest height (m) by the named causes and by what is usual, 0 for none."""
    usual, weighed = doubts.usual, doubts.weighed
    lines = np.array(finding.lines)
    typical = usual.expected.usual(HEIGHT, lines, usual.seen.diameter[lines])
    heights = [np.exp(typical)]
    named = [at for at, mistake in enumerate(MISTAKES) if mistake.id in {c.mistake for c in causes}]
    for row in rows_of(doubts, finding)[:1]:
        best = weighed.best[row, named]
        heights.append(weighed.seen.total[best[best >= 0]])
    known = np.concatenate(heights)
    known = known[np.isfinite(known) & (known <= float(usual.survey.rules["limit_height"]))]
    return float(known.max(initial=0.0))
