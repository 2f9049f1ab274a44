"""Measures the doubt on surveys with mistakes of many kinds.

    python -m tests.doubt_proof.measure_doubt [--tuning | --held-out] [--habit rolling]
        [--size 300] [--density 0.1] [--seeds 1] [--kinds] [--plots] [--calibration] [--out x.json]

Prints per habit and over all, per 100: mistakes found, named first, and named at 2 false alarms per
100 right lines; causes named first that are wrong or needless; right lines with a finding. The
tuning version is the default; the held-out one is not to be looked at while anything is tuned.
"""

import argparse
import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from zlib import crc32

import numpy as np
import pandas as pd

from tests.doubt_proof.cities import (
    HELD_OUT_CITIES,
    TUNING_CITIES,
    as_survey,
    reference_for,
    trees_of,
)
from tests.doubt_proof.habits import HABITS, SHARE_TWICE, VERSIONS, Keyed, generate
from tests.doubt_proof.kinds import SOFT, Injected, inject, spoil_plots
from xlhelpers.survey.checks.run import run_checks
from xlhelpers.survey.doubt.explain import (
    UNLIKELY,
    Doubts,
    is_explainable,
    name_causes,
    rows_of,
    weigh_doubts,
)
from xlhelpers.survey.doubt.find import with_doubts
from xlhelpers.survey.doubt.mistakes import MISTAKES
from xlhelpers.survey.doubt.readings import take_sheet
from xlhelpers.survey.model import Finding, Survey
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.setups.setups import compute_setups
from xlhelpers.survey.trees.trees import build_trees

CITIES = {"tuning": TUNING_CITIES, "held-out": HELD_OUT_CITIES}
WHOLE = ("lines-on-other-scale", "fixed-distance-other")
# what a cause may change; two causes that come to the same are one
NUMBERS = (
    *("distance", "foot_reading", "base_reading", "tip_reading", "diameter"),
    *("width_widest", "width_across"),
)
ALIKE, ALIKE_AT_LEAST = 0.01, 0.02
FALSE_ALARMS = 0.02
BINS = (0.0, 0.02, 0.05, 0.1, 0.15, 0.3, 0.5, 0.7, 0.9, 1.0)
SHARE_OF_PLOTS, BESIDE_PLOTS = 0.08, 0.03


@dataclass(frozen=True)
class Trial:
    """One survey: city, habit, lines, share of wrong lines, seed, and the version of the habit."""

    city: str
    habit: str
    size: int
    density: float
    seed: int
    version: str = "tuning"

    @property
    def chance(self) -> int:
        """Return a start of random numbers of the trial's own."""
        return crc32(repr(self).encode())


def make_sheets(trial: Trial) -> Keyed:
    """Return the sheets of a trial without a mistake.

    A city with too few trees gives all that it has, so that a survey of 1,000 lines may be shorter.
    """
    trees = trees_of(trial.city)
    count = min(len(trees), round(trial.size / (1 + SHARE_TWICE)))
    own = trees.sample(n=count, random_state=trial.chance)
    return generate(own, VERSIONS[trial.version], trial.habit, trial.chance)


def evaluate(survey: Survey, reference: pd.DataFrame) -> Outcome:
    """Take a survey the way of every survey, up to its findings with causes."""
    setups = compute_setups(survey)
    trees = build_trees(survey, setups)
    plain = Outcome(survey, setups, trees, run_checks(survey, setups, trees))
    return with_doubts(plain, reference)


@dataclass(frozen=True)
class Named:
    """The cause that is named first of a line: its id, its stated share, its place."""

    cause: str
    share: float
    row: int


def first_causes(outcome: Outcome, doubts: Doubts) -> dict[int, Named]:
    """Return the cause named first of each line that a finding explains."""
    named = {}
    for finding in filter(is_explainable, outcome.findings):
        for row in rows_of(doubts, finding)[:1]:
            causes = name_causes(doubts, row, finding.check != UNLIKELY)
            if causes:
                line = int(doubts.weighed.lines[row])
                named[line] = Named(causes[0].mistake, causes[0].share, row)
    return named


def is_about_one_tree(finding: Finding, tree: np.ndarray) -> bool:
    """Whether a finding is open and about the lines of one tree, not about a plot or a pattern."""
    own = {int(tree[line]) for line in finding.lines}
    return finding.severity != "note" and len(own) == 1 and finding.check not in WHOLE


