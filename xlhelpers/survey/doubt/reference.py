"""How high, how wide and how deep-crowned a tree of a diameter is, from the open urban tree data.

The table `reference.csv` holds facts of nine cities (McPhersonEtAl2016), made by a kept script
that resists the mistakes in them. One row a species, genus, kind, and one for all trees. With
x = ln(diameter / 30 cm): ln height = a + b x + c x², and likewise the mean crown width; the share
of the height below the crown is one figure. Each has its robust standard deviation. Well outside
the range of diameters that was seen the curves are level. A palm's height does not follow from its
diameter: there is none.
"""

from dataclasses import dataclass
from functools import cache
from importlib.resources import files

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from xlhelpers.survey.doubt.robust import Numbers
from xlhelpers.survey.trees.records import is_judged_by_diameter
from xlhelpers.survey.typed.folding import fold_column
from xlhelpers.survey.typed.species_names import fold_species, without_cultivar

MIDDLE = 30.0
# the curves go on outside the diameters seen, to so many times the least and the greatest
BELOW, ABOVE = 0.6, 2.0
LEVELS = ("species", "genus", "kind", "all")
FIGURES = (
    *("height_a", "height_b", "height_c", "height_spread"),
    *("width_a", "width_b", "width_c", "width_spread"),
    *("share", "share_spread", "least_diameter", "greatest_diameter"),
)
PALM = "palm"


@dataclass(frozen=True)
class Curves:
    """The figures of each tree's nearest row of the reference, one array a figure."""

    of: dict[str, Numbers]

    def position(self, diameter: Numbers) -> Numbers:
        """Return x, the place of diameters (cm) on the curves."""
        return position(diameter, self.of["least_diameter"], self.of["greatest_diameter"])


@cache
def reference() -> pd.DataFrame:
    """Return the shipped table."""
    with files("xlhelpers.survey.doubt").joinpath("reference.csv").open("rb") as file:
        return pd.read_csv(file, keep_default_na=True)


def position(diameter: Numbers, least: Numbers, greatest: Numbers) -> Numbers:
    """Return x of diameters, held within somewhat more than the range that was seen."""
    with np.errstate(all="ignore"):
        return np.asarray(np.log(np.clip(diameter, least * BELOW, greatest * ABOVE) / MIDDLE))


def curves_for(trees: pd.DataFrame, table: pd.DataFrame) -> Curves:
    """Return the reference figures of each tree: of its species, else genus, kind, all.

    Parameters
    ----------
    trees : DataFrame
        Columns botanical, species, genus, kind, condition and diameter_at.
    table : DataFrame
        As `reference` gives it.

    Returns
    -------
    Curves
        Height figures are NaN for palms. Height and width figures are NaN for trees that were cut
        back, and where the diameter was not measured at breast height.
    """
    row = _rows(trees, table)
    figures = {name: table[name].to_numpy(dtype=float)[row] for name in FIGURES}
    palm = trees["kind"].to_numpy(dtype=object) == PALM
    for name in ("height_a", "height_b", "height_c"):
        figures[name] = np.where(palm, np.nan, figures[name])
    judged = is_judged_by_diameter(
        trees["condition"].to_numpy(dtype=object), trees["diameter_at"].to_numpy(dtype=float)
    )
    if not judged.all():
        for name in ("height_a", "height_b", "height_c", "width_a", "width_b", "width_c"):
            figures[name] = np.where(judged, figures[name], np.nan)
    return Curves(figures)


def _rows(trees: pd.DataFrame, table: pd.DataFrame) -> NDArray[np.int64]:
    named = trees["botanical"].where(trees["botanical"] != "", trees["species"])
    keys = {
        "species": fold_column(named, lambda name: without_cultivar(fold_species(name))),
        "genus": fold_column(trees["genus"]),
        "kind": trees["kind"].to_numpy(dtype=object),
        "all": np.full(len(trees), "all", dtype=object),
    }
    row = np.full(len(trees), -1, dtype=np.int64)
    for level in LEVELS:
        own = table[table["level"] == level]
        where = dict(zip(own["name"], own.index, strict=True))
        waiting = np.flatnonzero(row < 0)
        row[waiting] = [where.get(key, -1) for key in keys[level][waiting].tolist()]
    return row
