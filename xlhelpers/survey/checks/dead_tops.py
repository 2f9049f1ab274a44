"""Dead tops: the condition and the reading to the living crown top belong together."""

import numpy as np

from xlhelpers.survey.checks.facts import Facts, same
from xlhelpers.survey.checks.order import SAME
from xlhelpers.survey.checks.record import DEFINITION, Check, where
from xlhelpers.survey.folding import Flags


def without_reading(facts: Facts) -> Flags:
    """Measured lines of condition T without a reading to the crown top."""
    dead_top = same(facts.text("condition"), "T") & facts.measured
    return dead_top & facts.missing("top_reading") & np.isnan(facts.setup("crown_top"))


def reading_without(facts: Facts) -> Flags:
    """A reading to the crown top on a tree without the condition T."""
    other = ~same(facts.condition, "T") & ~facts.refused("condition")
    return facts.given("top_reading") & other


def too_short(facts: Facts) -> Flags:
    """Dead tops shorter than the survey rules ask for."""
    length = facts.tree("dead_top_length")
    short = length < facts.limit("limit_dead_top") - SAME
    # a crown top above the tip is out of order and has its own check
    return short & (length >= 0) & same(facts.tree_text("condition"), "T")


DEAD_TOPS: tuple[Check, ...] = (
    Check(
        "dead-top-without-reading", "error", "paper", "lines", ("top_reading", "condition"),
        "The condition is T, a dead top, and there is no reading to the living crown top.",
        "Look at the paper sheet; otherwise the crown depth stays unknown until it is measured "
        "again. Nobody walks under a dead top.",
        DEFINITION, where(without_reading),
    ),
    Check(
        "reading-without-dead-top", "error", "paper", "lines", ("condition", "top_reading"),
        "There is a reading to the crown top ({top_reading:reading}), and the condition is not T. "
        "The reading is not used.",
        "Look at the paper sheet: is the T missing, or does the reading stand in a wrong box?",
        DEFINITION, where(reading_without),
    ),
    Check(
        "dead-top-short", "warning", "paper", "trees",
        ("top_reading", "tip_reading", "condition"),
        "The dead top is {dead_top_length:fine length} long; below {limit_dead_top:fine length} it "
        "is no dead top by the survey rules.",
        "Look at the paper sheet: the two readings, or is the top alive?",
        DEFINITION, where(too_short),
    ),
)  # fmt: skip
