"""Every tree of the plots measured both times: what happened to it, its growth, shrunk trees.

Uncertainties are standard uncertainties. Those of a growth hold both measurements: of heights the
instruments' part as the survey gives it, and of heights and diameters what different people see in
one tree, as published (LuomaEtAl2017). The same people may have come both times; they are not
supposed to have seen the same.

Each height is compared with the typical height of its diameter and species (the reference, shifted
to the level of both surveys). The one that is further off is more likely to be wrong.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from xlhelpers.jobs.change.match import Match
from xlhelpers.survey.counted import left_out_texts
from xlhelpers.survey.doubt.reference import curves_for, reference
from xlhelpers.survey.outcome import Outcome
from xlhelpers.survey.trees.records import CUT_BACK, SAME_HEIGHT
from xlhelpers.survey.typed.folding import fold_column
from xlhelpers.survey.typed.words import identifier_key
from xlhelpers.wording import list_words

Numbers = NDArray[np.float64]
Candidates = dict[int, tuple[int, ...]]
# share of a diameter by which observers differ (Luoma et al. 2017, abstract: 0.3 cm, 1.5 %)
OBSERVERS_DIAMETER = 0.015
# shorter than this, and a growth a year would be mostly error
SHORTEST_YEARS = 0.5
ALIVE, DIED, STILL_DEAD, ALIVE_AGAIN, GONE, NEW, AMBIGUOUS = FATES = (
    "alive",
    "died",
    "still dead",
    "dead, then alive",
    "gone",
    "new",
    "ambiguous",
)
HEIGHT, DIAMETER = "height", "diameter"
_TEXTS = ("plot", "tree", "species", "condition", "stratum")
_VALUES = {
    "diameter": "diameter",
    "height": "total_height",
    "base": "crown_base",
    "u_height": "u_total",
    "observer_height": "observer_u",
    "stems": "stem_count",
    "diameter_at": "diameter_at",
}


def change_trees(
    old: Outcome, new: Outcome, matches: Iterable[Match], left: tuple[Any, Any], years: pd.Series
) -> pd.DataFrame:
    """Return one row a tree of the plots in both surveys.

    Parameters
    ----------
    old, new : Outcome
        Both surveys as computed.
    matches : iterable of Match
        One a plot.
    left : pair of arrays
        Positions of all trees of these plots in each survey.
    years : Series
        Between both measurements, by the row of the plot in the plots sheet of `new`; and by
        `-1 - row` for that of `old`.

    Returns
    -------
    DataFrame
        Of each survey (`_old`, `_new`) plot, tree, species as listed, condition, diameter (cm),
        height (m), position in its trees (-1 none), whether it has an open finding (`open_`), its
        height or its diameter is in doubt (`doubt_`), what cannot be right (`left_out_`), who
        measures first in the crew (`person_`), and by how much people differ (`observer_height_`,
        `observer_diameter_`);
        `fate` (one of FATES), `belief` that both are one tree, `candidates` in words, `years`;
        growth of height and diameter with `u_` (both measurements, and what people see
        differently), `allowed_` (twice that) and `_a_year`; NaN where there is none.
    """
    pairs: list[tuple[int, int, float]] = []
    unsure: tuple[Candidates, Candidates] = ({}, {})
    for match in matches:
        pairs += match.pairs
        unsure[0].update(match.unsure_old)
        unsure[1].update(match.unsure_new)
    rows = [(i, j, belief, "") for i, j, belief in pairs]
    taken = ({i for i, _, _ in pairs}, {j for _, j, _ in pairs})
    numbers = [side.trees["tree"].to_numpy(object) for side in (old, new)]
    for at in left[0].tolist():
        if at not in taken[0]:
            rows.append(
                (at, -1, np.nan, _name_candidates(unsure[0].get(at, ()), numbers[1], "new"))
            )
    for at in left[1].tolist():
        if at not in taken[1]:
            rows.append(
                (-1, at, np.nan, _name_candidates(unsure[1].get(at, ()), numbers[0], "old"))
            )
    table = pd.DataFrame(rows, columns=["at_old", "at_new", "belief", "candidates"])
    table = table.astype({"at_old": int, "at_new": int, "belief": float})
    for name, side in (("old", old), ("new", new)):
        _add_side(table, name, side)
    table["fate"] = _fates(table)
    table["years"] = _years(table, old, new, years)
    _add_growth(table)
    return _in_order(table)


def _name_candidates(candidates: tuple[int, ...], numbers: Any, side: str) -> str:
    if not candidates:
        return ""
    names = ", ".join(str(numbers[at]) or "(no number)" for at in candidates[:4])
    return f"may be {side} tree {names}"


def _add_side(table: pd.DataFrame, name: str, side: Outcome) -> None:
    trees = side.trees
    at = table[f"at_{name}"].to_numpy()
    for column in _TEXTS:
        values = trees[column].to_numpy(object)
        if column == "species":
            botanical = trees["botanical"].to_numpy(object)
            values = np.where(botanical == "", values, botanical)
        table[f"{column}_{name}"] = np.append(values, "")[at]
    for value, column in _VALUES.items():
        table[f"{value}_{name}"] = np.append(trees[column].to_numpy(float), np.nan)[at]
    counted = side.counted
    table[f"open_{name}"] = np.append(counted.any_doubt, False)[at]
    for what in (HEIGHT, DIAMETER):
        doubted = counted.doubts_column(_VALUES[what])
        table[f"doubt_{what}_{name}"] = np.append(doubted, False)[at]
    table[f"left_out_{name}"] = np.append(left_out_texts(counted), "")[at]
    crews = np.append(side.survey.plots["crew"].to_numpy(object), "")
    first = [(str(crew).split() or [""])[0] for crew in crews]
    persons = fold_column(first, identifier_key)[trees["plot_position"].to_numpy()]
    table[f"person_{name}"] = np.append(persons, "")[at]
    table[f"observer_diameter_{name}"] = OBSERVERS_DIAMETER * table[f"diameter_{name}"]


def _fates(table: pd.DataFrame) -> NDArray[np.object_]:
    has_old, has_new = (table["at_old"] >= 0).to_numpy(), (table["at_new"] >= 0).to_numpy()
    was, is_dead = ((table[f"condition_{side}"] == "D").to_numpy() for side in ("old", "new"))
    unsure = (table["candidates"] != "").to_numpy()
    both = has_old & has_new
    return np.select(
        [unsure, both & ~was & ~is_dead, both & ~was, both & is_dead, both, has_old],
        [AMBIGUOUS, ALIVE, DIED, STILL_DEAD, ALIVE_AGAIN, GONE],
        NEW,
    ).astype(object)


def _years(table: pd.DataFrame, old: Outcome, new: Outcome, years: pd.Series) -> Numbers:
    rows = [
        np.append(side.trees["plot_position"].to_numpy(), -1)[table[f"at_{name}"].to_numpy()]
        for name, side in (("old", old), ("new", new))
    ]
    key = np.where(table["at_new"] >= 0, rows[1], -1 - rows[0])
    return np.asarray(years.reindex(key).to_numpy(float))


def _add_growth(table: pd.DataFrame) -> None:
    alive = (table["fate"] == ALIVE).to_numpy()
    stems_alike = (table["stems_old"] == table["stems_new"]).to_numpy()
    cut_back = (table[["condition_old", "condition_new"]] == CUT_BACK).any(axis=1).to_numpy()
    whole_trees = alive & ~cut_back
    taken_at = table[["diameter_at_old", "diameter_at_new"]].fillna(0.0).to_numpy(float)
    same_place = np.abs(taken_at[:, 0] - taken_at[:, 1]) < SAME_HEIGHT
    years = table["years"].where(table["years"] >= SHORTEST_YEARS).to_numpy(float)
    u_height, observers, u_diameter = (
        np.hypot(table[f"{part}_old"].to_numpy(float), table[f"{part}_new"].to_numpy(float))
        for part in ("u_height", "observer_height", "observer_diameter")
    )
    for name, u, counts in (
        ("height", np.hypot(u_height, observers), whole_trees),
        ("diameter", u_diameter, whole_trees & stems_alike & same_place),
    ):
        growth = (table[f"{name}_new"] - table[f"{name}_old"]).where(counts).to_numpy(float)
        known = np.isfinite(growth)
        table[f"growth_{name}"] = growth
        table[f"u_growth_{name}"] = np.where(known, u, np.nan)
        table[f"allowed_{name}"] = np.where(known, 2 * u, np.nan)
        table[f"growth_{name}_a_year"] = growth / years
        table[f"u_growth_{name}_a_year"] = np.where(known, u, np.nan) / years
    table["other_stems"] = alive & ~stems_alike


def _in_order(table: pd.DataFrame) -> pd.DataFrame:
    """Return the rows by plot as OLD lists them, then by tree; new trees after the old ones."""
    plot = np.where(table["at_old"] >= 0, table["plot_old"], table["plot_new"])
    table.insert(0, "plot", plot)
    table.insert(
        1,
        "species",
        np.where(table["species_new"] != "", table["species_new"], table["species_old"]),
    )
    first: dict[str, int] = {}
    by_old = table[table["at_old"] >= 0].sort_values("at_old")
    for name in (*by_old["plot"], *table.sort_values("at_new")["plot"]):
        first.setdefault(str(name), len(first))
    rank = table["plot"].astype(str).map(first)
    far = np.iinfo(np.int64).max
    at_old = table["at_old"].where(table["at_old"] >= 0, far)
    order = np.lexsort((table["at_new"], at_old, rank))
    return table.iloc[order].reset_index(drop=True)


# one must be so many times likelier than the other before a side is taken; chosen here
_TIMES = 3.0
# an open finding on one of the two makes it so many times likelier wrong; chosen here
_OPEN_TIMES = 4.0
# so many spreads count as far off
_FAR = 2.0
_FEWEST = 10


@dataclass(frozen=True)
class Shrunk:
    """One tree that shrank: `row` in the changed trees, what shrank, and the verdict in words.

    `change` and `allowed` are in metres or centimetres; `likelier` is "OLD", "NEW" or "".
    """

    row: int
    what: str
    change: float
    allowed: float
    likelier: str
    because: str


def shrunk_trees(trees: pd.DataFrame, old: Outcome, new: Outcome) -> tuple[Shrunk, ...]:
    """Return the trees that shrank by more than twice the uncertainty of both measurements.

    Parameters
    ----------
    trees : DataFrame
        As `change_trees` gives them.
    old, new : Outcome
        Both surveys.

    Returns
    -------
    tuple of Shrunk
        Trees whose top died since are left out: a dead top breaks.
    """
    off = _off_usual(trees, old, new)
    broke = ((trees["condition_new"] == "T") & (trees["condition_old"] != "T")).to_numpy()
    shrunk = []
    for what in (HEIGHT, DIAMETER):
        growth = trees[f"growth_{what}"].to_numpy()
        with np.errstate(invalid="ignore"):
            less = growth < -trees[f"allowed_{what}"].to_numpy()
        if what == HEIGHT:
            less = less & ~broke
        for row in np.flatnonzero(less).tolist():
            likelier, because = _verdict(trees.iloc[row], off[0][row], off[1][row])
            allowed = float(trees[f"allowed_{what}"].iloc[row])
            shrunk.append(Shrunk(row, what, float(growth[row]), allowed, likelier, because))
    return tuple(sorted(shrunk, key=lambda one: (one.row, one.what)))


def _off_usual(trees: pd.DataFrame, old: Outcome, new: Outcome) -> tuple[Numbers, Numbers]:
    """Return by how many spreads the heights are off the usual ones of their diameters."""
    sides = []
    for name, outcome in (("old", old), ("new", new)):
        at = trees[f"at_{name}"].to_numpy()
        curves = curves_for(outcome.trees, reference())
        x = curves.position(outcome.trees["largest_stem"].to_numpy(float))
        of = curves.of
        usual = of["height_a"] + of["height_b"] * x + of["height_c"] * x * x
        with np.errstate(all="ignore"):
            height = outcome.trees["total_height"].to_numpy(float)
            away = np.log(np.where(height > 0, height, np.nan)) - usual
        away, spread = np.append(away, np.nan)[at], np.append(of["height_spread"], np.nan)[at]
        sides.append((away, spread))
    alive = (trees["fate"] == ALIVE).to_numpy()
    every = np.concatenate([away[alive] for away, _ in sides])
    every = every[np.isfinite(every)]
    level = float(np.median(every)) if len(every) >= _FEWEST else 0.0
    first, second = ((away - level) / spread for away, spread in sides)
    return np.asarray(first), np.asarray(second)


def _verdict(tree: pd.Series, off_old: float, off_new: float) -> tuple[str, str]:
    """Return the likelier wrong side and why."""
    open_old, open_new = bool(tree["open_old"]), bool(tree["open_new"])
    odds = 0.0  # log odds that OLD is the wrong one
    known = np.isfinite(off_old) and np.isfinite(off_new)
    if known:
        odds += (off_old**2 - off_new**2) / 2
    odds += np.log(_OPEN_TIMES) * (int(open_old) - int(open_new))
    reasons = []
    if known:
        reasons.append(f"{_usual_words('OLD', off_old)}, {_usual_words('NEW', off_new)}")
    else:
        reasons.append("its height cannot be judged by its diameter, or one of them is missing")
    sides = [name for name, is_open in (("OLD", open_old), ("NEW", open_new)) if is_open]
    if sides:
        reasons.append(f"The tree has an open finding in {list_words(sides)}")
    likelier = "" if abs(odds) < np.log(_TIMES) else "OLD" if odds > 0 else "NEW"
    return likelier, ". ".join(reasons)


def _usual_words(side: str, off: float) -> str:
    if abs(off) < 1:
        return f"the height in {side} is typical for its diameter"
    much = "far " if abs(off) >= _FAR else ""
    high = "high" if off > 0 else "low"
    return (
        f"the height in {side} is {much}too {high} for its diameter ({abs(off):.1f} standard "
        "deviations)"
    )
