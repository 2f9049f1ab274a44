"""What is usual for each line: its species by the reference and the survey's own trees, its crew.

The survey's own trees correct the reference level by level, all trees, then kind, genus, species:
each level by the share n / (n + weight) of its own robust line, n its number of trees. So few
trees leave the reference as it is and many replace it. The habits of a person start in the same
way from those of all people of the survey.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from xlhelpers.survey.doubt.readings import Measured
from xlhelpers.survey.doubt.reference import Curves, curves_for, position
from xlhelpers.survey.doubt.robust import Numbers, group_lines, group_medians, group_spreads
from xlhelpers.survey.model import Survey
from xlhelpers.survey.typed.folding import Flags, Positions, codes_of, positions_in
from xlhelpers.survey.typed.words import identifier_key, initials_in


def code_people(
    survey: Survey, setups: pd.DataFrame
) -> tuple[NDArray[np.object_], Positions, Numbers]:
    """Return who measured, the first initials of the plot's crew.

    Returns
    -------
    (array of text, ndarray of int, ndarray)
        The people's initials ("" for plots without any), the person of each line, and each
        person's eye height by the people sheet (m, NaN not there).
    """
    plot = setups["plot_position"].to_numpy(dtype=np.int64)
    crews = [next(iter(initials_in(str(crew))), "") for crew in survey.plots["crew"]]
    initials = np.array([*crews, ""], dtype=object)
    keys = np.array([identifier_key(name) for name in initials], dtype=object)
    codes = codes_of(keys)
    names = np.full(int(codes.max()) + 1, "", dtype=object)
    names[codes] = initials
    row = positions_in(names, survey.people["initials"], identifier_key)
    heights = np.append(survey.people["eye_height"].to_numpy(dtype=float), np.nan)
    return names, codes[plot], heights[row]


def code_days(survey: Survey, setups: pd.DataFrame) -> Positions:
    """Return one number for each person's day with one instrument; -1 without a date."""
    plot = setups["plot_position"].to_numpy(dtype=np.int64)
    dates = survey.plots["date"].to_numpy(dtype="datetime64[D]")
    days = np.append(dates, np.datetime64("NaT")).astype(np.int64)[plot]
    dated = np.append(~np.isnat(dates), False)[plot]
    person = code_people(survey, setups)[1]
    instrument = setups["instrument_position"].to_numpy(dtype=np.int64)
    return np.where(dated, codes_of(days, person, instrument), -1)


HEIGHT, WIDTH, SHARE = "height", "width", "share"
LEAST = {HEIGHT: 0.10, WIDTH: 0.10, SHARE: 0.04, "stand": 0.08, "repeat": 0.03}
# metres by which an eye wanders on flat ground, and the least slope of any ground
EYE_WANDERS, LEAST_SLOPE = 0.06, 0.008
LOWEST = 0.05
# spread of the ground along a sight on a plot of a slope: the sight goes any way across it
SHARE_OF_SLOPE = 0.6
# correlation of height and width at one diameter in the open tree data; used below so many trees
USUAL_TOGETHER, FEWEST_TOGETHER = 0.4, 50


@dataclass(frozen=True)
class Habits:
    """What is usual for each line's person: eye (m), slope of the ground, standing distance.

    `slope` is how far the ground at the foot may lie from level, as a share of the distance, and
    `along` the slope that the line itself gives, 0 where it gives none.
    ln level distance = `stand` + `stand_rise` x ln height, within `stand_spread`.
    """

    eye: Numbers
    slope: Numbers
    along: Numbers
    stand: Numbers
    stand_rise: float
    stand_spread: Numbers
    person: NDArray[np.object_]


@dataclass(frozen=True)
class Expected:
    """What is usual for each line, aligned to the lines of the survey.

    `level`, `rise`, `bend` and `spread` are by quantity those of ln height and ln width on the
    place of the diameter on the curve, and of the crown base's share of the height. `others` is
    the mean ln height by the tree's other set-ups, NaN where it has none. `together` is the
    correlation of height and width among trees of one diameter: a wide tree is a high one.
    """

    level: dict[str, Numbers]
    rise: dict[str, Numbers]
    bend: dict[str, Numbers]
    spread: dict[str, Numbers]
    least_diameter: Numbers
    greatest_diameter: Numbers
    habits: Habits
    others: Numbers
    repeat_spread: float
    together: float

    def usual(self, quantity: str, line: Positions, diameter: Numbers) -> Numbers:
        """Return the usual ln height, ln width or share of trees of these diameters (cm)."""
        x = position(diameter, self.least_diameter[line], self.greatest_diameter[line])
        level, rise, bend = (part[quantity][line] for part in (self.level, self.rise, self.bend))
        return np.asarray(level + rise * x + bend * x * x)


def log_of(values: Numbers) -> Numbers:
    """Return the natural logarithm; what is not above 0 counts as a very small height."""
    return np.asarray(np.log(np.maximum(values, LOWEST)))