def measure_lines(trial: Trial) -> pd.DataFrame:
    """Return one row a line of a trial: what was made wrong, found and named, and the stated odds.

    Returns
    -------
    DataFrame
        city, habit, size, density; kind and variant ("" on a right line); `spoilt` is true on all
        lines of a tree with a mistake; found, cause, right; odds (log, -inf if not weighed),
        share of the first cause; check, the first finding's.
    """
    keyed = make_sheets(trial)
    lines, made = inject(keyed, trial.density, trial.chance)
    reference = reference_for(trial.city)
    outcome = evaluate(as_survey(keyed, lines), reference)
    doubts = weigh_doubts(outcome, reference)
    tree = outcome.setups["tree_position"].to_numpy()
    table = pd.DataFrame(
        {
            "city": trial.city, "habit": trial.habit, "size": trial.size,
            "density": trial.density, "kind": "", "variant": "",
            "spoilt": np.isin(tree, tree[[one.line for one in made]]),
            "found": False, "cause": "", "right": False,
            "odds": -np.inf, "share": np.nan, "check": "",
        },
        index=range(len(lines)),
    )  # fmt: skip
    table.loc[doubts.weighed.lines, "odds"] = doubts.weighed.odds
    for one in made:
        table.loc[one.line, ["kind", "variant"]] = [one.kind, one.variant]
    _mark_found(table, outcome, tree)
    true = as_survey(keyed, keyed.lines)
    _mark_causes(table, first_causes(outcome, doubts), doubts, made, true)
    return table


def _mark_found(table: pd.DataFrame, outcome: Outcome, tree: np.ndarray) -> None:
    """A finding about several lines of a right tree counts once, at its first line."""
    wrong = table["kind"].to_numpy() != ""
    for finding in outcome.findings:
        if not is_about_one_tree(finding, tree):
            continue
        for line in [at for at in finding.lines if wrong[at]] or list(finding.lines[:1]):
            table.loc[line, "found"] = True
            if not table.loc[line, "check"]:
                table.loc[line, "check"] = finding.check


def _mark_causes(
    table: pd.DataFrame,
    named: dict[int, Named],
    doubts: Doubts,
    made: Sequence[Injected],
    true: Survey,
) -> None:
    setups = compute_setups(true)
    sheet = take_sheet(true, setups, build_trees(true, setups), np.arange(len(setups)))
    right_of = {one.line: one.right for one in made}
    for line, first in named.items():
        table.loc[line, "cause"], table.loc[line, "share"] = first.cause, first.share
        if line in right_of:
            table.loc[line, "right"] = _is_right(first, right_of[line], doubts, sheet.columns, line)


def _is_right(first: Named, right: tuple[str, ...], doubts: Doubts, true, line: int) -> bool:
    """Whether a cause is the right one, or comes to the same values as it or as the true line."""
    if first.cause in right:
        return True
    ids = [mistake.id for mistake in MISTAKES]
    weighed = doubts.weighed
    best = int(weighed.best[first.row, ids.index(first.cause)])
    if best < 0:
        return False
    columns = weighed.sheet.columns
    own = {name: columns[name][best] for name in (*NUMBERS, "scale")}
    others = [{name: true[name][line] for name in (*NUMBERS, "scale")}]
    for cause in filter(ids.__contains__, right):
        at = int(weighed.best[first.row, ids.index(cause)])
        if at >= 0:
            others.append({name: columns[name][at] for name in (*NUMBERS, "scale")})
    return any(_are_alike(own, other) for other in others)


def _are_alike(one: dict, other: dict) -> bool:
    same = one["scale"] == other["scale"]
    for name in NUMBERS:
        a, b = float(one[name]), float(other[name])
        near = abs(a - b) <= max(ALIKE * abs(b), ALIKE_AT_LEAST)
        same = same and (near or (np.isnan(a) and np.isnan(b)))
    return same


# ---- whole plots


