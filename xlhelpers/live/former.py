"""Former formulas, as they are in the cells of workbooks made before the formulas changed."""

from __future__ import annotations

import csv
from importlib.resources import files


def former_formulas(generation: str) -> dict[str, str]:
    """Return field -> formula with named cells of one generation, each after those that it reads.

    Parameters
    ----------
    generation : str
        A word of the column `generations` in `former_formulas.csv`: "earlier" workbooks do not
        understand numbers in texts, those "between" do, "recent" ones also read from Plots where
        the tape ends. "superseded" are formulas of earlier workbooks that gave another result.
    """
    listed = files("xlhelpers.live").joinpath("former_formulas.csv").read_text(encoding="utf-8")
    rows = csv.DictReader(listed.splitlines())
    return {
        row["field"]: row["formula"] for row in rows if generation in row["generations"].split()
    }
