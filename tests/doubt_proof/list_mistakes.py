"""Lists the mistakes that the open tree data already hold, so that no proof rests on them.

    python -m tests.doubt_proof.list_mistakes

Made once, before anything was tuned, by plain rules that know nothing of the likelihoods: what
does not add up within a row, what is missing, what is under the usual size, repeated numbers, and
heights or widths that lie more than five robust standard deviations from a straight line in
logarithms through the trees of their genus (of all trees, for a genus of fewer than 30).

McPherson, van Doorn & Peper (2016), Urban tree database, doi 10.2737/RDS-2016-0005.
"""

from pathlib import Path

import numpy as np
import pandas as pd

from tests.real_trees import real_trees

PLACE = Path(__file__).parent / "known_mistakes.csv"
FAR_OFF, FEWEST = 5.0, 30
SMALLEST_DIAMETER, SMALLEST_HEIGHT = 5.0, 2.0
ROUNDING = 0.0501


def reasons(table: pd.DataFrame) -> pd.Series:
    """Return why each row is left out, "" for those that are kept."""
    height, base = table["height_m"], table["crown_base_m"]
    widths = table[["crown_width_along_m", "crown_width_across_m"]]
    mean = table["crown_width_mean_m"]
    stems = table[[f"stem{i}_cm" for i in range(1, 9)]]
    joined = np.sqrt((stems**2).sum(axis=1))
    near = np.minimum((table["dbh_cm"] - joined).abs(), (table["dbh_cm"] - stems.max(axis=1)).abs())
    number = table.groupby(["city", "tree_id"])["tree_id"].transform("size") > 1
    rules = (
        ("value missing", height.isna() | base.isna() | mean.isna()),
        ("too small", (table["dbh_cm"] < SMALLEST_DIAMETER) | (height < SMALLEST_HEIGHT)),
        ("crown base not below the top", base >= height),
        ("crown depth does not add up", (table["crown_depth_m"] - height + base).abs() > ROUNDING),
        (
            "mean width does not add up",
            (mean - widths.mean(axis=1, skipna=False)).abs() > ROUNDING,
        ),
        ("diameter does not fit its stems", near > 0.2 + 0.02 * table["dbh_cm"]),
        ("number repeated", number),
        ("width of nothing", (widths <= 0).any(axis=1) | (mean <= 0)),
        ("height far off its genus", _far_off(table, height)),
        ("width far off its genus", _far_off(table, mean)),
    )
    found = pd.Series("", index=table.index)
    for word, mask in rules:
        found[(found == "") & mask] = word
    return found


def _far_off(table: pd.DataFrame, values: pd.Series) -> pd.Series:
    genus = table["scientific_name"].str.split().str[0]
    genus = genus.where(genus.groupby(genus).transform("size") >= FEWEST, "other")
    far = pd.Series(False, index=table.index)
    for _, rows in table.groupby(genus).groups.items():
        x, y = np.log(table.loc[rows, "dbh_cm"]), np.log(values[rows].where(values[rows] > 0))
        good = x.notna() & y.notna()
        line = np.polyfit(x[good], y[good], 1)
        residual = y - np.polyval(line, x)
        residual -= residual.median()
        far[rows] = residual.abs() > FAR_OFF * residual.abs().median() / 0.6745
    return far


def main() -> None:
    """Write the list."""
    table = real_trees()
    why = reasons(table)
    listed = table.loc[why != "", ["city", "tree_id"]].assign(reason=why[why != ""])
    listed.index.name = "row"
    listed.to_csv(PLACE, encoding="utf-8", lineterminator="\n")
    print(listed["reason"].value_counts().to_string())


if __name__ == "__main__":
    main()
