"""Simulated sightings as a survey in memory, or as rows to be keyed into a workbook."""

from typing import Any

import numpy as np
import pandas as pd

from tests.real_trees import PLACE, real_trees
from tests.simulation.sightings import Sightings
from tests.survey.make_survey import make_survey
from xlhelpers.survey.model import Survey

Rows = list[dict[str, Any]]

# In the sheets this one is a percentage, in the program and in the generator a fraction
_SHARE = "u_distance_share"


def population(seed: int = 1) -> tuple[np.ndarray, np.ndarray, str]:
    """Return total heights and crown bases (m) and a word on where they come from.

    They are those of the open data of real trees; where it is not there, of 7,500 invented trees:
    heights log-normal about 11 m, cut to 1.5 to 40 m; crown bases a share of 5 to 60 % of them.
    """
    if PLACE.exists():
        table = real_trees()
        whole = table[table["crown_base_m"] < table["height_m"]]
        return whole["height_m"].to_numpy(), whole["crown_base_m"].to_numpy(), "real trees"
    random = np.random.default_rng(seed)
    height = np.clip(11.0 * np.exp(random.normal(0, 0.55, 7500)), 1.5, 40.0)
    base = height * random.uniform(0.05, 0.6, 7500)
    return np.round(height, 1), np.round(base, 1), "invented trees"


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
