"""The open data of real urban trees, where it lies beside the project; tests skip without it.

McPherson, van Doorn & Peper (2016), Urban tree database, doi 10.2737/RDS-2016-0005.
"""

from pathlib import Path

import pandas as pd
import pytest

PLACE = Path(__file__).parents[2] / "shared" / "data" / "urban_trees.csv"

needs_real_trees = pytest.mark.skipif(
    not PLACE.exists(), reason="the open urban tree data does not lie beside the project"
)


def real_trees() -> pd.DataFrame:
    """Return the table as published, texts stripped."""
    table = pd.read_csv(PLACE)
    for column in ("scientific_name", "common_name"):
        table[column] = table[column].str.strip()
    return table
