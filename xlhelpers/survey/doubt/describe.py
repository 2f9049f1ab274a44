"""A doubtful line in words: which evidence speaks against it, and what a cause would give."""

import math

import numpy as np

from xlhelpers.survey.checks.wording import write_value
from xlhelpers.survey.doubt.candidates import Mistake
from xlhelpers.survey.doubt.evidence import PIECES
from xlhelpers.survey.doubt.expected import HEIGHT, SHARE
from xlhelpers.survey.doubt.weigh import Usual, Weighed

# the fields whose old and new value a cause may name, in the order in which one is looked for
CHANGED = (
    ("distance", "length"),
    ("diameter", "diameter"),
    ("width_widest", "length"),
    ("width_across", "length"),
    ("foot_reading", "reading"),
    ("base_reading", "reading"),
    ("tip_reading", "reading"),
)
# differences that are worth a word: metres of a height, metres of an eye
HEIGHT_DIFFERS, EYE_DIFFERS = 0.05, 0.15
# a piece of evidence is named from so many spreads on, and so many at most, the largest first
NAMED_FROM, MOST_PIECES = 1.8, 2


def describe_cause(
    usual: Usual, weighed: Weighed, row: int, candidate: int, mistake: Mistake
) -> str:
    """Return a mistake on a line, with the corrected value, and what it would give.

    Parameters
    ----------
    usual : Usual
        All lines as entered.
    weighed : Weighed
        The doubtful lines.
    row : int
        Which of the doubtful lines.
    candidate : int
        Which candidate in `weighed.sheet`.
    mistake : Mistake
        The mistake that the candidate supposes.

    Returns
    -------
    str
        A clause and a sentence without its full stop, to go on from "Probably" or "Or".
    """
    line = int(weighed.lines[row])
    old, new = _write_change(usual, weighed, line, candidate)
    metric = usual.survey.units != "us"
    clause = mistake.words.format(
        old=old,
        new=new,
        length_unit="ft" if metric else "m",
        diameter_unit="inches" if metric else "cm",
        who=_name_setup(usual, line),
    )
    return f"{clause}. {_describe_result(usual, weighed, line, candidate)}"


def _describe_result(usual: Usual, weighed: Weighed, line: int, candidate: int) -> str:
    units, then, now = usual.survey.units, weighed.seen, usual.seen
    gives = []
    total, height = float(then.total[candidate]), float(now.total[line])
    if abs(total - height) > HEIGHT_DIFFERS or (math.isnan(height) and not math.isnan(total)):
        gives.append(f"a height of {write_value('length', total, units)}")
    eye, before = float(then.eye[candidate]), float(now.eye[line])
    if abs(eye - before) > EYE_DIFFERS:
        old, new = (write_value("fine length", value, units) for value in (before, eye))
        gives.append(f"an eye height of {new} (now {old})")
    if gives:
        return f"That gives {' and '.join(gives)}"
    base = float(then.base[candidate])
    if abs(base - float(now.base[line])) > HEIGHT_DIFFERS:
        return f"That puts the crown base at {write_value('length', base, units)}"
    diameter = np.array([then.diameter[candidate]])
    typical = math.exp(float(usual.expected.usual(HEIGHT, np.array([line]), diameter)[0]))
    if math.isnan(typical):
        return "Then the rest fits"
    return f"Trees that thick are typically about {write_value('length', typical, units)} tall"


def _name_setup(usual: Usual, line: int) -> str:
    tree = int(usual.setups["tree_position"].array[line])
    if usual.trees["line_count"].array[tree] < 2:
        return "the crew"
    return f"set-up {usual.setups['setup_number'].array[line]:.0f}"


def _write_change(usual: Usual, weighed: Weighed, line: int, candidate: int) -> tuple[str, str]:
    """Return the old and the new value of the first cell that a candidate changes."""
    units = usual.survey.units
    for name, kind in CHANGED:
        now = float(weighed.sheet.columns[name][candidate])
        before = float(usual.sheet.columns[name][line])
        if not (math.isnan(now) or math.isnan(before)) and now != before:
            new = round(now, 1) if kind == "reading" else now
            return write_value(kind, before, units), write_value(kind, new, units)
    return "", ""


def describe_doubt(usual: Usual, line: int) -> str:
    """Return which pieces of evidence speak against a line as entered, the strongest first."""
    away, spread = usual.deviations.away, usual.deviations.spread
    scaled = {piece: abs(float(away[piece][line] / spread[piece][line])) for piece in PIECES}
    known = [piece for piece in PIECES if scaled[piece] >= NAMED_FROM]
    strongest = sorted(known, key=lambda piece: -scaled[piece])[:MOST_PIECES]
    if not strongest:
        return "Height, crown width, eye height and distance do not match."
    return " ".join(_describe_piece(usual, line, piece) for piece in strongest)


def _describe_piece(usual: Usual, line: int, piece: str) -> str:
    seen, habits = usual.seen, usual.expected.habits

    def write(kind: str, value: float) -> str:
        return write_value(kind, float(value), usual.survey.units)

    total, diameter = float(seen.total[line]), float(seen.diameter[line])
    tree = _describe_tree(usual, line, diameter)
    if piece == "eye":
        eyes = [write("fine length", of[line]) for of in (seen.eye, habits.eye)]
        whose = f"{habits.person[line] or 'The crew'}'s"
        from_foot = f"From the foot reading, the eye was {eyes[0]} above the foot."
        return f"{from_foot} {whose} eye height is usually {eyes[1]}."
    if piece == "stand":
        distance = write("length", seen.level[line])
        return f"{distance} is an unusual distance for a tree {write('length', total)} tall."
    if piece == "repeat":
        other = write("length", math.exp(float(usual.expected.others[line])))
        here = f"The tree is {write('length', total)} tall from here"
        return f"{here} and {other} from its other set-ups."
    if piece == SHARE:
        own = write("percent", seen.base[line] / max(total, 0.05))
        share = write("percent", usual.expected.level[SHARE][line])
        return f"The crown starts at {own} of the height; for {tree} it is typically {share}."
    typical = usual.expected.usual(piece, np.array([line]), np.array([diameter]))[0]
    typical = write("length", math.exp(float(typical)))
    if piece == HEIGHT:
        tree = tree[0].upper() + tree[1:]
        tall = f"The readings give a tree {write('length', total)} tall."
        return f"{tall} {tree} is typically about {typical}."
    wide = write("length", seen.width[line])
    return f"The crown is {wide} wide; for {tree} it is typically about {typical}."


def _describe_tree(usual: Usual, line: int, diameter: float) -> str:
    """Return a tree as "a Silver maple 46.0 cm thick"."""
    tree = int(usual.setups["tree_position"].array[line])
    names = [str(usual.trees[column].array[tree]) for column in ("common", "botanical", "species")]
    name = next(filter(None, names), "tree")
    article = "an" if name[0] in "AEIOUaeiou" and not name.startswith("Eu") else "a"
    thick = (
        ""
        if math.isnan(diameter)
        else f" {write_value('diameter', diameter, usual.survey.units)} thick"
    )
    return f"{article} {name}{thick}"
