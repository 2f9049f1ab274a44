"""Whole plots that are hard to judge: few trees, other mistakes among them, steep ground.

    python -m tests.doubt_proof.hard_plots [--held-out] [--seeds 1] [--size 200]

Each case builds one survey with one plot of its own making, and most of them a plot read on the
wrong scale. Counted are wrong plots found and named with the right scale, and right plots accused:
the one that the case is about, and all others.
"""

import argparse
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial

import numpy as np
import pandas as pd

from tests.doubt_proof.cities import as_survey, reference_for
from tests.doubt_proof.habits import POINTS, Keyed, read_angle
from tests.doubt_proof.kinds import FEWEST_ON_PLOT, KINDS, take_line
from tests.doubt_proof.measure_doubt import (
    CITIES,
    WHOLE,
    Trial,
    evaluate,
    make_sheets,
    names_scale,
    per_hundred,
)

HABITS_ASKED = ("rolling", "fixed stand", "feet, topographic")
AIM = 0.25
# least and greatest tangent of ground that a whole plot is sighted along
UPHILL, DOWNHILL = (0.25, 0.35), (-0.35, -0.25)
# what cut-back trees are left of their height, and where crews stand from such a tree, in heights
CUT_BACK, FROM_CUT_BACK = (0.45, 0.65), (0.85, 1.3)


@dataclass(frozen=True)
class Case:
    """Sheets with a hard plot: typed lines, the wrong plots with their causes, the plot to watch.

    `watched` is a right plot that looks wrong, "" where there is none.
    """

    keyed: Keyed
    lines: pd.DataFrame
    wrong: dict[str, str]
    watched: str = ""


# the plots that may be wrong, at least one, each with a scale that it may be read on
Choice = Sequence[tuple[str, str]]
Build = Callable[[Keyed, Choice, np.random.Generator], Case | None]


def rows_of_plot(keyed: Keyed, plot: str) -> np.ndarray:
    """Return the positions of a plot's lines."""
    return np.flatnonzero(keyed.lines["plot"].to_numpy() == plot)


def other_scales(keyed: Keyed, plot: str) -> list[str]:
    """Return the scales on which all lines of a plot may have been read instead."""
    typed, truth = keyed.lines.to_dict("records"), keyed.truth.to_dict("records")
    own = [take_line(keyed, typed, truth, int(row)) for row in rows_of_plot(keyed, plot)]
    random = np.random.default_rng(0)
    kinds = KINDS["other scale"]
    return [name for name, spoil in kinds.items() if all(spoil(line, random) for line in own)]


def read_plot_on(keyed: Keyed, lines: pd.DataFrame, plot: str, scale: str) -> pd.DataFrame:
    """Return lines of which one plot was read on another scale."""
    typed, truth = keyed.lines.to_dict("records"), keyed.truth.to_dict("records")
    lines = lines.copy()
    for row in rows_of_plot(keyed, plot):
        line = take_line(keyed, typed, truth, int(row))
        cells = KINDS["other scale"][scale](line, np.random.default_rng(0)) or {}
        lines.loc[row, list(cells)] = list(cells.values())
    return lines


def choose_plots(keyed: Keyed, random: np.random.Generator) -> Choice:
    """Return the plots that may be wrong, by chance, each with one scale that it may be read on."""
    chosen = []
    for plot in random.permutation(keyed.plots["plot"].to_numpy()).tolist():
        scales = other_scales(keyed, plot)
        if len(rows_of_plot(keyed, plot)) >= FEWEST_ON_PLOT and scales:
            chosen.append((plot, str(random.choice(scales))))
    return chosen


def keep_lines(keyed: Keyed, keep: np.ndarray) -> Keyed:
    """Return sheets without some lines."""
    return replace(
        keyed,
        lines=keyed.lines[keep].reset_index(drop=True),
        truth=keyed.truth[keep].reset_index(drop=True),
    )


