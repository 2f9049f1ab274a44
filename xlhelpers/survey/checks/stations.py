"""Trees measured from two stations in line: second readings, stations too near each other."""

import numpy as np

from xlhelpers.survey.checks.facts import Facts
from xlhelpers.survey.checks.record import Hits, hits_where
from xlhelpers.survey.setups.reasons import stations_too_near
from xlhelpers.survey.typed.folding import Flags


def second_tip_missing(facts: Facts) -> Flags:
    """Lines with a step between two stations and no tip reading from the second one."""
    step = facts.has_value("station_step") & ~facts.has_value("distance") & ~facts.shows_height
    return facts.is_missing("second_tip_reading") & step & facts.has_value("tip_reading")


def too_near(facts: Facts) -> Hits:
    """Lines whose two angles to the tip differ by too little, with that difference."""
    first, second = facts.setup("tip_slope"), facts.setup("second_tip_slope")
    turned = np.abs(np.degrees(np.arctan(first) - np.arctan(second)))
    return hits_where(stations_too_near(facts.survey, first, second), turned=turned)


def step_unused(facts: Facts) -> Flags:
    """Lines with a distance and a step between two stations."""
    return (facts.number("distance") > 0) & (facts.number("station_step") > 0)
