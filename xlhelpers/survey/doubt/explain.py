"""Explanations of findings, in words, and findings of unlikely lines that no check found.

A survey that lacks the row, such as one keyed into an older workbook, has the usual value.

Nothing is changed: a cause is proposed with the value that it would give, at most three of them,
and where none explains enough that is said.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from math import log
from typing import Any

import numpy as np

from xlhelpers.fields.rules import DOUBT
from xlhelpers.survey.checks.record import Hits
from xlhelpers.survey.checks.wording import KINDS
from xlhelpers.survey.doubt.candidates import Mistake
from xlhelpers.survey.doubt.expected import HEIGHT, SHARE, WIDTH
from xlhelpers.survey.doubt.mismatched_diameters import Strangers, lines_of, strangers
from xlhelpers.survey.doubt.mistakes import MISTAKES
from xlhelpers.survey.doubt.reference import reference
from xlhelpers.survey.doubt.table import UNLIKELY, found
from xlhelpers.survey.doubt.weigh import Usual, Weighed, doubtful_lines, usual_lines, weigh_mistakes
from xlhelpers.survey.model import Finding, Survey
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.typed.folding import Flags

USUAL: dict[str, float] = {
    limit.name: limit.default for limit in DOUBT if isinstance(limit.default, float)
}


def limits_of(rules: Mapping[str, Any]) -> dict[str, float]:
    """Return all limits by name; what stands in the survey rules goes before the usual value."""
    return {name: float(rules.get(name, value)) for name, value in USUAL.items()}


# the field to which {old} and {new} of a cause belong, in the order in which one is looked for
CHANGED = (
    ("distance", "length"),
    ("diameter", "diameter"),
    ("width", "length"),
    ("foot_reading", "reading"),
    ("base_reading", "reading"),
    ("tip_reading", "reading"),
)
# differences that are worth a word: metres of an eye, a share of a height
EYE_DIFFERS, SHARE_DIFFERS = 0.15, 0.03
# a piece of evidence is spoken of from so many spreads on, the largest first
SPOKEN_FROM, MOST_SPOKEN = 1.8, 2
_SPOKEN = (HEIGHT, SHARE, WIDTH, "eye", "stand", "repeat")


def say(kind: str, value: float, survey: Survey) -> str:
    """Return a value with its unit, as messages show it."""
    units: Any = survey.units
    return "not known" if math.isnan(value) else KINDS[kind](float(value), units)


def cause_in_words(usual: Usual, weighed: Weighed, row: int, candidate: int, of: Mistake) -> str:
    """Return what would be true if a mistake was made on a line, with the values it would give."""
    survey, line = usual.survey, int(weighed.lines[row])
    old, new = _changed(usual, weighed, line, candidate)
    text = of.words.replace("{old}", old).replace("{new}", new)
    total, was = float(weighed.seen.total[candidate]), float(usual.seen.total[line])
    parts = []
    if abs(total - was) > 0.05:
        parts.append(f"the total height would be {say('length', total, survey)}")
    eye, before = float(weighed.seen.eye[candidate]), float(usual.seen.eye[line])
    if abs(eye - before) > EYE_DIFFERS:
        parts.append(
            f"the eye {say('fine length', eye, survey)} above the foot instead of "
            f"{say('fine length', before, survey)}"
        )
    base, seen = float(weighed.seen.base[candidate]), float(usual.seen.base[line])
    if not parts and abs(base - seen) > 0.05:
        parts.append(f"the crown base would be at {say('length', base, survey)}")
    if not parts:
        parts.append(_fits(usual, weighed, line, candidate))
    return f"{text} {', and '.join(parts)}".replace(",,", ",").strip()


def _fits(usual: Usual, weighed: Weighed, line: int, candidate: int) -> str:
    """Say what is usual for a stem of the supposed diameter: the height itself stays."""
    at = np.array([line])
    diameter = np.array([weighed.seen.diameter[candidate]])
    height = math.exp(float(usual.expected.usual(HEIGHT, at, diameter)[0]))
    if math.isnan(height):
        return "it would fit"
    return f"a height of {say('length', height, usual.survey)} would be usual"


def _changed(usual: Usual, weighed: Weighed, line: int, candidate: int) -> tuple[str, str]:
    """Return the old and the new value of the first cell that a candidate changes."""
    for name, kind in CHANGED:
        now = float(weighed.pool.sheet.columns[name][candidate])
        if name in ("diameter", "width"):
            before = float(getattr(usual.seen, name)[line])
        else:
            before = float(usual.survey.lines[name].array[line])
        if not (math.isnan(now) or math.isnan(before)) and now != before:
            return say(kind, before, usual.survey), say(kind, _short(now, kind), usual.survey)
    return "", ""


def _short(value: float, kind: str) -> float:
    """A supposed reading to the nearest tenth."""
    return round(value, 1) if kind == "reading" else value


def doubt_in_words(usual: Usual, line: int) -> str:
    """Return which pieces of evidence speak against a line as keyed, the strongest first."""
    scaled = {
        p: abs(float(usual.found.away[p][line]) / float(usual.found.spread[p][line]))
        for p in _SPOKEN
    }
    known = [p for p in _SPOKEN if scaled[p] >= SPOKEN_FROM]
    strongest = sorted(known, key=lambda p: -scaled[p])[:MOST_SPOKEN]
    texts = [_piece(usual, line, piece) for piece in strongest]
    if not texts:
        return "Height, crown, eye height and distance do not go together."
    return " ".join(texts)


def _piece(usual: Usual, line: int, piece: str) -> str:
    survey, seen = usual.survey, usual.seen
    at = np.array([line])
    diameter = float(seen.diameter[line])
    tree = _tree_words(usual, line, diameter)
    if piece == "eye":
        person = str(usual.expected.habits.person[line]) or "the crew"
        return (
            f"The eye would be {say('fine length', float(seen.eye[line]), survey)} above the foot; "
            f"{person} is usually at "
            f"{say('fine length', float(usual.expected.habits.eye[line]), survey)}."
        )
    if piece == "stand":
        return (
            f"The distance of {say('length', float(seen.level[line]), survey)} is unusual for a "
            f"tree of {say('length', float(seen.total[line]), survey)}."
        )
    if piece == "repeat":
        other = math.exp(float(usual.expected.others[line]))
        return (
            f"It is {say('length', float(seen.total[line]), survey)} high here and "
            f"{say('length', other, survey)} by the tree's other set-ups."
        )
    if piece == SHARE:
        share = float(usual.expected.level[SHARE][line])
        own = float(seen.base[line] / max(float(seen.total[line]), 0.05))
        return (
            f"The crown base is at {say('percent', own, survey)} of the height; {tree} usually has "
            f"it at {say('percent', share, survey)}."
        )
    usually = math.exp(float(usual.expected.usual(piece, at, np.array([diameter]))[0]))
    value = seen.total if piece == HEIGHT else seen.width
    what = "high" if piece == HEIGHT else "wide"
    return (
        f"It is {say('length', float(value[line]), survey)} {what}; {tree} is usually about "
        f"{say('length', usually, survey)}."
    )


def _tree_words(usual: Usual, line: int, diameter: float) -> str:
    tree = int(usual.setups["tree_position"].array[line])
    names = [str(usual.trees[column].array[tree]) for column in ("common", "botanical", "species")]
    name = next((text for text in names if text), "a tree")
    article = "" if name == "a tree" else "a "
    return f"{article}{name} of {say('diameter', diameter, usual.survey)}"


MOST_NAMED = 3
NO_EXPLANATION = "No explanation found."
OF_OTHERS = "No explanation found: the diameters of this sheet look like those of other trees."
# findings of readings that do not fit: a cause among the readings may explain them
EXPLAINED = frozenset(
    {
        "unlikely-tree",
        "eye-height",
        "no-height",
        "tip-not-above-foot",
        "base-above-top",
        "base-below-foot",
        "top-above-tip",
        "foot-plus-unticked",
        "height-over-limit",
        "height-under-breast-height",
        "angle-over-limit",
        "under-crown",
        "too-close",
        "repeats-disagree-tip",
        "repeats-disagree-base",
        "readings-hundredfold",
        "diameter-over-limit",
        "diameter-under-smallest",
        "width-over-limit",
        "crown-of-no-depth",
        "ratio-impossible",
    }
)
# one limit on one reading; the likelihood, which weighs all of them, goes before it
ONE_LIMIT = frozenset({"eye-height"})
FITS = "All else of the line fits the readings as keyed, so this is only stated."
REPEATS = "repeats-disagree-tip"
USUAL_REPEATS = (
    "Set-ups of one tree usually differ by {apart} in this survey, and all else fits, so this is "
    "only stated."
)
# so many of these, as the rule for repeats has it; larger ones excuse nothing
_UNCERTAINTIES, _MOST_USUAL = 2.0, 0.06
# a cause of a line with a finding is not named if the line as keyed is so much likelier
_AS_KEYED = 3.0


@dataclass(frozen=True)
class Cause:
    """One likely cause: the mistake's id, its share of the explanation, words, where to look."""

    mistake: str
    share: float
    words: str
    look: str


