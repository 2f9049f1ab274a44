"""All checks of the tables in one place, in the order in which their findings are given.

Each record holds what is compared, what is said and what to do. The predicates are in the modules
of their subjects. The checks that weigh likelihoods are in `survey.doubt.table`.
"""

from collections.abc import Callable

from xlhelpers.fields.choices import CLOSING_WORDS
from xlhelpers.fields.field_sheet import FIELD_SHEET
from xlhelpers.sources import SOURCES
from xlhelpers.survey.checks import (
    completeness,
    copied,
    counts,
    duplicates,
    eye_height,
    order,
    places,
    ranges,
    repeats,
    scales,
    shapes,
    stations,
    words,
)
from xlhelpers.survey.checks.facts import Facts
from xlhelpers.survey.checks.record import (
    COMMON_PRACTICE,
    DEFINITION,
    Check,
    Hits,
    field_of,
    validate,
)
from xlhelpers.survey.checks.wording import blanks_of
from xlhelpers.survey.model import Severity
from xlhelpers.survey.quantities import Quantity
from xlhelpers.survey.trees.widths import RADIUS_FIELDS
from xlhelpers.survey.typed.folding import Flags

# ---- records that differ in little


def _not_listed(
    name: str, compares: str, sheet: str, severity: Severity, fails: Callable[[Facts], Hits]
) -> Check:
    return Check(
        id=f"{name}-unknown",
        severity=severity,
        block="paper",
        table="plots" if "." in compares else "lines",
        compares=(compares,),
        basis=DEFINITION,
        fails=fails,
        message=f"“{{word}}” is not listed on {sheet}. It is used {{count:times}}. {{proposal}}",
        action=f"Check the paper sheet. Correct the name, or add it to {sheet}.",
    )


def _cell_missing(
    check: str, compares: tuple[str, ...], fails: Callable[[Facts], Flags], message: str
) -> Check:
    them = "it" if len(compares) == 1 else "them"
    was = "it was" if len(compares) == 1 else "they were"
    measured = "recorded" if compares == ("species",) else "measured"
    return Check(
        id=check,
        severity="error",
        block="paper",
        table="lines",
        compares=compares,
        basis=DEFINITION,
        fails=fails,
        message=message,
        action=f"Check the paper sheet and type {them}. If {was} not {measured}, type the reason: "
        "NOT SAFE, NO ACCESS, NOT SEEN, NOT ASKED or UNREADABLE.",
        is_missing=True,
    )


def _setups_disagree(point: str, word: str, readings: tuple[str, ...]) -> Check:
    return Check(
        id=f"repeats-disagree-{point}",
        severity="warning",
        block="again",
        table="trees",
        compares=(*readings, "foot_reading", "distance"),
        basis="BrackWood1998",
        fails=repeats.compare_setups(point),
        message=word + ": set-up {one:count} gives {least:length}, set-up {other:count} gives "
        "{most:length}. They differ by {apart:fine length}; up to {allowed:fine length} is normal. "
        "The mean is shown.",
        action="Check the paper sheet. If it is right, measure again from a third place, about one "
        "tree height away. If there is no safe place, write NOT SAFE.",
    )


_READ_AGAIN = (
    "Check the paper sheet: are readings in the wrong boxes, is a sign missing, or is the scale "
    "wrong?"
)
_FARTHER = (
    "If the paper sheet says the same, measure again from at least one tree height away. If there "
    "is no safe place, write NOT SAFE."
)
_HEIGHT = "Check the distance, the tip reading and the scale on the paper sheet."
_STEM = "Check the paper sheet: decimal point, inches, or girth? If it is right, measure again."
_SCALE = "Check the paper sheet: which scale is marked, and which instrument was used?"
_CROWN = ("base_reading", "top_reading", "tip_reading", "base_by_pole", "foot_reading", "distance")

# a set-up that may be of another tree: the tree's mean may be over two trees
_OTHER_TREE: tuple[Quantity, ...] = ("height", "crown", "identity")

