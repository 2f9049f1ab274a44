"""Kinds of figures that are an order of magnitude although their margin is small.

In trials with towns of known trees, the intervals of most totals held the truth often enough and
missed it on both sides, and those of most shares held it in 93 to 97 of 100 surveys
(`tests/simulation`). Two kinds did not: numbers of trees where plots have few of them, whose misses
were mostly on one side, and shares from few plots. Surveys of the latter with a small margin had
mostly been lucky with their plots. A survey cannot tell which of the towns it is in, so all figures
of these kinds are meant, unless the margin is smaller than that of any such survey in the trials.
"""

from xlhelpers.estimates.quantities import scale_of

FEW_TREES, FEW_TREES_PLOTS = 200, 100
FEW_PLOTS_OF_SHARES = 30
SMALL_ENOUGH = 0.1
_NUMBERS_OF_TREES = ("trees", "living_trees", "dead_trees")


def is_number_of_trees(quantity: str) -> bool:
    """Return whether a quantity counts trees, such as those that are dead."""
    return quantity in _NUMBERS_OF_TREES


def is_rough_kind(quantity: str, kind: str, plots: int, trees: float, margin: float) -> bool:
    """Return whether a figure is an order of magnitude by what it is, whatever its margin.

    Parameters
    ----------
    quantity, kind : str
        As in the rows of the estimates.
    plots : int
        Plots of the town or of its part.
    trees : float
        How many trees the figure counts.
    margin : float
        Half the distance of its ends at 95 %, as a share of the figure; NaN gives False.

    Notes
    -----
    The limits are this project's own, set by trials: below FEW_TREES trees on fewer than
    FEW_TREES_PLOTS plots, or a share from up to FEW_PLOTS_OF_SHARES plots. A margin that is shown
    as SMALL_ENOUGH or less was none of theirs.
    """
    if not round(margin, 2) > SMALL_ENOUGH:
        return False
    if is_number_of_trees(quantity):
        return plots < FEW_TREES_PLOTS and trees < FEW_TREES
    return scale_of(quantity, kind) == "logit" and plots <= FEW_PLOTS_OF_SHARES