@dataclass(frozen=True)
class Explanation:
    """What may lie behind the doubt about one line: at most three causes, the likeliest first.

    `check` is the id of the check whose finding is explained, "unlikely-tree" where no check
    found the line; `odds` how many times better mistakes explain the line than chance does.
    """

    line: int
    check: str
    odds: float
    causes: tuple[Cause, ...]
    next_step: str


@dataclass(frozen=True)
class Doubts:
    """The weighed lines of a survey, and for each doubtful line its place among them.

    `strangers` are the sheets whose diameters are other trees', `apart` their lines: what a line
    rests on may then be of several trees, and no cause is named.
    """

    usual: Usual
    weighed: Weighed
    place: dict[int, int]
    limits: dict[str, float]
    strangers: tuple[Strangers, ...]
    apart: Flags


def weigh_doubts(outcome: Outcome, table: object = None) -> Doubts:
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
    usual = usual_lines(outcome.survey, outcome.setups, outcome.trees, own, limits)  # type: ignore[arg-type]
    told = np.zeros(len(outcome.setups), dtype=bool)
    told[[f.lines[0] for f in outcome.findings if _explainable(f)]] = True
    told[[f.lines[-1] for f in outcome.findings if _explainable(f)]] = True
    lines = doubtful_lines(usual, limits, told)
    weighed = weigh_mistakes(usual, lines, MISTAKES, MOST_NAMED)
    place = {int(line): i for i, line in enumerate(lines)}
    of_others = strangers(usual, limits)
    return Doubts(usual, weighed, place, limits, of_others, lines_of(of_others, len(told)))