def stand_anew(
    keyed: Keyed, plot: str, level: np.ndarray, rise: np.ndarray, random: np.random.Generator
) -> Keyed:
    """Return sheets of which one plot was sighted from elsewhere.

    Parameters
    ----------
    keyed : Keyed
        The sheets.
    plot : str
        Which plot.
    level, rise : ndarray
        New level distance (m) and slope of the ground toward the tree (tangent) of its lines.
    random : Generator
        Source of the aims' errors.
    """
    rows = rows_of_plot(keyed, plot)
    lines, truth = keyed.lines.copy(), keyed.truth.copy()
    own = truth.loc[rows]
    eye = (own["eye"] + own["level"] * own["rise"] - level * rise).to_numpy()
    heights = {"foot": np.zeros(len(rows)), "base": own["base"], "tip": own["height"]}
    for point in POINTS:
        away = own["offset"] if point == "tip" else 0.0
        angle = np.degrees(np.arctan((heights[point] - eye) / (level - away)))
        angle = np.asarray(angle) + random.normal(0, AIM, len(rows))
        truth.loc[rows, f"angle_{point}"] = angle
        lines.loc[rows, f"{point}_reading"] = read_angle(
            angle, *(own[name].to_numpy() for name in ("scale", "base_of_scale", "step"))
        )
    truth.loc[rows, ["level", "rise", "eye"]] = np.column_stack([level, rise, eye])
    lines.loc[rows, "distance"] = (level / (1.0 if keyed.units == "metric" else 0.3048)).round(1)
    lines.loc[rows, "foot_above_eye"] = lines.loc[rows, "foot_reading"] > 0
    return replace(keyed, lines=lines, truth=truth)


# ---- the cases


def build_plain(keyed: Keyed, choice: Choice, random: np.random.Generator) -> Case:
    """A whole plot on the wrong scale and nothing else, to compare with."""
    plot, scale = choice[0]
    return Case(keyed, read_plot_on(keyed, keyed.lines, plot, scale), {plot: scale})


def build_few(keyed: Keyed, choice: Choice, random: np.random.Generator) -> Case:
    """A plot of three or four trees on the wrong scale."""
    trees = keyed.lines["tree"].astype(int).to_numpy()
    other = keyed.lines["plot"].to_numpy() != choice[0][0]
    return build_plain(keep_lines(keyed, other | (trees <= random.integers(3, 5))), choice, random)


def build_with_slips(keyed: Keyed, choice: Choice, random: np.random.Generator) -> Case:
    """A plot on the wrong scale; on three of its lines a swap, and two foot signs lost."""
    case = build_plain(keyed, choice, random)
    rows = rows_of_plot(keyed, choice[0][0])
    swapped, *signs = random.choice(rows, 3, replace=False).tolist()
    pair = ["foot_reading", "tip_reading"]
    case.lines.loc[swapped, pair] = case.lines.loc[swapped, pair[::-1]].to_numpy()
    case.lines.loc[signs, "foot_reading"] = case.lines.loc[signs, "foot_reading"].abs()
    return case


def build_beside_right(keyed: Keyed, choice: Choice, random: np.random.Generator) -> Case | None:
    """A wrong plot that shares its day and its instrument with right plots."""
    day = keyed.plots["date"].astype(str) + keyed.plots["instrument"]
    shared = set(keyed.plots["plot"][day.duplicated(keep=False)])
    among = [pair for pair in choice if pair[0] in shared]
    return build_plain(keyed, among, random) if among else None


def build_high_tips(keyed: Keyed, choice: Choice, random: np.random.Generator) -> Case | None:
    """A right plot in percent with tips of 94 to 146, and a wrong plot, of that day if any."""
    plots = keyed.plots.set_index("plot")
    scale, day = plots["scale"], plots["date"]
    percent = [plot for plot, _ in choice if scale[plot] == "percent"]
    others = [pair for pair in choice if percent and pair[0] != percent[0]]
    if not others:
        return None
    others.sort(key=lambda pair: day[pair[0]] != day[percent[0]])
    own = keyed.truth.loc[rows_of_plot(keyed, percent[0])]
    level = (own["height"] - 1.6).clip(lower=2.0) / random.uniform(0.94, 1.46, len(own))
    near = stand_anew(keyed, percent[0], level.to_numpy(), own["rise"].to_numpy() * 0.3, random)
    return replace(build_plain(near, others, random), watched=percent[0])