def measure_plots(trial: Trial) -> pd.DataFrame:
    """Return one row a plot of a survey with some plots on the wrong scale, and single mistakes.

    Returns
    -------
    DataFrame
        city, habit; wrong (the right cause, "" on a right plot), accused, named (with the right
        scale).
    """
    keyed = make_sheets(trial)
    lines, _ = inject(keyed, BESIDE_PLOTS, trial.chance)
    lines, wrong = spoil_plots(keyed, lines, SHARE_OF_PLOTS, trial.chance)
    outcome = evaluate(as_survey(keyed, lines), reference_for(trial.city))
    plots = pd.DataFrame(
        {"city": trial.city, "habit": trial.habit, "plot": keyed.plots["plot"], "wrong": ""}
    )
    plots["wrong"] = plots["plot"].map(wrong).fillna("")
    plots["accused"], plots["named"] = False, False
    for finding in outcome.findings:
        if finding.check in WHOLE:
            for at in finding.plots:
                plots.loc[at, "accused"] = True
                if plots.loc[at, "wrong"] and names_scale(finding, plots.loc[at, "wrong"]):
                    plots.loc[at, "named"] = True
    return plots


def names_scale(finding: Finding, cause: str) -> bool:
    """Whether a finding about a plot names a scale by the id of its cause."""
    words = cause.removeprefix("scale-").removeprefix("for-").replace("-", " ")
    return words in finding.message.split(".")[0]


# ---- figures


def per_hundred(part: float, whole: float) -> float:
    """Return a percentage, NaN of none."""
    return float(round(100 * part / whole, 1)) if whole else float("nan")


def summarize(table: pd.DataFrame) -> dict[str, float]:
    """Return the figures of measured lines, per 100.

    Parameters
    ----------
    table : DataFrame
        As `measure_lines` gives it, of one survey or many.
    """
    wrong = table[table["kind"] != ""]
    right = table[~table["spoilt"]]
    named = table[table["cause"] != ""]
    limit = limit_for(right["odds"].to_numpy(dtype=float), FALSE_ALARMS)
    return {
        "mistakes": len(wrong),
        "found": per_hundred(wrong["found"].sum(), len(wrong)),
        "named first": per_hundred(wrong["right"].sum(), len(wrong)),
        "wrong or needless": per_hundred((~named["right"]).sum(), len(named)),
        "false": per_hundred(right["found"].sum(), len(right)),
        "found at 2 false": per_hundred((wrong["odds"] > limit).sum(), len(wrong)),
    }


def limit_for(scores: np.ndarray, share: float) -> float:
    """Return the limit that so great a share of the scores of right lines passes."""
    ordered = np.sort(scores)[::-1]
    return float(ordered[min(int(share * len(ordered)), len(ordered) - 1)])


def calibrate(table: pd.DataFrame) -> pd.DataFrame:
    """Return stated odds in bins against the share that was right.

    Returns
    -------
    DataFrame
        of ("mistake", "first cause", or "both", the product), bin's lower end, n, stated, right.
    """
    with np.errstate(over="ignore"):
        stated = 1 / (1 + np.exp(-table["odds"].to_numpy(dtype=float)))
    wrong = table["kind"].to_numpy() != ""
    named = (table["cause"] != "").to_numpy()
    share = table["share"].to_numpy(dtype=float)
    # causes are weighed given that the line is wrong
    of_causes = named & wrong
    right = table["right"].to_numpy(dtype=bool)
    parts = (
        ("mistake", stated, wrong),
        ("first cause", share[of_causes], right[of_causes]),
        ("both", (stated * share)[named], right[named]),
    )
    rows = []
    for name, odds, truth in parts:
        place = np.clip(np.searchsorted(BINS, odds, side="right") - 1, 0, len(BINS) - 2)
        for at in np.unique(place):
            own = place == at
            rows.append({"of": name, "from": BINS[at], "n": int(own.sum()),
                         "stated": round(float(odds[own].mean()), 3),
                         "right": round(float(truth[own].mean()), 3)})  # fmt: skip
    return pd.DataFrame(rows)


def summarize_plots(plots: pd.DataFrame) -> dict[str, float]:
    """Return the figures of measured plots: counts, per 100 found and named, right ones accused."""
    wrong, right = plots[plots["wrong"] != ""], plots[plots["wrong"] == ""]
    return {
        "wrong plots": len(wrong),
        "found": per_hundred(wrong["accused"].sum(), len(wrong)),
        "right scale": per_hundred(wrong["named"].sum(), len(wrong)),
        "right plots": len(right),
        "accused": int(right["accused"].sum()),
    }


