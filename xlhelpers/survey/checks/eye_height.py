"""The height of the eye above the foot that a foot reading implies, against the person's own.

A wrong scale, distance, sign or foot shows here first, because the eye of one person keeps its
height. The ground allows as much as the plot's slope makes over the distance. A person's usual
value comes from the plots that count as near level.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd

from xlhelpers.measure.slopes import slope_per_unit
from xlhelpers.survey.checks.facts import Facts, Numbers, Texts, grouped, same, spread
from xlhelpers.survey.checks.order import FEWEST_OF_PLOT, SAME, SHARE_OF_PLOT
from xlhelpers.survey.checks.ranges import too_tall, under_crown
from xlhelpers.survey.checks.record import NOTHING, Check, Hits, hits
from xlhelpers.survey.checks.scales import looks_hundredfold, scale_told
from xlhelpers.survey.typed.folding import Flags, Positions, positions_in
from xlhelpers.survey.typed.words import identifier_key, initials_in

# a person's own median is taken from so many near-level lines on, and their spread too
FEWEST_FOR_MEDIAN, FEWEST_FOR_SPREAD = 5, 8
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


def _people_of_plots(facts: Facts) -> tuple[Texts, Positions, Positions]:
    """Return for each plot its first initials, a code for the person, the row of the people."""
    crews = [next(iter(initials_in(str(crew))), "") for crew in facts.column("plots", "crew")]
    names = np.array(crews, dtype=object)
    # a plot without a crew is compared with itself only
    keys = [identifier_key(name) or f"\0{plot}" for plot, name in enumerate(crews)]
    codes = pd.factorize(np.array(keys, dtype=object))[0].astype(np.int64)
    row = positions_in(names, facts.column("people", "initials"), identifier_key)
    return names, codes, row


def _usable(facts: Facts) -> Flags:
    """Lines whose foot was sighted below the eye, as is usual."""
    ticked = facts.tick("foot_above_eye")
    sighted = np.isfinite(facts.setup("foot_slope")) & np.isfinite(facts.setup("eye_above_foot"))
    marked = np.isfinite(facts.number("mark_above_foot"))
    # a wrong scale that has a finding of its own is not said again through the eye
    told = looks_hundredfold(facts) | scale_told(facts)
    # nor is a distance so wrong that the tree is a giant, or seen from under its crown
    told |= too_tall(facts) | under_crown(facts)
    told |= np.isnan(facts.setup("total_height")) & facts.given("tip_reading")
    below = (facts.number("foot_reading") <= 0) | marked
    return sighted & below & ~ticked & ~told & (facts.plot_position >= 0)


def _usual(
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


def _eyes(facts: Facts) -> Eyes | None:
    usable = _usable(facts)
    if not usable.any():
        return None
    names, codes, row = _people_of_plots(facts)
    limit = facts.limit("limit_eye")
    slope = facts.of_plot("slope")
    near = usable & ~(slope > facts.limit("limit_level") + SAME)
    eye_heights = spread(facts.column("people", "eye_height"), row, np.nan)
    sheet = np.full(int(codes.max()) + 1, np.nan)
    sheet[codes] = eye_heights
    implied = facts.setup("eye_above_foot")
    person = codes[np.maximum(facts.plot_position, 0)]
    usual, deviation = _usual(implied, person, near, sheet, limit)
    level = facts.setup("level_distance")
    # one graduation of the scale, over the distance
    mark = np.abs(level) * np.asarray(
        slope_per_unit(
            facts.number("foot_reading"), _sighted_scale(facts), facts.setup("scale_distance")
        )
    )
    allowed = np.fmax(np.fmax(limit, CUT * deviation[person]), mark)
    allowed = allowed + np.where(np.isnan(slope), 0.0, np.nan_to_num(slope) * level)
    return Eyes(usable, implied, usual[person], allowed, spread(names, facts.plot_position, ""))


def _sighted_scale(facts: Facts) -> Texts:
    scale = facts.setup_text("scale")
    return np.where(same(scale, "height"), "", scale)


def _off(eyes: Eyes) -> Flags:
    return eyes.usable & (np.abs(eyes.implied - eyes.usual) > eyes.allowed + SAME)


def _plots_off(facts: Facts, eyes: Eyes) -> dict[int, tuple[int, ...]]:
    """Return the plots on which most lines are off to one side, with those lines."""
    usable = np.bincount(facts.plot_position[eyes.usable], minlength=len(facts.survey.plots))
    found = {}
    for low in (True, False):
        side = _off(eyes) & ((eyes.implied < eyes.usual) == low)
        lines = np.flatnonzero(side)
        for plot, group in grouped(facts.plot_position[lines], lines).items():
            if len(group) >= max(FEWEST_OF_PLOT, SHARE_OF_PLOT * usable[plot]):
                found[plot] = group
    return found


def eye_of_plot(facts: Facts) -> Hits:
    """Plots on which most foot readings imply an eye too high, or too low, for the person."""
    eyes = _eyes(facts)
    plots = {} if eyes is None else _plots_off(facts, eyes)
    if eyes is None or not plots:
        return NOTHING
    groups = list(plots.values())
    first = np.array([group[0] for group in groups])
    return Hits(
        np.array(list(plots), dtype=np.int64),
        {
            "implied": np.array([np.median(eyes.implied[list(group)]) for group in groups]),
            "usual": eyes.usual[first],
            "count": np.array([len(group) for group in groups]),
            "person": _named(eyes.person[first]),
        },
        lines=groups,
    )


def eye_of_line(facts: Facts) -> Hits:
    """Lines whose foot reading implies an eye too high or too low for the person."""
    eyes = _eyes(facts)
    if eyes is None:
        return NOTHING
    mask = _off(eyes)
    if not mask.any():
        return NOTHING
    for group in _plots_off(facts, eyes).values():
        mask[list(group)] = False
    return hits(
        mask,
        implied=eyes.implied,
        usual=eyes.usual,
        allowed=eyes.allowed,
        person=_named(eyes.person),
    )


def _named(people: Texts) -> Texts:
    return np.array(
        [f"that of {name}" if name else "that of the crew" for name in people], dtype=object
    )


EYE_HEIGHT: tuple[Check, ...] = (
    Check(
        "eye-height-plot",
        "warning",
        "paper",
        "plots",
        ("plot.scale", "plot.distance_kind", "foot_reading", "distance"),
        "On {count:lines} of the plot the foot readings put the eye {implied:fine length} "
        "above the foot; {person} is usually at {usual:fine length}.",
        "Look at the paper sheet: which scale is ticked, are the distances in the right unit, is "
        "the ground steeper than the plot's slope says?",
        "IglewiczHoaglin1993",
        eye_of_plot,
    ),
    Check(
        "eye-height",
        "warning",
        "paper",
        "lines",
        ("foot_reading", "distance", "scale", "mark_above_foot"),
        "The foot reading ({foot_reading:reading} at {level_distance:length}) puts the eye "
        "{implied:fine length} above the foot; {person} is usually at {usual:fine length}, and "
        "{allowed:fine length} may lie between them here.",
        "Look at the paper sheet: the foot reading, its sign, the distance, the scale ticked.",
        "IglewiczHoaglin1993",
        eye_of_line,
    ),
)