def expect(
    survey: Survey,
    setups: pd.DataFrame,
    trees: pd.DataFrame,
    measured: Measured,
    table: pd.DataFrame,
    limits: Mapping[str, float],
) -> Expected:
    """Return what is usual for each line.

    Parameters
    ----------
    survey, setups, trees : as in an outcome
        The survey whose own trees and habits count.
    measured : Measured
        All its lines as entered.
    table : DataFrame
        The reference.
    limits : mapping
        Used are `reference_weight` and `habit_weight`.
    """
    curves = curves_for(trees, table)
    own = _correct_curves(trees, curves, limits["reference_weight"])
    of_line = setups["tree_position"].to_numpy()
    figures = {name: values[of_line] for name, values in own.items()}
    others, scatter = _average_others(of_line, log_of(measured.total), np.isfinite(measured.total))
    zero = np.zeros(len(of_line))
    return Expected(
        level={q: figures[f"{q}_a"] for q in (HEIGHT, WIDTH)} | {SHARE: figures["share_a"]},
        rise={q: figures[f"{q}_b"] for q in (HEIGHT, WIDTH)} | {SHARE: zero},
        bend={q: figures[f"{q}_c"] for q in (HEIGHT, WIDTH)} | {SHARE: zero},
        spread={q: figures[f"{q}_spread"] for q in (HEIGHT, WIDTH, SHARE)},
        least_diameter=curves.of["least_diameter"][of_line],
        greatest_diameter=curves.of["greatest_diameter"][of_line],
        habits=_find_habits(survey, setups, measured, limits["habit_weight"]),
        others=others,
        repeat_spread=scatter,
        together=_correlate(own, curves, trees),
    )


def _correct_curves(trees: pd.DataFrame, curves: Curves, weight: float) -> dict[str, Numbers]:
    """Return the reference figures of each tree, corrected by the survey's own trees."""
    of = curves.of
    x = curves.position(trees["largest_stem"].to_numpy(dtype=float))
    total = trees["total_height"].to_numpy(dtype=float)
    with np.errstate(all="ignore"):
        seen = {
            HEIGHT: np.where(total > 0, log_of(total), np.nan),
            WIDTH: log_of(trees["mean_width"].to_numpy(dtype=float)),
            SHARE: np.clip(trees["crown_base"].to_numpy(dtype=float) / total, -0.5, 1.5),
        }
    groups = _group_levels(trees)
    figures: dict[str, Numbers] = {}
    for quantity, value in seen.items():
        curved = quantity != SHARE
        level = of[f"{quantity}_a"] if curved else of["share"]
        rise, bend = (of[f"{quantity}_{part}"] if curved else np.zeros(len(x)) for part in "bc")
        left = value - level - rise * x - bend * x * x
        spread = of[f"{quantity}_spread"]
        own = _fit_own_trees(x if curved else None, left, groups, spread, weight)
        figures |= {
            f"{quantity}_a": level + own[0],
            f"{quantity}_b": rise + own[1],
            f"{quantity}_c": bend,
            f"{quantity}_spread": np.maximum(own[2], LEAST[quantity]),
        }
    return figures


def _correlate(own: dict[str, Numbers], curves: Curves, trees: pd.DataFrame) -> float:
    """Return the robust correlation of heights and widths among trees of one diameter."""
    # From the spreads of sum and difference of the scaled deviations (Gnanadesikan & Kettenring).
    x = curves.position(trees["largest_stem"].to_numpy(dtype=float))
    scaled = []
    for name, column in ((HEIGHT, "total_height"), (WIDTH, "mean_width")):
        curve = own[f"{name}_a"] + own[f"{name}_b"] * x + own[f"{name}_c"] * x * x
        value = trees[column].to_numpy(dtype=float)
        with np.errstate(all="ignore"):
            scaled.append(
                (np.log(np.where(value > 0, value, np.nan)) - curve) / own[f"{name}_spread"]
            )
    both = np.isfinite(scaled[0]) & np.isfinite(scaled[1])
    if both.sum() < FEWEST_TOGETHER:
        return USUAL_TOGETHER
    add, less = (
        np.median(np.abs(s[both])) ** 2 for s in (scaled[0] + scaled[1], scaled[0] - scaled[1])
    )
    return float(np.clip((add - less) / max(add + less, 1e-9), 0.0, 0.8))


def _group_levels(trees: pd.DataFrame) -> list[Positions]:
    named = trees["botanical"].where(trees["botanical"] != "", trees["species"])
    kinds = codes_of(trees["kind"].to_numpy(dtype=object))
    genera = codes_of(trees["genus"].to_numpy(dtype=object), kinds)
    return [np.zeros(len(trees), dtype=np.int64), kinds, genera, codes_of(named.to_numpy())]