def by_habit(table: pd.DataFrame, figures) -> pd.DataFrame:
    """Return figures of each habit and of all; of lines, also without the kinds in `SOFT`."""
    rows = {habit: figures(own) for habit, own in table.groupby("habit", sort=False)}
    rows["all"] = figures(table)
    if "kind" in table:
        rows["all but soft kinds"] = figures(table[~table["kind"].isin(SOFT)])
    return pd.DataFrame(rows).T


def by_kind(table: pd.DataFrame, column: str = "kind") -> pd.DataFrame:
    """Return found and named first of each kind, and the cause most often named wrongly."""
    rows = {}
    for kind, own in table[table["kind"] != ""].groupby(column):
        other = own.loc[(own["cause"] != "") & ~own["right"], "cause"].value_counts()
        rows[kind] = {
            "mistakes": len(own),
            "found": per_hundred(own["found"].sum(), len(own)),
            "named first": per_hundred(own["right"].sum(), len(own)),
            "named instead": ", ".join(f"{name} {n}" for name, n in other.head(3).items()),
        }
    return pd.DataFrame(rows).T


# ---- the script


def plan_trials(options: argparse.Namespace) -> list[Trial]:
    """Return the trials that the options ask for."""
    version = "held-out" if options.held_out else "tuning"
    return [
        Trial(city, habit, size, density, options.start + seed, version)
        for seed in range(options.seeds)
        for habit in (options.habit or HABITS)
        for city in CITIES[version]
        for size in options.size
        for density in options.density
    ]


def parse_options(arguments: Sequence[str] | None) -> argparse.Namespace:
    """Return the options of the command line, or of `arguments`."""
    parser = argparse.ArgumentParser(description=__doc__)
    which = parser.add_mutually_exclusive_group()
    which.add_argument("--tuning", action="store_true", help="the tuning version (default)")
    which.add_argument("--held-out", action="store_true", help="not while anything is tuned")
    parser.add_argument("--habit", action="append", choices=HABITS)
    parser.add_argument("--size", type=int, nargs="+", default=[300])
    parser.add_argument("--density", type=float, nargs="+", default=[0.10])
    parser.add_argument("--seeds", type=int, default=1)
    parser.add_argument("--start", type=int, default=0, help="the first seed")
    parser.add_argument("--kinds", action="store_true", help="also by kind of mistake")
    parser.add_argument("--variants", action="store_true", help="also by variant")
    parser.add_argument("--plots", action="store_true", help="also whole plots on a wrong scale")
    parser.add_argument("--calibration", action="store_true", help="also stated odds against truth")
    parser.add_argument("--checks", action="store_true", help="also which findings are false")
    parser.add_argument("--out", type=Path, help="write all figures there as JSON")
    return parser.parse_args(arguments)


def collect(tables: Iterable[pd.DataFrame]) -> pd.DataFrame:
    """Put measured tables together."""
    return pd.concat(tables, ignore_index=True)


def main(arguments: Sequence[str] | None = None) -> None:
    """Measure, print and write what the options ask for."""
    options = parse_options(arguments)
    trials = plan_trials(options)
    table = collect(map(measure_lines, trials))
    pages = {"habits": by_habit(table, summarize)}
    for name in ("size", "density"):
        if table[name].nunique() > 1:
            rows = {value: summarize(own) for value, own in table.groupby(name)}
            pages[name] = pd.DataFrame(rows).T
    if options.kinds:
        pages["kinds"] = by_kind(table)
    if options.variants:
        pages["variants"] = by_kind(table, "variant")
    if options.checks:
        false = table[~table["spoilt"] & table["found"]]
        pages["false findings"] = pd.crosstab(false["check"], false["habit"], margins=True)
    if options.calibration:
        pages["calibration"] = calibrate(table)
    if options.plots:
        pages["plots"] = by_habit(collect(map(measure_plots, trials)), summarize_plots)
    for name, page in pages.items():
        print(f"\n{name}, {len(trials)} surveys\n{page.to_string()}")
    if options.out:
        text = {name: json.loads(page.to_json(orient="index")) for name, page in pages.items()}
        options.out.write_text(json.dumps(text, indent=1), encoding="utf-8")


if __name__ == "__main__":
    main()
