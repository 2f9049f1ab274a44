"""A doubtful line in words: which evidence speaks against it, and what a cause would give."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.quantities import QUANTITIES
from xlhelpers.survey.checks.wording import write_value
from xlhelpers.survey.doubt.alternatives import CLOSE
from xlhelpers.survey.doubt.calibration import say_how_sure
from xlhelpers.survey.doubt.candidates import Mistake
from xlhelpers.survey.doubt.evidence import PIECES
from xlhelpers.survey.doubt.expected import HEIGHT, LOWEST, SHARE, log_of
from xlhelpers.survey.doubt.readings import WORDS
from xlhelpers.survey.doubt.robust import Numbers
from xlhelpers.survey.doubt.weigh import Usual, Weighed
from xlhelpers.survey.model import CauseRecord
from xlhelpers.survey.typed.folding import Positions

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
# mistakes that say which reading is wrong, but not what the right one was
VALUE_UNKNOWN = frozenset(
    (
        "near-edge",
        "lean",
        "dead-top",
        "stray-branch",
        "base-to-ground",
        "neighbour-distance",
        "neighbour-diameter",
    )
)
# columns of a supposed line that nobody typed
DERIVED = frozenset(("mean_width", "kept", "free"))
# what the ids of lost digits begin with: which digit it was cannot be told
LOST_DIGIT = "dropped-"
# what the ids of typing mistakes begin with: the right value has the digits of the wrong one
SLIPS = ("decimal-", "dropped-", "doubled-", "transposed-")
# a third cause is left out of the message if it explains less than this share of the first
MUCH_WEAKER = 0.25
RESULT_FITS = "Then the rest fits"
# two corrected values of one field that are written alike
SAME_VALUE = 0.05
# a reading whose right value cannot be told may be any that explains this share of the best
_POSSIBLE = 0.15
_EXACT = 1e-6
# so many possible values are written out; more are a range
_MOST_VALUES = 2
# differences that are worth a word: metres of a height, metres of an eye
HEIGHT_DIFFERS, EYE_DIFFERS = 0.05, 0.15
# a piece of evidence is named from so many spreads on, and so many at most, the largest first
NAMED_FROM, MOST_PIECES = 1.8, 2


@dataclass(frozen=True)
class Cause:
    """One likely cause of a finding.

    `share` is its share of the explanation, `chance` the odds stated for it, as a probability that
    the line has this mistake; `clause` says what happened, to go on from "Probably",
    and `result`, a sentence without its full stop, what the tree would then be; `look` is what to
    check.
    """

    mistake: str
    share: float
    chance: float
    record: CauseRecord
    clause: str
    result: str
    look: str

    @property
    def words(self) -> str:
        """Return the clause and the sentence after it, without a full stop."""
        return self.record.words


def describe_cause(
    usual: Usual,
    weighed: Weighed,
    candidates: Positions,
    mistake: Mistake,
    share: float,
    chance: float,
) -> Cause:
    """Return a mistake on a line, with the corrected value, and what it would give.

    Parameters
    ----------
    usual : Usual
        All lines as entered.
    weighed : Weighed
        The doubtful lines.
    candidates : ndarray of int
        Rows of `weighed.sheet`, the corrections that the mistake offers for one line, the best
        first.
    mistake : Mistake
        The mistake that they suppose.
    share, chance : float
        Its share of the explanation, and the probability that the line has this mistake.
    """
    best = int(candidates[0])
    line = int(weighed.sheet.line[best])
    offered = _choose_offered(weighed, candidates, mistake.id)
    field, typed, would_be = find_change(usual, weighed, line, best)
    clause = _describe_mistake(usual, weighed, line, offered, mistake)
    ranged = mistake.id in VALUE_UNKNOWN or mistake.id.startswith(LOST_DIGIT)
    result = _describe_result(usual, weighed, line, offered, ranged)
    record = CauseRecord(
        kind=mistake.id,
        field=field,
        typed=typed,
        would_be=None if mistake.id in VALUE_UNKNOWN else would_be,
        total_height=_finite_or_none(weighed.seen.total[best]),
        crown_base=_finite_or_none(weighed.seen.base[best]),
        words=f"{clause}. {result}",
    )
    return Cause(mistake.id, share, chance, record, clause, result, mistake.look)


def _choose_offered(weighed: Weighed, candidates: Positions, mistake: str) -> Positions:
    """Return the corrections that are named: those about as good, or all of a lost digit."""
    least = CLOSE
    if mistake in VALUE_UNKNOWN:
        least = _POSSIBLE
    elif mistake.startswith(LOST_DIGIT):
        least = 0.0
    gain = weighed.gain[candidates]
    return np.asarray(candidates[np.exp(gain - gain[0]) >= least])


def find_change(
    usual: Usual, weighed: Weighed, line: int, candidate: int
) -> tuple[str | None, float | None, float | None]:
    """Return the one field that a candidate changes, as typed and as it would be.

    Parameters
    ----------
    usual : Usual
        All lines as entered.
    weighed : Weighed
        The doubtful lines.
    line : int
        Position in the survey's lines.
    candidate : int
        A row of `weighed.sheet`.

    Returns
    -------
    (str or None, float or None, float or None)
        Numbers in the unit of the sheet. No field where several cells change; no numbers either
        where the cell is blank, or holds a word.
    """
    entered = usual.sheet.columns
    changed = [
        name
        for name, column in weighed.sheet.columns.items()
        if name not in DERIVED and not _is_same(entered[name][line], column[candidate])
    ]
    # the mark of a foot above eye level goes with the sign of its reading
    changed = [name for name in changed if name != "ticked"] or changed
    if len(changed) != 1:
        return None, None, None
    (name,) = changed
    if name in WORDS:
        return name, None, None
    quantity = FIELD_SHEET[name].measured_in
    factor = 1.0 if quantity is None else quantity.factor(usual.survey.units)
    typed, would_be = (
        float(value) / factor
        for value in (entered[name][line], weighed.sheet.columns[name][candidate])
    )
    return name, _finite_or_none(round(typed, 6)), _finite_or_none(round(would_be, 2))


def _is_same(one: Any, other: Any) -> bool:
    if isinstance(one, str) or isinstance(other, str):
        return bool(one == other)
    return bool(one == other) or (math.isnan(one) and math.isnan(other))


def _finite_or_none(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _tree_of(usual: Usual, line: int) -> int:
    return int(usual.setups["tree_position"].array[line])


def _describe_mistake(
    usual: Usual, weighed: Weighed, line: int, offered: Positions, mistake: Mistake
) -> str:
    """Return what happened, as a clause."""
    old, new = _write_change(usual, weighed, offered, mistake.id)
    metric = usual.survey.units != "us"
    return mistake.words.format(
        old=old,
        new=new,
        length_unit="ft" if metric else "m",
        diameter_unit="inches" if metric else "cm",
        who=_name_setup(usual, line),
    )


def _describe_result(
    usual: Usual, weighed: Weighed, line: int, offered: Positions, ranged: bool
) -> str:
    """Return what the offered corrections give; `ranged` where the right one cannot be told."""
    units, then, now = usual.survey.units, weighed.seen, usual.seen
    totals, height = then.total[offered], float(now.total[line])
    total = float(totals[0])
    if abs(total - height) > HEIGHT_DIFFERS or (math.isnan(height) and not math.isnan(total)):
        tall = write_values("length", totals, units, ranged)
        if ranged and " to " not in tall:
            tall = f"about {write_value('rough length', total, units)}"
        eye_height = _describe_eye(usual, line, then.eye[offered], ranged)
        return f"That gives a height of {tall} and {eye_height}".removesuffix(" and ")
    eye, before = float(then.eye[offered[0]]), float(now.eye[line])
    if abs(eye - before) > EYE_DIFFERS:
        return f"That gives {_describe_eye(usual, line, then.eye[offered], ranged)}"
    base = float(then.base[offered[0]])
    if abs(base - float(now.base[line])) > HEIGHT_DIFFERS:
        low = write_values("length", then.base[offered], units, ranged)
        return f"That puts the crown base at {low}"
    diameters = then.diameter[offered]
    typical = usual.expected.usual(HEIGHT, np.full(len(offered), line), diameters)
    if math.isnan(typical[0]) or diameters[0] == now.diameter[line]:
        return RESULT_FITS
    thick = write_values("diameter", diameters, units, ranged)
    tall = write_values("length", np.exp(typical), units, ranged)
    return f"Trees {thick} thick are typically about {tall} tall"


def _describe_eye(usual: Usual, line: int, eyes: Numbers, ranged: bool) -> str:
    """Return the eye height that a correction gives, "" where the eye is not known."""
    units, before = usual.survey.units, float(usual.seen.eye[line])
    if math.isnan(eyes[0]):
        return ""
    new = write_values("fine length", eyes, units, ranged)
    if math.isnan(before):
        return f"an eye height of {new}"
    old = write_value("fine length", before, units)
    return f"the same eye height ({old})" if new == old else f"an eye height of {new} (now {old})"


def write_values(kind: str, values: Numbers, units: str, ranged: bool = False) -> str:
    """Return what a number may be: "47.0 cm", "47.0 cm or 74.0 cm", "14.0 to 19.0 m".

    Parameters
    ----------
    kind : str
        As for `write_value`.
    values : ndarray
        The best first, in the inner unit; more than two are written as a range.
    units : str
        "metric" or "us".
    ranged : bool
        Whether two values are a range as well.
    """
    own = values[np.isfinite(values)]
    texts = list(dict.fromkeys(write_value(kind, float(value), units) for value in np.sort(own)))
    if len(texts) <= (1 if ranged else _MOST_VALUES):
        return " or ".join(texts) or write_value(kind, math.nan, units)
    return f"{texts[0].split(' ')[0]} to {texts[-1]}"


def _name_setup(usual: Usual, line: int) -> str:
    tree = _tree_of(usual, line)
    if usual.trees["line_count"].array[tree] < 2:
        return "the crew"
    return f"set-up {usual.setups['setup_number'].array[line]:.0f}"


def _write_change(
    usual: Usual, weighed: Weighed, offered: Positions, mistake: str
) -> tuple[str, str]:
    """Return the old and the new values of the first cell that a mistake changes."""
    units, ranged = usual.survey.units, mistake in VALUE_UNKNOWN
    line = int(weighed.sheet.line[offered[0]])
    for name, kind in CHANGED:
        now = weighed.sheet.columns[name][offered]
        before = float(usual.sheet.columns[name][line])
        if math.isnan(now[0]) or math.isnan(before) or now[0] == before:
            continue
        if kind == "reading":
            new = write_values(kind, np.round(now, 1), units, ranged)
            return write_value(kind, before, units), new
        fine = mistake.startswith(SLIPS)
        kinds = [_kind_of_length(kind, value, units) if fine else kind for value in now.tolist()]
        new = write_values(max(kinds, key=len), now, units, ranged)
        return write_value(_kind_of_length(kind, before, units), before, units), new
    return "", ""


def merge_same_values(causes: Sequence[Cause]) -> list[Cause]:
    """Return causes without those that give the same value as a likelier one.

    Parameters
    ----------
    causes : sequence of Cause
        The likeliest first.
    """
    distinct_causes: list[Cause] = []
    for cause in causes:
        if not any(_gives_same_value(cause.record, other.record) for other in distinct_causes):
            distinct_causes.append(cause)
    return distinct_causes


def _gives_same_value(one: CauseRecord, other: CauseRecord) -> bool:
    if one.would_be is None or other.would_be is None or one.field != other.field:
        return False
    return abs(one.would_be - other.would_be) <= SAME_VALUE


def say_causes(causes: Sequence[Cause]) -> list[str]:
    """Return the sentences about the causes of one finding.

    Parameters
    ----------
    causes : sequence of Cause
        The likeliest first.

    Returns
    -------
    list of str
        They begin with "Probably" or "Possibly", by the calibrated odds. Where two causes explain
        about as well, one sentence names both. A third one that is much weaker than the first is
        left out.
    """
    if not causes:
        return []
    first, *others = causes
    if others and others[0].share >= CLOSE * first.share:
        second = others.pop(0)
        words = [
            f"{say_how_sure(first.chance + second.chance)} either {first.clause}, or "
            f"{second.clause}.",
            *_say_both(first, second),
        ]
    else:
        words = [f"{say_how_sure(first.chance)} {first.words}."]
    for at, cause in enumerate(others, len(causes) - len(others)):
        if at < 2 or cause.share >= MUCH_WEAKER * first.share:
            words.append(f"Or {cause.words}.")
    return words


def _say_both(first: Cause, second: Cause) -> list[str]:
    """Return what each of two causes gives."""
    results = [first.result, second.result]
    if results[0] == results[1]:
        return [
            f"{results[0].replace('That gives', 'Both give').replace('That puts', 'Both put')}."
        ]
    ordinals = ("The first", "The second")
    return [
        f"{result.replace('That', ordinal, 1) if result.startswith('That ') else result}."
        for result, ordinal in zip(results, ordinals, strict=True)
        if result != RESULT_FITS
    ]


def _kind_of_length(kind: str, value: float, units: str) -> str:
    """Return how to write a length or diameter: with two decimals if it was typed with two."""
    hundredths = 100 * value / QUANTITIES[kind].factor("us" if units == "us" else "metric")
    whole = round(hundredths)
    return f"fine {kind}" if abs(hundredths - whole) < _EXACT and whole % 10 else kind


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
        own = write("percent", seen.base[line] / max(total, LOWEST))
        typically = usual.expected.usual_share(np.array([line]), log_of(np.array([total])))
        share = write("percent", typically[0])
        kind = _describe_tree(usual, line, math.nan)
        typical = f"for {kind} of this height it is typically {share}"
        return f"The crown starts at {own} of the height; {typical}."
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
    tree = _tree_of(usual, line)
    names = [str(usual.trees[column].array[tree]) for column in ("common", "botanical", "species")]
    name = next(filter(None, names), "tree")
    article = "an" if name[0] in "AEIOUaeiou" and not name.startswith("Eu") else "a"
    thick = (
        ""
        if math.isnan(diameter)
        else f" {write_value('diameter', diameter, usual.survey.units)} thick"
    )
    return f"{article} {name}{thick}"
