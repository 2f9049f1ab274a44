"""A random sample of trees to be measured again, that anyone can draw again from its seed.

Each tree gets a number from the seed, its plot and its own number alone; the smallest are drawn.
The order of rows, other trees and the program's version have no part in it.
"""

import hashlib
import math

import numpy as np
import pandas as pd

from xlhelpers.survey.folding import Positions
from xlhelpers.survey.model import Survey
from xlhelpers.survey.words import closing_word, fold_word, identifier_key

NOT_STATED = "not stated"
# trees that a crew could not safely reach are not asked of the next one
_LEFT_OUT = frozenset(("NOT SAFE", "NO ACCESS"))


def crews_of(survey: Survey, trees: pd.DataFrame) -> list[str]:
    """Return the crew of each tree as its plot names it, "not stated" where it does not."""
    crews = [*(str(crew).strip() for crew in survey.plots["crew"]), ""]
    return [crews[at] or NOT_STATED for at in trees["plot_position"]]


def draw(survey: Survey, trees: pd.DataFrame, share: float, seed: int) -> Positions:
    """Draw the trees to be measured again.

    Parameters
    ----------
    survey : Survey
        The keyed tables.
    trees : DataFrame
        As `build_trees` gives them for this survey.
    share : float
        Share of each crew's trees, above 0 and at most 1; rounded up, so at least one of each.
    seed : int
        The same seed draws the same trees.

    Returns
    -------
    ndarray of int
        Positions in `trees`, by plot and tree. Not drawn: trees without a number or that share
        one, and trees that the crew left because they were not safe or could not be reached.
    """
    eligible = _eligible(survey, trees)
    ranks = [
        hashlib.sha256(f"{seed}\0{identifier_key(plot)}\0{identifier_key(tree)}".encode()).digest()
        for plot, tree in zip(trees["plot"].astype(str), trees["tree"].astype(str), strict=True)
    ]
    crews = crews_of(survey, trees)
    by_crew: dict[str, list[int]] = {}
    for at in np.flatnonzero(eligible).tolist():
        by_crew.setdefault(fold_word(crews[at]), []).append(at)
    drawn: list[int] = []
    for listed in by_crew.values():
        count = max(1, math.ceil(share * len(listed) - 1e-9))
        drawn += sorted(listed, key=lambda at: ranks[at])[:count]
    return np.array(sorted(drawn), dtype=np.int64)


def _eligible(survey: Survey, trees: pd.DataFrame) -> np.ndarray:
    named = ~(trees["duplicate"] | trees["unnumbered"]).to_numpy(bool)
    words = survey.lines["missing_because"].to_numpy(dtype=object)
    closed = np.array([closing_word(str(words[at])) in _LEFT_OUT for at in trees["first_line"]])
    status = np.append(survey.plots["status"].to_numpy(dtype=object), "")
    safe = status[trees["plot_position"].to_numpy()] != "not safe"
    return np.asarray(named & ~closed.astype(bool) & safe, dtype=bool)
