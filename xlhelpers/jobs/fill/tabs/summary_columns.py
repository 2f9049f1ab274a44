"""What the tabs By plot and By species have in common: columns of means, and their total row."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.pages.plan import Column

# means of the trees that rest on no open finding, and their headings
SETTLED_MEANS = {
    "settled_height": "Mean height without open findings",
    "settled_depth": "Mean crown depth without open findings",
}


def mean_columns(key: str, label: str) -> tuple[Column, ...]:
    """Return the columns of one mean: mean, standard deviation between trees, and their number."""
    return (
        Column(f"{key}_mean", "Mean", band=label, width=8),
        Column(f"{key}_sd", "SD", band=label, width=7),
        Column(f"{key}_n", "n", band=label, width=6),
    )


def settled_columns(heading: str) -> tuple[Column, ...]:
    """Return the columns of trees with open findings, and of the means without these."""
    return (
        Column("open_trees", "Trees with open findings", width=11, band=heading),
        *(
            column
            for key, label in SETTLED_MEANS.items()
            for column in (
                Column(f"{key}_mean", label, width=15, band=heading),
                Column(f"{key}_n", "n", width=6, band=heading),
            )
        ),
    )


def totals(
    rows: pd.DataFrame, sums: Sequence[str], means: Sequence[str], words: Mapping[str, str]
) -> dict[str, Any]:
    """Return the total row of a summary: sums, and means over all trees with their spread.

    The spread over all is found from the numbers, means and spreads of the rows; nothing is lost
    by that. With no row every sum is 0 and every mean missing; a sum of which no row is known is
    missing too.
    """
    total: dict[str, Any] = {}
    for key in sums:
        numbers = rows[key].to_numpy(float)
        known = np.isfinite(numbers)
        total[key] = numbers[known].sum() if known.any() or not len(rows) else np.nan
    for key in means:
        n = rows[f"{key}_n"].fillna(0).to_numpy(float)
        mean = rows[f"{key}_mean"].fillna(0).to_numpy(float)
        spread = rows[f"{key}_sd"].fillna(0).to_numpy(float)
        count = n.sum()
        over_all = (n * mean).sum() / count if count else np.nan
        squares = ((n - 1).clip(min=0) * spread**2 + n * (mean - over_all) ** 2).sum()
        total[f"{key}_n"] = count
        total[f"{key}_mean"] = over_all
        total[f"{key}_sd"] = np.sqrt(squares / (count - 1)) if count > 1 else np.nan
    return total | dict(words)
