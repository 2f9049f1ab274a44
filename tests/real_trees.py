"""The open data of real trees; sources and licences are in `tests/open_data/README.md`."""

from functools import cache
from pathlib import Path

import pandas as pd

FOLDER = Path(__file__).parent / "open_data"


@cache
def _table(name: str) -> pd.DataFrame:
    return pd.read_csv(FOLDER / f"{name}.csv.gz")


def real_trees() -> pd.DataFrame:
    """Return the urban trees as published (McPherson, van Doorn & Peper 2016), texts stripped."""
    table = _table("urban_trees").copy()
    for column in ("scientific_name", "common_name"):
        table[column] = table[column].str.strip()
    return table


def raw_readings() -> pd.DataFrame:
    """Return clinometer readings and the heights worked out from them, as published."""
    return _table("raw_readings").copy()
