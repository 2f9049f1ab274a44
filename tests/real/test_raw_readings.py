"""Raw clinometer readings of real crews: their own sheet worked out the same heights.

National Park Service, Pacific Island Network, canopy trees of the focal terrestrial plant
communities (data package pacnvegetation, CC0). The figures were counted in the table as published.
"""

import numpy as np
import pandas as pd
import pytest

from tests.real_trees import raw_readings
from tests.survey.make_survey import make_survey
from xlhelpers.survey.setups.setups import compute_setups

CENTIMETRE = 0.01


@pytest.fixture(scope="module")
def table() -> pd.DataFrame:
    return raw_readings()


@pytest.fixture(scope="module")
def heights(table: pd.DataFrame) -> pd.Series:
    """Each row as a line of a field sheet; a mark of 0 is the foot itself."""
    lines = pd.DataFrame(
        {
            "plot": table["Unit_Code"] + " " + table["Plot_Number"].astype(str),
            "tree": np.arange(len(table)).astype(str),
            "species": table["Scientific_Name"],
            "distance": table["Distance"],
            "foot_reading": table["Base"],
            "tip_reading": table["Top"],
            "mark_above_foot": table["Base_Ht"].where(table["Base_Ht"] > 0),
        }
    )
    keyed = lines.astype(object).where(lines.notna(), None).to_dict("records")
    return compute_setups(make_survey(keyed))["total_height"]


def test_a_height_wherever_the_readings_give_one(table: pd.DataFrame, heights: pd.Series) -> None:
    """Thirteen lines lack a reading, and one says that the crew stood at no distance."""
    complete = table[["Top", "Base", "Distance"]].notna().all(axis=1)
    assert (~complete).sum() == 13
    assert (table["Distance"] == 0).sum() == 1
    assert heights.notna().equals(complete & (table["Distance"] > 0))


def test_heights_are_those_of_the_crews(table: pd.DataFrame, heights: pd.Series) -> None:
    """In eight lines the crew's own arithmetic is off; ours follows their formula."""
    apart = (heights - table["Height"]).abs().dropna()
    assert len(apart) == 1128
    assert (apart <= CENTIMETRE).sum() == 1120
    by_hand = table["Distance"] * (table["Top"] - table["Base"]) / 100 + table["Base_Ht"]
    others = apart.index[apart > CENTIMETRE]
    np.testing.assert_allclose(heights[others], by_hand[others], atol=1e-9)
