"""Simulated sightings as a survey in memory, or as rows to be keyed into a workbook."""

from typing import Any

import numpy as np
import pandas as pd

from tests.real_trees import real_trees
from tests.simulation.sightings import Sightings
from tests.survey.make_survey import make_survey
from xlhelpers.survey.model import Survey

Rows = list[dict[str, Any]]

# In the sheets this one is a percentage, in the program and in the generator a fraction
_SHARE = "u_distance_share"


def population() -> tuple[np.ndarray, np.ndarray]:
    """Return total heights and crown bases (m) of the open data of real trees."""
    table = real_trees()
    whole = table[table["crown_base_m"] < table["height_m"]]
    return whole["height_m"].to_numpy(), whole["crown_base_m"].to_numpy()


def as_rows(frame: pd.DataFrame) -> Rows:
    """Return the rows of a table with None for what is missing."""
    records = frame.astype(object).where(frame.notna(), None).to_dict("records")
    return [{str(name): value for name, value in record.items()} for record in records]


def as_survey(seen: Sightings) -> Survey:
    """Return the sightings as a survey in memory; metric units are the inner ones."""
    return make_survey(
        as_rows(seen.lines),
        as_rows(seen.plots),
        as_rows(seen.instruments),
        people=as_rows(seen.people),
    )


def instruments_to_key(seen: Sightings) -> Rows:
    """Return the instruments as an office would type them."""
    return as_rows(seen.instruments.assign(**{_SHARE: seen.instruments[_SHARE] * 100}))
