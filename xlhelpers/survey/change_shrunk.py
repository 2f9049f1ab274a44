"""Trees that shrank by more than both measurements allow, and which of the two is likelier wrong.

Each measurement is held against what is usual for the height of a tree of its diameter and
species (the reference, shifted to the level of both surveys): the one that lies further off is the
less likely. That says nothing where both fit alike, and is then said so.
"""

from dataclasses import dataclass

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from xlhelpers.survey.change_trees import ALIVE
from xlhelpers.survey.doubt.reference import curves_for, reference
from xlhelpers.survey.outcome import Outcome

Numbers = NDArray[np.float64]
HEIGHT, DIAMETER = "height", "diameter"
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
    found = []
    for what in (HEIGHT, DIAMETER):
        growth = trees[f"growth_{what}"].to_numpy()
        with np.errstate(invalid="ignore"):
            less = growth < -trees[f"allowed_{what}"].to_numpy()
        if what == HEIGHT:
            less = less & ~broke
        for row in np.flatnonzero(less).tolist():
            likelier, because = _verdict(trees.iloc[row], off[0][row], off[1][row])
            allowed = float(trees[f"allowed_{what}"].iloc[row])
            found.append(Shrunk(row, what, float(growth[row]), allowed, likelier, because))
    return tuple(sorted(found, key=lambda one: (one.row, one.what)))


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
        reasons.append("the height of such a tree does not follow from its diameter, or one of "
                       "them is missing")  # fmt: skip
    for name, is_open in (("OLD", open_old), ("NEW", open_new)):
        if is_open:
            reasons.append(f"the tree rests on an open finding in {name}")
    likelier = "" if abs(odds) < np.log(_TIMES) else "OLD" if odds > 0 else "NEW"
    return likelier, "; ".join(reasons)


def _usual_words(side: str, off: float) -> str:
    if abs(off) < 1:
        return f"the height in {side} is usual for its diameter"
    much = "far " if abs(off) >= _FAR else ""
    high = "high" if off > 0 else "low"
    return f"the height in {side} is {much}too {high} for its diameter ({abs(off):.1f} spreads)"
