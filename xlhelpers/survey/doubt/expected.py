"""What is usual for each line: its species by the reference and the survey's own trees, its crew.

The survey's own trees correct the reference level by level, all trees, then kind, genus, species:
each level by the share n / (n + weight) of its own robust line, n its number of trees. So few
trees leave the reference as it is and many replace it. No tree takes part in what is usual for
itself: a mistake would make itself look usual. The habits of a person start in the same way from
those of all people of the survey.

Crowns of young trees begin at pruning height whatever the species, so that the crown base's share
of the height falls as trees grow.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from math import log
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from xlhelpers.fields.quantities import QUANTITIES
from xlhelpers.survey.doubt.divisions import USUAL, USUAL_LENGTHS, Divisions, learn_divisions
from xlhelpers.survey.doubt.readings import READ, Measured, Sheet
from xlhelpers.survey.doubt.reference import Curves, curves_for, position
from xlhelpers.survey.doubt.robust import (
    Numbers,
    group_lines,
    group_medians,
    group_spreads,
    lines_of_others,
)
from xlhelpers.survey.doubt.standing import Standing, learn_standing
from xlhelpers.survey.model import Survey
from xlhelpers.survey.setups.instruments import FIXED_SCALE
from xlhelpers.survey.setups.ways import Ways
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
LEAST = {HEIGHT: 0.10, WIDTH: 0.10, SHARE: 0.04, "repeat": 0.03}
# robust standard deviations of the reference and of a survey, as spreads of a Student t density
AS_STUDENT = 0.87
# few trees scatter so many times more than those of the reference at most: what is more are
# mistakes; many trees show their own scatter
MOST_SCATTERED, MANY_TREES = 1.25, 100
# metres by which an eye wanders on flat ground, and the least slope of any ground
EYE_WANDERS, LEAST_SLOPE = 0.06, 0.008
LOWEST = 0.05
# the crown base's share of the height changes so much with ln height, between these heights (m);
# the middle of seven cities (McPherson et al. 2016)
SHARE_RISES, SHARE_BETWEEN, SHARE_MIDDLE = -0.07, (3.0, 40.0), 12.0
# weights of the levels above, by that of the reference, and of what holds the rise: in one city a
# genus differs more from the same genus elsewhere than its species do from it
OF_LEVELS, OF_RISE = (1.0, 1.0, 0.25, 1.0), 0.25
# spread of the ground along a sight on a plot of a slope: the sight goes any way across it
SHARE_OF_SLOPE = 0.6
# spread of ln diameter within a survey and the least within a species; of the two crown widths
USUAL_STEM_SPREAD, LEAST_STEM_SPREAD, USUAL_ROUNDNESS = 0.7, 0.3, 0.2
# correlation of height and width at one diameter in the open tree data; used below so many trees
USUAL_TOGETHER, FEWEST_TOGETHER = 0.4, 50


@dataclass(frozen=True)
class Habits:
    """What is usual for each line's person: eye (m), slope of the ground, standing distance.

    `slope` is how far the ground at the foot may lie from level, as a share of the distance, and
    `along` the slope that the line itself gives, 0 where it gives none.
    """

    eye: Numbers
    slope: Numbers
    along: Numbers
    standing: Standing
    person: NDArray[np.object_]


@dataclass(frozen=True)
class Expected:
    """What is usual for each line, aligned to the lines of the survey.

    `level`, `rise`, `bend` and `spread` are by quantity those of ln height and ln width on the
    place of the diameter on the curve, and of the crown base's share of the height on ln height.
    `others` is the mean ln height by the tree's other set-ups, NaN where it has none,
    `repeat_spread` how far total heights and crown bases of one tree are apart, as a share of the
    height. `together` is the correlation of height and width among trees of one diameter: a wide
    tree is a high one.
    `stem` and `stem_spread` are those of ln diameter, `divisions` those of each typed column,
    `scale_distance` is the base of a fixed-distance scale, `length` and `girth` one typed unit of a
    length (m) and of a diameter (cm), `roundness` the spread of ln of one crown width over the
    other, `ticked` the share of the feet above eye level that are marked so.
    """

    level: dict[str, Numbers]
    rise: dict[str, Numbers]
    bend: dict[str, Numbers]
    spread: dict[str, Numbers]
    least_diameter: Numbers
    greatest_diameter: Numbers
    habits: Habits
    others: Numbers
    repeat_spread: Mapping[str, float]
    together: float
    stem: Numbers
    stem_spread: Numbers
    divisions: Mapping[str, Divisions]
    scale_distance: Numbers
    length: float
    girth: float
    roundness: float
    ticked: float

    def usual_share(self, line: Positions, total: Numbers) -> Numbers:
        """Return the usual share of the crown base in trees of these ln heights."""
        return np.asarray(self.level[SHARE][line] + self.rise[SHARE][line] * _place_share(total))

    def usual(self, quantity: str, line: Positions, diameter: Numbers) -> Numbers:
        """Return the usual ln height or ln width of trees of these diameters (cm)."""
        x = position(diameter, self.least_diameter[line], self.greatest_diameter[line])
        level, rise, bend = (part[quantity][line] for part in (self.level, self.rise, self.bend))
        return np.asarray(level + rise * x + bend * x * x)


def _place_share(total: Numbers) -> Numbers:
    """Return the place of ln heights on the line of the crown bases' shares."""
    low, high = SHARE_BETWEEN
    return np.asarray(np.clip(total, log(low), log(high)) - log(SHARE_MIDDLE))


