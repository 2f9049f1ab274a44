"""Headings of the field sheet, and words above them, which follow the survey rules by formulas.

Crown widths in fixed directions are named by their direction, and what the survey does not measure
is to be left blank.
"""

from collections.abc import Mapping
from types import MappingProxyType

from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.fields.quantities import Units
from xlhelpers.live.functions import evaluate
from xlhelpers.live.values import Values
from xlhelpers.survey.trees.widths import (
    DIRECTIONS,
    FIXED,
    NOT_MEASURED,
    RADII,
    RADIUS_FIELDS,
)

ALWAYS, WHEN_IT_APPLIES, WHEN_NEEDED = "always", "when it applies", "when needed"
LEAVE_BLANK = "leave blank"
_WIDTHS, _DEPTH = "TRIM(xlh_rule_crown_widths)", "TRIM(xlh_rule_crown_depth)"


_WIDTH_WORD = f'IF(OR({_WIDTHS}="{RADII}",{_WIDTHS}="{NOT_MEASURED}"),"{LEAVE_BLANK}","{ALWAYS}")'


def _crown_word(usual: str) -> str:
    return f'IF({_DEPTH}="{NOT_MEASURED}","{LEAVE_BLANK}","{usual}")'


RULE_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "width_widest": _WIDTH_WORD,
        "width_across": _WIDTH_WORD,
        "base_reading": _crown_word(ALWAYS),
        "top_reading": _crown_word(WHEN_IT_APPLIES),
        **dict.fromkeys(RADIUS_FIELDS, f'IF({_WIDTHS}="{RADII}","{ALWAYS}","{WHEN_NEEDED}")'),
    }
)
"""Field of the field sheet -> the formula of the word above its heading."""


def rule_headings(units: Units) -> dict[str, str]:
    """Return the formulas of the headings that follow the rules, by field.

    Every heading that they give is read as that of its field, so it does not matter what a program
    makes of the formula.
    """
    _, of_street = DIRECTIONS
    usual = ("width_widest", "widest"), ("width_across", "across")
    headings = {}
    for (name, word), compass, street in zip(usual, *DIRECTIONS.values(), strict=True):
        before, _, after = FIELD_SHEET[name].heading(units).partition(word)
        named = f'IF(TRIM(xlh_rule_width_directions)="{of_street}","{street}","{compass}")'
        headings[name] = f'"{before}"&IF({_WIDTHS}="{FIXED}",{named},"{word}")&"{after}"'
    return headings


def rule_text(formula: str, names: Mapping[str, Values]) -> str:
    """Return what the formula of a word or a heading gives.

    Parameters
    ----------
    formula : str
        The formula.
    names : mapping
        Values of the defined names, as `lookup_values` gives them.
    """
    return str(evaluate(formula, {}, names).python(1)[0])