# what is wrong for a whole plot comes before what is wrong on a line
CHECKS: tuple[Check, ...] = (
    # ---- words that no sheet lists
    _not_listed("plot", "plot", "Plots", "error", words.plot_unknown),
    _not_listed("plot-instrument", "plot.instrument", "Instruments", "error",
                words.plot_instrument_unknown),
    _not_listed("line-instrument", "instrument", "Instruments", "error",
                words.line_instrument_unknown),
    _not_listed("stratum", "plot.stratum", "Strata", "warning", words.stratum_unknown),
    _not_listed("person", "plot.crew", "People", "warning", words.person_unknown),
    _not_listed("species", "species", "Species", "warning", words.species_unknown),
    Check("kind-unknown", "error", "paper", "instruments", ("instrument.kind",), DEFINITION,
          words.kind_unknown,
          message="“{word}” is not a known kind of instrument. {proposal}",
          action="Choose the kind from the list. The program then knows its scales and accuracy."),
    Check("condition-unknown", "error", "paper", "lines", ("condition",), DEFINITION,
          words.condition_unknown,
          message="“{word}” is not a condition.",
          action="Check the paper sheet. Type T for a dead top, C for cut back, D for dead, or "
                 "leave it blank for living."),
    Check("reason-in-other-words", "warning", "paper", "lines", ("missing_because",),
          COMMON_PRACTICE, words.reason_in_other_words,
          message="“{word}” is not one of the listed reasons. Other blanks on this line are not "
                  "listed separately.",
          action=f"Type one of {', '.join(CLOSING_WORDS)} or ?. Put the rest in the note."),

    # ---- cells that a plot needs
    Check("plot-status-blank", "warning", "crew", "plots", ("plot.status",), DEFINITION,
          completeness.plot_status_missing,
          message="The plot has {count:lines} but no status.",
          action="Choose “measured”, unless the crew says otherwise."),
    Check("plot-instrument-blank", "error", "paper", "plots", ("plot.instrument",), DEFINITION,
          completeness.plot_instrument_missing,
          message="No instrument is entered for this plot ({count:lines}).",
          action="Read it from the top of the paper sheet, or ask the crew."),
    Check("plot-scale-blank", "error", "paper", "plots", ("plot.scale", "plot.instrument"),
          DEFINITION, completeness.plot_scale_missing,
          message="The scale is missing, so there is no height on {count:lines}.",
          action="See which scale is marked on the paper sheet. If none is, ask the crew."),
    Check("plot-distance-kind-blank", "warning", "paper", "plots", ("plot.distance_kind",),
          DEFINITION, completeness.plot_distance_kind_missing,
          message="The kind of distance is missing. The distances were treated as level "
                  "({count:lines}).",
          action="Check the paper sheet: level, along the slope, or straight to the foot?"),

    # ---- areas and counts of plots
    Check("plot-area-impossible", "error", "paper", "plots",
          ("plot.area_inside", "plot.area_reached"), COMMON_PRACTICE, counts.plot_area_impossible,
          message="The plot area is {typed}. {why}",
          action="Check the plot's sheet and type the area in the unit shown in the heading. "
                 "Check the area on Strata too. All totals use these areas."),
    Check("trees-counted", "error", "paper", "plots", ("plot.trees_counted", "tree"), DEFINITION,
          counts.trees_counted,
          message="The crew counted {counted:trees}. {keyed:count are} entered. {numbers}",
          action="Check the paper sheets. Is a sheet still to be entered, or a tree number wrong? "
                 "If not, ask the crew."),
    Check("plot-without-lines", "error", "paper", "plots", ("plot.status", "plot.trees_counted"),
          DEFINITION, counts.plot_without_lines,
          message="No trees are entered for this plot, but its status is {status}.",
          action="Enter the plot's sheet, or choose the right status: no trees, refused, not "
                 "safe, outside or later."),
    Check("lines-on-unmeasured-plot", "warning", "crew", "plots", ("plot.status", "plot.plot"),
          DEFINITION, counts.lines_on_unmeasured_plot,
          message="The status is “{status}”, but {count:lines are} entered for this plot.",
          action="Ask the crew: is the status out of date, or is the plot number wrong?"),

    # ---- numbers that are used twice
    Check("duplicate-number", "error", "paper", "lines", ("tree", "plot", "species", "diameter"),
          DEFINITION, duplicates.duplicate_number,
          message="{count:count} different trees have this number: {which}. They are kept apart.",
          action="Check the paper sheet and correct the wrong number. If it is one tree measured "
                 "again, type its set-up number.", about=("identity",)),
    Check("setup-number-twice", "error", "paper", "lines", ("setup", "tree", "plot"), DEFINITION,
          duplicates.setup_number_twice,
          message="Set-up {setup:count} of this tree is entered on more than one line.",
          action="Check the paper sheet: is the tree number or the set-up number wrong?",
          about=_OTHER_TREE),
    Check("setup-other-species", "warning", "paper", "lines", ("species", "tree"), DEFINITION,
          duplicates.setup_other_species,
          message="This set-up says “{species}”, but the tree's first line says “{first}”.",
          action="Check the paper sheet: is it the same tree?", about=_OTHER_TREE),
    Check("setup-other-diameter", "warning", "paper", "lines", ("diameter", "tree"),
          "LuomaEtAl2017", duplicates.setup_other_diameter,
          message="This set-up has a diameter of {diameter:diameter}; the tree's first line has "
                  "{first:diameter}. Two measurements of one tree rarely differ that much.",
          action="Check the paper sheet: is it the same tree? The first line's diameter is used.",
          about=(*_OTHER_TREE, "diameter")),
    Check("plot-twice", "error", "paper", "plots", ("plot.plot",), DEFINITION,
          duplicates.plot_twice,
          message="The plot is listed {count:times} on Plots. Only the first row is used.",
          action="Keep one row for each plot."),
    Check("instrument-twice", "error", "paper", "instruments", ("instrument.instrument",),
          DEFINITION, duplicates.instrument_twice,
          message="The instrument is listed {count:times} on Instruments. Only the first row is "
                  "used.",
          action="Keep one row, or give each instrument its own name."),

    # ---- the scale that was read
    Check("plot-scale-lacking", "error", "paper", "plots", ("plot.scale", "plot.instrument"),
          DEFINITION, scales.plot_scale_lacking,
          message="The scale is {scale}, but {instrument} has only {scales}.",
          action=_SCALE),
    Check("line-scale-lacking", "error", "paper", "lines", ("scale", "instrument"), DEFINITION,
          scales.line_scale_lacking,
          message="The scale is {read}, but {name} has only {scales}.",
          action=_SCALE),
    Check("first-tip-other-scale", "error", "paper", "plots",
          ("plot.other_scale_tip", "plot.scale", "tip_reading"), "Identity",
          scales.first_tip_disagrees,
          message="The tip of tree {tree} reads {tip:reading} in {scale}. {twin}",
          action="Check both readings and the scale on the paper sheet. All heights on this plot "
                 "use this scale."),
    Check("readings-hundredfold", "error", "paper", "lines",
          ("tip_reading", "foot_reading", "base_reading", "top_reading"), DEFINITION,
          scales.readings_hundredfold,
          message="All readings are below 2, which gives a tree of {total_height:fine length}. "
                  "Times 100 they give {hundredfold:length}.",
          action="Check the paper sheet. If it says {tip_hundredfold:reading}, type that, and the "
                 "other readings likewise, without %."),

    # ---- cells that a line needs
    Check("plot-blank", "error", "paper", "lines", ("plot", "tree"), DEFINITION,
          completeness.plot_number_missing,
          message="This line has entries but no plot. A blank does not mean “same as above”.",
          action="Check the paper sheet and type the plot, or clear the row."),
    Check("tree-blank", "error", "paper", "lines", ("tree", "plot"), DEFINITION,
          completeness.tree_number_missing,
          message="This line has entries but no tree number. A blank does not mean “same as "
                  "above”.",
          action="Check the paper sheet and type the tree number, or clear the row."),
    _cell_missing("species-blank", ("species",), completeness.species_missing,
                  "The species is missing."),
    _cell_missing("diameter-blank", ("diameter",), completeness.diameter_missing,
                  "The diameter is missing."),
    _cell_missing("widths-blank", ("width_widest", "width_across"), completeness.widths_missing,
                  "Both crown widths are missing."),
    Check("radii-missing", "error", "paper", "lines", RADIUS_FIELDS, DEFINITION,
          completeness.radii_missing,
          message="The {missing} missing, so there is no crown width.",
          action="Check the paper sheet and type what is missing. Type 0 where the crown does not "
                 "reach past the stem. If it was not measured, type the reason: NOT SAFE, NO "
                 "ACCESS, NOT SEEN, NOT ASKED or UNREADABLE.", is_missing=True),
    Check("radii-unasked", "warning", "paper", "trees", RADIUS_FIELDS, DEFINITION,
          completeness.radii_unasked,
          message="Crown radii are entered, but the survey rules say “{crown_widths}” for crown "
                  "widths. The radii are not used.",
          action="If crews measure four radii, choose that on Survey rules. If not, clear these "
                 "cells.", is_missing=True),
    _cell_missing("no-readings", ("tip_reading", "distance", "foot_reading", "base_reading"),
                  completeness.no_readings,
                  "This line has no distance and no readings. The survey rules ask for a height "
                  "of every tree."),
    _cell_missing("distance-blank", ("distance",), completeness.distance_missing,
                  "The distance is missing, so there is no height."),
    _cell_missing("foot-blank", ("foot_reading",), completeness.foot_missing,
                  "The foot reading is missing, so there is no height."),
    _cell_missing("base-blank", ("base_reading",), completeness.base_missing,
                  "The crown base reading is missing, so there is no crown depth."),
    _cell_missing("tip-blank", ("tip_reading",), completeness.tip_missing,
                  "The tip reading is missing, so there is no height."),
    _cell_missing("slope-reading-blank", ("slope_reading",), completeness.slope_missing,
                  "The distance was measured along the slope, but the slope reading is missing. "
                  "There is no height without it."),
    Check("no-height", "error", "paper", "lines",
          ("tip_reading", "distance", "foot_reading", "scale", "instrument", "distance_kind"),
          DEFINITION, completeness.no_height,
          message="There are readings, but no height: {because}.",
          action="Check the paper sheet: distance, scale, kind of distance and instrument.",
          is_missing=True),

    # ---- order from the ground up
    Check("tip-not-above-foot", "error", "paper", "lines",
          ("tip_reading", "foot_reading", "distance"), DEFINITION, order.tip_not_above_foot,
          message="The tip (reading {tip_reading:reading}) is not above the foot (reading "
                  "{foot_reading:reading}).",
          action=_READ_AGAIN),
    Check("base-above-top", "error", "paper", "lines", _CROWN, DEFINITION, order.base_above_top,
          message="The crown base ({crown_base:length}, reading {base_reading:reading}) is above "
                  "the crown top ({upper:length}).",
          action=_READ_AGAIN),
    Check("top-above-tip", "error", "paper", "lines",
          ("top_reading", "tip_reading", "foot_reading", "distance"), DEFINITION,
          order.top_above_tip,
          message="The crown top ({crown_top:length}, reading {top_reading:reading}) is above the "
                  "tip ({total_height:length}, reading {tip_reading:reading}).",
          action=_READ_AGAIN),
    Check("base-below-foot", "error", "paper", "lines",
          ("base_reading", "foot_reading", "distance"), DEFINITION, order.base_below_foot,
          message="The crown base is {below:fine length} below the foot. Up to {allowed:fine "
                  "length} is within the accuracy.",
          action=_READ_AGAIN),
    Check("base-counts-as-zero", "note", "paper", "lines",
          ("base_reading", "foot_reading", "distance"), DEFINITION, order.base_counts_as_zero,
          message="The crown base is {below:fine length} below the foot. That is within the "
                  "accuracy ({allowed:fine length}), so it counts as 0.",
          action="Nothing to do."),
    Check("crown-of-no-depth", "warning", "paper", "lines", _CROWN, DEFINITION,
          order.crown_of_no_depth,
          message="Crown base and crown top are both at {crown_base:length}, so the crown depth is "
                  "0.",
          action=_READ_AGAIN),
    Check("foot-plus-unticked", "error", "paper", "lines", ("foot_reading", "foot_above_eye"),
          COMMON_PRACTICE, order.foot_plus_unticked_line,
          message="The foot reading is {foot_reading:signed reading}: the foot is above eye level. "
                  "But “foot above eye” is not marked.",
          action="Check the paper sheet. Type the minus if it is missing. If the foot really is "
                 "above the eye, mark “foot above "
                 "eye” with x."),
    Check("foot-plus-unticked-plot", "error", "paper", "plots",
          ("plot.plot", "foot_reading", "foot_above_eye"), COMMON_PRACTICE,
          order.foot_plus_unticked_plot,
          message="On {count:lines} of this plot, the foot reading is above eye level. But “foot "
                  "above eye” is not marked.",
          action="Check the paper sheet: are the minus signs missing? If the crew stood below the "
                 "trees, mark “foot above eye” with x."),
    Check("foot-ticked-without-plus", "error", "paper", "lines", ("foot_above_eye", "foot_reading"),
          COMMON_PRACTICE, order.foot_ticked_without_plus,
          message="“Foot above eye” is marked, but the foot reading is {foot_reading:reading}.",
          action="Check the paper sheet: is the mark or the sign wrong?"),
    Check("ratio-impossible", "error", "paper", "trees",
          ("base_reading", "top_reading", "tip_reading", "base_by_pole"), "DeYoungUndated",
          order.ratio_impossible,
          message="The set-ups give a crown from {crown_base:length} to {crown_top:length} on a "
                  "tree {total_height:length} tall. That is not possible.",
          action="Check the paper sheet: are all set-ups of one tree?"),

    # ---- the eye above the foot
    Check("eye-height-plot", "warning", "paper", "plots",
          ("plot.scale", "plot.distance_kind", "foot_reading", "distance"), "IglewiczHoaglin1993",
          eye_height.eye_height_plot,
          message="On {count:lines} of this plot, the readings put the eye {implied:fine length} "
                  "above the foot. {whose} eye height is usually {usual:fine length}.",
          action="Check the scale marked on the paper sheet and the unit of the distances. Is the "
                 "ground steeper than the plot's slope?"),
    Check("eye-height", "warning", "paper", "lines",
          ("foot_reading", "distance", "scale", "mark_above_foot"), "IglewiczHoaglin1993",
          eye_height.eye_height_line,
          message="From the foot reading ({foot_reading:reading} at {level_distance:length}), the "
                  "eye was {implied:fine length} above the foot. {whose} eye height is usually "
                  "{usual:fine length}; up to {allowed:fine length} difference is normal here.",
          action="Check the foot reading, its sign, the distance and the scale on the paper "
                 "sheet."),

    Check("foot-by-eye", "note", "crew", "plots", ("plot.foot_by", "plot.slope", "plot.crew"),
          COMMON_PRACTICE, eye_height.foot_by_eye,
          message="On {count:lines} the eye height ({eye:fine length}) stands for the foot. The "
                  "ground counts as level within {ground:percent} ({whence}). That alone makes a "
                  "height uncertain by {apart:fine length}, typically.",
          action="Nothing to do. Enter the plot's slope on Plots to narrow this down."),
    Check("foot-by-eye-on-slope", "warning", "crew", "plots", ("plot.foot_by", "plot.slope"),
          DEFINITION, eye_height.foot_by_eye_on_slope,
          message="The eye height stands for the foot on {count:lines}, but the plot's slope is "
                  "{steepness:percent}. Ground up to {limit_level:percent} counts as level.",
          action="Ask the crew if the ground at these trees was level. If not, measure the foot "
                 "readings."),

    # ---- where the instrument stood
    Check("distance-zero", "error", "paper", "lines", ("distance",), DEFINITION,
          ranges.distance_zero,
          message="The distance is 0, so there is no height.",
          action="Check the paper sheet and type the distance.", is_missing=True),
    Check("under-crown", "warning", "again", "lines", ("distance", "width_widest", "width_across"),
          COMMON_PRACTICE, ranges.under_crown_hits,
          message="The instrument was {level_distance:length} from the stem. The crown reaches "
                  "{half:length}. From under the crown you cannot see the tip.",
          action=_FARTHER),
    Check("too-close", "warning", "again", "lines", ("distance", "tip_reading", "foot_reading"),
          "NswGuidelineUndated", ranges.too_close_hits,
          message="The instrument was {level_distance:length} from a tree {total_height:length} "
                  "tall. That is {share:percent} of the height; the survey asks for at "
                  "least {limit_distance_share:percent}.",
          action=_FARTHER),

    # ---- limits
    Check("height-over-limit", "warning", "paper", "lines",
          ("tip_reading", "foot_reading", "distance"), COMMON_PRACTICE, ranges.too_tall,
          message="The total height is {total_height:length}. The survey's limit is "
                  "{limit_height:length}.",
          action=_HEIGHT),
    Check("height-under-breast-height", "error", "paper", "lines",
          ("tip_reading", "foot_reading", "distance"), DEFINITION,
          ranges.shorter_than_breast_height,
          message="The total height is {total_height:fine length}, below breast height "
                  "({breast_height:fine length}). But the tree has a diameter there.",
          action=_HEIGHT),
    Check("angle-over-limit", "warning", "again", "lines",
          ("tip_reading", "base_reading", "foot_reading", "top_reading", "distance"),
          "AschenbachUndated", ranges.too_steep,
          message="The steepest reading is {steepest:angle}. The survey's limit is "
                  "{limit_angle:angle}.",
          action="Measure again from about one tree height away. If there is no safe place, write "
                 "NOT SAFE."),
    Check("diameter-over-limit", "warning", "paper", "trees", ("diameter", "other_stems"),
          COMMON_PRACTICE, ranges.too_thick,
          message="The diameter is {largest_stem:diameter}. The survey's limit is "
                  "{limit_diameter:diameter}.",
          action=_STEM),
    Check("diameter-under-smallest", "warning", "paper", "trees", ("diameter", "other_stems"),
          DEFINITION, ranges.too_thin,
          message="The largest stem is {largest_stem:diameter}. The survey starts at "
                  "{smallest_diameter:diameter}.",
          action=_STEM),
    Check("stems-out-of-order", "warning", "paper", "lines", ("other_stems", "diameter"),
          DEFINITION, ranges.stems_out_of_order,
          message="Another stem ({largest:diameter}) is thicker than the one under Diameter "
                  "({diameter:diameter}).",
          action="Check the paper sheet. Put the thickest stem under Diameter."),
    Check("width-over-limit", "warning", "paper", "trees", ("width_widest", "width_across"),
          COMMON_PRACTICE, ranges.too_wide,
          message="The crown is {wider:length} wide. The survey's limit is {limit_width:length}.",
          action="Check the paper sheet: is the decimal point or the unit wrong? If it is right, "
                 "measure again."),
    Check("width-zero", "error", "paper", "trees", ("width_widest", "width_across"), DEFINITION,
          ranges.width_zero,
          message="A crown width is 0.",
          action="Check the paper sheet. If it was not measured, leave it blank and type the "
                 "reason."),
    Check("width-across-wider", "warning", "paper", "trees", ("width_across", "width_widest"),
          DEFINITION, ranges.width_across_wider,
          message="The width across ({width_across:length}) is larger than the widest "
                  "({width_widest:length}).",
          action="Check the paper sheet. They are probably swapped."),
    Check("width-one-only", "note", "paper", "trees", ("width_widest", "width_across"),
          COMMON_PRACTICE, ranges.width_one_only,
          message="Only one crown width is entered. It is used for both.",
          action="Add the other if the paper sheet has it."),

    Check("widths-differ", "warning", "paper", "trees", ("width_widest", "width_across"),
          COMMON_PRACTICE, shapes.widths_differ,
          message="One crown width is {ratio} times the other ({width_widest:length} and "
                  "{width_across:length}).",
          action="Check the paper sheet: is a decimal point or a digit wrong? If it is right, "
                 "accept it."),
    Check("stem-thick-for-genus", "warning", "paper", "trees", ("diameter", "other_stems"),
          "McPhersonEtAl2016", shapes.stem_too_thick_for_genus,
          message="The diameter is {largest_stem:diameter}. The thickest {genus} in the published "
                  "tree data has {thickest:diameter}.",
          action=_STEM),
    Check("crown-shallow", "warning", "paper", "trees", _CROWN, COMMON_PRACTICE,
          shapes.crown_shallow,
          message="The crown is only {live_crown_ratio:percent} of the height. On this plot, "
                  "{mates:percent} is typical.",
          action="Check the crown base reading on the paper sheet. If it is right, accept it."),
    Check("steep-sights", "note", "crew", "survey", ("tip_reading", "distance"), COMMON_PRACTICE,
          shapes.steep_sights,
          message="On {count:lines} the tip was read above 45° (100 %) from less than one tree "
                  "height away. Such heights are less accurate.",
          action="Nothing to do. Next time, stand about one tree height away."),

    # ---- set-ups of one tree
    _setups_disagree("tip", "Total height", ("tip_reading",)),
    _setups_disagree("top", "Crown top", ("top_reading",)),
    _setups_disagree("base", "Crown base", ("base_reading", "base_by_pole")),
    Check("setup-keyed-twice", "warning", "paper", "lines",
          ("tip_reading", "distance", "foot_reading", "base_reading", "top_reading"),
          COMMON_PRACTICE, repeats.setup_keyed_twice,
          message="Distance and readings are the same as in set-up {other:count}.",
          action="Check the paper sheet. If the line was entered twice, delete this one."),

    # ---- dead tops
    Check("dead-top-without-reading", "error", "paper", "lines", ("top_reading", "condition"),
          DEFINITION, order.dead_top_without_reading,
          message="The tree has a dead top (T), but the crown top reading is missing. There is no "
                  "crown depth without it.",
          action="Check the paper sheet. If it is not there, measure it. Nobody walks under "
                 "a dead top.", is_missing=True),
    Check("reading-without-dead-top", "error", "paper", "lines", ("condition", "top_reading"),
          DEFINITION, order.reading_without_dead_top,
          message="There is a crown top reading ({top_reading:reading}), but the condition is not "
                  "T. The reading is not used.",
          action="Check the paper sheet: is the T missing, or is the reading in the wrong box?"),
    Check("dead-top-short", "warning", "paper", "trees",
          ("top_reading", "tip_reading", "condition"), DEFINITION, order.dead_top_short,
          message="The dead top is {dead_top_length:fine length} long. The survey counts dead tops "
                  "from {limit_dead_top:fine length}.",
          action="Check both readings on the paper sheet. Is the top alive?"),

    # ---- whole lines and columns
    Check("copied-line", "warning", "paper", "lines",
          ("tip_reading", "base_reading", "foot_reading", "distance", "diameter", "width_widest",
           "width_across"), COMMON_PRACTICE, copied.copied_lines,
          message="{later} has the same {what} as {earlier}. It was probably copied from there and "
                  "not overwritten.",
          action="Check the paper sheet and type what it says for this tree."),
    Check("dragged-column", "warning", "paper", "lines", copied.DRAGGED_COLUMNS, COMMON_PRACTICE,
          copied.dragged_columns,
          message="From {start} to {last}, the {label} changes by the same step on all "
                  "{count:count} lines. The cell was probably dragged down.",
          action="Check the paper sheet and type these cells again."),

    # ---- values from another source, and blanks with a reason
    Check("recorded-depth-differs", "warning", "paper", "lines", ("recorded_depth", *_CROWN),
          DEFINITION, repeats.recorded_depth_differs,
          message="The crown depth on the sheet is {recorded_depth:fine length}. Computed from the "
                  "readings it is {computed:fine length}. Up to {limit_recorded:fine length} "
                  "difference is normal.",
          action="Find out where the sheet's value comes from. The computed value is used."),
    Check("recorded-width-differs", "warning", "paper", "lines",
          ("recorded_width", "width_widest", "width_across"), DEFINITION,
          repeats.recorded_width_differs,
          message="The mean crown width on the sheet is {recorded_width:fine length}. Computed "
                  "from the two widths it is {computed:fine length}. Up to {limit_recorded:fine "
                  "length} difference is normal.",
          action="Find out where the sheet's value comes from. The computed value is used."),
    Check("recorded-height-differs", "warning", "paper", "lines",
          ("recorded_height", "tip_reading", "foot_reading", "distance"), DEFINITION,
          repeats.recorded_height_differs,
          message="The total height on the sheet is {recorded_height:fine length}. Computed from "
                  "the readings it is {computed:fine length}. Up to {limit_recorded:fine length} "
                  "difference is normal.",
          action="Find out where the sheet's value comes from. The computed value is used."),
    Check("diameter-elsewhere", "warning", "paper", "lines", ("diameter_at", "diameter"),
          DEFINITION, places.diameter_elsewhere,
          message="The diameter was measured at {diameter_at:fine length}, not at breast height "
                  "({breast_height:fine length}). It is not corrected, and it is not compared with "
                  "the height.",
          action="Check the paper sheet. If breast height can be reached, measure there. If not, "
                 "accept this."),
    Check("tag-twice", "note", "paper", "lines", ("tag",), COMMON_PRACTICE, places.tags_twice,
          message="The tag “{word}” is on {count:count} trees: {which}.",
          action="Check the tags on the paper sheets. A tag on two trees finds neither."),
    Check("position-incomplete", "warning", "paper", "lines", ("latitude", "longitude"),
          DEFINITION, places.position_incomplete,
          message="Of latitude and longitude, only the {one} is entered. The tree has no position.",
          action="Check the paper sheet and type both, or clear both."),
    Check("position-off-plot", "warning", "paper", "trees", ("latitude", "longitude"),
          COMMON_PRACTICE, places.positions_off_plot,
          message="The tree is {away:rough length} from the middle of the {count:count} trees of "
                  "its plot that have a position. Up to {allowed:rough length} is normal here.",
          action="Check both numbers on the paper sheet: a digit, a missing minus, or latitude and "
                 "longitude swapped?"),
    Check("second-tip-missing", "error", "paper", "lines", ("second_tip_reading", "station_step"),
          DEFINITION, stations.second_tip_missing,
          message="There is a step between two stations, but the tip reading from the second one "
                  "is missing. There is no height.",
          action="Check the paper sheet. If it is not there, measure again.", is_missing=True),
    Check("stations-too-near", "error", "again", "lines",
          ("second_tip_reading", "tip_reading", "station_step"), COMMON_PRACTICE,
          stations.too_near,
          message="From the two stations the angles to the tip differ by {turned:angle}. A height "
                  "needs 8° or more.",
          action="Check the paper sheet. If it is right, measure again with the stations farther "
                 "apart. If there is no safe place, write NOT SAFE."),
    Check("station-step-unused", "warning", "paper", "lines", ("station_step", "distance"),
          DEFINITION, stations.step_unused,
          message="A distance and a step between two stations are both entered. The distance is "
                  "used.",
          action="Check the paper sheet. Clear the one that was not measured."),
    Check("closed-blanks", "note", "crew", "survey", ("missing_because",), COMMON_PRACTICE,
          repeats.closed_blanks,
          message="These blanks have a reason: {counts}.",
          action="Nothing to do."),
)  # fmt: skip
validate(CHECKS)

BLOCKS = {"paper": "look at the paper", "crew": "ask the crew", "again": "measure again"}
DESCRIBED = ("check", "severity", "look first", "compares", "says", "what to do", "basis")


def describe(checks: tuple[Check, ...] = CHECKS) -> list[tuple[str, ...]]:
    """Return one row of texts for each check, under the headings `DESCRIBED`."""
    return [
        (
            check.id,
            check.severity,
            BLOCKS[check.block],
            ", ".join(_label(name) for name in check.compares),
            _name_blanks(check.message),
            _name_blanks(check.action),
            SOURCES[check.basis].citation if check.basis in SOURCES else check.basis,
        )
        for check in checks
    ]


def _label(name: str) -> str:
    sheet, field = field_of(name)
    return field.label if sheet is FIELD_SHEET else f"{field.label} ({sheet.tab})"


def _name_blanks(template: str) -> str:
    """Return a template with its blanks as names in angle brackets."""
    for name, kind in blanks_of(template):
        blank = f"{{{name}:{kind}}}" if kind else f"{{{name}}}"
        template = template.replace(blank, f"<{name.replace('_', ' ')}>")
    return template
