"""How often a named cause was right, by the odds that the weighing stated for it.

The table `calibration.csv` is written by a trial on invented surveys of real trees
(`tests/doubt_proof/write_calibration.py`): known mistakes were put into lines, and the causes that
were named first were counted. `stated_from` and `stated_to` are probabilities, `lines` the lines
with a named cause, `right_share` the share of them whose cause was right.
"""

from functools import cache
from importlib.resources import files

import pandas as pd

# a cause is "probably" right from this share of right causes on
PROBABLY_FROM = 0.6
SOURCE = (
    "Set with known mistakes in invented surveys of the trees of seven cities (McPherson et al. "
    "2016). The limits of the weighing were set on the same cities."
)


@cache
def load_calibration() -> pd.DataFrame:
    """Return the shipped table, one row a range of stated odds."""
    with files("xlhelpers.survey.doubt").joinpath("calibration.csv").open("rb") as file:
        return pd.read_csv(file)


def share_right(stated: float) -> float:
    """Return which share of causes with such stated odds was right.

    Parameters
    ----------
    stated : float
        Probability that the line has a mistake and that this cause is the right one, 0 to 1.
    """
    table = load_calibration()
    row = (table["stated_from"] <= min(max(stated, 0.0), 1.0)).sum() - 1
    return float(table["right_share"].iloc[max(int(row), 0)])


def say_how_sure(stated: float) -> str:
    """Return "Probably" where six in ten causes with such stated odds were right, or "Possibly"."""
    return "Probably" if share_right(stated) > PROBABLY_FROM else "Possibly"
