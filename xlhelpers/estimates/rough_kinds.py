"""Kinds of figures that are an order of magnitude although their margin is not so large.

In trials with towns of known trees, the intervals of most totals held the truth often enough and
missed it on both sides, and those of most shares held it in 93 to 97 of 100 surveys
(`tests/simulation`). Two kinds did not: numbers of trees where plots have few of them, whose misses
were mostly on one side, and shares from few plots. Surveys of the latter with a small margin had
mostly been lucky with their plots. A survey cannot tell which of the towns it is in, so all figures
of these kinds are meant, unless the margin is smaller than that of any such survey in the trials.
"""

import math

from xlhelpers.estimates.quantities import scale_of

FEW_TREES, FEW_TREES_PLOTS, MARGIN_OF_FEW_TREES = 200, 100, 0.15
# plots of a share, and the margin up to which one from no more plots is better than rough
SHARES = ((14, 0.1), (30, 0.2))
_NUMBERS_OF_TREES = ("trees", "living_trees", "dead_trees")


def is_number_of_trees(quantity: str) -> bool:
    """Return whether a quantity counts trees, such as those that are dead."""
    return quantity in _NUMBERS_OF_TREES


def largest_margin(quantity: str, kind: str, plots: int, trees: float) -> float:
    """Return the margin above which a figure of this kind is an order of magnitude.

    Parameters
    ----------
    quantity, kind : str
        As in the rows of the estimates.
    plots : int
        Plots of the town or of its part.
    trees : float
        How many trees the figure counts.

    Returns
    -------
    float
        Half the distance of its ends at 95 %, as a share of the figure; infinite for other kinds.
        No survey of the trials whose figure missed the aim had a smaller one. The limits are this
        project's own.
    """
    if is_number_of_trees(quantity):
        is_few = plots < FEW_TREES_PLOTS and trees < FEW_TREES
        return MARGIN_OF_FEW_TREES if is_few else math.inf
    if scale_of(quantity, kind) == "logit":
        return next((margin for most, margin in SHARES if plots <= most), math.inf)
    return math.inf


def is_rough_kind(quantity: str, kind: str, plots: int, trees: float, margin: float) -> bool:
    """Return whether a figure is an order of magnitude by its kind.

    Parameters
    ----------
    quantity, kind, plots, trees
        As for `largest_margin`.
    margin : float
        Of the figure, compared as it is shown, in whole percent; NaN gives False.
    """
    return round(margin, 2) > largest_margin(quantity, kind, plots, trees)