def _explainable(finding: Finding) -> bool:
    return finding.check in EXPLAINED and len(finding.lines) > 0 and finding.severity != "note"


def explain(outcome: Outcome, table: object = None) -> tuple[Explanation, ...]:
    """Return the likely causes of every finding about readings, in the order of the findings.

    Parameters
    ----------
    outcome : Outcome
        As `evaluate` gives it.
    table : DataFrame, optional
        Another reference than the shipped one.
    """
    doubts = weigh_doubts(outcome, table)
    return tuple(
        explanation
        for finding in outcome.findings
        if _explainable(finding) and (explanation := _explanation(doubts, finding)) is not None
    )


def _explanation(doubts: Doubts, finding: Finding) -> Explanation | None:
    rows = [doubts.place[line] for line in finding.lines if line in doubts.place]
    if not rows:
        return None
    row = max(rows, key=lambda each: doubts.weighed.odds[each])
    causes = causes_of(doubts, row, told=finding.check != UNLIKELY.id)
    step = f"Look at the paper sheet: {causes[0].look}" if causes else finding.action
    odds = float(np.exp(min(doubts.weighed.odds[row], 50.0)))
    return Explanation(int(doubts.weighed.lines[row]), finding.check, odds, causes, step)


def causes_of(doubts: Doubts, row: int, told: bool) -> tuple[Cause, ...]:
    """Return the causes that are named of one doubtful line, the likeliest first."""
    weighed = doubts.weighed
    if doubts.apart[weighed.lines[row]]:
        return ()
    weight, broad = weighed.weight[row], float(weighed.broad[row])
    all_of = np.logaddexp(np.logaddexp.reduce(weight), broad)
    shares = np.exp(weight - all_of)
    order = np.argsort(-shares, kind="stable")[:MOST_NAMED]
    least = max(broad + log(doubts.limits["doubt_beats_unknown"]), -_AS_KEYED if told else -np.inf)
    named = [
        int(m) for m in order if shares[m] >= doubts.limits["doubt_named"] and weight[m] >= least
    ]
    return tuple(
        Cause(
            MISTAKES[m].id,
            float(shares[m]),
            cause_in_words(doubts.usual, weighed, row, int(weighed.best[row, m]), MISTAKES[m]),
            MISTAKES[m].look,
        )
        for m in named
    )


