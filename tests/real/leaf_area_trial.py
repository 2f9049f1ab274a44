"""A trial of the leaf area regression against the recorded leaf areas of real urban trees.

    python -m tests.real.leaf_area_trial

Crown depth is height minus crown base, width the mean of the two recorded widths, shading the
published factor of a tree, or else 0.83; the recorded leaf areas are those of the open data. Of
each group: trees in the range of the regression with a recorded leaf area, their median ratio of
computed to recorded area, the middle 90 % of the ratios, and the share of trees that are within a
factor of two.
"""

from collections.abc import Iterable

import numpy as np
import pandas as pd

from tests.real_trees import real_trees
from xlhelpers.fields.species import species_list
from xlhelpers.measure import crowns
from xlhelpers.survey.trees.shading import shading_of

SHADING = 0.83
FEWEST = 30
SMALLEST_CROWN = 3.0  # m
FACTOR = 2.0


def compared(*, published: bool = True) -> pd.DataFrame:
    """Return one row a tree in range: genus, kind, city, depth, width (m) and the ratio.

    `published` says whether trees with a published shading factor have it.
    """
    table = real_trees()
    genus = table["scientific_name"].str.split().str[0]
    kinds = {species.botanical.split()[0]: species.kind for species in species_list()}
    frame = pd.DataFrame(
        {
            "genus": genus,
            "kind": genus.map(kinds),
            "city": table["city"],
            "depth": table["height_m"] - table["crown_base_m"],
            "width": (table["crown_width_along_m"] + table["crown_width_across_m"]) / 2,
        }
    )
    names = table["scientific_name"].to_numpy(object)
    shading = shading_of(names, SHADING) if published else np.full(len(names), SHADING)
    area = np.asarray(crowns.leaf_area(frame["depth"], frame["width"], shading))
    frame["ratio"] = area / table["leaf_area_m2"].where(table["leaf_area_m2"] > 0)
    return frame.dropna(subset="ratio").reset_index(drop=True)


def grouped(frame: pd.DataFrame, by: Iterable[object], fewest: int = 1) -> pd.DataFrame:
    """Return the figures of each group of at least so many trees, the smallest median first."""
    ratios = frame["ratio"].groupby(pd.Series(by, index=frame.index, name=None), observed=True)
    figures = pd.DataFrame(
        {
            "n": ratios.size(),
            "median": ratios.median(),
            "5 %": ratios.quantile(0.05),
            "95 %": ratios.quantile(0.95),
            "within 2": ratios.agg(lambda of: of.between(1 / FACTOR, FACTOR).mean()),
        }
    )
    return figures[figures["n"] >= fewest].sort_values("median")


def borne_out(frame: pd.DataFrame) -> list[str]:
    """Return the broadleaved genera of enough trees whose median ratio is within a factor of 2."""
    broad = frame[frame["kind"] == "broadleaf"]
    genera = grouped(broad, broad["genus"], FEWEST)
    return sorted(genera.index[genera["median"].between(1 / FACTOR, FACTOR)])


def main() -> None:
    """Print the tables."""
    frame = compared()
    broad = frame[frame["kind"] == "broadleaf"]
    good = frame[frame["genus"].isin(borne_out(frame))]
    large = (good["depth"] >= SMALLEST_CROWN) & (good["width"] >= SMALLEST_CROWN)
    edges = [1, 2, 3, 4, 6, 8, 10, 12, 14]
    for title, figures in (
        ("All kinds", grouped(frame, ["all"] * len(frame))),
        ("By kind", grouped(frame, frame["kind"])),
        ("Broadleaves by city", grouped(broad, broad["city"])),
        (f"Broadleaves by genus, {FEWEST} trees or more", grouped(broad, broad["genus"], FEWEST)),
        ("Genera borne out, by width (m)", grouped(good, pd.cut(good["width"], edges))),
        ("Genera borne out, by depth (m)", grouped(good, pd.cut(good["depth"], edges[:-1]))),
        (
            f"Genera borne out, crowns of {SMALLEST_CROWN:g} m or more",
            grouped(good, np.where(large, "both", "smaller")),
        ),
    ):
        print(f"\n{title}\n{figures.round(2).to_string()}")
    print(f"\nGenera borne out: {', '.join(borne_out(frame))}")


if __name__ == "__main__":
    main()
