"""The cards: what each is called, and which of them a survey needs.

To add a card, add one function and one line of CARDS.
"""

from collections.abc import Callable, Mapping
from types import MappingProxyType

from xlhelpers.jobs.paper import (
    crown_cards,
    height_cards,
    station_card,
    stem_cards,
    width_cards,
)
from xlhelpers.jobs.paper.card import Card
from xlhelpers.jobs.paper.check_card import instrument_check
from xlhelpers.jobs.paper.crew_rules import CrewRules, crew_rules
from xlhelpers.measure.instruments import HEIGHT_SCALE
from xlhelpers.survey.model import Survey
from xlhelpers.survey.setups.instruments import instrument_table
from xlhelpers.survey.setups.ways import ALONG_SLOPE, STRAIGHT
from xlhelpers.survey.trees.widths import NOT_MEASURED

CARDS: Mapping[str, Callable[[CrewRules], Card]] = MappingProxyType(
    {
        "diameter": stem_cards.diameter,
        "several stems": stem_cards.several_stems,
        "crown width": width_cards.width,
        "crown top": crown_cards.true_top,
        "crown base": crown_cards.base,
        "percent": height_cards.percent,
        "degrees": height_cards.degrees,
        "topographic": height_cards.topographic,
        "fixed distance": height_cards.fixed_distance,
        ALONG_SLOPE: height_cards.along_slope,
        STRAIGHT: height_cards.straight,
        HEIGHT_SCALE: height_cards.display,
        "two stations": station_card.in_line,
        "pole": height_cards.pole,
        "eye height": height_cards.eye_height,
        "hidden foot": height_cards.hidden_foot,
        "leaning": height_cards.leaning,
        "dead top": height_cards.dead_top,
        "instrument check": instrument_check,
    }
)
# cards of one scale or one kind of distance; any crew may meet the others
_OF_INSTRUMENTS = frozenset(
    {"percent", "degrees", "topographic", "fixed distance", STRAIGHT, HEIGHT_SCALE}
)
_OF_CROWN_BASE = frozenset({"crown base", "pole"})


def cards_for(rules: CrewRules) -> tuple[str, ...]:
    """Return the names of all cards that the rules of a survey leave sense in."""
    without = set() if rules.with_base else set(_OF_CROWN_BASE)
    if rules.crowns.widths == NOT_MEASURED:
        without.add("crown width")
    return tuple(key for key in CARDS if key not in without)


def keys_in_use(survey: Survey) -> tuple[str, ...]:
    """Return the names of the cards for the survey's rules and instruments, and for rare cases."""
    scales = frozenset[str]().union(*instrument_table(survey).scales)
    kinds = frozenset(survey.plots["distance_kind"]) | frozenset(survey.lines["distance_kind"])
    unused = _OF_INSTRUMENTS - scales - kinds if scales else frozenset[str]()
    rules = crew_rules(survey.rules, survey.units)
    return tuple(key for key in cards_for(rules) if key not in unused)
