"""What the tabs By plot and By species have in common: columns of means, and their total row."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd

from xlhelpers.pages.plan import Column
from xlhelpers.survey.counted import name_left_out
from xlhelpers.survey.quantities import MEASURED

# sums and their headings; those without a word of dead trees are of living trees
SUMS = {
    "basal_area_sum": "Basal area, living trees",
    "basal_area_with_dead_sum": "Basal area with dead trees",
    "crown_area_sum": "Crown area",
    "crown_volume_sum": "Crown volume",
}
# shown only where some plot or species has one: heights estimated by eye, and how many of the
# diameters behind the basal areas are not of breast height
RARE = {
    "heights_by_eye": "Heights estimated by eye (Survey rules say if they count)",
    "diameters_elsewhere": "Diameters not at breast height (in basal area)",
}
# trees with a doubtful value, and their headings
DOUBTS = {
    "doubtful_height": "Doubtful heights",
    "doubtful_crown": "Doubtful crown depths",
    "doubtful_width": "Doubtful crown widths",
    "doubtful_diameter": "Doubtful diameters",
}
LEFT_OUT = {f"left_out_{quantity}": quantity for quantity in MEASURED}
REMARKS = (
    "SD: standard deviation between trees. n: trees behind the mean. Dead trees are counted, but "
    "left out of means and crown sums. Basal area is given without and with them.",
    "Doubtful: a finding about this value is open, or closed as NOT SAFE. Left out: values that "
    "cannot be right, such as a negative height. They are in no mean and no sum until you correct "
    "them or accept them with initials.",
)
# means without the doubtful values, and their headings
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
    """Return the columns of trees with open findings, doubtful values, and means without."""
    return (
        Column("open_trees", "Trees with open findings", width=11, band=heading),
        *(Column(key, label, width=9, band=heading) for key, label in DOUBTS.items()),
        *(
            column
            for key, label in SETTLED_MEANS.items()
            for column in (
                Column(f"{key}_mean", label, width=15, band=heading),
                Column(f"{key}_n", "n", width=6, band=heading),
            )
        ),
        Column("left_out", "Left out of means and sums", "text", width=34, band=heading),
    )


def sum_columns(band: str) -> tuple[Column, ...]:
    """Return the columns of the sums."""
    return tuple(Column(key, label, width=10, band=band) for key, label in (SUMS | RARE).items())


def without_unused(columns: Sequence[Column], rows: pd.DataFrame) -> tuple[Column, ...]:
    """Return the columns without those of rare things that no row has.

    Parameters
    ----------
    columns : sequence of Column
        Those of a summary.
    rows : DataFrame
        Its rows.
    """
    unused = {key for key in RARE if not rows[key].any()}
    return tuple(column for column in columns if column.key not in unused)


def say_left_out(rows: pd.DataFrame) -> list[str]:
    """Return for each row of a summary how many values are left out, in words."""
    return [
        name_left_out({quantity: row[key] for key, quantity in LEFT_OUT.items()})
        for row in rows[list(LEFT_OUT)].to_dict("records")
    ]


def say_all_left_out(rows: pd.DataFrame) -> str:
    """Return how many values all rows of a summary leave out, in words."""
    return name_left_out({quantity: rows[key].sum() for key, quantity in LEFT_OUT.items()})


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
