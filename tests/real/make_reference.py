"""Makes the reference of the likelihoods from the open urban tree data.

    python -m tests.real.make_reference

Writes `xlhelpers/survey/doubt/reference.csv`. Every curve is fitted robustly, so that the mistakes
in the data need not be taken out first; within a kind a genus or species has a level and a rise of
its own and the kind's curvature.

McPherson, van Doorn & Peper (2016), Urban tree database, doi 10.2737/RDS-2016-0005.
"""

from pathlib import Path

import numpy as np
import pandas as pd

from tests.real_trees import real_trees
from xlhelpers.fields.species import species_list
from xlhelpers.survey.doubt.reference import FIGURES, MIDDLE, PALM
from xlhelpers.survey.doubt.robust import group_lines, group_spreads
from xlhelpers.survey.typed.species_names import fold_species, without_cultivar

PLACE = Path(__file__).parents[2] / "xlhelpers" / "survey" / "doubt" / "reference.csv"
FEWEST = {"species": 40, "genus": 30}
# the ends of the diameters seen, in percent of the trees
ENDS = (1.0, 99.0)
PALMS = {"Washingtonia", "Phoenix", "Syagrus", "Cocos", "Archontophoenix", "Veitchia", "Brahea",
         "Trachycarpus", "Livistona", "Roystonea", "Dypsis", "Adonidia"}  # fmt: skip
HOLD = 5.0


def kind_of(genus: str) -> str:
    """Return the kind of a genus: as the list of species has it, else broadleaf."""
    kinds = {entry.botanical.split()[0]: entry.kind for entry in species_list()}
    return PALM if genus in PALMS else kinds.get(genus, "broadleaf")


def make_reference(table: pd.DataFrame) -> pd.DataFrame:
    """Return the reference of a table as published."""
    trees = _trees(table)
    bends = {
        (kind, name): _bend(trees[trees["kind"] == kind] if kind else trees, name)
        for kind in ("", "broadleaf", "conifer")
        for name in ("height", "width")
    }
    rows = []
    for level, names in (
        ("all", pd.Series("all", index=trees.index)),
        ("kind", trees["kind"]),
        ("genus", trees["genus"].str.casefold()),
        ("species", trees["species"]),
    ):
        for name, own in trees.groupby(names):
            if len(own) >= FEWEST.get(level, 1):
                rows.append({"level": level, "name": name, "n": len(own), **_figures(own, bends)})
    return pd.DataFrame(rows)[["level", "name", "n", *FIGURES]].round(4)


def _trees(table: pd.DataFrame) -> pd.DataFrame:
    trees = pd.DataFrame(
        {
            "species": [without_cultivar(fold_species(n)) for n in table["scientific_name"]],
            "genus": table["scientific_name"].str.split().str[0].to_numpy(),
            "diameter": table["dbh_cm"].to_numpy(),
            "height": table["height_m"].to_numpy(),
            "width": table["crown_width_mean_m"].to_numpy(),
            "base": table["crown_base_m"].to_numpy(),
        }
    )
    trees["kind"] = [kind_of(genus) for genus in trees["genus"]]
    trees["x"] = np.log(trees["diameter"] / MIDDLE)
    return trees[(trees["height"] > 1.3) & (trees["width"] > 0) & (trees["diameter"] > 0)]


def _figures(own: pd.DataFrame, bends: dict[tuple[str, str], float]) -> dict[str, float]:
    kind = own["kind"].iloc[0] if own["kind"].nunique() == 1 else ""
    if kind != PALM:
        own = own[own["kind"] != PALM]
    least, greatest = np.percentile(own["diameter"], ENDS)
    figures = {"least_diameter": least, "greatest_diameter": greatest}
    for name in ("height", "width"):
        if kind == PALM and name == "height":
            figures |= dict.fromkeys(("height_a", "height_b", "height_c"), np.nan)
            figures["height_spread"] = np.nan
            continue
        bend = bends.get((kind, name), 0.0)
        x, y = own["x"].to_numpy(), np.log(own[name].to_numpy()) - bend * own["x"].to_numpy() ** 2
        one = np.zeros(len(x), dtype=np.int64)
        level, rise = group_lines(x, y, one, 1, np.inf if kind == PALM else HOLD)
        spread = group_spreads(y - level - rise * x, one, 1)
        figures |= {f"{name}_a": level[0], f"{name}_b": rise[0], f"{name}_c": bend}
        figures[f"{name}_spread"] = spread[0]
    share = (own["base"] / own["height"]).dropna()
    share = share[(share >= 0) & (share < 1)].to_numpy()
    figures["share"] = np.median(share)
    figures["share_spread"] = max(np.median(np.abs(share - np.median(share))) / 0.6745, 0.03)
    return figures


def _bend(trees: pd.DataFrame, name: str) -> float:
    """Return the curvature: the one that leaves the smallest mean deviation; palms have none."""
    trees = trees[trees["kind"] != PALM]
    x, y = trees["x"].to_numpy(), np.log(trees[name].to_numpy())
    one = np.zeros(len(x), dtype=np.int64)
    tried = []
    for bend in np.arange(-0.20, 0.0501, 0.01):
        level, rise = group_lines(x, y - bend * x**2, one, 1, HOLD)
        left = y - bend * x**2 - level - rise * x
        tried.append((float(np.mean(np.abs(left))), float(bend)))
    return min(tried)[1]


def main() -> None:
    """Write the reference."""
    table = make_reference(real_trees())
    table.to_csv(PLACE, index=False, encoding="utf-8", lineterminator="\n")
    print(table.to_string())


if __name__ == "__main__":
    main()
