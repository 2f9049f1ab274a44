"""The checks that rest on likelihoods and patterns, as records like all other checks.

Their predicates need more than the tables: `explain` and `patterns` work out the hits and put them
into these records.
"""

from dataclasses import replace

import pandas as pd

from xlhelpers.survey.checks.facts import Facts
from xlhelpers.survey.checks.record import COMMON_PRACTICE, DEFINITION, NOTHING, Check, Hits
from xlhelpers.survey.checks.run import run_checks
from xlhelpers.survey.checks.table import validate
from xlhelpers.survey.model import Finding, Survey


def _worked_out_elsewhere(facts: Facts) -> Hits:
    return NOTHING


UNLIKELY = Check(
    "unlikely-tree",
    "warning",
    "paper",
    "lines",
    ("tip_reading", "foot_reading", "base_reading", "distance", "diameter", "width_widest"),
    "{doubt}",
    "Look at the paper sheet: {look} If it is as keyed, measure again from about one tree height "
    "away, or accept it.",
    "McPhersonEtAl2016",
    _worked_out_elsewhere,
)
OTHER_SCALE = Check(
    "lines-on-other-scale",
    "warning",
    "paper",
    "plots",
    # all that the weighing of a plot rests on: a change of any opens it, and what is under it
    (
        "plot.scale",
        "plot.instrument",
        "tip_reading",
        "foot_reading",
        "base_reading",
        "top_reading",
        "distance",
        "diameter",
        "width_widest",
        "width_across",
        "scale",
        "slope_reading",
        "mark_above_foot",
    ),
    "{where} {count:lines} together look as if read {scale}: the trees would then be "
    "{then:length} high on average instead of {now:length}, and the eye {eye:fine length} above "
    "the foot instead of {was:fine length}.",
    "Look at the paper sheets: which scale is ticked? Then choose it for the plot; nothing was "
    "changed.",
    "McPhersonEtAl2016",
    _worked_out_elsewhere,
)
OTHER_BASE = Check(
    "fixed-distance-other",
    "warning",
    "paper",
    "instruments",
    ("instrument.scale_distance",),
    "The {count:lines} read with this instrument together look as if read {scale}: the trees would "
    "then be {then:length} high on average instead of {now:length}, and the eye {eye:fine length} "
    "above the foot instead of {was:fine length}.",
    "Look at the instrument: which distance is its scale made for? Then correct it on the sheet "
    "Instruments, or name the other instrument for the plots; nothing was changed.",
    "McPhersonEtAl2016",
    _worked_out_elsewhere,
)
STRANGERS = Check(
    "diameters-of-other-trees",
    "error",
    "paper",
    "survey",
    ("diameter",),
    "The diameters on the sheet {sheet} do not go with its trees: over {count:trees} they fit the "
    "heights and crown widths only {fit} standard deviations better than diameters dealt out by "
    "chance, and a tree's own would fit {wanted} better.{moved} Was the column sorted or pasted by "
    "itself, or a line off? Until that is settled no cause is named for a line of this sheet.",
    "Compare the diameters of three lines with the paper sheets. If they are other trees', undo "
    "the sorting or take the column from a copy of before. If they are right, because all trees "
    "are cut back to one height, say, accept it.",
    "McPhersonEtAl2016",
    _worked_out_elsewhere,
)
SAME_DISTANCE = Check(
    "one-distance-for-all",
    "warning",
    "crew",
    "plots",
    ("distance",),
    "All {count:lines} of the plot have the distance {distance:length}, though the trees are "
    "between {least:length} and {most:length} high.",
    "Ask the crew whether each distance was measured; if only the first was, measure again.",
    COMMON_PRACTICE,
    _worked_out_elsewhere,
)
OUT_OF_ADJUSTMENT = Check(
    "instrument-out-of-adjustment",
    "warning",
    "crew",
    "instruments",
    ("instrument.instrument",),
    "By its checks the instrument reads {zero:angle} {side} ({count:count} readings, standard "
    "uncertainty {u:angle}); sighted from one tree height that is about {share} of a height.",
    "Have it adjusted. The heights keyed so far are not corrected; ask whoever answers for the "
    "survey whether they are to be.",
    "Identity",
    _worked_out_elsewhere,
)
ZERO_BY_REPEATS = Check(
    "instrument-zero-by-repeats",
    "warning",
    "crew",
    "instruments",
    ("instrument.instrument",),
    "Trees measured from several places come out as if the instrument read {zero:angle} {side} "
    "(standard uncertainty {u:angle}, {count:trees}); sighted from one tree height that is about "
    "{share} of a height.",
    "Check it against a known height and level, there and back. The heights keyed so far are not "
    "corrected; ask whoever answers for the survey whether they are to be.",
    "Identity",
    _worked_out_elsewhere,
)
INSTRUMENTS_DIFFER = Check(
    "instruments-differ",
    "warning",
    "crew",
    "instruments",
    ("instrument.instrument",),
    "On {count:trees} that both were used on, {one} gives heights {share} greater than {other} "
    "(standard uncertainty {u}).",
    "Check both against a known height, and their tapes against each other. Nothing was changed.",
    COMMON_PRACTICE,
    _worked_out_elsewhere,
)
NO_RECENT_CHECK = Check(
    "instrument-not-checked",
    "note",
    "crew",
    "instruments",
    ("instrument.instrument",),
    "{text}",
    "Check it against a known height and level, there and back, and write the readings on the "
    "sheet Instrument checks.",
    COMMON_PRACTICE,
    _worked_out_elsewhere,
)
NO_REPEATS = Check(
    "no-repeats",
    "note",
    "crew",
    "survey",
    ("setup",),
    "{person} measured {trees:trees} and none from a second place; the survey rules ask for "
    "{repeats_wanted:percent}.",
    "Let the crew measure some trees of its next plots twice; repeats show how far to trust a "
    "height.",
    DEFINITION,
    _worked_out_elsewhere,
)
HEAPING = Check(
    "digits-heaped",
    "note",
    "crew",
    "survey",
    ("tip_reading",),
    "{share:percent} of the {count:count} {what} by {person} end in 0 or 5, where {usual:percent} "
    "would be usual: they look rounded.",
    "Ask the crew to read to the mark of the scale.",
    "WhippleUndated",
    _worked_out_elsewhere,
)
CHECKS: tuple[Check, ...] = (
    STRANGERS,
    OTHER_SCALE,
    OTHER_BASE,
    UNLIKELY,
    SAME_DISTANCE,
    OUT_OF_ADJUSTMENT,
    ZERO_BY_REPEATS,
    INSTRUMENTS_DIFFER,
    NO_RECENT_CHECK,
    NO_REPEATS,
    HEAPING,
)
validate(CHECKS)


def found(
    check: Check, hits: Hits, survey: Survey, setups: pd.DataFrame, trees: pd.DataFrame
) -> tuple[Finding, ...]:
    """Return the findings of hits that were worked out beforehand."""
    if len(hits.rows) == 0:
        return ()
    return run_checks(survey, setups, trees, (replace(check, fails=lambda facts: hits),))
