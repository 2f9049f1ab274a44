"""The words above some headings of the field sheet, which follow the survey rules by formulas.

Crown widths in fixed directions are named by their direction, and what the survey does not measure
is to be left blank.
"""

from collections.abc import Mapping
from types import MappingProxyType

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


def _width_word(place: int) -> str:
    """Return the formula of the word above the first or the second crown width."""
    compass, street = (names[place] for names in DIRECTIONS.values())
    _, of_street = DIRECTIONS
    named = f'IF(TRIM(xlh_rule_width_directions)="{of_street}","{street}","{compass}")'
    unused = f'OR({_WIDTHS}="{RADII}",{_WIDTHS}="{NOT_MEASURED}")'
    return f'IF({_WIDTHS}="{FIXED}",{named},IF({unused},"{LEAVE_BLANK}","{ALWAYS}"))'


def _crown_word(usual: str) -> str:
    return f'IF({_DEPTH}="{NOT_MEASURED}","{LEAVE_BLANK}","{usual}")'


RULE_WORDS: Mapping[str, str] = MappingProxyType(
    {
        "width_widest": _width_word(0),
        "width_across": _width_word(1),
        "base_reading": _crown_word(ALWAYS),
        "top_reading": _crown_word(WHEN_IT_APPLIES),
        **dict.fromkeys(RADIUS_FIELDS, f'IF({_WIDTHS}="{RADII}","{ALWAYS}","{WHEN_NEEDED}")'),
    }
)
"""Field of the field sheet -> the formula of the word above its heading."""


def rule_word(name: str, names: Mapping[str, Values]) -> str:
    """Return what the formula of a field gives.

    Parameters
    ----------
    name : str
        The field.
    names : mapping
        Values of the defined names, as `lookup_values` gives them.
    """
    return str(evaluate(RULE_WORDS[name], {}, names).python(1)[0])