def build_on_slope(
    rises: tuple[float, float],
    wrong: bool,
    keyed: Keyed,
    choice: Choice,
    random: np.random.Generator,
) -> Case:
    """A plot sighted up or down one slope from like distances, right or read on a wrong scale."""
    plot, _ = choice[0]
    own = keyed.truth.loc[rows_of_plot(keyed, plot)]
    far = float(np.clip(np.median(own["height"]), 10.0, 22.0))
    level = np.round(far * random.uniform(0.93, 1.07, len(own)), 1)
    rise = random.uniform(*rises) + random.normal(0, 0.015, len(own))
    steep = stand_anew(keyed, plot, level, rise, random)
    return build_plain(steep, choice, random) if wrong else Case(steep, steep.lines, {}, plot)


def build_cut_back_uphill(keyed: Keyed, choice: Choice, random: np.random.Generator) -> Case:
    """A right plot of trees that were all cut back, sighted steeply uphill; no plot is wrong."""
    plot, _ = choice[0]
    rows = rows_of_plot(keyed, plot)
    truth, left = keyed.truth.copy(), random.uniform(*CUT_BACK)
    for name in ("height", "base", "offset"):
        truth.loc[rows, name] *= left
    height = truth.loc[rows, "height"].to_numpy()
    level = np.round(np.maximum(height * random.uniform(*FROM_CUT_BACK, len(rows)), 3.0), 1)
    rise = random.uniform(*UPHILL) + random.normal(0, 0.015, len(rows))
    low = stand_anew(replace(keyed, truth=truth), plot, level, rise, random)
    return Case(low, low.lines, {}, plot)


CASES: dict[str, Build] = {
    "plain wrong plot": build_plain,
    "three or four trees": build_few,
    "a swap and two lost signs": build_with_slips,
    "shares day and instrument": build_beside_right,
    "right plot, tips 94 to 146 %": build_high_tips,
    "right plot, steep uphill": partial(build_on_slope, UPHILL, False),
    "wrong plot, steep uphill": partial(build_on_slope, UPHILL, True),
    "right plot, steep downhill": partial(build_on_slope, DOWNHILL, False),
    "wrong plot, steep downhill": partial(build_on_slope, DOWNHILL, True),
    "right plot, cut back, uphill": build_cut_back_uphill,
}


def measure_case(name: str, trial: Trial) -> dict[str, object] | None:
    """Return the counts of one case in one survey; None where the survey has no such plot."""
    random = np.random.default_rng([trial.chance, 31])
    keyed = make_sheets(trial)
    choice = choose_plots(keyed, random)
    case = CASES[name](keyed, choice, random) if choice else None
    if case is None:
        return None
    outcome = evaluate(as_survey(case.keyed, case.lines), reference_for(trial.city))
    names = case.keyed.plots["plot"].to_numpy()
    accused: dict[str, bool] = {}
    for finding in (f for f in outcome.findings if f.check in WHOLE):
        for plot in (str(names[at]) for at in finding.plots):
            right = plot in case.wrong and names_scale(finding, case.wrong[plot])
            accused[plot] = accused.get(plot, False) or right
    return {
        "case": name,
        "habit": trial.habit,
        "wrong": len(case.wrong),
        "found": sum(plot in accused for plot in case.wrong),
        "right scale": sum(accused.get(plot, False) for plot in case.wrong),
        "watched": int(case.watched != ""),
        "watched accused": int(case.watched in accused),
        "other right": len(names) - len(case.wrong) - (case.watched != ""),
        "others accused": len(set(accused) - set(case.wrong) - {case.watched}),
    }


def measure_cases(trials: list[Trial]) -> pd.DataFrame:
    """Return the counts of all cases in all surveys, one row a case."""
    rows = [measure_case(name, trial) for name in CASES for trial in trials]
    table = pd.DataFrame([row for row in rows if row])
    counts = table.drop(columns="habit").groupby("case", sort=False).sum()
    counts["found per 100"] = [
        per_hundred(*pair) for pair in zip(counts["found"], counts["wrong"], strict=True)
    ]
    return counts


def main() -> None:
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--held-out", action="store_true", help="not while anything is tuned")
    parser.add_argument("--seeds", type=int, default=1)
    parser.add_argument("--size", type=int, default=200)
    options = parser.parse_args()
    version = "held-out" if options.held_out else "tuning"
    trials = [
        Trial(city, habit, options.size, 0.0, seed, version)
        for seed in range(options.seeds)
        for habit in HABITS_ASKED
        for city in CITIES[version]
    ]
    print(measure_cases(trials).to_string())


if __name__ == "__main__":
    main()
