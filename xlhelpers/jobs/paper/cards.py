"""The cards by name, and which of them a survey needs.

To add a way of measuring, add one function and one line here.
"""

from collections.abc import Callable, Mapping
from types import MappingProxyType

from xlhelpers.fields.quantities import Units
from xlhelpers.jobs.paper import cards_cases, cards_direct, cards_sighted
from xlhelpers.jobs.paper.card import Card
from xlhelpers.measure.instruments import HEIGHT_SCALE
from xlhelpers.survey.model import Survey
from xlhelpers.survey.setups.instruments import instrument_table
from xlhelpers.survey.setups.ways import ALONG_SLOPE, STRAIGHT

CARDS: Mapping[str, Callable[[Units], Card]] = MappingProxyType(
    {
        "percent": cards_sighted.percent,
        "degrees": cards_sighted.degrees,
        "topographic": cards_sighted.topographic,
        "fixed distance": cards_sighted.fixed_distance,
        ALONG_SLOPE: cards_sighted.along_slope,
        STRAIGHT: cards_direct.straight,
        HEIGHT_SCALE: cards_direct.display,
        "pole": cards_direct.pole,
        "eye height": cards_direct.eye_height,
        "hidden foot": cards_cases.hidden_foot,
        "leaning": cards_cases.leaning,
        "dead top": cards_cases.dead_top,
    }
)
# any crew may meet these
_ALWAYS = frozenset({ALONG_SLOPE, "pole", "eye height", "hidden foot", "leaning", "dead top"})


def keys_in_use(survey: Survey) -> tuple[str, ...]:
    """Return the names of the cards for the survey's instruments and for the usual rare cases."""
    scales = frozenset[str]().union(*instrument_table(survey).scales)
    kinds = frozenset(survey.plots["distance_kind"]) | frozenset(survey.lines["distance_kind"])
    wanted = _ALWAYS | scales | kinds if scales else frozenset(CARDS)
    return tuple(key for key in CARDS if key in wanted)