def _fit_own_trees(
    x: Numbers | None, left: Numbers, groups: list[Positions], spread: Numbers, weight: float
) -> tuple[Numbers, Numbers, Numbers]:
    """Return level, rise (0 without x) and spread that the survey's own trees add."""
    level, rise, square = np.zeros(len(left)), np.zeros(len(left)), spread**2
    place = np.zeros(len(left)) if x is None else x
    good = np.isfinite(left) & np.isfinite(place)
    hold = np.inf if x is None else weight / 4
    for group in groups:
        if not good.any():
            break
        count = int(group.max()) + 1
        own = group[good]
        at, rises = group_lines(place[good], left[good], own, count, hold)
        number = np.bincount(own, minlength=count)
        share = (number / (number + weight))[group]
        level, rise = level + share * at[group], rise + share * rises[group]
        left = left - share * (at[group] + rises[group] * np.nan_to_num(place))
        scatter = np.nan_to_num(group_spreads(left[good], own, count))[group]
        square = (1 - share) * square + share * scatter**2
    return level, rise, np.sqrt(square)


def _average_others(
    tree: Positions, value: Numbers, good: NDArray[np.bool_]
) -> tuple[Numbers, float]:
    """Return the mean by the tree's other set-ups, and how far set-ups of a tree are apart."""
    count = int(tree.max()) + 1 if len(tree) else 0
    known = np.where(good, value, 0.0)
    total, number = np.bincount(tree, known, count), np.bincount(tree, good, count)
    rest = number[tree] - good
    with np.errstate(all="ignore"):
        mean = np.where((rest > 0) & good, (total[tree] - known) / rest, np.nan)
    apart = np.abs(value - mean)[np.isfinite(mean)]
    typical = float(np.median(apart)) / 0.6745 if len(apart) >= 10 else 0.0
    return mean, max(typical, LEAST["repeat"])


def _find_habits(survey: Survey, setups: pd.DataFrame, measured: Measured, weight: float) -> Habits:
    names, person, sheet = code_people(survey, setups)
    count = len(sheet)
    along = np.nan_to_num(setups["along_slope"].to_numpy(dtype=float))
    plots = np.append(survey.plots["slope"].to_numpy(dtype=float), np.nan)
    steep = np.nan_to_num(plots[setups["plot_position"].to_numpy()])
    flat = steep <= float(survey.rules["limit_level"]) + 1e-9
    eye, slope = _find_eyes(measured, along, person, sheet, flat, weight)
    known = np.isfinite(measured.level) & np.isfinite(measured.total) & (measured.total > 1)
    stand, rise, spread = np.zeros(count), 0.0, np.full(count, 1.0)
    if known.any():
        x, y, own = log_of(measured.total)[known], log_of(measured.level)[known], person[known]
        everyone = np.zeros(len(x), dtype=np.int64)
        level, rises = group_lines(x, y, everyone, 1, weight / 4)
        rise = float(rises[0])
        left = y - level[0] - rise * x
        number = np.bincount(own, minlength=count)
        share = number / (number + weight)
        more = share * group_lines(x, left, own, count)[0]
        whole = group_spreads(left - more[own], everyone, 1)[0]
        each = np.nan_to_num(group_spreads(left - more[own], own, count))
        stand = level[0] + more
        spread = np.sqrt((1 - share) * whole**2 + share * each**2)
    spread = np.maximum(spread, LEAST["stand"])
    ground = np.maximum(slope[person], SHARE_OF_SLOPE * steep)
    return Habits(eye[person], ground, along, stand[person], rise, spread[person], names[person])


def _find_eyes(
    measured: Measured,
    along: Numbers,
    person: Positions,
    sheet: Numbers,
    flat: Flags,
    weight: float,
) -> tuple[Numbers, Numbers]:
    """Return each person's usual eye height and the usual slope of the ground they stand on."""
    # From the lines on `flat` plots, near level or of no known slope, if there are any; `sheet` are
    # the eye heights of the people sheet.
    count = len(sheet)
    known = np.isfinite(measured.eye) & (measured.level > 0)
    known = known & flat if (known & flat).any() else known
    if not known.any():
        return sheet, np.full(count, LEAST_SLOPE)
    level, own = measured.level[known], person[known]
    eye = measured.eye[known] + along[known] * level
    number = np.bincount(own, minlength=count)
    medians = group_medians(eye, own, count)
    usual = np.nanmedian(np.r_[sheet, medians])
    start = np.where(np.isnan(sheet), usual, sheet)
    share = number / (number + weight)
    middle = group_lines(np.zeros(len(eye)), eye, own, count)[0]
    found = np.where(number > 0, (1 - share) * start + share * middle, start)
    slopes = np.abs(eye - found[own]) / level
    whole = float(np.median(slopes)) / 0.6745
    each = np.nan_to_num(group_medians(slopes, own, count)) / 0.6745
    slope = np.sqrt((1 - share) * whole**2 + share * each**2)
    return found, np.maximum(slope, LEAST_SLOPE)
