"""The height of the eye above the foot that a foot reading implies, against the person's own.

A wrong scale, distance, sign or foot shows here first, because the eye of one person keeps its
height. The ground allows as much as the plot's slope makes over the distance. A person's usual
value comes from the plots that count as near level.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from xlhelpers.measure.slopes import slope_per_unit
from xlhelpers.survey.checks.facts import Facts, Numbers, Texts, group_members, spread
from xlhelpers.survey.checks.order import FEWEST_OF_PLOT, SAME, SHARE_OF_PLOT
from xlhelpers.survey.checks.ranges import too_tall, under_crown
from xlhelpers.survey.checks.record import NO_HITS, Hits, hits_where
from xlhelpers.survey.checks.scales import looks_hundredfold, scale_lacking
from xlhelpers.survey.model import BLANK
from xlhelpers.survey.setups.ways import BY_EYE
from xlhelpers.survey.typed.folding import Flags, Positions, positions_in
from xlhelpers.survey.typed.words import identifier_key, initials_in

# a person's own median is taken from so many near-level lines on, and their spread too
FEWEST_FOR_MEDIAN, FEWEST_FOR_SPREAD = 5, 8
# share of a plot's lines that show its ground if they put the eye equally high
SHARE_OF_GROUND = 1 / 3
# cut of the modified z, and the factor that makes the median deviation a standard deviation
CUT, TO_STANDARD_DEVIATION = 3.5, 1 / 0.6745


@dataclass(frozen=True)
class Eyes:
    """For each line: the implied eye height, the person's usual one, what it may differ by."""

    usable: Flags
    implied: Numbers
    usual: Numbers
    allowed: Numbers
    person: Texts


def _find_people(facts: Facts) -> tuple[Texts, Positions, Positions]:
    """Return for each plot its first initials, a code for the person, the row of the people."""
    crews = [next(iter(initials_in(str(crew))), "") for crew in facts.column("plots", "crew")]
    names = np.array(crews, dtype=object)
    # a plot without a crew is compared with itself only
    keys = [identifier_key(name) or f"\0{plot}" for plot, name in enumerate(crews)]
    codes = pd.factorize(np.array(keys, dtype=object))[0].astype(np.int64)
    row = positions_in(names, facts.column("people", "initials"), identifier_key)
    return names, codes, row


def _choose_lines(facts: Facts) -> Flags:
    """Lines whose foot was aimed at below the eye, as is typical."""
    ticked = facts.tick("foot_above_eye")
    sighted = np.isfinite(facts.setup("foot_slope")) & np.isfinite(facts.setup("eye_above_foot"))
    marked = np.isfinite(facts.number("mark_above_foot"))
    # a wrong scale that has a finding of its own is not reported again through the eye
    reported = looks_hundredfold(facts) | scale_lacking(facts)
    # nor is a distance so wrong that the tree is a giant, or seen from under its crown
    reported |= too_tall(facts) | under_crown(facts)
    reported |= np.isnan(facts.setup("total_height")) & facts.has_value("tip_reading")
    below = (facts.number("foot_reading") <= 0) | marked
    return sighted & below & ~ticked & ~reported & (facts.plot_position >= 0)


def _compute_usual(
    implied: Numbers, person: Positions, near: Flags, sheet: Numbers, limit: float
) -> tuple[Numbers, Numbers]:
    """Return each person's usual eye height and its spread (NaN: unknown)."""
    count = len(sheet)
    usual, deviation = sheet.copy(), np.full(count, np.nan)
    values = pd.Series(implied[near]).groupby(person[near])
    counts, medians = values.count(), values.median()
    codes = medians.index.to_numpy(dtype=np.int64)
    own = medians.to_numpy(dtype=float)
    # where the median itself is off what the people sheet says, a batch may be wrong
    trusted = (counts.to_numpy() >= FEWEST_FOR_MEDIAN) & ~(np.abs(own - sheet[codes]) > limit)
    usual[codes[trusted]] = own[trusted]
    apart = pd.Series(np.abs(implied[near] - usual[person[near]]))
    spreads = apart.groupby(person[near]).median().to_numpy(dtype=float)
    enough = trusted & (counts.to_numpy() >= FEWEST_FOR_SPREAD)
    deviation[codes[enough]] = spreads[enough] * TO_STANDARD_DEVIATION
    return usual, deviation


def _compare_eyes(facts: Facts) -> Eyes | None:
    usable = _choose_lines(facts)
    if not usable.any():
        return None
    names, codes, row = _find_people(facts)
    limit = facts.limit("limit_eye")
    slope = facts.of_plot("slope")
    near = usable & ~(slope > facts.limit("limit_level") + SAME)
    eye_heights = spread(facts.column("people", "eye_height"), row, np.nan)
    sheet = np.full(int(codes.max()) + 1, np.nan)
    sheet[codes] = eye_heights
    implied = facts.setup("eye_above_foot")
    person = codes[np.maximum(facts.plot_position, 0)]
    usual, deviation = _compute_usual(implied, person, near, sheet, limit)
    level = facts.setup("level_distance")
    # one graduation of the scale, over the distance
    scale = np.where(facts.shows_height, "", facts.setup_text("scale"))
    per_unit = slope_per_unit(facts.number("foot_reading"), scale, facts.setup("scale_distance"))
    mark = np.abs(level) * np.asarray(per_unit)
    allowed = np.fmax(np.fmax(limit, CUT * deviation[person]), mark)
    allowed = allowed + np.where(np.isnan(slope), 0.0, np.nan_to_num(slope) * level)
    return Eyes(usable, implied, usual[person], allowed, spread(names, facts.plot_position, ""))


