"""The checks that weigh likelihoods and patterns, as records like all other checks.

Their predicates need more than the tables: `explain`, `batches`, `patterns` and others work out
the hits, and `make_findings` puts them into these records.
"""

from dataclasses import replace

from xlhelpers.survey.checks.facts import Facts
from xlhelpers.survey.checks.record import (
    COMMON_PRACTICE,
    DEFINITION,
    NO_HITS,
    Check,
    Hits,
    validate,
)
from xlhelpers.survey.checks.run import run_checks
from xlhelpers.survey.model import Finding
from xlhelpers.survey.outcome import Outcome


def _elsewhere(facts: Facts) -> Hits:
    return NO_HITS


CHECKS: tuple[Check, ...] = (
    Check("diameters-of-other-trees", "error", "paper", "survey", ("diameter",),
          "McPhersonEtAl2016", _elsewhere,
          message="The diameters on “{sheet}” probably belong to other trees. They fit the heights "
                  "and crowns of {count:trees} hardly better than shuffled ones.{moved} Was the "
                  "column sorted or pasted on its own? Until this is resolved, no cause is named "
                  "for a line of this sheet.",
          action="Compare three lines with the paper sheets. If they are wrong, undo the sorting, "
                 "or copy the column from an earlier version. If they are right (all trees cut to "
                 "one height, for example), accept this."),
    # all that the weighing of a plot uses: a change of any opens it, and what is under it
    Check("lines-on-other-scale", "warning", "paper", "plots",
          ("plot.scale", "plot.instrument", "tip_reading", "foot_reading", "base_reading",
           "top_reading", "distance", "diameter", "width_widest", "width_across", "scale",
           "slope_reading", "mark_above_foot"), "McPhersonEtAl2016", _elsewhere,
          message="{where} {count:lines} were probably read {scale}. The average height would then "
                  "be {then:length} (now {now:length}){eyes}",
          action="See which scale is marked on the paper sheets, then choose it for the plot. "
                 "Nothing was changed."),
    Check("fixed-distance-other", "warning", "paper", "instruments", ("instrument.scale_distance",),
          "McPhersonEtAl2016", _elsewhere,
          message="With this instrument, {count:lines} were probably read {scale}. The average "
                  "height would then be {then:length} (now {now:length}) and the eye height "
                  "{eye:fine length} (now {was:fine length}).",
          action="Read on the instrument which distance its scale is for. Correct it on "
                 "Instruments, or enter the other instrument for the plots. Nothing was changed."),
    Check("unlikely-tree", "warning", "paper", "lines",
          ("tip_reading", "foot_reading", "base_reading", "distance", "diameter", "width_widest"),
          "McPhersonEtAl2016", _elsewhere,
          message="{doubt}",
          action="Check the paper sheet. {look} If it matches, measure again from about one tree "
                 "height away, or accept it."),
    Check("one-distance-for-all", "warning", "crew", "plots", ("distance",), COMMON_PRACTICE,
          _elsewhere,
          message="All {count:lines} of this plot have the same distance, {distance:length}, but "
                  "the trees are {least:length} to {most:length} tall.",
          action="Ask the crew if each distance was measured. If not, measure again."),
    Check("instrument-out-of-adjustment", "warning", "crew", "instruments",
          ("instrument.instrument",), "Identity", _elsewhere,
          message="{text}",
          action="Have it adjusted. Heights already entered are not corrected. Ask the survey "
                 "manager if they should be."),
    Check("instrument-zero-by-repeats", "warning", "crew", "instruments",
          ("instrument.instrument",), "Identity", _elsewhere,
          message="Trees measured from several places suggest that the instrument reads "
                  "{zero:angle} {side} (± {u:angle}, {count:trees}). From one tree height away, "
                  "that changes a height by about {share}.",
          action="Check it against a known height and with the two-way level check. Heights "
                 "already entered are not corrected. Ask the survey manager if they should be."),
    Check("instruments-differ", "warning", "crew", "instruments", ("instrument.instrument",),
          COMMON_PRACTICE, _elsewhere,
          message="On {count:trees} measured with both, {one} gives heights {share} greater than "
                  "{other} (± {u}).",
          action="Check both against a known height and compare their tapes. Nothing was changed."),
    Check("instrument-not-checked", "note", "crew", "instruments", ("instrument.instrument",),
          COMMON_PRACTICE, _elsewhere,
          message="{text}",
          action="Check it against a known height and with the two-way level check. Enter the "
                 "readings on Instrument checks."),
    # made by `checks.rule_questions`, in place of the findings of another check
    Check("rule-to-confirm", "warning", "crew", "survey", ("width_widest", "width_across"),
          COMMON_PRACTICE, _elsewhere,
          message="On {count} of {all} trees or lines, one and the same thing does not fit. Is the "
                  "survey rule about it right?",
          action="Choose another rule, or enter what is missing, or accept this. One such question "
                 "replaces the findings of a check that concerns more than half of the lines.",
          about=("identity",)),
    Check("no-repeats", "note", "crew", "survey", ("setup",), DEFINITION, _elsewhere,
          message="{person} measured {trees:trees}, none from two places. The survey rules ask for "
                  "{repeats_wanted:percent}.",
          action="Let the crew measure some trees of its next plots from two places. That "
                 "shows how accurate the heights are."),
    Check("wide-crowns-one-place", "note", "crew", "survey", ("setup",), "Bragg2007", _elsewhere,
          message="{once:trees} with a wide crown were measured from one place only. If the crew "
                  "aimed at the near edge of the crown and not at the tip, a height is too great, "
                  "typically by up to {usual:length} (tree {worst}: {most:length}). One place "
                  "alone does not show this.",
          action="Measure some of these trees from a second place, across from the first one. The "
                 "tab Trees shows for each tree by how much it may be too high."),
    Check("digits-heaped", "note", "crew", "survey", ("tip_reading",), "WhippleUndated", _elsewhere,
          message="{share:percent} of {whose} {count:count} readings end in 0 or 5; "
                  "{usual:percent} is typical. They are probably rounded.",
          action="Ask the crew to read to the nearest mark of the scale."),
)  # fmt: skip
validate(CHECKS)
_BY_ID = {check.id: check for check in CHECKS}


def make_findings(outcome: Outcome, check_id: str, hits: Hits) -> tuple[Finding, ...]:
    """Return the findings of hits that were worked out beforehand.

    Parameters
    ----------
    outcome : Outcome
        The survey, its set-ups and its trees.
    check_id : str
        Which of `CHECKS`.
    hits : Hits
        Its rows.
    """
    if len(hits.rows) == 0:
        return ()
    check = replace(_BY_ID[check_id], fails=lambda facts: hits)
    return run_checks(outcome.survey, outcome.setups, outcome.trees, (check,))