def explained(
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
    findings = tuple(_with_causes(doubts, finding) for finding in outcome.findings)
    told = apart.copy()
    for finding in findings:
        if finding.severity != "note":
            told[list(finding.lines)] = True
    weighed = doubts.weighed
    rows = np.flatnonzero((weighed.odds >= log(doubts.limits["doubt_odds"])) & ~told[weighed.lines])
    causes = [causes_of(doubts, int(row), told=False) for row in rows]
    lines = weighed.lines[rows]
    hits = Hits(
        lines,
        {
            "doubt": [doubt_in_words(doubts.usual, int(line)) for line in lines],
            "look": [each[0].look if each else "readings, distance, diameter." for each in causes],
        },
    )
    made = found(UNLIKELY, hits, outcome.survey, outcome.setups, outcome.trees)
    odds = weighed.odds[rows]
    by_line = {
        int(line): (each, float(own)) for line, each, own in zip(lines, causes, odds, strict=True)
    }
    return findings, tuple(_said(doubts, finding, *by_line[finding.lines[0]]) for finding in made)


def _with_causes(doubts: Doubts, finding: Finding) -> Finding:
    if not _explainable(finding):
        return finding
    rows = [doubts.place[line] for line in finding.lines if line in doubts.place]
    if not rows:
        return finding
    odds = max(float(doubts.weighed.odds[row]) for row in rows)
    if odds < log(doubts.limits["doubt_settled"]) and not doubts.apart[finding.lines[0]]:
        if finding.check in ONE_LIMIT:
            return replace(finding, severity="note", message=f"{finding.message} {FITS}")
        if finding.check == REPEATS and _usual_between_setups(doubts, finding):
            apart = f"{doubts.usual.expected.repeat_spread:.0%}"
            said = USUAL_REPEATS.replace("{apart}", apart)
            return replace(finding, severity="note", message=f"{finding.message} {said}")
    explanation = _explanation(doubts, finding)
    return finding if explanation is None else _said(doubts, finding, explanation.causes, odds)


def _usual_between_setups(doubts: Doubts, finding: Finding) -> bool:
    """Whether set-ups are no farther apart than is usual in the survey, by its own repeats."""
    usual = doubts.usual
    total = usual.seen.total[list(finding.lines)]
    spread = min(usual.expected.repeat_spread, _MOST_USUAL)
    return bool(np.log(total.max() / total.min()) <= _UNCERTAINTIES * spread)


def _said(doubts: Doubts, finding: Finding, causes: Sequence[Cause], log_odds: float) -> Finding:
    """Return a finding whose message goes on with its causes."""
    first = "Likely:" if log_odds > 0 else "Perhaps:"
    words = tuple(cause.words for cause in causes)
    if words:
        said = " ".join(f"{first if i == 0 else 'Or:'} {text}." for i, text in enumerate(words))
    else:
        said = OF_OTHERS if doubts.apart[finding.lines[0]] else NO_EXPLANATION
    return replace(finding, message=f"{finding.message} {said}", causes=words)