def _differ(eyes: Eyes) -> Flags:
    return eyes.usable & (np.abs(eyes.implied - eyes.usual) > eyes.allowed + SAME)


def _find_plots_off(facts: Facts, eyes: Eyes) -> dict[int, tuple[int, ...]]:
    """Return the plots on which most lines are off to one side, or several equally far."""
    usable = np.bincount(facts.plot_position[eyes.usable], minlength=len(facts.survey.plots))
    plots_off: dict[int, tuple[int, ...]] = {}
    for low in (True, False):
        side = _differ(eyes) & ((eyes.implied < eyes.usual) == low)
        lines = np.flatnonzero(side)
        for plot, group in group_members(facts.plot_position[lines], lines).items():
            if len(group) < max(FEWEST_OF_PLOT, SHARE_OF_PLOT * usable[plot]):
                group = _equally_far(facts, eyes, group)
                if len(group) < max(FEWEST_OF_PLOT, SHARE_OF_GROUND * usable[plot]):
                    continue
            plots_off[plot] = max(plots_off.get(plot, ()), group, key=len)
    return plots_off


def _equally_far(facts: Facts, eyes: Eyes, group: tuple[int, ...]) -> tuple[int, ...]:
    """Return those of some lines that put the eye as high as their middle does."""
    implied = eyes.implied[list(group)]
    near = np.abs(implied - np.median(implied)) <= facts.limit("limit_eye") + SAME
    return tuple(np.array(group)[near].tolist())


def eye_height_plot(facts: Facts) -> Hits:
    """Plots on which most foot readings imply an eye too high, or too low, for the person."""
    eyes = _compare_eyes(facts)
    plots = {} if eyes is None else _find_plots_off(facts, eyes)
    if eyes is None or not plots:
        return NO_HITS
    groups = list(plots.values())
    first = np.array([group[0] for group in groups])
    return Hits(
        np.array(list(plots), dtype=np.int64),
        {
            "implied": np.array([np.median(eyes.implied[list(group)]) for group in groups]),
            "usual": eyes.usual[first],
            "count": np.array([len(group) for group in groups]),
            "whose": _name_owners(eyes.person[first]),
        },
        lines=groups,
    )


def eye_height_line(facts: Facts) -> Hits:
    """Lines whose foot reading implies an eye too high or too low for the person."""
    eyes = _compare_eyes(facts)
    if eyes is None:
        return NO_HITS
    mask = _differ(eyes)
    if not mask.any():
        return NO_HITS
    for group in _find_plots_off(facts, eyes).values():
        mask[list(group)] = False
    return hits_where(
        mask,
        implied=eyes.implied,
        usual=eyes.usual,
        allowed=eyes.allowed,
        whose=_name_owners(eyes.person),
    )


def foot_by_eye_lines(facts: Facts) -> Flags:
    """Lines without a foot reading on plots where the eye height stands for it."""
    asked = spread(facts.column("plots", "foot_by"), facts.plot_position, "")
    blank = facts.has_state("lines", "foot_reading", BLANK)
    return np.asarray((asked == BY_EYE) & blank & ~facts.shows_height, dtype=np.bool_)


def foot_by_eye(facts: Facts) -> Hits:
    """The plots on which the eye height gave the foot of trees, and what that may be out by."""
    used = foot_by_eye_lines(facts) & np.isfinite(facts.setup("total_height"))
    plots = facts.lines_of_plots(used)
    if not plots:
        return NO_HITS
    rows, groups = np.array(list(plots), dtype=np.int64), list(plots.values())
    slope = np.abs(facts.column("plots", "slope")[rows])
    stated = np.isfinite(slope)
    ground = np.where(stated, slope, facts.limit("limit_level"))
    level = np.array([np.median(facts.setup("level_distance")[list(group)]) for group in groups])
    return Hits(
        rows,
        {
            "count": np.array([len(group) for group in groups]),
            "eye": np.array([facts.setup("eye_height")[group[0]] for group in groups]),
            "ground": ground,
            "whence": np.where(stated, "the slope on Plots", "the steepest level ground").astype(
                object
            ),
            "apart": ground * level / np.sqrt(3.0),
        },
        lines=groups,
    )


def foot_by_eye_on_slope(facts: Facts) -> Hits:
    """Plots that are not level, on which the eye height was to stand for the foot."""
    plots = facts.lines_of_plots(foot_by_eye_lines(facts))
    slope = facts.column("plots", "slope")
    steep = [row for row in plots if abs(slope[row]) > facts.limit("limit_level") + SAME]
    if not steep:
        return NO_HITS
    rows, groups = np.array(steep, dtype=np.int64), [plots[row] for row in steep]
    counts = np.array([len(group) for group in groups])
    return Hits(rows, {"count": counts, "steepness": np.abs(slope[rows])}, lines=groups)


def _name_owners(people: Texts) -> Texts:
    return np.array([f"{name or 'The crew'}'s" for name in people], dtype=object)