def log_of(values: Numbers) -> Numbers:
    """Return the natural logarithm; what is not above 0 counts as a very small height."""
    return np.asarray(np.log(np.maximum(values, LOWEST)))


def expect(
    survey: Survey,
    setups: pd.DataFrame,
    trees: pd.DataFrame,
    ways: Ways,
    sheet: Sheet,
    measured: Measured,
    table: pd.DataFrame,
    limits: Mapping[str, float],
) -> Expected:
    """Return what is usual for each line.

    Parameters
    ----------
    survey, setups, trees : as in an outcome
        The survey whose own trees and habits count.
    ways : Ways
        How its lines were read.
    sheet : Sheet
        All its lines as entered.
    measured : Measured
        What they come to.
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
    with np.errstate(all="ignore"):
        share = measured.base / measured.total
    of_bases = _average_others(of_line, share, np.isfinite(share))[1]
    zero = np.zeros(len(of_line))
    stem, stem_spread = _find_stems(trees, limits["reference_weight"])
    units: Any = survey.units
    length, girth = (QUANTITIES[name].factor(units) for name in ("length", "diameter"))
    person = code_people(survey, setups)[1]
    return Expected(
        level={q: figures[f"{q}_a"] for q in (HEIGHT, WIDTH)} | {SHARE: figures["share_a"]},
        rise={q: figures[f"{q}_b"] for q in (HEIGHT, WIDTH)} | {SHARE: figures["share_b"]},
        bend={q: figures[f"{q}_c"] for q in (HEIGHT, WIDTH)} | {SHARE: zero},
        spread={q: figures[f"{q}_spread"] for q in (HEIGHT, WIDTH, SHARE)},
        least_diameter=curves.of["least_diameter"][of_line],
        greatest_diameter=curves.of["greatest_diameter"][of_line],
        habits=_find_habits(
            survey,
            setups,
            ways,
            sheet.number("distance") / length,
            measured,
            limits["habit_weight"],
        ),
        others=others,
        repeat_spread={"total": scatter, "base": of_bases},
        together=_correlate(own, curves, trees),
        stem=stem[of_line],
        stem_spread=stem_spread[of_line],
        divisions=_learn_all_divisions(ways, sheet, person, length, girth),
        scale_distance=ways.instruments.scale_distance[ways.instrument_position],
        length=length,
        girth=girth,
        roundness=_find_roundness(trees),
        ticked=_find_ticks(sheet),
    )


def _find_stems(trees: pd.DataFrame, weight: float) -> tuple[Numbers, Numbers]:
    """Return level and spread of the ln diameter of trees like each, from all down to species."""
    with np.errstate(all="ignore"):
        stem = np.log(trees["largest_stem"].to_numpy(dtype=float))
    stem = np.where(np.isfinite(stem), stem, np.nan)
    middle = float(np.nanmedian(stem)) if np.isfinite(stem).any() else 3.4
    spread = np.full(len(stem), USUAL_STEM_SPREAD)
    level, _, spread = _fit_own_trees(None, stem - middle, _group_levels(trees), spread, weight)
    return middle + level, np.maximum(AS_STUDENT * spread, LEAST_STEM_SPREAD)


def _find_roundness(trees: pd.DataFrame) -> float:
    """Return the spread of ln of one crown width over the other."""
    with np.errstate(all="ignore"):
        ratio = np.log(trees["width_widest"].to_numpy(dtype=float) / trees["width_across"])
    ratio = np.abs(ratio[np.isfinite(ratio)])
    own = float(np.median(ratio)) / 0.6745 if len(ratio) else 0.0
    share = len(ratio) / (len(ratio) + 10)
    return max(share * own + (1 - share) * USUAL_ROUNDNESS, 0.05)


def _find_ticks(sheet: Sheet) -> float:
    """Return the share of the feet above eye level that are marked as such."""
    above = sheet.number("foot_reading") > 0
    marked = float((above & sheet.columns["ticked"]).sum())
    return float(np.clip((marked + 9) / (above.sum() + 10), 0.02, 0.98))


def _learn_all_divisions(
    ways: Ways, sheet: Sheet, person: Positions, length: float, girth: float
) -> dict[str, Divisions]:
    """Return the divisions of each typed column."""
    lengths = np.array([USUAL_LENGTHS])
    everybody = np.zeros(len(person), dtype=np.int64)
    people = int(person.max()) + 1 if len(person) else 1
    scales = codes_of(ways.instrument_position, ways.scale)
    count = int(scales.max()) + 1 if len(scales) else 1
    usual = np.tile(USUAL[1.0], (count, 1))
    first = np.unique(scales, return_index=True)[1] if len(scales) else everybody
    for group, line in enumerate(first):
        steps = ways.instruments.graduation.get(str(ways.scale[line]))
        step = 1.0 if steps is None else float(steps[ways.instrument_position[line]])
        usual[group] = USUAL[0.1 if step < 0.3 else 0.5 if step < 0.8 else 1.0]
    divisions = {name: learn_divisions(sheet.number(name), scales, usual) for name in READ}
    distance = sheet.number("distance") / length
    divisions["distance"] = learn_divisions(distance, person, np.tile(lengths, (people, 1)))
    divisions["diameter"] = learn_divisions(sheet.number("diameter") / girth, everybody, lengths)
    for name in ("width_widest", "width_across"):
        divisions[name] = learn_divisions(sheet.number(name) / length, everybody, lengths)
    return divisions


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
        if quantity == SHARE:
            place, level = _place_share(log_of(total)), of["share"]
            rise, bend = np.full(len(x), SHARE_RISES), np.zeros(len(x))
        else:
            place, level = x, of[f"{quantity}_a"]
            rise, bend = of[f"{quantity}_b"], of[f"{quantity}_c"]
        left = value - level - rise * place - bend * place * place
        spread = of[f"{quantity}_spread"]
        own = _fit_own_trees(place, left, groups, spread, weight)
        figures |= {
            f"{quantity}_a": level + own[0],
            f"{quantity}_b": rise + own[1],
            f"{quantity}_c": bend,
            f"{quantity}_spread": np.maximum(AS_STUDENT * own[2], LEAST[quantity]),
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
    """Return level, rise (0 without x) and spread that the survey's other trees add for each."""
    level, rise, square = np.zeros(len(left)), np.zeros(len(left)), spread**2
    place = np.zeros(len(left)) if x is None else x
    good = np.isfinite(left) & np.isfinite(place)
    for group, factor in zip(groups, OF_LEVELS, strict=True):
        if not good.any():
            break
        own_weight = factor * weight
        hold = np.inf if x is None else OF_RISE * own_weight
        count = int(group.max()) + 1
        own = group[good]
        at, rises = (part[group] for part in group_lines(place[good], left[good], own, count, hold))
        at[good], rises[good] = lines_of_others(place[good], left[good], own, count, hold)
        number = np.bincount(own, minlength=count)
        others = number[group] - good
        share = others / (others + own_weight)
        level, rise = level + share * at, rise + share * rises
        left = left - share * (at + rises * np.nan_to_num(place))
        scatter = np.nan_to_num(group_spreads(left[good], own, count))[group]
        most = MOST_SCATTERED * (1 + number / MANY_TREES)[group]
        scatter = np.minimum(scatter, most * spread)
        whole = (number / (number + own_weight))[group]
        square = (1 - whole) * square + whole * scatter**2
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


