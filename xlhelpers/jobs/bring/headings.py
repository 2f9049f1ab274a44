"""A heading as words, unit and number, and the roles that it may name."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass
from functools import cache

from xlhelpers.jobs.bring.vocabulary import ROLES
from xlhelpers.survey.typed.units import TypedUnit, unit_named

# spellings of one word, and the word that stands for them in the comparison
_SAME = {
    **dict.fromkeys(("nr", "num", "number", "numero", "nummer", "n", "nbr"), "no"),
    **dict.fromkeys(("ht", "hgt", "hght", "hoehe"), "height"),
    **dict.fromkeys(("dia", "diam", "diametre", "diametro"), "diameter"),
    **dict.fromkeys(("dist", "dst"), "distance"),
    **dict.fromkeys(("circumf", "circum"), "circumference"),
    **dict.fromkeys(("canopy", "cr", "crwn"), "crown"),
    **dict.fromkeys(("spp", "sp"), "species"),
    **dict.fromkeys(("avg", "mittlere", "mittlerer"), "average"),
    **dict.fromkeys(("readings", "rdg"), "reading"),
    **dict.fromkeys(("widths",), "width"),
    **dict.fromkeys(("metres", "metre", "meters"), "meter"),
    **dict.fromkeys(("pct", "prozent", "pourcent", "porcentaje"), "percent"),
}
# words that say nothing about which column it is
_NEUTRAL_TEXT = (
    "of the a an to in at from de del la el las los du des le les au aux d l der die das des "
    "den zum zur im am von vom bei en al per y and et und or observed"
)
_NEUTRAL = frozenset(_NEUTRAL_TEXT.split())
_ORDINALS = {
    **dict.fromkeys(("first", "1st", "i", "a", "primera", "primero", "premier", "erste"), 1),
    **dict.fromkeys(("second", "2nd", "ii", "b", "segunda", "segundo", "deuxieme", "zweite"), 2),
    **dict.fromkeys(("third", "3rd", "iii", "c", "tercera", "troisieme", "dritte"), 3),
}
_DIRECTIONS = {"n", "s", "e", "w", "ns", "ew", "o", "no so"}
_UNIT_WORDS = {
    "pulgadas": "in",
    "pulg": "in",
    "pies": "ft",
    "pouces": "in",
    "pieds": "ft",
    "zoll": "in",
    "fuss": "ft",
    "metros": "m",
    "grados": "deg",
    "degres": "deg",
    "grad": "deg",
    "mts": "m",
    "prozent": "%",
    "pourcent": "%",
    "porcentaje": "%",
    "per cent": "%",
    "º": "deg",
}
_LAST_UNITS = frozenset(
    ("cm", "mm", "m", "ft", "in", "inches", "inch", "feet", "deg", "pct", "%", "°", "percent")
) | {"metres", "meters"}
_BRACKETS = re.compile(r"[(\[{<]([^()\[\]{}<>]*)[)\]}>]")
_ABBREVIATION = re.compile(r"\b(?:[^\W\d_]\.){2,}")
_YEAR = re.compile(r"(?:19|20)[0-9]{2}")
_FEET_AND_INCHES = re.compile(r"(?:ft|feet|')\s*(?:and|&|\+|/|-|,|\.)?\s*(?:in|ins|inches|\")\.?")
_CROWN = frozenset(
    ("crown", "copa", "houppier", "couronne", "krone", "kronen", "kronendurchmesser", "branch")
)
# roles that a heading about the crown never names
_NOT_OF_CROWNS = ("diameter", "girth", "stem", "height", "distance", "foot_reading", "tree")
_WEAK = 0.5  # a heading of which less is understood names nothing


@dataclass(frozen=True)
class Heading:
    """What a heading says: its words, its unit ("" if none), its number, year and direction.

    `number` is 0 where it has none; `direction` is a compass letter such as "n" or "ns".
    """

    text: str
    words: tuple[str, ...]
    unit: TypedUnit | None = None
    number: int = 0
    year: int = 0
    direction: str = ""


def fold_text(text: str) -> str:
    """Return a text in small letters without accents, signs made spaces."""
    text = re.sub(r"(?i)\bn\s?[°º]", "no ", text)
    text = _ABBREVIATION.sub(lambda match: match[0].replace(".", ""), text)
    spread = re.sub(r"(?<=[^\W\d_])(?=[0-9])", " ", _part_words(text))
    plain = unicodedata.normalize("NFD", unicodedata.normalize("NFKC", spread).casefold())
    letters = "".join(c for c in plain if unicodedata.category(c) != "Mn")
    letters = letters.replace("#", " no ").replace("œ", "oe").replace("ø", "durchmesser")
    return " ".join(re.sub(r"[^\w%°]|_", " ", letters).split())


def _part_words(text: str) -> str:
    """Part the words of TopPct or treeHeight."""
    return re.sub(r"(?<=[a-zà-ÿ])(?=[A-ZÀ-Ý])", " ", text)


def unit_of(text: str) -> TypedUnit | None:
    """Return the unit that a text names, in any of the four languages; None for any other."""
    word = text.strip().strip(".:,;").strip()
    return unit_named(word) or unit_named(_UNIT_WORDS.get(fold_text(word), ""))


def read_heading(text: str) -> Heading:
    """Take a heading apart.

    Parameters
    ----------
    text : str
        The heading, of several lines joined by a space.
    """
    rest, unit = _take_unit(_part_words(text))
    words: list[str] = []
    number = year = 0
    direction = ""
    for word in fold_text(rest).split():
        if _YEAR.fullmatch(word):
            year = int(word)
        elif word.isdecimal() and int(word) < 20 and words[-1:] not in (["d"], ["c"], ["1"]):
            number = number or int(word)
            if words[-1:] in (["d"], ["c"]):
                words.append(word)
        elif (word in _ORDINALS and words and len(word) > 1) or (word in ("a", "b", "c") and words):
            number = number or _ORDINALS[word]
        elif word in _DIRECTIONS and words and word != "no":
            direction += word.replace("o", "w")
        else:
            words.append(_SAME.get(word, word))
    if direction == "n" and not {"crown", "radius", "spread", "copa", "houppier"} & set(words):
        direction = ""
        words.append("no")
    return Heading(text, tuple(words), unit, number, year, direction)


def _take_unit(text: str) -> tuple[str, TypedUnit | None]:
    """Return the heading without its unit, and the unit."""
    unit = None
    for bracket in _BRACKETS.finditer(text):
        inside = bracket[1].strip()
        known = unit_of(inside)
        if known is not None and unit is None:
            unit = known
            text = text.replace(bracket[0], " ")
        elif _FEET_AND_INCHES.fullmatch(inside.casefold()):
            text = text.replace(bracket[0], " ")
    if unit is None:
        pieces = re.split(r"[\s_,;:/]+", text.strip())
        last = pieces[-1] if len(pieces) > 1 else ""
        known = unit_of(last)
        if known is not None and (last.casefold() in _LAST_UNITS or fold_text(last) in _UNIT_WORDS):
            unit = known
            text = text.strip()[: -len(last)]
    return text, unit


@cache
def _phrases() -> tuple[tuple[str, frozenset[str], bool], ...]:
    """Return role, words and whether alone, of every phrase of the vocabulary."""
    phrases = []
    for role in ROLES:
        for phrase in role.phrases:
            alone = phrase.startswith("=")
            heading = read_heading(phrase.removeprefix("="))
            words = heading.words or tuple(fold_text(phrase).split())
            phrases.append((role.name, frozenset(words) - _NEUTRAL or frozenset(words), alone))
    return tuple(phrases)


def roles_of(heading: Heading) -> dict[str, float]:
    """Return the roles that a heading may name, each with a score from 0.5 to 1.

    The more of the heading's words a phrase accounts for, the higher the score; a phrase of more
    words beats one of fewer.
    """
    words = frozenset(heading.words) - _NEUTRAL or frozenset(heading.words)
    best: dict[str, float] = {}
    if not words:
        return best
    for role, phrase, alone in _phrases():
        if (phrase == words) if alone else phrase <= words:
            share = len(phrase) / len(words)
            best[role] = max(best.get(role, 0.0), share)
    if len(best) > 1:
        best.pop("tree", None)  # "distance to the tree" is about the distance
    if words & _CROWN:
        for role in _NOT_OF_CROWNS:
            best.pop(role, None)
    top = max(best.values(), default=0.0)
    return {role: share for role, share in best.items() if share >= max(top, _WEAK)}


def other_words(heading: Heading, role: str) -> str:
    """Return the words of a heading that its role does not account for, as they were typed."""
    known: frozenset[str] = frozenset()
    words = frozenset(heading.words)
    for name, phrase, _ in _phrases():
        if name == role and phrase <= words and len(phrase) > len(known):
            known = phrase
    rest, _ = _take_unit(heading.text)
    other_pieces = []
    for piece in re.split(r"[\s_,;:/()\[\]]+", rest):
        folded = [_SAME.get(word, word) for word in fold_text(piece).split()]
        if folded and not set(folded) & (known | _NEUTRAL):
            other_pieces.append(piece)
    return " ".join(other_pieces)
