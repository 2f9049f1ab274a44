"""A cause and a doubt in words: what was keyed, what would then be true, in the survey's units."""

import math
from typing import Any

import numpy as np

from xlhelpers.survey.checks.wording import KINDS
from xlhelpers.survey.doubt.candidates import Mistake
from xlhelpers.survey.doubt.expected import HEIGHT, SHARE, WIDTH
from xlhelpers.survey.doubt.weigh import Usual, Weighed
from xlhelpers.survey.model import Survey

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