def _find_habits(
    survey: Survey,
    setups: pd.DataFrame,
    ways: Ways,
    typed: Numbers,
    measured: Measured,
    weight: float,
) -> Habits:
    names, person, sheet = code_people(survey, setups)
    along = np.nan_to_num(setups["along_slope"].to_numpy(dtype=float))
    plots = np.append(survey.plots["slope"].to_numpy(dtype=float), np.nan)
    steep = np.nan_to_num(plots[setups["plot_position"].to_numpy()])
    flat = steep <= float(survey.rules["limit_level"]) + 1e-9
    eye, slope = _find_eyes(measured, along, person, sheet, flat, weight)
    fixed = np.where(ways.scale == FIXED_SCALE, ways.instrument_position, -1)
    known = (measured.level > 0) & (measured.total > 1)
    with np.errstate(all="ignore"):
        level = np.where(known, np.log(measured.level), np.nan)
    total = np.where(known, log_of(measured.total), np.nan)
    standing = learn_standing(level, total, typed * 100, person, fixed, weight)
    ground = np.maximum(slope[person], SHARE_OF_SLOPE * steep)
    return Habits(eye[person], ground, along, standing, names[person])


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
    eyes = np.where(number > 0, (1 - share) * start + share * middle, start)
    slopes = np.abs(eye - eyes[own]) / level
    whole = float(np.median(slopes)) / 0.6745
    each = np.nan_to_num(group_medians(slopes, own, count)) / 0.6745
    slope = np.sqrt((1 - share) * whole**2 + share * each**2)
    return eyes, np.maximum(slope, LEAST_SLOPE)
